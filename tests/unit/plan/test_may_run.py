"""Tests with the engine running: none where it does not start, none but the check where running may ruin it."""

from __future__ import annotations

from functools import cache

import pytest

from tests.unit.infer.worked import FOUR, saw
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import History
from witnessmark.infer.points import particles
from witnessmark.infer.sorting import query_of
from witnessmark.plan.forecast import Forecast, forecast
from witnessmark.plan.mayrun import RUNNING, MayRun, may_run
from witnessmark.plan.next import next_steps
from witnessmark.vocabulary import Condition, Query

CRANKING = Condition("cranking", complaint="present")
HOT_IDLE = Condition("idle", coolant_c=95.0)
NO_START = [saw("starts", 0.0, condition=CRANKING), saw("cranks", 1.0, condition=CRANKING)]
LOW_OIL = [
    saw("oil_pressure", 45.0, condition=HOT_IDLE),
    saw("oil_pressure", 115.0, condition=Condition("raised", speed_rpm=2500.0, coolant_c=95.0)),
]


@cache
def diagnosed(case: str) -> Diagnosis:
    found = {
        "no start": NO_START,
        "starts at times": [*NO_START, saw("runs_rough", 0.0, condition=Condition("idle", complaint="absent"))],
        "oil": LOW_OIL,
        "belt": [*NO_START, *(saw("compression_peak", 60.0, condition=CRANKING, cylinder=k) for k in (1, 2, 3, 4))],
        "one low": [*NO_START, saw("compression_peak", 500.0, condition=CRANKING, cylinder=2),
                    *(saw("compression_peak", 1200.0, condition=CRANKING, cylinder=k) for k in (1, 3, 4))],
    }  # fmt: skip
    return diagnose(FOUR, found[case], History())


def foreseen(case: str) -> Forecast:
    post = diagnosed(case).posterior
    done = [query_of(finding) for finding in post.worlds[0].findings.all]
    return forecast(particles(post), all_procedures().all, done)


def read_in(case: str, *states: str) -> set[Query]:
    queries = (query for several in foreseen(case).tests.values() for query in several)
    return {query for query in queries if query.condition.state in states}


def running(case: str) -> set[Query]:
    return read_in(case, *RUNNING)


def test_an_engine_that_does_not_start_is_read_neither_idling_nor_driven():
    assert not running("no start")
    assert foreseen("no start").tests
    assert "does not start" in next_steps(diagnosed("no start")).waits


def test_one_that_was_read_running_may_be_read_so_again():
    assert running("starts at times")
    assert not may_run(diagnosed("starts at times").posterior).waits


def test_with_oil_pressure_in_doubt_only_its_own_reading_runs_the_engine():
    """Without oil an engine is ruined in minutes: common practice, no source."""
    assert {query.quantity for query in running("oil")} <= {"oil_pressure"}
    plan = next_steps(diagnosed("oil"))
    assert "oil pressure" in plan.waits
    for step in (*plan.steps, *plan.alternatives):
        queries = foreseen("oil").tests.get(step.test, ())
        if any(query.condition.state in RUNNING for query in queries):
            assert any("oil pressure" in text for text in step.hazards)


@pytest.mark.parametrize(("state", "allowed"), [("idle", False), ("cranking", True), ("off", True)])
def test_what_waits_is_what_runs_the_engine(state, allowed):
    waits = MayRun(waits="It may not run.", checks=frozenset({"oil_pressure"}))
    assert waits.allows(Query("manifold_vacuum", condition=Condition(state))) is allowed
    assert waits.allows(Query("oil_pressure", condition=Condition("idle")))
    assert MayRun().allows(Query("manifold_vacuum", condition=Condition(state)))


def test_the_starter_is_kept_off_a_drive_that_has_probably_broken():
    """Valves and pistons may meet at every turn: common practice, no source. One low cylinder is cranked again."""
    assert not read_in("belt", "cranking", *RUNNING)
    assert foreseen("belt").tests
    plan = next_steps(diagnosed("belt"))
    assert "starter" in plan.waits
    assert plan.steps[0].kind == "test"  # and before the engine is opened its marks are looked at
    assert "crank" not in plan.steps[0].test
    # A mark that nothing drives stands anywhere: no number is told for it.
    marks = [one for outcome in plan.steps[0].outcomes for one in outcome.readings if one.none]
    assert {one.query.quantity for one in marks} == {"mark_offset"}
    assert read_in("one low", "cranking")
