"""A crank that turns back under the last compression: what its teeth say from there on is not taken for turning on."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Motion, coast_down, joined, turning
from tests.unit.measure.bench import Setup, described, found, record
from witnessmark.decode.law import middling_law
from witnessmark.decode.lock import WheelLock
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.measure import measure
from witnessmark.measure.standing import stood_between


def lock_of(counts: np.ndarray, times: np.ndarray) -> WheelLock:
    """A lock in one part that counts its teeth as told, right or wrong."""
    n = counts.size
    nothing = np.zeros(n, dtype=bool)
    missing = np.concatenate(([0], np.diff(counts) - 1))
    pattern = parse_wheel("24-1")
    noise, part, nowhere = np.full(n, 1e-7), np.zeros(n, dtype=np.int64), np.full(n, np.nan)
    law = middling_law(pattern)
    return WheelLock(pattern, 1.0, times, noise, counts, part, missing, nothing, nothing, nowhere, (), law, 0.0)


# Invented: slows from 300 rpm to rest over four teeth of 15°, 10° beyond the last, and is thrown back as fast.
SLOWING_MS = np.array([8.4, 8.9, 10.0, 12.8])
GAINING_MS = np.array([18.7, 12.4, 11.0, 10.3])


def test_two_teeth_missing_just_where_it_stood_are_a_crank_that_turned_back() -> None:
    steps = np.concatenate((SLOWING_MS, [51.0], GAINING_MS))
    counts = np.concatenate((np.arange(5), 7 + np.arange(5)))
    (at,) = stood_between(lock_of(counts, np.concatenate(([0.0], np.cumsum(steps))) / 1e3), 0)
    assert at == 5


def test_two_teeth_missing_at_an_even_speed_are_missing() -> None:
    steps = np.concatenate((np.full(4, 10.0), [30.0], np.full(4, 10.0)))
    counts = np.concatenate((np.arange(5), 7 + np.arange(5)))
    assert not stood_between(lock_of(counts, np.concatenate(([0.0], np.cumsum(steps))) / 1e3), 0).size


@pytest.mark.parametrize("ripple", [0.3, 0.5, 0.6])
@pytest.mark.parametrize("wheel", ["60-2", "36-2", "24-1"])
def test_compression_at_cranking_speed_is_no_standing(wheel: str, ripple: float) -> None:
    one = measure(record(turning(200.0, 16.0, ripple=ripple), Setup(wheel)), described(Setup(wheel)))
    assert one.roles is not None
    assert one.roles.map is not None
    assert one.turns is not None
    assert one.turns.rpm.size >= 14


@pytest.mark.parametrize("seed", range(6))
def test_no_speed_is_told_of_a_crank_that_is_thrown_back(seed: int) -> None:
    rng = np.random.default_rng(seed)
    motion = joined(
        turning(700.0, float(rng.uniform(9.0, 10.0))),
        coast_down(700.0, throw_back_deg=float(rng.uniform(60.0, 110.0)), accel=float(rng.uniform(150.0, 300.0))),
        0.2,
    )
    forward = np.flatnonzero(np.diff(motion.deg) < 0.0)[0]
    stood = motion.times_s[forward]
    one = measure(record(motion, Setup("24-1")), described(Setup("24-1")))
    for finding in found(one, "speed_measured"):
        assert finding.source.to_s is not None
        assert finding.source.to_s <= stood + 1e-3
        low, high = _turned(motion, finding.source.from_s or 0.0), _turned(motion, finding.source.to_s)
        if finding.method.startswith("over"):
            true = (high - low) / (finding.source.to_s - (finding.source.from_s or 0.0)) / 6.0
            assert abs(finding.value - true) < 4.0 * finding.sd + 0.02 * true


def _turned(motion: Motion, time_s: float) -> float:
    return float(motion.at(np.array([time_s]))[0])
