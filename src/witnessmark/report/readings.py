"""What the vehicle says, as rows: trouble codes, and readings as a person wrote them down."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.report.naming import code_of, complaint_words, condition_words, is_typed, quantity_words, value_words

__all__ = ["CodeRow", "TypedRow", "code_rows", "part_of", "typed_rows"]

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


def part_of(finding: Finding) -> str:
    """The number of the part that shows a finding."""
    return "3" if _said_by_vehicle(finding) else "4"


def _said_by_vehicle(finding: Finding) -> bool:
    by_hand = is_typed(finding) and finding.kind.instrument in _SCREEN
    return by_hand or finding.source.kind == "code" or finding.quantity == "code_state"


def code_rows(engine: Engine, findings: tuple[Finding, ...]) -> tuple[CodeRow, ...]:
    """The trouble codes, in the order they were written."""
    rows = []
    for finding in findings:
        found = code_of(engine, finding)
        if found is not None:
            code, text = found
            notes = [value_words(finding)]
            when = condition_words(finding.condition)
            if when:
                notes.append(when)
            rows.append(CodeRow(finding.id, code, text, ", ".join(notes)))
    return tuple(rows)


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
        if _said_by_vehicle(finding) and finding.quantity != "code_state"
    )
