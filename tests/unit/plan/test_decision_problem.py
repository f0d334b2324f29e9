"""What a decision problem refuses, and how it changes when something was done."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import InputError
from witnessmark.plan.actions import Cost, Cover, Rates, make_repair, make_test
from witnessmark.plan.agreement import Agreed
from witnessmark.plan.exact import exact_plan
from witnessmark.plan.further import further_agreements
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.search import look_ahead, next_action, price_instead
from witnessmark.plan.tables import tables_of
from witnessmark.plan.thin import thin

LID = Cover("lid", Cost(30.0))
GUARD = Cover("guard", Cost(10.0))


def two_causes(**changes):
    parts = {
        "hypotheses": ("worn", "loose", "unlisted"),
        "chance": np.array([0.5, 0.4, 0.1]),
        "actions": (
            make_test("look", Cost(5.0), [[0.9, 0.2, 0.5], [0.1, 0.8, 0.5]], outcomes=("yes", "no")),
            make_repair("renew", Cost(60.0, money=200.0), [1.0, 0.0, 0.0], covers=["lid"], proving=Cost(20.0)),
            make_repair("tighten", Cost(10.0), [0.0, 0.9, 0.0], covers=["lid"], proving=Cost(20.0)),
        ),
        "escalation": 400.0,
        "covers": (LID,),
    }
    return DecisionProblem(**{**parts, **changes})


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"chance": np.array([0.5, 0.4, 0.3])}, "sum to 1.2"),
        ({"chance": np.array([1.2, -0.2, 0.0])}, "not numbers from 0 to 1"),
        ({"chance": np.array([np.nan, 0.5, 0.5])}, "not numbers from 0 to 1"),
        ({"chance": np.array([0.5, 0.5])}, "one for each"),
        ({"hypotheses": ("worn", "worn", "unlisted")}, "“worn” stands twice"),
        ({"escalation": np.array([400.0, np.inf, 400.0])}, "loose: Escalation has the price inf"),
        ({"escalation": -1.0}, "Escalation has the price -1"),
        ({"escalation": np.array([1.0, 2.0])}, "Escalation has 2 prices"),
        ({"covers": ()}, "No cover is called “lid”"),
        ({"covers": (Cover("lid", Cost(-3.0)),)}, "lid: minutes is -3"),
        ({"covers": (Cover("lid", Cost(3.0), "guard"), Cover("guard", Cost(3.0), "lid"))}, "ring: lid behind guard"),
        ({"covers": (Cover("lid", Cost(3.0), "lid"),)}, "ring: lid behind lid"),
        ({"rates": Rates(minute=-1.0)}, "minute: A rate is -1"),
        ({"agreed": Agreed(covers=frozenset({"bonnet"}))}, "No cover is called “bonnet”"),
        ({"agreed": Agreed(minutes=-5.0)}, "agreed: -5 minutes were agreed to"),
        ({"agreed": Agreed(money=float("nan"))}, "agreed: nan money were agreed to"),
        ({"actions": (make_test("escalate", Cost(1.0), [[1.0, 1.0, 1.0]]),)}, "An action is called “escalate”"),
        ({"open_covers": frozenset({"bonnet"})}, "No cover is called “bonnet”"),
        ({"hypotheses": (), "chance": np.array([]), "actions": ()}, "no hypothesis"),
    ],
)
def test_refuses(changes, says):
    with pytest.raises(InputError, match=says):
        two_causes(**changes)


def test_refuses_actions_that_cannot_be():
    with pytest.raises(InputError, match=r"look: The chances of the outcomes under hypothesis 2 sum to 0\.9"):
        make_test("look", Cost(1.0), [[0.5, 0.5], [0.5, 0.4]])
    with pytest.raises(InputError, match="renew: A chance is negative"):
        make_repair("renew", Cost(1.0), [1.2, 0.0])
    with pytest.raises(InputError, match="look: The table of outcomes has 2×2"):
        make_test("look", Cost(1.0), np.eye(2), outcomes=("a", "b", "c"))
    with pytest.raises(InputError, match="swap: Kind “guess” is none"):
        make_test("swap", Cost(1.0), np.eye(2), kind="guess")
    with pytest.raises(InputError, match="look: Chances for 2 hypotheses"):
        two_causes(actions=(make_test("look", Cost(1.0), np.eye(2)),))
    with pytest.raises(InputError, match="tighten: minutes is -5"):
        two_causes(actions=(make_repair("tighten", Cost(-5.0), [0.0, 1.0, 0.0]),))


def test_says_what_no_repair_cures():
    """A fault without repair is no mistake: it ends in escalation, and is named."""
    problem = two_causes()
    assert problem.uncured == ("unlisted",)
    alone = two_causes(hypotheses=("a", "b", "c"), actions=(), covers=())
    assert alone.uncured == ("a", "b", "c")
    for plan in (next_action(alone), look_ahead(alone)):
        assert (plan.action, plan.price, plan.cannot_beat) == ("escalate", pytest.approx(400.0), pytest.approx(400.0))


def test_after_a_reading_and_after_a_repair():
    problem = two_causes(agreed=Agreed(minutes=100.0, money=500.0))
    seen = problem.after("look", "no")
    np.testing.assert_allclose(seen.chance, np.array([0.05, 0.32, 0.05]) / 0.42)
    assert [a.name for a in seen.actions] == ["renew", "tighten"]
    assert seen.agreed == Agreed(minutes=95.0, money=500.0)
    tried = seen.after("tighten", 0)
    np.testing.assert_allclose(tried.chance, np.array([0.05, 0.032, 0.05]) / 0.132)
    # The lid is off now: 10 + 20 proving + 30 lid were spent, and the other repair behind it no longer pays for it.
    assert tried.open_covers == {"lid"}
    assert tried.agreed.minutes == pytest.approx(35.0)
    assert tried.cost_now(tried.action("renew")) == Cost(80.0, money=200.0)
    sure = two_causes(chance=np.array([0.0, 1.0, 0.0]))
    certain = make_test("certain", Cost(1.0), [[1.0, 0.0, 0.5], [0.0, 1.0, 0.5]], outcomes=("worn", "loose"))
    with pytest.raises(InputError, match="certain: “worn” cannot be"):
        two_causes(chance=sure.chance, actions=(certain,)).after("certain", "worn")


def test_nested_covers_are_paid_once_and_outermost_first():
    deep = Cover("lid", Cost(30.0), behind="guard")
    problem = two_causes(covers=(deep, GUARD))
    renew = problem.action("renew")
    assert problem.to_open(renew) == (GUARD, deep)
    assert problem.cost_now(renew).minutes == pytest.approx(120.0)
    assert two_causes(covers=(deep, GUARD), open_covers=frozenset({"guard"})).to_open(renew) == (deep,)
    # A cover that is off has those in front of it off too.
    assert two_causes(covers=(deep, GUARD), open_covers=frozenset({"lid"})).to_open(renew) == ()


@pytest.mark.parametrize("plan", [next_action, look_ahead])
def test_stays_inside_what_was_agreed(plan):
    free = plan(two_causes())
    # No cover may come off: nothing but looking is left, which then buys nothing.
    shut = plan(two_causes(agreed=Agreed(covers=frozenset())))
    assert {value.action for value in shut.values} == {"look", "escalate"}
    assert (shut.action, shut.price) == ("escalate", pytest.approx(400.0))
    # 70 minutes: tightening with lid and proof takes 60, renewing 110.
    short = plan(two_causes(agreed=Agreed(minutes=70.0)))
    assert "renew" not in {value.action for value in short.values}
    # By hand: tighten at once 60 + 0.64 · 400, or look first (5 minutes): after "yes" hand on, after "no" tighten.
    look = 5.0 + 0.58 * 400.0 + 0.42 * 60.0 + (0.42 - 0.9 * 0.32) * 400.0
    assert short.price == pytest.approx(min(60.0 + 0.64 * 400.0, look))
    poor = plan(two_causes(agreed=Agreed(money=100.0)))
    assert "renew" not in {value.action for value in poor.values}
    assert free.price < short.price < shut.price
    assert plan(two_causes(agreed=Agreed(minutes=1e4, money=1e4, covers=frozenset({"lid"})))).price == free.price


def test_says_what_a_further_agreement_would_buy():
    free = next_action(two_causes())
    problem = two_causes(agreed=Agreed(minutes=70.0, money=100.0, covers=frozenset()))
    inside = next_action(problem)
    offers = {offer.what: offer for offer in further_agreements(problem, inside)}
    # Minutes or money alone buy nothing while the lid must stay on.
    assert set(offers) == {"lid", "everything"}
    assert offers["everything"].saves == pytest.approx(inside.price - free.price)
    assert offers["everything"].saves > offers["lid"].saves > 0.0
    assert offers["lid"].cost.minutes <= 70.0
    assert further_agreements(two_causes(), free) == ()


def test_the_technicians_own_choice_is_priced():
    problem = two_causes()
    plan = next_action(problem)
    for value in plan.values:
        assert price_instead(problem, value.action).price == pytest.approx(value.price)
        assert plan.instead(value.action) is value
    with pytest.raises(InputError, match="No action that was looked at is called “polish”"):
        plan.instead("polish")


def test_a_tool_the_shop_lacks_is_not_planned():
    without = two_causes(
        actions=(*two_causes().actions, make_test("scope", Cost(0.0), np.eye(3), available=False)),
    )
    assert next_action(without).price == pytest.approx(next_action(two_causes()).price)
    assert "scope" not in {value.action for value in next_action(without).values}


def test_the_tail_is_taken_together():
    problem = two_causes()
    tables = tables_of(problem)
    smaller, merged = thin(tables, 2)
    assert merged == pytest.approx(0.5)
    # By hand: loose and unlisted in proportion 4 to 1.
    np.testing.assert_allclose(smaller.chance, [0.5, 0.5])
    np.testing.assert_allclose(smaller.branch[0], [0.9, (0.2 * 4 + 0.5) / 5])
    np.testing.assert_allclose(smaller.cures[2], [0.0, 0.9 * 0.8])
    assert thin(tables, 3) == (tables, 0.0)
    plan = look_ahead(problem, keep=2)
    assert plan.merged == pytest.approx(0.5)
    assert plan.cannot_beat <= exact_plan(problem).expected
    # Of one repair: tightening cures 0.36 for 30, renewing 0.5 for 80, the lid apart.
    one, _ = thin(tables, 2, repairs=1)
    assert one.names == ("look", "tighten")
    np.testing.assert_array_equal(one.branch, smaller.branch[[0, 1, 3]])
    assert (one.owner.tolist(), one.first.tolist(), one.repairs.tolist()) == ([0, 0, 1], [0, 2], [1])


def test_one_price_of_minutes_teardown_and_parts():
    assert Rates(2.0, 10.0, 0.5).price(Cost(3.0, 1.0, 40.0)) == pytest.approx(36.0)
