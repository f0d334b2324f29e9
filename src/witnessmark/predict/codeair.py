"""Chances of the codes of air, fuel, idle and catalyst: a limit crossed by a quantity that is predicted elsewhere.

Every function gives the physical chance, or None where this engine has no such thing or nothing predicts the quantity.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import banks_of
from witnessmark.predict.asking import answer, sound_batch
from witnessmark.predict.batch import Batch
from witnessmark.predict.codelimits import (
    IDLE_AIR,
    RAIL_HIGH,
    RAIL_LOW,
    REAR,
    SPEED_ABOVE,
    SPEED_BELOW,
    STORAGE_LOST,
    TRIM,
    Limits,
)
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["catalyst", "idle", "mixture", "rail"]

_Chance = NDArray[np.float64] | None

_WARM = (Condition("idle", coolant_c=90.0), Condition("raised", coolant_c=90.0), Condition("cruise", coolant_c=90.0))
_LOADED = (*_WARM, Condition("full_load", coolant_c=90.0))
_CONTROL_FAILS = 0.5  # makers with a code of its own for idle control at its end; our guess


def _worst(parts: Iterable[_Chance]) -> _Chance:
    """The largest chance of those that are known."""
    known = [part for part in parts if part is not None]
    return np.max(np.stack(known), axis=0) if known else None


def mixture(batch: Batch, bank: int, *, sign: float) -> _Chance:
    """A bank's trim at its end.

    Parameters
    ----------
    batch : Batch
    bank : int
    sign : float [-]
        1 where it has to add fuel (too lean), -1 where it has to take some away.

    Returns
    -------
    ndarray, shape (n,) [-], or None
    """
    if bank not in banks_of(batch.model.engine):
        return None
    read = (answer(batch, Query("fuel_trim", Place.of(bank=bank), condition)) for condition in _WARM)
    return _worst(None if one is None else TRIM.crossed(sign * one) for one in read)


def rail(batch: Batch, *, high: bool) -> _Chance:
    """The rail's pressure off what a sound engine holds.

    Parameters
    ----------
    batch : Batch
    high : bool
        True for too much.

    Returns
    -------
    ndarray, shape (n,) [-], or None
    """
    found = []
    for condition in _LOADED:
        own, sound = _and_sound(batch, Query("rail_reported", Place.of(rail="rail"), condition))
        if own is None or sound is None:
            continue
        over = own / np.maximum(sound, 1e-3) - 1.0
        found.append(RAIL_HIGH.crossed(over) if high else RAIL_LOW.crossed(-over))
    return _worst(found)


def catalyst(batch: Batch, bank: int) -> _Chance:
    """A catalyst that stores too little.

    Parameters
    ----------
    batch : Batch
    bank : int

    Returns
    -------
    ndarray, shape (n,) [-], or None
        By the rear sensor's swing where it is predicted, else by the storage itself.
    """
    if bank not in banks_of(batch.model.engine):
        return None
    read = (answer(batch, Query("rear_activity", Place.of(bank=bank), condition)) for condition in _WARM[1:])
    seen = _worst(None if one is None else REAR.crossed(one) for one in read)
    return STORAGE_LOST.crossed(1.0 - batch.column("oxygen_storage", f"bank_{bank}")) if seen is None else seen


def idle(batch: Batch, kind: str) -> _Chance:
    """Idle speed off its target, or its control at its end.

    Parameters
    ----------
    batch : Batch
    kind : str
        "control", "below_target", "above_target".

    Returns
    -------
    ndarray, shape (n,) [-], or None
        0 where the engine does not idle at all: nothing is monitored then.
    """
    if kind == "control":
        own, sound = _and_sound(batch, Query("idle_air_demand", Place(), _WARM[0]))
        limits: Limits = IDLE_AIR
        off = None if own is None or sound is None else np.abs(own - sound)
    else:
        own, sound = _and_sound(batch, Query("engine_speed", Place(), _WARM[0]))
        limits = SPEED_ABOVE if kind == "above_target" else SPEED_BELOW
        sign = 1.0 if kind == "above_target" else -1.0
        off = None if own is None or sound is None else sign * (np.where(own > 0.0, own, np.nan) - sound)
    if off is None:
        return None
    return (_CONTROL_FAILS if kind == "control" else 1.0) * limits.crossed(off)


def _and_sound(batch: Batch, query: Query) -> tuple[_Chance, _Chance]:
    """A reading, and the same of a sound engine: its target."""
    return answer(batch, query), answer(sound_batch(batch), query)
