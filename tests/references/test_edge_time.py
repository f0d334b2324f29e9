"""What an edge's time is worth, against the handbook's check values (topic 4).

Their source: evaluations of var τ ≥ σ²/Σ s′(t_k)² and σ_t = σ_v/|dv/dt| for the handbook's example (60-2 wheel,
800 rpm, 1 V, 20 mV of noise, 100 kS/s), the whole-period bound confirmed there by a Monte-Carlo maximum-likelihood fit.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.references.check_values import check_value, check_values
from witnessmark.recording import RegularTime, Trace
from witnessmark.signal import find_edges

RATE_HZ, SPEED_RPM, TEETH_HZ, NOISE_V = 100_000.0, 800.0, 800.0, 0.02
DEG_PER_S = 6.0 * SPEED_RPM


def number(quantity: str, inputs: str) -> float:
    value = check_value(quantity, inputs).expected
    assert isinstance(value, float)
    return value


def test_the_example_is_the_handbooks() -> None:
    assert pytest.approx(DEG_PER_S) == number("crank deg per second 6 n", "800 rpm")
    assert pytest.approx(TEETH_HZ) == number("tooth frequency N n/60", "60-2 at 800 rpm")
    assert pytest.approx(DEG_PER_S / RATE_HZ) == number("angle per sample", "800 rpm, 100 kS/s")


def test_quantisation_is_that_of_the_sample_period(rng: np.random.Generator) -> None:
    """A logic line sampled at 100 kS/s: stated doubt and true error are both dt/sqrt(12)."""
    corners = np.cumsum(rng.uniform(0.5e-3, 0.7e-3, 4000))
    time = np.arange(int(corners[-1] * RATE_HZ)) / RATE_HZ
    level = (np.searchsorted(corners, time, side="right") % 2).astype(np.uint8)
    edges = find_edges(Trace("bench", 0, level, RegularTime(0.0, 1.0 / RATE_HZ, time.size)))
    expected = check_value("quantisation jitter dt/sqrt(12) in crank deg", "800 rpm, 100 kS/s")
    assert np.median(edges.sd_s) * DEG_PER_S == pytest.approx(expected.expected, rel=0.01)
    error_deg = (edges.times_s - corners[: len(edges)]) * DEG_PER_S
    assert error_deg.std() == pytest.approx(expected.expected, rel=0.05)


@pytest.fixture(scope="module")
def swing() -> tuple[np.ndarray, np.ndarray]:
    """Errors and stated doubts of 4,000 falling zeros of the handbook's sine [s]."""
    rng = np.random.default_rng(8)
    time = np.arange(500_000) / RATE_HZ
    # An odd rate of teeth, so that the zeros fall everywhere between two samples.
    phase = 2.0 * np.pi * (TEETH_HZ * 1.000137 * time)
    values = np.sin(phase) + NOISE_V * rng.standard_normal(time.size)
    edges = find_edges(Trace("bench", 0, values, RegularTime(0.0, 1.0 / RATE_HZ, time.size))).only("falling")
    truth = (np.arange(len(edges)) + 0.5) / (TEETH_HZ * 1.000137)
    return edges.times_s - truth, edges.sd_s


def test_a_zero_is_timed_between_the_two_bounds(swing: tuple[np.ndarray, np.ndarray]) -> None:
    """Better than one crossing read off two noisy samples, no better than the bound for a whole period."""
    error_s, _ = swing
    single = number("single-crossing jitter sigma_v/slope, sine zero crossing", "A=1 V,f=800 Hz,sigma=20 mV")
    bound = number(
        "Cramer-Rao bound for delay of one sine period, sigma/(A w sqrt(N/2))", "A=1,f=800,sigma=0.02,fs=100 kHz,N=125"
    )
    assert bound < error_s.std() * 1e6 < single
    assert abs(error_s.mean()) * 1e6 < 0.2


def test_the_stated_doubt_is_the_true_one(swing: tuple[np.ndarray, np.ndarray]) -> None:
    error_s, sd_s = swing
    assert np.sqrt(np.mean(sd_s**2)) == pytest.approx(error_s.std(), rel=0.1)
    assert np.mean(np.abs(error_s) < 1.645 * sd_s) == pytest.approx(0.9, abs=0.03)


def test_in_crank_degrees_it_lies_between_the_same_bounds(swing: tuple[np.ndarray, np.ndarray]) -> None:
    bounds = sorted(row.expected for row in check_values() if row.quantity == "same in crank deg")
    assert len(bounds) == 2
    assert bounds[0] < swing[0].std() * DEG_PER_S < bounds[1]
