"""Currents of windings and small motors against integration step by step, and energy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.actuator import (
    Injector,
    PumpMotor,
    commutation_frequency,
    commutation_ripple,
    injector_current,
    injector_opening_time,
    pump_current,
    pump_speed,
    ramp_current,
    ramp_time,
)


def test_a_ramp_reaches_63_percent_after_one_time_constant() -> None:
    """1 - 1/e, any textbook."""
    assert ramp_current(0.01, 12.0, 2.0, 0.02) == pytest.approx(6.0 * (1.0 - np.exp(-1.0)))
    assert ramp_current(1.0, 12.0, 2.0, 0.02) == pytest.approx(6.0)
    assert ramp_current(-1.0, 12.0, 2.0, 0.02) == 0.0
    assert ramp_current(1.0, 12.0, 2.0, 0.02, limit_amps=5.0) == 5.0


@given(st.floats(0.01, 0.99), st.floats(6.0, 16.0), st.floats(0.2, 20.0), st.floats(1e-4, 0.1))
def test_the_time_to_a_current_gives_that_current(share: float, volts: float, ohm: float, henry: float) -> None:
    amps = share * volts / ohm
    assert ramp_current(ramp_time(amps, volts, ohm, henry), volts, ohm, henry) == pytest.approx(amps, rel=1e-9)
    assert ramp_time(1.001 * volts / ohm, volts, ohm, henry) == np.inf


def test_without_resistance_the_ramp_is_straight_and_without_volts_it_never_comes() -> None:
    """i = V t/L, the limit of the exponential; states of a winding reach down to 0."""
    assert ramp_current(0.002, 14.0, 0.0, 0.004) == pytest.approx(7.0)
    assert ramp_time(7.0, 14.0, 0.0, 0.004) == pytest.approx(0.002)
    ohm = np.array([0.0, 1e-12, 1e-6, 0.5])
    assert np.all(np.diff(ramp_current(0.002, 14.0, ohm, 0.004)) <= 0.0)
    assert ramp_time(1.0, np.array([0.0, -1.0]), 1.0, 0.004).tolist() == [np.inf, np.inf]


def test_an_early_ramp_is_straight_with_slope_volts_over_henry() -> None:
    assert ramp_current(1e-6, 14.0, 0.6, 0.004) == pytest.approx(14.0 / 0.004 * 1e-6, rel=1e-3)


@pytest.mark.parametrize("volts", [9.0, 14.0])
def test_an_injector_against_integration_of_its_flux(volts: float) -> None:
    """Independent: dΛ/dt = V - R Λ/L(t), fourth-order Runge-Kutta in steps of 0.1 µs across the kink."""
    one = Injector()
    start = float(ramp_time(one.pull_amps, volts, one.ohm, one.rest_henry))

    def henry(t: float) -> float:
        moved = min(max((t - start) / one.travel_seconds, 0.0), 1.0)
        return one.rest_henry + (one.open_henry - one.rest_henry) * moved

    def slope(t: float, flux: float) -> float:
        return volts - one.ohm * flux / henry(t)

    step, flux, found = 2e-7, 0.0, {}
    for k in range(15_000):
        t = k * step
        if k % 1000 == 0:
            found[t] = flux / henry(t)
        a = slope(t, flux)
        b = slope(t + step / 2, flux + step / 2 * a)
        c = slope(t + step / 2, flux + step / 2 * b)
        d = slope(t + step, flux + step * c)
        flux += step / 6 * (a + 2 * b + 2 * c + d)
    times = np.array(list(found))
    assert injector_current(times, volts, one) == pytest.approx(list(found.values()), abs=2e-6)


def test_the_kink_is_there_and_a_stuck_injector_has_none() -> None:
    t = np.linspace(0.0, 0.004, 4001)
    assert np.min(np.diff(injector_current(t, 14.0, Injector()))) < 0.0
    assert np.min(np.diff(injector_current(t, 14.0, Injector(open_henry=0.010)))) >= 0.0
    end = float(injector_opening_time(14.0, Injector()))
    dip = t[np.argmin(np.where((t > 0.0005) & (t < 0.0012), injector_current(t, 14.0, Injector()), np.inf))]
    assert dip == pytest.approx(end, abs=2e-6)


def test_too_little_volts_never_open_it() -> None:
    assert injector_opening_time(6.0, Injector()) == np.inf
    assert injector_current(0.1, 6.0, Injector()) == pytest.approx(0.5, rel=1e-6)
    assert injector_opening_time(14.0, Injector(), wiring_ohm=5.0) > injector_opening_time(14.0, Injector())


@given(st.floats(0.0, 0.2), st.floats(8.0, 15.0))
def test_a_motor_takes_what_it_gives_and_heats(torque: float, volts: float) -> None:
    """Energy: V I = T ω + R I², unless it stalls."""
    motor = PumpMotor()
    amps, speed = pump_current(torque, motor), pump_speed(torque, volts, motor)
    if speed > 0.0:
        assert volts * amps == pytest.approx(torque * speed + motor.ohm * amps**2, rel=1e-9, abs=1e-12)


def test_commutation_against_the_foremost_of_the_coils() -> None:
    """Independent: the largest of the rectified coil EMFs, laid out over a turn."""
    angle = np.linspace(0.0, 2.0 * np.pi, 200_001)
    for bars in (5, 8):
        coils = np.abs(np.cos(angle[:, None] - 2.0 * np.pi * np.arange(bars) / bars))
        emf = coils.max(axis=1)
        assert 1.0 - emf.min() / emf.max() == pytest.approx(commutation_ripple(PumpMotor(bars=bars)), abs=1e-6)
        dips = np.sum((emf[1:-1] < emf[:-2]) & (emf[1:-1] <= emf[2:]))
        assert dips == pytest.approx(commutation_frequency(2.0 * np.pi, PumpMotor(bars=bars)), abs=1.0)


def test_what_cannot_be_is_refused() -> None:
    for ohm, henry in ((1.0, 0.0), (-1.0, 1.0), (np.nan, 1.0), (1.0, np.nan)):
        with pytest.raises(EngineDefinitionError, match="less than no resistance"):
            ramp_current(1.0, 12.0, ohm, henry)
        with pytest.raises(EngineDefinitionError, match="less than no resistance"):
            ramp_time(1.0, 12.0, ohm, henry)
    with pytest.raises(EngineDefinitionError, match="without resistance or inductance"):
        injector_current(1.0, 12.0, Injector(ohm=0.0))
    with pytest.raises(EngineDefinitionError, match="shrinks"):
        injector_current(1.0, 12.0, Injector(open_henry=0.001))
    with pytest.raises(EngineDefinitionError, match="2 bars"):
        commutation_ripple(PumpMotor(bars=2))
