"""The operating point: balances that close for any state, and what is refused."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.physics.air_engines import BLOWN, CRUISE, METER, PRESSURE, SIX, bank, conditions
from witnessmark.errors import InputError
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import PER_BANK, PER_CYLINDER, AirState
from witnessmark.physics.demand import Demand, full_load, idling, running
from witnessmark.physics.exhaust import back_pressure
from witnessmark.physics.filling import filling_factor, speed_density_flow
from witnessmark.physics.friction import friction_pressure
from witnessmark.physics.idle import IdleEngine, idle_point
from witnessmark.physics.nozzle import HOLE, mass_flow
from witnessmark.physics.operating import OperatingPoint, operating_point

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
    """Balance of powers: work of the air = friction, pumping and what accessories take, with nothing left over."""
    asked = replace(idling(METER), electric_watts=500.0, compressor_watts=300.0)
    found = operating_point(METER, STATES, asked)
    work = METER.work_per_air * asked.work_share * found.air_flow
    cycles = found.speed_rpm * METER.displacement / 120
    pumping = cycles * (101325.0 + found.back_pressure[:, 0] - found.plenum_pressure)
    friction = cycles * friction_pressure(found.speed_rpm, METER.displacement)
    np.testing.assert_allclose(work, pumping + friction + 500.0 / METER.alternator_efficiency + 300.0, rtol=1e-9)


def test_idle_in_closed_form_is_the_operating_point() -> None:
    """The same engine through ``idle_point``, whose exhaust is a constant and whose filling does not know speed."""
    off = (800.0 - METER.filling_speed_rpm) / METER.filling_width_rpm
    engine = IdleEngine(
        METER.displacement, filling=METER.filling * (1 - 0.1 * off**2), compression_ratio=METER.compression_ratio,
        charge_warming=METER.charge_warming, accessory_watts=600.0 / METER.alternator_efficiency + 900.0,
    )  # fmt: skip
    asked = replace(idling(METER, 800.0), electric_watts=600.0, compressor_watts=900.0)
    whole, short = operating_point(METER, AirState(), asked), idle_point(engine, 800.0)
    assert short.manifold_pressure == pytest.approx(whole.plenum_pressure[0], rel=2e-3)
    assert short.air_flow == pytest.approx(whole.air_flow[0], rel=2e-3)


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
    "accessory_drag": (-5.0, 60.0),
    "intake_early": (-60.0, 60.0),
    "exhaust_early": (-60.0, 60.0),
    "filling": (0.0, 1.0),
    "work": (0.0, 1.0),
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
