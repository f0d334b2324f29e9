"""CATALOGUE §6 (ours), pair 8: blocked catalyst, intake cam late, exhaust cam late, blocked inlet.

Plateau limits (idle below 7 kPa, 2,500 rpm without load below 10 to 20): common practice, no source. That a compression
test is blind to the exhaust cam: handbook §2 (its own model).
"""

from __future__ import annotations

import pytest

from tests.unit.predict.cylinders import ask, effect, look, moved
from tests.unit.predict.drives import EX, IN

BLOCKED = {("restriction", "catalyst_1"): 0.9}
INTAKE_LATE, EXHAUST_LATE = {("phaser_rest", IN): -20.0}, {("phaser_rest", EX): -20.0}
INLET = {("restriction", "air_filter"): 0.9}


def plateau(state: str, rpm: float | None = None):
    return ask("exhaust_plateau", state, rpm, cylinder=1)


def test_a_sound_plateau_is_low():
    assert 0.0 < look(plateau("idle")) < 7.0
    assert 0.0 < look(plateau("raised")) < 10.0


def test_only_the_blocked_exhaust_raises_it():
    for state in ("idle", "raised", "snap"):
        assert moved(plateau(state), BLOCKED) > max(1.0, 2.0 * abs(moved(plateau(state), INTAKE_LATE)))
        for edits in (INTAKE_LATE, EXHAUST_LATE, INLET):
            assert moved(plateau(state), edits) < 1.0


def test_it_grows_with_the_square_of_the_flow():
    """Bernoulli's law; until the restriction chokes. Speed at one plenum pressure stands for flow."""
    slow, fast = (moved(plateau("raised", rpm), BLOCKED) for rpm in (1500.0, 2250.0))
    assert fast / slow == pytest.approx(2.25, rel=0.2)


def test_compression_is_blind_to_the_exhaust_cam_and_valve_events_are_not():
    peak = ask("compression_peak", "cranking", cylinder=1)
    assert effect(peak, EXHAUST_LATE) == pytest.approx(1.0, abs=0.006)
    assert effect(peak, INTAKE_LATE) < 0.9
    assert effect(peak, BLOCKED) == pytest.approx(1.0, abs=0.01)
    assert effect(peak, INLET) == pytest.approx(1.0, abs=0.001)
    event = ask("valve_event", "idle", valve="1.exhaust.opens")
    assert [moved(event, edits) for edits in (EXHAUST_LATE, INTAKE_LATE, BLOCKED)] == [20.0, 0.0, 0.0]
