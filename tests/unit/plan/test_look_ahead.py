"""The look-ahead and the exact plan on random problems: against each other and against a plain recursion."""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.common_plans import EXACT, LARGE, SMALL, draw_problem, policy_price
from witnessmark.errors import InputError
from witnessmark.plan import search
from witnessmark.plan.actions import Cost, make_repair, make_test
from witnessmark.plan.agreement import Agreed
from witnessmark.plan.bounds import KnownCause
from witnessmark.plan.decision import ESCALATE
from witnessmark.plan.exact import exact_plan, situations_of
from witnessmark.plan.leaf import order_price, repair_price
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.quickleaf import QuickOrder
from witnessmark.plan.search import look_ahead, next_action
from witnessmark.plan.tables import Situations, tables_of

seeds = st.integers(0, 10_000)


def plainly(problem: DecisionProblem) -> float:
    """The best plan by the definition: every action, every outcome, no cleverness."""
    best = float(problem.chance @ problem.escalation)
    for action in problem.actions:
        minutes, agreed = problem.cost_now(action).minutes, problem.agreed.minutes
        if agreed is not None and minutes > agreed + 1e-9:
            continue
        price = problem.rates.price(problem.cost_now(action))
        for k, chance in enumerate(action.table @ problem.chance):
            if chance > 0.0:
                price += float(chance) * plainly(problem.after(action.name, k))
        best = min(best, price)
    return best


@settings(max_examples=8)
@given(seeds, st.booleans())
def test_exact_is_what_a_plain_recursion_finds(seed, limited):
    problem = draw_problem(seed, SMALL)
    if limited:
        problem = replace(problem, agreed=Agreed(minutes=120.0))
    problem = replace(problem, actions=problem.actions[:5])
    assert exact_plan(problem).expected == pytest.approx(plainly(problem), rel=1e-9)


@settings(max_examples=15)
@given(seeds)
def test_no_policy_beats_the_exact_plan_and_the_bounds_hold(seed):
    problem = draw_problem(seed, SMALL)
    exact = exact_plan(problem)
    rng = np.random.default_rng(seed)

    def at_random(left):
        return str(rng.choice([ESCALATE, *(a.name for a in left.actions)]))

    for decide in (at_random, lambda left: look_ahead(left, steps=1).action, lambda left: look_ahead(left).action):
        assert policy_price(problem, decide)[0] >= exact.expected - 1e-9 * exact.expected
    for steps in (1, 2, 3):
        plan = look_ahead(problem, seconds=10.0, steps=steps)
        assert plan.known_cause <= plan.cannot_beat + 1e-9
        assert plan.cannot_beat <= exact.expected + 1e-9
        assert plan.price >= exact.expected - 1e-9
        assert plan.left_out + 1e-9 >= 0.0
        for value in plan.values:
            true = exact.first[(*exact.tables.names, ESCALATE).index(value.action)]
            assert value.cannot_beat - 1e-9 <= true <= value.price + 1e-9
    # As deep as there are actions: that is the exact plan.
    assert look_ahead(problem, seconds=60.0, steps=99).price == pytest.approx(exact.expected, rel=1e-5)


@settings(max_examples=15)
@given(seeds)
def test_the_exact_policy_costs_what_it_says(seed):
    problem = draw_problem(seed, SMALL)
    price, _ = policy_price(problem, lambda left: exact_plan(left).action)
    assert price == pytest.approx(exact_plan(problem).expected, rel=1e-9)


@settings(max_examples=25)
@given(seeds)
def test_a_free_perfect_test_never_raises_the_price(seed):
    problem = draw_problem(seed, SMALL)
    free = make_test("free", Cost(0.0), np.eye(len(problem.hypotheses)))
    told = replace(problem, actions=(*problem.actions, free))
    assert exact_plan(told).expected <= exact_plan(problem).expected + 1e-6
    plan = look_ahead(told, seconds=10.0, steps=4)
    assert plan.price <= look_ahead(problem, seconds=10.0, steps=3).price + 1e-6
    # Knowing the cause, what is left is its cheapest proven end; with imperfect repairs in the best order of them.
    assert plan.price >= plan.known_cause - 1e-9


@settings(max_examples=25)
@given(seeds)
def test_names_and_order_do_not_matter(seed):
    problem = draw_problem(seed, SMALL)
    rng = np.random.default_rng(seed)
    order, turn = rng.permutation(len(problem.hypotheses)), rng.permutation(len(problem.actions))
    other = replace(
        problem,
        hypotheses=tuple(f"h{k}" for k in order),
        chance=problem.chance[order],
        escalation=problem.escalation[order],
        covers=problem.covers[::-1],
        actions=tuple(
            replace(problem.actions[k], name=f"a{k}", table=problem.actions[k].table[::-1, order],
                    cures=problem.actions[k].cures[order])
            for k in turn
        ),
    )  # fmt: skip
    for plan in (lambda p: exact_plan(p).expected, lambda p: look_ahead(p, seconds=10.0, steps=3).price):
        assert plan(other) == pytest.approx(plan(problem), rel=1e-9)


def some_situations(seed, size=EXACT):
    """Situations that random actions lead to."""
    problem = draw_problem(seed, size)
    tables = tables_of(problem)
    rng = np.random.default_rng(seed)
    at = tables.start()
    for _ in range(3):
        branch = rng.integers(0, len(tables.owner), 40)
        action = tables.owner[branch]
        up = rng.integers(0, len(at), 40)
        fresh = ~at.done[up, action]
        up, branch, action = up[fresh], branch[fresh], action[fresh]
        done = at.done[up]
        done[np.arange(len(up)), action] = True
        new = Situations(at.mass[up] * tables.branch[branch], done, at.off[up] | tables.need[action])
        at = Situations(*(np.concatenate(pair) for pair in
                          ((at.mass, new.mass), (at.done, new.done), (at.off, new.off))))  # fmt: skip
    return problem, tables, at


@settings(max_examples=25)
@given(seeds)
def test_both_orders_of_repairs_lie_between_the_bounds(seed):
    problem, tables, at = some_situations(seed)
    slow, quick = repair_price(tables, at), QuickOrder.of(tables).price(at)
    least = KnownCause.of(tables).price(at)
    scale = at.mass.sum(axis=1) + 1e-12
    assert (least <= slow + 1e-9 * scale).all()
    assert (least <= quick + 1e-9 * scale).all()
    # Where every cause has one repair and no cover lies behind another, the two are the same order.
    single = replace(
        problem,
        actions=tuple(a for a in problem.actions if not a.name.startswith("exchange")),
        covers=tuple(replace(cover, behind=None) for cover in problem.covers),
    )
    tables = tables_of(single)
    start = tables.start()
    assert QuickOrder.of(tables).price(start)[0] == pytest.approx(repair_price(tables, start)[0], rel=1e-4)


def test_repairs_behind_one_cover_are_taken_together():
    """By hand: alone each repair behind the lid (60) is worth less a minute than the one outside; together more."""
    problem = draw_problem(1, SMALL)
    lid = replace(problem.covers[0], name="lid", cost=Cost(60.0), behind=None)
    problem = DecisionProblem(
        ("a", "b", "c"),
        np.array([0.4, 0.4, 0.2]),
        (
            make_repair("a", Cost(10.0), [1, 0, 0], covers=["lid"]),
            make_repair("b", Cost(10.0), [0, 1, 0], covers=["lid"]),
            make_repair("c", Cost(32.0), [0, 0, 1]),
        ),
        1e4,
        covers=(lid,),
    )
    # 0.2 / 32 = .00625 beats 0.4 / 70 = .0057, but 0.8 / 80 = .01 beats both.
    tables = tables_of(problem)
    assert order_price(problem, ("a", "b", "c")) == pytest.approx(70.0 + 0.6 * 10.0 + 0.2 * 32.0)
    assert repair_price(tables, tables.start())[0] == pytest.approx(82.4)
    assert QuickOrder.of(tables).price(tables.start())[0] == pytest.approx(82.4)


def test_contradiction_leaves_the_unlisted_cause():
    """Certain readings that deny each other cannot be stepped into; graded ones leave what they leave."""
    certain = [make_test(f"t{k}", Cost(1.0), table) for k, table in enumerate(([[1, 0, 0.5], [0, 1, 0.5]],) * 2)]
    problem = DecisionProblem(("a", "b", "unlisted"), np.array([0.5, 0.4, 0.1]), tuple(certain), 300.0)
    left = problem.after("t0", 0).after("t1", 1)
    assert left.chance.tolist() == [0.0, 0.0, 1.0]
    listed = DecisionProblem(("a", "b"), np.array([1.0, 0.0]), (make_test("t", Cost(1.0), np.eye(2)),), 300.0)
    with pytest.raises(InputError, match="cannot be under any hypothesis"):
        listed.after("t", 1)


def test_nothing_costs_nothing():
    """Free actions and a free escalation: no division by nothing."""
    free = (make_test("t", Cost(0.0), np.eye(2)), make_repair("r", Cost(0.0), [1.0, 0.0]))
    problem = DecisionProblem(("a", "b"), np.array([0.5, 0.5]), free, 0.0)
    assert next_action(problem).price == pytest.approx(0.0, abs=1e-6)
    assert look_ahead(problem).price == pytest.approx(0.0, abs=1e-6)


def test_too_large_for_the_exact_plan_is_one_clear_line():
    problem = draw_problem(3, LARGE)
    assert situations_of(problem) > 10**20
    with pytest.raises(InputError, match="too many to plan exactly"):
        exact_plan(problem)


def test_a_large_problem_is_answered_and_its_gap_told():
    """No clock: time stands still until a number of looks at it, so that the test does not hang on the machine."""
    ticks = iter(range(10**6))
    problem = draw_problem(3, LARGE)
    plan = next_action(problem, seconds=12.0, clock=lambda: float(next(ticks)))
    assert not plan.exact
    assert plan.known_cause <= plan.cannot_beat <= plan.price
    assert 0.0 < plan.gap < 1.0
    # Every test, and of the repairs the sixty likeliest, as hypotheses were taken together.
    assert plan.merged > 0.0
    tests = {action.name for action in problem.actions if action.kind != "repair"}
    assert tests < {value.action for value in plan.values}
    assert len(plan.values) == len(tests) + 60 + 1
    assert plan.price == plan.values[0].price
    assert plan.left_out >= 0.0


@settings(max_examples=6)
@given(seeds)
def test_first_actions_are_compared_by_looks_of_one_length(seed):
    """However few situations are allowed, two steps are looked at in whole: none is dearer for not being looked at.

    Found otherwise: the first action looked into stayed first, its rivals priced as if no test could follow them.
    """
    problem = draw_problem(seed, LARGE)
    whole = {value.action: value.price for value in look_ahead(problem, seconds=60.0, steps=2).values}
    hasty = {value.action: value.price for value in look_ahead(problem, seconds=60.0, situations=1).values}
    assert hasty.keys() == whole.keys()
    best = min(whole.values())
    for name, price in hasty.items():
        if whole[name] <= 1.02 * best:  # what cannot come first need not be looked at to the end
            assert price <= whole[name] * (1.0 + 1e-9)


@settings(max_examples=6)
@given(seeds)
def test_a_repair_is_looked_behind_with_as_many_tests_as_a_test_is(seed):
    """A repair tells nothing but whether it cured: by a look of two steps it would have one test in it, a test two."""
    problem = draw_problem(seed, LARGE)
    repairs = {action.name for action in problem.actions if action.kind == "repair"}
    with patch.object(search, "_look_behind_the_repair"):
        short = look_ahead(problem, seconds=60.0, situations=1)
    best = next(value.action for value in short.values if value.action in repairs)
    behind = look_ahead(problem, seconds=60.0, situations=1).instead(best).price
    assert behind <= short.instead(best).price * (1.0 + 1e-9)
    chosen = problem.action(best)
    after = look_ahead(problem.after(best, 0), seconds=60.0, steps=2)
    whole = problem.cost_now(chosen).minutes + float(chosen.table[0] @ problem.chance) * after.price
    assert behind <= 1.03 * whole  # only the most telling tests are tried behind a first action
