"""Pairs have a common cause: sums, symmetry, and what sharing does (Bayes' rule by hand; the model's numbers are our
guess, so they are tested for what they must do and not for what they are).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.infer import together
from witnessmark.infer.history import History, Work
from witnessmark.infer.together import common_cause, pair_weights

FACTORS = st.dictionaries(st.sampled_from("akow"), st.floats(0.5, 10.0), max_size=4)
PRIORS = st.floats(0.01, 40.0)
HISTORIES = (
    History(),
    History(known={"km": "260000"}),
    History(known={"years": "15", "oil": "neglected"}),
    History(known={"years": "3", "km": "40000", "oil": "good", "worked_on": "no"}),
    History(done=(Work("fitted", "spark_plugs", began=True),)),
)
each_history = pytest.mark.parametrize("history", HISTORIES, ids=range(len(HISTORIES)))


def above(pairs: np.ndarray) -> np.ndarray:
    return pairs[np.triu_indices(len(pairs), k=1)]


@each_history
@given(rows=st.lists(st.tuples(PRIORS, FACTORS), min_size=2, max_size=12))
def test_pairs_sum_to_their_share_of_a_thousand_and_are_the_same_either_way_round(history, rows):
    priors, factors = np.array([p for p, _ in rows]), [f for _, f in rows]
    pairs = pair_weights(priors, factors, history)
    assert above(pairs).sum() == pytest.approx(150.0)
    assert np.all(above(pairs) > 0.0)
    np.testing.assert_array_equal(np.diag(pairs), 0.0)
    np.testing.assert_allclose(pairs, pairs.T, rtol=1e-12)


@each_history
def test_the_catalogue_itself(history):
    rows = catalogue(SYSTEMS).rows
    pairs = pair_weights(np.array([row.prior for row in rows]), [row.factors for row in rows], history)
    assert above(pairs).sum() == pytest.approx(150.0)
    assert np.all(np.isfinite(pairs))


@each_history
@given(rows=st.lists(PRIORS, min_size=2, max_size=12))
def test_where_nothing_is_shared_it_is_the_product_of_the_priors(history, rows):
    priors = np.array(rows)
    factors = [{"o": 3.0} if i == 0 else {} for i in range(len(rows))]  # one alone shares nothing
    product = np.outer(priors, priors)
    expected = 150.0 * product / above(product).sum()
    np.testing.assert_allclose(above(pair_weights(priors, factors, history)), above(expected), rtol=1e-9)


@pytest.mark.parametrize("letter", "akow")
def test_a_shared_factor_brings_two_together_and_a_greater_one_more_so(letter):
    cause = common_cause(History())
    weak, strong = {letter: 2.0}, {letter: 5.0}
    assert cause.coupling(weak, {}) == pytest.approx(1.0)
    assert 1.0 < cause.coupling(weak, weak) < cause.coupling(weak, strong) < cause.coupling(strong, strong)
    assert cause.coupling(weak, strong) == pytest.approx(cause.coupling(strong, weak))
    priors = np.array([4.0, 4.0, 4.0, 4.0])
    pairs = pair_weights(priors, [strong, strong, {}, {}], History())
    assert pairs[0, 1] > pairs[0, 2] == pytest.approx(pairs[2, 3])


def test_age_and_neglect_go_together_without_being_the_same():
    """A row that asks for age and one that asks for oil share how the vehicle was kept."""
    cause = common_cause(History())
    across = cause.coupling({"a": 3.0}, {"o": 3.0})
    assert 1.0 < across < min(cause.coupling({"a": 3.0}, {"a": 3.0}), cause.coupling({"o": 3.0}, {"o": 3.0}))


def test_what_is_known_no_longer_brings_together():
    oil = {"o": 4.0}
    open_one = common_cause(History()).coupling(oil, oil)
    sound = common_cause(History(known={"oil": "good"})).coupling(oil, oil)
    neglected = common_cause(History(known={"oil": "neglected"})).coupling(oil, oil)
    assert sound == pytest.approx(1.0)
    assert 1.0 < neglected < open_one
    nobody = common_cause(History(known={"worked_on": "no"}))
    assert nobody.coupling({"w": 8.0}, {"w": 8.0}) == pytest.approx(1.0)


def test_a_number_that_is_none_is_not_known():
    said, unsaid = common_cause(History(known={"km": "many"})), common_cause(History())
    np.testing.assert_allclose(said.chance, unsaid.chance)


def test_a_coupling_is_bayes_rule_by_hand():
    """E[f^(pS)·g^(pS)] over E[f^(pS)]·E[g^(pS)], how it was kept and whether it is old summed over one by one."""
    f, g = 3.0, 2.0
    both = one = other = 0.0
    for kept, is_old in itertools.product(range(3), (False, True)):
        chance = together._KEPT[kept] * (together._CHANCE["a"][kept] if is_old else 1.0 - together._CHANCE["a"][kept])
        power = together._POWER[kept] if is_old else 0.0
        both, one, other = both + chance * (f * g) ** power, one + chance * f**power, other + chance * g**power
    assert common_cause(History()).coupling({"a": f}, {"a": g}) == pytest.approx(both / (one * other))


def test_the_chances_of_the_model_are_chances():
    assert sum(together._KEPT) == pytest.approx(1.0)
    assert all(0.0 < p < 1.0 for row in together._CHANCE.values() for p in row)
    for history in HISTORIES:
        assert common_cause(history).chance.sum() == pytest.approx(1.0)
    # Neglect makes every one of them likelier, or it would bring nothing together.
    assert all(np.all(np.diff(row) > 0.0) for row in together._CHANCE.values())


def test_no_prior_no_pair():
    np.testing.assert_array_equal(pair_weights(np.array([3.0, 0.0]), [{}, {}], History()), 0.0)
