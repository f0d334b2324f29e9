"""The state of an engine laid out for the operating point: areas, sensors, fuel and cylinders of n states."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY
from witnessmark.engine.stateplaces import banks_of
from witnessmark.physics.airstate import AirState
from witnessmark.physics.nozzle import HOLE
from witnessmark.physics.tankvent import pump_in_vapour, tank_depression
from witnessmark.predict.airdescribed import Described, described, size_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.cylinderair import cam_errors, filling_of, leak_work, lit, spark_work
from witnessmark.predict.fed import injected, pulled, pump_turns, sensor_share
from witnessmark.predict.feeds import alive
from witnessmark.predict.model import Values
from witnessmark.predict.setting import coolant_c
from witnessmark.vocabulary import Condition

__all__ = [
    "COMMANDED_MM2",
    "air_state",
    "lost_area",
    "pump_flow",
    "reading_gain",
    "tank_vacuum",
    "warm_up_need",
]

Array = NDArray[np.float64]

_SOUND = 0.03  # healthy restriction: part of the engine as described
_AMBIENT_FUEL = 0.05  # healthy inflow_fuel; outside air brings none, so at a leak only what is above it counts
_DRAWS_IN = 0.2  # share of a sound charge with which a cylinder still draws its fuel out of the port; our guess
_LITRES_PER_ROUND = 4.0 * np.pi  # torque over displacement times this is mean pressure
_RATED_PA = 300e3  # of the regulator in the operating point
_WARM_FUEL_K = 0.0  # of the fuel above 37.8 °C; our guess
_DRAWN_KG_S = {"cruise": 0.0015, "acceleration": 0.003, "full_load": 0.006}  # fuel of two litres
COMMANDED_MM2 = {"purge": 12.0, "egr": 60.0}
"""Geometric area of a flow valve that a tester has commanded open, mm2, for two litres; our guess."""
_PURGED_MM2 = {"idle": 0.4, "raised": 1.2, "cruise": 1.2, "acceleration": 1.2}
"""Mean area at which a warm sound engine draws on its canister, mm2, for two litres: some 2 % of the air at idle, more
at part load, nothing while cold; common practice, no source, the sizes our guess."""
_PURGES_FROM_C, _PURGES_C = 50.0, 70.0
_ZERO_MM2 = 3.3
"""Area of one percent of a throttle's way near its stop, mm2, for two litres: 0.84 degrees from 6 to 7 of a bore of
50 mm, by physics.throttle; bore and stop our guess."""
_COLD_DRAG_KPA = 60.0  # friction of an engine at 20 °C above that of a warm one; our guess
_WARM_C, _NEED_PER_K = 70.0, 0.003  # enrichment a computer adds below this; our guess
_VAPOUR_PER_KPA = 0.006  # of the fuel that a cold engine fails to vaporise, by lack of volatility; our guess


def lost_area(batch: Batch, *ducts: str) -> Array:
    """Share of area that ducts in a row have lost, against sound ones.

    Parameters
    ----------
    batch : Batch
    *ducts : str

    Returns
    -------
    ndarray, shape (n,) [-]
        Within 0 to 1.
    """
    left = np.ones(batch.rows)
    for duct in ducts:
        left = left * np.clip((1.0 - batch.column("restriction", duct)) / (1.0 - _SOUND), 0.0, 1.0)
    return 1.0 - left


def warm_up_need(temperature: Values) -> Values:
    """Fuel that a computer adds for a temperature of the coolant.

    Parameters
    ----------
    temperature : float or array, shape (n,) [C]

    Returns
    -------
    float or array, shape (n,) [-]
        Over the fuel of a warm engine, 1 and more.
    """
    return 1.0 + _NEED_PER_K * np.clip(_WARM_C - np.asarray(temperature), 0.0, 100.0)


def air_state(batch: Batch, said: Described, condition: Condition, speed: Values) -> AirState:
    """What is wrong, and what sound engines differ in, as the operating point takes it.

    Parameters
    ----------
    batch : Batch
    said : Described
    condition : Condition
    speed : float or array, shape (n,) [rpm]

    Returns
    -------
    AirState
        Areas and flows over the engine's size.
    """
    size = np.asarray(size_of(batch, said))
    banks = banks_of(batch.model.engine)

    def by_bank(variable: str, stem: str) -> Array:
        return np.stack([batch.column(variable, f"{stem}_{bank}") for bank in banks], axis=1)

    def lost(stem: str) -> Array:
        return np.stack([lost_area(batch, f"{stem}_{bank}") for bank in banks], axis=1)

    each = 1.0 / size[..., None] if size.ndim else 1.0 / size
    filling = filling_of(batch, said, speed)
    return AirState(
        leak_area_intake_duct=_leaks(batch, "intake_duct") / size,
        leak_area_charge_pipe=_leaks(batch, "charge_pipe", "charge_cooler") / size,
        leak_area_plenum=_leaks(batch, "plenum", "servo", "branch") / size,
        leak_area_crankcase=_leaks(batch, "crankcase") / size,
        leak_area_runner=_by_cylinder(batch, "leak_area", "runner") * each,
        leak_area_exhaust_front=np.maximum(by_bank("leak_area", "exhaust_front"), 0.0) * each,
        restriction_air_filter=lost_area(batch, "air_filter", "intake_duct", "charge_pipe", "plenum"),
        restriction_charge_cooler=lost_area(batch, "charge_cooler"),
        restriction_fuel_filter=np.minimum(lost_area(batch, "fuel_filter"), 0.999),
        restriction_exhaust_front=lost("exhaust_front"),
        restriction_catalyst=lost("catalyst"),
        restriction_tail=np.repeat(lost_area(batch, "tail")[:, None], len(banks), axis=1),
        **_valves(batch, said, size, condition),
        inflow_fuel_purge=np.clip(batch.column("inflow_fuel", "purge"), 0.0, 1.0),
        inflow_fuel_plenum=_gas_at_leaks(batch, "plenum", "servo", "branch"),
        inflow_fuel_runner=_excess(_by_cylinder(batch, "inflow_fuel", "runner")),
        turbo_efficiency=np.clip(batch.column("turbo_efficiency", "engine"), 0.0, 1.5),
        **_sensors(batch, size, condition),
        sensor_offset_o2_front=by_bank("sensor_offset", "o2_front"),
        injector_flow=_drawn(_injectors(batch, condition), filling, said),
        injector_leak=np.maximum(_by_cylinder(batch, "injector_leak", "cylinder"), 0.0) * each,
        lift_pump_flow=pump_flow(batch, condition),
        # The regulator in the tank holds its pressure above the tank's.
        regulator_error=batch.column("regulator_error", "regulator")
        - tank_vacuum(batch, condition) / _RATED_PA * 100.0,
        fuel_ethanol=np.clip(batch.column("fuel_ethanol", "fuel"), 0.0, 1.0),
        accessory_drag=(batch.column("accessory_drag", "engine") / size + _friction(batch, said, condition)),
        intake_early=cam_errors(batch, "intake", condition),
        exhaust_early=cam_errors(batch, "exhaust", condition),
        filling=filling,
        work=leak_work(batch, said, speed) * lit(batch, condition) * spark_work(batch, condition)[:, None],
    )


def _leaks(batch: Batch, *ducts: str) -> Array:
    return np.asarray(sum(np.maximum(batch.column("leak_area", duct), 0.0) for duct in ducts))


def _by_cylinder(batch: Batch, variable: str, stem: str) -> Array:
    return batch.table(variable, tuple(f"{stem}_{k}" for k in range(1, batch.model.engine.cylinders + 1)))


def _excess(fuel: Array) -> Array:
    return np.clip(fuel - _AMBIENT_FUEL, 0.0, 1.0)


def _gas_at_leaks(batch: Batch, *ducts: str) -> Array:
    """Fuel share of all that leaks into the plenum: gas held to one of several leaks."""
    areas = np.stack([np.maximum(batch.column("leak_area", duct), 0.0) for duct in ducts])
    shares = np.stack([_excess(batch.column("inflow_fuel", duct)) for duct in ducts])
    return np.asarray(np.sum(areas * shares, axis=0) / np.maximum(np.sum(areas, axis=0), 1e-9))


def _commanded(batch: Batch, name: str) -> Array:
    """From shut to open: beyond its ends no valve can be driven."""
    return np.asarray(np.clip(batch.column("command", name), 0.0, 1.0))


def _valves(batch: Batch, said: Described, size: Array, condition: Condition) -> dict[str, Array]:
    """Errors of the flow valves; a commanded or a pinched one is an error of what is asked for."""
    scale = said.litres / 2.0
    errors = {name: batch.column("area_error", name) / size for name in ("throttle", "purge", "pcv", "egr")}
    for name, area in COMMANDED_MM2.items():
        asked = _commanded(batch, name) * area * scale * (pulled(batch, name, condition.state) > 0.5)
        errors[name] = (errors[name] + asked) * (1.0 - lost_area(batch, name))
    purged = (
        _PURGED_MM2.get(str(condition.state), 0.0)
        * scale
        * np.where(pulled(batch, "purge", condition.state) > 0.5, 1.0, 0.0)
    )
    warm = np.clip((np.asarray(coolant_c(batch, condition)) - _PURGES_FROM_C) / (_PURGES_C - _PURGES_FROM_C), 0.0, 1.0)
    errors["purge"] = errors["purge"] + purged * warm * (1.0 - lost_area(batch, "purge"))
    # What cannot be drawn out of a tank without air, the purge valve does not pass.
    open_vent = 40.0 * scale * (1.0 - lost_area(batch, "tank_vent"))
    wanted = np.maximum(errors["purge"], 0.0)
    errors["purge"] = wanted * open_vent / np.maximum(np.hypot(wanted, open_vent), 1e-9)
    own = 2.5 * scale / HOLE  # geometric area of a sound ventilation valve, physics.airpath
    shut = lost_area(batch, "pcv")
    errors["pcv"] = errors["pcv"] * (1.0 - shut) - own * shut
    stale = batch.column("learnt_error", "throttle_zero") * _ZERO_MM2 * scale
    errors["throttle"] = errors["throttle"] + stale
    wastegate = batch.column("area_error", "wastegate") / size + 400.0 * scale * _commanded(batch, "wastegate")
    found = {f"area_error_{name}": value for name, value in errors.items()}
    return {**found, "area_error_wastegate": wastegate}


def reading_gain(batch: Batch, sensor: str, condition: Condition) -> Array:
    """Gain of a sensor with what its wires take: 0 where it measures nothing.

    Parameters
    ----------
    batch : Batch
    sensor : str
        "maf", "map" or "rail".
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    share, works = sensor_share(batch, sensor, condition.state)
    usual, _ = sensor_share(_sound(batch), sensor, condition.state)
    gain = np.clip(batch.column("sensor_gain", sensor), 0.0, 5.0) / np.maximum(usual, 0.1)
    return np.asarray(gain * share * np.where(works > 0.5, 1.0, 0.0) * np.where(alive(batch, sensor) > 0.5, 1.0, 0.0))


def _sensors(batch: Batch, size: Array, condition: Condition) -> dict[str, Array]:
    return {
        "sensor_gain_maf": reading_gain(batch, "maf", condition),
        "sensor_offset_maf": batch.column("sensor_offset", "maf") / size,
        "sensor_gain_map": reading_gain(batch, "map", condition),
        "sensor_offset_map": batch.column("sensor_offset", "map"),
        "sensor_offset_iat": np.clip(batch.column("sensor_offset", "iat"), -150.0, 400.0),
    }


def _injectors(batch: Batch, condition: Condition) -> Array:
    """Fuel of each injector over what is asked: own flow, enrichment for a temperature that is not there, vapour."""
    flow = np.clip(_by_cylinder(batch, "injector_flow", "cylinder"), 0.0, 5.0)
    numbers = range(1, batch.model.engine.cylinders + 1)
    sound = _sound(batch)
    # What a sound injector gives on the usual volts is what the computer was made for.
    opens = np.stack(
        [injected(batch, k, condition.state) / injected(sound, k, condition.state) for k in numbers], axis=1
    )
    true = np.asarray(coolant_c(batch, condition))
    shown = true + batch.column("sensor_offset", "ect")
    extra = warm_up_need(shown) / warm_up_need(true)
    cold = np.clip((50.0 - true) / 30.0, 0.0, 1.0)
    volatility = np.minimum(batch.column("fuel_volatility", "fuel") - 65.0, 0.0)
    vapour = 1.0 + _VAPOUR_PER_KPA * cold * volatility
    water = 1.0 - np.clip(batch.column("fuel_water", "fuel"), 0.0, 1.0)
    found: Array = flow * opens * (np.broadcast_to(extra * vapour * water, (batch.rows,)))[:, None]
    return found


def _drawn(flow: Array, filling: Array, said: Described) -> Array:
    """Fuel that each cylinder gets: what one does not draw out of its port in time ends up in those that breathe.

    Steady: what is injected leaves somewhere. Not where it is injected into the cylinder.
    """
    if said.direct:
        return flow
    draws = np.clip(filling / _DRAWS_IN, 0.0, 1.0)
    spare = np.sum(flow * (1.0 - draws), axis=1, keepdims=True)
    return np.asarray(flow * draws + spare * draws / np.maximum(np.sum(draws, axis=1, keepdims=True), 1e-9))


def tank_vacuum(batch: Batch, condition: Condition) -> Array:
    """Depression in the tank by what a condition draws from it.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [Pa]
        Over a sound vent's.
    """
    drawn = _DRAWN_KG_S.get(str(condition.state), 0.0004) * (_litres(batch) / 2.0)
    narrowed = tank_depression(drawn, restriction=lost_area(batch, "tank_vent"))
    return np.asarray(narrowed - tank_depression(drawn, restriction=0.0))


def _litres(batch: Batch) -> float:
    return float(batch.once("air:litres", lambda: described(batch.model.engine).litres))


def pump_flow(batch: Batch, condition: Condition) -> Array:
    """Lift pump's flow over its rated one: its own state, the volts it gets, vapour at its inlet.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    lost = tank_vacuum(batch, condition)
    boils = pump_in_vapour(lost, volatility=np.maximum(batch.column("fuel_volatility", "fuel"), 0.0), hot=_WARM_FUEL_K)
    flow = np.clip(batch.column("lift_pump_flow", "pump"), 0.0, 2.0) * np.asarray(boils)
    turns = np.clip(pump_turns(batch, condition.state), 0.0, 1.5)
    usual = np.maximum(pump_turns(_sound(batch), condition.state), 0.1)
    found: Array = np.maximum(flow * turns / usual, 1e-3)
    return found


def _sound(batch: Batch) -> Batch:
    """A sound engine of the kind with the usual numbers, one row."""
    return batch.once("air:healthy", lambda: Batch(batch.model, HEALTHY, {}, 1))


def _friction(batch: Batch, said: Described, condition: Condition) -> Array:
    """Friction of a cold engine above a warm one's, as a torque; N m of an engine of the described displacement."""
    cold = np.clip((80.0 - np.asarray(coolant_c(batch, condition))) / 60.0, 0.0, 1.6)
    return np.asarray(1000.0 * _COLD_DRAG_KPA * cold * 1e-3 * said.litres / _LITRES_PER_ROUND)
