"""Every fault of every system on the shipped engines (own invariances; priors, ranges and shares are our guess)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.faults import fault_instances, instances_of
from witnessmark.catalogue.places import place_kinds, places_of
from witnessmark.catalogue.spelt import spelt_fault
from witnessmark.catalogue.works import job
from witnessmark.engine.breathing import AirPath, Breathing
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.drive import CRANK
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.state import HEALTHY, state_variables
from witnessmark.engine.stateplaces import KINDS, state_places
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.vocabulary import PLACE_KEYS

ENGINES = {
    known.name: max(candidate_engines(find_engine(known.name)), key=lambda one: one.weight).engine
    for known in known_engines()
}
BARE = candidate_engines(Engine("bare", 4))[0].engine
ROWS = catalogue(SYSTEMS).rows
ids = [f"{row.id} at {row.place}" for row in ROWS]
each_row = pytest.mark.parametrize("row", ROWS, ids=ids)
everywhere = pytest.mark.parametrize("engine", [*ENGINES.values(), BARE], ids=lambda engine: engine.name)

# What the design's own list has and no file may lose: its ids, both tables (CATALOGUE §2), and what comes in besides.
LISTED = """
chain_worn chain_jumped drive_broken tensioner_weak guide_worn sprocket_loose phaser_stuck phaser_lock_worn
phaser_leaking spool_stuck oilway_blocked lobe_worn lifter_collapsed lash_tight valve_burnt valve_sticking spring_broken
port_deposits mode_stuck wheel_slipped wheel_tooth_damaged gap_wide position_sensor_fading rings_worn bores_fuel_washed
gasket_between gasket_to_coolant rod_bent chamber_deposits plenum_leak runner_leak branch_leak purge_open
canister_flooded pcv_open crankcase_leak duct_split intake_blocked throttle_dirty throttle_binding egr_open boost_leak
wastegate_off turbo_worn catalyst_blocked pipe_blocked front_leak catalyst_worn maf_dirty maf_offset map_offset
map_port_blocked temperature_wrong front_o2_biased front_o2_slow rear_o2_wrong track_worn knock_sensor_wrong
rail_sensor_wrong winding_open lift_pump_weak fuel_filter_blocked regulator_off fuel_bleeds_down high_pump_worn
injector_clogged injector_leaking ethanol_unexpected fuel_spoiled tank_vent_blocked coil_weak gap_worn plug_cracked
plug_fouled boot_leaking boot_open contact_resistance ground_resistance wire_open wire_shorted reference_dragged
terminal_loose water_in_connector driver_dead module_dead inhibited battery_worn alternator_weak diode_open drain
starter_dragging oil_pressure_low oil_low thermostat_open shudder mount_broken accessory_dragging wheels_unbalanced
marks_misread phaser_off_dowel wrong_wheel cams_exchanged wheel_not_seated sensor_leads_reversed filter_housing_unseated
connectors_exchanged wrong_sensor wrong_injector wrong_plug wrong_oil wrong_calibration not_relearnt flexplate_loose
hose_left_off duct_clamp_loose fuse_left_out connector_off ground_left_off harness_pinched seal_lip_folded
injector_seal_missed rag_in_intake valve_bent
crankcase_vent_blocked egr_blocked regulator_torn stem_seals_worn
servo_torn manifold_cracked intake_flaps_shut throttle_worn cooler_leak flex_pipe_torn exhaust_manifold_cracked
secondary_air_open rear_o2_dead swarf_on_sensor strainer_blocked return_pinched water_in_fuel battery_clamp_bad
battery_flat charging_regulator_wrong belt_slipping follower_off lash_loose turbo_seals_worn oil_thinned oil_thickened
coolant_leaking radiator_fan_dead lockup_not_shut dual_mass_worn oil_cap_loose wrong_oil_filter coolant_air_lock
"""


def known_places(engine: Engine) -> set[str]:
    """Every id an edit may name: of the state, of the supply graph, of the timing drive."""
    found = {name for kind in KINDS for name in state_places(engine, kind)}
    found |= {node.id for node in supply_of(engine)} | {CRANK, *(cam.id for cam in engine.cams)}
    for stage in engine.drive.stages:
        found |= {stage.id, *(stage.mesh(sprocket.shaft) for sprocket in stage.sprockets)}
    return found


def test_nothing_of_the_list_is_missing() -> None:
    assert sorted(set(LISTED.split()) - {row.id for row in ROWS}) == []


def test_one_id_stands_for_one_kind_of_place_once() -> None:
    keys = [(row.id, row.place) for row in ROWS]
    assert len(keys) == len(set(keys))


def test_left_alone_the_catalogue_is_the_whole_of_it() -> None:
    assert {row.system for row in catalogue().rows} == set(SYSTEMS)
    engine = ENGINES["made-up four"]
    assert {i.row.system for i in fault_instances(engine)} == set(SYSTEMS)
    drive = fault_instances(engine, ("drive",))
    assert drive == tuple(i for i in fault_instances(engine) if i.row.system == "drive")


@each_row
def test_a_row_is_whole(row) -> None:
    known = state_variables()
    for edit in row.edits:
        assert edit["variable"] in known
        assert ("low" in edit) != ("value" in edit or "whole" in edit)
        assert edit.get("low", 0.0) < edit.get("high", 1.0)
    assert row.prior > 0.0
    assert set(row.factors) <= set("akow")
    assert row.onset
    assert set(row.onset) <= set("SLWIhcwvlf")
    for repair in (row.repair, row.as_set().repair):
        assert 0.0 < repair.success < 1.0
        assert repair.minutes[0] < repair.minutes[1] < repair.minutes[2]
        assert all(job(part).part == part for part in repair.cures)
    assert set(row.place.split(", ")) <= set(place_kinds())


@each_row
def test_a_row_has_a_place_on_some_shipped_engine(row) -> None:
    assert any(instances_of(engine, row) for engine in ENGINES.values())


@each_row
def test_every_place_of_a_row_can_be_written_and_makes_a_possible_engine(row) -> None:
    """In the middle of its range, at both ends, and every way it may happen."""
    known = state_variables()
    for engine in ENGINES.values():
        found = instances_of(engine, row)
        for one in found[:1] + found[-1:]:
            spelt = spelt_fault(f"{row.id} {one.where.key}={one.where.id}", engine)
            assert spelt.instance.key == one.key
            assert {edit["variable"] for edit in row.edits if "low" in edit} == set(spelt.taken)
            assert spelt.on(HEALTHY).edits
        for one in found:
            for kind in one.kinds:
                for end in (0.0, 0.5, 1.0):
                    theta = np.array([[float(axis.at(np.array(end))) for axis in kind.axes]]).reshape(1, -1)
                    for (name, _), value in HEALTHY.edited(kind.changes(theta)).edits.items():
                        if name in ("restriction", "inflow_fuel", "fuel_ethanol", "fuel_water"):
                            assert float(np.squeeze(value)) <= 1.0 + 1e-9, one.key  # shares
                        # A fault adds to what is healthy, and the healthy mean may stand off zero.
                        high = (known[name].high + known[name].healthy) * (1.0 + 1e-12)
                        assert known[name].low - 1e-9 <= float(np.squeeze(value)) <= high + 1e-9, (one.key, name)


@everywhere
def test_edits_apply_where_the_state_knows_a_place(engine: Engine) -> None:
    known = known_places(engine)
    for one in fault_instances(engine, SYSTEMS):
        for kind in one.kinds:
            assert kind.terms or any(other.terms for other in one.kinds)
            for term in kind.terms:
                # A short is kept under its node and where it leads.
                node, _, to = term.place.partition(":")
                short = term.variable == "shorting" and node in known and to in (*known, "supply")
                assert short or term.place in known, (one.key, term)


@everywhere
def test_shares_never_exceed_the_engines_total_and_ways_sum_to_one(engine: Engine) -> None:
    shares: dict[tuple[str, str], float] = {}
    for one in fault_instances(engine, SYSTEMS):
        key = (one.row.id, one.row.place)
        shares[key] = shares.get(key, 0.0) + one.share
        assert sum(kind.weight for kind in one.kinds) == pytest.approx(1.0)
    assert all(0.0 < share <= 1.0 + 1e-9 for share in shares.values())


@everywhere
def test_no_two_are_the_same_and_every_word_is_filled_in(engine: Engine) -> None:
    every = fault_instances(engine, SYSTEMS)
    keys = [one.key for one in every]
    assert len(keys) == len(set(keys))
    texts = [text for one in every for text in (one.words, one.repair_words, one.cause_words)]
    assert not [text for text in texts if "{" in text or " the the " in f" {text.lower()} " or "_" in text]
    words = [one.words for one in every]
    assert len(words) == len(set(words))


@pytest.mark.parametrize("kind", place_kinds())
def test_a_kind_of_place_belongs_to_some_row_and_its_places_have_keys_of_findings(kind: str) -> None:
    assert any(kind in row.place.split(", ") for row in ROWS) or kind == "plug"
    for engine in ENGINES.values():
        for place in places_of(engine, kind):
            assert place.key in (*PLACE_KEYS, "stage", "span", "oil_valve", "cam_zero", "sprocket", "pair", "engine")
            assert 0.0 <= place.presence <= 1.0
            assert place.zones


def breathing(**air: str) -> Engine:
    return replace(BARE, breathing=Breathing(air=AirPath(**air)))


@pytest.mark.parametrize(
    ("engine", "row", "share"),
    [
        (breathing(boost="none"), "boost_leak", 0.0),
        (breathing(boost="turbo"), "boost_leak", 1.0),
        (breathing(boost="mechanical"), "turbo_worn", 0.0),
        (breathing(injection="port"), "high_pump_worn", 0.0),
        (breathing(injection="direct"), "high_pump_worn", 1.0),
        (breathing(), "high_pump_worn", 0.4),  # not described: our guess
        (breathing(metering="speed_density"), "maf_dirty", 0.0),
        (breathing(metering="air_meter"), "maf_dirty", 1.0),
        (breathing(injection="direct"), "regulator_torn", 0.0),
        (breathing(boost="turbo"), "turbo_seals_worn", 1.0),
        (breathing(boost="mechanical"), "turbo_seals_worn", 0.0),
        (breathing(), "secondary_air_open", 0.2),  # not described: our guess
        (breathing(), "intake_flaps_shut", 0.25),
        (breathing(), "lockup_not_shut", 0.6),
        (breathing(), "dual_mass_worn", 0.4),
    ],
)
def test_a_part_that_is_not_there_has_no_fault(engine: Engine, row: str, share: float) -> None:
    found = [one.share for one in fault_instances(engine, SYSTEMS) if one.row.id == row]
    assert sum(found) == pytest.approx(share)


def test_parts_that_wear_as_a_set_are_edited_together_and_what_they_share_once() -> None:
    four = ENGINES["made-up four"]
    gaps = spelt_fault("gap_worn cylinder=all spark_gap=0.5", four).on(HEALTHY)
    assert {place for _, place in gaps.edits} == {f"plug_{k}" for k in range(1, 5)}
    washed = spelt_fault("bores_fuel_washed ring_leak=2 oil_fuel=0.05", four).on(HEALTHY)
    sound = state_variables()["oil_fuel"].healthy
    assert washed.get("oil_fuel", "engine") == pytest.approx(sound + 0.05)


@pytest.mark.parametrize(
    ("text", "edit"),
    [
        ("wire_shorted node=coil_3 shorting=2", (("shorting", "coil_3"), 2.0)),
        ("wire_shorted node=coil_3 to=supply shorting=2", (("shorting", "coil_3:supply"), 2.0)),
        ("wire_shorted node=main_relay shorting=2", (("shorting", "main_relay:supply"), 2.0)),  # welded
        ("coil_weak cylinder=coil_2 coil_energy=0.5", (("coil_energy", "coil_2"), 0.5)),
        ("thermostat_open thermostat_temp=-30", (("thermostat_temp", "engine"), 60.0)),
        ("not_relearnt learnt_item=throttle_zero learnt_error=3", (("learnt_error", "throttle_zero"), 3.0)),
        ("not_relearnt cam_zero=intake learnt_error=3", (("learnt_error", "cam_zero:b1.intake"), 3.0)),
        ("wrong_sensor sensor=maf sensor_gain=0.8", (("sensor_gain", "maf"), 0.8)),
        ("boot_open cylinder=1", (("resistance", "boot_1"), None)),
    ],
)
def test_faults_as_people_write_them(text: str, edit: tuple[tuple[str, str], float | None]) -> None:
    state = spelt_fault(text, ENGINES["made-up four"]).on(HEALTHY)
    spot, value = edit
    assert spot in state.edits
    if value is not None:
        assert float(np.squeeze(state.edits[spot])) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("wire_shorted node=coil_3 to=earth", "ground"),
        ("plenum_leak to=ground", "leads nowhere"),
        ("coil_weak", "may sit at 4 places"),
        ("contact_resistance", "in all)"),
        ("boost_leak", "no place for boost_leak"),
        ("thermostat_open thermostat_temp=-90", "cannot be"),
        ("battery_worn battery_resistance=40", "cannot be"),
    ],
)
def test_what_cannot_be_is_one_line(text: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        spelt_fault(text, ENGINES["made-up four"])
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_exhaust_valves_burn_more_often_than_intake_valves():
    """An intake valve is cooled by its charge: common practice, no source. The row keeps its whole weight."""
    mine = instances_of(find_engine("made-up four"), catalogue(SYSTEMS).row("valve_burnt"))
    by_kind = {kind: sum(one.share for one in mine if one.where.id.endswith(kind)) for kind in ("intake", "exhaust")}
    assert by_kind["exhaust"] > 4.0 * by_kind["intake"]
    assert sum(one.share for one in mine) == pytest.approx(1.0)
