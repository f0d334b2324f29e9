"""Cranking current: ripple against integration in time, step by step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.crankcurrent import CrankingCircuit, cranking_current, relative_torque, ripple_gain
from witnessmark.physics.starter import CrankingPoint, StarterMotor, cranking_point, torque_of_current

MAGNETS = StarterMotor()
SERIES = StarterMotor("series", flux=4e-5)
SATURATING = StarterMotor("series", flux=8e-5, saturation_amps=150.0)
EMF, WHOLE = 12.5, 0.006 + 0.002 + 0.012
CIRCUIT = CrankingCircuit(WHOLE, 0.3)


def point_of(motor: StarterMotor, torque: float = 50.0) -> CrankingPoint:
    return cranking_point(torque, motor, emf=EMF, battery_ohm=0.006, cable_ohm=0.002)


def amps_at(shaft: float, motor: StarterMotor) -> float:
    """Current that the circuit takes at a speed of the motor's shaft, by halving."""
    low, high = 0.0, EMF / WHOLE
    for _ in range(45):
        i = 0.5 * (low + high)
        strength = torque_of_current(i, motor) / (i * motor.ratio * motor.efficiency)
        low, high = (i, high) if EMF - i * WHOLE > strength * shaft else (low, i)
    return 0.5 * (low + high)


@pytest.mark.parametrize("motor", [MAGNETS, SATURATING], ids=["magnets", "saturating"])
def test_current_over_a_cycle_against_integration_in_time(motor: StarterMotor) -> None:
    """Independent: the engine turned step by step, current from the circuit at each; a torque of four unequal humps."""
    point = point_of(motor)
    period = 4.0 * np.pi / float(point.crank_speed)
    n = 720

    def ripple(share: float) -> float:
        """Four humps, the third a fifth lower: orders 1 to 8 of the cycle."""
        high = 1.0 - 0.2 * np.exp(-(((share - 0.625) / 0.1) ** 2))
        return 2.0 * high * np.sin(8.0 * np.pi * share)

    wave = np.array([ripple(k / n) for k in range(n)])
    torque = 50.0 + wave - wave.mean()
    speed, step, course = float(point.crank_speed), period / n, []
    for k in range(3 * n):
        asked = torque[k % n], 0.5 * (torque[k % n] + torque[(k + 1) % n])
        amps = amps_at(speed * motor.ratio, motor)
        half = speed + 0.5 * step * (float(torque_of_current(amps, motor)) - asked[0]) / CIRCUIT.inertia
        middle = float(torque_of_current(amps_at(half * motor.ratio, motor), motor))
        speed += step * (middle - asked[1]) / CIRCUIT.inertia
        course.append(amps)
    found = cranking_current(torque, motor, point=point, circuit=CIRCUIT)
    expected = np.array(course[-n:])
    assert np.abs(found - expected).max() < 0.02 * np.ptp(expected)


def test_slow_ripple_arrives_whole_and_fast_ripple_is_carried_by_the_flywheel() -> None:
    gains = np.abs(ripple_gain(np.array([0.0, 20.0, 40.0, 4000.0]), MAGNETS, point=point_of(MAGNETS), circuit=CIRCUIT))
    assert gains[0] == 1.0
    assert np.all(np.diff(gains) < 0.0)
    assert gains[-1] < 0.01


@pytest.mark.parametrize("motor", [MAGNETS, SERIES, SATURATING], ids=["magnets", "series", "saturating"])
def test_without_inertia_the_current_follows_the_torque(motor: StarterMotor) -> None:
    """Then a small ripple of torque is the motor's own law, run backward."""
    torque = 50.0 + np.sin(2.0 * np.pi * np.arange(360) / 90.0)
    amps = cranking_current(torque, motor, point=point_of(motor), circuit=replace(CIRCUIT, inertia=1e-9))
    assert torque_of_current(amps, motor) == pytest.approx(torque, abs=0.01)


def test_several_engines_at_once() -> None:
    torque = 50.0 + np.sin(2.0 * np.pi * np.arange(360) / 90.0) * np.array([[1.0], [2.0]])
    point = cranking_point(np.array([50.0, 50.0]), MAGNETS, emf=EMF, battery_ohm=0.006)
    amps = cranking_current(torque, MAGNETS, point=point, circuit=CIRCUIT)
    assert amps.shape == (2, 360)
    assert np.ptp(amps[1]) == pytest.approx(2.0 * np.ptp(amps[0]))


def test_relative_compression_depends_on_the_kind_of_motor() -> None:
    peaks = np.array([[200.0, 200.0, 160.0, 200.0]])
    assert relative_torque(peaks, MAGNETS)[0, 2] == pytest.approx(0.8)
    assert relative_torque(peaks, SERIES)[0, 2] == pytest.approx(0.64)
    assert 0.64 < relative_torque(peaks, SATURATING)[0, 2] < 0.8


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="no cylinder asks"):
        relative_torque(np.zeros(4), MAGNETS)
    with pytest.raises(EngineDefinitionError, match="an engine that stands"):
        cranking_current(np.ones(8), MAGNETS, point=point_of(MAGNETS, 5000.0), circuit=CIRCUIT)
