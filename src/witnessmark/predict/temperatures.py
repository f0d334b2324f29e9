"""Temperatures as the computer takes them from its thermistors."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.sensorcircuit import SignalInput, Thermistor, pin_volts, thermistor_ohm, thermistor_reading
from witnessmark.physics.warmup import CoolingSystem
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS, ambient_c, coolant_c, own_warmth, weather
from witnessmark.predict.supplies import RUNNING
from witnessmark.predict.wires import behind, named
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

_WARM = ("ect", "iat")
_OVER_THERMOSTAT = 3.0  # kelvin by which a warm engine stands above its thermostat; our guess
# Thermostats that open at 82 to 105 °C are all sold: 6.6 K if evenly, of which 4 K are in the state. Common practice,
# no source.
_RATING_KEY, _RATINGS_K = "heat:thermostat_rating", 5.0
_COLD = (*STANDS, "cranking")
_STANDING = ("idle", "raised")
_STILL = 0.05  # of a radiator's conductance without any air drawn through it, the car standing; our guess
_IDLE_W = 4500.0  # heat of a two-litre engine at idle, 3 to 5 kW: common practice, no source (predict.warming)
_AROUND_K = 12.0  # by which the air that a standing car breathes is warmer than the weather; our guess
# Standing, a sound engine's coolant climbs until its fan comes on, at 95 to 105 °C: common practice, no source; sizes
# our guess. What drives out in the open is held by the thermostat alone.
_FAN_ON_KEY, _FAN_ON_K, _FAN_ON_SD, _NO_FAN_C = "heat:fan_on", 2.0, 4.0, 75.0
# Air is warmed on its way through a hot engine bay, more the less of it flows; our guess.
_UNDER_HOOD_KEY, _UNDER_HOOD_K, _UNDER_HOOD_SD, _BY_FLOW_K = "heat:under_hood", 12.0, 8.0, 4.0
_STOOD_KEY, _STOOD, _STOOD_SD = "heat:stood", 0.8, 0.2  # of the way there, when somebody reads it; our guess
_BOILS_C = 121.0  # of half water under a usual cap; from memory


def _temperature(batch: Batch, query: Query) -> Values:
    """What the computer makes of the thermistor: its own error, and whatever its wires add."""
    name = str(query.place.get("sensor"))
    swapped = np.clip(batch.column("circuit_map", name), 0.0, 1.0)
    other = _WARM[1 - _WARM.index(name)]
    celsius = (1.0 - swapped) * _true_c(batch, query, name) + swapped * _true_c(batch, query, other)
    celsius = celsius + batch.column("sensor_offset", name)
    graph = supply_of(batch.model.engine)
    names = [one for one in behind(graph, name) if one == name or graph.node(one).kind in ("pin", "wire", "splice")]
    back = graph.node(name).ground if graph.has(name) else None
    if back is not None and graph.has(back) and graph.node(back).kind == "ground":  # the sensors' own, not the engine's
        names.append(back)
    way = sum((np.maximum(batch.column("resistance", one) - healthy_of("resistance", one)[0], 0.0) for one in names),
              np.zeros(batch.rows))  # fmt: skip
    to_ground = sum((batch.column("shorting", one) for one in (name, f"{name}:ground")), np.zeros(batch.rows))
    others = [p for v, p in batch.state.edits if v == "shorting" and p.startswith(f"{name}:") and p != f"{name}:ground"]
    up = sum((batch.column("shorting", place) for place in others), np.zeros(batch.rows))
    part = Thermistor()
    held = np.clip(celsius, -60.0, 200.0)
    short = np.divide(5.0 * up, to_ground + up, out=np.zeros(batch.rows), where=to_ground + up > 0.0)
    volts = pin_volts(0.0, thermistor_ohm(held, part), SignalInput(), wire_ohm=way, shorting=to_ground + up,
                      short_volts=short)  # fmt: skip
    return np.where((way > 0.0) | (to_ground + up > 0.0), thermistor_reading(volts, SignalInput(), part), held)


def _true_c(batch: Batch, query: Query, name: str) -> Values:
    condition, state = query.condition, query.condition.state
    if name == "iat":
        warmed = batch.number(_UNDER_HOOD_KEY, _UNDER_HOOD_K) if state in RUNNING else 0.0
        return np.asarray(ambient_c(batch)) + warmed
    if condition.coolant_c is not None or state in (*_COLD, "warm_up"):
        return np.asarray(coolant_c(batch, condition))
    held = np.asarray(coolant_c(batch, condition)) + _OVER_THERMOSTAT + batch.number(_RATING_KEY, 0.0)
    rising = np.clip(batch.number(_STOOD_KEY, _STOOD), 0.0, 1.0) * np.maximum(_standing_c(batch) - held, 0.0)
    warm = np.clip((held - _NO_FAN_C) / 10.0, 0.0, 1.0)  # what its thermostat keeps cool never calls for the fan
    standing = held + np.maximum(batch.number(_FAN_ON_KEY, _FAN_ON_K) * warm, rising)
    return standing if state in _STANDING else held


def _standing_c(batch: Batch) -> Values:
    """Where the heat of an idling engine goes out as it comes in, by radiator, block and sump, thermostat wide open."""
    part = CoolingSystem()
    air = _STILL + (1.0 - _STILL) * np.maximum(batch.column("fan_flow", "engine"), 0.0)
    out = part.coolant_loss + part.oil_loss + part.radiator * air
    return np.asarray(np.minimum(ambient_c(batch) + _AROUND_K + _IDLE_W / out, _BOILS_C))


def _sound_warmth(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    name, state = str(query.place.get("sensor")), query.condition.state
    yield Nuisance("sensor_offset", name, *healthy_of("sensor_offset", name))
    if name == "iat":
        yield weather()
        if state in RUNNING:
            yield Nuisance(_UNDER_HOOD_KEY, "", _UNDER_HOOD_K, _UNDER_HOOD_SD)
    elif state in (*_COLD, "warm_up"):
        yield from own_warmth(query.condition)
    elif query.condition.coolant_c is None:
        yield Nuisance("thermostat_temp", "engine", *healthy_of("thermostat_temp", "engine"))
        yield Nuisance(_RATING_KEY, "", 0.0, _RATINGS_K)
        if state in _STANDING:
            yield Nuisance("fan_flow", "engine", *healthy_of("fan_flow", "engine"))
            yield Nuisance(_STOOD_KEY, "", _STOOD, _STOOD_SD)
            yield Nuisance(_FAN_ON_KEY, "", _FAN_ON_K, _FAN_ON_SD)
            yield weather()


def _nominal(model: DriveModel, query: Query) -> Tolerance:
    drawn_in = query.place.get("sensor") == "iat" and query.condition.state in RUNNING
    return Tolerance(_BY_FLOW_K if drawn_in else 1.5)


# Tolerance beyond these: our guess.
RULES: Mapping[str, Rule] = {
    "temperature_reported": Rule(_temperature, _nominal, named("sensor", lambda model, graph: _WARM), _sound_warmth),
}
