"""Oil pressure and level, and how fast phasers follow.

Laminar gaps (p ∝ Q μ) and a relief valve: any textbook, from memory; what is low, thin or starved where: common
practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.starting_cases import HOT, RAISED, asked, bare, check_batches, engines, read, spread
from witnessmark.engine.state import HEALTHY
from witnessmark.physics.oil import Oil, OilCircuit, dynamic_viscosity, oil_pressure
from witnessmark.predict import expect, why_not
from witnessmark.vocabulary import Condition

PRESSURE = asked("oil_pressure", HOT)
FAST = asked("oil_pressure", RAISED)
COLD = asked("oil_pressure", Condition("idle", coolant_c=10))
SLEW = {"bank": 1, "cam": "intake"}
MOVED = asked("phaser_slew", Condition("idle", phaser="moved"), **SLEW)


def test_a_sound_engine_reads_what_the_circuit_gives():
    """By the physics alone, hot at 750 rpm with a hundredth of fuel in the oil."""
    thick = dynamic_viscosity(90.0, Oil(), oil_fuel=0.01)
    assert read(PRESSURE) == pytest.approx(float(oil_pressure(750.0, thick, OilCircuit())) / 1e3, rel=1e-4)
    # At hot idle one bar and more, 3 bar and more at speed: common practice, no source.
    assert 100.0 < read(PRESSURE) < 300.0 < read(FAST) < 600.0


def test_worn_pump_thin_oil_and_dilution_show_hot_and_slow():
    """p ∝ flow × viscosity below the relief valve: exactly so for the pump, and hidden behind the valve when cold."""
    sound = read(PRESSURE)
    assert read(PRESSURE, {("oil_supply", "engine"): 0.5}) == pytest.approx(0.5 * sound)
    assert read(PRESSURE, {("oil_viscosity", "engine"): 0.5}) == pytest.approx(0.5 * sound, rel=0.08)
    assert read(PRESSURE, {("oil_fuel", "engine"): 0.1}) < 0.7 * sound
    assert read(COLD, {("oil_supply", "engine"): 0.5}) > 0.95 * read(COLD)


def test_a_choked_pickup_starves_the_fast_engine_first():
    choked = {("restriction", "pickup"): 0.9}
    assert read(PRESSURE, choked) == pytest.approx(read(PRESSURE))
    assert read(FAST, choked) < 0.6 * read(FAST)


def test_too_little_oil_draws_air_only_when_it_is_very_little():
    assert read(PRESSURE, {("fluid_deficit", "engine"): 1.0}) > 0.98 * read(PRESSURE)
    assert read(PRESSURE, {("fluid_deficit", "engine"): 4.3}) < 0.5 * read(PRESSURE)


def test_levels_say_what_is_missing():
    oil, coolant = asked("level_seen", fluid="oil"), asked("level_seen", fluid="coolant")
    assert read(oil, {("fluid_deficit", "engine"): 2.3, ("oil_fuel", "engine"): 0.0}) == pytest.approx(-2.3)
    assert read(oil, {("oil_fuel", "engine"): 0.15}) > read(oil) + 0.5  # fuel makes more of it
    assert read(coolant, {("fluid_deficit", "cylinder_2"): 4.3}) == pytest.approx(read(coolant) - 4.0)
    assert read(coolant, {("fluid_deficit", "engine"): 3.0}) == read(coolant)
    assert "only oil and coolant" in str(why_not(bare(), asked("level_seen", fluid="brake")))


def test_a_phaser_wants_pressure_thin_oil_and_a_free_gallery():
    assert read(MOVED) == pytest.approx(120.0)  # of the state, hot and fully fed
    cold = asked("phaser_slew", Condition("idle", phaser="moved", coolant_c=10), **SLEW)
    assert read(cold) < 0.7 * read(MOVED)
    for edit in (("oil_supply", 0.3), ("oil_viscosity", 2.5), ("oil_viscosity", 0.4)):
        assert read(MOVED, {(edit[0], "engine"): edit[1]}) < 0.9 * read(MOVED), edit
    narrow = [read(MOVED, {("restriction", "gallery"): r}) for r in (0.03, 0.4, 0.7, 0.95)]
    assert np.all(np.diff(narrow) < 0.0)
    assert narrow[-1] < 0.3 * narrow[0]
    assert read(MOVED, {("phaser_rate", "b1.intake"): 60.0}) == pytest.approx(60.0)


def test_every_engine_and_what_can_be_wrong_with_it():
    places = {
        **dict.fromkeys(("oil_supply", "oil_viscosity", "oil_fuel", "fluid_deficit"), ("engine",)),
        "restriction": ("pickup", "gallery"),
        "phaser_rate": ("b1.intake",),
    }
    queries = [PRESSURE, FAST, COLD, asked("level_seen", fluid="oil"), asked("level_seen", fluid="coolant"), MOVED]
    for model in engines():
        check_batches(queries, places, model)
        assert 100.0 < expect(model, [PRESSURE], HEALTHY).mean[0, 0] < 300.0
        assert 15.0 < spread(PRESSURE, model) < 120.0
    assert spread(asked("oil_pressure"), bare()) > spread(PRESSURE, bare())  # warmth not said: wider
