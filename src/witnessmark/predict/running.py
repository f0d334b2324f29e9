"""Speed and pressures about the cylinders: as the air path, the starter and the condition have them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import bank_of_cylinder, banks_of
from witnessmark.physics.exhaust import Exhaust, back_pressure
from witnessmark.physics.filling import filling_factor
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.speeddip import speed_at_compression
from witnessmark.predict.air import speed_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.cranking import cranking, of_cranking
from witnessmark.predict.cylindertables import parts_of
from witnessmark.predict.grid import between
from witnessmark.predict.mixing import plenum_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.rules import rule_of
from witnessmark.predict.setting import ambient_kpa, own_speed, turned
from witnessmark.vocabulary import Condition, Place, Query

__all__ = [
    "about_compression", "exhaust_gauge", "of_inertia", "of_plenum", "of_speed", "plenum_key",
    "plenum_pressure", "regime_of", "speed",
]  # fmt: skip

Array = NDArray[np.float64]

_REGIME = {
    "off": "cranking", "key_on": "cranking", "cranking": "cranking", "warm_up": "idle", "idle": "idle",
    "raised": "raised", "cruise": "raised", "overrun": "raised",
    "acceleration": "open", "full_load": "open", "snap": "open",
}  # fmt: skip

_MOST_BACK_KPA = 320.0  # where the tables end
_OPEN_SHARE = 0.992  # of ambient pressure, in the plenum of a cranked engine with its throttle open
_PLUGS_OUT = 1.15  # times as fast cranks an engine that compresses in one cylinder only; our guess
# What a starter turns [kg m2]: crank and flywheel by displacement, its own armature through its gear; our guess.
_FLYWHEEL, _ARMATURE, _INERTIA_SD = 0.065, 0.25, 0.3
_INERTIA_KEY = "cylinder:cranking_inertia"
_GRID_RPM = np.geomspace(60.0, 450.0, 12)
_GRID_SHARE = np.append(np.geomspace(0.35, 2.5, 7), 1e4)  # the last: a flywheel without end


def regime_of(condition: Condition) -> str:
    """Which tables a condition is looked up in.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    str
        Of :data:`witnessmark.predict.stroke.REGIMES`; idle where no state is given.
    """
    return _REGIME[turned(condition).state or "idle"]


def speed(batch: Batch, condition: Condition) -> Values:
    """Mean crank speed.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [rpm]
        As noted; else as the starter turns it, or as the state has it.
    """
    now = turned(condition)
    if now.state == "cranking" and condition.speed_rpm is None:
        return np.maximum(cranking(batch, now).rpm, 30.0)
    return speed_of(batch, now)


def about_compression(batch: Batch, condition: Condition, *, alone: bool = False) -> Values:
    """Speed about compression TDC: a starter's engine slows down there, one that runs hardly does.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    alone : bool
        With all other plugs out.

    Returns
    -------
    float or array, shape (n,) [rpm]

    Notes
    -----
    :func:`witnessmark.physics.speeddip.speed_at_compression`, read from a grid of speed and inertia.
    """
    mean = speed(batch, condition)
    if regime_of(condition) != "cranking":
        return mean
    engine = batch.model.engine
    sizes = parts_of(engine).sizes
    turns = np.asarray(mean) * (_PLUGS_OUT if alone and condition.speed_rpm is None else 1.0)
    slow = _dip(sizes, 1 if alone else engine.cylinders, 1e3 * sizes.swept_m3 * engine.cylinders)
    share = np.maximum(np.asarray(batch.number(_INERTIA_KEY, 1.0)), _GRID_SHARE[0])
    return turns * between((np.log(_GRID_RPM), np.log(_GRID_SHARE)), slow, (np.log(turns), np.log(share)))


@lru_cache(maxsize=32)
def _dip(sizes: CylinderGeometry, cylinders: int, litres: float) -> Array:
    """Speed about compression TDC over the mean, on the grid, shape (speeds, inertias)."""
    rpm, share = np.meshgrid(_GRID_RPM, _GRID_SHARE, indexing="ij")
    inertia = (_FLYWHEEL * litres + _ARMATURE) * share
    return np.asarray(speed_at_compression(sizes, cylinders, rpm.ravel(), inertia.ravel())).reshape(rpm.shape)


def plenum_key(condition: Condition) -> str:
    """The key under which the plenum's pressure may be assumed, in kPa: somebody has read it.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    str
    """
    return f"cylinder:plenum_kpa:{turned(condition).state}"


def plenum_pressure(batch: Batch, condition: Condition, *, open_throttle: bool = False) -> Values:
    """Absolute pressure in the plenum: where the air path settles, unless it is assumed.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    open_throttle : bool
        Cranked with the throttle held open.

    Returns
    -------
    float or array, shape (n,) [kPa]
    """
    if open_throttle and regime_of(condition) == "cranking":
        return ambient_kpa(batch) * _OPEN_SHARE
    assumed = batch.numbers.get(plenum_key(condition))
    if assumed is not None:
        return np.clip(assumed, 10.0, 300.0)
    return np.clip(1e-3 * plenum_of(batch, condition), 10.0, 300.0)


def of_speed(condition: Condition) -> Iterator[Nuisance]:
    """What is open of the speed.

    Parameters
    ----------
    condition : Condition

    Yields
    ------
    Nuisance
        None where the speed was noted.
    """
    now = turned(condition)
    if now.state == "cranking" and condition.speed_rpm is None:
        yield from of_cranking(now)
    yield from own_speed(now)


def of_inertia(condition: Condition) -> Iterator[Nuisance]:
    """What is open of the inertia that a starter turns.

    Parameters
    ----------
    condition : Condition

    Yields
    ------
    Nuisance
        None for an engine that runs.
    """
    if regime_of(condition) == "cranking":
        yield Nuisance(_INERTIA_KEY, "", 1.0, _INERTIA_SD)


def of_plenum(model: DriveModel, condition: Condition, *, open_throttle: bool = False) -> Iterator[Nuisance]:
    """What sound engines differ in that moves the plenum's pressure, and the weather.

    Parameters
    ----------
    model : DriveModel
    condition : Condition
    open_throttle : bool

    Yields
    ------
    Nuisance
    """
    wide = open_throttle and regime_of(condition) == "cranking"
    for one in _of_vacuum(model, turned(condition)):
        if not wide or one.variable == "air:ambient_kpa":
            yield one


def _of_vacuum(model: DriveModel, condition: Condition) -> Iterator[Nuisance]:
    rule = rule_of("manifold_vacuum")
    assert rule is not None
    yield from rule.nuisances(model, Query("manifold_vacuum", Place(), condition))


def exhaust_gauge(batch: Batch, condition: Condition, plenum: Array) -> Array:
    """Pressure over ambient that every cylinder exhausts against, by its bank's flow and restrictions.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    plenum : array, shape (n,) [kPa]

    Returns
    -------
    array, shape (n, cylinders) [kPa]

    Notes
    -----
    :func:`witnessmark.physics.exhaust.back_pressure`, areas in proportion to the bank's displacement; the flow falls
    with the charge left over, :func:`witnessmark.physics.filling.filling_factor`.
    """
    engine = batch.model.engine
    banks, sizes = banks_of(engine), parts_of(engine).sizes
    whole_l = 1e3 * sizes.swept_m3 * engine.cylinders
    share = whole_l / 2.0 / len(banks)
    usual = Exhaust()
    pipe = Exhaust(usual.front_area * share, usual.catalyst_area * share, usual.tail_area * share)
    flow = 0.85 * plenum / (0.287 * 315.0) * 1e-3 * whole_l / len(banks) * np.asarray(speed(batch, condition)) / 120.0
    outside = 1e3 * np.asarray(ambient_kpa(batch))
    free = np.asarray(filling_factor(outside / (1e3 * plenum), sizes.compression_ratio))
    by_bank = {}
    for bank in banks:
        ducts = {"front": f"exhaust_front_{bank}", "catalyst": f"catalyst_{bank}", "tail": "tail"}
        lost = {name: np.clip(batch.get("restriction", duct), 0.0, 0.999) for name, duct in ducts.items()}
        gauge: Array = np.zeros(batch.rows)
        for _ in range(3):  # what is held back flows less, but not much
            held = np.asarray(filling_factor((outside + 1e3 * gauge) / (1e3 * plenum), sizes.compression_ratio))
            found = back_pressure(pipe, flow * np.maximum(held / free, 0.05), outside, **lost)
            gauge = np.clip(1e-3 * (np.asarray(found.port) - outside), 0.0, _MOST_BACK_KPA)
        by_bank[bank] = gauge
    return np.stack([by_bank[bank_of_cylinder(engine, k)] for k in range(1, engine.cylinders + 1)], axis=1)
