"""Nozzles: either way, smooth at rest, choked when it should be, and inverted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.physics.nozzle import (
    GAMMA_EXHAUST,
    R_AIR,
    choked_flux,
    critical_ratio,
    downstream_pressure,
    flow_function,
    mass_flow,
    signed_flow,
    upstream_pressure,
)

PRESSURE = st.floats(5e3, 4e5)
GAMMA = st.floats(1.2, 1.6)


@given(PRESSURE, PRESSURE)
def test_swapping_sides_swaps_the_sign(p1: float, p2: float) -> None:
    """Identity: which side is called this one does not matter."""
    there = mass_flow(1e-5, p1, p2, 300.0, other_temperature=400.0)
    back = mass_flow(1e-5, p2, p1, 400.0, other_temperature=300.0)
    assert there == pytest.approx(-back, rel=1e-12, abs=0.0)


@given(GAMMA)
def test_the_flow_function_peaks_at_the_critical_ratio(gamma: float) -> None:
    """Identity: choking is where the unchoked formula has its maximum, so its slope vanishes there."""
    star = float(critical_ratio(gamma))
    peak = float(flow_function(star, gamma))
    assert peak == pytest.approx(np.sqrt(gamma) * (2 / (gamma + 1)) ** ((gamma + 1) / (2 * (gamma - 1))), rel=1e-12)
    assert float(flow_function(star + 1e-4, gamma)) < peak
    assert float(flow_function(star + 1e-4, gamma)) == pytest.approx(peak, rel=1e-7)


def test_far_from_rest_the_smooth_flow_is_the_formula() -> None:
    ratio = np.linspace(0.05, 0.99, 95)
    smooth = mass_flow(1e-5, 1e5, 1e5 * ratio, 300.0) * np.sqrt(R_AIR * 300.0)
    np.testing.assert_allclose(smooth, flow_function(ratio), rtol=2.6e-5)
    near = float(mass_flow(1e-5, 1e5, 99.9e3, 300.0)) * np.sqrt(R_AIR * 300.0)
    assert near == pytest.approx(float(flow_function(0.999)), rel=0.0026)


def test_through_rest_the_flow_has_one_slope() -> None:
    """Derivative check: slopes from the left and from the right of equal pressure agree."""
    p = 1e5 + np.array([-0.02, 0.0, 0.02])
    flow = mass_flow(1e-5, p, 1e5, 300.0)
    left, right = np.diff(flow)
    assert flow[1] == 0.0
    assert left == pytest.approx(right, rel=1e-5)
    assert left > 0.0


def test_more_pressure_ahead_or_less_behind_never_means_less_flow() -> None:
    behind = np.linspace(1e4, 2e5, 4001)
    assert np.all(np.diff(mass_flow(1e-5, 1e5, behind, 300.0)) <= 1e-15)
    assert np.all(np.diff(mass_flow(1e-5, behind, 1e5, 300.0)) >= -1e-15)


def test_small_drops_follow_bernoulli() -> None:
    """Textbook limit: ṁ = A √(2 ρ Δp), here at 0.2 % of the pressure."""
    flow = float(mass_flow(1e-4, 1e5, 99.8e3, 300.0))
    assert flow == pytest.approx(1e-4 * np.sqrt(2 * 1e5 / (R_AIR * 300.0) * 200.0), rel=0.002)


@given(st.floats(0.56, 0.9999), st.sampled_from([1.4, GAMMA_EXHAUST]))
def test_both_inverses_give_the_pressures_back(ratio: float, gamma: float) -> None:
    flow = float(flow_function(ratio, gamma)) * 1e-5 * 1e5 / np.sqrt(R_AIR * 300.0)
    behind = downstream_pressure(flow, 1e-5, 1e5, 300.0, gamma=gamma, gas=R_AIR)
    ahead = upstream_pressure(flow, 1e-5, 1e5 * ratio, 300.0, gamma=gamma, gas=R_AIR)
    assert 1e5 - behind == pytest.approx(1e5 * (1 - ratio), rel=1e-9)
    assert ahead == pytest.approx(1e5, rel=1e-12)


def test_beyond_choking() -> None:
    """Ahead of a choked nozzle the pressure is proportional to the flow; behind it none can carry more."""
    most = float(choked_flux(1e5, 300.0)) * 1e-5
    assert upstream_pressure(2 * most, 1e-5, 1e4, 300.0) == pytest.approx(2e5, rel=1e-12)
    left = downstream_pressure(np.array([0.999, 1.0, 1.5]) * most, 1e-5, 1e5, 300.0) / 1e5
    assert left[1] == pytest.approx(float(critical_ratio()), rel=1e-6)
    assert left[0] > left[1] > left[2]


def test_plain_floats_and_arrays_agree() -> None:
    p = np.array([3e4, 9e4, 1e5, 1.2e5])
    each = [float(signed_flow(1e-5, 1e5, float(x), 300.0, 350.0)) for x in p]
    np.testing.assert_allclose(signed_flow(1e-5, 1e5, p, 300.0, 350.0), each, rtol=1e-14)


def test_the_inner_formula_compiles() -> None:
    """Promised to inner loops: the same numbers from compiled code."""
    numba = pytest.importorskip("numba")
    compiled = numba.njit(signed_flow)
    for p in (3e4, 9e4, 1e5, 1.2e5):
        there = compiled(1e-5, 1e5, p, 300.0, 350.0, 1.4, R_AIR)
        assert there == pytest.approx(float(signed_flow(1e-5, 1e5, p, 300.0, 350.0)), rel=1e-12)


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        ((-1e-6, 1e5, 9e4, 300.0), "area: -1e-06 given. Expected at least 0."),
        ((1e-6, 0.0, 9e4, 300.0), "pressure: 0 given. Expected a number above 0."),
        ((1e-6, 1e5, float("nan"), 300.0), "other pressure: nan given."),
        ((1e-6, 1e5, 9e4, np.array([300.0, -5.0])), "temperature: -5 given."),
    ],
)
def test_what_no_nozzle_can_be_is_named(given_: tuple[float, float, float, float], words: str) -> None:
    with pytest.raises(InputError) as refused:
        mass_flow(*given_)
    assert str(refused.value).startswith(words)
