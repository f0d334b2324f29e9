"""Restricted exhaust and inlet, recirculation, boost: directions of the handbook's signatures, balances, limits."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.physics.air_engines import BLOWN, CRUISE, METER, PRESSURE, bank, trims
from witnessmark.physics.airstate import AirState
from witnessmark.physics.boost import compressor_power, turbine_power
from witnessmark.physics.demand import full_load, idling, running
from witnessmark.physics.exhaust import back_pressure
from witnessmark.physics.nozzle import downstream_pressure
from witnessmark.physics.operating import OperatingPoint, operating_point

# ---------------------------------------------------------------- restrictions


BLOCKED = AirState(restriction_catalyst=bank(0.0, 0.7, 0.85, 0.9))


def test_a_restricted_exhaust_by_metering() -> None:
    """Signature: a meter sees what flows (trim 0); by pressure more air is believed in: rich, more so with flow."""
    assert np.max(np.abs(trims(METER, BLOCKED))) < 1e-6
    table = trims(PRESSURE, BLOCKED)
    assert np.all(np.abs(table[:, 0]) < 1e-6)
    assert np.all(np.diff(table[:, 3]) < 0.0)
    assert -1.0 < table[0, 3] <= 0.0
    assert table[2, 3] < -3.0
    full = operating_point(PRESSURE, BLOCKED, full_load(PRESSURE, 5500.0))
    assert np.all(np.diff(full.fuelling.lambda_bank[:, 0]) < 0.0)


def test_a_restricted_exhaust_costs_filling_at_full_load_and_not_idle_vacuum() -> None:
    """Signature: volumetric efficiency 0.5 to 0.7 with the pressure in the plenum high for the flow; idle as ever."""
    full = operating_point(METER, BLOCKED, full_load(METER, 5500.0))
    assert np.all(np.diff(full.volumetric_efficiency) < 0.0)
    assert full.volumetric_efficiency[0] > 0.75
    assert 0.5 < full.volumetric_efficiency[3] < 0.7
    assert np.all(np.diff(full.plenum_pressure) > 0.0)
    idle = operating_point(METER, BLOCKED, idling(METER))
    assert np.ptp(idle.plenum_pressure) < 500.0
    assert idle.back_pressure[3, 0] < 7e3  # gauge, common practice, no source


def test_back_pressure_grows_with_the_square_of_flow() -> None:
    """Bernoulli's limit, while the drop is small against the pressure."""
    found = operating_point(METER, AirState(), running(METER, np.array([1500.0, 3000.0])))
    flow, pressure = found.air_flow, found.back_pressure[:, 0]
    assert pressure[1] / pressure[0] == pytest.approx((flow[1] / flow[0]) ** 2, rel=0.01)


def test_where_it_is_blocked_shows_between_the_sensors() -> None:
    places = {"restriction_exhaust_front": [1, 0, 0], "restriction_catalyst": [1, 1, 0], "restriction_tail": [1, 1, 1]}
    demand = running(METER, 2500.0, CRUISE)
    sound = operating_point(METER, AirState(), demand)
    for name, rises in places.items():
        found = operating_point(METER, AirState(**{name: 0.7}), demand)
        levels = ("back_pressure", "front_sensor_pressure", "rear_sensor_pressure")
        moved = [bool(getattr(found, level)[0, 0] > 1.5 * getattr(sound, level)[0, 0]) for level in levels]
        assert moved == [bool(r) for r in rises], name


def test_a_blocked_inlet_keeps_idle_and_costs_full_load() -> None:
    state = AirState(restriction_air_filter=np.array([0.0, 0.85, 0.95]))
    idle, full = operating_point(METER, state, idling(METER)), operating_point(METER, state, full_load(METER, 5500.0))
    assert np.ptp(idle.plenum_pressure) < 100.0
    assert np.all(np.diff(full.air_flow) < 0.0)
    assert np.all(np.diff(full.plenum_pressure) < 0.0)
    assert np.max(np.abs(trims(METER, state))) < 1e-6


def test_recirculated_exhaust_costs_vacuum_and_by_pressure_reads_as_air() -> None:
    state = AirState(area_error_egr=np.array([0.0, 10.0]))
    idle = operating_point(METER, state, idling(METER))
    assert idle.plenum_pressure[1] > idle.plenum_pressure[0] + 3e3
    assert np.max(np.abs(trims(METER, state))) < 1e-6
    assert trims(PRESSURE, state)[0, 1] < -5.0


# ---------------------------------------------------------------- boost


def blown(state: AirState, wanted: float = 60e3) -> OperatingPoint:
    return operating_point(BLOWN, state, full_load(BLOWN, 3500.0, boost_wanted=wanted))


def test_boost_holds_its_target_until_it_cannot() -> None:
    worn = blown(AirState(turbo_efficiency=np.array([1.0, 0.85, 0.4])))
    np.testing.assert_allclose(worn.boost_pressure[:2], 60e3, rtol=1e-4)
    assert worn.boost_pressure[2] < 45e3
    assert worn.back_pressure[1, 0] > worn.back_pressure[0, 0]
    # Twice too small a target: what the wastegate wide open leaves is less than that.
    assert blown(AirState(), 20e3).boost_pressure[0] == pytest.approx(20e3, rel=1e-4)


def test_a_wastegate_stuck_open_or_shut() -> None:
    state = AirState(area_error_wastegate=np.array([-640.0, 0.0, 400.0]))
    found = blown(state, 30e3)
    assert found.boost_pressure[0] > 50e3
    assert found.boost_pressure[1] == pytest.approx(30e3, rel=1e-4)
    assert found.boost_pressure[2] < 20e3


def test_a_boost_leak_loses_metered_air() -> None:
    """Rich on an air meter, the opposite of a leak under vacuum; the compressor makes up for it while it can."""
    found = blown(AirState(leak_area_charge_pipe=np.array([0.0, 30.0, 300.0])))
    assert np.all(np.diff(found.unmetered_flow) < 0.0)
    assert np.all(np.diff(found.fuelling.lambda_bank[:, 0]) < 0.0)
    assert found.boost_pressure[1] == pytest.approx(60e3, rel=1e-4)
    assert found.boost_pressure[2] < 50e3


def test_the_coolers_drop_goes_with_flow_over_area_squared() -> None:
    found = blown(AirState(restriction_charge_cooler=np.array([0.0, 0.5])))
    ratio = (found.metered_flow[1] / found.metered_flow[0] / 0.5) ** 2
    assert found.cooler_drop[1] / found.cooler_drop[0] == pytest.approx(ratio, rel=0.02)


def test_the_turbine_gives_what_the_compressor_takes() -> None:
    """Energy balance by the public formulas: isentropic powers, with the efficiency between them."""
    boost = BLOWN.boost
    assert boost is not None
    found = blown(AirState(turbo_efficiency=np.array([1.0, 0.5])))
    exhaust = back_pressure(BLOWN.exhaust, found.air_flow * (1 + 1 / 14.6), 101325.0)
    made = turbine_power(
        exhaust.port / (101325.0 + found.back_pressure[:, 0]),
        boost.turbine_area,
        exhaust.port,
        BLOWN.exhaust.temperature,
    )
    charge = 101325.0 + found.boost_pressure + found.cooler_drop
    inlet = downstream_pressure(found.metered_flow, BLOWN.filter_area, 101325.0, 298.15)
    taken = compressor_power(found.metered_flow, charge / inlet, 298.15)
    np.testing.assert_allclose(taken, boost.efficiency * np.array([1.0, 0.5]) * made, rtol=1e-4)
