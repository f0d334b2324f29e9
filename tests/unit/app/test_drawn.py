"""Where each cause leaves the marks: held against the steps and counting rules that any workshop manual gives."""

from __future__ import annotations

import pytest

from witnessmark.app.assess import assess
from witnessmark.app.drawn import drawn_causes, likeliest_engine
from witnessmark.app.engines import engine_named
from witnessmark.case.assessment import Assessment, DrawnCause
from witnessmark.case.typed import parse_reading
from witnessmark.engine.types import Engine
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History

FOUR = engine_named("made-up four")  # crank 20 teeth, cams 40: one pitch is 18 degrees of crank, 9 of cam


def answer(*lines: str, engine: Engine = FOUR) -> Assessment:
    return assess(engine, [parse_reading(line, engine=engine) for line in lines], History())


def both(value: float) -> list[str]:
    return [f"cam_phase_error bank=1 cam={cam} state=idle phaser=parked {value}" for cam in ("intake", "exhaust")]


def drawn(found: Assessment, words: str) -> DrawnCause:
    return next(cause for cause in found.drawn if words in cause.words)


def degrees(rows: tuple[tuple[str, float, float], ...]) -> dict[str, float]:
    return {name: value for name, value, _ in rows}


def test_a_slipped_crank_wheel_leaves_every_mark_in_place() -> None:
    cause = drawn(answer(*both(-11)), "Crank wheel slipped")
    assert degrees(cause.marks) == pytest.approx({"crank": 0.0, "b1.intake": 0.0, "b1.exhaust": 0.0}, abs=0.05)
    # A sound chain is already a little late, so less than the whole 11 degrees is the wheel's.
    assert degrees(cause.wheels)["crank"] == pytest.approx(10.5, abs=1.0)
    assert cause.text.startswith("Every mark stands where it belongs; ")
    assert "the tone wheel of the crank 10° ahead" in cause.text
    assert cause.text.endswith("every count of pins is right.")


def test_a_jumped_chain_moves_both_cam_marks_by_a_tooth_and_one_pin() -> None:
    """One tooth of a 40-tooth cam sprocket is 9 degrees of the cam; late by one is one pin more (docs/physics.md)."""
    found = answer(*both(-18), "mark_offset mark=intake -1", "mark_offset mark=exhaust -1")
    cause = drawn(found, "jumped")
    marks = degrees(cause.marks)
    assert marks["b1.intake"] == pytest.approx(-9.0, abs=0.7)
    assert marks["b1.exhaust"] == pytest.approx(-9.0, abs=0.7)
    assert marks["crank"] == 0.0
    assert degrees(cause.wheels)["crank"] == pytest.approx(0.0, abs=0.05)
    assert "1 pin more between crank and exhaust cam" in cause.text


def test_a_worn_chain_leaves_the_last_cam_later() -> None:
    cause = drawn(answer(*both(-11)), "chain worn")
    marks = degrees(cause.marks)
    assert marks["b1.intake"] < marks["b1.exhaust"] < -1.0
    assert "every count of pins is right" in cause.text


def test_causes_come_by_falling_chance_and_carry_their_names() -> None:
    found = answer(*both(-11))
    ids = [cause.hypothesis for cause in found.drawn]
    assert ids == sorted(ids, key=lambda name: int(name[1:]))
    assert {cause.hypothesis for cause in found.drawn} <= {h.id for h in found.belief.hypotheses}
    assert all(sd >= 0.0 for cause in found.drawn for _, _, sd in (*cause.marks, *cause.wheels))


def test_where_no_drive_is_described_the_likeliest_layout_says_that_it_is_no_more() -> None:
    readings = [
        parse_reading(f"cam_deviation bank=1 cam={cam} state=idle phaser=parked -11") for cam in ("intake", "exhaust")
    ]
    four = Engine("in-line four", 4, layout="inline", banks=1)
    found = assess(four, readings, History())
    assert found.engine.drive is not None
    assert found.engine.drive.label.startswith("not described; drawn is the likeliest of the usual layouts: ")
    assert found.engine_words.endswith("drive not described")
    diagnosis = diagnose(four, readings, History())
    assert drawn_causes(diagnosis, four) == ()
    assert likeliest_engine(diagnosis).drive is not None


# ---------------------------------------------------------------- the answer as a whole


def test_findings_are_named_in_order_and_edges_point_to_them() -> None:
    found = answer(*both(-11))
    assert [finding.id for finding in found.findings] == ["f1", "f2"]
    assert found.number == 0


def test_a_reading_with_the_complaint_present_means_that_it_was_seen() -> None:
    line = "cam_deviation bank=1 cam=intake state=idle phaser=parked complaint={} -11"
    assert answer(line.format("present")).intake.complaint_seen is True
    assert answer(line.format("absent")).intake.complaint_seen is None
    with_it = answer(line.format("present")).belief.hypothesis("nothing_wrong").probability
    without = answer(line.format("absent")).belief.hypothesis("nothing_wrong").probability
    assert with_it <= without


def test_covers_that_are_off_cost_nothing_more() -> None:
    readings = [parse_reading(line, engine=FOUR) for line in both(-11)]
    shut = assess(FOUR, readings, History())
    off = assess(FOUR, readings, History(known={"open": "plug_out"}))

    def minutes(found: Assessment) -> float:
        steps = (*found.plan.steps, *found.plan.alternatives)
        return next(step.minutes[1] for step in steps if step.test == "incylinder_crank")

    assert minutes(off) < minutes(shut)
