"""The rule behind every evidence, against integrals known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.special import ndtr

from witnessmark.infer.quadrature import inside, node_masses, worst_gaps

DECIBAN = np.log(10.0) / 10.0


def integral(u, y):
    return float(np.exp(node_masses(u[None, :], y[None, :])).sum())


@given(mode=st.floats(-0.4, 1.4), sd=st.floats(0.05, 1.0))
@example(mode=-0.3984375, sd=0.05)
def test_normal_curves_cut_by_the_ends_of_the_range(mode, sd):
    """Where the mode lies outside, the curve falls from the end; the closed form is a difference of error functions."""
    u = np.linspace(0.0, 1.0, 33)
    value = integral(u, -0.5 * ((u - mode) / sd) ** 2)
    # Of the two ways to write it the one whose terms are small beyond an end: 1 less nearly 1 keeps one digit there.
    tail = (ndtr(mode / sd) - ndtr((mode - 1.0) / sd)) if mode < 0.5 else (ndtr((1.0 - mode) / sd) - ndtr(-mode / sd))
    exact = sd * np.sqrt(2.0 * np.pi) * tail
    # The points stand up to 0.6 spreads apart, and far from the mode the curve falls by many nats between two.
    assert abs(np.log(value / exact)) < 0.05 * DECIBAN


def test_an_exponential_is_exact_however_few_points():
    u = np.array([0.0, 0.1, 0.7, 1.0])
    assert integral(u, -7.0 * u) == pytest.approx((1.0 - np.exp(-7.0)) / 7.0, rel=1e-12)


def test_uneven_and_unsorted_points():
    rng = np.random.default_rng(3)
    u = rng.permutation(np.concatenate([[0.0, 1.0], rng.random(60)]))
    exact = 0.1 * np.sqrt(2.0 * np.pi) * (ndtr(6.0) - ndtr(-4.0))
    assert integral(u, -0.5 * ((u - 0.4) / 0.1) ** 2) == pytest.approx(exact, rel=2e-3)


def test_masses_keep_the_mean():
    u = np.linspace(0.0, 1.0, 21)
    mass = np.exp(node_masses(u[None, :], (-5.0 * u)[None, :]))[0]
    mean = 0.2 - np.exp(-5.0) / (1.0 - np.exp(-5.0))  # of an exponential of rate 5 cut at 1
    assert mass @ u / mass.sum() == pytest.approx(mean, rel=1e-9)


def test_nothing_anywhere_is_nothing():
    u = np.linspace(0.0, 1.0, 5)
    assert integral(u, np.full(5, -np.inf)) == 0.0


def test_the_gap_with_a_step_is_halved_first():
    u = np.linspace(0.0, 1.0, 11)
    y = np.where(u < 0.55, -8.0, 0.0)
    worst = worst_gaps(u[None, :], y[None, :], 1)[0, 0]
    assert worst == pytest.approx(0.55)


def test_points_strictly_inside_the_range():
    points = inside(np.array([-0.3, 0.2]), np.array([0.4, 0.6]), 8)
    assert points.min() > 0.0
    assert points[0].max() < 0.4
    assert points[1].min() > 0.2
