"""What gauges, computers and samples show of the fuel: pressures, delivery, how pressure is held, ethanol."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.fuelsupply import FuelSupply, pump_delivery, supply_pressure
from witnessmark.physics.injector import injector_scale
from witnessmark.physics.stoichiometry import GASOLINE
from witnessmark.predict.air import Settled, blended
from witnessmark.predict.airdescribed import OPEN, described, open_numbers, size_of
from witnessmark.predict.airedits import lost_area, pump_flow, reading_gain
from witnessmark.predict.airplaces import sound_air, spread_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.feeds import alive
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES"]

Array = NDArray[np.float64]

_RATED = FuelSupply().set_pressure  # what physics' operating point holds; readings are scaled to the described one
_RAIL_MG_PER_KPA = 2.0  # fuel that a rail gives up for each kPa; our guess
_IDLE_EFFORT = 12.0  # % of a high-pressure pump's delivery at warm idle; our guess
_FULL_EFFORT = 60.0  # % at full load; our guess
_LOW_STARVED = 0.5  # share of the low pressure below which a high-pressure pump fails to fill; our guess
_PINCHED = 0.98


def _number(batch: Batch, key: str) -> Array:
    return np.broadcast_to(np.asarray(batch.number(key, OPEN[key][0]), dtype=np.float64), (batch.rows,))


def _low_pressure(batch: Batch, condition: Condition) -> Array:
    """Gauge pressure in the low-pressure rail, kPa."""
    scale = _number(batch, "fuel:set_kpa") / (_RATED / 1000.0)
    if condition.state == "off":
        return np.zeros(batch.rows)
    if condition.state in ("key_on", "cranking"):
        return _primed(batch, condition) * scale
    piped = np.clip(_number(batch, "fuel:follows_plenum"), 0.0, 1.0)

    def pick(found: Settled) -> Array:
        vacuum = (found.ambient - found.point.plenum_pressure) / 1000.0
        return np.maximum(found.point.fuelling.rail_pressure / 1000.0 * scale - piped * vacuum, 0.0)

    return blended(batch, condition, pick, ask=False)


def _primed(batch: Batch, condition: Condition) -> Array:
    """With hardly any fuel taken: the regulator's pressure, or what pump and filter reach."""
    pressure = supply_pressure(
        FuelSupply(),
        1e-4,
        pump=np.maximum(pump_flow(batch, condition), 1e-3),
        filter_restriction=np.minimum(lost_area(batch, "fuel_filter"), 0.999),
        regulator_error=batch.column("regulator_error", "regulator"),
    )
    return np.asarray(pressure) / 1000.0


def _pressure(batch: Batch, query: Query) -> Values:
    return _low_pressure(batch, query.condition)


def _delivery(batch: Batch, query: Query) -> Values:
    """Into a measuring glass against the rated pressure; what a narrowed filter lets through is found by its drop."""
    supply = FuelSupply()
    pump = np.maximum(pump_flow(batch, replace(query.condition, state="full_load")), 1e-3)
    free = np.asarray(pump_delivery(supply, _RATED, pump=pump))
    # Pump and filter in a row against the rated pressure: p_pump(m) - drop (m/m0)²/(1-r)² = p, a quadratic.
    stall, most = supply.pump_stall * np.sqrt(pump), supply.pump_flow * pump
    a = supply.filter_drop / np.square(supply.pump_flow * (1.0 - np.minimum(lost_area(batch, "fuel_filter"), 0.999)))
    b, c = stall / most, np.maximum(stall - _RATED, 0.0)
    flow = 2.0 * c / (b + np.sqrt(b * b + 4.0 * a * c))
    rated = _number(batch, "fuel:pump")
    litres = described(batch.model.engine).litres * np.asarray(size_of(batch, described(batch.model.engine)))
    return np.asarray(np.minimum(flow, free) / GASOLINE.density * 1e6 * rated * litres / 2.0)


def _drop_rate(batch: Batch, query: Query) -> Values:
    """Pump standing: what goes back past valve and regulator, and what drips out of injectors; a hose pinched between
    tank and rail stops the first and not the second.
    """
    backwards = np.maximum(batch.column("rail_bleed", "rail"), 0.0)
    pinched = lost_area(batch, "fuel_filter") > _PINCHED
    drips = [
        np.maximum(batch.column("injector_leak", f"cylinder_{k}"), 0.0)
        for k in range(1, batch.model.engine.cylinders + 1)
    ]
    dripping = 60.0 * np.asarray(sum(drips)) / _RAIL_MG_PER_KPA
    return np.where(pinched, 0.0, backwards) + dripping


def _balance(batch: Batch, query: Query) -> Values:
    """Drop of the rail by equal pulses of one injector: in proportion to what it lets through at the pressure there."""
    k = query.place.get("cylinder")
    flow = np.clip(batch.column("injector_flow", f"cylinder_{k}"), 0.0, 5.0)
    start = 1.0 + batch.column("regulator_error", "regulator") / 100.0
    drop = _number(batch, "fuel:balance_kpa") * np.asarray(injector_scale(np.maximum(start, 0.0), 1.0))
    return np.asarray(flow * drop * np.minimum(alive(batch, f"injector_{k}"), 1.0))


def _high_share(batch: Batch) -> Array:
    said = described(batch.model.engine).direct
    return np.clip(_number(batch, "fuel:direct"), 0.0, 1.0) if said is None else np.full(batch.rows, float(said))


def _loaded(condition: Condition) -> float:
    """Between idle and full load, by which a high-pressure rail's target rises; our guess."""
    return {"cruise": 0.4, "acceleration": 0.8, "full_load": 1.0, "snap": 0.8}.get(str(condition.state), 0.0)


def _high_target(batch: Batch, condition: Condition) -> Array:
    low, high = _number(batch, "fuel:high_idle_kpa"), _number(batch, "fuel:high_load_kpa")
    return np.asarray(low + _loaded(condition) * (high - low))


def _capacity(batch: Batch, condition: Condition) -> Array:
    """Delivery of the high-pressure pump over a sound one's: its own state, and whether it is fed."""
    own = np.clip(batch.column("high_pump_flow", "high_pump"), 0.0, 2.0) / 0.9
    fed = _low_pressure(batch, condition) / np.maximum(_number(batch, "fuel:set_kpa"), 1.0)
    return np.asarray(own * np.clip(np.nan_to_num(fed) / _LOW_STARVED, 0.0, 1.0))


def _wanted_effort(batch: Batch, condition: Condition) -> Array:
    """Share of its sound delivery that the pump needs to hold the pressure, %; leaking valves and injectors add."""
    drips = [batch.column("injector_leak", f"cylinder_{k}") for k in range(1, batch.model.engine.cylinders + 1)]
    more = 0.05 * np.asarray(sum(drips)) + 0.05 * np.maximum(batch.column("rail_bleed", "rail") - 3.0, 0.0)
    base = _IDLE_EFFORT + _loaded(condition) * (_FULL_EFFORT - _IDLE_EFFORT)
    return base + more / (1.0 + 4.0 * _loaded(condition))


def _rail(batch: Batch, query: Query) -> Values:
    """By the rail's own sensor: of a high-pressure rail what is held while the pump can, whatever the sensor's error;
    of a low-pressure one the true pressure through it.
    """
    condition = query.condition
    gain, offset = reading_gain(batch, "rail", condition), batch.column("sensor_offset", "rail")
    low = _low_pressure(batch, condition)
    share = _high_share(batch)
    plain = gain * low + offset
    if condition.state in ("off", "key_on"):
        return plain
    needed = _wanted_effort(batch, condition) / 100.0 / np.maximum(gain, 0.05)
    reached = np.clip(_capacity(batch, condition) / np.maximum(needed, 1e-3), 0.0, 1.0)
    target = _high_target(batch, condition)
    held = np.where(gain < 0.05, gain * target, reached * target) + np.where(reached < 1.0, offset, 0.0)
    return np.asarray((1.0 - share) * plain + share * np.maximum(held, gain * low))


def _effort(batch: Batch, query: Query) -> Values:
    """Effort of whatever holds the rail: of a high-pressure pump its valve, of a low-pressure one its drive."""
    condition, share = query.condition, _high_share(batch)
    gain = np.maximum(batch.column("sensor_gain", "rail"), 0.05)
    high = _wanted_effort(batch, condition) / gain / np.maximum(_capacity(batch, condition), 0.02)
    # Share of what the lift pump could deliver; a controlled pump idles at a third of its drive (our guess).
    low = 30.0 + 100.0 * 0.3 * _loaded(condition) + 25.0 * (1.0 / np.maximum(pump_flow(batch, condition), 0.05) - 1.0)
    return np.clip((1.0 - share) * low + share * high, 0.0, 100.0)


def _ethanol(batch: Batch, query: Query) -> Values:
    """Shaken out with water: what water was in the fuel already comes along."""
    found = batch.column("fuel_ethanol", "fuel") + batch.column("fuel_water", "fuel")
    return 100.0 * np.clip(found, 0.0, 1.0)


def _refuse_high(model: DriveModel, query: Query) -> str | None:
    return None if query.condition.state != "overrun" else "a rail that gives no fuel tells nothing of its pump"


def _refuse_cylinder(model: DriveModel, query: Query) -> str | None:
    number = int(query.place.get("cylinder") or 0)
    has = model.engine.cylinders
    return None if 1 <= number <= has else f"cylinder {number}: this engine has {has}"


_GAUGE = ("fuel:set_kpa", "fuel:follows_plenum")


def _pressure_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found = [*spread_of("regulator_error", ("regulator",)), *open_numbers(model, ("fuel:set_kpa",))]
    if query.condition.state not in ("off", "key_on", "cranking"):
        found += [*open_numbers(model, _GAUGE[1:]), *sound_air("drag", "cams", "numbers")(model, query)]
    return found


def _rail_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    keys = ("fuel:direct", "fuel:high_idle_kpa", "fuel:high_load_kpa", "fuel:set_kpa", "fuel:follows_plenum")
    found = [*open_numbers(model, keys), *spread_of("high_pump_flow", ("high_pump",))]
    return [*found, *spread_of("sensor_gain", ("rail",)), *spread_of("regulator_error", ("regulator",))]


def _delivery_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found = [*spread_of("lift_pump_flow", ("pump",)), *spread_of("restriction", ("fuel_filter",))]
    return [*found, *open_numbers(model, ("fuel:pump", "air:displacement_l"))]


def _drop_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    cylinders = [f"cylinder_{k}" for k in range(1, model.engine.cylinders + 1)]
    return [*spread_of("rail_bleed", ("rail",)), *spread_of("injector_leak", cylinders)]


def _balance_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    own = f"cylinder_{query.place.get('cylinder')}"
    found = [*spread_of("injector_flow", (own,)), *spread_of("regulator_error", ("regulator",))]
    return [*found, *open_numbers(model, ("fuel:balance_kpa",))]


def _effort_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found = [*open_numbers(model, ("fuel:direct",)), *spread_of("high_pump_flow", ("high_pump",))]
    return [*found, *spread_of("lift_pump_flow", ("pump",)), *spread_of("rail_bleed", ("rail",))]


# Tolerances: our guess.
RULES: Mapping[str, Rule] = {
    "fuel_pressure": Rule(_pressure, Tolerance(5.0), nuisances=_pressure_nuisances),
    "fuel_delivery": Rule(_delivery, Tolerance(1.0, 0.1), nuisances=_delivery_nuisances),
    "fuel_drop_rate": Rule(_drop_rate, Tolerance(2.0), nuisances=_drop_nuisances),
    "injector_balance": Rule(_balance, Tolerance(0.5), _refuse_cylinder, _balance_nuisances),
    "rail_reported": Rule(_rail, Tolerance(10.0, 0.02), _refuse_high, _rail_nuisances),
    "rail_effort": Rule(_effort, Tolerance(6.0), _refuse_high, _effort_nuisances),
    "ethanol_measured": Rule(
        _ethanol, Tolerance(1.0), nuisances=lambda model, query: spread_of("fuel_ethanol", ("fuel",))
    ),
}
