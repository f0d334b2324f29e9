"""CATALOGUE §6 (ours), pair 1: a crank wheel that has slipped, or all cams late: alike at every sensor.

What parts them follows from where a transducer takes its TDC: from pressure, not from the wheel (handbook §3).
"""

from __future__ import annotations

import pytest

from tests.unit.predict.cylinders import ask, effect, moved
from tests.unit.predict.drives import EX, IN

WHEEL = {("wheel_slip", "crank"): 15.0}
LATE = {("phaser_rest", IN): -15.0, ("phaser_rest", EX): -15.0}


def test_both_read_late_at_the_sensors():
    for cam in ("intake", "exhaust"):
        query = ask("cam_phase_error", "idle", bank=1, cam=cam)
        assert moved(query, WHEEL) == pytest.approx(-15.0)
        assert moved(query, LATE) == pytest.approx(-15.0)


def test_pressure_top_dead_centre_moves_only_with_the_wheel():
    assert moved(ask("tdc_offset"), WHEEL) == pytest.approx(15.0)
    assert moved(ask("tdc_offset"), LATE) == pytest.approx(0.0)


@pytest.mark.parametrize("event", ["intake.opens", "intake.shuts", "exhaust.opens", "exhaust.shuts"])
def test_valve_events_move_only_with_cams(event):
    query = ask("valve_event", "cranking", valve=f"2.{event}")
    assert moved(query, WHEEL) == pytest.approx(0.0)
    assert moved(query, LATE) == pytest.approx(15.0)  # a later event has a larger angle


def test_compression_moves_only_with_cams():
    """-13 % for 21.8°, handbook §2 (its own model): some -9 % for 15°."""
    query = ask("compression_peak", "cranking", cylinder=1)
    assert effect(query, WHEEL) == pytest.approx(1.0, abs=1e-9)
    assert 0.88 < effect(query, LATE) < 0.94


def test_only_the_wheel_moves_the_spark():
    """True spark is commanded plus the crank wheel's slip (docs/physics.md): earlier spark, earlier burning."""
    query = ask("burn_phasing", "idle", cylinder=1)
    assert moved(query, WHEEL) == pytest.approx(-15.0, abs=1.0)  # and a little more air for the work it costs
    assert abs(moved(query, LATE)) < 4.0
