"""Chances of the codes that no single quantity holds: misfires, catalysts, oil valves, an air meter against pressure.

Every function gives the physical chance, or None where this engine has no such thing or nothing predicts the quantity.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import Code
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.engine.supply_names import cam_node
from witnessmark.predict.asking import answer, sound_batch
from witnessmark.predict.batch import Batch
from witnessmark.predict.codelimits import ABOVE_EVEN, LIMITS, MISFIRES, NAMES_EACH, ONE_CYLINDER, STORAGE_LOST
from witnessmark.predict.codenames import bank_meant
from witnessmark.predict.codethreshold import condition_of, crossed
from witnessmark.predict.feeds import alive
from witnessmark.predict.logistic import expit
from witnessmark.vocabulary import Place, Query

__all__ = ["against_pressure", "catalyst", "exchanged", "lift", "misfire", "oil_valve"]

_Chance = NDArray[np.float64] | None

_WINDING_SD = 0.08


def _or_worse(worst: _Chance, chance: NDArray[np.float64]) -> NDArray[np.float64]:
    return chance if worst is None else np.maximum(worst, chance)


def against_pressure(batch: Batch, code: Code) -> _Chance:
    """Air reported over air that pressure says, both against a sound engine's; not at idle, where speed is free.

    Parameters
    ----------
    batch : Batch
    code : Code

    Returns
    -------
    ndarray, shape (n,) [-], or None
        None for a meter that this engine has not.
    """
    there = {"speed_density": 0.0, None: 0.5}.get(batch.model.engine.breathing.air.metering, 1.0)
    if there == 0.0:
        return None
    worst: _Chance = None
    for state in code.states:
        condition = condition_of(code, state)
        air, pressure = (Query(name, Place(), condition) for name in (code.quantity, "map_reported"))
        read = [answer(one, query) for query in (air, pressure) for one in (batch, sound_batch(batch))]
        known = [one for one in read if one is not None]
        if len(known) < 4:
            continue
        own, sound, own_kpa, sound_kpa = (np.maximum(np.nan_to_num(one), 1e-3) for one in known)
        off = np.abs(np.log(own / sound) - np.log(own_kpa / sound_kpa))
        worst = _or_worse(worst, LIMITS[code.limit].crossed(off))
    return None if worst is None else np.asarray(there * worst)


def catalyst(batch: Batch, code: Code) -> _Chance:
    """A catalyst that stores too little.

    Parameters
    ----------
    batch : Batch
    code : Code

    Returns
    -------
    ndarray, shape (n,) [-], or None
        By the rear sensor's swing where it is predicted, else by the storage itself.
    """
    bank = bank_meant(batch.model.engine, code.bank)
    if bank is None:
        return None
    seen = crossed(batch, code)
    return STORAGE_LOST.crossed(1.0 - batch.column("oxygen_storage", f"bank_{bank}")) if seen is None else seen


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


def misfire(batch: Batch, code: Code) -> _Chance:
    """Misfires beyond the limit, of one cylinder or of several.

    Parameters
    ----------
    batch : Batch
    code : Code
        With a cylinder: of that one; of kind "one_cylinder": of any single one; else of several, or of all in the first
        turns after a start.

    Returns
    -------
    ndarray, shape (n,) [-], or None
    """
    count, cylinder = batch.model.engine.cylinders, code.cylinder
    if cylinder is not None and cylinder > count:
        return None
    worst: _Chance = None
    for state in code.states:
        condition = condition_of(code, state)
        read = [answer(batch, Query(code.quantity, Place.of(cylinder=k), condition)) for k in range(1, count + 1)]
        known = [one for one in read if one is not None]
        if len(known) < count:
            continue
        each = np.clip(np.nan_to_num(np.stack(known, axis=1)), 0.0, 1000.0)
        enough = MISFIRES.crossed(np.log(np.maximum(each.mean(axis=1), 1e-6)))
        share = each / np.maximum(each.sum(axis=1, keepdims=True), 1e-9)
        own = MISFIRES.crossed(np.log(np.maximum(each, 1e-6))) * ABOVE_EVEN.crossed(count * share)
        worst = _or_worse(worst, enough * _whose(code, ONE_CYLINDER.crossed(share), own))
    return worst


def _whose(code: Code, named: NDArray[np.float64], own: NDArray[np.float64]) -> NDArray[np.float64] | float:
    """Of a cylinder's code: by its share of all misfires, or, where a maker names each that misfires, by its own."""
    if code.cylinder is not None:
        share, alone = named[:, code.cylinder - 1], own[:, code.cylinder - 1]
        return np.asarray((1.0 - NAMES_EACH) * share + NAMES_EACH * np.maximum(share, alone))
    if code.kind == "misfire":
        return np.asarray(1.0 - named.max(axis=1))
    return np.asarray(named.max(axis=1)) if code.kind == "one_cylinder" else 1.0


def lift(batch: Batch, code: Code) -> _Chance:
    """Valves that do not switch between their lifts, in a bank.

    Parameters
    ----------
    batch : Batch
    code : Code

    Returns
    -------
    ndarray, shape (n,) [-], or None
        Stuck in the one or in the other is as likely, and the state does not say which.
    """
    if bank_meant(batch.model.engine, code.bank) is None:
        return None
    stuck = batch.table("valve_mode_error", cylinders_of(batch.model.engine)).max(axis=1)
    return np.asarray(0.5 * np.clip(stuck, 0.0, 1.0))


def exchanged(batch: Batch, code: Code) -> _Chance:
    """Oxygen sensors of the two banks on each other's wires.

    Parameters
    ----------
    batch : Batch
    code : Code

    Returns
    -------
    ndarray, shape (n,) [-], or None
        None on an engine of one bank.
    """
    end = {1: "front", 2: "rear"}.get(code.sensor or 0)
    if end is None or bank_meant(batch.model.engine, 2) is None:
        return None
    either = [np.clip(batch.column("circuit_map", f"o2_{end}_{bank}"), 0.0, 1.0) for bank in (1, 2)]
    return np.asarray(np.maximum(*either))
