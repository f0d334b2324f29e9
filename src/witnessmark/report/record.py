"""Every finding by its id, with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.report.naming import (
    code_of,
    complaint_words,
    condition_words,
    is_typed,
    origin,
    quantity_words,
    value_words,
)
from witnessmark.report.words import NBSP, number, sentence

__all__ = ["Kept", "KeptGroup", "record"]


@dataclass(frozen=True, slots=True)
class Kept:
    """One finding: its id, what it says, and how it came about."""

    id: str
    what: str
    value: str
    by_hand: bool
    how: str


@dataclass(frozen=True, slots=True)
class KeptGroup:
    """Findings of one source under one condition."""

    head: str
    rows: tuple[Kept, ...]


def record(engine: Engine, findings: tuple[Finding, ...]) -> tuple[KeptGroup, ...]:
    """Every finding, under a head for each source and condition.

    Parameters
    ----------
    engine : Engine
    findings : tuple of Finding

    Returns
    -------
    tuple of KeptGroup
        In the order in which they were found.
    """
    groups: dict[str, list[Kept]] = {}
    for finding in findings:
        groups.setdefault(_head(finding), []).append(_kept(engine, finding))
    return tuple(KeptGroup(head, tuple(rows)) for head, rows in groups.items())


def _head(finding: Finding) -> str:
    when = condition_words(finding.condition) or "condition not said"
    if finding.condition.complaint:
        when += f", complaint {complaint_words(finding.condition)}"
    return f"{sentence(when)} {sentence(origin(finding.source))}"


def _kept(engine: Engine, finding: Finding) -> Kept:
    code = code_of(engine, finding)
    what = code[0] if code else quantity_words(engine, finding.quantity, finding.place)
    how = [finding.method, *finding.assumptions]
    if finding.source.kind in ("typed", "code"):
        how = [f"“{finding.source.text}”" if finding.source.text else "", *how]
    elif finding.source.trace:
        how.append(f"trace {finding.source.trace}")
    begin, end = finding.source.from_s, finding.source.to_s
    if begin is not None and end is not None:
        how.append(f"{number(begin, 1)} to {number(end, 1)}{NBSP}s")
    return Kept(finding.id, what, value_words(finding), is_typed(finding), "; ".join(part for part in how if part))
