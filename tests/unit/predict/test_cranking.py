"""Cranking: current, speed and volts where battery, starter and engine meet.

Motor and battery laws: tests/unit/physics/test_starter.py holds them against their sources. Here: row 263 of the
check values (a 1970 technical disclosure's 9.6 V near 20 °C, read), and common practice, no source, where so marked.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.starting_cases import CRANK, asked, bare, check_batches, engines, read, spread
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import expect
from witnessmark.vocabulary import Condition

AMPS, SPEED, CRANKS = asked("starter_current", CRANK), asked("cranking_speed", CRANK), asked("cranks", CRANK)
VOLTS, OHM = asked("cranking_volts", CRANK, battery="battery"), asked("battery_ohm", CRANK, battery="battery")
ALL = [AMPS, SPEED, CRANKS, VOLTS, OHM]


@pytest.mark.parametrize("model", engines(), ids=lambda m: m.engine.name)
def test_sound_engines_crank_as_engines_do(model):
    """150 to 300 rpm, 50 to 400 A by size: common practice, no source; more than 9.6 V near 20 °C: row 263."""
    amps, rpm, cranks, volts, ohm = expect(model, ALL, HEALTHY).mean[0]
    assert 150.0 < rpm < 300.0
    assert 50.0 < amps < 400.0
    assert volts > 9.6
    assert cranks > 0.99
    assert 5.0 < ohm < 10.0


def test_volts_are_what_the_current_leaves():
    """E - I R, Ohm's law."""
    emf = read(asked("cranking_volts", CRANK, battery="battery"), {("resistance", "engine_ground"): 1e9})
    assert read(VOLTS) == pytest.approx(emf - read(AMPS) * read(OHM) / 1e3, abs=1e-9)
    assert emf == pytest.approx(12.53, abs=0.03)  # 85 % full: the makers' table, docs/references.md [battery_table]


def test_cold_makes_it_slow_and_heavy():
    """Twice the effort and half the volts to spare at -20 °C: direction is common practice, no source."""
    cold = Condition("cranking", coolant_c=-20)
    assert read(asked("cranking_speed", cold)) < 0.75 * read(SPEED)
    assert read(asked("starter_current", cold)) > 1.3 * read(AMPS)
    assert read(asked("battery_ohm", cold, battery="battery")) > 1.5 * read(OHM)


def test_drag_costs_amperes_and_resistance_costs_speed():
    """Follows from the motor's law: torque alone sets the current (docs/physics.md, "battery and starter")."""
    for edit in ({("starter_drag", "starter"): 40.0}, {("accessory_drag", "engine"): 40.0}):
        assert read(AMPS, edit) > 1.4 * read(AMPS)
        assert read(SPEED, edit) < 0.8 * read(SPEED)
        assert read(VOLTS, edit) < read(VOLTS) - 0.3
    joint = {("resistance", "starter"): 0.05}
    assert read(AMPS, joint) < 1.02 * read(AMPS)
    assert read(SPEED, joint) < 0.75 * read(SPEED)
    assert read(VOLTS, joint) > read(VOLTS) - 0.02


def test_a_cylinder_that_holds_nothing_asks_for_little_whatever_lets_it_out():
    """Rings or valves that their springs no longer shut: it cranks faster (common practice, no source)."""
    for edit in (("ring_leak", "cylinder_1", 60.0), ("stem_drag", "cylinder_1.exhaust", 400.0)):
        assert read(SPEED, {edit[:2]: edit[2]}) > 1.02 * read(SPEED)


def test_a_worn_battery_sags_and_gives_up():
    worn = {("battery_resistance", "battery"): 24.0, ("battery_charge", "battery"): 0.5}
    assert read(VOLTS, worn) < 9.6
    assert read(OHM, worn) > 4.0 * read(OHM)
    dead = {("battery_resistance", "battery"): 60.0, ("battery_charge", "battery"): 0.2}
    assert read(CRANKS, dead) < 0.01


def test_what_keeps_it_from_cranking():
    assert read(CRANKS, {("starter_drag", "starter"): 150.0}) < 0.01
    for edit in (("resistance", "engine_ground"), ("resistance", "starter"), ("winding", "starter")):
        found = {edit: 1e9}
        assert read(CRANKS, found) < 0.01
        assert read(AMPS, found) == pytest.approx(0.0, abs=1e-3)
        assert read(SPEED, found) == pytest.approx(0.0, abs=0.1)
    assert read(CRANKS, {("inhibit", "ecu"): 1.0}) == pytest.approx(0.5)  # half of the makers, our guess


def test_a_dead_cylinder_shows_in_the_wave_and_hardly_in_the_mean():
    dead = {("ring_leak", "cylinder_1"): 60.0}
    assert read(AMPS, dead) == pytest.approx(read(AMPS), rel=0.08)
    assert read(SPEED, dead) > read(SPEED)
    everywhere = {("ring_leak", f"cylinder_{k}"): 60.0 for k in range(1, 5)}
    assert read(SPEED, everywhere) > 1.05 * read(SPEED)  # whirrs: common practice, no source


def test_what_is_not_known_widens():
    assert spread(AMPS, bare()) > spread(AMPS, model_of()) > 10.0
    warm = asked("starter_current", Condition("cranking", coolant_c=25))
    assert spread(warm, model_of()) < spread(AMPS, model_of())


def test_every_bound_of_what_can_be_wrong():
    places = {
        "battery_resistance": ("battery",),
        "battery_charge": ("battery",),
        "starter_drag": ("starter",),
        "winding": ("starter",),
        "resistance": ("starter", "engine_ground"),
        "accessory_drag": ("engine",),
        "oil_viscosity": ("engine",),
        "oil_fuel": ("engine",),
        "ring_leak": ("cylinder_1", "cylinder_2"),
        "valve_leak": ("cylinder_1.intake",),
        "inhibit": ("ecu",),
        "drive_connected": ("primary",),
    }
    for model in (model_of(), bare(), bare(1)):
        check_batches([*ALL, asked("starts", CRANK)], places, model)


def test_rows_are_solved_together():
    drags = np.linspace(0.0, 120.0, 300)
    found = expect(model_of(), [SPEED], State({("starter_drag", "starter"): drags}), rows=300).mean[:, 0]
    assert np.all(np.diff(found) < 0.0)
