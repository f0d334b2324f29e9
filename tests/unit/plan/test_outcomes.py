"""Readings cut into outcomes: against closed integrals, and against many more draws than the cut was made from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from tests.unit.plan.worked import repairs_in_order
from witnessmark.plan.outcomes import PointLaw, believe, cut, entropy_bits


def random_law(seed: int, hypotheses: int, readings: int) -> PointLaw:
    """Hypotheses of a few points each; the last reading of three or more is a yes or no."""
    rng = np.random.default_rng([hypotheses, readings, seed])
    points = rng.integers(3, 20, hypotheses)
    group = np.repeat(np.arange(hypotheses), points)
    middle = rng.normal(0.0, 2.5, (hypotheses, readings))
    mean = middle[group] + rng.normal(0.0, 0.8, (len(group), readings))
    is_chance = np.arange(readings) >= 2
    mean[:, is_chance] = 1.0 / (1.0 + np.exp(-middle[group][:, is_chance]))
    mixing = rng.normal(0.0, 0.3, (readings, readings))
    covariance = mixing @ mixing.T + 0.5 * np.eye(readings)
    weight = rng.dirichlet(np.full(hypotheses, 0.7))[group] / points[group]
    return PointLaw(mean, covariance, is_chance, weight, group, wide=np.full(readings, 6.0), outlier=0.03)


def chance_of(law: PointLaw, hypotheses: int) -> np.ndarray:
    return np.bincount(law.group, weights=law.weight, minlength=hypotheses)


def two_normals(apart: float) -> PointLaw:
    mean = np.array([[0.0], [apart]])
    return PointLaw(mean, np.eye(1), np.array([False]), np.array([0.5, 0.5]), np.array([0, 1]))


def test_bits_of_two_normals_as_the_integral_has_them():
    def integrand(x):
        both = norm.pdf(x), norm.pdf(x, 2.0)
        total = 0.5 * sum(both)
        return sum(0.5 * p * np.log2(p / total) for p in both)

    exact = quad(integrand, -10.0, 12.0)[0]
    _, after = believe(two_normals(2.0), 2, draws=4_000)
    found = cut(after, most=12, enough=0.999)
    assert found.bits == pytest.approx(exact, abs=0.015)
    assert 0.97 * exact < found.kept <= found.bits + 1e-12


def test_chances_of_outcomes_are_those_of_the_intervals():
    """Two outcomes of two normals: each an interval, whose chance the normal's own table gives."""
    readings, after = believe(two_normals(2.0), 2, draws=4000)
    found = cut(after, most=2)
    for k in range(2):
        low, high = readings[found.label == k].min(), readings[found.label == k].max()
        low, high = (-np.inf if low == readings.min() else low), (np.inf if high == readings.max() else high)
        for h, middle in enumerate((0.0, 2.0)):
            exact = norm.cdf(high, middle) - norm.cdf(low, middle)
            assert found.table[k, h] == pytest.approx(exact, abs=0.02)


def test_yes_and_no_stay_what_they_are():
    law = PointLaw(np.array([[0.9], [0.2]]), np.eye(1), np.array([True]), np.array([0.3, 0.7]), np.array([0, 1]))
    readings, after = believe(law, 2)
    found = cut(after)
    assert found.table.shape == (2, 2)
    yes = found.label[readings[:, 0] > 0.5]
    assert (yes == yes[0]).all()
    np.testing.assert_allclose(found.table[yes[0]], [0.9, 0.2], atol=0.03)


def test_a_reading_that_tells_nothing_has_one_outcome():
    law = two_normals(0.0)
    found = cut(believe(law, 2)[1])
    assert found.table.tolist() == [[1.0, 1.0]]
    assert found.bits == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("hypotheses", "most", "least"), [(4, 6, 0.85), (8, 6, 0.85), (8, 12, 0.9), (20, 12, 0.8)])
def test_little_is_lost_against_many_draws(hypotheses, most, least):
    """Bits, and minutes of repairing after the outcome, against 5,000 readings taken whole."""
    for seed in range(2):
        for readings in (1, 2, 3):
            law = random_law(seed, hypotheses, readings)
            found = cut(believe(law, hypotheses)[1], most=most)
            assert len(found.table) <= most
            np.testing.assert_allclose(found.table.sum(axis=0), 1.0)
            prior = chance_of(law, hypotheses)
            whole = believe(law, hypotheses, draws=5_000, seed=2)[1]
            outcome = found.table @ prior
            after = found.table * prior / outcome[:, None]
            told = entropy_bits(prior) - outcome @ entropy_bits(after)
            possible = entropy_bits(prior) - entropy_bits(whole).mean()
            assert least * possible <= told <= 1.02 * possible
            rng = np.random.default_rng(seed)
            repairs = rng.uniform(40.0, 300.0, hypotheses)
            minutes = outcome @ repairs_in_order(after, repairs, 0.9)
            at_best = repairs_in_order(whole, repairs, 0.9).mean()
            saved = float(repairs_in_order(prior, repairs, 0.9)[0]) - at_best
            assert minutes - at_best <= (1.0 - least) * saved + 0.01 * at_best
