"""Charging voltage and ripple.

13.5 to 14.8 V, ripple below 0.1 V good and above 0.5 V bad: rows 271 and 272 of the check values, common practice, no
source; a ripple's size is good to a factor of two here (docs/physics.md, "charging").
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.starting_cases import CRANK, IDLE, RAISED, asked, bare, check_batches, engines, read, spread
from witnessmark.engine.state import HEALTHY
from witnessmark.physics.charging import Alternator, expected_ripple_volts
from witnessmark.predict import expect
from witnessmark.predict.boardvolts import _AMPS, _DIODES, _OHMS, _ripples
from witnessmark.predict.grid import between
from witnessmark.vocabulary import Condition

PLACE = {"battery": "battery"}
VOLTS, FAST = asked("charging_volts", IDLE, **PLACE), asked("charging_volts", RAISED, **PLACE)
RIPPLE = asked("ripple", RAISED, **PLACE)


@pytest.mark.parametrize("model", engines(), ids=lambda m: m.engine.name)
def test_sound_engines_charge(model):
    volts, fast, ripple = expect(model, [VOLTS, FAST, RIPPLE], HEALTHY).mean[0]
    assert 13.5 < volts < 14.8
    assert 13.5 < fast < 14.8
    assert 0.03 < ripple < 0.2  # twice 0.1 V at most


def test_a_dead_alternator_leaves_what_the_battery_has():
    rest = read(asked("charging_volts", Condition("off"), **PLACE))
    assert rest == pytest.approx(12.53, abs=0.03)  # 85 % full, the makers' table: docs/references.md [battery_table]
    for edit in (
        {("alternator_output", "alternator"): 0.0},
        {("winding", "alternator"): 1e9},
        {("resistance", "alternator"): 1e9},
    ):
        assert rest - 0.6 < read(FAST, edit) < rest + 0.2
        assert read(RIPPLE, edit) < 0.01


def test_a_weak_alternator_fails_at_idle_first():
    """More speed gives more current: I = I_max √(1 - (n₀/n)²)."""
    weak = {("alternator_output", "alternator"): 0.3}
    assert read(VOLTS, weak) < 13.4
    assert read(FAST, weak) > read(VOLTS, weak) + 0.2


def test_resistance_between_alternator_and_battery_costs_volts():
    found = [read(FAST, {("resistance", "alternator"): ohm}) for ohm in (0.02, 0.04, 0.12)]
    assert np.all(np.diff(found) < -0.05)


def test_open_diodes_and_a_worn_battery_ripple():
    one = read(RIPPLE, {("diodes_open", "alternator"): 1.0})
    assert one > 0.4
    assert one > 3.0 * read(RIPPLE)
    worn = {("battery_resistance", "battery"): 30.0}
    assert read(RIPPLE, worn) > 2.0 * read(RIPPLE)
    assert read(VOLTS, {("diodes_open", "alternator"): 1.0}) > 13.3  # the voltage hardly tells


def test_the_table_is_the_physics():
    amps, ohm = np.array([22.0, 60.0, 110.0]), np.array([0.005, 0.012, 0.1])
    for count in (0.0, 1.0, 2.0):
        true = expected_ripple_volts(amps, Alternator(), diodes_open=np.full(3, count), volts=14.2, battery_ohm=ohm)
        found = between((_AMPS, np.log(_OHMS), _DIODES), _ripples(), (amps, np.log(ohm), count))
        np.testing.assert_allclose(found, true, rtol=0.12, atol=0.003)


def test_before_and_while_starting():
    rest = read(asked("charging_volts", Condition("off"), **PLACE))
    assert rest - 0.1 < read(asked("charging_volts", Condition("key_on"), **PLACE)) < rest
    assert read(asked("charging_volts", CRANK, **PLACE)) == read(asked("cranking_volts", CRANK, **PLACE))
    assert read(asked("ripple", CRANK, **PLACE)) == 0.0


def test_every_bound_and_what_is_not_known():
    places = {
        "battery_resistance": ("battery",),
        "battery_charge": ("battery",),
        "alternator_output": ("alternator",),
        "diodes_open": ("alternator",),
        "winding": ("alternator",),
        "resistance": ("alternator", "engine_ground"),
    }
    check_batches([VOLTS, FAST, RIPPLE, asked("charging_volts", CRANK, **PLACE)], places, bare())
    assert 0.2 < spread(VOLTS, bare()) < 0.6


@pytest.mark.parametrize("error", [-2.0, 0.8, 2.5])
def test_a_regulator_that_holds_the_wrong_voltage(error):
    """Volts follow it one to one while there is current to give; a weak battery does not hide it."""
    edit = {("voltage_error", "alternator"): error}
    for query in (VOLTS, FAST):
        before = read(query, {("battery_charge", "battery"): 0.3})
        after = read(query, {("battery_charge", "battery"): 0.3, **edit})
        assert (after - before) == pytest.approx(error, abs=0.2 if error > 0.0 else 0.5)
    assert read(FAST, {("voltage_error", "alternator"): 2.5}) > 15.5  # far beyond 14.8 V: common practice, no source
    assert read(asked("charging_volts", Condition("off"), **PLACE), edit) == pytest.approx(
        read(asked("charging_volts", Condition("off"), **PLACE))
    )
