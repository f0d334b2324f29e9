"""Valve lift over the crank angle, and what follows from where a valve opens and shuts.

Angles are degrees after firing top dead centre of the cylinder; events are those of zero lift unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError

__all__ = ["LAWS", "Lobe", "centreline_deg", "least_clearance_mm", "lobe_separation_cam_deg", "overlap_deg"]

Values = float | NDArray[np.float64]

LAWS = ("harmonic", "polynomial", "full", "table")
"""sin²(πu); 64u³(1−u)³; 16u²(1−u)²; a table of share of the greatest lift over evenly spaced u."""


@dataclass(frozen=True, slots=True)
class Lobe:
    """One valve's lift.

    Parameters
    ----------
    opens_deg, shuts_deg : float [deg]
        After firing top dead centre; ``shuts_deg`` is the larger, at most 720 more.
    lift_mm : float [mm]
        Greatest.
    law : str
        One of :data:`LAWS`.
    table : tuple of float, shape (n,) [-]
        For "table": share of the greatest lift at evenly spaced points from opening to shutting, ends 0.

    Raises
    ------
    EngineDefinitionError
        Where the events are in no order or outside one cycle, the lift is negative, or the table is none.

    Examples
    --------
    >>> Lobe(350.0, 590.0, 9.5).at(470.0)
    9.5
    """

    opens_deg: float
    shuts_deg: float
    lift_mm: float
    law: str = "harmonic"
    table: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not 0.0 < self.shuts_deg - self.opens_deg < 720.0:
            raise EngineDefinitionError(
                f"valve events: opens at {self.opens_deg:g}°, shuts at {self.shuts_deg:g}°;"
                f" the second is expected to be the larger, by less than one cycle (720°)"
            )
        if self.lift_mm < 0.0:
            raise EngineDefinitionError(f"lift_mm: {self.lift_mm:g} given, 0 or more expected")
        if self.law not in LAWS:
            raise EngineDefinitionError(f"lift law {self.law!r}: one of {', '.join(LAWS)} expected")
        if self.law == "table" and (len(self.table) < 3 or self.table[0] != 0.0 or self.table[-1] != 0.0):
            raise EngineDefinitionError("lift table: three shares or more expected, the first and the last 0")

    @property
    def duration_deg(self) -> float:
        """From opening to shutting [deg]."""
        return self.shuts_deg - self.opens_deg

    def at(self, angle_deg: Values) -> Values:
        """Lift at some angles of the cycle; any whole number of cycles is taken off.

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]

        Returns
        -------
        float or array, shape (n,) [mm]

        Notes
        -----
        The laws of :data:`LAWS`, by definition (docs/physics.md, "slider-crank and valve lift").

        Examples
        --------
        >>> Lobe(0.0, 200.0, 10.0, "polynomial").at(50.0)
        4.21875
        """
        u = np.mod(np.asarray(angle_deg, dtype=float) - self.opens_deg, 720.0) / self.duration_deg
        share = self._share(np.minimum(u, 1.0))
        return self.lift_mm * share if np.ndim(angle_deg) else float(self.lift_mm * share)

    def _share(self, u: NDArray[np.float64]) -> NDArray[np.float64]:
        if self.law == "harmonic":
            return np.asarray(np.sin(np.pi * u) ** 2)
        if self.law == "polynomial":
            return 64.0 * (u * (1.0 - u)) ** 3
        if self.law == "full":
            return 16.0 * (u * (1.0 - u)) ** 2
        return np.asarray(np.interp(u, np.linspace(0.0, 1.0, len(self.table)), self.table))

    def shifted(self, advance_deg: float) -> Lobe:
        """The same lobe with the cam advanced; events come earlier by so much.

        Parameters
        ----------
        advance_deg : float [deg]

        Returns
        -------
        Lobe

        Notes
        -----
        Follows from the sign of docs/conventions.md: plus is earlier.

        Examples
        --------
        >>> Lobe(350.0, 590.0, 9.5).shifted(20.0).opens_deg
        330.0
        """
        return replace(self, opens_deg=self.opens_deg - advance_deg, shuts_deg=self.shuts_deg - advance_deg)

    def with_lash(self, lash_mm: float, scale: float = 1.0) -> Lobe:
        """The lobe as the valve follows it with play in the train, or a worn lobe.

        Parameters
        ----------
        lash_mm : float [mm]
            Play at the valve more than the lobe was drawn for; negative holds the valve open, which is a leak and not
            a lift, and counts as none here.
        scale : float [-]
            Of the lift.

        Returns
        -------
        Lobe

        Notes
        -----
        Follows from the geometry: what is left above the play: opening and shutting move to where the lift passes
        it.

        Examples
        --------
        >>> f"{Lobe(350.0, 590.0, 9.5).with_lash(1.0).opens_deg:.1f}"
        '375.2'
        """
        play = max(lash_mm, 0.0)
        u = np.linspace(0.0, 1.0, 721)
        lift = scale * self.lift_mm * self._share(u)
        left = np.maximum(lift - play, 0.0)
        up = np.flatnonzero(left > 0.0)
        if not len(up):
            return replace(self, lift_mm=0.0)
        if play == 0.0:
            return replace(self, lift_mm=scale * self.lift_mm)
        first, last = float(np.interp(play, lift[: up[0] + 1], u[: up[0] + 1])), 0.0
        last = float(np.interp(play, lift[up[-1] :][::-1], u[up[-1] :][::-1]))
        fine = first + (last - first) * np.linspace(0.0, 1.0, 181)
        shares = np.interp(fine, u, left) / left.max()
        shares[0] = shares[-1] = 0.0
        opens, span = self.opens_deg + first * self.duration_deg, (last - first) * self.duration_deg
        return Lobe(opens, opens + span, float(left.max()), "table", tuple(float(s) for s in shares))


def centreline_deg(opens_before_deg: float, shuts_after_deg: float) -> float:
    """A lobe's middle from its two events, for an intake lobe after TDC, for an exhaust lobe before it.

    Parameters
    ----------
    opens_before_deg : float [deg]
        Intake: opening before TDC. Exhaust: shutting after TDC.
    shuts_after_deg : float [deg]
        Intake: shutting after BDC. Exhaust: opening before BDC.

    Returns
    -------
    float [deg]

    Notes
    -----
    The middle between the events, by definition.

    Examples
    --------
    >>> centreline_deg(10.0, 50.0)
    110.0
    """
    return 0.5 * (shuts_after_deg + 180.0 - opens_before_deg)


def lobe_separation_cam_deg(intake_deg: float, exhaust_deg: float) -> float:
    """Lobe separation in cam degrees from both centrelines (crank degrees after and before TDC).

    Parameters
    ----------
    intake_deg, exhaust_deg : float [deg]

    Returns
    -------
    float [deg]
        Cam degrees.

    Notes
    -----
    Half their sum, by definition.

    Examples
    --------
    >>> lobe_separation_cam_deg(110.0, 110.0)
    110.0
    """
    return 0.5 * (intake_deg + exhaust_deg)


def overlap_deg(intake_opens_before_deg: float, exhaust_shuts_after_deg: float) -> float:
    """Crank degrees with both valves open.

    Parameters
    ----------
    intake_opens_before_deg, exhaust_shuts_after_deg : float [deg]

    Returns
    -------
    float [deg]

    Notes
    -----
    Their sum, by definition.

    Examples
    --------
    >>> overlap_deg(10.0, 10.0)
    20.0
    """
    return intake_opens_before_deg + exhaust_shuts_after_deg


def least_clearance_mm(lobe: Lobe, travel_mm: NDArray[np.float64], pocket_mm: float) -> tuple[float, int]:
    """Least distance of an upright valve from the piston, and where.

    Parameters
    ----------
    lobe : Lobe
    travel_mm : array, shape (n,) [mm]
        Piston travel from TDC over the 720 degrees that begin at gas-exchange TDC less 180 (180 to 900 after firing
        TDC), evenly spaced.
    pocket_mm : float [mm]
        Distance at TDC with the valve on its seat.

    Returns
    -------
    distance : float [mm]
        Below 0: they would meet.
    index : int
        Which of the angles.

    Notes
    -----
    c = c₀ + x − L follows from the geometry (docs/physics.md, "slider-crank and valve lift"). A number for a drawing
    and for a warning; never the word that an engine is safe to turn: valve angle, pocket and true lobe are not known
    that well.

    Examples
    --------
    >>> least_clearance_mm(Lobe(350.0, 590.0, 0.0), np.array([86.0, 0.0]), 3.5)
    (3.5, 1)
    """
    angles = 180.0 + 720.0 * np.arange(len(travel_mm)) / len(travel_mm)
    gap = pocket_mm + travel_mm - np.asarray(lobe.at(angles))
    k = int(np.argmin(gap))
    return float(gap[k]), k
