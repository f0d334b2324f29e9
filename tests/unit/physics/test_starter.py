"""Battery and starter: energy, and limits of the two kinds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.battery import battery_ohm, open_circuit_volts, terminal_volts
from witnessmark.physics.starter import (
    StarterMotor,
    cranking_point,
    current_for_torque,
    torque_of_current,
)

MAGNETS = StarterMotor()
SERIES = StarterMotor("series", flux=4e-5)
SATURATING = StarterMotor("series", flux=8e-5, saturation_amps=150.0)
ALL = [MAGNETS, SERIES, SATURATING]


def test_resting_volts_of_the_published_table() -> None:
    """A battery makers' association's table at 26.7 °C, read: 100 % 12.65 V … discharged 11.89 V."""
    charges = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    assert open_circuit_volts(charges).tolist() == pytest.approx([11.89, 12.06, 12.24, 12.45, 12.65])
    assert np.all(np.diff(open_circuit_volts(np.linspace(0.0, 1.0, 50))) > 0.0)


def test_resting_volts_against_a_fit_by_molality() -> None:
    """Bode's fit of a cell's EMF by acid molality, from memory: 1.9228 + 0.1475 l + 0.0636 l² + 0.0738 l³ + 0.0336 l⁴.

    Density 1.265 is 35.4 % by weight (from memory), that is 5.6 mol/kg; 1.12 is 17.4 %, 2.15 mol/kg.
    """
    for molality, charge in ((5.6, 1.0), (2.15, 0.0)):
        m = np.log10(molality)
        cell = 1.9228 + 0.1475 * m + 0.0636 * m**2 + 0.0738 * m**3 + 0.0336 * m**4
        assert 6.0 * cell == pytest.approx(open_circuit_volts(charge), abs=0.1)


def test_cold_and_empty_batteries_have_more_resistance() -> None:
    assert battery_ohm(6.0) == pytest.approx(0.006)
    assert np.all(np.diff(battery_ohm(6.0, celsius=np.array([30.0, 0.0, -20.0]))) > 0.0)
    assert np.all(np.diff(battery_ohm(6.0, charge=np.array([1.0, 0.5, 0.0]))) > 0.0)


@pytest.mark.parametrize("motor", ALL, ids=["magnets", "series", "saturating"])
@given(torque=st.floats(1.0, 400.0), drag=st.floats(0.0, 100.0))
def test_the_current_for_a_torque_gives_that_torque(motor: StarterMotor, torque: float, drag: float) -> None:
    amps = current_for_torque(torque, motor, starter_drag=drag)
    assert torque_of_current(amps, motor, starter_drag=drag) == pytest.approx(torque, rel=1e-9, abs=1e-9)


def test_a_saturating_field_lies_between_the_two_laws() -> None:
    """Little current: T ∝ I²; much: T ∝ I."""
    for amps, power in ((0.01, 2.0), (1e7, 1.0)):
        ratio = torque_of_current(2.0 * amps, SATURATING) / torque_of_current(amps, SATURATING)
        assert np.log2(ratio) == pytest.approx(power, abs=0.001)
    dip = 1.0 - current_for_torque(80.0, SATURATING) / current_for_torque(100.0, SATURATING)
    assert 0.10557 < dip < 0.2


@pytest.mark.parametrize("motor", ALL, ids=["magnets", "series", "saturating"])
@given(
    torque=st.floats(5.0, 80.0), emf=st.floats(9.0, 13.0), battery=st.floats(0.003, 0.03), cable=st.floats(0.0, 0.02)
)
def test_energy_and_voltage_close(motor: StarterMotor, torque: float, emf: float, battery: float, cable: float) -> None:
    """What the battery's EMF gives is heat in every resistance and work at the motor's shaft."""
    point = cranking_point(torque, motor, emf=emf, battery_ohm=battery, cable_ohm=cable)
    assert point.battery_volts == pytest.approx(terminal_volts(emf, point.amps, battery))
    assert point.starter_volts == pytest.approx(terminal_volts(emf, point.amps, battery + cable))
    if point.crank_speed > 0.0:
        heat = point.amps**2 * (battery + cable + motor.ohm)
        work = torque / motor.efficiency * point.crank_speed
        assert emf * point.amps == pytest.approx(heat + work, rel=1e-9)


def test_cranking_is_of_the_usual_order() -> None:
    """150 to 250 A, 180 to 280 rpm, above 9.6 V: common practice, no source, but for the volts (row 263)."""
    point = cranking_point(60.0, MAGNETS, emf=open_circuit_volts(0.85), battery_ohm=0.006)
    assert 150.0 < point.amps < 250.0
    assert 180.0 < point.crank_speed * 30.0 / np.pi < 280.0
    assert point.battery_volts > 9.6


def test_what_a_cable_costs_shows_in_speed_and_at_the_starter_not_in_current() -> None:
    good, bad = (cranking_point(60.0, MAGNETS, emf=12.5, battery_ohm=0.006, cable_ohm=r) for r in (0.002, 0.02))
    assert bad.amps == pytest.approx(good.amps)
    assert bad.battery_volts == pytest.approx(good.battery_volts)
    assert bad.crank_speed < 0.75 * good.crank_speed
    assert bad.starter_volts < good.starter_volts - 3.0


def test_a_dragging_starter_takes_more_and_turns_slower() -> None:
    good, bad = (cranking_point(60.0, MAGNETS, emf=12.5, battery_ohm=0.006, starter_drag=d) for d in (0.0, 60.0))
    assert bad.amps == pytest.approx(2.0 * good.amps)
    assert bad.crank_speed < 0.7 * good.crank_speed


def test_too_much_torque_stalls_at_the_stall_current() -> None:
    point = cranking_point(np.array([60.0, 5000.0]), MAGNETS, emf=12.0, battery_ohm=0.006, cable_ohm=0.002)
    assert point.crank_speed[1] == 0.0
    assert point.amps[1] == pytest.approx(12.0 / 0.02)
    assert cranking_point(0.0, SERIES, emf=12.0, battery_ohm=0.006).crank_speed == np.inf


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="no kind of starter"):
        StarterMotor("shunt")
    with pytest.raises(EngineDefinitionError, match="whose ohm is 0"):
        StarterMotor(ohm=0.0)
    with pytest.raises(EngineDefinitionError, match="below zero in the starter"):
        cranking_point(60.0, MAGNETS, emf=12.0, battery_ohm=-0.001)
    for charge in (-0.1, 1.1, np.nan):
        with pytest.raises(EngineDefinitionError, match="no share"):
            open_circuit_volts(charge)
        with pytest.raises(EngineDefinitionError, match="no share"):
            battery_ohm(6.0, charge=charge)
    with pytest.raises(EngineDefinitionError, match="without resistance"):
        battery_ohm(0.0)
