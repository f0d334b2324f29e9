"""Codes: limits crossed, given that the monitor ran.

What a code speaks about is the standard's (SAE J2012 / ISO 15031-6). Limits "of the order of 5 to 10 degrees" are
common practice, no source; floors and ceilings are the project's own guess.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import EX, IN, model_of, new
from witnessmark.catalogue.codes import codes
from witnessmark.engine.library import known_engines
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.state import HEALTHY
from witnessmark.predict.batch import Batch
from witnessmark.predict.codes import LIMIT_ODDS, LIMITS_DEG, code_chance, felt_key, limits_of


def chance(model, name, edits=None, numbers=None) -> float:
    """Chance of a code over the engine's possible limits."""
    state = new(model, edits)
    _, odds = limits_of(model.engine)
    found = code_chance(model, name, state, numbers or {}, state.rows)
    assert found is not None
    return float((found @ odds)[0])


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_chance_rises_with_the_phase_either_way(sign):
    model = model_of(correlation_limit_deg=ABSENT)
    phases = np.arange(0.0, 40.0, 0.5)
    state = new(model, {("wheel_slip", IN): sign * phases})
    found = code_chance(model, "P0016", state, {}, phases.size) @ LIMIT_ODDS
    assert np.all(np.diff(found) >= 0.0)
    assert found[0] == pytest.approx(0.005, abs=0.002)  # set for no physical reason: our guess
    assert found[-1] == pytest.approx(0.92, abs=1e-3)  # 8 % ought to set and do not: our guess
    half = phases[np.searchsorted(found, 0.47)]
    assert 5.0 <= half <= 10.0  # common practice, no source


def test_described_limits_go_before_the_usual_ones():
    limits, odds = limits_of(model_of(correlation_limit_deg=Number.exactly(8.0)).engine)
    np.testing.assert_allclose((limits, odds), ([8.0], [1.0]))
    limits, odds = limits_of(model_of(correlation_limit_deg=Number.between(6.0, 10.0)).engine)
    np.testing.assert_allclose(limits, [6.0, 7.0, 8.0, 9.0, 10.0])
    assert odds.sum() == pytest.approx(1.0)
    assert LIMIT_ODDS.sum() == pytest.approx(1.0)
    assert limits_of(model_of(correlation_limit_deg=ABSENT).engine)[0] is LIMITS_DEG


@pytest.mark.parametrize(("a_is", "mine", "others"), [("intake", "P0016", "P0017"), ("exhaust", "P0017", "P0016")])
def test_which_cam_is_a_is_the_makers_choice(a_is, mine, others):
    model = model_of(a_is=a_is)
    late = {("pitch_slip", f"primary.{IN}"): -1.0}
    assert chance(model, mine, late) > 0.9
    assert chance(model, others, late) < 0.03


def test_crank_wheel_sets_the_codes_of_all_cams():
    model = model_of("made-up v6 with links")
    state = {("wheel_slip", "crank"): 25.0}
    for name in ("P0016", "P0017", "P0018", "P0019"):
        assert chance(model, name, state) > 0.9
    for name in ("P0008", "P0009"):  # half of the makers split these off: our guess
        assert chance(model, name, state) == pytest.approx(0.005 + 0.915 * 0.5, abs=0.01)
    one = {("wheel_slip", IN): 25.0}
    assert chance(model, "P0008", one) < 0.03
    assert chance(model, "P0018", one) < 0.03


def test_what_was_learnt_is_no_longer_seen():
    """A computer that has learnt a shifted cam as its zero sets no code for it: monitors see phase less the learnt
    zero.
    """
    model = model_of()
    late = {("pitch_slip", f"primary.{IN}"): -1.0, ("learnt_error", f"cam_zero:{IN}"): -18.0}
    assert chance(model, "P0016", late) < 0.03


def test_earlier_and_later_than_asked():
    model = model_of()  # A is the intake cam
    early, late = {("wheel_slip", IN): 20.0}, {("wheel_slip", IN): -20.0}
    assert chance(model, "P0011", early) > 0.6 > 0.05 > chance(model, "P0011", late)
    assert chance(model, "P0012", late) > 0.6 > 0.05 > chance(model, "P0012", early)
    assert chance(model, "P0014", early) < 0.05


def test_no_phaser_no_code_of_it():
    model = model_of("made-up v6 with links")  # exhaust cams without phasers
    assert model.engine.drive is not None
    assert model.engine.drive.phaser(EX) is None
    assert chance(model, "P0014", {("wheel_slip", EX): 40.0}) == pytest.approx(0.005)


def test_slow_phaser():
    model = model_of()
    assert chance(model, "P000A", {("phaser_rate", IN): 15.0}) > 0.5
    assert chance(model, "P000A") < 0.05
    assert chance(model, "P000B", {("phaser_rate", IN): 15.0}) < 0.05


@pytest.mark.parametrize(("name", "wheel"), [("P0335", "crank"), ("P0340", IN), ("P0365", EX)])
@pytest.mark.parametrize("edit", [("sensor_gain", 0.05), ("wheel_bad_teeth", 4.0), ("sensor_gap", 8.0)])
def test_a_lost_signal_sets_its_own_codes(name, wheel, edit):
    model = model_of()
    variable, value = edit
    assert chance(model, name, {(variable, wheel): value}) > 0.3
    for other in {"crank", IN, EX} - {wheel}:
        assert chance(model, name, {(variable, other): value}) < 0.04


def test_a_standing_cam_sets_everything_of_its_own():
    model = model_of()
    broken = {("drive_connected", "primary"): 0.0}
    assert chance(model, "P0016", broken) > 0.9
    assert chance(model, "P0340", broken) > 0.5


def test_what_readings_tell_of_a_cam_is_added_to_its_phase():
    model = model_of()
    assert chance(model, "P0016", numbers={felt_key(IN): -12.0}) > 0.9 > 0.05 > chance(model, "P0016")


def test_unknown_codes_are_not_predicted():
    assert code_chance(model_of(), "P1234", HEALTHY, {}, 1) is None


def test_no_code_of_a_bank_without_a_cam():
    assert chance(model_of("made-up v8 with pushrods"), "P0009") < 0.04


@pytest.mark.parametrize("engine", [known.name for known in known_engines()])
def test_sound_engines_set_no_code_but_by_chance(engine):
    """False alarms 2 % by design; wear and play within the healthy mean must not add more than another 2 %."""
    model = model_of(engine)
    shared, (_, odds) = Batch(model, HEALTHY, {}, 1), limits_of(model.engine)
    for name, code in codes().items():
        if not any(cam.bank == (code.bank or 1) for cam in model.engine.cams):
            continue
        found = code_chance(model, name, HEALTHY, {}, 1, batch=shared)
        if found is not None:
            assert 0.001 <= float((found @ odds)[0]) < 0.04, name
