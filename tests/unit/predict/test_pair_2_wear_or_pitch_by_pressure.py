"""CATALOGUE §6 (ours), pair 2, by pressure: wear is late and continuous, a pitch is whole and of either sign.

The handbook's elongation (§1, computed) makes a worn chain late, never early; what late does to compression is §2.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.cylinders import ask, effect, moved
from tests.unit.predict.drives import IN

PEAK = ask("compression_peak", "cranking", cylinder=1)
SHUTS = ask("valve_event", "cranking", valve="1.intake.shuts")


def test_wear_only_lowers_compression():
    falling = [effect(PEAK, {("elongation", "primary"): percent}) for percent in (0.3, 0.6, 0.9, 1.2)]
    assert falling == sorted(falling, reverse=True)
    assert falling[0] < 1.0


def test_a_pitch_either_way_lowers_or_raises_it():
    """One pitch of 40 teeth on the cam is 18° (handbook, §1)."""
    mesh = ("pitch_slip", f"primary.{IN}")
    assert effect(PEAK, {mesh: -1.0}) < 0.93
    assert effect(PEAK, {mesh: 1.0}) > 1.03
    assert moved(SHUTS, {mesh: -1.0}) == pytest.approx(18.0)


def test_the_event_moves_with_wear_by_degrees_and_not_by_pitches():
    """7.4° for 1 % on 350 mm (handbook, §1); here 462 mm of 8 mm pitch and 18° a pitch: 10.4°."""
    assert moved(SHUTS, {("elongation", "primary"): 1.0}) == pytest.approx(0.01 * 462.0 / 8.0 * 18.0, rel=0.02)
