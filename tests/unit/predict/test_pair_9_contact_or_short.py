"""Pair 9: contact resistance, a sensor, a dragged reference, a shorted wire: one position signal is gone.

CATALOGUE §6, pair 9 (ours). Ohm's and Kirchhoff's laws; that a reference is shared, and that unplugging one sensor
after another finds the one that drags it, is common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import at

FOUR = model_of()
# In this engine crank and cams hang on splice_5v, the throttle's sensor on the same source, the pedal on another.
CONTACT = {("resistance", "crank"): 3000.0}
SENSOR = {("sensor_gain", "crank"): 0.05}
DRAGGED = {("shorting", "ref_a"): 2.0}
SHORTED = {("shorting", "crank"): 2.0}
CASES = {"contact": CONTACT, "sensor": SENSOR, "dragged": DRAGGED, "shorted": SHORTED}
HALL = {"electric:reluctance:crank": 0.0}


def volts(edits, node, during=None):
    return at(FOUR, "reference_volts", "key_on", edits, during=during, node=node)


@pytest.mark.parametrize("name", CASES)
def test_the_ordinary_reading_is_the_same_for_all(name):
    sound = at(FOUR, "signal_amplitude", "idle", numbers=HALL, position="crank")
    assert sound > 4.5
    assert at(FOUR, "signal_amplitude", "idle", CASES[name], numbers=HALL, position="crank") < 0.5


def test_the_siblings_part_a_reference_from_a_contact_and_a_sensor():
    for name, edits in CASES.items():
        dragged = name in ("dragged", "shorted")
        for sibling in ("throttle_sensor", "cam_b1_intake", "ref_a"):
            assert (volts(edits, sibling) < 1.0) == dragged, (name, sibling)
        assert volts(edits, "pedal") > 4.9  # another source


def test_the_sensors_own_pin_parts_a_contact_from_a_sensor():
    assert volts(CONTACT, "crank") < 3.0
    assert volts(SENSOR, "crank") > 4.9


def test_a_drop_at_real_current_finds_the_contact():
    """Of 5 V some 0.6 kilohm of sensor and 3 kilohm of contact: 4.2 V stand across the contact."""
    drop = at(FOUR, "branch_drop", "key_on", CONTACT, node="crank")
    assert drop > 3.0
    for name in ("sensor", "dragged"):
        assert abs(at(FOUR, "branch_drop", "key_on", CASES[name], node="crank")) < 0.1
    assert at(FOUR, "branch_drop", "off", CONTACT, node="crank") < 0.01
    bridged = at(FOUR, "branch_drop", "key_on", CONTACT, during="bridge_branch", node="crank")
    assert abs(bridged) < 0.01


def test_unplugging_in_turn_finds_who_drags():
    assert volts(SHORTED, "ref_a", "unplug_in_turn:crank") > 4.9
    assert volts(SHORTED, "ref_a", "unplug_in_turn:throttle_sensor") < 1.0
    for plug in ("crank", "throttle_sensor", "cam_b1_intake"):
        assert volts(DRAGGED, "ref_a", f"unplug_in_turn:{plug}") < 1.0


def test_insulation_says_where_the_short_is():
    assert at(FOUR, "insulation_ohm", "off", SHORTED, node="crank") < 1.0
    assert at(FOUR, "insulation_ohm", "off", DRAGGED, node="crank") > 1e6
    assert at(FOUR, "insulation_ohm", "off", DRAGGED, node="ref_a") < 1.0


def test_a_heavy_load_shows_a_contact_that_a_sensor_does_not():
    """One and the same 0.3 ohm: 1.9 V in the coils' feed, 2 mV in a sensor's."""
    at_coils = at(FOUR, "branch_drop", "idle", {("resistance", "splice_coils"): 0.32}, node="splice_coils")
    at_sensor = at(FOUR, "branch_drop", "idle", {("resistance", "crank"): 0.32}, node="crank")
    assert at_coils > 1.0
    assert at_sensor < 0.01
