from __future__ import annotations

import numpy as np
import pytest

from witnessmark.recording.timebase import stamp_spacing


@pytest.mark.parametrize("tick", [1e-3, 1e-6, 1.25e-7, 2.5e-7, 5e-8, 1e-9])
def test_the_tick_of_a_clock_is_found(tick: float, rng: np.random.Generator) -> None:
    counts = np.cumsum(rng.integers(3, 5000, 4000)) + 17
    digit, spacing = stamp_spacing(counts * tick)
    assert spacing == pytest.approx(tick, rel=1e-9)
    assert digit <= tick * (1.0 + 1e-9)


def test_the_tick_is_found_in_a_long_recording(rng: np.random.Generator) -> None:
    counts = np.cumsum(rng.integers(3, 5000, 50_000))
    assert stamp_spacing(counts * 1e-6)[1] == pytest.approx(1e-6)


def test_stamps_printed_with_the_noise_of_binary_fractions() -> None:
    times = np.array([float(text) for text in ("5.218737249999999", "5.219288250000000", "7.012169999999999")])
    assert stamp_spacing(times) == pytest.approx((1e-8, 2.5e-7))


def test_times_on_no_grid_have_none(rng: np.random.Generator) -> None:
    assert stamp_spacing(np.cumsum(rng.uniform(0.0, 1.0, 500))) == (0.0, 0.0)


def test_one_stamp_has_none() -> None:
    assert stamp_spacing(np.array([1.0])) == (0.0, 0.0)
