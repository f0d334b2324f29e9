"""What is worked out abreast is what each engine, state and intervention gives alone. Own invariances."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.airs import ask
from tests.unit.predict.drives import model_of
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import expect, nuisances
from witnessmark.predict.abreast import foresee
from witnessmark.predict.differing import one_upward, sound_states
from witnessmark.vocabulary import Condition, Place, Query

LEAK = State({("leak_area", "plenum"): 20.0, ("coil_energy", "coil_1"): 0.4})
NOTED = Query("engine_speed", Place(), Condition("idle", 750.0))
NO_METER = "unplug_substitute:maf"
ALONE = (
    [ask("fuel_trim", state, bank=1) for state in ("idle", "raised")],
    [ask("fuel_trim", "idle", bank=1, during="pinch_hose:branch")],
    [ask("fuel_trim", "idle", bank=1, during=NO_METER), ask("idle_air_demand", "idle", during=NO_METER)],
    [ask("misfire_count", "idle", cylinder=k, during="swap_coil:1-2") for k in (1, 2)],
    [ask("branch_drop", "key_on", node="main_relay", during="bridge_branch")],
    [ask("branch_drop", "key_on", node="engine_ground", during="bridge_branch")],
    [ask("compression_peak", "cranking", cylinder=1), ask("engine_speed", "idle"), NOTED],
)


@pytest.fixture(scope="module")
def foreseen():
    return foresee(model_of(), [query for queries in ALONE for query in queries], LEAK)


@pytest.mark.parametrize("queries", ALONE, ids=lambda queries: f"{queries[0].quantity} {queries[0].condition.during}")
def test_abreast_is_what_each_is_alone(foreseen, queries):
    model, (found, _) = model_of(), foreseen
    moved = nuisances(model, queries)
    alone = expect(model, queries, *sound_states(moved, one_upward(moved)), rows=len(moved) + 1)
    sound, tolerance, slope = alone.mean[0], alone.tolerance[0], np.nan_to_num(alone.mean[1:] - alone.mean[0])
    spread = slope.T @ slope
    faulty = expect(model, queries, LEAK).mean[0]
    got = [found[query] for query in queries]
    close = {"rtol": 1e-9, "atol": 1e-9}
    np.testing.assert_allclose([one.sound for one in got], sound, **close)
    np.testing.assert_allclose([one.faulty for one in got], faulty, **close)
    np.testing.assert_allclose([one.tolerance for one in got], tolerance, **close)
    if queries[0].condition.during is not None or len(queries) == 1:
        np.testing.assert_allclose([one.spread for one in got], np.sqrt(np.diag(spread)), **close)
    else:  # with what is read beside it more differences are moved, all of them by right
        assert all(one.spread >= np.sqrt(spread[j, j]) * (1.0 - 1e-9) for j, one in enumerate(got))


def test_the_engine_as_it_stands_can_be_asked_for_more(foreseen):
    _, stood = foreseen
    assert float(stood.batch.column("leak_area", "plenum")[stood.faulty]) == 20.0
    assert float(stood.batch.column("leak_area", "plenum")[stood.sound]) == HEALTHY.get("leak_area", "plenum")


def test_without_another_state_there_is_no_faulty_reading():
    found, stood = foresee(model_of(), ALONE[0])
    assert all(one.faulty is None for one in found.values())
    assert stood.sound == stood.faulty == 0


def test_nothing_asked_is_nothing_foreseen():
    assert foresee(model_of(), [], LEAK)[0] == {}
