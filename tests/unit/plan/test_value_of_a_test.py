"""What a test tells, on points and laws small enough to work out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from witnessmark.plan.outcomes import OutcomeTable, PointLaw, believe, cut, entropy_bits

_DRAWS = 2_000


def tried(mean: list[float], chance: list[float], *, sd: float | None = None) -> tuple[np.ndarray, OutcomeTable]:
    """One point for each cause; a yes or no where no spread is given."""
    n = len(mean)
    law = PointLaw(
        np.array(mean)[:, None],
        np.eye(1) * (sd or 1.0) ** 2,
        np.array([sd is None]),
        np.array(chance),
        np.arange(n),
        wide=np.full(1, 6.0),
        outlier=0.0,
    )
    _, after = believe(law, n, draws=_DRAWS)
    return after, cut(after)


def binary_entropy(p: float) -> float:
    return float(entropy_bits(np.array([p, 1.0 - p])))


def test_no_answer_is_taken_for_surer_than_99_percent():
    after, found = tried([1.0, 0.0], [0.5, 0.5])
    assert after.max() == pytest.approx(0.99)
    assert found.bits == pytest.approx(1.0 - binary_entropy(0.01), abs=1e-3)


@pytest.mark.parametrize("right", [0.7, 0.9])
def test_bits_of_a_fallible_answer(right):
    """A symmetric channel carries 1 - H(p) bits (Shannon 1948; textbook)."""
    _, found = tried([right, 1.0 - right], [0.5, 0.5])
    assert found.bits == pytest.approx(1.0 - binary_entropy(right), abs=2e-3)
    assert found.kept == pytest.approx(found.bits, rel=0.02)


@pytest.mark.parametrize("apart", [1.0, 2.0, 4.0])
def test_bits_of_a_measurement(apart):
    """Two means, one spread: the information is an integral, done by SciPy here."""

    def open_bits(x: float) -> float:
        a, b = norm.pdf(x), norm.pdf(x, apart)
        return 0.5 * (a + b) * binary_entropy(a / (a + b))

    exact = 1.0 - quad(open_bits, -8.0, apart + 8.0, points=[0.0, apart / 2, apart])[0]
    assert tried([0.0, apart], [0.5, 0.5], sd=1.0)[1].bits == pytest.approx(exact, abs=0.02)


@pytest.mark.parametrize("chance", [[0.5, 0.5], [0.99, 0.01], [0.3, 0.3, 0.4]])
@pytest.mark.parametrize("sd", [None, 1.0])
def test_a_test_whose_outcomes_cannot_differ_tells_nothing(chance, sd):
    _, found = tried([0.5] * len(chance), chance, sd=sd)
    assert found.bits == pytest.approx(0.0, abs=1e-9)
    assert found.table.tolist() == [[1.0] * len(chance)]


def test_bits_are_never_negative_nor_more_than_is_open():
    rng = np.random.default_rng(5)
    for _ in range(40):
        chance = rng.dirichlet(np.ones(4))
        after, found = tried(list(rng.normal(0.0, 2.0, 4)), list(chance), sd=1.0)
        assert -1e-9 <= found.kept <= found.bits <= float(entropy_bits(after.mean(axis=0))) + 1e-9
        np.testing.assert_allclose(after.sum(axis=1), 1.0)


def test_a_better_instrument_tells_more():
    coarse, fine = (tried([0.0, 3.0], [0.5, 0.5], sd=sd)[1] for sd in (4.0, 0.5))
    assert fine.bits > coarse.bits + 0.5


def test_the_same_test_gives_the_same_figure():
    one, two = (tried([0.0, 2.0], [0.5, 0.5], sd=1.0)[1] for _ in range(2))
    assert one.bits == two.bits
    np.testing.assert_array_equal(one.table, two.table)


def test_an_unlisted_cause_is_far_off_oftener_than_a_listed_one():
    """A reading twenty spreads away from both causes speaks for the one that may be anywhere, by its odds of that."""
    law = PointLaw(
        np.array([[0.0], [0.0]]),
        np.eye(1),
        np.array([False]),
        np.array([0.5, 0.5]),
        np.array([0, 1]),
        wide=np.full(1, 20.0),
        outlier=np.array([0.01, 0.2]),
    )
    readings, after = believe(law, 2, draws=_DRAWS)
    far = np.abs(readings[:, 0]) > 15.0
    assert far.any()
    np.testing.assert_allclose(after[far, 1] / after[far, 0], 20.0, rtol=1e-3)
