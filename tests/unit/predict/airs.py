"""Engines, states and questions for the tests of air, fuel and exhaust."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.state import State, healthy_of
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.predict.differing import one_upward, sound_states
from witnessmark.vocabulary import STATES, Condition, Place, Query

Edit = Mapping[tuple[str, str], float]

SHIPPED = tuple(known.name for known in known_engines())
PLACED: tuple[tuple[str, Mapping[str, object]], ...] = (
    *((name, {}) for name in ("absolute_load", "airflow_reported", "map_reported", "engine_speed", "idle_air_demand")),
    *((name, {}) for name in ("manifold_vacuum", "boost_pressure", "cooler_drop", "stalls", "lacks_power")),
    *((name, {}) for name in ("crankcase_pressure", "fuel_trim", "rear_activity")),
    *((name, {}) for name in ("load_reported", "meter_over_density")),
    *(
        (name, {"sensor": sensor})
        for name in ("lambda_reported", "o2_response", "o2_swing")
        for sensor in ("o2_front", "o2_rear_1")
    ),
    *(("exhaust_back_pressure", {"sensor": sensor}) for sensor in ("o2_front_1", "o2_rear_1")),
    *(("exhaust_gas_share", {"gas": gas}) for gas in ("O2", "CO", "CO2", "HC")),
    *((name, {"rail": "rail"}) for name in ("fuel_pressure", "fuel_drop_rate", "rail_reported", "rail_effort")),
    ("fuel_delivery", {"pump": "pump"}),
    ("injector_balance", {"cylinder": 2}),
    ("ethanol_measured", {"fuel": "fuel"}),
    *(("leak_smoke", {"duct": duct}) for duct in ("plenum", "intake", "exhaust")),
)


@cache
def engine(name: str = "made-up four", **air: object) -> DriveModel:
    """A shipped (invented) engine, its air described otherwise where said."""
    found = find_engine(name)
    breathing = replace(found.breathing, air=replace(found.breathing.air, **air))
    return DriveModel.of(candidate_engines(replace(found, breathing=breathing))[0].engine)


@cache
def bare(cylinders: int = 4) -> DriveModel:
    """Nothing but a number of cylinders."""
    return DriveModel.of(candidate_engines(Engine("bare", cylinders=cylinders))[0].engine)


def ask(name: str, state: str | None = None, *, during: str | None = None, **place: object) -> Query:
    return Query(name, Place.of(**place), Condition(state, during=during))  # type: ignore[arg-type]


def everything(model: DriveModel) -> list[Query]:
    """Every quantity of air, fuel and exhaust in every state in which it can be asked."""
    asked = [ask(name, state, **place) for name, place in PLACED for state in (*STATES, None)]
    return [query for query in asked if why_not(model, query) is None]


def side_by_side(edits: Sequence[Edit]) -> State:
    """Sets of edits as rows of one state; what one leaves out is sound there."""
    keys = sorted({key for edit in edits for key in edit})
    return State({key: np.array([edit.get(key, healthy_of(*key)[0]) for edit in edits], dtype=float) for key in keys})


def readings(model: DriveModel, query: Query, *edits: Edit) -> np.ndarray:
    """What a query reads on a sound engine and under each set of edits."""
    rows = [{}, *edits]
    return expect(model, [query], side_by_side(rows), rows=len(rows)).mean[:, 0]


def healthy_spreads(model: DriveModel, queries: Sequence[Query]) -> np.ndarray:
    """Spread of each reading over sound engines by finite differences, one row a nuisance of its own, and tolerance."""
    told = nuisances(model, queries)
    n = len(told) + 1
    found = expect(model, queries, *sound_states(told, one_upward(told)), rows=n)
    each = [{*nuisances(model, [query])} for query in queries]
    own = np.array([[one in mine for mine in each] for one in told]).reshape(n - 1, len(queries))
    off = np.nan_to_num(found.mean[1:] - found.mean[0]) * own
    return np.hypot(np.sqrt(np.sum(off**2, axis=0)), found.tolerance[0])


def healthy_spread(model: DriveModel, query: Query) -> float:
    """The same of one reading."""
    return float(healthy_spreads(model, [query])[0])
