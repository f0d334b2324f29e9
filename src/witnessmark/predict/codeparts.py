"""Chances of the codes of sensors, oil valves, misfires and the learnt wheel.

Every function gives the physical chance, or None where this engine has no such thing or nothing predicts the quantity.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.engine.supply_names import cam_node
from witnessmark.predict.asking import answer, sound_batch, with_state
from witnessmark.predict.batch import Batch
from witnessmark.predict.codelimits import (
    AIR_RATIO,
    CRANK_VARIATION,
    MAP_KPA,
    MISFIRES,
    ONE_CYLINDER,
    TEMPERATURE_K,
)
from witnessmark.predict.feeds import alive, way_of
from witnessmark.predict.logistic import expit
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["learnt_wheel", "misfire", "oil_valve", "sensor"]

_Chance = NDArray[np.float64] | None

_STATES = (Condition("idle", coolant_c=90.0), Condition("raised", coolant_c=90.0), Condition("cruise", coolant_c=90.0))
_FULL = Condition("full_load", coolant_c=90.0)
_OFF = Condition("key_on")
# What a broken circuit does to the signal, chance of low and of high: a meter that is not fed gives nothing; a signal
# that floats goes either way; a thermistor's pull-up takes it up. How the circuits are usually built; odds our guess.
_OPEN = {"maf": (0.8, 0.1), "map": (0.5, 0.4), "iat": (0.0, 0.95)}
_SHORT = {"maf": (0.8, 0.1), "map": (0.8, 0.1), "iat": (0.95, 0.0)}
_UP = {"maf": (0.0, 0.9), "map": (0.0, 0.9), "iat": (0.0, 0.9)}
_ONE_OF_TWO = 0.6  # makers that say "circuit" where others say low or high; our guess
_PER_MINUTE = 10.0  # losses of contact each minute that are noticed two times out of three; our guess
_DEAD_METER = 0.08  # share of the true flow below which a meter counts as dead; our guess
_COLDEST, _HOTTEST, _ENDS_SD = -38.0, 130.0, 4.0  # where a thermistor's reading is no temperature of an engine
_LEAST_KPA, _MOST_KPA = 8.0, 125.0
_WINDING_SD = 0.08


def sensor(batch: Batch, name: str, kind: str) -> _Chance:
    """A sensor's circuit, or what it says.

    Parameters
    ----------
    batch : Batch
    name : str
        "maf", "map", "iat".
    kind : str
        "circuit", "performance", "low", "high", "intermittent".

    Returns
    -------
    ndarray, shape (n,) [-], or None
        None for a meter that this engine has not.
    """
    there = _share_with_meter(batch) if name == "maf" else 1.0
    if there == 0.0:
        return None
    if kind == "performance":
        found = _implausible(batch, name)
    elif kind == "intermittent":
        rate = sum((batch.column("dropout_rate", node) for node in way_of(batch.model.engine, name)), 0.0)
        found = np.asarray(1.0 - np.exp(-np.maximum(rate, 0.0) / _PER_MINUTE) + np.zeros(batch.rows))
    else:
        low, high = _ends(batch, name)
        both = 1.0 - (1.0 - low) * (1.0 - high)
        found = {"low": low, "high": high, "circuit": _ONE_OF_TWO * both}[kind]
    return None if found is None else np.asarray(there * found)


def _share_with_meter(batch: Batch) -> float:
    metering = batch.model.engine.breathing.air.metering
    return {"speed_density": 0.0, None: 0.5}.get(metering, 1.0)


def _ends(batch: Batch, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Chance that the signal is at its lower and at its upper end: by its circuit, then by its value."""
    broken = 1.0 - alive(batch, name)
    down = batch.column("shorting", name) + batch.column("shorting", f"{name}:ground")
    shorted = -np.expm1(-np.maximum(down, 0.0) / 0.01)
    up = -np.expm1(-np.maximum(batch.column("shorting", f"{name}:supply"), 0.0) / 0.01)
    ends = []
    for side in (0, 1):
        open_one = broken * (1.0 - np.maximum(shorted, up)) * _OPEN[name][side]
        ends.append(np.clip(open_one + shorted * _SHORT[name][side] + up * _UP[name][side], 0.0, 1.0))
    low, high = _by_value(batch, name)
    return np.asarray(1.0 - (1.0 - ends[0]) * (1.0 - low)), np.asarray(1.0 - (1.0 - ends[1]) * (1.0 - high))


def _by_value(batch: Batch, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    never = np.zeros(batch.rows)
    if name == "maf":
        return expit((_DEAD_METER - batch.column("sensor_gain", "maf")) / 0.02), never
    if name == "map":
        asked = [answer(batch, Query("map_reported", Place(), c)) for c in (_STATES[0], _OFF)]
        idle, off = (np.full(batch.rows, 50.0) if one is None else np.nan_to_num(one, nan=50.0) for one in asked)
        return expit((_LEAST_KPA - idle) / 1.0), expit((np.maximum(idle, off) - _MOST_KPA) / 3.0)
    read = answer(batch, Query("temperature_reported", Place.of(sensor="iat"), _OFF))
    if read is None:
        return never, never
    # Low volts are a hot thermistor, high volts a cold one.
    known = np.nan_to_num(read, nan=20.0)
    return expit((known - _HOTTEST) / _ENDS_SD), expit((_COLDEST - known) / _ENDS_SD)


def _implausible(batch: Batch, name: str) -> _Chance:
    """What is reported against what the other readings say."""
    if name == "maf":
        return _against_pressure(batch)
    true = with_state(batch, f"sound {name}", _sound_sensor(batch.state, name))
    query = ("map_reported", {}) if name == "map" else ("temperature_reported", {"sensor": "iat"})
    limits, states = (MAP_KPA, (_OFF, _STATES[0])) if name == "map" else (TEMPERATURE_K, (_OFF,))
    worst = None
    for condition in states:
        asked = Query(query[0], Place.of(**query[1]), condition)
        own, told = answer(batch, asked), answer(true, asked)
        if own is not None and told is not None:
            chance = limits.crossed(np.abs(own - told))
            worst = chance if worst is None else np.maximum(worst, chance)
    return worst


def _sound_sensor(state: State, name: str) -> State:
    """The same engines with that sensor and its wires sound."""
    of_it = (name, f"{name}:ground", f"{name}:supply")
    return State({key: value for key, value in state.edits.items() if key[1] not in of_it})


def _against_pressure(batch: Batch) -> _Chance:
    """Air reported over air that pressure says, both against a sound engine's; not at idle, where speed is free."""
    worst = None
    for condition in (*_STATES[1:], _FULL):
        air, pressure = (Query(name, Place(), condition) for name in ("airflow_reported", "map_reported"))
        read = [answer(one, query) for query in (air, pressure) for one in (batch, sound_batch(batch))]
        known = [one for one in read if one is not None]
        if len(known) < 4:
            continue
        own, sound, own_kpa, sound_kpa = (np.maximum(np.nan_to_num(one), 1e-3) for one in known)
        chance = AIR_RATIO.crossed(np.abs(np.log(own / sound) - np.log(own_kpa / sound_kpa)))
        worst = chance if worst is None else np.maximum(worst, chance)
    return worst


def oil_valve(batch: Batch, cam: str) -> _Chance:
    """The circuit of a cam's oil valve: open, shorted, or with a dead driver.

    Parameters
    ----------
    batch : Batch
    cam : str

    Returns
    -------
    ndarray, shape (n,) [-], or None
        None for a cam without a phaser.
    """
    drive = batch.model.engine.drive
    if drive is None or drive.phaser(cam) is None:
        return None
    sound = np.ones(batch.rows)
    for name in (cam_node("oil_valve", cam), "oil_valve", cam):
        winding = batch.column("winding", name)
        sound = sound * alive(batch, name) * expit((winding - 0.5) / _WINDING_SD)
    return np.asarray(1.0 - sound / expit(0.5 / _WINDING_SD) ** 3)


def misfire(batch: Batch, cylinder: int | None) -> _Chance:
    """Misfires beyond the limit, of one cylinder or of several.

    Parameters
    ----------
    batch : Batch
    cylinder : int, optional
        None: random, of several cylinders.

    Returns
    -------
    ndarray, shape (n,) [-], or None
    """
    count = batch.model.engine.cylinders
    if cylinder is not None and cylinder > count:
        return None
    worst = None
    for condition in (*_STATES, _FULL):
        read = [answer(batch, Query("misfire_count", Place.of(cylinder=k), condition)) for k in range(1, count + 1)]
        known = [one for one in read if one is not None]
        if len(known) < count:
            continue
        each = np.clip(np.nan_to_num(np.stack(known, axis=1)), 0.0, 1000.0)
        enough = MISFIRES.crossed(np.log(np.maximum(each.mean(axis=1), 1e-6)))
        named = ONE_CYLINDER.crossed(each / np.maximum(each.sum(axis=1, keepdims=True), 1e-9))
        own = 1.0 - named.max(axis=1) if cylinder is None else named[:, cylinder - 1]
        worst = enough * own if worst is None else np.maximum(worst, enough * own)
    return worst


def learnt_wheel(batch: Batch) -> NDArray[np.float64]:
    """What was learnt of the crank's wheel is not what the wheel is.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    return CRANK_VARIATION.crossed(np.abs(batch.column("learnt_error", "crank_variation")))
