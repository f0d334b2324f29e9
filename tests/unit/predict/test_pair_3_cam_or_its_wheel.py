"""CATALOGUE §6 (ours), pair 3: valve_event clears the cam's wheel.

A wheel that has turned on its cam moves no valve: by definition of the two. Common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.cylinders import ask, effect, moved
from tests.unit.predict.drives import IN

EVENT = ask("valve_event", "cranking", valve="3.intake.shuts")
PEAK = ask("compression_peak", "cranking", cylinder=3)


def test_a_slipped_wheel_leaves_the_valves_alone():
    slipped = {("wheel_slip", IN): -20.0}
    assert moved(ask("cam_phase_error", "idle", bank=1, cam="intake"), slipped) == pytest.approx(-20.0)
    assert moved(EVENT, slipped) == 0.0
    assert effect(PEAK, slipped) == 1.0


@pytest.mark.parametrize(
    "edit",
    [
        {("phaser_rest", IN): -18.0},
        {("pitch_slip", f"primary.{IN}"): -1.0},
        {("sprocket_slip", f"primary.{IN}"): -18.0},
    ],
    ids=["phaser", "pitch", "sprocket"],
)
def test_what_moves_the_cam_moves_its_valves(edit):
    assert moved(EVENT, edit) == pytest.approx(18.0)
    assert effect(PEAK, edit) < 0.93
