"""A freeze frame is one moment: what stands in it belongs to the speed and load that stand in it.

ISO 15031-5 (SAE J1979), service 02, from memory: a frame holds the parameters as they were when the code was set.
"""

from __future__ import annotations

import pytest

from tests.unit.infer.worked import saw
from witnessmark.infer.frames import in_their_frames
from witnessmark.vocabulary import Condition

FRAME = Condition(freeze="P0171")


def framed(rpm: float, load: float | None, **more: object) -> Condition:
    findings = [saw("fuel_trim", 23.0, condition=Condition(freeze="P0171", **more), bank=1)]
    findings += [saw("engine_speed", rpm, condition=FRAME)]
    findings += [] if load is None else [saw("absolute_load", load, condition=FRAME)]
    return in_their_frames(findings)[0].condition


@pytest.mark.parametrize(
    ("rpm", "load", "state"),
    [(780.0, 22.0, "idle"), (2100.0, 30.0, "cruise"), (3450.0, 70.0, "acceleration"), (4500.0, 86.0, "full_load")],
)
def test_a_frame_is_taken_at_its_own_speed_and_load(rpm, load, state):
    """Idle at some 20 %, the road at 30, wide open at 80 to 90 % of absolute load: common practice, no source."""
    found = framed(rpm, load)
    assert (found.state, found.freeze) == (state, "P0171")
    assert found.speed_rpm == (None if state == "idle" else rpm)


def test_speed_alone_is_kept_and_what_was_said_stands():
    assert framed(3450.0, None) == Condition(speed_rpm=3450.0, freeze="P0171")
    assert framed(3450.0, 70.0, state="cruise") == Condition("cruise", freeze="P0171")


def test_other_frames_and_readings_without_one_are_left_alone():
    others = [
        saw("fuel_trim", 23.0, condition=Condition(freeze="P0300"), bank=1),
        saw("fuel_trim", 2.0, condition=Condition("idle"), bank=1),
        saw("engine_speed", 3450.0, condition=FRAME),
        saw("absolute_load", 70.0, condition=FRAME),
    ]
    found = in_their_frames(others)
    assert found[:2] == tuple(others[:2])
    assert [one.value for one in found] == [one.value for one in others]
