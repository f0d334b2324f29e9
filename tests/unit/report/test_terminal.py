"""The answer and the findings as plain text."""

from __future__ import annotations

import re

import pytest

from tests.unit.report.builders import CASES, seal_case, typed_only
from tests.unit.report.markup import number_of
from witnessmark.report import assessment_text, findings_text


@pytest.mark.parametrize("width", [20, 60, 80, 100, 140])
@pytest.mark.parametrize("name", CASES)
def test_lines_keep_to_the_width_and_are_plain(name: str, width: int) -> None:
    text = assessment_text(CASES[name](), width)
    assert max(map(len, text.splitlines())) <= max(width, 48)
    assert all(c.isprintable() or c == "\n" for c in text)
    assert "\N{NO-BREAK SPACE}" not in text
    assert text.endswith("\n")
    assert "\n\n\n" not in text


@pytest.mark.parametrize("name", CASES)
def test_the_leaders_decibans_add_up(name: str) -> None:
    text = assessment_text(CASES[name](), 200)
    block = text.split("What explains it")[1]
    before, _, after = block.partition("=")
    total = number_of(re.match(r"\s*([+−]?[\d.]+)", after)[1])  # type: ignore[index]
    lines = re.findall(r"^ {10,}([+−]?\d+\.\d)  ", before, re.MULTILINE)
    assert len(lines) > 1
    assert sum(map(number_of, lines)) == pytest.approx(total, abs=1e-9)


def test_a_typical_case_fits_a_screen_and_a_bit() -> None:
    assert assessment_text(typed_only(), 100).count("\n") <= 66


def test_what_matters_is_said_in_order() -> None:
    text = assessment_text(typed_only(), 100)
    places = [
        text.index(words)
        for words in (
            "Cannot tell yet. Leading, about 3 to 1: crank wheel slipped on its shaft.",
            "P0016  Crank and cam A, bank 1, do not agree",
            "−11° ± 1",
            "not measured. Settled by",
            "74 %  Crank wheel slipped on its shaft, 10.9° ± 0.8° early",
            "Same repair, 16 % together:",
            "3 %: none of these",
            "Whole teeth: among whole steps",
            "Look up or count first: teeth of the crank sprocket.",
            "Take a pressure trace in cylinder 1",
            "┃ Fuel and spark off.",
            "76 %  True TDC 9° to 13° after the wheel’s: The crank wheel has slipped",
            "Instead: look at the crank wheel",
        )
    ]
    assert places == sorted(places)


def test_hazards_are_whole() -> None:
    text = " ".join(assessment_text(seal_case(), 60).replace("┃", " ").split())
    for step in seal_case().plan.steps:
        assert all(hazard in text for hazard in step.hazards)
    assert "The maker’s service information and local rules come first." in text


def test_findings_are_told_with_their_condition_and_what_is_missing() -> None:
    case = seal_case()
    text = findings_text(case.findings, case.not_measured, 80, case.engine)
    assert "Idle, 780 rpm, 88 °C, phaser parked, complaint present ──" in text
    assert re.search(r"Intake cam to crank +−11\.1° ± 0\.2 +f5", text)
    assert "Wheel’s TDC against the piston: not measured. Nothing recorded here" in text
    assert "Settled by a pressure trace in cylinder 1." in " ".join(text.split())


def test_no_findings_are_said() -> None:
    assert findings_text((), ()) == "  Nothing was measured.\n"
