"""The operating point: balances that close, and what each state variable moves, on both kinds of metering.

The directions are the handbook's table of signatures (numbers computed, logic common practice): unmetered air, a
meter that reads low, low fuel pressure, a restricted exhaust.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import PER_BANK, PER_CYLINDER, AirState
from witnessmark.physics.boost import Boost, compressor_power, turbine_power
from witnessmark.physics.demand import Demand, full_load, idling, running
from witnessmark.physics.exhaust import back_pressure
from witnessmark.physics.filling import filling_factor, speed_density_flow
from witnessmark.physics.fuelsupply import FuelSupply
from witnessmark.physics.mixture import trim_needed
from witnessmark.physics.nozzle import HOLE, R_AIR, choked_flux, downstream_pressure, mass_flow
from witnessmark.physics.operating import OperatingPoint, operating_point

METER = AirPath()
PRESSURE = AirPath(metering="speed_density")
SIX = AirPath(bank_of=(0, 1, 0, 1, 0, 1))
BLOWN = AirPath(boost=Boost(), compression_ratio=9.5)
CRUISE = 300e3


def bank(*values: float) -> np.ndarray:
    """One value a state, for an engine of one bank."""
    return np.array(values)[:, None]


def conditions(path: AirPath) -> list[Demand]:
    """Idle, raised without load, cruise: where trims are closed."""
    return [idling(path), running(path, 2500.0), running(path, 2500.0, CRUISE)]


def trims(path: AirPath, state: AirState) -> np.ndarray:
    """Trim that would be needed, one row a condition, one column a state."""
    return np.array([operating_point(path, state, each).fuelling.trim_wanted[:, 0] for each in conditions(path)])


# ---------------------------------------------------------------- balances


STATES = AirState(
    leak_area_plenum=np.array([0.0, 3.0, 0.0, 5.0, 0.0, 2.0]),
    leak_area_crankcase=np.array([0.0, 0.0, 40.0, 10.0, 0.0, 0.0]),
    area_error_pcv=np.array([0.0, 0.0, 3.0, 5.0, 0.0, 0.0]),
    area_error_purge=np.array([0.0, 2.0, 0.0, 0.0, 0.0, 1.0]),
    restriction_catalyst=bank(0.0, 0.0, 0.9, 0.0, 0.8, 0.0),
    restriction_air_filter=np.array([0.0, 0.5, 0.0, 0.9, 0.0, 0.0]),
    area_error_throttle=np.array([0.0, 0.0, 0.0, -2.0, 0.0, 4.0]),
)


@pytest.mark.parametrize(
    "demand", [*conditions(METER), full_load(METER, 5000.0)], ids=["idle", "2500", "cruise", "full"]
)
def test_what_flows_into_the_plenum_flows_out_of_it(demand: Demand) -> None:
    """Conservation of mass to a millionth, from the pressures alone, by the public formulas of the parts."""
    found = operating_point(METER, STATES, demand)
    p, outside, warm = found.plenum_pressure, 298.15, 298.15 + METER.charge_warming
    ahead = 101325.0 + found.boost_pressure

    def drawn(area_mm2: np.ndarray, discharge: float = HOLE) -> np.ndarray:
        return mass_flow(discharge * 1e-6 * area_mm2, 101325.0, p, outside, other_temperature=warm)

    through = mass_flow(found.throttle_area, ahead, p, outside, other_temperature=warm)
    valve = METER.pcv_area + HOLE * 1e-6 * STATES.area_error_pcv
    fed = METER.breather_area + HOLE * 1e-6 * STATES.leak_area_crankcase
    crankcase = drawn(1e6 / np.hypot(1 / valve, 1 / fed), 1.0)
    into = through + drawn(STATES.leak_area_plenum) + drawn(STATES.area_error_purge) + crankcase
    off = (found.speed_rpm - METER.filling_speed_rpm) / METER.filling_width_rpm
    factor = filling_factor((101325.0 + found.back_pressure[:, 0]) / p, METER.compression_ratio)
    out = speed_density_flow(
        METER.filling * (1 - 0.1 * off**2) * factor, p, warm, displacement=METER.displacement, speed_rpm=found.speed_rpm
    )
    np.testing.assert_allclose(into, out, rtol=1e-6)
    np.testing.assert_allclose(found.air_flow, out, rtol=1e-9)
    assert np.max(np.abs(found.imbalance)) < 1e-9


def test_the_exhaust_carries_away_what_came_in() -> None:
    """The back pressure found is that of the flow found, air and its fuel at 14.6."""
    found = operating_point(METER, STATES, running(METER, 2500.0, CRUISE))
    levels = back_pressure(
        METER.exhaust, found.air_flow * (1 + 1 / 14.6), 101325.0, catalyst=STATES.restriction_catalyst[:, 0]
    )
    np.testing.assert_allclose(101325.0 + found.back_pressure[:, 0], levels.port, rtol=1e-9)
    np.testing.assert_allclose(101325.0 + found.front_sensor_pressure[:, 0], levels.front_sensor, rtol=1e-9)


def test_idle_carries_its_own_friction() -> None:
    """Balance of mean pressures: work of the air = friction + pumping, with nothing left over."""
    found = operating_point(METER, STATES, idling(METER))
    work = METER.work_per_air * found.air_flow * 120 / (found.speed_rpm * METER.displacement)
    pumping = 101325.0 + found.back_pressure[:, 0] - found.plenum_pressure
    friction = METER.friction + METER.friction_slope * found.speed_rpm
    np.testing.assert_allclose(work, pumping + friction, rtol=1e-9)


SMALL = {"leak_area": 20.0, "restriction": 0.95, "area_error": 20.0, "sensor_offset": 0.1, "regulator_error": 30.0}


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_any_state_settles(data: st.DataObject) -> None:
    """Whatever the state: the mass balance closes to a millionth and inside the stops the sensor reads its target."""
    edits = {}
    for one in data.draw(st.lists(st.sampled_from(fields(AirState)), max_size=4, unique_by=lambda f: f.name)):
        most = next((v for name, v in SMALL.items() if one.name.startswith(name)), 1.0)
        least = -most if one.name.startswith(("area_error", "sensor_offset", "regulator")) else 0.0
        width = 2 if one.name in PER_BANK else 6 if one.name in PER_CYLINDER else None
        shape = (3,) if width is None else (3, width)
        count = int(np.prod(shape))
        drawn = data.draw(st.lists(st.floats(least, most), min_size=count, max_size=count))
        edits[one.name] = np.reshape(drawn, shape)
    path = replace(SIX, metering=data.draw(st.sampled_from(["air_meter", "speed_density"])))
    demand = data.draw(st.sampled_from([idling(path), running(path, 2500.0), running(path, 2000.0, CRUISE)]))
    found = operating_point(path, AirState(**edits), demand)
    assert np.max(np.abs(found.imbalance)) < 1e-6
    fuel = found.fuelling
    held = np.abs(fuel.trim_wanted) < path.trim_limit
    np.testing.assert_allclose(fuel.lambda_reported[held], 1.0, rtol=1e-9)
    assert all(np.all(np.isfinite(getattr(found, f.name))) for f in fields(OperatingPoint) if f.name != "fuelling")


BOUNDS = {
    # Of data/state.toml where it has bounds, and the widest edits of the catalogue's faults where it has none.
    "leak_area": (0.0, 300.0),
    "restriction": (0.0, 1.0),
    "area_error": (-400.0, 400.0),
    "inflow_fuel": (0.0, 1.0),
    "turbo_efficiency": (0.0, 1.2),
    "sensor_gain": (0.0, 3.0),
    "sensor_offset_maf": (-4.0, 4.0),
    "sensor_offset_map": (-30.0, 30.0),
    "sensor_offset_iat": (-70.0, 70.0),
    "sensor_offset_o2": (-0.2, 0.2),
    "injector_flow": (0.0, 2.0),
    "injector_leak": (0.0, 200.0),
    "lift_pump_flow": (0.0, 1.2),
    "regulator_error": (-90.0, 90.0),
    "fuel_ethanol": (0.0, 1.0),
    "accessory_drag": (0.0, 60.0),
}


@pytest.mark.parametrize("path", [SIX, PRESSURE, BLOWN], ids=["meter", "pressure", "boost"])
@pytest.mark.parametrize("asked", ["idle", "cruise", "full"])
def test_the_worst_states_settle_too(path: AirPath, asked: str, rng: np.random.Generator) -> None:
    """Several variables at once anywhere in their bounds: balances close, no pressure is beyond its source's."""
    edits = {}
    for one in fields(AirState):
        low, high = next(v for name, v in BOUNDS.items() if one.name.startswith(name))
        width = path.n_banks if one.name in PER_BANK else path.n_cylinders if one.name in PER_CYLINDER else None
        shape = (24,) if width is None else (24, width)
        sound = getattr(AirState(), one.name)
        edits[one.name] = np.where(rng.random(shape) < 0.15, rng.uniform(low, high, shape), sound)
    demand = {"idle": idling(path), "cruise": running(path, 2500.0, CRUISE), "full": full_load(path, 5000.0)}[asked]
    found = operating_point(path, AirState(**edits), demand)
    assert np.max(np.abs(found.imbalance)) < 1e-6
    assert np.all(found.plenum_pressure > 0.0)
    if path.boost is None:
        assert np.all(found.plenum_pressure < 101.34e3)
    numbers = [getattr(found, f.name) for f in fields(found) if f.name != "fuelling"]
    numbers += [getattr(found.fuelling, f.name) for f in fields(found.fuelling)]
    assert all(np.all(np.isfinite(values)) for values in numbers)


def test_recirculation_lets_a_blocked_exhaust_off_lightly() -> None:
    """Conservation of mass: what recirculates does not pass the exhaust a second time."""
    state = AirState(restriction_catalyst=bank(0.95, 0.95), area_error_egr=np.array([0.0, 60.0]))
    found = operating_point(METER, state, running(METER, 2500.0))
    levels = back_pressure(METER.exhaust, found.air_flow * (1 + 1 / 14.6), 101325.0, catalyst=0.95)
    np.testing.assert_allclose(101325.0 + found.back_pressure[:, 0], levels.port, rtol=1e-9)


def test_states_do_not_see_their_neighbours() -> None:
    """Each row alone gives what it gives among others."""
    many = operating_point(METER, STATES, idling(METER))
    for i in range(6):
        one = AirState(
            **{
                f.name: np.asarray(getattr(STATES, f.name))[i : i + 1]
                for f in fields(AirState)
                if np.ndim(getattr(STATES, f.name))
            }
        )
        alone = operating_point(METER, one, idling(METER))
        assert alone.plenum_pressure[0] == pytest.approx(many.plenum_pressure[i], rel=1e-9)
        assert alone.fuelling.trim_wanted[0, 0] == pytest.approx(many.fuelling.trim_wanted[i, 0], rel=1e-7, abs=1e-7)


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
    table = trims(PRESSURE, AirState(sensor_offset_map=np.array([0.0, 5.0])))
    assert np.max(np.abs(table[:, 0])) < 1e-6
    assert np.all(np.diff(table[:, 1]) > 0.0)
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


# ---------------------------------------------------------------- outside, and what is refused


def test_height_thins_the_air() -> None:
    """At 80 kPa outside a full-load engine breathes about 80/101 of the air; a sound one needs no trim there."""
    high = replace(full_load(METER, 4000.0), ambient_pressure=np.array([101325.0, 80e3]))
    found = operating_point(METER, AirState(), high)
    assert found.air_flow[1] / found.air_flow[0] == pytest.approx(80 / 101.325, rel=0.01)
    for path in (METER, PRESSURE):
        idle = operating_point(path, AirState(), replace(idling(path), ambient_pressure=80e3))
        assert abs(idle.fuelling.trim_wanted[0, 0]) < 1e-6


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: AirState(leak_area_plenum=-1.0), "leak area plenum: -1 given. Expected 0 to 1e+09."),
        (lambda: AirState(sensor_gain_maf=np.array([1.0, np.nan])), "sensor gain maf: nan given."),
        (lambda: AirState(fuel_ethanol=85.0), "fuel ethanol: 85 given. Expected 0 to 1."),
        (lambda: AirPath(metering="karman"), "metering: “karman” given. Expected air_meter or speed_density."),
        (lambda: AirPath(bank_of=(1, 2)), "bank of: (1, 2) given."),
        (lambda: idling(METER, 0.0), "engine speed: 0 given."),
        (
            lambda: operating_point(METER, AirState(injector_flow=np.ones(3)), idling(METER)),
            "injector flow: shape (3,). Expected 4 in the last place.",
        ),
        (
            lambda: operating_point(METER, AirState(leak_area_plenum=np.ones(3)), idling(METER, np.ones(2) * 700)),
            "speed rpm: shape (2,). Expected as many states as leak area plenum.",
        ),
    ],
)
def test_bad_input_is_one_line_with_the_field(call: object, words: str) -> None:
    with pytest.raises(InputError) as refused:
        call()  # type: ignore[operator]
    assert str(refused.value).startswith(words)
