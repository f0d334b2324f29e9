"""Battery and supply first: readings that rest on a battery in doubt need it held up, and then say nothing of it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.unit.infer.worked import FOUR, saw
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import History
from witnessmark.infer.points import particles
from witnessmark.infer.sorting import query_of
from witnessmark.plan.casedecision import CaseDecision, case_decision
from witnessmark.plan.forecast import forecast
from witnessmark.plan.next import next_steps, repairs_in_question
from witnessmark.plan.supply import HELD, HOLDING_MINUTES, HOLDING_WORDS, is_in_doubt, rests_on, weak_points
from witnessmark.plan.terms import Terms
from witnessmark.vocabulary import Condition

CRANKING = Condition("cranking", complaint="present")
WEAK = [
    saw("cranking_volts", 7.2, condition=CRANKING, battery="battery"),
    saw("cranking_speed", 100.0, condition=CRANKING),
    saw("battery_ohm", 29.0, condition=Condition("off"), battery="battery"),
]
SOUND = [
    saw("battery_ohm", 6.0, condition=Condition("off"), battery="battery"),
    saw("cranking_speed", 240.0, condition=CRANKING),
]


@cache
def diagnosed(case: str) -> Diagnosis:
    return diagnose(FOUR, WEAK if case == "weak" else SOUND, History())


@cache
def decided(case: str) -> CaseDecision:
    found = diagnosed(case)
    cloud = particles(found.posterior)
    done = [query_of(finding) for finding in found.posterior.worlds[0].findings.all]
    foreseen = forecast(cloud, all_procedures().all, done)
    return case_decision(cloud, foreseen, repairs_in_question(found), Terms())


def resting(case: CaseDecision) -> set[str]:
    return {name for name, tried in case.tests.items() if rests_on(tried.law.queries).any()}


def test_a_battery_in_doubt_is_held_up_for_what_rests_on_it_and_for_nothing_else():
    case = decided("weak")
    assert is_in_doubt(case.cloud)
    assert "static_compression" in resting(case)
    for name, tried in case.tests.items():
        action = case.problem.action(name)
        assert (HELD in action.covers) == (name in resting(case)), name
        covers = 0.0 if tried.procedure.cover is None else all_procedures().covers[tried.procedure.cover][0]
        held = HOLDING_MINUTES if name in resting(case) else 0.0
        assert case.problem.cost_now(action).minutes == pytest.approx(tried.procedure.minutes + covers + held)


def test_what_reads_the_battery_itself_is_taken_as_the_vehicle_stands():
    """The starter's current and the volts it leaves are the battery's own; compression waits for another test."""
    law = decided("weak").tests["current_compression"].law
    assert {query.quantity for query in law.queries} <= {"starter_current", "cranking_volts"}
    assert HELD not in decided("weak").problem.action("current_compression").covers


def test_held_up_it_reads_as_a_sound_one_does():
    """A wheel cranks as fast on a second battery whether the vehicle's own is weak or not."""
    case = decided("weak")
    weak = weak_points(case.cloud)
    law = case.tests["static_compression"].law
    rests = rests_on(law.queries)
    healthy = law.mean[case.cloud.parts[-1].stop]
    for j in np.flatnonzero(rests):
        assert law.mean[weak, j] == pytest.approx(healthy[j], rel=1e-6)


def test_a_battery_put_right_holds_the_supply_up_from_then_on():
    problem = decided("weak").problem
    repair = problem.action("battery:battery")
    group = decided("weak").groups["battery:battery"]
    assert problem.cost_now(repair).minutes == pytest.approx(group.minutes[1] + 25.0)
    after = problem.after("battery:battery", 0)
    assert HELD in after.open_covers
    test = after.action("static_compression")
    saved = problem.cost_now(problem.action("static_compression")).minutes - after.cost_now(test).minutes
    assert saved == pytest.approx(HOLDING_MINUTES)


def test_a_sound_battery_asks_for_nothing():
    case = decided("sound")
    assert not is_in_doubt(case.cloud)
    assert resting(case)
    assert not any(HELD in action.covers for action in case.problem.actions)


def test_the_step_says_what_it_needs():
    plan = next_steps(diagnosed("weak"))
    assert plan.steps[0].test not in resting(decided("weak"))
    for step in (*plan.steps, *plan.alternatives):
        assert (HOLDING_WORDS in step.needs) == (step.test in resting(decided("weak")))
