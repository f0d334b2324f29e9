"""What a perfect reasoner reads: the floors simulated in the design, by the benchmarks' own measure."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.against_reference import calibration


@pytest.mark.parametrize(
    ("count", "printed", "within"), [(10_000, 0.010, 0.002), (2_000, 0.023, 0.004), (1_000, 0.031, 0.006)]
)
def test_floor_of_the_calibration_error(count, printed, within):
    rng = np.random.default_rng(8)
    chance = rng.random(count)
    _, floor, _ = calibration(chance, rng.random(count) < chance)
    assert floor == pytest.approx(printed, abs=within)


def test_a_boaster_is_found_out():
    rng = np.random.default_rng(8)
    true = rng.random(4_000)
    stated = np.where(true > 0.5, 1.0 - 0.3 * (1.0 - true), 0.3 * true)
    error, floor, spread = calibration(stated, rng.random(4_000) < true)
    assert error > floor + 10.0 * spread
