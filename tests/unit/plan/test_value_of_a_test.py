"""What a test is worth, on points and laws small enough to work out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from witnessmark.plan.forecast import TestLaw as Law
from witnessmark.plan.particles import Particles
from witnessmark.plan.value import Option, entropy_bits, expected_minutes, try_test
from witnessmark.vocabulary import Place, Query

IDENTITY = Query("part_identity", Place.of(part="wheel:crank"))
ANGLE = Query("tdc_offset")
TEN_AND_TWENTY = (Option(10.0, 1.0), Option(20.0, 1.0))


def cloud(*chance: float) -> Particles:
    """One point for each group; none of them "none of these"."""
    n = len(chance)
    groups = tuple(f"g{k}" for k in range(n))
    return Particles(None, np.array(chance), np.arange(n), groups, (), (), none_from=n)  # type: ignore[arg-type]


def yes_no(*chance: float) -> Law:
    mean = np.array(chance)[:, None]
    return Law((IDENTITY,), mean, np.eye(1) * 1e-4, np.array([True]), np.zeros(1))


def measured(*mean: float, sd: float = 1.0) -> Law:
    return Law((ANGLE,), np.array(mean)[:, None], np.eye(1) * sd**2, np.array([False]), np.zeros(1))


def binary_entropy(p: float) -> float:
    return float(entropy_bits(np.array([p, 1.0 - p])))


def test_a_sure_answer_costs_the_right_repair():
    """No answer is taken for surer than 99 %: 10 + .01 · 20 = 10.2 and 20 + .01 · 10 = 20.1, half the time each, and
    5 for asking.
    """
    tried = try_test(cloud(0.5, 0.5), yes_no(1.0, 0.0), TEN_AND_TWENTY, 5.0)
    assert tried.minutes == pytest.approx(5.0 + 0.5 * (10.2 + 20.1))
    assert tried.bits == pytest.approx(1.0 - binary_entropy(0.01), abs=1e-9)


@pytest.mark.parametrize("right", [0.7, 0.9])
def test_bits_of_a_fallible_answer(right):
    """A symmetric channel carries 1 - H(p) bits (Shannon 1948; textbook). 200 draws are all that a test gets."""
    tried = try_test(cloud(0.5, 0.5), yes_no(right, 1.0 - right), TEN_AND_TWENTY, 0.0)
    assert tried.bits == pytest.approx(1.0 - binary_entropy(right), abs=1e-6)  # both answers tell alike


@pytest.mark.parametrize("apart", [1.0, 2.0, 4.0])
def test_bits_of_a_measurement(apart):
    """Two means, one spread: the information is an integral, done by SciPy here. One draw in a hundred is taken for
    misread.
    """
    tried = try_test(cloud(0.5, 0.5), measured(0.0, apart), TEN_AND_TWENTY, 0.0)

    def open_bits(x: float) -> float:
        a, b = norm.pdf(x), norm.pdf(x, apart)
        return 0.5 * (a + b) * binary_entropy(a / (a + b))

    exact = 1.0 - quad(open_bits, -8.0, apart + 8.0, points=[0.0, apart / 2, apart])[0]
    assert tried.bits == pytest.approx(exact, abs=0.09)  # about three standard errors of 200 draws


@pytest.mark.parametrize("chance", [(0.5, 0.5), (0.99, 0.01), (0.3, 0.3, 0.4)])
def test_a_test_whose_outcomes_cannot_differ_tells_nothing(chance):
    options = (*TEN_AND_TWENTY, Option(30.0, 0.9))[: len(chance)]
    same = [2.0] * len(chance)
    for law in (measured(*same), yes_no(*[0.5] * len(chance))):
        tried = try_test(cloud(*chance), law, options, 7.0)
        assert tried.bits == pytest.approx(0.0, abs=1e-9)
        assert tried.minutes == pytest.approx(7.0 + float(expected_minutes(np.array(chance), options)))


def test_bits_are_never_negative_nor_more_than_is_open():
    rng = np.random.default_rng(5)
    for _ in range(40):
        chance = rng.dirichlet(np.ones(4))
        options = tuple(Option(m, 0.9) for m in rng.uniform(20.0, 400.0, 4))
        tried = try_test(cloud(*chance), measured(*rng.normal(0.0, 2.0, 4)), options, 0.0)
        assert 0.0 <= tried.bits <= float(entropy_bits(chance)) + 1e-9
        np.testing.assert_allclose(tried.after.sum(axis=1), 1.0)


def test_a_better_instrument_tells_more_and_saves_more():
    coarse, fine = (try_test(cloud(0.5, 0.5), measured(0.0, 3.0, sd=sd), TEN_AND_TWENTY, 0.0) for sd in (4.0, 0.5))
    assert fine.bits > coarse.bits + 0.5
    assert fine.minutes < coarse.minutes


def test_the_same_test_gives_the_same_figure():
    law = measured(0.0, 2.0)
    one, two = (try_test(cloud(0.5, 0.5), law, TEN_AND_TWENTY, 3.0) for _ in range(2))
    assert (one.minutes, one.bits) == (two.minutes, two.bits)
