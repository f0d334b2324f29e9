"""What the planner tells apart: masses stay what they are, and likely repairs are cut where readings differ."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.infer.points import Particles
from witnessmark.plan.causes import UNLIKELY, told_apart


def cloud(group: np.ndarray, weight: np.ndarray, groups: tuple[object, ...]) -> Particles:
    return Particles(None, weight, group, groups, (), (), none_from=len(weight))  # type: ignore[arg-type]


def job(k: int) -> tuple[tuple[str, str], ...]:
    return (("job", str(k)),)


def test_masses_of_groups_are_kept():
    rng = np.random.default_rng(3)
    group = rng.integers(0, 60, 400)
    weight = rng.dirichlet(np.ones(400))
    points = cloud(group, weight, (*(job(k) for k in range(59)), "elsewhere"))
    causes = told_apart(points, rng.normal(0.0, 3.0, (400, 5)))
    assert causes.chance.sum() == pytest.approx(1.0)
    back = causes.of_groups(60, causes.chance)
    told = sorted(set(causes.group) - {UNLIKELY})
    np.testing.assert_allclose(back[told], points.chance[told])
    assert back[60] == pytest.approx(1.0 - points.chance[told].sum())
    assert 59 in told  # what is no fault always stands by itself


def test_a_likely_repair_is_cut_where_its_points_read_differently():
    """Two clumps of one mass, twenty spreads apart: no hypothesis holds points of both."""
    readings = np.repeat([0.0, 20.0], 50)[:, None]
    causes = told_apart(cloud(np.zeros(100, dtype=int), np.full(100, 0.01), (job(0),)), readings)
    assert len(causes.group) == 2
    assert all(np.ptp(readings[causes.of_point == h]) == 0.0 for h in range(2))


def test_points_that_read_alike_stay_one():
    rng = np.random.default_rng(4)
    readings = rng.normal(0.0, 0.1, (50, 3))
    causes = told_apart(cloud(np.zeros(50, dtype=int), np.full(50, 0.02), (job(0),)), readings)
    assert causes.group == (0,)
