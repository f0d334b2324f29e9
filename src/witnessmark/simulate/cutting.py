"""Wheels as they come from the machine: described places, errors of cutting, where flux puts the other edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import ToneWheel
from witnessmark.simulate.draws import settle
from witnessmark.simulate.wheels import CutWheel

__all__ = ["cut_cam_wheel", "cut_crank_wheel"]

FloatArray = NDArray[np.float64]


# Teeth stand off their places by 0.1 to 0.3 degrees of the wheel either way (physics.md, from memory): taken as two
# standard deviations of good and of poor wheels.
_PITCH_SD_DEG, _FROM_WHEEL_TO_WHEEL = 0.087, 0.4


def _pitch_sd_deg(rng: np.random.Generator) -> float:
    """Standard deviation of the places of one wheel's edges, in degrees of the wheel."""
    return float(np.exp(rng.normal(np.log(_PITCH_SD_DEG), _FROM_WHEEL_TO_WHEEL)))


def cut_crank_wheel(
    pattern: WheelPattern, wheel: ToneWheel | None, reference: float, rng: np.random.Generator
) -> CutWheel:
    """A crank wheel: even edges as the pattern says, the other edges where tooth and flux put them.

    Parameters
    ----------
    pattern : WheelPattern
    wheel : ToneWheel, optional
        What the description says of it.
    reference : float [deg]
        Crank angle after TDC at which its index edge should pass.
    rng : numpy.random.Generator

    Returns
    -------
    CutWheel
    """
    even = np.asarray(pattern.edges_deg, dtype=np.float64)
    stated = wheel.even_edge if wheel is not None else None
    # A reluctance signal crosses downward at the middle of a tooth; a hall sensor may be made either way.
    hall = wheel is None or wheel.sensor_kind != "reluctance"
    even_rises = stated == "rising" if stated else bool(hall and rng.random() < 0.5)
    others = np.asarray(pattern.others_deg, dtype=np.float64)
    if not others.size:
        others = _flux_edges(pattern, rng)
    errors = _cutting_errors(even, _pitch_sd_deg(rng), rng)
    other_errors = np.interp(others, even, errors, period=360.0) + rng.normal(0.0, 0.05, others.size)
    return _merged(360.0, reference, even, errors, others, other_errors, even_rises)


def _flux_edges(pattern: WheelPattern, rng: np.random.Generator) -> FloatArray:
    """The edges of the other kind: a share of the pitch behind their tooth, earlier or later beside a gap."""
    gaps = np.asarray(pattern.gaps_deg)
    usual = float(np.median(gaps))
    before = np.roll(gaps, 1)
    share = float(rng.uniform(0.35, 0.6))
    pulled = float(rng.uniform(0.05, 0.2)) * usual * float(rng.choice([-1.0, 1.0]))
    # The flux of a tooth beside a wide gap is not squeezed by a neighbour: its outer flank comes early or late.
    beside = (gaps > 1.3 * usual) | (before > 1.3 * usual)
    width = np.minimum(share * usual + np.where(beside, pulled, 0.0), 0.8 * gaps)
    return np.asarray((np.asarray(pattern.edges_deg) + width) % 360.0)


def _cutting_errors(edges: FloatArray, sd: float, rng: np.random.Generator) -> FloatArray:
    """Each edge for itself, zero in the mean, as a fitted zero is; how far off centre it runs is the state's affair."""
    if edges.size < 2:
        return np.zeros(edges.size)
    errors = rng.normal(0.0, sd, edges.size)
    return np.asarray(errors - errors.mean())


def _merged(
    period: float,
    start: float,
    even: FloatArray,
    errors: FloatArray,
    others: FloatArray,
    other_errors: FloatArray,
    even_rises: bool,
) -> CutWheel:
    made = np.concatenate([even, others]) + start
    error = np.concatenate([errors, other_errors])
    is_even = np.concatenate([np.ones(even.size, dtype=bool), np.zeros(others.size, dtype=bool)])
    order = np.argsort(made % period, kind="stable")
    rising = is_even == even_rises
    return CutWheel(period, (made % period)[order], error[order], rising[order], is_even[order])


def cut_cam_wheel(wheel: ToneWheel | None, reference: float, rng: np.random.Generator) -> CutWheel:
    """A cam wheel from the edges described, else from its pattern at a drawn place, else four uneven teeth.

    Parameters
    ----------
    wheel : ToneWheel, optional
    reference : float [deg]
        Crank angle after TDC at which the crank wheel's index edge should pass.
    rng : numpy.random.Generator

    Returns
    -------
    CutWheel
    """
    error_sd = 2.0 * _pitch_sd_deg(rng)  # crank degrees
    placed = _placed_edges(wheel, reference, rng)
    made = np.array([at for at, _ in placed]) % 720.0
    rising = np.array([up for _, up in placed])
    order = np.argsort(made)
    made, rising = made[order], rising[order]
    errors = rng.normal(0.0, error_sd, made.size)
    errors -= errors.mean()
    return CutWheel(720.0, made, errors, rising, np.ones(made.size, dtype=bool))


def _placed_edges(wheel: ToneWheel | None, reference: float, rng: np.random.Generator) -> list[tuple[float, bool]]:
    edges = wheel.edges if wheel is not None else ()
    found: list[tuple[float, bool]] = []
    for k, edge in enumerate(edges):
        after = settle(edge.after_tdc_deg, rng)
        behind = settle(edge.behind_index_deg, rng)
        if after is None and behind is not None:
            after = reference + behind
        if after is not None:
            found.append((after, edge.rising if edge.rising is not None else k % 2 == 0))
    if found and len(found) == len(edges):
        return found
    pattern = _cam_pattern(wheel)
    turned = float(rng.uniform(0.0, 720.0))
    even = [2.0 * a for a in pattern.edges_deg]
    others = [2.0 * a for a in pattern.others_deg] or [
        a + 0.5 * 2.0 * g for a, g in zip(even, pattern.gaps_deg, strict=True)
    ]
    return [(a + turned, True) for a in even] + [(a + turned, False) for a in others]


def _cam_pattern(wheel: ToneWheel | None) -> WheelPattern:
    if wheel is not None and wheel.gaps_deg:
        return WheelPattern.from_gaps(wheel.gaps_deg)
    return parse_wheel(wheel.pattern if wheel is not None and wheel.pattern else "4 uneven")
