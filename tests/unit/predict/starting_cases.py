"""Short ways to ask about starting, heat, oil and the driveline."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np

from tests.unit.predict.drives import model_of
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import known_engines
from witnessmark.engine.state import HEALTHY, State, state_variables
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.predict.differing import one_upward, sound_states
from witnessmark.vocabulary import Condition, Place, Query

CRANK = Condition("cranking")
IDLE = Condition("idle")
HOT = Condition("idle", coolant_c=90)
RAISED = Condition("raised")
CRUISE = Condition("cruise")


@cache
def bare(cylinders: int = 4) -> DriveModel:
    """An engine of which only the count of its cylinders is known."""
    return DriveModel.of(candidate_engines(Engine("bare", cylinders=cylinders))[0].engine)


@cache
def engines() -> tuple[DriveModel, ...]:
    """Every shipped engine, and the bare one."""
    return (*(model_of(known.name) for known in known_engines()), bare())


def asked(name: str, condition: Condition = IDLE, **place: object) -> Query:
    return Query(name, Place.of(**place), condition)  # type: ignore[arg-type]


def read(query: Query, edits: Mapping[tuple[str, str], float] | None = None, model: DriveModel | None = None) -> float:
    """What one query should read of an engine that is sound but for the edits."""
    return float(expect(model or model_of(), [query], State(dict(edits or {}))).mean[0, 0])


def spread(query: Query, model: DriveModel) -> float:
    """How far sound engines differ, by one-sided differences over the nuisances, the tolerance included."""
    moved = nuisances(model, [query])
    rows = len(moved) + 1
    found = expect(model, [query], *sound_states(moved, one_upward(moved)), rows=rows)
    return float(np.hypot(np.linalg.norm(found.mean[1:, 0] - found.mean[0, 0]), found.tolerance[0, 0]))


def check_batches(queries: list[Query], places: Mapping[str, tuple[str, ...]], model: DriveModel) -> None:
    """Everything finite at the bounds of what can be wrong, and side by side as each alone; no warnings."""
    queries = [query for query in queries if why_not(model, query) is None]
    columns: dict[tuple[str, str], np.ndarray] = {}
    rng = np.random.default_rng(11)
    for variable, spots in places.items():
        known = state_variables()[variable]
        for spot in spots:
            inner = np.clip(rng.normal(known.healthy, 3.0 * known.sd + 0.1, 6), known.low, known.high)
            column = np.concatenate([[known.low, known.high], inner])
            if known.unit in ("0/1", "count"):
                column = np.rint(column)
            columns[(variable, spot)] = rng.permutation(column)
    rows = 8
    with np.errstate(all="raise", under="ignore"):
        together = expect(model, queries, State(columns), rows=rows).mean
        for row in range(rows):
            one = State({key: float(column[row]) for key, column in columns.items()})
            np.testing.assert_allclose(expect(model, queries, one).mean[0], together[row], rtol=1e-9, atol=1e-9)
    assert np.all(np.isfinite(together) | np.isnan(together))
    assert np.all(np.isfinite(expect(model, queries, HEALTHY).mean))
