"""Fuel: injectors, supply, stoichiometry, λ and trim: identities and directions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.physics.airmeter import lagged, meter_reading
from witnessmark.physics.fuelsupply import FuelSupply, pressure_held, pump_delivery, supply_pressure
from witnessmark.physics.injector import dead_time, fuel_per_pulse, injector_scale
from witnessmark.physics.mixture import lambda_from_gas, lambda_from_masses, lambda_from_phi, trim_needed, trim_within
from witnessmark.physics.stoichiometry import (
    ETHANOL,
    GASOLINE,
    Fuel,
    blend_stoichiometric,
    ethanol_blend,
    stoichiometric,
)


def test_a_formula_may_be_written_in_any_multiple() -> None:
    assert stoichiometric(Fuel(8, 18)) == pytest.approx(stoichiometric(Fuel(4, 9)), rel=1e-12)


@given(st.floats(0.0, 1.0))
def test_blends_lie_between_their_parts_and_agree_by_mass(share: float) -> None:
    by_mass = [(1 - share) * GASOLINE.density, share * ETHANOL.density]
    assert ethanol_blend(share) == pytest.approx(blend_stoichiometric([GASOLINE, ETHANOL], by_mass), rel=1e-12)
    assert stoichiometric(ETHANOL) - 1e-9 <= ethanol_blend(share) <= stoichiometric(GASOLINE) + 1e-9


@given(st.floats(0.8, 1.2))
def test_lambda_by_gas_finds_the_mixture_it_was_made_of(lam: float) -> None:
    """Identity: burn CH1.7261 O0.0176 to CO2, CO, H2O, H2 and O2 with λ known, and read λ off the dry gas.

    Lean: no CO. Rich: CO and H2 by the water-gas equilibrium of constant 3.5; found by bisection on the oxygen.
    """
    h, o = 1.7261, 0.0176
    oxygen = lam * (1 + h / 4 - o / 2)
    low, high = 0.0, 1.0
    for _ in range(200):
        co = 0.5 * (low + high)
        water = h / 2 * 3.5 / (3.5 + co / max(1 - co, 1e-12))
        used = (1 - co) + co / 2 + water / 2 - o / 2
        low, high = (co, high) if used > oxygen else (low, co)
    left = max(oxygen - used, 0.0)
    gas = {"carbon_monoxide": 10 * co, "carbon_dioxide": 10 * (1 - co), "oxygen": 10 * left, "hydrocarbons_ppm": 0.0}
    assert lambda_from_gas(**gas) == pytest.approx(lam, rel=1e-6)


@given(st.floats(0.5, 2.0), st.floats(0.5, 1.5), st.floats(0.0, 0.3))
def test_after_the_trim_lambda_is_one(seen: float, delivery: float, other: float) -> None:
    """Identity: the fuel that the trim leads to burns exactly the air."""
    trim = float(trim_needed(1.0, seen, delivery=delivery, other_fuel=other))
    fuel = seen * delivery * (1 + trim / 100) / 14.6 + other / 14.6
    assert lambda_from_masses(1.0, fuel, 14.6) == pytest.approx(1.0, rel=1e-12)


def test_trims_lean_the_right_way() -> None:
    """Signs: air unseen, a meter that reads low, low pressure: plus; purge fuel: minus."""
    assert trim_needed(1.2, 1.0) > 0.0
    assert trim_needed(1.0, 0.85) > 0.0
    assert trim_needed(1.0, 1.0, delivery=0.9) > 0.0
    assert trim_needed(1.0, 1.0, other_fuel=0.1) < 0.0
    assert list(trim_within(np.array([-40.0, 3.0, 40.0]), 25.0)) == [-25.0, 3.0, 25.0]
    assert lambda_from_phi(lambda_from_phi(1.3)) == pytest.approx(1.3)


def test_dead_time_grows_as_the_voltage_falls() -> None:
    volts = np.array([16.0, 14.0, 12.0, 10.0, 8.0, 6.0])
    lost = dead_time(volts)
    assert np.all(np.diff(lost[:-1]) > 0.0)
    assert lost[-1] == np.inf
    # Derivative of τ ln(V/(V - V0)): -τ V0/(V (V - V0)).
    slope = (dead_time(12.001) - dead_time(11.999)) / 0.002
    assert slope == pytest.approx(-0.0016 * 6.0 / (12.0 * 6.0), rel=1e-5)


def test_a_pulse_gives_flow_times_what_is_left_of_it() -> None:
    given_ = {"drop": 240e3, "rated_drop": 300e3, "volts": 13.0}
    one, two = (fuel_per_pulse(pulse, 0.003, **given_) for pulse in (0.004, 0.005))
    assert two - one == pytest.approx(0.003 * 0.001 * injector_scale(240e3, 300e3))
    assert fuel_per_pulse(0.0005, 0.003, **given_) == 0.0


def test_the_rail_gives_way_only_when_the_pump_cannot_follow() -> None:
    supply, flow = FuelSupply(), np.linspace(0.0, 0.03, 31)
    sound = supply_pressure(supply, flow)
    worn = supply_pressure(supply, flow, pump=0.4)
    dirty = supply_pressure(supply, flow, filter_restriction=0.9)
    assert sound[0] == worn[0] == dirty[0] == 300e3
    assert np.all(np.diff(worn) <= 0.0)
    assert np.all(np.diff(dirty) <= 0.0)
    assert np.all(worn <= sound)
    assert np.all(dirty <= sound)
    assert worn[-1] == 0.0
    assert supply_pressure(supply, 0.004, regulator_error=-20.0) == pytest.approx(240e3)


def test_pump_and_rail_lie_on_one_line() -> None:
    """Identity: what the pump gives against the pressure that its flow leaves it, without a filter, is that flow."""
    supply = FuelSupply(set_pressure=1e9, filter_drop=0.0)
    flow = np.linspace(0.001, 0.02, 9)
    np.testing.assert_allclose(pump_delivery(supply, supply_pressure(supply, flow, pump=0.7), pump=0.7), flow)


def test_bleeding_starts_at_the_rate_that_is_given() -> None:
    """By definition of rail_bleed; and a leak that goes with the root of pressure gets slower."""
    start = 300e3
    assert (start - pressure_held(start, 30.0, 1.0)) / 1000 * 60 == pytest.approx(30.0, rel=2e-3)
    left = pressure_held(start, 30.0, np.arange(0.0, 1500.0, 60.0))
    assert np.all(np.diff(left) <= 0.0)
    assert np.all(np.diff(left, 2) >= -1e-6)
    assert left[-1] == 0.0


def test_a_slow_sensor_follows_a_ramp_one_lag_behind() -> None:
    """Textbook: a first-order lag trails a ramp by slope times time constant."""
    t = np.linspace(0.0, 5.0, 51)
    shown = lagged(t, 2.0 * t, 0.3)
    assert 2.0 * t[-1] - shown[-1] == pytest.approx(0.6, rel=1e-6)
    np.testing.assert_allclose(lagged(t, 2.0 * t, 0.0), 2.0 * t)


def test_a_step_reaches_63_percent_after_one_lag() -> None:
    t = np.array([0.0, 1e-6, 0.5, 2.0])
    shown = lagged(t, np.array([0.0, 1.0, 1.0, 1.0]), np.array([0.5, 2.0]))
    assert shown[2, 0] == pytest.approx(1 - np.exp(-1), rel=1e-5)
    assert shown[3, 1] == pytest.approx(1 - np.exp(-1), rel=1e-5)


def test_reading() -> None:
    assert meter_reading(0.010, gain=0.8, offset=0.0005) == pytest.approx(0.0085)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: stoichiometric(Fuel(0, 0, 2)), "fuel: C 0, H 0, O 2 given. Expected atoms that take up oxygen."),
        (lambda: ethanol_blend(1.2), "ethanol share: 1.2 given. Expected 0 to 1."),
        (lambda: blend_stoichiometric([GASOLINE], [0.5, 0.5]), "mass shares: 2 shares for 1 fuels."),
        (lambda: injector_scale(-1.0, 3e5), "pressure drop: -1 given. Expected at least 0."),
        (lambda: supply_pressure(FuelSupply(), 0.01, filter_restriction=1.0), "filter restriction: 1 given."),
        (lambda: trim_within(float("nan")), "fuel trim: not a number. Expected percent."),
        (lambda: lagged([0.0, 0.0], [1.0, 1.0], 0.1), "time from one to the next: 0 given."),
    ],
)
def test_bad_numbers_are_named(call: object, words: str) -> None:
    with pytest.raises(InputError) as refused:
        call()  # type: ignore[operator]
    assert str(refused.value).startswith(words)
