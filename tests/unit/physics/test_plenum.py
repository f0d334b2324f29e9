"""Plenum, filling, throttle: balances close, and times are what the small-signal theory says."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.physics._root import falling_root
from witnessmark.physics.filling import (
    absolute_load,
    filling_factor,
    speed_density_flow,
    swept_flow_rate,
    volumetric_efficiency,
)
from witnessmark.physics.nozzle import R_AIR, mass_flow
from witnessmark.physics.plenum import filling_time, pressure_rate, settled_pressure, step_response
from witnessmark.physics.throttle import throttle_area


@given(st.floats(1e-6, 2e-3), st.floats(1e-3, 0.1))
def test_what_flows_in_flows_out(area: float, pumping: float) -> None:
    """Identity: conservation of mass, to a millionth."""
    p = settled_pressure(area, 101325.0, 300.0, pumping=pumping)
    inflow = mass_flow(area, 101325.0, p, 300.0)
    assert inflow == pytest.approx(p * pumping / (R_AIR * 300.0), rel=1e-6)


def test_the_step_ends_where_the_balance_is() -> None:
    pumping = np.array([0.008, 0.02, 0.05])
    rest = settled_pressure(3e-5, 101325.0, 300.0, pumping=pumping)
    late = step_response(60e3, [8.0], area=3e-5, upstream=101325.0, temperature=300.0, pumping=pumping, volume=0.004)
    np.testing.assert_allclose(late[0], rest, rtol=1e-6)


def test_choked_filling_is_exponential() -> None:
    """Exact solution of the linear mass balance while the throttle is choked; its time constant is filling_time."""
    volume, displacement, rpm, efficiency = 0.004, 0.002, 800.0, 0.8
    pumping = efficiency * float(swept_flow_rate(displacement, rpm))
    tau = float(filling_time(volume, displacement, rpm, efficiency))
    inflow = float(mass_flow(1e-5, 101325.0, 2e4, 300.0))
    end = inflow * R_AIR * 300.0 / pumping
    times = np.array([0.0, 0.1, 0.5, 1.0])
    given_ = {"area": 1e-5, "upstream": 101325.0, "temperature": 300.0, "pumping": pumping, "volume": volume}
    found = step_response(4e4, times, **given_)
    np.testing.assert_allclose(found, end + (4e4 - end) * np.exp(-times / tau), rtol=1e-8)


def test_the_rate_is_the_slope_of_the_step() -> None:
    """Derivative check."""
    given_ = {"area": 3e-5, "upstream": 101325.0, "temperature": 300.0, "pumping": 0.01, "volume": 0.004}
    p = step_response(8e4, [0.0, 1e-4], **given_)
    outflow = 8e4 * 0.01 / (R_AIR * 300.0)
    rate = pressure_rate(mass_flow(3e-5, 101325.0, 8e4, 300.0), outflow, 0.004, 300.0)
    assert (p[1] - p[0]) / 1e-4 == pytest.approx(rate, rel=1e-3)


def test_efficiency_and_flow_are_inverse() -> None:
    flow = speed_density_flow(0.8, 5e4, 310.0, displacement=0.002, speed_rpm=2000.0)
    back = volumetric_efficiency(flow, 5e4 / (R_AIR * 310.0), displacement=0.002, speed_rpm=2000.0)
    assert back == pytest.approx(0.8, rel=1e-12)


def test_load_does_not_ask_how_many_cylinders() -> None:
    """By definition: grams of one intake stroke over 1.184 g/L times one cylinder's displacement."""
    for n in (3, 4, 6, 8):
        stroke = 0.0004
        assert absolute_load(stroke * n * 900 / 120, displacement=0.0005 * n, speed_rpm=900.0) == pytest.approx(
            100 * 0.4 / (1.184 * 0.5)
        )


def test_back_pressure_costs_charge() -> None:
    factor = filling_factor(np.array([0.5, 1.0, 2.0, 3.0]), 10.5)
    assert factor[1] == 1.0
    assert np.all(np.diff(factor) < 0.0)
    assert filling_factor(3.0, 14.0) > filling_factor(3.0, 8.0)


def test_a_thin_plate_leaves_one_minus_the_cosine() -> None:
    """Geometry: without a shaft and closing square, the plate's shadow is an ellipse of area π d²/4 cos ψ."""
    angle = np.linspace(0.0, 90.0, 19)
    whole = np.pi / 4 * 0.05**2
    np.testing.assert_allclose(throttle_area(angle, 0.05), whole * (1 - np.cos(np.radians(angle))), atol=1e-15)


def test_a_shaft_stays_in_the_way() -> None:
    """Geometry: wide open, the bore less the strip of the shaft, found here by summing strips."""
    y = (np.arange(200000) + 0.5) / 200000 * 0.004
    strip = 4.0 * np.sum(np.sqrt(0.025**2 - y**2)) * 0.004 / 200000
    angle = np.linspace(0.0, 90.0, 181)
    area = throttle_area(angle, 0.05, closed_deg=5.0, shaft=0.008)
    assert area[-1] == pytest.approx(np.pi / 4 * 0.05**2 - strip, rel=1e-6)
    assert np.all(np.diff(area) >= -1e-12)
    assert np.all(area[angle <= 5.0] < 1e-12)


@given(st.lists(st.floats(-3.0, 12.0), min_size=1, max_size=5))
def test_roots_are_found_or_the_nearer_end_is_given(cubes: list[float]) -> None:
    """Against the cube root."""
    c = np.array(cubes)
    found = falling_root(lambda x: c - x**3, np.zeros_like(c), np.full_like(c, 2.0))
    np.testing.assert_allclose(found, np.cbrt(np.clip(c, 0.0, 8.0)), rtol=1e-12, atol=1e-9)


def test_bad_numbers_are_named() -> None:
    with pytest.raises(InputError, match="engine speed: 0 given"):
        swept_flow_rate(0.002, 0.0)
    with pytest.raises(InputError, match=r"throttle angle: 95 given\. Expected 0 to 90"):
        throttle_area(95.0, 0.05)
    with pytest.raises(InputError, match="time from one to the next"):
        step_response(4e4, [1.0, 0.5], area=1e-5, upstream=1e5, temperature=300.0, pumping=0.01, volume=0.004)
