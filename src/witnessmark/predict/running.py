"""What a condition says of speed and pressures about the cylinders, and what is usual where it says nothing.

Usual numbers and sizes of restrictions are our guess unless said otherwise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import bank_of_cylinder, banks_of, is_boosted
from witnessmark.engine.types import Engine
from witnessmark.physics.exhaust import Exhaust, back_pressure
from witnessmark.physics.filling import filling_factor
from witnessmark.predict.batch import Batch
from witnessmark.predict.cylindertables import parts_of
from witnessmark.predict.model import Values
from witnessmark.predict.stroke import AMBIENT_PA
from witnessmark.vocabulary import Condition

__all__ = [
    "AMBIENT_KEY", "ambient", "exhaust_gauge", "plenum_pressure", "regime_of", "speed", "usual_plenum", "usual_speed",
]  # fmt: skip

Array = NDArray[np.float64]

AMBIENT_KEY = "cylinder:ambient_kpa"

# Speed [rpm] and plenum pressure [kPa] usual in a condition, each with its spread: our guess.
_USUAL: dict[str, tuple[float, float, float, float]] = {
    "cranking": (200.0, 30.0, 97.0, 2.0),
    "warm_up": (1100.0, 150.0, 42.0, 6.0),
    "idle": (750.0, 60.0, 36.0, 5.0),
    "raised": (2500.0, 100.0, 34.0, 4.0),
    "cruise": (2200.0, 500.0, 55.0, 12.0),
    "acceleration": (2800.0, 600.0, 85.0, 8.0),
    "full_load": (4000.0, 900.0, 97.0, 2.0),
    "snap": (2500.0, 500.0, 94.0, 4.0),
    "overrun": (2500.0, 600.0, 26.0, 4.0),
}
_BOOSTED = (150.0, 25.0)  # kPa, acceleration and full load
_REGIME = {
    "off": "cranking", "key_on": "cranking", "cranking": "cranking", "warm_up": "idle", "idle": "idle",
    "raised": "raised", "cruise": "raised", "overrun": "raised",
    "acceleration": "open", "full_load": "open", "snap": "open",
}  # fmt: skip

_MOST_BACK_KPA = 320.0  # where the tables end
_OPEN_SHARE = 0.992  # of ambient pressure, in the plenum of a cranked engine with its throttle open
_INTAKE_LOSS_KPA = 6.0  # a sound intake's at 5,000 rpm and wide open throttle, ahead of the throttle


def _state(condition: Condition) -> str:
    return "cranking" if condition.state in ("off", "key_on") else condition.state or "idle"


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
    return _REGIME[_state(condition)]


def usual_speed(condition: Condition) -> tuple[str, float, float]:
    """Key, mean and spread of the speed where a condition does not say it.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    tuple of (str, float, float), shape () each [rpm]
        In rpm; spread 0 where it is said.
    """
    state = _state(condition)
    key = "cylinder:cranking_rpm" if state == "cranking" else f"cylinder:speed_rpm:{state}"
    if condition.speed_rpm is not None:
        return key, condition.speed_rpm, 0.0
    return key, _USUAL[state][0], _USUAL[state][1]


def speed(batch: Batch, condition: Condition) -> Values:
    """Crank speed.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [rpm]
    """
    key, mean, _ = usual_speed(condition)
    return mean if condition.speed_rpm is not None else np.maximum(batch.number(key, mean), 30.0)


def ambient(batch: Batch) -> Values:
    """Pressure of the surroundings.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    float or array, shape (n,) [kPa]
    """
    return batch.number(AMBIENT_KEY, 1e-3 * AMBIENT_PA)


def plenum_pressure(batch: Batch, condition: Condition, *, open_throttle: bool = False) -> Values:
    """Absolute pressure in the plenum: the one place where cylinders learn of the air path.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    open_throttle : bool
        Cranked with the throttle held open.

    Returns
    -------
    float or array, shape (n,) [kPa]
        Usual for the condition, an assumed number; with an open throttle less what a blocked intake takes.

    Notes
    -----
    Loss k (p/100)² ahead of the throttle, k by speed squared and by 1/(1 − r)² of each duct: follows from Bernoulli's
    law; its size is our guess.
    """
    if open_throttle and regime_of(condition) == "cranking":
        return ambient(batch) * _OPEN_SHARE
    key, mean, _ = usual_plenum(batch.model.engine, condition)
    usual = np.clip(batch.number(key, mean), 10.0, 300.0)
    if regime_of(condition) == "cranking":
        return np.asarray(usual * np.asarray(ambient(batch)) / (1e-3 * AMBIENT_PA))
    if regime_of(condition) != "open":
        return usual
    more: Values = 0.0
    for duct in ("air_filter", "intake_duct", *(("charge_cooler",) if is_boosted(batch.model.engine) else ())):
        left = np.clip(1.0 - np.asarray(batch.get("restriction", duct)), 0.01, 1.0)
        more = more + 1.0 / left**2 - 1.0 / 0.97**2
    k = np.maximum(_INTAKE_LOSS_KPA * (np.asarray(speed(batch, condition)) / 5000.0) ** 2 * more * 1e-4, 1e-9)
    return np.asarray(2.0 * usual / (1.0 + np.sqrt(1.0 + 4.0 * k * usual)))


def usual_plenum(engine: Engine, condition: Condition) -> tuple[str, float, float]:
    """Key, mean and spread of the plenum pressure in a condition.

    Parameters
    ----------
    engine : Engine
    condition : Condition

    Returns
    -------
    tuple of (str, float, float), shape () each [kPa]
        Absolute.
    """
    state = _state(condition)
    _, _, mean, sd = _USUAL[state]
    if is_boosted(engine) and state in ("acceleration", "full_load"):
        mean, sd = _BOOSTED
    return f"cylinder:plenum_kpa:{state}", mean, sd


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
    outside = 1e3 * np.asarray(ambient(batch))
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
