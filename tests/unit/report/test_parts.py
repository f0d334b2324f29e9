"""The parts of the page: readings, measurements, what is missing, evidence in words, the plan, the record."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.report.builders import cleared, plan, pressure_trace, seal_case, typed_only
from tests.unit.report.engines import in_line_four, two_banks
from tests.unit.report.parts import HOT_IDLE, code, deviation, measured, numbered
from witnessmark.engine.types import Engine, Reporting
from witnessmark.finding import NotMeasured
from witnessmark.infer.belief import Assumed, Block, Fit, ParameterEstimate
from witnessmark.plan.types import FurtherAgreement, Outcome, OutcomeReading, Plan
from witnessmark.plan.words import between
from witnessmark.report import assessment_text, render_page
from witnessmark.report.assumed import look_up
from witnessmark.report.evidence import block_words
from witnessmark.report.foreseen import shows_words
from witnessmark.report.measured import id_range, measured_sentence, measured_tables, other_tables
from witnessmark.report.missing import missing
from witnessmark.report.naming import code_of, condition_words, quantity_words
from witnessmark.report.nextstep import next_step, outside
from witnessmark.report.readings import code_rows, part_of, typed_rows
from witnessmark.report.record import record
from witnessmark.report.standing import not_told_apart, size_words, standing, unexplained
from witnessmark.report.wholesteps import whole_steps
from witnessmark.report.words import NBSP
from witnessmark.vocabulary import Condition, Place, Query, quantities


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


# ---------------------------------------------------------------- names


@pytest.mark.parametrize(
    ("quantity", "place", "said"),
    [
        ("cam_deviation", {"bank": 1, "cam": "intake"}, "Intake cam, off target"),
        ("cam_phase_error", {"bank": 1, "cam": "exhaust"}, "Exhaust cam to crank"),
        ("cam_separation", {"bank": 1, "cam": "intake", "other_cam": "exhaust"}, "Intake cam to exhaust cam"),
        ("cam_edge_angle", {"bank": 1, "cam": "intake", "edge": "2"}, "Intake cam, behind the wheel’s index, edge 2"),
        ("tdc_offset", {}, "Wheel’s TDC against the piston"),
        ("tdc_offset", {"cylinder": 1}, "Wheel’s TDC against the piston, cylinder 1"),
        ("tensioner_extension", {"chain": "primary"}, "Tensioner stands out further, timing chain"),
        ("pins_between", {"mesh": "primary.b1.intake"}, "Pins between the marks, intake cam"),
        ("wheel_teeth_seen", {"wheel": "crank"}, "Crank wheel, teeth seen"),
        ("charging_volts", {"battery": "battery"}, "Volts while charging"),
        ("firing_voltage", {"cylinder": 3}, "Firing voltage, cylinder 3"),
        ("valve_event", {"valve": "3.intake.opens"}, "Intake valve of cylinder 3 opens"),
        ("lambda_reported", {"sensor": "o2_front_1"}, "Lambda, oxygen sensor ahead of the catalyst"),
        ("coil_current", {"actuator": "coil_3"}, "Current, coil of cylinder 3"),
        ("branch_drop", {"node": "main_relay"}, "Drop, main relay"),
        ("leak_smoke", {"duct": "runner_2"}, "Smoke, runner of cylinder 2"),
        ("fuel_trim", {"bank": 1}, "Fuel trim"),  # an engine of one bank
        ("vibration_order", {"order": "engine:0.5"}, "Vibration, engine order 0.5"),
        ("cranking_volts", {"battery": "main"}, "Volts while cranking, main"),
    ],
)
def test_a_quantity_at_its_place_in_words(quantity: str, place: dict[str, str | int], said: str) -> None:
    assert quantity_words(in_line_four(), quantity, Place.of(**place)) == said


def test_banks_are_said_where_there_are_two() -> None:
    assert (
        quantity_words(two_banks(), "cam_deviation", Place.of(bank=2, cam="intake"))
        == "Intake cam of bank 2, off target"
    )
    assert (
        quantity_words(Engine("x", 6), "cam_deviation", Place.of(bank=2, cam="intake"))
        == "Intake cam of bank 2, off target"
    )


def test_every_quantity_of_the_list_has_words() -> None:
    values = {
        "bank": 1,
        "cylinder": 1,
        "cam": "intake",
        "other_cam": "exhaust",
        "wheel": "crank",
        "mesh": "primary.crank",
    }
    for name, kind in quantities().items():
        place = Place.of(**{key: values.get(key, "front") for key in kind.keys})
        said = quantity_words(in_line_four(), name, place)
        assert said[0].isupper() or not said[0].isalpha()
        assert "{" not in said
        assert "_" not in said


def test_a_condition_in_words() -> None:
    assert plain(condition_words(HOT_IDLE)) == "idle, 780 rpm, 88 °C, phaser parked"
    assert condition_words(Condition()) == ""
    assert condition_words(Condition(freeze="P0016", during="pinch_hose")) == "pinched shut, frozen with P0016"
    assert condition_words(Condition(during="swap_coil:3-1")) == "coils of cylinders 3 and 1 exchanged"
    assert condition_words(Condition(during="swap_oil_valve")) == "during swap oil valve"


@pytest.mark.parametrize(
    ("a_is", "said"),
    [
        (None, "Crank and cam A, bank 1, do not agree"),
        ("intake", "Crank and intake cam, bank 1, do not agree"),
        ("exhaust", "Crank and exhaust cam, bank 1, do not agree"),
    ],
)
def test_a_code_says_which_cam_where_the_description_does(a_is: str | None, said: str) -> None:
    engine = replace(in_line_four(), reporting=Reporting(a_is=a_is))
    assert code_of(engine, code("P0016")) == ("P0016", said)


def test_an_unknown_code_is_not_explained() -> None:
    found = code_of(in_line_four(), code("P1234"))
    assert found is not None
    assert "not kept here" in found[1]
    assert code_of(in_line_four(), deviation("intake", -11.0)) is None


def test_sizes_in_words() -> None:
    leader = seal_case().belief.hypothesis("h1")
    assert plain(size_words(leader)) == "10.9° ± 0.8° early"
    at = leader.faults[0]

    def said(variable: str, value: float, sd: float, unit: str) -> str:
        fault = replace(at, parameters=(ParameterEstimate(variable, value, sd, unit),))
        return plain(size_words(replace(leader, faults=(fault,))))

    assert said("pitch_slip", -2.0, 0.0, "pitch") == "2 pitches late"
    assert said("elongation", 1.2, 0.2, "%") == "1.2 % ± 0.2 % longer"
    assert said("fitted_part", 2.0, 0.0, "-") == ""
    assert said("learnt_error", 7.0, 1.0, "deg") == "7° ± 1° too early"


# ---------------------------------------------------------------- readings and measurements


def test_readings_off_the_screen_and_what_was_measured_go_to_their_parts() -> None:
    case = seal_case()
    assert [part_of(finding) for finding in case.findings] == ["3"] * 4 + ["4"] * 6
    assert [row.code for row in code_rows(case.engine, case.findings)] == ["P0016", "P0017"]
    assert [plain(row.value) for row in typed_rows(case.engine, case.findings)] == ["−11° ± 1"] * 2


def test_angles_stand_in_the_tables_and_the_rest_is_told_besides() -> None:
    case = seal_case()
    assert [[row.ids for row in table.rows] for table in measured_tables(case)] == [["f5", "f6", "f7"], ["f8"]]
    assert [[row.ids for row in table.rows] for table in other_tables(case)] == [["f9", "f10"]]


def test_the_edges_of_a_cam_are_told_in_one_line() -> None:
    edges = [
        measured("cam_edge_angle", a, 0.1, bank=1, cam="intake", edge=str(k))
        for k, a in enumerate((482.9, 102.9, 202.8), 1)
    ]
    case = replace(seal_case(), findings=numbered(*edges))
    (table,) = other_tables(case)
    (row,) = table.rows
    assert row.ids == "f1 to f3"
    assert plain(row.value) == "102.9°, 202.8°, 482.9°, each ± 0.1"
    assert not measured_tables(case)


@pytest.mark.parametrize(
    ("ids", "said"),
    [
        ([], ""),
        (["f3"], "f3"),
        (["f3", "f4"], "f3 f4"),
        (["f3", "f4", "f5"], "f3 to f5"),
        (["f3", "f5", "f6"], "f3 f5 f6"),
    ],
)
def test_ids_in_short(ids: list[str], said: str) -> None:
    assert id_range(ids) == said


def test_what_the_cams_do_in_a_sentence() -> None:
    assert measured_sentence(seal_case()) == "Both cams come late against the crank wheel, and alike."
    assert measured_sentence(typed_only()) == ""
    assert measured_sentence(cleared()).endswith("early; no more than is usual.")
    unsure = replace(cleared(), belief=replace(cleared().belief, fit=()))
    assert "where the description puts them" in measured_sentence(unsure)
    apart = numbered(
        measured("cam_phase_error", -18.0, 0.2, bank=1, cam="intake"),
        measured("cam_phase_error", 0.1, 0.2, bank=1, cam="exhaust"),
    )
    said = plain(measured_sentence(replace(seal_case(), findings=apart)))
    assert said == "Against the crank wheel intake cam 18.0° ± 0.2° late and exhaust cam 0.1° ± 0.2° early."


def test_what_is_missing_for_one_reason_is_said_once() -> None:
    items = [
        NotMeasured("cam_phase_error", Place.of(bank=1, cam=cam), "no TDC", "a pressure trace.")
        for cam in ("intake", "exhaust")
    ]
    (one,) = missing(in_line_four(), tuple(items))
    assert (one.what, one.reason, one.settled_by) == (
        "Intake cam and exhaust cam to crank",
        "No TDC.",
        "a pressure trace",
    )
    two = missing(in_line_four(), (items[0], replace(items[1], reason="no signal")))
    assert [item.what for item in two] == ["Intake cam to crank", "Exhaust cam to crank"]


def test_the_record_tells_every_finding_under_its_source() -> None:
    case = seal_case()
    groups = record(case.engine, case.findings)
    assert [row.id for group in groups for row in group.rows] != []
    assert sorted(row.id for group in groups for row in group.rows) == sorted(finding.id for finding in case.findings)
    heads = [plain(group.head) for group in groups]
    assert heads[0] == "Idle, 780 rpm, 88 °C, phaser parked, complaint present. Written down."
    assert any("Recording, sha256:5e5e5e5e5e5e…" in head for head in heads)
    row = groups[0].rows[0]
    assert row.by_hand
    assert row.how.startswith("“cam_deviation bank=1 cam=intake -11”")


# ---------------------------------------------------------------- evidence


def test_a_list_of_readings_is_said_as_people_say_it() -> None:
    findings = {
        f.id: f
        for f in numbered(
            measured("wheel_teeth_seen", 58.0, 0.01, wheel="crank"),
            measured("cam_phase_error", -10.9, 0.1, bank=1, cam="intake"),
            measured("cam_phase_error", -11.4, 0.1, bank=1, cam="exhaust"),
            measured("phase_scatter", 0.1, 0.01, bank=1, cam="intake"),
        )
    }
    block = Block(tuple(findings), 4.9, "wheel teeth seen: crank 58 count; cam phase error: intake −10.9° …")
    said = plain(block_words(in_line_four(), findings, block))
    assert said == (
        "Idle: intake cam to crank 10.9° late, exhaust cam to crank 11.4° late, crank wheel, teeth seen 58 "
        "and one other reading."
    )


def test_a_reason_stays_as_it_was_written() -> None:
    case = seal_case()
    findings = {finding.id: finding for finding in case.findings}
    block = Block(("f5", "f6"), 5.4, "both cams are late alike")
    assert block_words(case.engine, findings, block) == "Both cams are late alike."
    assert block_words(case.engine, findings, Block((), 6.0, "nobody worked there")) == "Nobody worked there."
    assert block_words(case.engine, findings, Block(("f3",), 1.0, "P0016 set")) == "P0016 set."


def test_what_the_leader_does_not_explain_is_named() -> None:
    case = seal_case()
    assert unexplained(case, standing(case)) == ""
    belief = replace(case.belief, fit=(Fit("f1", -10.9, 1.3, -0.1), Fit("f7", 5.0, 1.0, -5.3)))
    odd = replace(case, belief=belief)
    assert unexplained(odd, standing(odd)) == "intake cam to exhaust cam (f7): 5.3 spreads from what it predicts."


def test_causes_that_nothing_tells_apart_are_named_together() -> None:
    case = seal_case()
    assert not_told_apart(case.belief) == ""
    alike = replace(case, belief=replace(case.belief, inseparable=("h1", "h3")))
    said = "Crank wheel slipped on its shaft and timing chain jumped at the crank."
    assert not_told_apart(alike.belief).startswith(said)
    assert f"Nothing found so far tells these apart.</b> {said}" in render_page(alike)
    assert "Nothing found so far tells these apart: crank wheel" in assessment_text(alike, 200)
    verdict = replace(alike.belief.verdict, reason=f"Nothing parts these: {said}")
    assert not_told_apart(replace(alike.belief, verdict=verdict)) == ""


# ---------------------------------------------------------------- plan, steps, assumptions


def test_the_next_step_is_priced_and_warned_of() -> None:
    step = next_step(plan(), in_line_four())
    assert step is not None
    assert step.minutes == "25, likely 18 to 40"
    assert step.hazards[-1] == "The maker’s service information and local rules come first."
    assert [row.probability for row in step.outcomes] == sorted(
        (row.probability for row in step.outcomes), reverse=True
    )
    assert (plain(step.outcomes[0].means), step.outcomes[0].then) == (
        "The crank wheel has slipped, 97 %.",
        "Ask for leave to open the lower cover.",
    )
    assert "would not cure it 84 times in 100" in plain(step.alternatives[-1].price)
    assert plain(step.alternatives[0].price).startswith(
        "70 minutes, 45 more; comes off: lower cover and crank pulley; tells more"
    )
    assert any("about half of what is open" in note for note in step.notes)


def test_why_the_engine_waits_is_a_caution_and_said_once() -> None:
    waits = "Oil pressure is in doubt: do not run the engine."
    for hazards in ((), (waits,)):
        told = replace(pressure_trace(), hazards=hazards)
        step = next_step(Plan((told,), (), 0.0, 0.0, 0.0, waits=waits), in_line_four())
        assert step is not None
        assert step.hazards == (waits, "The maker’s service information and local rules come first.")
        assert waits not in step.notes
    beyond = outside(Plan((), (), 120.0, 80.0, 1.0, limited=True, waits=waits), in_line_four())
    assert beyond is not None
    assert beyond.sentence.endswith(waits)


def test_a_caution_that_already_defers_is_not_said_twice() -> None:
    told = replace(pressure_trace(), hazards=("The maker's service information and local rules come first",))
    step = next_step(Plan((told,), (), 0.0, 0.0, 0.0), in_line_four())
    assert step is not None
    assert step.hazards == ("The maker's service information and local rules come first.",)


def test_what_a_repair_opens_is_not_made_up() -> None:
    step = next_step(
        Plan((replace(pressure_trace(), kind="repair", teardown=(), needs=()),), (), 0.0, 0.0, 0.0), in_line_four()
    )
    assert step is not None
    assert (step.comes_off, step.needs) == ("", "")
    look = next_step(Plan((replace(pressure_trace(), teardown=(), needs=()),), (), 0.0, 0.0, 0.0), in_line_four())
    assert look is not None
    assert look.comes_off == "nothing"


def test_no_plan_no_step() -> None:
    assert next_step(Plan((), (), 0.0, 0.0, 0.0), in_line_four()) is None


def test_an_outcome_is_said_of_this_engine_s_parts() -> None:
    """A reading in the quantity's own words, a yes or no, and what the quantity says itself."""
    pinched = Query("fuel_trim", Place.of(bank=1), Condition("idle", during="pinch_hose:branch"))
    asked = Query("module_answers", Place.of(module="ecu"), Condition("key_on"))
    own = OutcomeReading(Query("tdc_offset"), 9.0, 13.0, "the piston's TDC 9° to 13° after the wheel's")
    outcome = Outcome("plain", 0.5, "Then this", "g1", (OutcomeReading(pinched, -7.0, 4.2), own))
    assert plain(shows_words(in_line_four(), outcome)) == (
        "Fuel trim, idle, branch pinched shut: −7 to 4 %; the piston's TDC 9° to 13° after the wheel's"
    )
    answers = replace(outcome, readings=(OutcomeReading(asked, 0.9, 0.9),))
    assert shows_words(in_line_four(), answers).endswith(": yes")
    assert shows_words(in_line_four(), replace(outcome, readings=())) == "plain"


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [(-7.04, 4.24, "−7 to 4"), (0.31, 3.8, "0.3 to 3.8"), (-0.2, 0.1, "−0.20 to 0.10"), (12.0, 12.3, "12"),
     (-0.4, 20.0, "0 to 20")],
)  # fmt: skip
def test_a_range_needs_few_digits_and_no_minus_nothing(low: float, high: float, told: str) -> None:
    assert between(low, high) == told


def test_the_own_choice_stands_beside_the_step() -> None:
    planned = plan()
    own = replace(planned.alternatives[0], minutes_to_proof=planned.steps[0].minutes_to_proof + 40.0)
    step = next_step(replace(planned, instead=own), in_line_four())
    assert step is not None
    assert step.own is not None
    assert "40 minutes more than with the step above" in plain(step.own.price)
    same = next_step(replace(planned, instead=planned.steps[0]), in_line_four())
    assert same is not None
    assert same.own is not None
    assert "that is the step above" in plain(same.own.price)


def test_what_a_further_agreement_would_buy_is_said_where_no_step_is_left() -> None:
    offer = FurtherAgreement("plug_out", "coil and plug of cylinder 1", 31.4, "leak_down", "Leak it down", 50.0, 0.0)
    beyond = outside(Plan((), (), 120.0, 80.0, 1.0, limited=True, offers=(offer,)), in_line_four())
    assert beyond is not None
    assert plain(beyond.offers[0]) == (
        "With leave to take off: coil and plug of cylinder 1, 31 minutes fewer expected; the first step then takes "
        "50 minutes: leak it down."
    )
    assert outside(Plan((), (), 0.0, 0.0, 0.0), in_line_four()) is None
    assert outside(replace(plan(), limited=True), in_line_four()) is None


def test_an_own_choice_is_told_where_no_step_is_left() -> None:
    own = replace(plan().steps[0], minutes_to_proof=160.0)
    beyond = outside(Plan((), (), 120.0, 80.0, 1.0, limited=True, end_minutes=120.0, instead=own), in_line_four())
    assert beyond is not None
    assert beyond.own is not None
    assert "40 minutes more than with asking the owner at once" in plain(beyond.own.price)


def test_whole_steps_best_first_with_what_is_left() -> None:
    steps = whole_steps(typed_only().belief)
    assert steps is not None
    shares = [row.probability for row in (*steps.rows, *steps.more)]
    assert shares == sorted(shares, reverse=True)
    assert len(shares) == 10
    best = steps.rows[0]
    assert (best.teeth, plain(best.pitches), best.step) == ("crank 26", "1 late", "13.8°")
    assert plain(best.left) == "+2.8° ± 1.6"
    assert whole_steps(seal_case().belief) is None


def test_the_set_of_tooth_counts_drops_a_stage_that_is_always_the_same() -> None:
    belief = replace(typed_only().belief, step_set=("primary: crank 24", "primary: crank 25"))
    steps = whole_steps(belief)
    assert steps is not None
    assert "lies with crank 24 or crank 25" in steps.sentence
    both = whole_steps(replace(belief, step_set=("primary: crank 24", "link: cam 24")))
    assert both is not None
    assert "lies with primary: crank 24 or link: cam 24" in both.sentence


def test_the_number_worth_most_comes_first() -> None:
    case = seal_case()
    found = look_up(case.belief, case.plan)
    assert found is not None
    assert [plain(row.worth) for row in found.rows] == ["0.6 bit", "0.2 bit", "0.1 bit", "< 0.1 bit"]
    none = look_up(replace(case.belief, assumed=()), case.plan)
    assert none is None
    little = look_up(replace(case.belief, assumed=(Assumed("x", "y", 0.01, "which cam is A"),)), case.plan)
    assert little is not None
    assert little.first == "None of these would change the answer by much."
