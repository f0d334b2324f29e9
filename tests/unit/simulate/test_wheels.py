"""Edges passing: forward, back, standing; and levels that follow them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.simulate.motion import Motion
from witnessmark.simulate.sensors import flux_slope, level_of, switched
from witnessmark.simulate.vehicle import SensorMake
from witnessmark.simulate.wheels import CutWheel, passes_of


def comb(n: int = 6) -> CutWheel:
    made = np.arange(2 * n) * 180.0 / n + 5.0
    rising = np.arange(2 * n) % 2 == 0
    return CutWheel(360.0, made, np.zeros(2 * n), rising, rising)


def test_passes_at_constant_speed() -> None:
    times = np.linspace(0.0, 1.0, 1001)
    passes = passes_of(times, 720.0 * times, comb().at_deg, 360.0)
    assert passes.times_s == pytest.approx((5.0 + 30.0 * np.arange(24)) / 720.0)
    assert passes.forward.all()
    assert list(passes.turn[[0, -1]]) == [0, 1]


def test_rolling_back_passes_the_same_edges_the_other_way() -> None:
    times = np.linspace(0.0, 2.0, 2001)
    angle = 100.0 * np.sin(np.pi * times / 2.0)
    passes = passes_of(times, angle, comb().at_deg, 360.0)
    there = passes.edge[passes.forward]
    assert list(there) == [0, 1, 2, 3]
    assert list(passes.edge[~passes.forward]) == list(there[::-1])


@given(st.lists(st.floats(-300.0, 300.0), min_size=2, max_size=30), st.floats(0.0, 360.0))
def test_level_always_matches_the_angle(steps: list[float], start: float) -> None:
    """However the wheel is turned, the level is what the wheel's angle says: no edge is lost or counted twice."""
    angle = start + np.concatenate([[0.0], np.cumsum(steps)])
    times = np.arange(angle.size, dtype=np.float64)
    wheel = comb()
    motion = Motion(times, angle, np.zeros(angle.size))
    level, passes = switched(wheel, motion, angle, SensorMake("hall", 0.0, 0.0), np.random.default_rng(0))
    assert passes.times_s.size == level.times_s.size
    at = 0.5 * (times[:-1] + times[1:])
    between = np.interp(at, times, angle)
    near = np.abs((between[:, None] - wheel.at_deg[None, :] + 180.0) % 360.0 - 180.0).min(axis=1)
    clear = near > 1e-6
    assert list(level.at(at)[clear]) == [level_of(wheel, a) for a in between[clear]]


def test_flux_falls_through_zero_at_each_tooth() -> None:
    wheel = comb()
    slope = flux_slope(wheel)
    for tooth in wheel.at_deg[wheel.even]:
        k = round(tooth / 0.05)
        assert slope[k - 20] > 0.1 > -0.1 > slope[k + 20]
        assert abs(slope[k]) < 0.01
    assert slope.max() == pytest.approx(1.0, abs=0.1)
