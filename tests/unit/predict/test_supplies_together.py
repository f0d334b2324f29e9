"""Several ways of running solved side by side are solved as each by itself."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.test_shared import injectors
from witnessmark.engine.state import State
from witnessmark.predict import DriveModel, supplies
from witnessmark.predict.batch import Batch
from witnessmark.predict.solvedrows import SolvedRows

WAYS = ("key_on", "running", "cranking", "off")
STATE = State(
    {
        ("resistance", "fuse"): np.array([0.02, 2.0, 1e9, 0.02, 0.02]),
        ("shorting", "left"): np.array([0.0, 0.0, 0.0, 50.0, 0.01]),
        ("battery_resistance", "battery"): np.array([0.006, 0.006, 0.02, 0.006, 0.05]),
    }
)


@pytest.fixture(autouse=True)
def _nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supplies, "_KEPT", SolvedRows(0))


def test_they_are_as_each_alone() -> None:
    model = DriveModel.of(injectors())
    alone, together = Batch(model, STATE, {}, 5), Batch(model, STATE, {}, 5)
    supplies.solve_together(together, WAYS)
    assert supplies.solved_ways(together) == WAYS
    for way in WAYS:
        one, other = supplies.solution(alone, way), supplies.solution(together, way)
        for name in one.volts:
            assert other.volts[name] == pytest.approx(one.volts[name], rel=1e-12, abs=1e-12)
            assert other.amps.get(name, np.zeros(5)) == pytest.approx(one.amps.get(name, np.zeros(5)), abs=1e-12)
    # The fuse that a dead short behind it has blown stays blown in each.
    assert abs(supplies.solution(together, "running").amps["fuse"][3]) < 1e-6
