"""What each state variable does to readings of air, fuel and exhaust: direction and size.

Directions: handbook §6, signatures (numbers computed, logic common practice); sizes by hand where a test says how.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.predict.airs import Edit, ask, bare, engine, readings
from witnessmark.vocabulary import Condition, Place, Query

FOUR, PRESSURE = engine("made-up four"), engine("made-up four", metering="speed_density")
DIRECT, BLOWN = engine("made-up four", injection="direct"), engine("made-up four", boost="turbo")
SIX = engine("made-up V6 with links")


def one(query: Query, edit: Edit, model: object = FOUR) -> tuple[float, float]:
    sound, found = readings(model, query, edit)  # type: ignore[arg-type]
    return float(sound), float(found)


# (quantity, state, place, edit, sign of the change, least size of it)
SIGNS = [
    ("airflow_reported", "key_on", {}, {("sensor_offset", "maf"): 2.0}, 1, 1.9),
    ("map_reported", "key_on", {}, {("sensor_offset", "map"): -12.0}, -1, 11.9),
    ("airflow_reported", "idle", {}, {("leak_area", "plenum"): 3.0}, -1, 0.3),
    ("idle_air_demand", "idle", {}, {("area_error", "throttle"): -5.0}, 1, 5.0),
    ("idle_air_demand", "idle", {}, {("accessory_drag", "engine"): 20.0}, 1, 5.0),
    ("idle_air_demand", "idle", {}, {("ring_leak", "cylinder_2"): 15.0}, 1, 3.0),
    ("idle_air_demand", "idle", {}, {("learnt_error", "throttle_zero"): 5.0}, -1, 4.0),
    ("engine_speed", "idle", {}, {("area_error", "throttle"): 40.0}, 1, 500.0),
    ("engine_speed", "idle", {}, {("area_error", "pcv"): 30.0}, 1, 100.0),
    ("manifold_vacuum", "idle", {}, {("valve_leak", "cylinder_1.intake"): 8.0}, -1, 3.0),
    ("manifold_vacuum", "idle", {}, {("lift_scale", "cylinder_1.intake"): 0.0}, -1, 5.0),
    ("manifold_vacuum", "idle", {}, {("injector_flow", "cylinder_1"): 0.0}, -1, 3.0),
    ("absolute_load", "full_load", {}, {("restriction", "port_1"): 0.7}, -1, 1.0),
    ("absolute_load", "full_load", {}, {("restriction", "air_filter"): 0.8}, -1, 5.0),
    ("crankcase_pressure", "idle", {}, {("ring_leak", "cylinder_1"): 20.0}, 1, 0.1),
    ("crankcase_pressure", "idle", {}, {("area_error", "pcv"): 20.0}, -1, 0.5),
    ("fuel_trim", "idle", {}, {("injector_leak", "cylinder_1"): 15.0}, -1, 4.0),
    ("fuel_trim", "idle", {}, {("winding", "injector_1"): 1e9}, 1, 20.0),
    ("fuel_trim", "cruise", {}, {("sensor_offset", "ect"): -50.0}, -1, 5.0),
    ("fuel_trim", "cruise", {}, {("fuel_ethanol", "fuel"): 0.3}, 1, 6.0),
    ("fuel_pressure", "idle", {"rail": "rail"}, {("regulator_error", "regulator"): -20.0}, -1, 60.0),
    ("fuel_pressure", "key_on", {"rail": "rail"}, {("lift_pump_flow", "pump"): 0.15}, -1, 20.0),
    ("fuel_pressure", "full_load", {"rail": "rail"}, {("restriction", "fuel_filter"): 0.97}, -1, 50.0),
    ("fuel_delivery", None, {"pump": "pump"}, {("lift_pump_flow", "pump"): 0.4}, -1, 10.0),
    ("fuel_delivery", None, {"pump": "pump"}, {("restriction", "fuel_filter"): 0.95}, -1, 5.0),
    ("fuel_delivery", None, {"pump": "pump"}, {("restriction", "tank_vent"): 1.0}, -1, 5.0),
    ("fuel_pressure", "full_load", {"rail": "rail"}, {("restriction", "tank_vent"): 0.9}, -1, 5.0),
    ("fuel_drop_rate", "off", {"rail": "rail"}, {("rail_bleed", "rail"): 60.0}, 1, 50.0),
    ("fuel_drop_rate", "off", {"rail": "rail"}, {("injector_leak", "cylinder_3"): 5.0}, 1, 100.0),
    ("injector_balance", "key_on", {"cylinder": 2}, {("injector_flow", "cylinder_2"): 0.7}, -1, 8.0),
    ("ethanol_measured", None, {"fuel": "fuel"}, {("fuel_ethanol", "fuel"): 0.85}, 1, 70.0),
    ("o2_response", "raised", {"sensor": "o2_front"}, {("sensor_lag", "o2_front_1"): 1.0}, 1, 0.9),
    ("o2_response", "raised", {"sensor": "o2_rear"}, {("oxygen_storage", "bank_1"): 0.1}, -1, 1.5),
    ("rear_activity", "raised", {}, {("oxygen_storage", "bank_1"): 0.1}, 1, 0.5),
    ("o2_swing", "raised", {"sensor": "o2_rear"}, {("oxygen_storage", "bank_1"): 0.1}, 1, 0.3),
    ("o2_swing", "raised", {"sensor": "o2_front"}, {("sensor_lag", "o2_front_1"): 1.0}, -1, 0.4),
    ("o2_swing", "raised", {"sensor": "o2_front"}, {("sensor_gain", "o2_front_1"): 0.3}, -1, 0.3),
    ("lambda_reported", "idle", {"sensor": "o2_rear"}, {("sensor_offset", "o2_rear_1"): 0.1}, 1, 0.09),
    ("stalls", "idle", {}, {("area_error", "throttle"): -40.0, ("accessory_drag", "engine"): 45.0}, 1, 0.5),
    ("stalls", "idle", {}, {("drive_connected", "primary"): 0.0}, 1, 0.9),
    ("stalls", "idle", {}, {("lift_pump_flow", "pump"): 0.0}, 1, 0.9),
    ("fuel_pressure", "full_load", {"rail": "rail"}, {("resistance", "pump"): 6.0}, -1, 20.0),
    ("fuel_trim", "idle", {}, {("resistance", "injector_2"): 12.0}, 1, 1.0),
    ("map_reported", "idle", {}, {("resistance", "map"): 1e9}, -1, 20.0),
    ("fuel_trim", "raised", {}, {("fuel_water", "fuel"): 0.1}, 1, 8.0),
    ("engine_speed", "cranking", {}, {("sensor_gain", "crank"): 0.0}, -1, 100.0),
    ("idle_air_demand", "idle", {}, {("coil_energy", "coil_1"): 0.0}, 1, 3.0),
    ("exhaust_gas_share", "idle", {"gas": "HC"}, {("coil_energy", "coil_1"): 0.0}, 1, 0.003),
    ("stalls", "idle", {}, {("sensor_gain", "crank"): 0.0}, 1, 0.9),
    ("idle_air_demand", "idle", {}, {("wheel_slip", "crank"): -15.0}, 1, 5.0),
    ("lacks_power", None, {}, {("wheel_slip", "crank"): -20.0}, 1, 1.0),
    ("lacks_power", None, {}, {("lift_pump_flow", "pump"): 0.2}, 1, 1.0),
    ("lacks_power", None, {}, {("injector_flow", "cylinder_1"): 0.0}, 1, 1.5),
    ("exhaust_gas_share", "idle", {"gas": "O2"}, {("winding", "injector_1"): 1e9}, 1, 1.0),
    ("exhaust_gas_share", "idle", {"gas": "HC"}, {("oxygen_storage", "bank_1"): 0.1}, 1, 0.005),
]


@pytest.mark.parametrize(
    ("name", "state", "place", "edit", "sign", "least"), SIGNS, ids=[f"{row[0]}-{next(iter(row[3]))}" for row in SIGNS]
)
def test_direction_and_size(name: str, state: str | None, place: dict, edit: Edit, sign: int, least: float) -> None:
    sound, found = one(ask(name, state, **place), edit)
    assert sign * (found - sound) > least


def test_a_map_sensor_behind_a_blocked_port_is_late_at_a_snap_and_right_at_rest() -> None:
    """First-order lag: after half a second exp(-0.5/τ) of the step is still to come."""
    edit = {("sensor_lag", "map"): 0.5}
    sound, late = one(ask("map_reported", "snap"), edit)
    idle = one(ask("map_reported", "idle"), edit)
    assert idle[1] == idle[0]
    assert (sound - late) / (sound - idle[0]) == pytest.approx(np.exp(-1.0), abs=0.01)


def test_the_meter_s_reading_is_that_of_the_air_it_passes() -> None:
    """Own check: a leak behind it takes away what the leak lets in, choked: 0.7 · 2 mm² · 238 kg/(m² s)."""
    sound, leaking = one(ask("airflow_reported", "idle"), {("leak_area", "plenum"): 2.0})
    assert sound - leaking == pytest.approx(0.7 * 2e-6 * 238.0 * 1000.0, rel=0.08)


def test_a_vee_s_banks_are_read_apart_and_together() -> None:
    edit = {("sensor_offset", "o2_front_2"): 0.05}
    one_, two, both = (one(ask("fuel_trim", "raised", **place), edit, SIX) for place in ({"bank": 1}, {"bank": 2}, {}))
    assert one_[1] == pytest.approx(one_[0], abs=0.2)
    assert two[1] > two[0] + 4.0
    assert both[1] == pytest.approx(0.5 * (one_[1] + two[1]), abs=1e-6)


def test_learnt_trims_go_on_at_full_load_and_do_not_move_a_closed_loop() -> None:
    stale = {("learnt_error", "fuel_trim:bank_1"): 15.0}
    assert one(ask("fuel_trim", "cruise"), stale)[1] == one(ask("fuel_trim", "cruise"), stale)[0]
    sound, found = one(ask("lambda_reported", "full_load", sensor="o2_front"), stale)
    assert found < sound - 0.03


@pytest.mark.parametrize("gain", [0.75, 1.25])
def test_a_high_pressure_rail_is_held_to_its_target_whatever_its_sensor_says(gain: float) -> None:
    """The computer holds the reading: it is right and the pressure, and so the effort, is not."""
    edit = {("sensor_gain", "rail"): gain}
    sound, found = one(ask("rail_reported", "idle", rail="rail"), edit, DIRECT)
    assert found == pytest.approx(sound, rel=0.01)
    effort = one(ask("rail_effort", "idle", rail="rail"), edit, DIRECT)
    assert np.sign(effort[1] - effort[0]) == np.sign(1.0 - gain)


def test_a_worn_high_pressure_pump_works_harder_and_falls_short_under_load() -> None:
    worn = {("high_pump_flow", "high_pump"): 0.35}
    sound, found = one(ask("rail_effort", "idle", rail="rail"), worn, DIRECT)
    assert found > 1.5 * sound
    sound, found = one(ask("rail_reported", "full_load", rail="rail"), worn, DIRECT)
    assert found < 0.8 * sound


def test_a_charger_s_troubles() -> None:
    """A leak behind the compressor, a wastegate that cannot shut and worn blades fall short; one stuck shut overshoots;
    a narrow cooler costs its own drop.
    """
    boost = ask("boost_pressure", "full_load")
    edits = [{("leak_area", "charge_pipe"): 250.0}, {("area_error", "wastegate"): 300.0}]
    edits += [{("turbo_efficiency", "engine"): 0.4}, {("area_error", "wastegate"): -400.0}]
    sound, leak, open_, worn, shut = readings(BLOWN, boost, *edits)
    assert max(leak, open_, worn) < sound - 5.0
    assert shut > sound + 5.0
    sound, narrow = one(ask("cooler_drop", "full_load"), {("restriction", "charge_cooler"): 0.7}, BLOWN)
    assert narrow > 4.0 * sound


def test_opening_the_fuel_cap_gives_the_pump_its_air_back() -> None:
    vented = Query("fuel_delivery", Place.of(pump="pump"), Condition(during="open_fuel_cap"))
    sound, blocked = one(vented, {("restriction", "tank_vent"): 1.0})
    assert blocked == pytest.approx(sound)


def test_a_pinched_hose_holds_what_leaks_backwards_and_not_what_drips() -> None:
    query = ask("fuel_drop_rate", "off", during="pinch_hose:fuel_filter", rail="rail")
    sound, back, drips = readings(FOUR, query, {("rail_bleed", "rail"): 80.0}, {("injector_leak", "cylinder_1"): 3.0})
    assert back == pytest.approx(sound)
    assert drips > sound + 50.0


def test_a_pinched_ventilation_hose_lets_the_crankcase_fill() -> None:
    query = ask("crankcase_pressure", "idle", during="pinch_hose:pcv")
    assert readings(FOUR, query)[0] > readings(FOUR, ask("crankcase_pressure", "idle"))[0]


def test_a_disabled_cylinder_is_missed_by_the_others() -> None:
    assert (
        readings(FOUR, ask("idle_air_demand", "idle", during="disable_cylinder:2"))[0]
        > 1.2 * (readings(FOUR, ask("idle_air_demand", "idle"))[0])
    )


def test_cold_engines_idle_faster_and_take_more_air() -> None:
    cold, warm = (
        [readings(FOUR, Query(name, Place(), replace(Condition(state), coolant_c=degrees)))[0]
         for name in ("engine_speed", "airflow_reported", "absolute_load")]
        for state, degrees in (("warm_up", 20.0), ("idle", 90.0))
    )  # fmt: skip
    assert np.all(np.array(cold) > np.array([1.2, 1.2, 1.05]) * np.array(warm))


def test_an_engine_that_does_not_run_gives_no_reading() -> None:
    off = {("drive_connected", "primary"): 0.0}
    for name in ("fuel_trim", "manifold_vacuum", "engine_speed", "absolute_load"):
        assert np.isnan(one(ask(name, "idle"), off)[1])


def test_height_shows_at_key_on() -> None:
    """Common practice, no source: key on and engine off the sensor reads the weather within 2 to 3 kPa."""
    from witnessmark.engine.state import HEALTHY
    from witnessmark.predict import expect

    for model in (FOUR, bare()):
        query = ask("map_reported", "key_on")
        high = expect(model, [query], HEALTHY, {"air:ambient_kpa": 80.0}).mean[0, 0]
        assert high == pytest.approx(80.0)


def test_idle_control_that_is_at_its_end_gives_way_in_speed() -> None:
    """Common practice, no source: what drags more than it can answer stalls, low and with its demand at the end; a cold
    engine has more in hand.
    """
    drag = {("accessory_drag", "engine"): 60.0}
    (usual, slow), (asked, most) = one(ask("engine_speed", "idle"), drag), one(ask("idle_air_demand", "idle"), drag)
    assert slow < 0.85 * usual
    assert asked < 35.0 < 50.0 < most < 70.0
    assert one(ask("stalls", "idle"), {("accessory_drag", "engine"): 80.0})[1] > 0.9
    dirty = [one(ask("stalls", "idle"), {("area_error", "throttle"): -size})[1] for size in (5.0, 15.0, 20.0, 26.0)]
    assert dirty == sorted(dirty)  # the less there is in hand, the less a falling speed is caught
    assert dirty[0] < 0.05 < 0.2 < dirty[2]
    everything = {("accessory_drag", "engine"): 20.0}  # compressor and lights: 2 to 3 kW at 750 rpm, held with ease
    assert one(ask("engine_speed", "idle"), everything)[1] == pytest.approx(usual)
    cold = replace(ask("idle_air_demand", "warm_up").condition, coolant_c=20.0)
    assert one(replace(ask("idle_air_demand", "warm_up"), condition=cold), drag)[1] > most + 10.0


def test_a_stale_rest_of_the_throttle_is_worth_its_area() -> None:
    """One percent of its way near the stop, 0.84 of 84 degrees from 6 on, opens a bore of 50 mm by 3.2 mm2: by hand,
    pi/4 D2 (cos 6 / cos 6 - cos 6.84 / cos 6).
    """
    by_hand = np.pi / 4.0 * 50.0**2 * (1.0 - np.cos(np.radians(6.84)) / np.cos(np.radians(6.0)))
    stale = one(ask("idle_air_demand", "idle"), {("learnt_error", "throttle_zero"): -2.0})
    hole = one(ask("idle_air_demand", "idle"), {("area_error", "throttle"): -2.0 * by_hand})
    assert stale[1] - stale[0] == pytest.approx(hole[1] - hole[0], rel=0.15)


def test_a_full_canister_makes_rich_what_is_purged_and_a_pinched_hose_ends_it() -> None:
    """A sound engine draws on its canister when warm: common practice, no source."""
    full = {("inflow_fuel", "purge"): 0.6}
    for state in ("idle", "raised"):
        sound, rich = one(ask("fuel_trim", state), full)
        assert rich < sound - 8.0
    sound, shut = one(ask("fuel_trim", "idle", during="pinch_hose:purge"), full)
    assert shut == pytest.approx(sound, abs=0.2)
    dry = one(ask("fuel_trim", "idle"), {("inflow_fuel", "purge"): 0.0})
    assert abs(dry[1] - dry[0]) < 3.0  # what a sound canister gives is hardly seen
