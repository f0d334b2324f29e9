"""Planning and weighing against numbers printed elsewhere. Sources stand in docs/references.md under the names in
brackets.

Where a paper's actions overlap, its own order makes them disjoint, and that is what is fed in: a repair of this program
cures one group of causes, and groups never overlap.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import entropy

from tests.unit.plan.worked import repairs_in_order
from witnessmark.plan.casedecision import END_TO_END_MINUTES
from witnessmark.plan.outcomes import entropy_bits


def expected(chances: list[float], costs: list[float]) -> float:
    """Expected cost of sure repairs."""
    return float(repairs_in_order(chances, costs)[0])


@pytest.mark.parametrize(
    ("chances", "before", "printed"),
    [
        # [heckerman1995], fig. 1: looking costs 5, repairs 10 and 20; the better order at each leaf.
        ([0.9, 0.1], 5.0, 17.0),
        ([0.3, 0.7], 5.0, 28.0),
        ([0.5, 0.5], 0.0, 20.0),
    ],
)
def test_heckerman_leaves_in_their_better_order(chances, before, printed):
    assert before + expected(chances, [10.0, 20.0]) == pytest.approx(printed)


def test_heckerman_looking_first_is_worth_it():
    """[heckerman1995], fig. 1: .8 · 17 + .2 · 28 = 19.2 against 20 without looking."""
    looked = 5.0 + 0.8 * expected([0.9, 0.1], [10.0, 20.0]) + 0.2 * expected([0.3, 0.7], [10.0, 20.0])
    assert looked == pytest.approx(19.2)
    assert looked < expected([0.5, 0.5], [10.0, 20.0])


def test_jensen_greedy_and_best():
    """[jensen2001], fig. 1: greedy takes {2,3} (.65), then 1 (.20), then 4 (.15); the best is {3,4} (.55), then
    {1,2} (.45).
    """
    assert expected([0.65, 0.20, 0.15], [1.0] * 3) == pytest.approx(1.50)
    assert expected([0.55, 0.45], [1.0] * 2) == pytest.approx(1.45)


def test_langseth_best_order():
    """[langseth2003], ex. 4, exactly one cut set failed: repairing 2, then 4: 1.4805 (computed; printed 1.47)."""
    fails = [0.03, 0.045, 0.065, 0.035, 0.05]
    cuts = [(0, 1), (1, 2), (2, 3), (3, 4)]
    alone = np.zeros(len(cuts))
    for state in itertools.product((False, True), repeat=5):
        failed = [k for k, cut in enumerate(cuts) if all(state[i] for i in cut)]
        if len(failed) == 1:
            alone[failed[0]] += np.prod([f if s else 1.0 - f for f, s in zip(fails, state, strict=True)])
    share = alone / alone.sum()
    assert expected([share[0] + share[1], share[2] + share[3]], [1.0] * 2) == pytest.approx(1.4805, abs=5e-5)


def test_lin_without_the_question():
    """[lin2014], fig. 2: ½ ¼ ¼ at cost 1 each: 1.75."""
    assert expected([0.5, 0.25, 0.25], [1.0] * 3) == pytest.approx(1.75)


weights = st.lists(st.floats(0.01, 1.0), min_size=2, max_size=5)


@given(weights, st.integers(0, 2**31))
def test_chance_times_success_over_cost_is_the_best_fixed_order(raw, seed):
    """[heckerman1995]: of all orders the one by p·s/c costs least, also where it may be broken off at any point for
    going through everything from end to end. Every order and every end is tried here, one by one.
    """
    rng = np.random.default_rng(seed)
    chance = np.array(raw) / sum(raw)
    cost, success = rng.uniform(5.0, 500.0, len(raw)), rng.uniform(0.5, 1.0, len(raw))
    best = END_TO_END_MINUTES
    for order in itertools.permutations(range(len(raw))):
        open_share, total = 1.0, 0.0
        for k in order:
            total += open_share * cost[k]
            open_share -= chance[k] * success[k]
            best = min(best, total + open_share * END_TO_END_MINUTES)
    assert float(repairs_in_order(chance, cost, success)[0]) == pytest.approx(best, rel=1e-9)


@given(weights, st.integers(0, 2**31))
def test_nothing_beats_knowing_the_cause(raw, seed):
    """Knowing the cause beforehand cannot cost more than not knowing it (repairs that succeed; an identity)."""
    rng = np.random.default_rng(seed)
    chance = np.array(raw) / sum(raw)
    cost = rng.uniform(5.0, 500.0, len(raw))
    assert float(chance @ cost) <= float(repairs_in_order(chance, cost)[0]) + 1e-9


@given(weights)
def test_entropy_as_scipy_has_it(raw):
    chance = np.array(raw) / sum(raw)
    assert float(entropy_bits(chance)) == pytest.approx(entropy(chance, base=2), abs=1e-12)


def test_entropy_of_certainty_and_of_two_even_coins():
    np.testing.assert_allclose(entropy_bits(np.array([[1.0, 0.0, 0.0, 0.0], [0.25] * 4])), [0.0, 2.0])
