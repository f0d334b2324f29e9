"""Which cam a channel watches, and how its edges stand against the description."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.cam import CYCLE_DEG, RepeatingEdge, wrapped
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine, ToneWheel

__all__ = ["Described", "Matched", "cam_of_channel", "described_edges", "match_edges"]

FloatArray = NDArray[np.float64]
# A cam found further than this from its described place is matched to nothing: two edges could be mixed up.
_FURTHEST_DEG = 75.0


@dataclass(frozen=True, slots=True)
class Described:
    """The edges of one cam wheel as described.

    Parameters
    ----------
    wheel : str
    deg : array, shape (n,) [deg]
        Behind the index edge where ``is_absolute``; otherwise on a zero of their own.
    sd_deg : array, shape (n,) [deg]
    rising : tuple of bool or None
    is_absolute : bool
        True where the description ties them to the crank wheel's index edge.
    through_tdc : bool
        True where that tie goes through TDC of cylinder 1.
    """

    wheel: str
    deg: FloatArray
    sd_deg: FloatArray
    rising: tuple[bool | None, ...]
    is_absolute: bool
    through_tdc: bool


def described_edges(engine: Engine | None, wheel_id: str) -> Described | None:
    """The described edges of a cam wheel, or None where none is described.

    Parameters
    ----------
    engine : Engine, optional
    wheel_id : str
        Cam id.

    Returns
    -------
    Described or None
        Edges given behind the index edge are taken so; edges given after TDC are moved by the crank wheel's
        reference where that is described, and stay on their own zero where it is not.
    """
    wheel = engine.wheel(wheel_id) if engine is not None else None
    if engine is None or wheel is None or not wheel.edges:
        return None
    behind = [edge.behind_index_deg for edge in wheel.edges]
    after = [edge.after_tdc_deg for edge in wheel.edges]
    rising = tuple(edge.rising for edge in wheel.edges)
    crank = engine.wheel(CRANK)
    reference = crank.reference_deg.mean if crank is not None else None
    if all(number.is_known for number in after) and reference is not None:
        deg = np.array([(number.mean or 0.0) - reference for number in after])
        return Described(wheel_id, deg % CYCLE_DEG, _sds(after), rising, True, True)
    if all(number.is_known for number in behind):
        return Described(
            wheel_id, np.array([number.mean or 0.0 for number in behind]), _sds(behind), rising, True, False
        )
    if all(number.is_known for number in after):
        return Described(
            wheel_id, np.array([number.mean or 0.0 for number in after]), _sds(after), rising, False, False
        )
    return None


def _sds(numbers: Sequence[object]) -> FloatArray:
    return np.array([getattr(number, "sd", 0.0) or 0.0 for number in numbers])


def cam_of_channel(told: str | None, edges: Sequence[RepeatingEdge], engine: Engine | None) -> tuple[str | None, str]:
    """Which described cam wheel a channel watches.

    Parameters
    ----------
    told : str, optional
        A wheel's id from the sidecar.
    edges : sequence of RepeatingEdge
    engine : Engine, optional

    Returns
    -------
    tuple of (cam id or None, why)
    """
    if told is not None and told != CRANK:
        return told, "said in the note beside the recording"
    wheels = [wheel for wheel in engine.wheels if wheel.id != CRANK] if engine is not None else []
    if len(wheels) == 1:
        return wheels[0].id, "the only cam wheel described"
    fits = [(fit, wheel) for wheel in wheels if (fit := _spacing_misfit(wheel, edges)) is not None]
    fits.sort(key=lambda pair: pair[0])
    if fits and fits[0][0] < 3.0 and (len(fits) == 1 or fits[1][0] > 4.0 * fits[0][0] + 2.0):
        return fits[0][1].id, "the only described wheel with this spacing of edges"
    return None, "nothing says which cam this channel watches"


def _spacing_misfit(wheel: ToneWheel, edges: Sequence[RepeatingEdge]) -> float | None:
    """Root mean square between measured and described spacing, best turn of the pattern [deg]."""
    numbers = [e.after_tdc_deg.mean if e.after_tdc_deg.is_known else e.behind_index_deg.mean for e in wheel.edges]
    if len(numbers) != len(edges) or len(edges) < 2 or any(n is None for n in numbers):
        return None
    described = np.sort(np.array(numbers, dtype=np.float64))
    measured = np.sort([edge.angle_deg for edge in edges])
    best = np.inf
    for k in range(len(edges)):
        off = wrapped(np.roll(measured, k) - described)
        centre = off[0] + np.mean(wrapped(off - off[0]))
        best = min(best, float(np.sqrt(np.mean(wrapped(off - centre) ** 2))))
    return best


@dataclass(frozen=True, slots=True)
class Matched:
    """Measured edges paired with described ones.

    Parameters
    ----------
    late_deg : array, shape (n,) [deg]
        Measured less described, + = later.
    measured : tuple of int
        Number of the measured edge of each pair.
    described : tuple of int
    half_cycle : bool
        True where the count of crank turns had to be moved by one.
    inverted : bool
        True where rising and falling are exchanged against the description.
    """

    late_deg: FloatArray
    measured: tuple[int, ...]
    described: tuple[int, ...]
    half_cycle: bool
    inverted: bool


def match_edges(
    edges: Sequence[RepeatingEdge], described: Described, *, half_cycle: bool | None = None
) -> Matched | None:
    """Pair measured edges with described ones.

    Parameters
    ----------
    edges : sequence of RepeatingEdge
    described : Described
    half_cycle : bool, optional
        Whether the count of turns is off by one, where another cam has settled it.

    Returns
    -------
    Matched or None
        None where no pairing within reach fits: another wheel, or too far off to be sure which edge is which.

    Notes
    -----
    The crank wheel alone cannot tell the two turns of a cycle apart, so both are tried; and so are both ways of
    wiring the signal. The pairing with the least spread among its pairs is taken, and of those within a degree of
    it the one nearest to the described place.
    """
    turns = (False, True) if half_cycle is None else (half_cycle,)
    found = []
    for half, inverted in itertools.product(turns, (False, True)):
        pair = _pair(edges, described, 360.0 if half else 0.0, inverted)
        if pair is not None:
            late, measured, ideal = pair
            spread = float(np.std(late))
            found.append((round(spread, 0), abs(float(np.mean(late))), half, inverted, late, measured, ideal))
    if not found:
        return None
    _, _, half, inverted, late, measured, ideal = min(found, key=lambda row: row[:2])
    return Matched(late, measured, ideal, half, inverted)


def _pair(
    edges: Sequence[RepeatingEdge], described: Described, turn_deg: float, inverted: bool
) -> tuple[FloatArray, tuple[int, ...], tuple[int, ...]] | None:
    angles = np.array([edge.angle_deg for edge in edges]) + turn_deg
    late, measured, ideal = [], [], []
    for j, target in enumerate(described.deg):
        wanted = described.rising[j]
        same = [k for k, edge in enumerate(edges) if wanted is None or edge.rising == (wanted != inverted)]
        if not same:
            return None
        off = wrapped(angles[same] - target)
        best = int(np.argmin(np.abs(off)))
        if abs(off[best]) > _FURTHEST_DEG or same[best] in measured:
            return None
        late.append(float(off[best]))
        measured.append(same[best])
        ideal.append(j)
    return (np.array(late), tuple(measured), tuple(ideal)) if late else None
