"""Orifice plates, outside air, exhaust and turbocharger alone: limits, identities, directions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.physics.atmosphere import air_density, geopotential_altitude, standard_density, standard_pressure
from witnessmark.physics.boost import (
    Boost,
    charge_temperature,
    compressor_power,
    compressor_ratio,
    turbine_power,
    turbine_ratio,
)
from witnessmark.physics.exhaust import Exhaust, back_pressure, front_leak_air, remaining_area
from witnessmark.physics.humidity import dry_air_density, humidity_ratio, saturation_pressure, vapour_pressure
from witnessmark.physics.nozzle import GAMMA_EXHAUST, R_EXHAUST, mass_flow
from witnessmark.physics.orifice import discharge_coefficient, expansibility, orifice_flow


def test_pressure_falls_with_height_as_the_weight_of_the_air_above() -> None:
    """Hydrostatics: dp/dH = -ρ g, g the standard gravity 9.80665 m/s² that geopotential altitude is defined with."""
    height = np.linspace(-1000.0, 9000.0, 11)
    slope = (standard_pressure(height + 0.5) - standard_pressure(height - 0.5)) / 1.0
    np.testing.assert_allclose(slope, -9.80665 * standard_density(height), rtol=1e-5)


def test_geometric_height_of_a_kilometre() -> None:
    """ISO 2533 tabulates both heights; the handbook's worked value: 89.876 kPa at 1,000 m geometric."""
    assert standard_pressure(geopotential_altitude(1000.0)) == pytest.approx(89.876e3, abs=1.0)


def test_water_boils_at_sea_level_near_100_degrees() -> None:
    """Steam tables, from memory: 101.42 kPa at 100 °C, 0.6117 kPa at 0.01 °C."""
    assert saturation_pressure(373.15) == pytest.approx(101.42e3, rel=1e-4)
    assert saturation_pressure(273.16) == pytest.approx(611.7, rel=1e-4)


@given(st.floats(275.0, 325.0), st.floats(0.0, 1.0))
def test_vapour_takes_the_place_of_air(kelvin: float, share: float) -> None:
    """Dalton: dry density and humidity ratio make the whole density, heavier parts by their own gas constants."""
    dry = dry_air_density(kelvin, share)
    assert dry == pytest.approx(air_density(101325.0, kelvin) * (1 - vapour_pressure(kelvin, share) / 101325.0))
    assert humidity_ratio(kelvin, share) * dry * 461.5 * kelvin == pytest.approx(
        vapour_pressure(kelvin, share), rel=1e-3, abs=1e-6
    )


def test_an_orifice_between_its_taps() -> None:
    """Identity: the flow found has the Reynolds number that its coefficient was taken at."""
    given_ = {"upstream": 101e3, "downstream": 98e3, "density": 1.2, "viscosity": 1.8e-5}
    flow = orifice_flow(0.08, 0.05, **given_, kappa=1.4)
    c = discharge_coefficient(0.08, 0.05, 4 * flow / (np.pi * 1.8e-5 * 0.08))
    e = expansibility(0.05 / 0.08, 101e3, 98e3)
    plain = np.pi / 4 * 0.05**2 * np.sqrt(2 * 3e3 * 1.2 / (1 - (5 / 8) ** 4))
    assert flow == pytest.approx(c * e * plain, rel=1e-12)
    assert 0.59 < c < 0.62
    assert e < 1.0
    with pytest.raises(InputError, match="diameter ratio"):
        discharge_coefficient(0.08, 0.075, 1e5)
    with pytest.raises(InputError, match="taps: no pressure taps are called “vena”"):
        discharge_coefficient(0.08, 0.05, 1e5, "vena")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="pressure drop"):
        orifice_flow(0.08, 0.05, upstream=98e3, downstream=99e3, density=1.2, viscosity=1.8e-5)


def test_every_restriction_of_an_exhaust_passes_the_same_flow() -> None:
    """Conservation of mass along the pipe, each section by the forward formula."""
    exhaust, flow = Exhaust(), np.array([0.02, 0.05, 0.1])
    found = back_pressure(exhaust, flow, 101325.0, catalyst=0.5)
    steps = [
        (exhaust.front_area, found.port, found.front_sensor),
        (0.5 * exhaust.catalyst_area, found.front_sensor, found.rear_sensor),
        (exhaust.tail_area, found.rear_sensor, 101325.0),
    ]
    for area, high, low in steps:
        passed = mass_flow(area, high, low, exhaust.temperature, gamma=GAMMA_EXHAUST, gas=R_EXHAUST)
        np.testing.assert_allclose(passed, flow, rtol=2e-3)


def test_restriction_is_a_share_of_area() -> None:
    assert remaining_area(1e-3, 0.25) == pytest.approx(0.75e-3)
    assert remaining_area(1e-3, 1.0) > 0.0
    with pytest.raises(InputError, match="restriction"):
        remaining_area(1e-3, -0.1)


def test_a_front_leak_breathes_in_only_while_pulses_are_below_ambient() -> None:
    exhaust = Exhaust()
    mean = 101325.0 + np.linspace(-3000.0, 4000.0, 15)
    drawn = front_leak_air(exhaust, 10.0, mean, 101325.0, 298.15)
    assert np.all(np.diff(drawn) <= 0.0)
    assert drawn[-1] == 0.0
    assert front_leak_air(exhaust, 20.0, 101325.0, 101325.0, 298.15) == pytest.approx(2 * drawn[6], rel=1e-9)


@given(st.floats(1.0, 3.0), st.floats(0.01, 0.3))
def test_compressor_power_and_ratio_are_inverse(ratio: float, flow: float) -> None:
    power = compressor_power(flow, ratio, 300.0)
    assert compressor_ratio(power, flow, 300.0) == pytest.approx(ratio, rel=1e-9)


@given(st.floats(0.2, 0.999))
def test_turbine_power_and_ratio_are_inverse(ratio: float) -> None:
    """Given so much exhaust that the wastegate can set anything."""
    boost = Boost(wastegate_area=1.0)
    power = float(turbine_power(ratio, boost.turbine_area, 110e3, 1000.0))
    flow = 2.0 * float(mass_flow(boost.turbine_area, 110e3 / 0.15, 110e3, 1000.0, gamma=GAMMA_EXHAUST, gas=R_EXHAUST))
    found = turbine_ratio(boost, flow, 110e3, 1000.0, power=power)
    assert found == pytest.approx(ratio, rel=1e-5)


@given(st.floats(0.3, 0.98))
def test_turbine_power_is_the_enthalpy_that_its_flow_gives_up(ratio: float) -> None:
    """First law: flow by the nozzle, times the drop of enthalpy of an ideal gas expanding at constant entropy."""
    flow = mass_flow(4e-4, 110e3 / ratio, 110e3, 1000.0, gamma=GAMMA_EXHAUST, gas=R_EXHAUST)
    heat = R_EXHAUST / (1.0 - 1.0 / GAMMA_EXHAUST)
    drop = heat * 1000.0 * (1.0 - ratio ** (1.0 - 1.0 / GAMMA_EXHAUST))
    assert turbine_power(ratio, 4e-4, 110e3, 1000.0) == pytest.approx(flow * drop, rel=1e-4)


def test_compressor_power_of_a_textbook_case() -> None:
    """First law by hand: 0.1 kg/s from 300 K to twice the pressure, c_p 1005 J/kg K: 0.1 · 1005 · 65.7 K = 6.60 kW."""
    assert compressor_power(0.1, 2.0, 300.0) == pytest.approx(6600.0, rel=2e-3)


def test_the_wastegate_stops_at_both_ends() -> None:
    boost = Boost()
    shut = turbine_ratio(boost, 0.08, 110e3, 1000.0, power=1e6)
    open_ = turbine_ratio(boost, 0.08, 110e3, 1000.0, power=0.0)
    assert mass_flow(
        boost.turbine_area, 110e3 / shut, 110e3, 1000.0, gamma=GAMMA_EXHAUST, gas=R_EXHAUST
    ) == pytest.approx(0.08, rel=1e-4)
    whole = boost.turbine_area + boost.wastegate_area
    assert mass_flow(whole, 110e3 / open_, 110e3, 1000.0, gamma=GAMMA_EXHAUST, gas=R_EXHAUST) == pytest.approx(
        0.08, rel=1e-4
    )
    jammed = turbine_ratio(boost, 0.08, 110e3, 1000.0, power=0.0, wastegate_error_mm2=-450.0)
    assert jammed == pytest.approx(shut)
    gaping = turbine_ratio(boost, 0.08, 110e3, 1000.0, power=1e6, wastegate_error_mm2=450.0)
    assert gaping == pytest.approx(open_)


def test_charge_is_warmed_by_work_and_cooled_by_the_cooler() -> None:
    """First law: with an ideal compressor and no cooler the isentropic value; a whole cooler gives it back."""
    ideal = Boost(compressor_efficiency=1.0, cooling=0.0)
    assert charge_temperature(ideal, 2.0, 300.0) == pytest.approx(300.0 * 2.0 ** (0.4 / 1.4))
    assert charge_temperature(Boost(cooling=1.0), 2.0, 300.0) == pytest.approx(300.0)
    assert charge_temperature(Boost(), 0.9, 300.0) == 300.0
