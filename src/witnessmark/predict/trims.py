"""What the oxygen sensors and the trims show: mixture, how fast a sensor answers, what the catalyst still stores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import banks_of
from witnessmark.predict.air import Settled, blended
from witnessmark.predict.airplaces import banked, no_bank, of_bank, sound_air, spread_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.oxygensensor import oxygen_sensor
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS
from witnessmark.vocabulary import Query

__all__ = ["RULES", "gas_lambda"]

Array = NDArray[np.float64]

_ARRIVES = 0.10  # s from the injectors to the sensor at 2,500 rpm; our guess
_STORED = 2.0  # s that a sound catalyst holds the rear sensor up after a step; our guess
_DAMPING = 2.3  # a sound catalyst leaves e^-2.3, a tenth, of the front sensor's swing at the rear; our guess
_LEVELS_V = 0.75  # between a hot narrow-band sensor's rich and lean: 0.1 to 0.2 and 0.8 to 0.9 V, from memory
_SWING_HZ = 1.0  # of the mixture's swing about its target; from memory
_LEANEST = 2.0  # where sensors end
_OPEN_LOOP = (*STANDS, "cranking", "overrun")


def gas_lambda(found: Settled, batch: Batch) -> Array:
    """λ of the gas that passes the front sensors, air let in there included.

    Parameters
    ----------
    found : Settled
    batch : Batch

    Returns
    -------
    ndarray, shape (n, banks) [-]
    """
    offsets = np.stack([batch.column("sensor_offset", f"o2_front_{b}") for b in banks_of(batch.model.engine)], axis=1)
    return np.asarray(found.point.fuelling.lambda_reported - offsets)


def _trim(batch: Batch, query: Query) -> Values:
    """Short and long term together, held at their stops: there a value means "at least"."""
    columns = of_bank(batch.model, query)
    return blended(batch, query.condition, lambda found: banked(found.point.fuelling.trim, columns))


def _lambda(batch: Batch, query: Query) -> Values:
    sensor = oxygen_sensor(query)
    assert sensor is not None
    which, bank = sensor
    columns = of_bank(batch.model, query)
    gain = batch.column("sensor_gain", f"o2_{which}_{bank}")
    offset = batch.column("sensor_offset", f"o2_{which}_{bank}")

    def pick(found: Settled) -> Array:
        true = banked(np.minimum(gas_lambda(found, batch), _LEANEST), columns)
        return np.clip(1.0 + gain * (true - 1.0) + offset, 0.0, _LEANEST)

    return blended(batch, query.condition, pick)


def _response(batch: Batch, query: Query) -> Values:
    """Time to 63 % of a step of the mixture: the gas' way, the sensor's own lag, and what the catalyst holds back."""
    sensor = oxygen_sensor(query)
    assert sensor is not None
    which, bank = sensor
    lag = np.maximum(batch.column("sensor_lag", f"o2_{which}_{bank}"), 0.0)
    stored = _STORED * _storage(batch, bank) if which == "rear" else 0.0
    return _ARRIVES + lag + stored


def _storage(batch: Batch, bank: int) -> Array:
    return np.clip(batch.column("oxygen_storage", f"bank_{bank}"), 0.0, 1.5)


def _rear(batch: Batch, query: Query) -> Values:
    """Swing of the rear sensor over that of the front one."""
    banks = banks_of(batch.model.engine)
    chosen = [bank for bank in banks if query.place.get("bank") in (None, bank)]
    ratios = [_swing(batch, "rear", b) / np.maximum(_swing(batch, "front", b), 0.02) for b in chosen]
    damped = [ratio * np.exp(-_DAMPING * _storage(batch, b)) for ratio, b in zip(ratios, chosen, strict=True)]
    return np.asarray(np.clip(np.mean(damped, axis=0), 0.0, 3.0))


def _swing(batch: Batch, which: str, bank: int) -> Array:
    """What is left of a sensor's swing behind its own gain and lag: a first-order low pass."""
    sensor = f"o2_{which}_{bank}"
    lag = np.maximum(batch.column("sensor_lag", sensor), 0.0)
    return np.asarray(batch.column("sensor_gain", sensor) / np.sqrt(1.0 + np.square(2.0 * np.pi * _SWING_HZ * lag)))


def _volts(batch: Batch, query: Query) -> Values:
    """Swing of a narrow-band sensor: its two levels, what gain and lag leave of them, and at the rear the catalyst."""
    sensor = oxygen_sensor(query)
    assert sensor is not None
    which, bank = sensor
    left = _swing(batch, which, bank) * (np.exp(-_DAMPING * _storage(batch, bank)) if which == "rear" else 1.0)
    return np.clip(_LEVELS_V * left, 0.0, 1.2)


def _refuse_open(model: DriveModel, query: Query) -> str | None:
    if query.condition.state in _OPEN_LOOP:
        return "nothing trims while the engine stands, is cranked or gets no fuel"
    return no_bank(model, query)


def _refuse_unnamed(model: DriveModel, query: Query) -> str | None:
    if oxygen_sensor(query) is None and query.place.get("sensor") is None:
        return "nothing says which oxygen sensor: o2_front_1 or o2_rear_1 is expected"
    return no_bank(model, query)


def _refuse_no_gas(model: DriveModel, query: Query) -> str | None:
    if query.condition.state in _OPEN_LOOP:
        return "a sensor sees nothing burnt while the engine stands, is cranked or gets no fuel"
    return _refuse_unnamed(model, query)


_TRIMMED = sound_air("meter", "leaks", "valves", "fuel", "oxygen", "exhaust", "cams", "numbers")


def _trim_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found = [*_TRIMMED(model, query), *spread_of("inflow_fuel", ("purge",))]
    if query.condition.state == "full_load":
        found += spread_of("learnt_error", [f"fuel_trim:bank_{bank}" for bank in banks_of(model.engine)])
    return found


def _sensor_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    sensor = oxygen_sensor(query)
    assert sensor is not None
    which, bank = sensor
    own = f"o2_{which}_{bank}"
    found = [*spread_of("sensor_lag", (own,))]
    return found + (list(spread_of("oxygen_storage", (f"bank_{bank}",))) if which == "rear" else [])


def _swing_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    sensor = oxygen_sensor(query)
    assert sensor is not None
    own = f"o2_{sensor[0]}_{sensor[1]}"
    return [*_sensor_nuisances(model, query), *spread_of("sensor_gain", (own,))]


def _rear_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found: list[Nuisance] = []
    for bank in banks_of(model.engine):
        if query.place.get("bank") in (None, bank):
            sensors = (f"o2_front_{bank}", f"o2_rear_{bank}")
            found += spread_of("oxygen_storage", (f"bank_{bank}",))
            found += [*spread_of("sensor_lag", sensors), *spread_of("sensor_gain", sensors)]
    return found


def _lambda_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    """Inside the stops only the sensors differ; at full load all that trims would have taken up."""
    sensor = oxygen_sensor(query)
    assert sensor is not None
    own = f"o2_{sensor[0]}_{sensor[1]}"
    found = [*sound_air("oxygen")(model, query), *spread_of("sensor_offset", (own,)), *spread_of("sensor_gain", (own,))]
    if query.condition.state in ("full_load", "snap"):
        found += _trim_nuisances(model, replace(query, place=query.place.with_keys(sensor=None)))
    return found


# Tolerances: base fuelling that is not quite right, our guess; sensors' own spread is in their state.
RULES: Mapping[str, Rule] = {
    "fuel_trim": Rule(_trim, Tolerance(2.0), _refuse_open, _trim_nuisances),
    "lambda_reported": Rule(_lambda, Tolerance(0.004), _refuse_no_gas, _lambda_nuisances),
    "o2_response": Rule(_response, Tolerance(0.05, 0.2), _refuse_unnamed, _sensor_nuisances),
    "o2_swing": Rule(_volts, Tolerance(0.08, 0.1), _refuse_no_gas, _swing_nuisances),
    "rear_activity": Rule(_rear, Tolerance(0.06), no_bank, _rear_nuisances),
}
