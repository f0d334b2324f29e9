"""Places of the whole engine, and a sound engine's spread."""

from __future__ import annotations

import numpy as np

from tests.unit.simulate.benches import four
from witnessmark.engine.state import HEALTHY, state_variables
from witnessmark.simulate.parts import healthy_engine, neighbours, place


def test_places_are_written_as_the_state_has_them() -> None:
    assert place("cylinder", 3) == "cylinder_3"
    assert place("cylinder", 3, valve="exhaust") == "cylinder_3.exhaust"
    assert place("cylinder", 2, beside=1) == "cylinder_1-2"
    assert place("throttle") == "throttle"
    assert neighbours(four()) == ((1, 2), (2, 3), (3, 4))


def test_a_sound_engine_is_drawn_about_healthy_and_keeps_what_is_wrong() -> None:
    wrong = HEALTHY.edited([("ring_leak", "cylinder_2", "set", 9.0)])
    many = [healthy_engine(four(), wrong, np.random.default_rng(k)) for k in range(400)]
    assert all(one.get("ring_leak", "cylinder_2") == 9.0 for one in many)
    gaps = np.array([one.get("spark_gap", "plug_1") for one in many])
    known = state_variables()["spark_gap"]
    assert abs(gaps.mean() - known.healthy) < 4.0 * known.sd / 20.0
    assert abs(gaps.std() / known.sd - 1.0) < 0.15
    for (variable, _), value in many[0].edits.items():
        assert state_variables()[variable].low <= value <= state_variables()[variable].high
