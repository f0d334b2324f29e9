"""Every test and intervention of the catalogue on the shipped engines (own invariances; minutes: common practice)."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files

import pytest

from witnessmark.case.places import check_place
from witnessmark.catalogue.drivetests import PLACES
from witnessmark.catalogue.procedures import WHEN, all_procedures, procedures
from witnessmark.catalogue.testplaces import SPOTS
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.intervention import interventions, while_done
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.state import HEALTHY
from witnessmark.engine.stateplaces import banks_of
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, misplaced
from witnessmark.report.naming import condition_words, quantity_words
from witnessmark.vocabulary import Place, quantities

ENGINES = {
    known.name: max(candidate_engines(find_engine(known.name)), key=lambda one: one.weight).engine
    for known in known_engines()
}
ENGINES["bare"] = candidate_engines(Engine("bare", 4))[0].engine
ALL = {procedure.id: procedure for procedure in all_procedures().all}
everywhere = pytest.mark.parametrize("engine", ENGINES.values(), ids=list(ENGINES))
each = pytest.mark.parametrize("test", sorted(ALL))

# The design's own list (CATALOGUE §4): no file may lose one.
LISTED = """
complaint_heard codes_read trims_at_speeds air_readings cam_readings misfires_read rail_readings cold_to_hot
oxygen_response learnt_read modules_read road_recorder scope_crank_cam current_compression scope_actuators
scope_secondary scope_supplies sensor_sweep scope_charging vibration_sound pulses vacuum_gauge fuel_gauge
injector_pulse_drop oil_pressure_gauge crankcase_gauge back_pressure smoke bonnet_looked cooling_pressure boost_gauges
coolant_gas exhaust_gas fuel_sample static_compression running_compression leak_down incylinder_crank incylinder_fired
incylinder_run plugs_looked borescope turn_by_hand battery_check drop_under_load drain_test ohms wires_traced
runner_temperatures fluids_tyres connectors_looked surroundings numbers_compared marks_by_opening pin_count
wheel_on_shaft pan_looked lift_measured
swap_coil swap_plug swap_injector swap_oil_valve fresh_oil unplug_substitute pinch_hose feed_fuel_gas disable_cylinder
command_phaser command_valve wiggle spray_water heat_or_chill bridge_branch unplug_in_turn oil_in_bore open_fuel_cap
vent_exhaust belt_off hold_lockup_off
"""


def raw_rows() -> list[dict[str, object]]:
    folder = files("witnessmark").joinpath("data/tests")
    texts = [path.read_text(encoding="utf-8") for path in folder.iterdir() if path.name.endswith(".toml")]
    return [row for text in texts for test in tomllib.loads(text)["test"] for row in test["yields"]]


def test_nothing_of_the_list_is_missing() -> None:
    assert set(LISTED.split()) == set(ALL)


def test_every_quantity_of_the_list_is_yielded_by_some_test() -> None:
    yielded = {row["quantity"] for procedure in ALL.values() for row in procedure.yields}
    assert set(quantities()) - yielded == set()


def test_what_the_planner_weighs_is_among_them_unchanged() -> None:
    assert len(procedures().all) == 11
    for engine in ENGINES.values():
        for test in procedures().all:
            assert set(test.queries(engine)) <= set(ALL[test.id].queries(engine))
    assert set(procedures().covers) < set(all_procedures().covers)


@each
def test_a_test_is_whole(test: str) -> None:
    procedure = ALL[test]
    assert procedure.words[0].isupper()
    assert not procedure.words.endswith(".")
    assert procedure.tool
    assert procedure.minutes > 0.0
    assert procedure.cover is None or procedure.cover in all_procedures().covers
    assert all(text.endswith(".") and len(text) > 20 for text in procedure.hazards)
    assert procedure.yields
    if procedure.cover is not None:  # something comes off: never without a caution
        assert procedure.hazards
    assert any(procedure.queries(engine) for engine in ENGINES.values())


def test_rows_name_lists_of_places_and_letters_that_exist_and_none_is_left_over() -> None:
    rows = raw_rows()
    assert {row["each"] for row in rows} == {*PLACES, *SPOTS}
    letters = {letter for row in rows for letter in str(row.get("when", ""))}
    assert letters <= {*WHEN, "c", "h"}
    named = {str(row["during"]).partition(":")[0] for row in rows if "during" in row}
    named |= {row["condition"]["during"] for row in rows if "during" in row.get("condition", {})}
    assert named <= set(interventions())
    # Commanding a phaser is a condition (phaser = moved), not an edit.
    assert set(interventions()) - named == {"command_phaser"}


@everywhere
def test_every_reading_is_at_a_place_of_its_quantity_that_the_engine_has(engine: Engine) -> None:
    model = DriveModel.of(engine)
    for procedure in ALL.values():
        queries = procedure.queries(engine)
        assert len(queries) == len(set(queries))
        for query in queries:
            keys = {key for key, _ in query.place.items}
            assert set(query.kind.keys) <= keys <= {*query.kind.keys, *query.kind.optional}, query
            check_place(query.place, query.kind, engine)  # a person could type it
            assert misplaced(model, query) is None, query
            while_done(engine, HEALTHY, query.condition.during, query.place)  # it can be done to that


@everywhere
def test_every_reading_has_words_of_its_own(engine: Engine) -> None:
    for procedure in ALL.values():
        said = [
            (quantity_words(engine, query.quantity, query.place), condition_words(query.condition))
            for query in procedure.queries(engine)
        ]
        assert len(said) == len(set(said)), procedure.id
        assert not [words for pair in said for words in pair if re.search(r"[{}|]", words)]


@pytest.mark.parametrize(
    ("test", "engine", "applies"),
    [
        ("boost_gauges", "made-up three with belt", True),
        ("boost_gauges", "made-up four", False),
        ("hold_lockup_off", "made-up four", True),
    ],
)
def test_where_a_test_applies(test: str, engine: str, applies: bool) -> None:
    assert bool(ALL[test].queries(ENGINES[engine])) is applies


def test_a_swap_is_read_at_both_ends() -> None:
    """What a swap tells is whether the misfire goes along: to the cylinder that got the part (common practice)."""
    found = ALL["swap_coil"].queries(ENGINES["made-up four"])
    at = {(q.place.get("cylinder"), q.condition.during) for q in found}
    for during in ("swap_coil:1-2", "swap_coil:2-3", "swap_coil:3-4", "swap_coil:4-1"):
        assert {cylinder for cylinder, under in at if under == during} == {int(n) for n in during[10:].split("-")}


def test_letters_make_conditions() -> None:
    found = {q.condition for q in ALL["trims_at_speeds"].queries(ENGINES["made-up four"])}
    assert {(c.state, c.coolant_c) for c in found} == {("idle", 90.0), ("raised", 90.0), ("cruise", 90.0)}
    cold = {q.condition for q in ALL["runner_temperatures"].queries(ENGINES["made-up four"])}
    assert {(c.state, c.coolant_c) for c in cold} == {("idle", 20.0)}


@everywhere
def test_banks_are_named_as_the_engine_has_them(engine: Engine) -> None:
    found = {q.place for q in ALL["trims_at_speeds"].queries(engine) if q.quantity == "fuel_trim"}
    assert found == {Place.of(bank=bank) for bank in banks_of(engine)}
