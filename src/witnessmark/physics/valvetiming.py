"""What a shift of the cams does to filling: volume when valves shut, exhaust that comes back while both are open."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["Timing", "TimingShift", "overlap_area", "swept_share", "timing_shift"]

_LIFT_THAT_COUNTS = 0.3e-3  # m: below it a valve passes next to nothing at idle; our guess
_INERTIA_DEG = 5.0  # deg per 1,000 rpm by which the charge holds out against the rising piston; our guess
_STEP = 0.5  # deg
_REACH = 160  # deg of shift that the table covers


@dataclass(frozen=True, slots=True)
class Timing:
    """Valve events of a sound engine at rest, and what its valves pass at small lift.

    Parameters
    ----------
    intake_opens, intake_shuts : float [deg]
        Before gas-exchange TDC, after BDC; at zero lift.
    exhaust_opens, exhaust_shuts : float [deg]
        Before BDC, after gas-exchange TDC; at zero lift.
    intake_lift, exhaust_lift : float [m]
        Greatest.
    intake_width, exhaust_width : float [m]
        Effective area over lift: circumference of all valves of the kind in one cylinder, times 0.4 (our guess: while
        both are open the cylinder between them takes part of the drop).
    crank_over_rod : float [-]
        Half the stroke over the rod's length.
    """

    intake_opens: float = 10.0
    intake_shuts: float = 50.0
    exhaust_opens: float = 50.0
    exhaust_shuts: float = 10.0
    intake_lift: float = 9.5e-3
    exhaust_lift: float = 9.0e-3
    intake_width: float = 0.083
    exhaust_width: float = 0.070
    crank_over_rod: float = 0.30

    def __post_init__(self) -> None:
        above_zero(intake_lift=self.intake_lift, exhaust_lift=self.exhaust_lift)
        above_zero(intake_duration=self.intake_duration, exhaust_duration=self.exhaust_duration)
        within(0.0, 0.9, crank_over_rod=self.crank_over_rod)

    @property
    def intake_duration(self) -> float:
        """From opening to shutting [deg]."""
        return self.intake_opens + 180.0 + self.intake_shuts

    @property
    def exhaust_duration(self) -> float:
        """From opening to shutting [deg]."""
        return self.exhaust_opens + 180.0 + self.exhaust_shuts


@dataclass(frozen=True, slots=True)
class TimingShift:
    """What a shift changes against the cams at rest.

    Parameters
    ----------
    trapped : float or array, shape (n,) [-]
        Volume when the intake shuts, over the displacement of a cylinder: what is gained or lost.
    residual : float or array, shape (n,) [-]
        Volume when the exhaust shuts, likewise.
    overlap : float or array, shape (n,) [m2]
        Effective area between exhaust and intake of one cylinder, as a mean over the cycle.
    """

    trapped: Values
    residual: Values
    overlap: Values


def swept_share(angle_deg: Values, crank_over_rod: Values) -> Values:
    """Share of its displacement that a piston has opened up at an angle after its top dead centre.

    Parameters
    ----------
    angle_deg : float or array, shape (n,) [deg]
    crank_over_rod : float or array, shape (n,) [-]
        Half the stroke over the rod's length.

    Returns
    -------
    float or array, shape (n,) [-]

    Notes
    -----
    x/(2r), x of the slider-crank without pin offset: identity of geometry.

    Examples
    --------
    >>> f"{1000 * 0.086 * swept_share(60.0, 0.0430 / 0.143):.3f} mm"
    '26.434 mm'
    """
    theta = np.radians(angle_deg)
    sine = crank_over_rod * np.sin(theta)
    share: Values = 0.5 * ((1.0 - np.cos(theta)) + (1.0 - np.sqrt(1.0 - sine**2)) / np.maximum(crank_over_rod, 1e-9))
    return share


def overlap_area(timing: Timing, later_deg: Values) -> Values:
    """Effective area between exhaust and intake of one cylinder while both are open, as a mean over the whole cycle.

    Parameters
    ----------
    timing : Timing
    later_deg : float or array, shape (n,) [deg]
        By how much the exhaust shuts later against the intake's opening than at rest: intake early less exhaust early.

    Returns
    -------
    float or array, shape (n,) [m2]

    Notes
    -----
    Follows from two holes in a row, 1/√(1/A² + 1/A²), harmonic lift, averaged over 720°. The piston's motion meanwhile
    and the gas' inertia are left out, so a wide overlap passes too much.

    Examples
    --------
    >>> [f"{1e6 * overlap_area(Timing(), shift):.2f}" for shift in (-20.0, 0.0, 20.0)]
    ['0.00', '0.10', '0.79']
    """
    shifts, areas = _overlap_table(timing)
    found: Values = np.interp(later_deg, shifts, areas)
    return found


@cache
def _overlap_table(timing: Timing) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    shifts = np.arange(-_REACH, _REACH + 1.0)
    angle = np.arange(-360.0, 360.0, _STEP)  # after gas-exchange TDC
    intake = _lift(angle[None, :] + shifts[:, None], -timing.intake_opens, timing.intake_duration)
    exhaust = _lift(angle, timing.exhaust_shuts - timing.exhaust_duration, timing.exhaust_duration)
    one = np.maximum(timing.intake_width * timing.intake_lift * intake, 1e-12)
    other = np.maximum(timing.exhaust_width * timing.exhaust_lift * exhaust[None, :], 1e-12)
    area = 1.0 / np.sqrt(1.0 / one**2 + 1.0 / other**2)
    return shifts, np.mean(area, axis=1)


def _lift(angle: NDArray[np.float64], opens: float, duration: float) -> NDArray[np.float64]:
    """Share of the greatest lift."""
    u = np.clip((angle - opens) / duration, 0.0, 1.0)
    return np.asarray(np.sin(np.pi * u) ** 2)


def _seat_to_flow(lift: float, duration: float) -> float:
    """Degrees between the seat and the lift that counts."""
    return duration * float(np.arcsin(np.sqrt(min(_LIFT_THAT_COUNTS / lift, 1.0)))) / np.pi


def timing_shift(timing: Timing, speed_rpm: Values, *, intake_early: Values, exhaust_early: Values) -> TimingShift:
    """What shifted cams change of a cylinder's filling.

    Parameters
    ----------
    timing : Timing
    speed_rpm : float or array, shape (n,) [rpm]
    intake_early, exhaust_early : float or array, shape (n,) [deg]
        Against the cams at rest, crank degrees.

    Returns
    -------
    TimingShift
        All zero where nothing is shifted.

    Notes
    -----
    Follows from the volumes at which the valves shut, by the slider-crank, and from :func:`overlap_area`. A valve
    counts as shut at 0.3 mm of lift, and the charge's inertia holds the intake shut 5° later for each 1,000 rpm;
    both our guess. So late cams cost filling at low speed and early ones at high.

    Examples
    --------
    >>> late = timing_shift(Timing(), 800.0, intake_early=-20.0, exhaust_early=0.0)
    >>> f"{late.trapped:.3f} {late.residual:.3f} {1e6 * late.overlap:.2f}"
    '-0.091 0.000 -0.10'
    """
    rod = timing.crank_over_rod
    seat = timing.intake_shuts - _seat_to_flow(timing.intake_lift, timing.intake_duration)
    shuts = seat - _INERTIA_DEG * np.asarray(speed_rpm) / 1000.0
    ends = timing.exhaust_shuts - _seat_to_flow(timing.exhaust_lift, timing.exhaust_duration)
    # Beyond the dead centres the piston does not go; a cam half a turn off is no cam any more.
    intake = np.clip(180.0 + shuts - np.asarray(intake_early), 60.0, 350.0)
    exhaust = np.clip(ends - np.asarray(exhaust_early), -170.0, 170.0)
    later = np.asarray(intake_early) - np.asarray(exhaust_early)
    return TimingShift(
        trapped=swept_share(intake, rod) - swept_share(180.0 + shuts, rod),
        residual=swept_share(exhaust, rod) - swept_share(ends, rod),
        overlap=overlap_area(timing, later) - overlap_area(timing, 0.0),
    )
