"""What owner and shop allow: agreements, own choice, tools, and where a plan inside limits ends."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.unit.infer.worked import NOBODY, deviations, known_four
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.errors import InputError
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import History, Work
from witnessmark.plan.actions import Cost, Cover, make_repair, make_test
from witnessmark.plan.agreement import Agreed
from witnessmark.plan.asking import ASKING_MINUTES, asked_again
from witnessmark.plan.decision import ESCALATE
from witnessmark.plan.next import next_steps
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.search import next_action
from witnessmark.plan.terms import Terms
from witnessmark.plan.types import Plan, PlannedStep


@cache
def case() -> Diagnosis:
    seal = History(done=(Work("work", "crank_seal"),), known=NOBODY)  # when it began nobody says
    return diagnose(known_four(), deviations(-10.0, -10.0), seal)


@cache
def free() -> Plan:
    return next_steps(case())


def shown(plan: Plan) -> tuple[PlannedStep, ...]:
    return (*plan.steps, *plan.alternatives)


def test_a_plan_stays_inside_the_covers_that_were_agreed_to():
    """True TDC needs a plug out; without leave for that the plan has to do with what is in reach."""
    assert free().steps[0].test == "incylinder_crank"
    plan = next_steps(case(), terms=Terms(Agreed(covers=frozenset())))
    assert all(not step.teardown for step in shown(plan) if step.kind == "test")
    assert "incylinder_crank" not in [one.test for one in plan.priced]


def test_what_a_further_agreement_would_buy_is_said_with_its_least_price():
    plan = next_steps(case(), terms=Terms(Agreed(covers=frozenset())))
    offer = next(offer for offer in plan.offers if offer.what == "plug_out")
    assert offer.saves_minutes > 0.0
    assert offer.words == all_procedures().covers["plug_out"][1]
    assert offer.first == "incylinder_crank"
    assert offer.minutes == pytest.approx(free().steps[0].minutes[1])


def test_minutes_that_are_used_up_leave_the_question_to_the_owner():
    plan = next_steps(case(), terms=Terms(Agreed(minutes=3.0)))
    assert plan.steps == ()
    assert plan.priced == ()
    assert {offer.what for offer in plan.offers} == {"minutes"}


def test_an_agreement_nobody_needs_changes_no_first_step():
    plan = next_steps(case(), terms=Terms(Agreed(minutes=5_000.0)))
    assert plan.steps[0].test == free().steps[0].test
    assert plan.offers == ()


def test_every_first_step_is_priced_and_none_beats_the_bound():
    plan = free()
    assert len(plan.priced) > len(shown(plan))
    least = min(one.minutes_to_proof for one in plan.priced)
    assert least <= plan.expected_minutes_to_proof <= 1.02 * least  # of what is as good the test that tells most
    assert all(one.no_plan_beats <= one.minutes_to_proof + 1e-9 for one in plan.priced)
    assert plan.no_plan_beats <= plan.expected_minutes_to_proof


@pytest.mark.parametrize("choice", ["scope_crank_cam", "wheel:crank"])
def test_the_own_choice_is_priced_and_never_cheaper_than_it_can_be(choice):
    plan = next_steps(case(), terms=Terms(instead=choice))
    assert plan.instead is not None
    assert plan.instead.test == choice
    assert plan.instead.minutes_to_proof >= plan.no_plan_beats - 1e-9
    assert sum(outcome.chance for outcome in plan.instead.outcomes) == pytest.approx(1.0)


def test_an_own_choice_that_is_no_step_is_refused_in_one_line():
    with pytest.raises(InputError, match="smokee"):
        next_steps(case(), terms=Terms(instead="smokee"))


def test_a_tool_the_shop_lacks_is_not_proposed():
    plan = next_steps(case(), terms=Terms(lacks=("pressure transducer",)))
    tools = {test.id: test.tool for test in all_procedures().all}
    assert plan.priced
    assert not [one.test for one in plan.priced if "pressure transducer" in tools.get(one.test, "")]


def test_more_thought_never_makes_the_plan_dearer():
    """More situations opened: prices that can be had only fall."""
    longer = next_steps(case(), terms=Terms(think_seconds=1.0))
    assert longer.expected_minutes_to_proof <= free().expected_minutes_to_proof + 1e-6


def test_parts_are_paid_for_in_minutes_of_labour():
    """At 60 an hour a part of 60 is an hour: where a repair is certain to be made, the plan is that much dearer.

    Priced as the own choice, which has a look of its own behind it: of first actions that cannot be best what follows
    is not looked at.
    """
    terms = Terms(per_hour=60.0, instead="wheel:crank")
    wheel = next_steps(case(), terms=replace(terms, parts={"wheel:crank": 60.0})).instead
    before = next_steps(case(), terms=terms).instead
    assert wheel is not None
    assert before is not None
    assert wheel.minutes_to_proof == pytest.approx(before.minutes_to_proof + 60.0, abs=1e-6)


def small(agreed: Agreed) -> DecisionProblem:
    sure = np.array([[1.0, 0.0], [0.0, 1.0]])
    actions = (
        make_test("look", Cost(10.0), sure, covers=("lid",)),
        make_repair("a", Cost(100.0), [1.0, 0.0]),
        make_repair("b", Cost(200.0), [0.0, 1.0]),
    )
    lid = Cover("lid", Cost(20.0))
    return DecisionProblem(("a", "b"), np.array([0.5, 0.5]), actions, np.array([900.0, 900.0]), (lid,), agreed=agreed)


def test_the_end_inside_an_agreement_is_to_ask_again():
    """By hand: unlimited, look (30), then the right repair: 30 + 150 = 180; asked at once 195. With less than 30
    minutes nothing else is left; with just enough to look, the owner is asked after it for the same.
    """
    limited = asked_again(small(Agreed(minutes=29.0)))
    assert limited.asking is not None
    assert limited.asking.now == pytest.approx(180.0 + ASKING_MINUTES)
    assert next_action(limited).action == ESCALATE
    looked = next_action(asked_again(small(Agreed(minutes=35.0))))
    assert looked.instead("look").price == pytest.approx(30.0 + ASKING_MINUTES + 150.0)


def test_what_can_be_finished_inside_is_not_asked_for():
    """With 130 minutes: looked, and repaired where it is the cheap cause; asked for where it is the dear one."""
    decision = next_action(asked_again(small(Agreed(minutes=130.0))))
    assert decision.action == "look"
    assert decision.price == pytest.approx(30.0 + 0.5 * 100.0 + 0.5 * (ASKING_MINUTES + 200.0))


def test_inside_a_wide_agreement_nothing_is_asked():
    decision = next_action(asked_again(small(Agreed(minutes=1_000.0))))
    assert decision.action == "look"
    assert decision.price == pytest.approx(180.0)
