"""What the description says of a cam wheel's edges, and which cam a channel watches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.cam import RepeatingEdge, wrapped
from witnessmark.engine.drive import CRANK
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine, ToneWheel, cam_id, cam_of_id
from witnessmark.errors import one_of
from witnessmark.vocabulary import CAMS

__all__ = ["Described", "cams_of_channels", "described_edges", "named_wheel"]

FloatArray = NDArray[np.float64]
# A number known no better than this is no place to measure from.
_SURE_DEG = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Described:
    """The edges of one cam wheel as described.

    Parameters
    ----------
    wheel : str
    deg : array, shape (n,) [deg]
        Behind the index edge where ``is_absolute``; otherwise on a zero of their own.
    rising : tuple of bool or None
    is_absolute : bool
        True where the description ties them to the crank wheel's index edge.
    through_tdc : bool
        True where that tie goes through TDC of cylinder 1.
    doubt_deg : float [deg]
        How well the description itself knows the place of the whole pattern; 0 where it states numbers.
    """

    wheel: str
    deg: FloatArray
    rising: tuple[bool | None, ...]
    is_absolute: bool
    through_tdc: bool
    doubt_deg: float = 0.0


def described_edges(engine: Engine | None, wheel_id: str) -> Described | None:
    """The described edges of a cam wheel, or None where none is described well enough.

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
    reference = crank.reference_deg if crank is not None else None
    if _known(behind):
        return Described(wheel_id, _means(behind), rising, True, False, _doubt(behind))
    if not _known(after):
        return None
    if reference is not None and _known([reference]):
        moved = _means(after) - (reference.mean or 0.0)
        return Described(wheel_id, moved, rising, True, True, float(np.hypot(_doubt(after), _doubt([reference]))))
    return Described(wheel_id, _means(after), rising, False, False, _doubt(after))


def _known(numbers: Sequence[Number]) -> bool:
    return all(number.is_known and (number.sd or 0.0) <= _SURE_DEG for number in numbers)


def _means(numbers: Sequence[Number]) -> FloatArray:
    return np.array([number.mean or 0.0 for number in numbers])


def _doubt(numbers: Sequence[Number]) -> float:
    return float(np.sqrt(np.mean([(number.sd or 0.0) ** 2 for number in numbers])))


def named_wheel(told: str | None, engine: Engine | None, *, where: str) -> str | None:
    """The id of the wheel that a sidecar names: a wheel's key, a cam's kind where that is enough, a sensor's name.

    Parameters
    ----------
    told : str, optional
    engine : Engine, optional
    where : str
        Recording and channel, for messages.

    Returns
    -------
    str or None
        "crank" or a cam's id; None where nothing was told, or no description says what the name means.

    Raises
    ------
    InputError
        For a wheel that the described engine does not have.
    """
    if told is None:
        return None
    name = told.strip().casefold()
    known = _wheels_known(engine)
    for wheel in known:
        if name == wheel.id or name in (sensor.casefold() for sensor in wheel.sensor_names):
            return wheel.id
    one_bank = engine is None or (engine.banks or 1) == 1
    name = cam_id(1, name) if name in CAMS and one_bank else name
    if name == CRANK or any(name == wheel.id for wheel in known):
        return name
    if engine is None or not engine.cams:
        return name if cam_of_id(name) is not None else None
    raise one_of("wheel of this engine", told, [wheel.id for wheel in known], where=where)


def _wheels_known(engine: Engine | None) -> list[ToneWheel]:
    """Described wheels, and those of cams that the engine has but whose wheels are not described."""
    if engine is None:
        return []
    found = list(engine.wheels)
    there = {wheel.id for wheel in found}
    return found + [ToneWheel(cam.id, cam.id) for cam in engine.cams if cam.id not in there]


def cams_of_channels(
    told: Sequence[str | None], edges: Sequence[Sequence[RepeatingEdge]], engine: Engine | None
) -> list[tuple[str | None, str]]:
    """Which cam each of several channels watches.

    Parameters
    ----------
    told : sequence of str or None
        A wheel's id for each channel, where a sidecar names one.
    edges : sequence of sequence of RepeatingEdge
        Repeating edges of each channel.
    engine : Engine, optional

    Returns
    -------
    list of (cam id or None, why)
    """
    found: list[tuple[str | None, str]] = [
        (name, "said in the note beside the recording") if name is not None and name != CRANK else (None, "")
        for name in told
    ]
    taken = {cam for cam, _ in found if cam is not None}
    wheels = [wheel for wheel in _wheels_known(engine) if wheel.id != CRANK and wheel.id not in taken]
    open_channels = [i for i, (cam, _) in enumerate(found) if cam is None and edges[i]]
    if len(wheels) == 1 and len(open_channels) == 1:
        words = "the only cam of this engine" if len(told) == 1 else "the only cam that no other channel watches"
        found[open_channels[0]] = (wheels[0].id, words)
        return found
    fits = [(i, w, fit) for i in open_channels for w in wheels if (fit := _spacing_misfit(w, edges[i])) is not None]
    for i, wheel, fit in fits:
        rivals = [f for j, w, f in fits if (j == i) != (w is wheel)]
        if fit < 3.0 and all(rival > 4.0 * fit + 2.0 for rival in rivals):
            found[i] = (wheel.id, "the only described wheel with this spacing of edges")
    unknown = "nothing says which cam this channel watches"
    return [(cam, why or unknown) for cam, why in found]


def _spacing_misfit(wheel: ToneWheel, edges: Sequence[RepeatingEdge]) -> float | None:
    """Root mean square between measured and described spacing, best turn of the pattern [deg]."""
    numbers = [e.after_tdc_deg if e.after_tdc_deg.is_known else e.behind_index_deg for e in wheel.edges]
    if len(numbers) != len(edges) or len(edges) < 2 or not _known(numbers):
        return None
    described = np.sort(_means(numbers))
    measured = np.sort([edge.angle_deg for edge in edges])
    best = np.inf
    for k in range(len(edges)):
        off = wrapped(np.roll(measured, k) - described)
        centre = off[0] + np.mean(wrapped(off - off[0]))
        best = min(best, float(np.sqrt(np.mean(wrapped(off - centre) ** 2))))
    return best
