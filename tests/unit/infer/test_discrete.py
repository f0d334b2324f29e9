"""Sums over sets of faults: what every law of chance asks, and what is refused."""

from __future__ import annotations

import itertools
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import InferenceError, InputError
from witnessmark.infer.discrete import (
    fault_sets,
    log_answers,
    log_prior_of_sets,
    smallest_sets,
    strongest_of_set,
    weigh,
    while_some_sleep,
)


@given(st.integers(1, 7), st.integers(1, 4))
def test_sets_are_all_of_them_once_and_found_again(count, at_most):
    sets = fault_sets(count, at_most)
    own = [tuple(i for i in row if i < count) for row in sets.members.tolist()]
    wanted = [c for size in range(min(at_most, count) + 1) for c in itertools.combinations(range(count), size)]
    assert own == wanted
    assert list(sets.find(sets.members)) == list(range(len(sets)))


def test_a_thousand_faults_in_pairs():
    sets = fault_sets(1000, 2)
    assert len(sets) == 1 + 1000 + comb(1000, 2)
    np.testing.assert_array_equal(sets.sizes[[0, 1, 1001]], [0, 1, 2])


def test_too_many_sets_are_refused_before_any_memory_is_taken():
    with pytest.raises(InputError, match="make 166667501 sets"):
        fault_sets(1000, 3)


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6))
def test_priors_of_all_sets_sum_to_one(chance):
    sets = fault_sets(len(chance), len(chance))
    assert np.exp(log_prior_of_sets(sets, chance)).sum() == pytest.approx(1.0)


def test_a_common_cause_brings_two_faults_together():
    """Neglect 1 in 5; each fault .3 with it and .01 without: by hand .2 · .09 + .8 · .0001 for both."""
    sets = fault_sets(2, 2)
    chance = np.array([[0.3, 0.3], [0.01, 0.01]])
    weighed = weigh(sets, log_prior_of_sets(sets, chance), np.zeros(4), odds=[0.2, 0.8])
    assert weighed.mass[3] == pytest.approx(0.2 * 0.09 + 0.8 * 0.0001)
    assert weighed.mass[3] > 3.0 * weighed.of_fault[0] * weighed.of_fault[1]  # by hand .01808 against .00462
    assert weighed.log_evidence == pytest.approx(0.0, abs=1e-12)


@given(st.integers(0, 10_000), st.integers(1, 5), st.integers(2, 4))
def test_the_strongest_effect_is_a_law_whatever_the_faults(seed, faults, grades):
    rng = np.random.default_rng(seed)
    none = rng.dirichlet(np.ones(grades))
    left = np.sort(rng.random((faults, grades)), axis=1)
    left[:, -1] = 1.0
    alone = np.diff(np.cumsum(none) * left, axis=1, prepend=0.0)
    law = strongest_of_set(fault_sets(faults, faults), none, alone)
    np.testing.assert_allclose(law.sum(axis=1), 1.0)
    assert np.all(law >= -1e-12)
    np.testing.assert_allclose(law[0], none)
    np.testing.assert_allclose(law[1 : faults + 1], alone, atol=1e-12)


def test_a_fault_that_soothes_needs_a_law_of_its_own():
    with pytest.raises(InputError, match="milder than without it"):
        strongest_of_set(fault_sets(1, 1), [0.5, 0.5], [[0.9, 0.1]])


def test_permanent_faults_never_sleep_and_absent_ones_do_nothing():
    sets = fault_sets(3, 2)
    logs = np.log(np.random.default_rng(3).random(len(sets)))
    np.testing.assert_allclose(while_some_sleep(sets, np.ones(3), logs), logs)
    np.testing.assert_allclose(while_some_sleep(sets, np.zeros(3), logs), logs[0])


def test_a_graded_answer_weighs_between_the_hard_ones():
    law = [np.array([[0.9, 0.1], [0.2, 0.8]])]
    hard, graded, none = (log_answers(law, [answer]) for answer in (1, [0.25, 1.0], [1.0, 1.0]))
    assert 0.0 < graded[1] - graded[0] < hard[1] - hard[0]
    np.testing.assert_allclose(none, 0.0, atol=1e-12)  # it tells nothing


@pytest.mark.parametrize("table", [[[0.5, 0.4], [0.5, 0.5]], [[1.2, -0.2], [0.5, 0.5]], [[np.nan, 0.5], [0.5, 0.5]]])
def test_chances_that_are_none_are_refused(table):
    with pytest.raises(InputError, match="chances of answer 1 do not sum to 1"):
        log_answers([np.array(table)], [0])


def test_an_answer_outside_its_list_is_refused():
    with pytest.raises(InputError, match=r"answer 1 is value 2. Expected 0 to 1"):
        log_answers([np.array([[0.5, 0.5]])], [2])
    with pytest.raises(InputError, match="graded by 2 numbers"):
        log_answers([np.array([[0.5, 0.5]])], [[1.0, 0.5, 0.2]])


def test_a_chance_outside_its_range_is_refused():
    with pytest.raises(InputError, match="0 to 1"):
        log_prior_of_sets(fault_sets(2, 1), [0.5, 1.5])


def test_certain_answers_that_contradict_each_other_are_refused():
    sets = fault_sets(1, 1)
    sure = np.array([[1.0, 0.0], [0.0, 1.0]])
    with pytest.raises(InferenceError, match="contradict each other"):
        weigh(sets, log_prior_of_sets(sets, [0.1]), log_answers([sure, sure], [0, 1]))


def test_no_answers_leave_the_prior():
    sets = fault_sets(3, 3)
    chance = np.array([0.1, 0.2, 0.3])
    weighed = weigh(sets, log_prior_of_sets(sets, chance), log_answers([], []))
    np.testing.assert_allclose(weighed.of_fault, chance)
    assert weighed.log_evidence == pytest.approx(0.0, abs=1e-12)


def test_smallest_sets_leave_out_what_contains_another():
    sets = fault_sets(3, 3)
    possible = np.array([{0} <= set(row) or {1, 2} <= set(row) for row in sets.members.tolist()])
    assert smallest_sets(sets, possible) == ((0,), (1, 2))
