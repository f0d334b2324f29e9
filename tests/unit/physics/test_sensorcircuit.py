"""Sensor circuits: dividers by hand, limits, and the supply graph behind them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.engine.number import Number
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.dropout import chance_to_see, lost_share, mean_with_dropouts
from witnessmark.physics.network import solve_network
from witnessmark.physics.sensorcircuit import (
    CircuitLimits,
    SignalInput,
    Thermistor,
    circuit_state,
    hall_levels,
    pin_volts,
    ratiometric_reading,
    ratiometric_volts,
    reluctance_volts,
    thermistor_celsius,
    thermistor_ohm,
    thermistor_reading,
)
from witnessmark.physics.supply import SupplyEdits, solve_supply

PIN = SignalInput()
NTC = Thermistor()


@given(st.floats(-40.0, 150.0))
def test_the_unit_reads_back_what_a_sound_thermistor_measures(celsius: float) -> None:
    volts = pin_volts(0.0, thermistor_ohm(celsius, NTC), PIN)
    assert thermistor_reading(volts, PIN, NTC) == pytest.approx(celsius, abs=1e-6)
    assert thermistor_celsius(thermistor_ohm(celsius, NTC), NTC) == pytest.approx(celsius, abs=1e-9)


def test_a_coolant_sensor_of_the_usual_kind() -> None:
    """2.5 kilohm at 20 °C and 0.3 to 0.35 kilohm at 80 °C: common practice, no source."""
    assert 300.0 < float(thermistor_ohm(80.0, NTC)) < 350.0
    assert 20e3 < float(thermistor_ohm(-25.0, NTC)) < 28e3


@given(st.floats(1.0, 1e5), st.floats(0.0, 1e4), st.floats(0.0, 1.0), st.floats(0.0, 14.0))
def test_a_pin_is_a_node_of_a_resistor_network(ohm: float, wire: float, short: float, to: float) -> None:
    """Millman's sum against the network's solver, wire and sensor as two branches."""
    branches = [(0, 1), (1, 2), (2, 3), (1, 4)]  # pull-up, wire, sensor to ground, short
    siemens = np.array([[1.0 / PIN.pull_ohm, 1.0 / max(wire, 1e-7), 1.0 / ohm, short]])
    fixed = np.array([[PIN.pull_volts, 0.0, to]])
    expected = solve_network(5, branches, siemens=siemens, fixed=[0, 3, 4], fixed_volts=fixed).volts[0, 1]
    found = pin_volts(0.0, ohm, PIN, wire_ohm=wire, shorting=short, short_volts=to)
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_open_reads_cold_and_high_and_shorted_reads_hot_and_low() -> None:
    volts = pin_volts(
        0.0, np.full(3, 2500.0), PIN, wire_ohm=np.array([0.0, np.inf, 0.0]), shorting=np.array([0, 0, 10])
    )
    assert circuit_state(volts, CircuitLimits()).tolist() == [0, 1, -1]
    assert thermistor_reading(volts, PIN, NTC).tolist() == pytest.approx([20.0, -40.0, 150.0])


def test_contact_resistance_makes_it_look_colder_and_most_when_hot() -> None:
    hot = np.array([0.0, 40.0, 90.0])
    read = thermistor_reading(pin_volts(0.0, thermistor_ohm(hot, NTC), PIN, wire_ohm=100.0), PIN, NTC)
    lower = hot - read
    assert np.all(lower > 0.0)
    assert np.all(np.diff(lower) > 0.0)


def test_a_signal_shorted_to_the_battery_is_high() -> None:
    assert circuit_state(pin_volts(0.0, 2500.0, PIN, shorting=1.0, short_volts=12.0), CircuitLimits()) == 1


def test_a_sagging_reference_does_not_show_in_a_ratio_but_its_wire_does() -> None:
    for reference in (5.0, 4.0):
        assert ratiometric_reading(ratiometric_volts(0.3, reference), reference) == pytest.approx(0.3)
    # 5 ohm in the reference's wire and 1 kilohm of sensor: 0.5 % low.
    nodes = (
        SupplyNode("batt", "battery"),
        SupplyNode("ref", "reference5", "ecu"),
        SupplyNode("map", "load", "ref", ground="batt", signal="ecu.4", load_ohm=Number.exactly(1000.0)),
    )
    found = solve_supply(SupplyGraph("one", nodes), SupplyEdits(resistance={"map": 5.0}))
    volts = ratiometric_volts(0.5, found.load_volts["map"])
    read = ratiometric_reading(volts, found.reference_volts["ref"])
    assert read[0] == pytest.approx(0.5 * 1000.0 / 1005.0, rel=1e-6)


def test_bias_and_weakness_stay_within_the_supply() -> None:
    assert ratiometric_volts(0.5, 5.0, gain=0.8) == pytest.approx(2.0)
    assert ratiometric_volts(0.9, 5.0, offset_volts=2.0) == 5.0
    assert ratiometric_volts(0.1, 5.0, offset_volts=-2.0) == 0.0


def test_a_hall_sensor_without_supply_stays_high_and_a_bad_ground_lifts_its_low_level() -> None:
    low, high = hall_levels(np.array([12.0, 3.0, 12.0]), PIN, ground_volts=np.array([0.0, 0.0, 1.5]))
    assert high.tolist() == [5.0, 5.0, 5.0]
    assert low[0] == pytest.approx(5.0 * 30.0 / 2230.0)
    assert low[1] == 5.0
    assert low[2] == pytest.approx(1.5 + 3.5 * 30.0 / 2230.0)


def test_a_coil_sensor_is_loaded_and_shorted() -> None:
    assert reluctance_volts(1.0, coil_ohm=1000.0, input_ohm=9000.0) == pytest.approx(0.9)
    assert reluctance_volts(1.0, coil_ohm=1000.0, shorting=0.1) < 0.01
    assert reluctance_volts(1.0, coil_ohm=1000.0, wire_ohm=1e9) < 1e-4


def test_dropouts_against_drawn_ones(rng: np.random.Generator) -> None:
    """Independent: contact held and lost for exponential times, 40,000 of each."""
    rate, length = 120.0, 0.1
    held, lost = rng.exponential(60.0 / rate, 40_000), rng.exponential(length, 40_000)
    assert lost_share(rate, length) == pytest.approx(lost.sum() / (lost.sum() + held.sum()), rel=0.02)
    assert chance_to_see(rate, 0.3) == pytest.approx(np.mean(held < 0.3), abs=0.01)
    assert mean_with_dropouts(1.0, 0.0, lost_share(rate, length)) == pytest.approx(1.0 / 1.2)
    assert lost_share(0.0) == 0.0


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="below zero"):
        pin_volts(0.0, -1.0, PIN)
    with pytest.raises(EngineDefinitionError, match="below zero"):
        pin_volts(0.0, 1.0, PIN, shorting=-1.0)
    with pytest.raises(EngineDefinitionError, match="without volts"):
        ratiometric_reading(1.0, 0.0)
    with pytest.raises(EngineDefinitionError, match="dropouts below zero"):
        lost_share(-1.0)
    with pytest.raises(EngineDefinitionError, match="dropouts below zero"):
        chance_to_see(1.0, -1.0)
