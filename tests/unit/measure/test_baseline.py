"""A signal's zero that wanders: even edges late, the others early; how they part gives it back. Common practice."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Sensor, read_wheel, turning
from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.measure.baseline import shifted_deg, wander_deg

PATTERN = parse_wheel("60-2")
RPM = 800.0


def map_of(late_deg: np.ndarray | float, *, jitter_deg: float = 0.02, seed: int = 3) -> AngleMap:
    """A map of forty turns whose even edges come late by so much, the others early by 1.5 times that."""
    edges = read_wheel(PATTERN, turning(RPM, 40.0), Sensor(jitter_deg=jitter_deg, uneven_deg=0.2, seed=seed))
    even, others = edges.even(), edges.others()
    late = np.broadcast_to(late_deg, 4000)
    grid = np.linspace(0.0, even[-1], 4000)
    moved = even + np.interp(even, grid, late) / (6.0 * RPM)
    early = others - 1.5 * np.interp(others, grid, late) / (6.0 * RPM)
    return angle_map(lock_wheel(moved, PATTERN, others_s=early))


@pytest.mark.parametrize("size_deg", [0.1, 0.3])
def test_what_wanders_is_found(size_deg: float) -> None:
    late = size_deg * np.sin(np.linspace(0.0, 3.0, 4000) ** 2)
    amap = map_of(late)
    got = wander_deg(amap)
    assert got is not None
    true = np.interp(amap.knots_s, np.linspace(0.0, amap.knots_s[-1], 4000), late)
    left = got - true
    assert np.std(left) < 0.15 * np.std(true) + 0.01


def test_a_zero_that_stands_still_is_left_alone() -> None:
    assert wander_deg(map_of(0.0)) is None
    assert wander_deg(map_of(0.0, jitter_deg=0.2)) is None


def test_a_zero_that_moved_between_two_recordings() -> None:
    one, other = map_of(0.0), map_of(0.2, seed=3)
    assert shifted_deg(one, other) == pytest.approx(0.2, abs=0.03)
    assert shifted_deg(one, map_of(0.0)) < 0.02
