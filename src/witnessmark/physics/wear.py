"""What a longer chain and worn guides do: retard along the tight side, slack on the other.

A worn chain rides up on its teeth and keeps one roller to a tooth, so toothed wraps hold as many pitches as before;
only the untoothed tight side holds fewer. The slack side is the tensioner's affair and moves no phase
(docs/physics.md, "elongation").
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from witnessmark.engine.drive import TimingDrive
from witnessmark.engine.number import Number
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values, pitch_diameter, pitch_step_deg
from witnessmark.source import Source

__all__ = [
    "GUIDE_TURNING_DEG",
    "TRAVEL_PER_SURPLUS",
    "drive_retard_deg",
    "elongation_gains_deg",
    "elongation_percent_for",
    "guide_retard_deg",
    "length_per_wear",
    "ride_up_pitches",
    "slack_surplus_mm",
    "tensioner_travel_mm",
    "travel_per_surplus",
    "wear_retard_deg",
]

GUIDE_TURNING_DEG = Number.between(8.0, 30.0, Source("guess", "how far a tight-side guide usually turns the chain"))
"""By how much a tight-side guide turns the chain's direction, in degrees, where nothing is described."""

TRAVEL_PER_SURPLUS = Number.between(
    0.8, 3.8, Source("guess", "a blade that turns the chain by 30° to 70°, pushed at its middle or up to its free end")
)
"""Millimetres a tensioner's plunger moves for each millimetre of surplus chain: see :func:`travel_per_surplus`."""


def wear_retard_deg(elongation_percent: Values, tight_mm: Values, pitch_mm: Values, step_deg: Values) -> Values:
    """By how much a longer chain lets a sprocket fall behind the driver.

    Parameters
    ----------
    elongation_percent : float or array, shape (n,) [%]
    tight_mm : float or array, shape (n,) [mm]
        Untoothed length from the driver to the sprocket along the tight side: spans, and what runs over guides.
    pitch_mm : float or array, shape (n,) [mm]
    step_deg : float or array, shape (n,) [deg]
        Crank degrees of one pitch (:func:`witnessmark.physics.chain.pitch_step_deg`).

    Returns
    -------
    float or array, shape (n,) [deg]
        Retard of the sprocket and all behind it, in crank degrees; positive for a longer chain.

    Notes
    -----
    Δφ = ε · S/p · step follows from S/p less S/(p(1+ε)) pitches to first order (docs/physics.md, "elongation"); at
    ε = 1 % it is 1 % above the exact geometry of :func:`ride_up_pitches`.

    Examples
    --------
    >>> f"{wear_retard_deg(0.5, 350.0, 8.0, 360.0 / 21):.2f}"
    '3.75'
    """
    return elongation_percent / 100.0 * tight_mm / pitch_mm * step_deg


def elongation_percent_for(retard_deg: Values, tight_mm: Values, pitch_mm: Values, step_deg: Values) -> Values:
    """The elongation that retards a sprocket by so much.

    Parameters
    ----------
    retard_deg : float or array, shape (n,) [deg]
        Crank degrees.
    tight_mm : float or array, shape (n,) [mm]
    pitch_mm : float or array, shape (n,) [mm]
    step_deg : float or array, shape (n,) [deg]

    Returns
    -------
    float or array, shape (n,) [%]

    Notes
    -----
    Follows from :func:`wear_retard_deg`, solved for ε (docs/physics.md, "elongation").

    Examples
    --------
    >>> f"{elongation_percent_for(10.0, 350.0, 8.0, 360.0 / 21):.3f} %"
    '1.333 %'
    """
    return 100.0 * retard_deg * pitch_mm / (tight_mm * step_deg)


def ride_up_pitches(
    elongation_percent: Values, n_driver: Values, n_driven: Values, centre: Values, pitch: Values
) -> Values:
    """Pitches that the tight side between two sprockets loses to elongation, by exact geometry.

    Parameters
    ----------
    elongation_percent : float or array, shape (n,) [%]
    n_driver, n_driven : float or array, shape (n,)
        Tooth counts.
    centre : float or array, shape (n,) [m]
        Distance of the shafts.
    pitch : float or array, shape (n,) [m]
        Of the new chain.

    Returns
    -------
    float or array, shape (n,) [pitch]

    Raises
    ------
    EngineDefinitionError
        If the sprockets overlap.

    Notes
    -----
    Pins ride on the radius p(1+ε)/(2 sin π/N); the straight run then holds √(C² - ΔR²)/(p(1+ε)) pitches, and its
    tangent points move by asin(ΔR/C) on both wheels, N₂ - N₁ teeth to the turn. That the wraps keep their teeth:
    [machinery]_ in docs/references.md.

    Examples
    --------
    >>> lost = ride_up_pitches(1.0, 21, 42, 0.350, 0.008)
    >>> f"{lost:.5f} pitch, {lost * 360 / 21:.3f} deg"
    '0.43189 pitch, 7.404 deg'
    """
    stretched = 1.0 + np.asarray(elongation_percent, dtype=np.float64) / 100.0
    difference = 0.5 * (pitch_diameter(n_driven, pitch) - pitch_diameter(n_driver, pitch))
    if np.any(np.abs(difference * stretched) >= centre):
        given = f"shafts {np.min(centre):g} m apart"
        raise EngineDefinitionError(given, expected="more than the sprockets' radii differ")

    def held(stretch: Values) -> Values:
        reach = difference * stretch
        run: Values = np.sqrt(np.square(centre) - np.square(reach)) / (pitch * stretch)
        return run + (n_driven - n_driver) * np.arcsin(reach / centre) / (2.0 * np.pi)

    return held(1.0) - held(stretched)


def elongation_gains_deg(drive: TimingDrive, shaft: str) -> Mapping[str, float | None]:
    """Crank degrees of retard of a shaft for each percent of elongation of each chain on its way.

    Parameters
    ----------
    drive : TimingDrive
    shaft : str

    Returns
    -------
    mapping of str to float [deg/%] or None
        By stage, crank end first. Belts and gears do not grow longer and are left out. None where pitch, step or a
        length of the way is not described exactly.

    Raises
    ------
    EngineDefinitionError
        If nothing drives the shaft.

    Notes
    -----
    S_s/p_s · step_s / 100 follows from :func:`wear_retard_deg` (docs/physics.md, "elongation"): S adds up over the
    sprockets that the tight side passes first.

    Examples
    --------
    >>> from witnessmark.engine.library import find_engine
    >>> drive = find_engine("made-up four").drive
    >>> [f"{elongation_gains_deg(drive, cam)['primary']:.3f}" for cam in ("b1.exhaust", "b1.intake")]
    ['7.605', '10.395']
    """
    gains: dict[str, float | None] = {}
    for stage, arrived in drive.path(shaft):
        if stage.kind != "chain":
            continue
        step, pitch = pitch_step_deg(drive, stage, arrived), stage.pitch_mm.exact
        order = [sprocket.shaft for sprocket in stage.driven]
        spans = [sprocket.tight_mm.exact for sprocket in stage.driven[: order.index(arrived) + 1]]
        known = [span for span in spans if span is not None]
        if step is None or pitch is None or len(known) < len(spans):
            gains[stage.id] = None
        else:
            gains[stage.id] = float(wear_retard_deg(1.0, sum(known), pitch, step))
    return gains


def drive_retard_deg(drive: TimingDrive, shaft: str, elongation_percent: Mapping[str, Values]) -> Values | None:
    """Retard of a shaft by the elongation of all chains on its way.

    Parameters
    ----------
    drive : TimingDrive
    shaft : str
    elongation_percent : mapping of str to float or array, shape (n,) [%]
        By stage; a stage left out is as new.

    Returns
    -------
    float or array, shape (n,) [deg], or None
        Crank degrees; None where a number needed is not described exactly.

    Notes
    -----
    Δφ = Σ ε_s (S_s/p_s) step_s follows from steps adding up along the way (docs/physics.md, "elongation").

    Examples
    --------
    >>> from witnessmark.engine.library import find_engine
    >>> f"{drive_retard_deg(find_engine('made-up four').drive, 'b1.intake', {'primary': 0.5}):.2f}"
    '5.20'
    """
    retard: Values = 0.0
    for stage, gain in elongation_gains_deg(drive, shaft).items():
        worn = elongation_percent.get(stage)
        if worn is None:
            continue
        if gain is None:
            return None
        retard = retard + gain * worn
    return retard


def length_per_wear(turning_deg: Values) -> Values:
    """Millimetres of path that a guide gives up for each millimetre worn off its face.

    Parameters
    ----------
    turning_deg : float or array, shape (n,) [deg]
        By how much the guide turns the chain's direction from end to end.

    Returns
    -------
    float or array, shape (n,) [mm/mm]

    Notes
    -----
    Follows from the first variation of arc length, δL = ∫ w dβ: even wear w over a turn of β gives up w·β (β in
    radians). Wear at one spot only counts with the turn at that spot.

    Examples
    --------
    >>> f"{length_per_wear(20.0):.3f}"
    '0.349'
    """
    return np.radians(turning_deg)


def guide_retard_deg(wear_mm: Values, turning_deg: Values, pitch_mm: Values, step_deg: Values) -> Values:
    """Retard of everything behind a worn tight-side guide.

    Parameters
    ----------
    wear_mm : float or array, shape (n,) [mm]
        Worn off its face.
    turning_deg : float or array, shape (n,) [deg]
        As for :func:`length_per_wear`.
    pitch_mm : float or array, shape (n,) [mm]
    step_deg : float or array, shape (n,) [deg]
        Crank degrees of one pitch.

    Returns
    -------
    float or array, shape (n,) [deg]

    Notes
    -----
    The tight side grows shorter by w·β and holds so many pitches fewer. Follows from the mesh, as for elongation: each
    is one step (docs/physics.md, "guides").

    Examples
    --------
    >>> f"{guide_retard_deg(3.0, 20.0, 8.0, 18.0):.2f}"
    '2.36'
    """
    return wear_mm * length_per_wear(turning_deg) / pitch_mm * step_deg


def slack_surplus_mm(
    elongation_percent: Values, untoothed_mm: Values, *, guide_wear_mm: Values = 0.0, turning_deg: Values = 0.0
) -> Values:
    """Length of chain that a tensioner has to take up besides what it took up when new.

    Parameters
    ----------
    elongation_percent : float or array, shape (n,) [%]
    untoothed_mm : float or array, shape (n,) [mm]
        Length of the loop that no tooth holds, tight and slack side together (:attr:`ChainPath.untoothed`).
    guide_wear_mm : float or array, shape (n,) [mm]
    turning_deg : float or array, shape (n,) [deg]
        As for :func:`length_per_wear`.

    Returns
    -------
    float or array, shape (n,) [mm]

    Notes
    -----
    The links are as many as before and the wraps hold as many, so what is left over is ε times the untoothed length,
    tight side included (follows from the mesh; docs/physics.md, "tensioner"); a worn guide adds what the tight side
    gave up.

    Examples
    --------
    >>> f"{slack_surplus_mm(0.5, 800.0):.1f} mm"
    '4.0 mm'
    """
    return elongation_percent / 100.0 * untoothed_mm + guide_wear_mm * length_per_wear(turning_deg)


def travel_per_surplus(turning_deg: Values, lever: Values = 1.0) -> Values:
    """Millimetres a tensioner's plunger moves to take up one millimetre of surplus chain.

    Parameters
    ----------
    turning_deg : float or array, shape (n,) [deg]
        By how much the tensioner's blade turns the chain's direction from end to end.
    lever : float or array, shape (n,) [-]
        Plunger's travel over the mean travel of the chain on the blade: 1 pushed at the middle, up to 2 at the free
        end.

    Returns
    -------
    float or array, shape (n,) [mm/mm]

    Raises
    ------
    EngineDefinitionError
        For a blade that does not turn the chain: it cannot take up anything.

    Notes
    -----
    Follows from the first variation of arc length: moved by s, a blade that turns the chain by β takes up s·β. Holds
    for small travel, while β hardly changes; a flat blade starts with much travel and then needs less and less.

    Examples
    --------
    >>> f"{travel_per_surplus(40.0):.2f}"
    '1.43'
    """
    if np.any(np.asarray(turning_deg) <= 0.0):
        raise EngineDefinitionError("a tensioner that does not bow its chain", expected="a turn above 0°")
    return lever / np.radians(turning_deg)


def tensioner_travel_mm(surplus_mm: Values, gain: Values) -> Values:
    """How much further than with a new chain a tensioner's plunger stands out.

    Parameters
    ----------
    surplus_mm : float or array, shape (n,) [mm]
        From :func:`slack_surplus_mm`.
    gain : float or array, shape (n,) [mm/mm]
        From :func:`travel_per_surplus`, or a value within :data:`TRAVEL_PER_SURPLUS`.

    Returns
    -------
    float or array, shape (n,) [mm]

    Notes
    -----
    Surplus times travel per surplus, by definition of the latter; a tensioner at the end of its stroke stops short
    of it.

    Examples
    --------
    >>> f"{tensioner_travel_mm(4.0, travel_per_surplus(40.0)):.1f} mm"
    '5.7 mm'
    """
    return surplus_mm * gain
