"""How an engine warms up (docs/physics.md, "warming up"): how long it takes, how far it gets for the heat it is given.

Read from tables of whole warm-ups, which come with the program (:mod:`witnessmark.predict.shipped`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics import warmup
from witnessmark.physics.warmup import CoolingSystem, Thermostat, time_to_reach, warm_up
from witnessmark.predict.airdescribed import described
from witnessmark.predict.batch import Batch
from witnessmark.predict.grid import between
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.oil import coolant_missing
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import ambient_c, weather
from witnessmark.predict.shelf import digest_of_files, keep, kept
from witnessmark.vocabulary import Query

__all__ = ["RULES", "made_anew", "table_name"]

_WATCHED_MIN = 60.0
_TO_C = 80.0
_JUDGED_C = 75.0  # where a rise is judged: a sound thermostat is still shut
# Mean heat into a two-litre engine in watt, mean and spread: idling 3 to 5 kW, on the road 10 to 20 kW (common
# practice, no source); a test that runs it warm stands and is held at speed now and then.
_HEAT = {"idle": (4500.0, 700.0), "raised": (8000.0, 1200.0), "cruise": (14000.0, 3000.0)}
_RUN_WARM = (9000.0, 2500.0)
_COOLANT_J = 3600.0  # of a litre and kelvin, half water
_LITRES = 2.0

_OPENS = np.array([20.0, 35.0, 45.0, 55.0, 62.0, 67.0, 72.0, 76.0, 80.0, 85.0, 110.0])
_POWERS = np.array([2000.0, 3000.0, 4500.0, 6500.0, 9000.0, 13000.0, 20000.0, 30000.0])
_AIRS = np.array([-40.0, -20.0, 0.0, 20.0, 40.0, 60.0])
_SHAPE = (len(_OPENS), len(_POWERS), len(_AIRS))


@cache
def _tables() -> Mapping[str, NDArray[np.float64]]:
    found = kept(table_name())
    if found is None or {name: table.shape for name, table in found.items()} != dict.fromkeys(
        ("rates", "rises"), _SHAPE
    ):
        found = made_anew()
        keep(table_name(), found)
    return found


def table_name() -> str:
    """What the tables are kept under: another name after a change of the code that makes them.

    Returns
    -------
    str
    """
    return f"warming-{digest_of_files(Path(__file__), Path(warmup.__file__))}"


def made_anew() -> dict[str, NDArray[np.float64]]:
    """The tables worked out, whatever is kept.

    Returns
    -------
    dict of str to ndarray, shape (opens, powers, airs)
        "rates" [1/min] and "rises" [-].
    """
    return {"rates": _rates(), "rises": _rises()}


def _rates() -> NDArray[np.float64]:
    """One over the minutes to 80 °C by opening temperature, heat and outside air; 0 where it does not get there."""
    opens, power, air = np.meshgrid(_OPENS, _POWERS, _AIRS, indexing="ij")
    course = warm_up(
        power.ravel(),
        CoolingSystem(),
        Thermostat(opens.ravel()),
        ambient_c=air.ravel(),
        seconds=60.0 * _WATCHED_MIN,
    )
    minutes = time_to_reach(course, _TO_C) / 60.0
    return np.asarray(1.0 / minutes).reshape(opens.shape)


def _rises() -> NDArray[np.float64]:
    """Coolant's rise over a sound engine's when that one passes 75 °C, by the same three."""
    opens, power, air = np.meshgrid(_OPENS, _POWERS, _AIRS, indexing="ij")
    runs = [
        warm_up(power.ravel(), CoolingSystem(), Thermostat(at), ambient_c=air.ravel(), seconds=60.0 * _WATCHED_MIN)
        for at in (opens.ravel(), 200.0)
    ]
    own, sound = (run.coolant_c for run in runs)
    k = np.where((sound >= _JUDGED_C).any(axis=0), (sound >= _JUDGED_C).argmax(axis=0), len(sound) - 1)
    column = np.arange(own.shape[1])
    start = air.ravel()
    return np.asarray((own[k, column] - start) / (sound[k, column] - start)).reshape(opens.shape)


def _rise(batch: Batch, query: Query) -> Values:
    """Over what the heat would do to a sound engine: less of it with a thermostat that opens early or never shuts."""
    heat = batch.number("heat:power_w", _heat(query)[0]) * np.ones(batch.rows)
    opens = batch.column("thermostat_temp", "engine")
    share = between((_OPENS, _POWERS, _AIRS), _tables()["rises"], (opens, heat, ambient_c(batch)))
    return np.asarray(batch.column("sensor_gain", "ect") * share / _to_warm(batch))


def _to_warm(batch: Batch) -> NDArray[np.float64]:
    """What has to be warmed over a whole engine's: less coolant, less of it."""
    size = _LITRES / described(batch.model.engine).litres
    usual, _ = healthy_of("fluid_deficit", "cylinder_1")
    capacity = CoolingSystem().coolant_capacity + CoolingSystem().oil_capacity
    return np.maximum(1.0 - _COOLANT_J * size * (coolant_missing(batch) - usual) / capacity, 0.3)


def _minutes(batch: Batch, query: Query) -> Values:
    """Time grows with what has to be warmed: less coolant, less of it. Nobody waits longer than an hour."""
    heat = batch.number("heat:power_w", _heat(query)[0]) * np.ones(batch.rows)
    opens = batch.column("thermostat_temp", "engine")
    rate = between((_OPENS, _POWERS, _AIRS), _tables()["rates"], (opens, heat, ambient_c(batch)))
    return np.asarray(np.minimum(_to_warm(batch) / np.maximum(rate, 1.0 / _WATCHED_MIN), _WATCHED_MIN))


def _heat(query: Query) -> tuple[float, float]:
    """Heat goes with the engine's size, as does what has to be warmed: that of two litres serves all."""
    return _HEAT.get(str(query.condition.state), _RUN_WARM)


def _of_warming(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield Nuisance("thermostat_temp", "engine", *healthy_of("thermostat_temp", "engine"))
    for place in cylinders_of(model.engine):
        mean, sd = healthy_of("fluid_deficit", place)
        yield Nuisance("fluid_deficit", place, mean, sd / model.engine.cylinders**0.5)
    yield Nuisance("heat:power_w", "", *_heat(query))
    yield weather()


def _of_rising(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from _of_warming(model, query)
    yield Nuisance("sensor_gain", "ect", *healthy_of("sensor_gain", "ect"))


# Radiators, heaters and masses of engines of one size differ, and so does what the exhaust takes; our guess.
RULES: Mapping[str, Rule] = {
    "warm_up_time": Rule(_minutes, Tolerance(1.0, 0.15), nuisances=_of_warming),
    "warming_rate": Rule(_rise, Tolerance(0.0, 0.25), nuisances=_of_rising),
}
