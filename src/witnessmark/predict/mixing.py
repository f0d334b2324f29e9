"""λ of every cylinder: its own air and fuel, and what the bank's trim makes of the mean.

A short sum that stands for the settled operating point of :mod:`witnessmark.predict.air` where only ignition asks: that
point costs far more (docs/physics.md, "misfires").
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import bank_of_cylinder
from witnessmark.physics.airpath import AirPath
from witnessmark.predict.batch import Batch
from witnessmark.predict.fed import injected, pump_turns
from witnessmark.predict.model import Values
from witnessmark.vocabulary import Condition

__all__ = ["AIR_G_S", "LEAK_G_S", "PLENUM_KPA", "air_flow", "lambda_of"]

_Array = NDArray[np.float64]

PLENUM_KPA: Mapping[str, float] = {
    "off": 101.0, "key_on": 101.0, "cranking": 92.0, "warm_up": 42.0, "idle": 35.0, "raised": 33.0, "cruise": 50.0,
    "acceleration": 80.0, "full_load": 98.0, "snap": 92.0, "overrun": 25.0,
}  # fmt: skip
"""Usual plenum pressure: HANDBOOK §6's idle, 2500, cruise and full load; the rest common practice, no source."""

AIR_G_S: Mapping[str, float] = {
    "off": 0.0, "key_on": 0.0, "cranking": 3.0, "warm_up": 4.0, "idle": 3.2, "raised": 8.0, "cruise": 15.0,
    "acceleration": 40.0, "full_load": 90.0, "snap": 40.0, "overrun": 6.0,
}  # fmt: skip
"""Usual air flow of two litres, from the same."""

LEAK_G_S = 0.166
"""Air, in g/s, past one mm2 that is choked, with a Cd of 0.7: HANDBOOK §6, 1.174 g/s through 3 mm."""

_OWN_SHARE = AirPath().runner_share  # of a runner's leak that its own cylinder keeps
_FULL_LAMBDA, _HELD_SHARE = 0.88, 0.5  # asked for at full load; share of a learnt trim that goes on there; our guess
_DUCT_MM2 = 1500.0  # effective area of filter and duct of two litres
_LEAST_NEED, _FULL_NEED = 0.05, 0.35  # of a sound pump's flow, idling and at full load; our guess
_TRIM_LIMIT = 0.25  # common practice, no source
_PULSE = 0.0025  # seconds of an injector's pulse at idle; our guess
_CLOSED = ("warm_up", "idle", "raised", "cruise", "acceleration", "snap")


def air_flow(batch: Batch, state: str) -> float:
    """Usual air flow of the engine in a state, by its displacement.

    Parameters
    ----------
    batch : Batch
    state : str

    Returns
    -------
    float, shape () [g/s]
        At least a little.
    """
    return max(AIR_G_S[state] * (batch.model.engine.breathing.cylinder.displacement_l.mean or 2.0) / 2.0, 0.5)


def lambda_of(batch: Batch, condition: Condition) -> _Array:
    """λ of every cylinder: its own air and fuel, and what the bank's trim makes of the mean.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    array, shape (n, cylinders) [-]
    """
    key = ("lambda", condition.state, condition.speed_rpm)
    return batch.once(key, lambda: _lambdas(batch, condition))


def _lambdas(batch: Batch, condition: Condition) -> _Array:
    engine, state = batch.model.engine, condition.state or "idle"
    total, numbers = air_flow(batch, state), range(1, engine.cylinders + 1)
    each = total / engine.cylinders
    plenum = PLENUM_KPA[state]
    choke = np.sqrt(max(1.0 - max((plenum / 101.3 - 0.528) / 0.472, 0.0) ** 2, 0.0)) * LEAK_G_S
    leaks = np.stack([batch.column("leak_area", f"runner_{k}") for k in numbers], axis=1) * choke
    gas = np.stack([batch.column("inflow_fuel", f"runner_{k}") for k in numbers], axis=1)
    spread = (1.0 - _OWN_SHARE) * leaks.sum(axis=1, keepdims=True) / engine.cylinders
    clean = np.clip(1.0 - np.where(leaks > 0.0, gas - 0.05, 0.0), 0.0, 1.0)
    air = 1.0 + (_OWN_SHARE * leaks * clean + spread) / each + _unmetered(batch, choke, total)[:, None] / total
    fuel = np.stack([_fuel(batch, k, condition, each) for k in numbers], axis=1)
    fuel = fuel + np.where(leaks > 0.0, np.maximum(gas - 0.05, 0.0), 0.0) * 14.0 * _OWN_SHARE * leaks / each
    fuel = fuel * _delivery(batch, condition, total)[:, None]
    lean = air / np.maximum(fuel, 1e-3)
    banks = np.array([bank_of_cylinder(engine, k) for k in numbers])
    found: _Array = np.empty_like(lean)
    for bank in np.unique(banks):
        own = lean[:, banks == bank]
        mean = air[:, banks == bank].sum(axis=1) / np.maximum(fuel[:, banks == bank].sum(axis=1), 1e-3)
        # A sensor that shows too lean makes it rich by as much; at full load half of what was learnt goes on.
        wanted = 1.0 - batch.column("sensor_offset", f"o2_front_{bank}") if state in _CLOSED else _FULL_LAMBDA
        trim = np.clip(mean, 1.0 - _TRIM_LIMIT, 1.0 + _TRIM_LIMIT)
        trim = trim if state in _CLOSED else 1.0 + _HELD_SHARE * (trim - 1.0)
        found[:, banks == bank] = own / trim[:, None] * np.reshape(wanted, (-1, 1))
    return found


def _metered(batch: Batch) -> Values:
    """Share of engines like this that measure their air with a meter; others reckon it from pressure."""
    usual = {"speed_density": 1.0, "air_meter": 0.0}.get(batch.model.engine.breathing.air.metering or "", 0.5)
    return 1.0 - np.clip(batch.number("air:speed_density", usual), 0.0, 1.0)


def _unmetered(batch: Batch, choke: float, total: float) -> _Array:
    """Air, g/s, that a meter does not see: what the plenum draws in, and ahead of the throttle a share of all."""
    area = sum(batch.column("leak_area", duct) for duct in ("plenum", "servo", "branch"))
    duct = 0.7 * np.maximum(batch.column("leak_area", "intake_duct"), 0.0)
    split = total * duct / (_DUCT_MM2 + duct)
    return np.asarray((area * choke + split) * _metered(batch))


def _delivery(batch: Batch, condition: Condition, total: float) -> _Array:
    """Fuel over what is asked for, all cylinders alike."""
    pressure = np.maximum(1.0 + batch.column("regulator_error", "regulator") / 100.0, 0.01)
    flow = np.maximum(batch.column("lift_pump_flow", "pump"), 0.0) * pump_turns(batch, condition.state)
    open_filter = 1.0 - np.clip(batch.column("restriction", "fuel_filter"), 0.0, 1.0)
    litres = batch.model.engine.breathing.cylinder.displacement_l.mean or 2.0
    need = _LEAST_NEED + (_FULL_NEED - _LEAST_NEED) * min(total / AIR_G_S["full_load"] / litres * 2.0, 1.0)
    starved = np.minimum(1.0, (flow / need) ** 2) * np.minimum(1.0, open_filter / (0.3 * need))
    # HANDBOOK §6: 14.601 for gasoline, 9.803 for E85, straight between.
    ethanol = batch.column("fuel_ethanol", "fuel")
    leaner = (14.6 - 5.65 * ethanol) / (14.6 - 5.65 * 0.07)
    seen = np.clip(batch.column("sensor_gain", "maf") + batch.column("sensor_offset", "maf") / total, 0.05, 3.0)
    return np.asarray(np.sqrt(np.maximum(pressure * starved, 1e-4)) * leaner * (1.0 + (seen - 1.0) * _metered(batch)))


def _fuel(batch: Batch, cylinder: int, condition: Condition, air: float) -> _Array:
    """Fuel of one cylinder over the fuel it should get: flow, the volts at its injector, and what drips."""
    flow = np.maximum(batch.column("injector_flow", f"cylinder_{cylinder}"), 0.0)
    drips = np.maximum(batch.column("injector_leak", f"cylinder_{cylinder}"), 0.0) / 1000.0 / (air / 14.3)
    # A pulse grows with the air that it is for: 2.5 ms at idle.
    pulse = max(_PULSE, _PULSE * air / 0.625)
    return np.asarray(flow * injected(batch, cylinder, condition.state, pulse=pulse) + drips)
