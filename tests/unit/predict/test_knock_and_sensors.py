"""Knock, position sensors, worn tracks and temperatures.

Sensor circuits: docs/physics.md, "sensor circuits" (thermistor by β, divider by Millman). How each fault shows is
common practice, no source.
"""

from __future__ import annotations

import math

import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import at, bare

pytestmark = pytest.mark.filterwarnings("error")
FOUR, BARE = model_of(), bare()


def test_what_makes_a_cylinder_knock_and_who_hears_it():
    def retard(edits=None, state="full_load", cylinder=1):
        return at(FOUR, "knock_retard", state, edits, cylinder=cylinder)

    assert retard() < 1.0
    for edit in (("fuel_octane", "fuel", 87.0), ("wheel_slip", "crank", 10.0), ("clearance_scale", "cylinder_1", 0.87)):
        assert retard({edit[:2]: edit[2]}) > retard() + 3.0
        assert retard({edit[:2]: edit[2]}, "idle") < 0.5
    assert retard({("clearance_scale", "cylinder_1"): 0.87}, cylinder=2) == pytest.approx(retard(cylinder=2))
    deaf = {("sensor_gain", "knock"): 0.0, ("fuel_octane", "fuel"): 87.0}
    assert retard(deaf) < 0.1
    assert retard({("sensor_gain", "knock"): 3.0}) > 3.0
    assert retard({("fuel_octane", "fuel"): 75.0}) <= 12.0
    assert math.isnan(retard(state="cranking"))


def test_a_coil_sensors_amplitude_goes_with_speed_gap_and_gain():
    number = {"electric:reluctance:crank": 1.0}

    def volts(edits=None, state="idle"):
        return at(FOUR, "signal_amplitude", state, edits, numbers=number, position="crank")

    assert volts(state="cranking") == pytest.approx(volts() * 200.0 / 750.0, rel=1e-6)  # a flux per tooth
    assert volts({("sensor_gap", "crank"): 3.0}) < 0.65 * volts()
    assert volts({("sensor_gain", "crank"): 0.3}) == pytest.approx(0.3 * volts())
    assert volts({("resistance", "crank"): 1e9}) < 0.01
    assert volts({("shorting", "crank"): 1.0}) < 0.01
    assert math.isnan(volts(state="key_on"))


def test_a_switching_sensor_has_its_levels_or_none():
    number = {"electric:reluctance:crank": 0.0}

    def volts(edits=None, state="idle"):
        return at(BARE, "signal_amplitude", state, edits, numbers=number, position="crank")

    assert 4.5 < volts() < 5.0
    assert volts(state="cranking") == pytest.approx(volts())
    assert volts({("sensor_gap", "crank"): 1.7}) == pytest.approx(volts(), rel=0.01)
    assert volts({("sensor_gain", "crank"): 0.1}) < 0.1
    assert volts({("shorting", "map"): 1.0}) < 0.1  # its 5 V are gone with its sibling's
    assert volts({("resistance", "sensor_ground"): 1e9}) < 0.1


def test_edges_that_no_tooth_made():
    """75 losses in a minute at 750 rpm: a tenth of one in a turn."""

    def extra(edits=None, wheel="crank"):
        return at(FOUR, "edges_extra", "idle", edits, wheel=wheel)

    assert extra() < 0.01
    assert extra({("dropout_rate", "crank"): 75.0}) == pytest.approx(0.1, rel=0.01)
    assert extra({("dropout_rate", "sensor_ground"): 75.0}) > 0.09
    assert extra({("sensor_noise", "crank"): 20.0}) > 5.0
    assert extra({("dropout_rate", "crank"): 75.0}, wheel="b1.intake") < 0.01


def test_a_worn_track_parts_from_its_sister():
    def gap(edits=None, sensor="throttle_sensor"):
        return at(FOUR, "track_gap", "key_on", edits, sensor=sensor)

    assert gap() < 0.5
    assert gap({("sensor_noise", "throttle_sensor"): 50.0}) == pytest.approx(10.0, rel=0.1)
    assert gap({("sensor_noise", "throttle_sensor"): 50.0}, "pedal") < 0.5
    assert gap({("resistance", "throttle_sensor"): 300.0}) > 3.0  # one track's wire


def test_temperatures_by_thermostat_sensor_and_wire():
    """0.5 kilohm in an 80 °C thermistor's way reads 50 °C: the physics' own example; -40 is open, 150 shorted."""

    def reads(edits=None, state="idle", sensor="ect"):
        return at(FOUR, "temperature_reported", state, edits, sensor=sensor)

    assert 85.0 < reads() < 100.0
    assert reads({("thermostat_temp", "engine"): 77.0, ("resistance", "ect"): 500.0}) == pytest.approx(50.0, abs=1.5)
    assert reads({("thermostat_temp", "engine"): 50.0}) == pytest.approx(53.0)
    assert reads({("sensor_offset", "ect"): -30.0}) == pytest.approx(reads() - 30.0)
    assert reads({("resistance", "ect"): 1e9}) == -40.0
    assert reads({("shorting", "ect"): 10.0}) == 150.0
    assert reads({("shorting", "ect:supply"): 10.0}) == -40.0
    assert reads({("circuit_map", "ect"): 1.0}) == pytest.approx(reads(sensor="iat"))
    # Soaked, both stand at the air's temperature: a difference there is a sensor's.
    assert abs(reads(state="key_on") - reads(state="key_on", sensor="iat")) < 10.0


def test_a_weak_position_sensor_drops_out_now_and_then_until_it_is_gone():
    """Common practice, no source: a fading sensor drops out hot before it fails for good."""

    def losses(gain):
        return at(FOUR, "signal_dropouts", "idle", {("sensor_gain", "crank"): gain}, node="crank")

    assert losses(1.0) < 0.01
    assert losses(0.35) > 5.0
    assert losses(0.0) < 0.5 * losses(0.35)
    contacts = {("dropout_rate", "crank"): 12.0}
    assert at(FOUR, "signal_dropouts", "idle", contacts, node="crank") == pytest.approx(12.0, abs=0.01)
    assert at(FOUR, "signal_dropouts", "idle", {("sensor_gain", "map"): 0.35}, node="crank") < 0.01
