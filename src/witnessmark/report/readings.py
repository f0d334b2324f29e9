"""What the vehicle says, as rows: trouble codes, and readings as a person wrote them down."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.reported import NOTHING_REPORTED, MonitorState, OnBoardTest, Reported, ReportedCode
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.report.naming import code_of, complaint_words, condition_words, is_typed, quantity_words, value_words
from witnessmark.report.words import MINUS, at_start, unit_of

__all__ = ["CodeRow", "TestRow", "TypedRow", "code_rows", "part_of", "ready_lines", "test_rows", "typed_rows"]

# What a person reads off the vehicle's own screen; the rest that is typed was measured by hand.
_SCREEN = ("computer", "code", "person")


@dataclass(frozen=True, slots=True)
class CodeRow:
    """A trouble code."""

    id: str
    code: str
    text: str
    note: str


@dataclass(frozen=True, slots=True)
class TypedRow:
    """A reading as a person wrote it down."""

    id: str
    what: str
    value: str
    when: str
    complaint: str


@dataclass(frozen=True, slots=True)
class TestRow:
    """A result of an on-board test."""

    __test__ = False  # no test of pytest's

    what: str
    value: str
    allowed: str
    came: str
    by_hand: bool


def part_of(finding: Finding) -> str:
    """The number of the part that shows a finding."""
    return "3" if _said_by_vehicle(finding) else "4"


def _said_by_vehicle(finding: Finding) -> bool:
    by_hand = is_typed(finding) and finding.kind.instrument in _SCREEN
    return by_hand or finding.source.kind == "code" or finding.quantity == "code_state"


def code_rows(
    engine: Engine, findings: tuple[Finding, ...], reported: Reported = NOTHING_REPORTED
) -> tuple[CodeRow, ...]:
    """The trouble codes, in the order they were written; those that are only silent stand in :func:`ready_lines`."""
    rows = []
    for finding in findings:
        told = reported.of(str(finding.place.get("code")))
        found = code_of(engine, finding, told)
        if found is not None and not (told is not None and told.derived):
            code, text = found
            notes = [value_words(finding), *_told_words(told)]
            when = condition_words(finding.condition)
            if when:
                notes.append(when)
            rows.append(CodeRow(finding.id, code, text, ", ".join(notes)))
    return tuple(rows)


def _told_words(told: ReportedCode | None) -> list[str]:
    """Status, failure type, and whether the monitor had its chance."""
    if told is None:
        return []
    said = [word.replace("_", " ") for word in told.status]
    if told.failure_type:
        said.append(f"failure type {told.failure_type}")
    if told.monitor_ran is not None:
        said.append("its monitor ran" if told.monitor_ran else "its monitor has not run")
    return [*said, *([told.unit] if told.unit else [])]


def ready_lines(reported: Reported) -> tuple[str, ...]:
    """Which monitors have run since codes were cleared, and which codes are silent though theirs did.

    The computer is named where several told of monitors.
    """
    several = len({one.unit for one in reported.readiness}) > 1
    lines = []
    for state, words in (("complete", "Run since codes were cleared"), ("incomplete", "Not run yet")):
        names = [_monitor_words(one, named=several) for one in reported.readiness if one.state == state]
        if names:
            lines.append(f"{words}: {', '.join(dict.fromkeys(names))}.")
    silent = [one.code for one in reported.codes if one.derived]
    if silent:
        lines.append(f"Not set, though their monitors ran: {', '.join(silent)}.")
    return tuple(lines)


def _monitor_words(one: MonitorState, *, named: bool) -> str:
    name = one.monitor.replace("_", " ")
    return f"{name} ({one.unit})" if one.unit and named else name


def test_rows(reported: Reported) -> tuple[TestRow, ...]:
    """Results of on-board tests, with their limits."""
    rows = []
    for one in reported.tests:
        what = one.words or f"monitor {one.monitor}, test {one.test}"
        ends = [f"{word} {_plain(end, one)}" for word, end in (("from", one.low), ("to", one.high)) if end is not None]
        came = {True: "passed", False: "failed", None: ""}[one.passed]
        where = f", {one.unit}" if one.unit else ""
        allowed = " ".join(ends) or "no limit"
        rows.append(TestRow(f"{at_start(what)}{where}", _plain(one.value, one), allowed, came, one.by_hand))
    return tuple(rows)


def _plain(value: float, test: OnBoardTest) -> str:
    unit = unit_of(test.measured_in, value) if test.measured_in else ""
    return f"{value:g}".replace("-", MINUS) + unit


def typed_rows(engine: Engine, findings: tuple[Finding, ...]) -> tuple[TypedRow, ...]:
    """Readings off the vehicle's own screen, as written down."""
    return tuple(
        TypedRow(
            finding.id,
            quantity_words(engine, finding.quantity, finding.place),
            value_words(finding),
            condition_words(finding.condition) or "not said",
            complaint_words(finding.condition),
        )
        for finding in findings
        if _said_by_vehicle(finding) and finding.quantity not in ("code_state", "monitor_ran")
    )
