"""What the vehicle says and what was measured, as rows: codes, typed readings, findings against what is expected."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.infer.belief import Fit
from witnessmark.report.naming import (
    ANGLES,
    code_of,
    complaint_words,
    condition_words,
    is_typed,
    origin,
    quantity_words,
    reading,
    value_words,
)
from witnessmark.report.words import angle, at_start, inside, listed, sentence

__all__ = [
    "CodeRow",
    "MeasuredRow",
    "MeasuredTable",
    "Missing",
    "RecordRow",
    "TypedRow",
    "code_rows",
    "measured_sentence",
    "measured_tables",
    "missing",
    "part_of",
    "record",
    "typed_rows",
]

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
class MeasuredRow:
    """A finding against what the leading hypothesis expects of it.

    ``at`` and ``expects`` are value and spread on the shared axis, in degrees, + = early;
    None where the quantity is no angle, or nothing is expected of it.
    """

    id: str
    what: str
    value: str
    expected: str
    by_hand: bool
    at: tuple[float, float] | None
    expects: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class MeasuredTable:
    """Findings taken under one condition."""

    head: str
    rows: tuple[MeasuredRow, ...]


@dataclass(frozen=True, slots=True)
class Missing:
    """What was not measured, why, and what settles it."""

    what: str
    reason: str
    settled_by: str


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One finding with everything known of it."""

    id: str
    what: str
    value: str
    by_hand: bool
    about: str


def part_of(finding: Finding) -> str:
    """The number of the part that shows a finding."""
    return "3" if _said_by_vehicle(finding) else "4"


def _said_by_vehicle(finding: Finding) -> bool:
    by_hand = is_typed(finding) and finding.kind.instrument in _SCREEN
    return by_hand or finding.source.kind == "code" or code_of(finding) is not None


def code_rows(findings: tuple[Finding, ...]) -> tuple[CodeRow, ...]:
    """The trouble codes, in the order they were written."""
    rows = []
    for finding in findings:
        found = code_of(finding)
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
        if _said_by_vehicle(finding) and code_of(finding) is None
    )


def measured_tables(assessment: Assessment) -> tuple[MeasuredTable, ...]:
    """What was measured, one table for each condition, in the order it was taken."""
    fits = {fit.finding: fit for fit in assessment.belief.fit}
    tables: dict[str, list[MeasuredRow]] = {}
    for finding in assessment.findings:
        if part_of(finding) == "4":
            when = condition_words(finding.condition, bare=True) or "condition not said"
            if finding.condition.complaint:
                when += f", complaint {finding.condition.complaint}"
            tables.setdefault(at_start(when), []).append(_measured(assessment.engine, finding, fits.get(finding.id)))
    return tuple(MeasuredTable(head, tuple(rows)) for head, rows in tables.items())


def _measured(engine: Engine, finding: Finding, fit: Fit | None) -> MeasuredRow:
    is_angle = finding.quantity in ANGLES
    expected = reading(finding.quantity, fit.expected, fit.sd, plus=is_angle) if fit else "–"
    return MeasuredRow(
        id=finding.id,
        what=quantity_words(engine, finding.quantity, finding.place),
        value=value_words(finding, plus=is_angle),
        expected=expected,
        by_hand=is_typed(finding),
        at=(finding.value, finding.sd) if is_angle else None,
        expects=(fit.expected, fit.sd) if is_angle and fit else None,
    )


def measured_sentence(assessment: Assessment) -> str:
    """What the cams do against the crank wheel, in a sentence; empty where no such angle was measured.

    Notes
    -----
    Cams are said to be alike when they differ by less than two of their joint deviations.
    """
    cams = [f for f in assessment.findings if f.quantity == "cam_phase_error"]
    if not cams:
        return ""
    latest: dict[str, Finding] = {}
    for finding in cams:
        latest.setdefault(str(finding.place), finding)
    found = list(latest.values())
    names = [inside(quantity_words(assessment.engine, f.quantity, f.place)).removesuffix(" to crank") for f in found]
    off = [f for f in found if abs(f.value) > 2 * f.sd]
    if not off:
        return sentence(
            f"{listed(names)}: where the description puts {'it' if len(found) == 1 else 'them'}, within what can be measured"
        )
    spread = max(f.value for f in found) - min(f.value for f in found)
    joint = 2 * 2**0.5 * max(f.sd for f in found)
    early = "early" if found[0].value > 0 else "late"
    if len(found) > 1 and spread <= joint:
        who = "Both cams come" if len(found) == 2 else "All cams come"
        return f"{who} {early} against the crank wheel, and alike."
    said = [f"{name} {angle(f.value, f.sd)}" for name, f in zip(names, found, strict=True)]
    return sentence(f"Against the crank wheel: {listed(said)}")


def missing(engine: Engine, not_measured: tuple[NotMeasured, ...]) -> tuple[Missing, ...]:
    """What was not measured; places with the same reason and remedy are said together."""
    together: dict[tuple[str, str, str], list[str]] = {}
    for item in not_measured:
        name = quantity_words(engine, item.quantity, item.place)
        together.setdefault((item.quantity, item.reason, item.settled_by), []).append(name)
    return tuple(
        Missing(_several(names), sentence(reason), settled_by.strip().rstrip("."))
        for (_, reason, settled_by), names in together.items()
    )


def _several(names: list[str]) -> str:
    """Several names that end alike, said once: "Intake cam and exhaust cam against the crank wheel"."""
    names = list(dict.fromkeys(names))
    if len(names) == 1:
        return names[0]
    words = [name.split(" ") for name in names]
    shared = 0
    while all(len(w) > shared + 1 for w in words) and len({w[-1 - shared] for w in words}) == 1:
        shared += 1
    if not shared:
        return listed([names[0], *map(inside, names[1:])])
    tail = " ".join(words[0][-shared:])
    heads = [" ".join(w[:-shared]) for w in words]
    if any(head.endswith((" of", " the")) for head in heads):
        return listed([names[0], *map(inside, names[1:])])
    # A shared word that belongs to the name itself ("cam") stays with each.
    kept, _, rest = tail.partition(" ") if tail.startswith("cam") else ("", "", tail)
    heads = [f"{head} {kept}".strip() for head in heads]
    return f"{listed([heads[0], *map(inside, heads[1:])])} {rest}".strip()


def record(engine: Engine, findings: tuple[Finding, ...]) -> tuple[RecordRow, ...]:
    """Every finding by its id, with where it comes from."""
    rows = []
    for finding in findings:
        found = code_of(finding)
        what = f"{found[0]}" if found else quantity_words(engine, finding.quantity, finding.place)
        when = condition_words(finding.condition)
        complaint = f"complaint {finding.condition.complaint}" if finding.condition.complaint else ""
        taken = ", ".join(part for part in (when, complaint) if part) or "condition not said"
        how = "; ".join(part for part in (finding.method, *finding.assumptions) if part)
        rows.append(
            RecordRow(
                id=finding.id,
                what=what,
                value=value_words(finding),
                by_hand=is_typed(finding),
                about=" ".join(sentence(part) for part in (taken, origin(finding.source), how) if part),
            )
        )
    return tuple(rows)
