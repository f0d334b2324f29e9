"""What parts make of the volts they are fed: injector, pump, sensor, actuator.

Dead time by volts (docs/physics.md, "fuel": 0.9 ms at 14 V, 1.5 ms at 10 V, our guess); T = k I of a permanent-magnet
motor; a ratiometric sensor by definition.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import at
from witnessmark.engine.state import State
from witnessmark.predict.batch import Batch
from witnessmark.predict.fed import injected, pulled, pump_turns, sensor_share

FOUR = model_of()


def batch(edits=None):
    return Batch(FOUR, State(edits or {}), {}, 1)


def test_an_injector_on_less_volts_gives_less_fuel_than_the_computer_reckons():
    """A third of the volts lost of 14: 9.3 V, where 0.7 ms more of 2.5 ms pass before it opens."""
    assert injected(batch(), 1, "idle")[0] == pytest.approx(1.0, abs=0.02)
    ohm = at(FOUR, "winding_ohm", "off", actuator="injector_1")
    assert injected(batch({("resistance", "injector_1"): 0.5 * ohm}), 1, "idle")[0] == pytest.approx(0.72, abs=0.05)
    assert injected(batch({("resistance", "injector_1"): 0.5 * ohm}), 2, "idle")[0] == pytest.approx(1.0, abs=0.02)
    for edit in (("winding", "injector_1"), ("resistance", "fuse_injectors"), ("resistance", "main_relay")):
        assert injected(batch({edit: 1e9}), 1, "idle")[0] == 0.0
    assert injected(batch({("driver_ok", "ecu"): 0.0}), 3, "idle")[0] == 0.0
    # What all share the computer sees itself and corrects for.
    shared = {("alternator_output", "alternator"): 0.0}
    assert injected(batch(shared), 1, "idle")[0] == pytest.approx(1.0, abs=0.05)


def test_a_pump_turns_by_its_volts():
    """ω = (V - R I)/k: 5 A past 0.5 ohm more cost 2.5 V of 13.5 - 2.5."""
    sound = pump_turns(batch(), "idle")[0]
    assert 0.95 < sound < 1.15
    slow = pump_turns(batch({("resistance", "fuse_pump"): 0.52}), "idle")[0]
    assert sound - slow == pytest.approx(2.5 / 11.0, rel=0.1)
    assert pump_turns(batch({("resistance", "pump_relay"): 1e9}), "idle")[0] == 0.0
    assert pump_turns(batch(), "off")[0] == 0.0


def test_a_sensor_shows_what_its_own_wires_take_and_not_what_its_reference_lacks():
    share, works = sensor_share(batch(), "throttle_sensor", "idle")
    assert share[0] > 0.999
    assert works[0] > 0.999
    # 250 ohm in the way of its own 1 kilohm: four fifths.
    share, works = sensor_share(batch({("resistance", "throttle_sensor"): 250.0}), "throttle_sensor", "idle")
    assert share[0] == pytest.approx(0.8, abs=0.03)
    assert works[0] > 0.999
    share, works = sensor_share(batch({("shorting", "crank"): 0.5}), "throttle_sensor", "idle")
    assert share[0] > 0.98
    assert works[0] < 0.01
    assert sensor_share(batch({("shorting", "crank:supply"): 1.0}), "throttle_sensor", "idle")[1][0] < 0.01


def test_an_actuator_pulls_while_half_its_current_is_left():
    name = "oil_valve_b1_intake"
    assert pulled(batch(), name, "idle")[0] > 0.99
    assert pulled(batch({("winding", name): 1e9}), name, "idle")[0] < 0.01
    assert pulled(batch({("resistance", "c12.2"): 1e9}), name, "idle")[0] < 0.01
    assert pulled(batch({("resistance", name): 2.0}), name, "idle")[0] > 0.95


def test_a_weak_pump_supply_leans_all_cylinders_under_load():
    bad = {("resistance", "fuse_pump"): 2.2, ("lift_pump_flow", "pump"): 0.5}
    assert at(FOUR, "misfire_count", "full_load", bad, cylinder=1) > 100.0
    assert at(FOUR, "misfire_count", "full_load", {("lift_pump_flow", "pump"): 0.5}, cylinder=1) < 5.0
