"""What each state variable moves, on both kinds of metering.

The directions are the handbook's table of signatures (numbers computed, logic common practice): unmetered air, a
meter that reads low, low fuel pressure.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.physics.air_engines import CRUISE, METER, PRESSURE, SIX, bank, conditions, trims
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import PER_CYLINDER, AirState
from witnessmark.physics.demand import Demand, full_load, idling, running
from witnessmark.physics.fuelsupply import FuelSupply
from witnessmark.physics.injector import dead_time
from witnessmark.physics.mixture import trim_needed
from witnessmark.physics.nozzle import HOLE, R_AIR, choked_flux
from witnessmark.physics.operating import operating_point

# ---------------------------------------------------------------- unmetered air


def test_unmetered_air_on_a_metered_engine_trims_by_leak_over_meter() -> None:
    """Signature: trim = leak/meter, falling with load, next to nothing at full load."""
    leaking = AirState(leak_area_plenum=np.array([0.0, 2.0, 4.0]))
    asked = [*conditions(METER), running(METER, 4000.0, 700e3)]
    rows = []
    for demand in asked:
        found = operating_point(METER, leaking, demand)
        np.testing.assert_allclose(
            found.fuelling.trim_wanted[:, 0], 100 * found.unmetered_flow / found.metered_flow, rtol=1e-9, atol=1e-9
        )
        np.testing.assert_allclose(
            found.fuelling.trim_wanted[:, 0], trim_needed(found.air_flow, found.metered_flow), atol=1e-9
        )
        rows.append(found.fuelling.trim_wanted[:, 0])
    table = np.array(rows)
    assert np.all(np.diff(table, axis=1) > 0.0)
    assert np.all(np.diff(table[:, 1:], axis=0) < 0.0)
    assert table[-1, 1] < 1.0 < table[0, 1]


@pytest.mark.parametrize(
    "place", ["leak_area_plenum", "leak_area_runner", "leak_area_intake_duct", "leak_area_crankcase"]
)
def test_every_unmetered_leak_leans_a_metered_engine(place: str) -> None:
    state = AirState(**{place: bank(0.0, 5.0) if place in PER_CYLINDER else np.array([0.0, 5.0])})
    table = trims(METER, state)
    assert np.all(np.abs(table[:, 0]) < 1e-9)
    assert np.all(table[:, 1] > 1e-3)


def test_a_leak_on_a_speed_density_engine_moves_idle_air_alone() -> None:
    """Signature: trim about 0 everywhere; the controller takes back just the area that leaks, both being choked."""
    leaking = AirState(leak_area_plenum=np.array([0.0, 1.0, 3.0, 6.0]))
    assert np.max(np.abs(trims(PRESSURE, leaking))) < 1e-6
    found = operating_point(PRESSURE, leaking, idling(PRESSURE))
    taken_back = (found.idle_air_demand[0] - found.idle_air_demand) / 100 * PRESSURE.idle_area
    np.testing.assert_allclose(taken_back, HOLE * 1e-6 * leaking.leak_area_plenum, rtol=1e-3, atol=1e-12)
    np.testing.assert_allclose(found.speed_rpm, 750.0)
    np.testing.assert_allclose(found.plenum_pressure, found.plenum_pressure[0], rtol=1e-9)


@pytest.mark.parametrize("path", [METER, PRESSURE], ids=["meter", "pressure"])
def test_beyond_its_control_idle_runs_away_or_stalls(path: AirPath) -> None:
    leaking = operating_point(path, AirState(leak_area_plenum=np.array([5.0, 15.0, 25.0, 40.0])), idling(path))
    assert leaking.idle_air_demand[0] > 0.0
    assert np.all(leaking.idle_air_demand[1:] == 0.0)
    assert leaking.speed_rpm[0] == 750.0
    assert np.all(np.diff(leaking.speed_rpm) > 100.0)
    np.testing.assert_allclose(leaking.load[:-1], 0.0, atol=1.0)
    dirty = operating_point(path, AirState(area_error_throttle=np.array([-10.0, -57.0, -70.0])), idling(path))
    sound = operating_point(path, AirState(), idling(path))
    more = HOLE * 10e-6 / path.idle_area * 100
    assert dirty.idle_air_demand[0] == pytest.approx(sound.idle_air_demand[0] + more, rel=1e-6)
    assert dirty.speed_rpm[0] == 750.0
    assert dirty.speed_rpm[1] < 750.0
    assert np.all(dirty.idle_air_demand[1:] == 100.0)
    assert list(dirty.stalls) == [0.0, 0.0, 1.0]


def test_plenum_pressure_rises_with_a_leak_as_the_linear_balance_says() -> None:
    """Derivative check at a held throttle, all choked: dp = Cd A p₀/√(RT) Ψ* dA/(k a), with k a from the filling."""
    area = np.array([1.0, 1.01])
    demand = Demand(1500.0, 0.0, 10e-6, 10e-6)
    found = operating_point(METER, AirState(leak_area_plenum=area), demand)
    slope = np.diff(found.plenum_pressure)[0] / 0.01
    warm = 298.15 + METER.charge_warming
    off = (1500.0 - METER.filling_speed_rpm) / METER.filling_width_rpm
    eta = METER.filling * (1 - 0.1 * off**2) * (1 + 1 / (1.4 * (METER.compression_ratio - 1)))
    out = eta * METER.displacement * 1500.0 / 120 / (R_AIR * warm)
    assert slope == pytest.approx(HOLE * 1e-6 * float(choked_flux(101325.0, 298.15)) / out, rel=2e-3)


# ---------------------------------------------------------------- sensors


def test_a_meter_that_reads_low_trims_alike_everywhere() -> None:
    """Signature: ×0.85 is +17.6 % at every flow, and at full load, where nobody trims, lean; load low."""
    low = AirState(sensor_gain_maf=np.array([1.0, 0.85]))
    np.testing.assert_allclose(trims(METER, low)[:, 1], 100 * (1 / 0.85 - 1), rtol=1e-9)
    full = operating_point(METER, low, full_load(METER, 5000.0))
    np.testing.assert_allclose(full.fuelling.lambda_bank[:, 0], [0.88, 0.88 / 0.85], rtol=1e-9)
    assert full.absolute_load[1] == pytest.approx(0.85 * full.absolute_load[0])
    assert np.max(np.abs(trims(PRESSURE, low))) < 1e-6


def test_an_offset_of_the_meter_fades_with_flow() -> None:
    table = trims(METER, AirState(sensor_offset_maf=np.array([-0.3])))[:, 0]
    assert table[0] > table[1] > table[2] > 0.0


def test_a_pressure_sensor_that_reads_high_makes_a_speed_density_engine_rich() -> None:
    """Most where the manifold is emptiest: an offset of kilopascals is a larger share of what is there."""
    table = trims(PRESSURE, AirState(sensor_offset_map=np.array([0.0, 5.0])))
    there = [operating_point(PRESSURE, AirState(), each).plenum_pressure[0] for each in conditions(PRESSURE)]
    assert np.max(np.abs(table[:, 0])) < 1e-6
    assert list(np.argsort(table[:, 1])) == list(np.argsort(there))
    assert table[2, 1] > table[0, 1] + 5.0
    assert np.all(table[:, 1] < -5.0)
    assert np.max(np.abs(trims(METER, AirState(sensor_offset_map=np.array([5.0]))))) < 5.0


def test_a_front_sensor_that_reads_lean_enriches() -> None:
    found = operating_point(METER, AirState(sensor_offset_o2_front=bank(0.0, 0.05)), idling(METER))
    np.testing.assert_allclose(found.fuelling.lambda_reported, 1.0)
    assert found.fuelling.lambda_bank[1, 0] == pytest.approx(0.95)
    assert found.fuelling.trim[1, 0] > 0.0


def test_air_let_into_the_exhaust_looks_lean_most_at_idle() -> None:
    """Front leak: the sensor is led astray, the gas is rich; pulses below ambient die away with back pressure."""
    state = AirState(leak_area_exhaust_front=bank(0.0, 10.0))
    table = trims(METER, state)
    assert table[0, 1] > table[1, 1] > table[2, 1] >= 0.0
    found = operating_point(METER, state, idling(METER))
    assert found.fuelling.lambda_bank[1, 0] < 1.0 == pytest.approx(found.fuelling.lambda_reported[1, 0])


# ---------------------------------------------------------------- fuel


def test_low_pressure_trims_alike_where_the_regulator_follows_the_plenum() -> None:
    """Signature: 250 for 300 kPa across the injectors is +9.5 % everywhere, lean at full load, load untouched."""
    path = replace(METER, supply=FuelSupply(follows_plenum=True))
    low = AirState(regulator_error=np.array([0.0, -100 / 6]))
    np.testing.assert_allclose(trims(path, low)[:, 1], 9.5445, rtol=1e-4)
    full = operating_point(path, low, full_load(path, 5000.0))
    assert full.fuelling.lambda_bank[1, 0] == pytest.approx(0.88 * np.sqrt(300 / 250))
    assert full.absolute_load[0] == full.absolute_load[1]


def test_a_weak_pump_shows_only_when_much_is_asked() -> None:
    """Signature: rising if limited by volume."""
    state = AirState(lift_pump_flow=np.array([1.0, 0.22]))
    idle, full = (operating_point(METER, state, d) for d in (idling(METER), full_load(METER, 5500.0)))
    assert idle.fuelling.rail_pressure[1] == pytest.approx(300e3)
    assert full.fuelling.rail_pressure[1] < 200e3
    assert full.fuelling.lambda_bank[1, 0] > 1.05 > full.fuelling.lambda_bank[0, 0]


def test_the_rail_settles_where_supply_and_injectors_agree() -> None:
    """Identity: fuel out of the rail is what was asked times the square root of the drop, whatever limits it."""
    state = AirState(lift_pump_flow=np.array([1.0, 0.3, 0.2]))
    found = operating_point(METER, state, full_load(METER, 5500.0)).fuelling
    plenum = operating_point(METER, state, full_load(METER, 5500.0)).plenum_pressure
    drop = found.rail_pressure + 101325.0 - plenum
    np.testing.assert_allclose(found.fuel_flow / found.fuel_flow[0], np.sqrt(drop / drop[0]), rtol=1e-6)


def test_purge_fuel_makes_rich_and_purge_air_lean() -> None:
    state = AirState(area_error_purge=np.array([1.0, 1.0]), inflow_fuel_purge=np.array([0.0, 0.3]))
    idle = trims(METER, state)[0]
    assert idle[0] > 1.0
    assert idle[1] < -1.0
    assert trims(PRESSURE, state)[0, 1] < -1.0
    assert abs(trims(PRESSURE, state)[0, 0]) < 1e-6


@pytest.mark.parametrize("place", ["plenum", "runner"])
def test_fuel_gas_held_to_a_leak_finds_it(place: str) -> None:
    """Gas drawn in by the leak makes rich, by either metering; held where nothing leaks it does nothing."""
    one = (lambda *v: np.array(v)) if place == "plenum" else bank
    state = AirState(**{f"leak_area_{place}": one(1.0, 1.0, 0.0), f"inflow_fuel_{place}": one(0.0, 0.5, 0.5)})
    for path in (METER, PRESSURE):
        idle = trims(path, state)[0]
        assert idle[1] < idle[0] - 30.0
        assert idle[2] == pytest.approx(0.0, abs=1e-6)


def test_gas_at_one_runner_enriches_its_own_cylinder_most() -> None:
    leak = np.array([[0.0, 0.3, 0.0, 0.0]])
    fuel = operating_point(METER, AirState(leak_area_runner=leak, inflow_fuel_runner=0.5), idling(METER)).fuelling
    assert fuel.lambda_cylinder[0].argmin() == 1


def test_a_commanded_valve_is_as_good_as_a_stuck_one() -> None:
    """By definition: what is commanded and what is in error add up."""
    for name, area in (("purge", "purge_mm2"), ("egr", "egr_mm2")):
        stuck = operating_point(METER, AirState(**{f"area_error_{name}": 2.0}), idling(METER))
        asked = operating_point(METER, AirState(), replace(idling(METER), **{area: 2.0}))
        shut = operating_point(METER, AirState(**{f"area_error_{name}": -2.0}), replace(idling(METER), **{area: 2.0}))
        assert asked.metered_flow == pytest.approx(stuck.metered_flow, rel=1e-12)
        assert shut.metered_flow == pytest.approx(operating_point(METER, AirState(), idling(METER)).metered_flow)


def test_more_ethanol_asks_for_more_fuel() -> None:
    """E85 for the 7 % assumed: stoichiometric ratios over each other (9.8032 and 14.19, Cantera's rows)."""
    table = trims(METER, AirState(fuel_ethanol=np.array([0.07, 0.85])))
    np.testing.assert_allclose(table[:, 0], 0.0, atol=1e-9)
    np.testing.assert_allclose(table[:, 1], 100 * (14.19 / 9.8032 - 1), atol=0.2)


def test_low_voltage_at_the_injectors_leans_most_where_pulses_are_short() -> None:
    table = []
    for demand in conditions(METER):
        low = replace(demand, injector_volts=np.array([14.0, 12.0]))
        table.append(operating_point(METER, AirState(), low).fuelling.trim_wanted[:, 0])
    assert np.all(np.abs(np.array(table)[:, 0]) < 1e-9)
    assert table[0][1] > table[2][1] > 0.0
    # At idle by hand: each injector's rated flow, at the drop there, for the time lost, 750/120 times a second.
    idle = operating_point(METER, AirState(), idling(METER))
    lost = (dead_time(12.0) - dead_time(14.0)) * 750.0 / 120.0 * METER.injector_flow
    lost = lost * np.sqrt(1 + (101325.0 - idle.plenum_pressure[0]) / 300e3)
    assert table[0][1] == pytest.approx(100 * 4 * lost / idle.fuelling.fuel_flow[0], rel=1e-6)


# ---------------------------------------------------------------- banks and cylinders


def test_an_injector_leans_its_own_cylinder_and_half_its_sisters() -> None:
    state = AirState(injector_flow=np.array([[0.7, 1.0, 1.0, 1.0, 1.0, 1.0]]))
    fuel = operating_point(SIX, state, idling(SIX)).fuelling
    assert fuel.trim[0, 0] == pytest.approx(100 * (3 / 2.7 - 1))
    assert fuel.trim[0, 1] == pytest.approx(0.0, abs=1e-9)
    assert fuel.lambda_cylinder[0, 0] == pytest.approx(2.7 / 3 / 0.7)
    assert fuel.lambda_cylinder[0, 2] == pytest.approx(2.7 / 3)
    assert fuel.lambda_cylinder[0, 1] == pytest.approx(1.0)


def test_a_runner_leak_leans_its_own_cylinder_and_bank_most() -> None:
    state = AirState(leak_area_runner=np.array([[0.0, 1.5, 0.0, 0.0, 0.0, 0.0]]))
    fuel = operating_point(SIX, state, idling(SIX)).fuelling
    assert fuel.lambda_cylinder[0].argmax() == 1
    assert fuel.trim_wanted[0, 1] > fuel.trim_wanted[0, 0] > 0.0
    # With equal filling both banks move alike, as by a plenum leak.
    even = operating_point(replace(SIX, runner_share=0.0), state, idling(SIX))
    assert even.fuelling.trim_wanted[0, 0] == pytest.approx(even.fuelling.trim_wanted[0, 1])
    plenum = operating_point(SIX, AirState(leak_area_plenum=1.5), idling(SIX))
    assert even.fuelling.trim_wanted[0, 0] == pytest.approx(plenum.fuelling.trim_wanted[0, 0], rel=1e-9)


def test_one_bank_blocked_starves_that_bank() -> None:
    """Metered fuel is shared out alike: the bank that fills less turns rich, the other lean."""
    state = AirState(restriction_catalyst=np.array([[0.95, 0.0]]))
    found = operating_point(SIX, state, running(SIX, 2500.0, CRUISE))
    assert found.back_pressure[0, 0] > 10 * found.back_pressure[0, 1]
    assert found.fuelling.trim_wanted[0, 0] < -1.0 < 1.0 < found.fuelling.trim_wanted[0, 1]
