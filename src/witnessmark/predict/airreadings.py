"""What computers and gauges read of an engine's air: flow, load, pressures, speed; and whether it stalls or pulls."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State
from witnessmark.physics.leanburn import unfired_share
from witnessmark.predict.air import RUNNING, Settled, ambient, blended, described_of, idle_reach, settled, speed_of
from witnessmark.predict.airdescribed import described, open_numbers
from witnessmark.predict.airedits import reading_gain
from witnessmark.predict.airplaces import banked, no_bank, of_bank, sound_air, spread_of
from witnessmark.predict.asking import answer
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import command_of
from witnessmark.predict.cylinderair import sees_crank
from witnessmark.predict.logistic import expit
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.oxygensensor import oxygen_sensor
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES"]

Array = NDArray[np.float64]

_MOVED_DEG = 5.0  # spread of a command from which a phaser may stand anywhere
_SNAP_SECONDS = 0.5  # from opening the throttle to the reading; our guess
_STALL_AT, _STALL_BLUR = 0.7, 0.06  # share of the speed wanted; our guess
_UNFIRED_AT, _UNFIRED_BLUR = 0.5, 0.08
_RESERVE_AT, _RESERVE_BLUR, _UNCAUGHT = 0.06, 0.03, 0.6
"""Share of its opening that idle control needs in hand to catch a speed that falls; our guess, and the chance to stall
without: that an engine whose control is near its end stalls when the throttle shuts is common practice, no source."""
_CERTAIN, _NEVER = 0.97, 0.005
_GRADE_AT = 0.22  # loss of power that a driver puts at two thirds of the scale; our guess
_PULLS = (Condition("full_load", speed_rpm=2500.0), Condition("full_load", speed_rpm=5000.0))


def _standing(condition: Condition) -> bool:
    return condition.state in STANDS


def _load(batch: Batch, query: Query) -> Values:
    return blended(batch, query.condition, lambda found: found.point.absolute_load)


def _airflow(batch: Batch, query: Query) -> Values:
    """With the engine standing a meter shows its offset, a computer that reckons from pressure nothing."""
    if _standing(query.condition):
        share = blended(batch, Condition("idle"), _has_meter, ask=False)
        return share * np.maximum(batch.column("sensor_offset", "maf"), 0.0)
    return blended(batch, query.condition, lambda found: 1000.0 * found.point.airflow_reported * found.size)


def _has_meter(found: Settled) -> Array:
    return np.full(found.size.shape, 1.0 if found.path.metering == "air_meter" else 0.0)


def _map(batch: Batch, query: Query) -> Values:
    gain, offset = reading_gain(batch, "map", query.condition), batch.column("sensor_offset", "map")
    if _standing(query.condition):
        return np.maximum(gain * ambient(batch) / 1000.0 + offset, 0.0)
    shown = blended(batch, query.condition, lambda found: found.point.map_reported / 1000.0)
    if query.condition.state != "snap":
        return shown
    before = blended(batch, Condition("idle"), lambda found: found.point.map_reported / 1000.0)
    lag = np.maximum(batch.column("sensor_lag", "map"), 1e-3)
    return shown + (before - shown) * np.exp(-_SNAP_SECONDS / lag)


def _vacuum(batch: Batch, query: Query) -> Values:
    if _standing(query.condition):
        return np.zeros(batch.rows)
    return blended(batch, query.condition, lambda found: (found.ambient - found.point.plenum_pressure) / 1000.0)


def _speed(batch: Batch, query: Query) -> Values:
    if _standing(query.condition):
        return np.zeros(batch.rows)
    if query.condition.state == "cranking":
        return np.where(sees_crank(batch) > 0.5, _cranking_speed(batch, query), 0.0)
    return blended(batch, query.condition, lambda found: found.point.speed_rpm, governed=True)


def _cranking_speed(batch: Batch, query: Query) -> Values:
    """By the rule of the starter where there is one, else the usual speed."""
    told = answer(batch, replace(query, quantity="cranking_speed"))
    return speed_of(batch, query.condition) if told is None else told


def _idle_air(batch: Batch, query: Query) -> Values:
    idle = query.condition if query.condition.state else replace(query.condition, state="idle")
    return blended(batch, idle, lambda found: found.point.idle_air_demand)


def _charger(pick: Callable[[Settled], Array]) -> Callable[[Batch, Query], Values]:
    """A reading of a charger: who takes one, has one."""

    def read(batch: Batch, query: Query) -> Values:
        condition = query.condition if query.condition.state else replace(query.condition, state="full_load")
        if _standing(condition):
            return np.zeros(batch.rows)
        metering = described_of(batch).metering or "air_meter"
        found = settled(batch, condition, metering, boosted=True)
        return np.where(found.runs > 0.5, pick(found) / 1000.0, np.nan)

    return read


def _back_pressure(batch: Batch, query: Query) -> Values:
    sensor = oxygen_sensor(query)
    assert sensor is not None
    columns = of_bank(batch.model, query)

    def pick(found: Settled) -> Array:
        front, rear = found.point.front_sensor_pressure, found.point.rear_sensor_pressure
        return banked(front if sensor[0] == "front" else rear, columns) / 1000.0

    return blended(batch, query.condition, pick)


def _stalls(batch: Batch, query: Query) -> Values:
    """Chance that idle is not kept up: too slow, cylinders that do not fire, or a control that has nothing in hand."""
    condition = replace(query.condition, state="warm_up" if query.condition.state == "warm_up" else "idle")
    wanted = np.asarray(speed_of(batch, condition, wanted=True))
    reach = idle_reach(batch, condition)

    def chance(found: Settled) -> Array:
        slow = expit((_STALL_AT - found.point.speed_rpm / wanted) / _STALL_BLUR)
        unfired = np.mean(np.asarray(unfired_share(found.point.fuelling.lambda_cylinder)), axis=1)
        dead = np.where(found.runs < 0.5, 1.0, 0.0)
        in_hand = reach - found.point.idle_air_demand / 100.0
        uncaught = _UNCAUGHT * expit((_RESERVE_AT - in_hand) / _RESERVE_BLUR)
        return np.asarray(np.max([slow, expit((unfired - _UNFIRED_AT) / _UNFIRED_BLUR), uncaught, dead], axis=0))

    found = blended(batch, condition, chance, governed=True, ask=False)
    return _NEVER + (_CERTAIN - _NEVER) * found


def _lacks_power(batch: Batch, query: Query) -> Values:
    """Loss of torque at full load, low or high in speed, whichever is worse, as a driver grades it: 0 none, 3 hardly
    moves; against a sound engine with the same usual numbers, so that what a description leaves open cancels.
    """
    lost = np.zeros(batch.rows)
    usual = batch.once("air:usual", lambda: _and_a_sound_one(batch))
    for condition in _PULLS:
        for boosted in _boosts(batch):
            metering = described_of(batch).metering or "air_meter"
            found = settled(usual, condition, metering, boosted=boosted)
            torque = np.where(found.runs > 0.5, found.point.load, 0.0)
            lost = np.maximum(lost, 1.0 - np.clip(torque[:-1] / torque[-1], 0.0, 1.0))
    return np.asarray(3.0 * -np.expm1(-lost / _GRADE_AT * np.log(3.0)))


def _and_a_sound_one(batch: Batch) -> Batch:
    """The states with the usual numbers, and behind them a sound engine: one more row costs less than one more run."""
    edits = {
        (variable, place): np.append(batch.column(variable, place), HEALTHY.get(variable, place))
        for variable, place in batch.state.edits
    }
    return Batch(batch.model, State(edits), {}, batch.rows + 1)


def _boosts(batch: Batch) -> tuple[bool, ...]:
    return (bool(described_of(batch).boosted),)


def _refuse_standing(model: DriveModel, query: Query) -> str | None:
    return "there is no such reading while the engine stands" if _standing(query.condition) else None


def _refuse_but_idle(model: DriveModel, query: Query) -> str | None:
    if query.condition.state not in (None, "idle", "warm_up"):
        return "idle control sets this at idle only; elsewhere the pedal does"
    return None


def _refuse_uncharged(model: DriveModel, query: Query) -> str | None:
    return "this engine has no charger" if described(model.engine).boosted is False else None


def _refuse_no_port(model: DriveModel, query: Query) -> str | None:
    return no_bank(model, query) or _refuse_standing(model, query)


def _refuse_pedal(model: DriveModel, query: Query) -> str | None:
    if query.condition.state in RUNNING and query.condition.state not in ("idle", "warm_up", "cranking"):
        return "the driver sets this speed, so it tells nothing of the engine"
    return None


def _map_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    own = [*spread_of("sensor_gain", ("map",)), *spread_of("sensor_offset", ("map",))]
    return [*own, *_PLENUM(model, query), *open_numbers(model, ("air:ambient_kpa",))]


_AIR = ("meter", "leaks", "valves", "inlet", "exhaust", "drag", "cams", "rings", "numbers")
_GAS = ("leaks", "valves", "inlet", "exhaust", "drag", "cams", "rings", "numbers")
_AIRFLOW = sound_air(*_AIR)
_PLENUM = sound_air(*_GAS)


def _but_standing(absolute: float, share: float, standing: float) -> Callable[[DriveModel, Query], Tolerance]:
    """Tolerance of a reading that with the engine standing is no prediction but the weather, or nothing."""
    return lambda model, query: Tolerance(standing) if _standing(query.condition) else Tolerance(absolute, share)


def _of_plenum(model: DriveModel, query: Query) -> Tolerance:
    """Of its pressure; where phasers may stand anywhere, two of them together make more than the sum of the two."""
    if _standing(query.condition):
        return Tolerance(0.3)
    free = [command_of(model, cam.id, query.condition)[1] > _MOVED_DEG for cam in model.engine.cams]
    return Tolerance(1.0, 0.03) if sum(free) < 2 else Tolerance(5.0, 0.03)


# Tolerances beyond what the nuisances carry (waves, shape of the filling over speed, an exhaust nobody described): our
# guess, to be replaced by baselines.
RULES: Mapping[str, Rule] = {
    "absolute_load": Rule(_load, Tolerance(1.0, 0.06), _refuse_standing, _AIRFLOW),
    "airflow_reported": Rule(_airflow, _but_standing(0.15, 0.08, 0.05), nuisances=_AIRFLOW),
    "map_reported": Rule(_map, _of_plenum, nuisances=_map_nuisances),
    "engine_speed": Rule(_speed, Tolerance(20.0), _refuse_pedal, sound_air("valves", "leaks", "drag", "numbers")),
    "idle_air_demand": Rule(_idle_air, Tolerance(4.0), _refuse_but_idle, sound_air(*_GAS, keys=("air:idle_area",))),
    "manifold_vacuum": Rule(_vacuum, _of_plenum, nuisances=_PLENUM),
    "boost_pressure": Rule(
        _charger(lambda found: found.point.boost_pressure),
        Tolerance(3.0, 0.08),
        _refuse_uncharged,
        sound_air("inlet", "exhaust", "cams", "numbers", keys=("air:boost_kpa", "speed:full_load")),
    ),
    "cooler_drop": Rule(
        _charger(lambda found: found.point.cooler_drop),
        Tolerance(1.0, 0.5),
        _refuse_uncharged,
        sound_air("inlet", "exhaust", "cams", "numbers", keys=("air:boost_kpa", "speed:full_load")),
    ),
    "exhaust_back_pressure": Rule(
        _back_pressure, Tolerance(0.3, 0.4), _refuse_no_port, sound_air("exhaust", "drag", "cams", "numbers")
    ),
    "stalls": Rule(_stalls, Tolerance(0.03), nuisances=sound_air("valves", "leaks", "drag", keys=("air:idle_area",))),
    "lacks_power": Rule(
        _lacks_power, Tolerance(0.3), nuisances=sound_air("inlet", "exhaust", "drag", "cams", "rings", "pull")
    ),
}
