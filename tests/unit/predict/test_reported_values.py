"""What scopes and computers read of a cam, against sums worked out by hand.

The equation is the design's own (actual = sign · (phase + cam-wheel slip - crank-wheel slip - learnt zero), deviation =
actual - target); the numbers beside each check were added up by hand, not by the program.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.drives import EX, IN, MOVED, PARKED, asked, both_cams, model_of, new, read
from witnessmark.engine.drive import CRANK
from witnessmark.engine.number import Number
from witnessmark.predict import command_key
from witnessmark.vocabulary import Condition

INTAKE = {"bank": 1, "cam": "intake"}
# One pitch of a 20-tooth crank sprocket is 18° (360/20, check_values.csv). Its wheel 3° ahead, the crank's 5° ahead,
# zero 2° off.
ALL_OF_IT = {
    ("pitch_slip", f"primary.{IN}"): 1.0,
    ("wheel_slip", IN): 3.0,
    ("wheel_slip", CRANK): 5.0,
    ("learnt_error", f"cam_zero:{IN}"): 2.0,
}


@pytest.mark.parametrize(("sign", "actual"), [(1.0, 14.0), (-1.0, -14.0)])
def test_actual_value_in_either_sign(sign, actual):
    """18 + 3 - 5 - 2 = 14."""
    model = model_of(sign=Number.exactly(sign))
    state = new(model, ALL_OF_IT)
    assert read(model, asked("cam_phase_reported", **INTAKE), state) == pytest.approx(actual)
    assert read(model, asked("cam_deviation", **INTAKE), state) == pytest.approx(actual)  # no target while parked


@pytest.mark.parametrize(("sign", "actual", "deviation"), [(1.0, 34.0, 14.0), (-1.0, -34.0, -14.0)])
def test_deviation_is_actual_less_target(sign, actual, deviation):
    """Asked for 20° early and going there: 18 + 20 + 3 - 5 - 2 = 34 against a target of 20, both in the maker's
    sign.
    """
    model = model_of(sign=Number.exactly(sign))
    state, target = new(model, ALL_OF_IT), {command_key(IN, MOVED): 20.0}
    assert read(model, asked("cam_phase_reported", MOVED, **INTAKE), state, target) == pytest.approx(actual)
    assert read(model, asked("cam_deviation", MOVED, **INTAKE), state, target) == pytest.approx(deviation)


def test_scope_sees_the_same_sum_without_sign_and_zero():
    """18 + 3 - 5 = 16, whatever the computer's sign and zero are."""
    model = model_of(sign=Number.exactly(-1.0))
    assert read(model, asked("cam_phase_error", **INTAKE), new(model, ALL_OF_IT)) == pytest.approx(16.0)


def test_sign_assumed_for_a_batch_goes_before_the_description():
    model = model_of()
    assert read(model, asked("cam_deviation", **INTAKE), new(model, ALL_OF_IT), {"sign": -1.0}) == pytest.approx(-14.0)


def test_learnt_value_is_told_in_the_makers_sign():
    model = model_of(sign=Number.exactly(-1.0))
    place = {"learnt_item": "cam_zero", "cam": "intake", "bank": 1}
    assert read(model, asked("learnt_reported", **place), new(model, ALL_OF_IT)) == pytest.approx(-2.0)


def test_crank_wheel_moves_all_cams_alike_and_tdc_but_no_mark():
    """A crank wheel 9° ahead: its TDC comes 9° before the piston's, every cam seems 9° late, nothing in the drive
    moved.
    """
    model = model_of("made-up v6 with second chains")
    state = new(model, {("wheel_slip", CRANK): 9.0})
    for cam in model.engine.cams:
        place = {"bank": cam.bank, "cam": cam.kind}
        assert read(model, asked("cam_phase_error", **place), state) == pytest.approx(-9.0)
        assert read(model, asked("mark_offset", mark=cam.id), state) == 0.0
    assert read(model, asked("tdc_offset"), state) == pytest.approx(9.0)
    assert read(model, asked("wheel_angle_seen", wheel="crank"), state) == pytest.approx(9.0)


def test_all_cams_late_leave_tdc_where_it_is():
    """The same readings from the drive: the crank's mesh one pitch late. Only a pressure trace parts the two
    (the design's pair 1).
    """
    model = model_of()
    state = new(model, {("pitch_slip", "primary.crank"): -1.0})
    assert both_cams(model, state) == pytest.approx((-18.0, -18.0))
    assert read(model, asked("tdc_offset"), state) == 0.0
    wheel = new(model, {("wheel_slip", CRANK): 18.0})
    assert both_cams(model, wheel) == pytest.approx((-18.0, -18.0))
    assert read(model, asked("tdc_offset"), wheel) == pytest.approx(18.0)


def test_a_cam_wheel_moves_its_own_cam_only():
    model = model_of()
    state = new(model, {("wheel_slip", EX): -12.0})
    assert both_cams(model, state) == pytest.approx((-12.0, 0.0))
    assert read(model, asked("tdc_offset"), state) == 0.0
    assert read(model, asked("mark_offset", mark="exhaust"), state) == 0.0
    # A gauge on the camshaft turns half as far as the crank: an identity of four strokes.
    assert read(model, asked("wheel_angle_seen", wheel=EX), state) == pytest.approx(-6.0)


def test_separation_is_one_cam_less_the_other():
    model = model_of()
    state = new(model, {("wheel_slip", EX): -12.0, ("wheel_slip", CRANK): 7.0})
    query = asked("cam_separation", bank=1, cam="intake", other_cam="exhaust", other_bank=1)
    assert read(model, query, state) == pytest.approx(12.0)  # the crank's wheel drops out


def test_sensor_leads_reversed():
    """Its polarity is told the wrong way round, and its edges come half a tooth (3°: from memory, our
    simplification) early.
    """
    model = model_of()
    state = new(model, {("sensor_polarity", IN): -1.0})
    query = asked("signal_polarity", position=IN)
    assert read(model, query, new(model)) == 1.0
    assert read(model, query, state) == 0.0
    assert both_cams(model, state) == pytest.approx((0.0, 3.0))


def test_a_phaser_that_follows_and_one_that_is_stuck():
    """Asked for 30°: the sound one's deviation stays 0, the stuck one's is the whole 30° (the design's pair 3)."""
    model = model_of()
    target = {command_key(IN, MOVED): 30.0}
    follows, stuck = new(model), new(model, {("phaser_gain", IN): 0.0})
    deviation = asked("cam_deviation", MOVED, **INTAKE)
    assert read(model, deviation, follows, target) == pytest.approx(0.0)
    assert read(model, deviation, stuck, target) == pytest.approx(-30.0)
    assert read(model, asked("cam_phase_reported", MOVED, **INTAKE), stuck, target) == pytest.approx(0.0)
    slew = asked("phaser_slew", MOVED, **INTAKE)
    assert read(model, slew, follows) == 120.0  # the state's healthy value
    assert read(model, slew, stuck) == 0.0


def test_a_phaser_stuck_off_its_rest_shows_parked_too():
    model = model_of()
    state = new(model, {("phaser_gain", IN): 0.0, ("phaser_rest", IN): 25.0})
    assert both_cams(model, state) == pytest.approx((0.0, 25.0))
    target = {command_key(IN, MOVED): 25.0}
    assert read(model, asked("cam_deviation", MOVED, **INTAKE), state, target) == pytest.approx(
        0.0
    )  # by chance where asked


@pytest.mark.parametrize(("spool", "held"), [(1.0, 50.0), (0.5, 25.0), (-0.5, 0.0), (0.05, 0.0)])
def test_a_stuck_oil_valve_drives_its_cam_within_its_range(spool, held):
    """50° of range; a valve near its middle does nothing (docs/physics.md, "phaser": our guess)."""
    model = model_of()
    assert both_cams(model, new(model, {("spool_offset", IN): spool}))[1] == pytest.approx(held)


def test_an_exhaust_phaser_moves_the_other_way():
    model = model_of()
    assert both_cams(model, new(model, {("spool_offset", EX): 1.0}))[0] == pytest.approx(-45.0)


def test_lock_play_lets_a_cam_fall_half_of_it_late():
    """Drag retards: common practice, no source. Scatter of an even spread of width w is w/√12 (an identity)."""
    model = model_of()
    state = new(model, {("phaser_lock_play", IN): 8.0})
    assert both_cams(model, state) == pytest.approx((0.0, -4.0))
    scatter = read(model, asked("phase_scatter", **INTAKE), state)
    assert scatter == pytest.approx((0.15**2 + 64.0 / 12.0) ** 0.5)


def test_a_cam_that_stands_has_no_reading():
    model = model_of()
    state = new(model, {("drive_connected", "primary"): 0.0})
    assert both_cams(model, state) != both_cams(model, state)  # NaN


@pytest.mark.parametrize("state", ["off", "key_on", "cranking"])
def test_nothing_is_commanded_before_the_engine_runs(state):
    """Without oil pressure the phaser rests in its lock: common practice, no source."""
    model = model_of()
    stuck = new(model, {("phaser_gain", IN): 0.0})
    assert read(model, asked("cam_deviation", Condition(state), **INTAKE), stuck) == 0.0
    assert read(model, asked("cam_deviation", PARKED, **INTAKE), stuck) == 0.0
