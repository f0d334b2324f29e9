"""Robust statistics, angles on a circle, pulses; checked against numpy and the standard library."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.signal.circular import (
    circular_mean_deg,
    circular_median_deg,
    circular_sd_deg,
    difference_deg,
    wrapped_deg,
)
from witnessmark.signal.edges import edges_of_levels
from witnessmark.signal.pulses import pulses, short_pulses
from witnessmark.signal.robust import excerpt, mad_sd, noise_sd

ANGLES = st.floats(-5000.0, 5000.0)


def test_mad_is_the_sd_of_normal_numbers_and_bears_wild_ones(rng: np.random.Generator) -> None:
    numbers = 3.0 + 2.0 * rng.standard_normal(200_000)
    assert mad_sd(numbers) == pytest.approx(2.0, rel=0.01)
    numbers[:40_000] = 1e9
    assert mad_sd(numbers) < 3.0


@pytest.mark.parametrize("samples_a_period", [8.0, 12.5, 60.0, 500.0])
def test_noise_is_told_from_a_swing(samples_a_period: float, rng: np.random.Generator) -> None:
    swing = np.sin(2.0 * np.pi * np.arange(50_000) / samples_a_period)
    assert noise_sd(swing + 0.02 * rng.standard_normal(50_000)) == pytest.approx(0.02, rel=0.06)


@pytest.mark.parametrize("sd", [0.3, 0.4, 0.7, 2.0])
def test_noise_of_about_a_step_of_the_converter(sd: float, rng: np.random.Generator) -> None:
    coarse = np.round(0.3 + sd * rng.standard_normal(50_000))
    assert noise_sd(coarse, 1.0) == pytest.approx(np.std(coarse), rel=0.35)


def test_too_little_to_tell() -> None:
    assert noise_sd(np.zeros(5)) == 0.0
    assert mad_sd(np.zeros(1)) == 0.0


def test_an_excerpt_spans_the_whole() -> None:
    numbers = np.arange(100_000.0)
    part = excerpt(numbers, 6_400)
    assert part.size == 6_400
    assert (part[0], part[-1]) == (0.0, 99_999.0)
    assert excerpt(numbers, 200_000) is numbers


@given(ANGLES, st.sampled_from([360.0, 720.0]))
def test_wrapping(angle: float, period: float) -> None:
    wrapped = float(wrapped_deg(angle, period))
    assert 0.0 <= wrapped < period
    assert math.isclose(math.remainder(wrapped - angle, period), 0.0, abs_tol=1e-9)


@given(ANGLES, ANGLES, st.sampled_from([360.0, 720.0]))
def test_the_short_way_is_that_of_the_standard_library(angle: float, other: float, period: float) -> None:
    apart = float(difference_deg(angle, other, period))
    assert -period / 2.0 <= apart < period / 2.0
    away = abs(apart - math.remainder(angle - other, period))
    assert min(away, abs(away - period)) < 1e-9


@given(st.lists(st.floats(-80.0, 80.0), min_size=2, max_size=40), ANGLES)
def test_mean_sd_and_median_on_a_circle(spread: list[float], centre: float) -> None:
    angles = centre + np.array(spread)
    vector = sum(cmath.exp(1j * math.radians(angle)) for angle in angles)
    mean = circular_mean_deg(angles)
    assert abs(float(difference_deg(mean, math.degrees(cmath.phase(vector))))) < 1e-6
    median = circular_median_deg(angles)
    assert abs(float(difference_deg(median, centre + float(np.median(spread))))) < 1e-6
    around = np.array(spread) - float(difference_deg(mean, centre))
    assert circular_sd_deg(angles) == pytest.approx(
        math.sqrt(float(np.sum((around - around.mean()) ** 2)) / (len(spread) - 1)), abs=1e-6
    )


def test_no_angles_have_no_mean() -> None:
    assert math.isnan(circular_mean_deg(np.empty(0)))
    assert math.isnan(circular_median_deg(np.empty(0)))
    assert math.isnan(circular_sd_deg(np.array([1.0])))


def test_a_short_pulse_among_teeth() -> None:
    corners = np.arange(1, 61) * 1e-3
    times = np.sort(np.concatenate([[0.0], corners, [0.02043, 0.0204302]]))
    levels = np.arange(times.size) % 2
    edges = edges_of_levels(times, levels)
    found = short_pulses(edges)
    assert found.start_s.tolist() == [0.02043]
    assert found.width_s[0] == pytest.approx(2e-7)
    assert found.usual_s[0] == pytest.approx(1e-3)
    assert len(pulses(edges)) == len(edges) - 1


def test_teeth_of_two_widths_are_no_short_pulses(rng: np.random.Generator) -> None:
    widths = np.where(rng.random(200) < 0.3, 0.3e-3, 1e-3)
    times = np.concatenate([[0.0], np.cumsum(widths)])
    assert len(short_pulses(edges_of_levels(times, np.arange(times.size) % 2))) == 0


def test_too_few_edges_for_a_pulse() -> None:
    assert len(pulses(edges_of_levels(np.array([0.0]), np.array([1.0])))) == 0
    assert len(short_pulses(edges_of_levels(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 0.0])))) == 0
