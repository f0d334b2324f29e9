"""How well cylinders seal: rings, seats, gasket, and valves that their springs no longer shut.

Sizes of springs and drag are our guess.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, healthy_of
from witnessmark.engine.stateplaces import VALVES, pairs_of, state_places
from witnessmark.predict.airdescribed import described
from witnessmark.predict.batch import Batch
from witnessmark.predict.cylindertables import parts_of

__all__ = [
    "PATHS", "hangs", "held", "kept_by_late_cams", "late_shutting", "sealing", "ways_out",
]  # fmt: skip

Array = NDArray[np.float64]

PATHS = ("intake", "exhaust", "crankcase", "coolant", "neighbour", "plug_hole")
"""Where gas may leave a shut cylinder: the words of ``leak_path``."""

_SEAT_N, _SPRING_N_MM, _VALVE_KG, _LAST_M = 220.0, 38.0, 0.08, 1e-3  # force on the seat, rate, moving mass, last way
_SEAT_BLUR_N = 15.0
_LEAK_MM2 = 5.0  # that leave half a litre 1/e of its gas at cranking speed: after the gas kernel
_LATE, _LATER = 0.006, 5e-5  # of the compression lost for a degree that an intake cam is late, and its square; likewise
_MOST_LATE_DEG = 60.0


def ways_out(batch: Batch) -> Array:
    """All ways out of every shut cylinder.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    array, shape (n, cylinders, 6) [mm2]
        Effective, in the order of :data:`PATHS`.
    """
    return batch.once("ways out", lambda: _ways_out(batch))


def sealing(batch: Batch) -> Array:
    """Their sum.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    array, shape (n, cylinders) [mm2]
    """
    return batch.once("sealing", lambda: np.asarray(ways_out(batch).sum(axis=2)))


def held(batch: Batch) -> Array:
    """What is left of every cylinder's gas at cranking speed, by its leaks.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    array, shape (n, cylinders) [-]
        1 of a sound one.
    """
    litres = described(batch.model.engine).litres / batch.model.engine.cylinders
    return np.asarray(np.exp(-_more_than_sound(batch) / (_LEAK_MM2 * litres / 0.5)))


def kept_by_late_cams(batch: Batch) -> Array:
    """What is left of the charge at cranking speed where intake cams shut late, by the latest of them.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    array, shape (n,) [-]
        1 of a sound engine.
    """
    kept = np.ones(batch.rows)
    for cam in batch.model.engine.cams:
        if cam.kind != "exhaust":
            late = np.maximum(-np.asarray(batch.model.sprocket_phase(cam.id, batch.state, batch.numbers)), 0.0)
            kept = np.minimum(kept, np.clip(1.0 - _LATE * late - _LATER * late**2, 0.0, 1.0))
    return kept


def _more_than_sound(batch: Batch) -> Array:
    """What every cylinder leaks beyond a sound one of this engine [mm2], shape (n, cylinders)."""
    sound = batch.once("sound leak", lambda: float(sealing(Batch(batch.model, HEALTHY, {}, 1))[0, 0]))
    return np.asarray(np.maximum(sealing(batch) - sound, 0.0))


def _ways_out(batch: Batch) -> Array:
    engine = batch.model.engine
    places = state_places(engine, "cylinder")
    found = np.zeros((batch.rows, engine.cylinders, len(PATHS)))
    for kind in VALVES:
        leak = batch.table("valve_leak", tuple(f"{place}.{kind}" for place in places))
        found[:, :, PATHS.index(kind)] = leak + _hanging(batch, kind)
    found[:, :, PATHS.index("crankcase")] = batch.table("ring_leak", places)
    found[:, :, PATHS.index("coolant")] = batch.table("gasket_leak", places)
    for k in range(engine.cylinders):
        for pair in pairs_of(engine, k + 1):
            found[:, k, PATHS.index("neighbour")] += batch.column("gasket_leak", pair)
    return np.maximum(found, 0.0)


def _hanging(batch: Batch, kind: str) -> Array:
    """Area of a valve that its spring no longer brings to its seat: the lift at which spring and drag balance."""
    scale, drag = _spring(batch, kind)
    _, valves = parts_of(batch.model.engine).trains[kind]
    short = drag / scale - _SEAT_N
    lift = np.logaddexp(0.0, short / _SEAT_BLUR_N) * _SEAT_BLUR_N / _SPRING_N_MM
    area = 1e6 * np.asarray(valves.area_m2(np.minimum(lift, 12.0).ravel())).reshape(lift.shape)
    return np.where(short > -10.0 * _SEAT_BLUR_N, area / valves.count, 0.0)


def _spring(batch: Batch, kind: str) -> tuple[Array, Array]:
    """Spring over a sound one, and drag in the guide [N]."""
    places = tuple(f"{place}.{kind}" for place in state_places(batch.model.engine, "cylinder"))
    return np.maximum(batch.table("spring_scale", places), 0.05), batch.table("stem_drag", places)


def hangs(batch: Batch, kind: str) -> NDArray[np.bool_]:
    """Whether drag is more than a valve's spring brings at its seat.

    Parameters
    ----------
    batch : Batch
    kind : str
        "intake" or "exhaust".

    Returns
    -------
    array of bool, shape (n, cylinders)
    """
    scale, drag = _spring(batch, kind)
    return np.asarray(drag > _SEAT_N * scale)


def late_shutting(batch: Batch, kind: str, rpm: Array) -> Array:
    """Degrees by which lazy valves shut later than sound ones.

    Parameters
    ----------
    batch : Batch
    kind : str
        "intake" or "exhaust".
    rpm : array, shape (n, cylinders)

    Returns
    -------
    array, shape (n, cylinders) [deg]

    Notes
    -----
    The last way to the seat is made by what force spring and drag leave: t = √(2 s m/F), follows from Newton's law.
    """
    scale, drag = _spring(batch, kind)
    force = np.maximum(_SEAT_N * scale - drag, 10.0)
    sound = _SEAT_N - healthy_of("stem_drag", "cylinder_1.intake")[0]
    seconds = np.sqrt(2.0 * _LAST_M * _VALVE_KG / force) - np.sqrt(2.0 * _LAST_M * _VALVE_KG / sound)
    return np.asarray(np.clip(6.0 * rpm * seconds, -10.0, _MOST_LATE_DEG))
