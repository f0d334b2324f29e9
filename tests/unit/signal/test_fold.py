"""A converter that overflows: its tops are brought back, and nothing else is touched."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.signal.traces import errors_s, sampled
from witnessmark.signal import find_edges
from witnessmark.signal.fold import find_fold, unfolded
from witnessmark.signal.robust import quantum

STEP = 0.04
LOW, PERIOD = -1.56, 256 * STEP


def digitised(volts: np.ndarray) -> np.ndarray:
    """Eight bits that stop at the bottom and begin again at the top."""
    counts = np.round((volts - LOW) / STEP).astype(np.int64)
    return LOW + np.mod(np.maximum(counts, 0), 256) * STEP


def swing(amplitude: float, *, samples_a_tooth: float = 23.7, count: int = 40_000) -> np.ndarray:
    size = np.linspace(1.0, amplitude, count)
    return 3.56 + size * np.sin(2.0 * np.pi * np.arange(count) / samples_a_tooth)


def test_tops_come_back() -> None:
    true = swing(8.0)
    shown = digitised(true)
    fold = find_fold(shown)
    assert fold is not None
    assert fold.period == pytest.approx(PERIOD)
    assert fold.samples == int((np.round((true - LOW) / STEP) > 255).sum())
    assert unfolded(shown, fold) == pytest.approx(np.maximum(true, LOW), abs=STEP)


def test_edges_of_a_folded_swing() -> None:
    true = swing(8.0)
    edges = find_edges(sampled(digitised(true), 10_000.0)).only("falling")
    truth = (np.arange(true.size // 23.7 + 1) + 0.5) * 23.7 / 10_000.0
    assert len(edges) == truth.size
    # The level is the median, which stopping at the bottom moves a little.
    errors = errors_s(edges, truth)
    assert (errors - np.median(errors)).std() < 0.2e-4
    assert "beyond the converter's range" in edges.method


def test_a_recording_that_begins_beyond_the_range() -> None:
    true = swing(8.0)[::-1]
    true = true[int(np.argmax(true > 10.0)) :]
    fold = find_fold(digitised(true))
    assert fold is not None
    assert unfolded(digitised(true), fold) == pytest.approx(np.maximum(true, LOW), abs=STEP)


@pytest.mark.parametrize(
    "made", ["within range", "stopped at both ends", "logic over the whole range", "noisy logic", "noise", "sawtooth"]
)
def test_what_is_no_fold_is_left_alone(made: str, rng: np.random.Generator) -> None:
    full = 255 * STEP
    square = np.where(np.arange(40_000) % 50 < 25, 0.0, full)
    noise = rng.standard_normal(40_000)
    values = {
        "within range": digitised(swing(4.0)),
        "stopped at both ends": LOW + np.clip(np.round((swing(8.0) - LOW) / STEP), 0, 255) * STEP,
        "logic over the whole range": square,
        "noisy logic": np.clip(np.round((square + 0.1 * noise) / STEP), 0, 255) * STEP,
        "noise": np.clip(np.round((full / 2.0 + noise * full / 6.0) / STEP), 0, 255) * STEP,
        "sawtooth": np.round(np.arange(40_000) % 51 / 50.0 * 255.0) * STEP,
    }[made]
    assert find_fold(values) is None


def test_the_step_of_a_converter(rng: np.random.Generator) -> None:
    assert quantum(np.round(rng.standard_normal(5000) / STEP) * STEP) == pytest.approx(STEP)
    assert quantum(rng.standard_normal(5000)) == 0.0
    assert quantum(np.array([0.0, 5.0] * 100)) == 0.0
