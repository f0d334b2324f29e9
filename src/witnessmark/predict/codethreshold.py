"""Chances of codes that are a limit crossed by a quantity which is predicted elsewhere: one rule for all of them.

What crosses which limit, on which side and in which operating states stands with the code; how large the limit is, in
:mod:`witnessmark.predict.codelimits`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import Code
from witnessmark.engine.state import State
from witnessmark.predict.asking import answer, sound_batch, with_state
from witnessmark.predict.batch import Batch
from witnessmark.predict.codelimits import LIMITS, Limits
from witnessmark.predict.codenames import bank_meant, meant
from witnessmark.vocabulary import Condition, Place, Query, quantity

__all__ = ["condition_of", "crossed", "queries_of"]

_Array = NDArray[np.float64]

_WARM_C = 90.0
_NEVER_WARM = ("off", "key_on", "cranking", "warm_up")
_PART_KEYS = ("sensor", "actuator", "node")


def condition_of(code: Code, state: str) -> Condition:
    """The condition under which a code's monitor looks.

    Parameters
    ----------
    code : Code
    state : str
        One of its operating states.

    Returns
    -------
    Condition
    """
    return Condition(state) if state in _NEVER_WARM else Condition(state, coolant_c=_WARM_C)


def queries_of(batch: Batch, code: Code) -> tuple[tuple[Query, float], ...]:
    """What a code's monitor reads on this engine.

    Parameters
    ----------
    batch : Batch
    code : Code
        One that names a quantity.

    Returns
    -------
    tuple of (Query, odds [-])
        One for each operating state and each part that it may mean.
    """
    kind, engine = quantity(code.quantity), batch.model.engine
    keys = (*kind.keys, *kind.optional)
    place: dict[str, str | int] = dict(code.place)
    if code.bank is not None and "bank" in keys:
        bank = bank_meant(engine, code.bank)
        if bank is None:
            return ()
        place["bank"] = bank
    if code.cylinder is not None and "cylinder" in keys:
        if code.cylinder > engine.cylinders:
            return ()
        place["cylinder"] = code.cylinder
    held = next((key for key in _PART_KEYS if key in kind.keys), "")
    parts = meant(engine, code) if code.part and held and held not in place else (("", 1.0),)
    found = []
    for part, odds in parts:
        where = Place.from_mapping({**place, held: part} if part else place)
        found += [(Query(code.quantity, where, condition_of(code, state)), odds) for state in code.states]
    return tuple(found)


def crossed(batch: Batch, code: Code) -> _Array | None:
    """Chance that the quantity of a code is beyond its limit.

    Parameters
    ----------
    batch : Batch
    code : Code
        One that names a quantity and a limit.

    Returns
    -------
    ndarray, shape (n,) [-], or None
        The worst of the code's operating states, averaged over what its letters may mean; None where nothing predicts
        the quantity on this engine, or the engine has no such part.
    """
    if code.quantity == "learnt_reported":
        return _learnt(batch, code)
    limits, worst = LIMITS[code.limit], dict[Place, tuple[float, _Array]]()
    for query, odds in queries_of(batch, code):
        x = _against(batch, query, code)
        if x is None:
            continue
        chance = _beyond(limits, x, code)
        before = worst.get(query.place)
        worst[query.place] = (odds, chance if before is None else np.maximum(before[1], chance))
    if not worst:
        return None
    return np.asarray(sum(odds * chance for odds, chance in worst.values()))


def _beyond(limits: Limits, x: _Array, code: Code) -> _Array:
    """A value by itself is under its limit or over it; a difference is so far below or above nothing."""
    if code.crossing == "off":
        return limits.crossed(np.abs(x))
    if code.crossing == "high":
        return limits.crossed(x)
    return limits.undercut(x) if code.against == "" else limits.crossed(-x)


def _against(batch: Batch, query: Query, code: Code) -> _Array | None:
    own = answer(batch, query)
    if own is None:
        return None
    if query.quantity == "engine_speed":
        own = np.where(own > 0.0, own, np.nan)  # a standing engine is not monitored
    if code.against in ("", "zero"):
        return own
    told = answer(_true(batch, query, code) if code.against == "true" else sound_batch(batch), query)
    if told is None:
        return None
    return own / np.maximum(told, 1e-3) - 1.0 if code.against == "share" else own - told


def _true(batch: Batch, query: Query, code: Code) -> Batch:
    """The same engines with the sensor that shows it sound, and its wires."""
    name = str(query.place.get("sensor") or code.part)
    return with_state(batch, f"sound {name}", _sound_sensor(batch.state, name))


def _sound_sensor(state: State, name: str) -> State:
    of_it = (name, f"{name}:ground", f"{name}:supply")
    return State({key: value for key, value in state.edits.items() if key[1] not in of_it})


def _learnt(batch: Batch, code: Code) -> _Array:
    """What is learnt of anything but a cam is held against what it should be: the state keeps the difference."""
    item = str(dict(code.place)["learnt_item"])
    return LIMITS[code.limit].crossed(np.abs(batch.column("learnt_error", item)))
