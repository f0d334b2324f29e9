"""Minutes to 80 °C. That a thermostat stuck open keeps an engine cold is common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.starting_cases import IDLE, asked, bare, check_batches, engines, read, spread
from witnessmark.engine.state import HEALTHY
from witnessmark.physics.warmup import CoolingSystem, Thermostat, time_to_reach, warm_up
from witnessmark.predict import expect
from witnessmark.predict.grid import between
from witnessmark.predict.warming import _AIRS, _OPENS, _POWERS, _rates
from witnessmark.vocabulary import Condition

TIME = asked("warm_up_time", Condition("warm_up"))


@pytest.mark.parametrize("model", engines(), ids=lambda m: m.engine.name)
def test_sound_engines_get_warm(model):
    """Within a quarter of an hour or so: common practice, no source."""
    assert 5.0 < expect(model, [TIME], HEALTHY).mean[0, 0] < 20.0


def test_an_early_thermostat_keeps_it_cold():
    assert read(TIME, {("thermostat_temp", "engine"): 86.0}) == pytest.approx(read(TIME), rel=0.05)
    for opens in (65.0, 45.0, 30.0):
        assert read(TIME, {("thermostat_temp", "engine"): opens}) == 60.0  # not within the hour
    driven = asked("warm_up_time", Condition("cruise"))
    assert read(driven) < read(TIME) < read(asked("warm_up_time", IDLE))


def test_less_coolant_is_sooner_warm():
    """Heat over capacity: 4 litres of half water, 3.6 kJ/(kg K), are two ninths of what has to be warmed."""
    low = read(TIME, {("fluid_deficit", "cylinder_1"): 4.3})
    assert low / read(TIME) == pytest.approx(1.0 - 4.0 * 3600.0 / 65e3, abs=0.01)


def test_the_rise_for_the_heat_given():
    """1 of a sound engine by its definition; a thermostat that opens early lets heat go, lost coolant takes none."""
    rise = asked("warming_rate", Condition("warm_up"))
    assert read(rise) == pytest.approx(1.0, abs=0.02)
    assert read(rise, {("thermostat_temp", "engine"): 100.0}) == pytest.approx(1.0, abs=0.02)
    assert read(rise, {("thermostat_temp", "engine"): 40.0}) < 0.8 * read(rise)
    assert read(rise, {("sensor_gain", "ect"): 0.5}) == pytest.approx(0.5 * read(rise))
    low = read(rise, {("fluid_deficit", "cylinder_1"): 4.3})
    assert read(rise) / low == pytest.approx(1.0 - 4.0 * 3600.0 / 65e3, abs=0.01)


def test_the_table_is_the_physics():
    rng = np.random.default_rng(5)
    opens, power, air = rng.uniform(85.0, 100.0, 40), rng.uniform(6000.0, 20000.0, 40), rng.uniform(-10.0, 35.0, 40)
    course = warm_up(power, CoolingSystem(), Thermostat(opens), ambient_c=air, seconds=3600.0)
    true = 60.0 / time_to_reach(course)
    found = between((_OPENS, _POWERS, _AIRS), _rates(), (opens, power, air))
    np.testing.assert_allclose(found, true, rtol=0.06)


def test_every_bound_and_what_is_not_known():
    places = {"thermostat_temp": ("engine",), "fluid_deficit": ("cylinder_1", "cylinder_2")}
    check_batches([TIME, asked("warm_up_time", IDLE)], places, bare())
    assert 2.0 < spread(TIME, bare()) < 8.0


def test_a_dead_radiator_fan_lets_an_idling_engine_boil_and_a_driven_one_not():
    """Heat balance by hand: 4.5 kW over block, sump and a radiator without draught, at 20 °C outside, 12 K more about
    a standing car; read when four fifths of the way there have passed.
    """
    hot = asked("temperature_reported", IDLE, sensor="ect")
    dead = {("fan_flow", "engine"): 0.0}
    part = CoolingSystem()
    balance = 32.0 + 4500.0 / (part.coolant_loss + part.oil_loss + 0.05 * part.radiator)
    assert read(hot) == pytest.approx(95.0)  # 3 K over the thermostat, and 2 until its fan comes on
    assert read(hot, dead) == pytest.approx(93.0 + 0.8 * (balance - 93.0))
    assert 98.0 < balance < 121.0
    assert read(hot, {("fan_flow", "engine"): 0.6}) == pytest.approx(read(hot))  # enough is enough
    assert read(asked("temperature_reported", Condition("cruise"), sensor="ect"), dead) == pytest.approx(93.0)
    measured = asked("temperature_reported", Condition("idle", coolant_c=88.0), sensor="ect")
    assert read(measured, dead) == pytest.approx(88.0)  # what somebody has measured is not foretold
