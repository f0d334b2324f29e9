"""What was measured, held against what is expected: tables of angles, and everything else more briefly."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.case.assessment import Assessment
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.belief import Fit
from witnessmark.report.loggedtables import logged_tables
from witnessmark.report.measuredtable import NOTHING, MeasuredRow, MeasuredTable, id_range
from witnessmark.report.naming import ANGLES, condition_words, is_typed, quantity_words, reading, value_words
from witnessmark.report.readings import part_of
from witnessmark.report.standing import SPECIAL, standing
from witnessmark.report.words import NBSP, angle, at_start, estimate, inside, listed, number, places_for, sentence
from witnessmark.vocabulary import Place

__all__ = ["measured_sentence", "measured_tables", "other_tables"]


def measured_tables(assessment: Assessment) -> tuple[MeasuredTable, ...]:
    """What decides: angles off their place, and what a hand or an eye found; one table for each condition."""
    return _tables(assessment, [f for f in assessment.findings if part_of(f) == "4" and _decides(f)])


def other_tables(assessment: Assessment) -> tuple[MeasuredTable, ...]:
    """The rest: speed, wheel, scatter, in one line for each cam where its edges stand; each log by operating state."""
    logged = dict(assessment.logs)
    rest = [f for f in assessment.findings if part_of(f) == "4" and not _decides(f)]
    return (
        *_tables(assessment, [f for f in rest if f.source.digest not in logged]),
        *logged_tables(assessment.engine, [f for f in rest if f.source.digest in logged], logged),
    )


def _decides(finding: Finding) -> bool:
    return finding.quantity in ANGLES or is_typed(finding)


def _head(finding: Finding) -> str:
    when = condition_words(finding.condition, bare=True) or "condition not said"
    if finding.condition.complaint:
        when += f", complaint {finding.condition.complaint}"
    return at_start(when)


def _tables(assessment: Assessment, findings: Sequence[Finding]) -> tuple[MeasuredTable, ...]:
    fits = {fit.finding: fit for fit in assessment.belief.fit}
    tables: dict[str, list[MeasuredRow]] = {}
    edges: dict[tuple[str, Place], list[Finding]] = {}
    for finding in findings:
        rows = tables.setdefault(_head(finding), [])
        if finding.quantity == "cam_edge_angle":
            cam = finding.place.with_keys(edge=None)
            edges.setdefault((_head(finding), cam), []).append(finding)
        else:
            rows.append(_row(assessment.engine, finding, fits.get(finding.id)))
    for (head, cam), members in edges.items():
        tables[head].append(_edge_row(assessment.engine, cam, members))
    return tuple(MeasuredTable(head, tuple(rows)) for head, rows in tables.items())


def _row(engine: Engine, finding: Finding, fit: Fit | None) -> MeasuredRow:
    is_angle = finding.quantity in ANGLES
    expected = reading(finding.quantity, fit.expected, fit.sd, finding.place, plus=is_angle) if fit else NOTHING
    return MeasuredRow(
        ids=finding.id,
        what=quantity_words(engine, finding.quantity, finding.place),
        value=value_words(finding, plus=is_angle),
        expected=expected,
        by_hand=is_typed(finding),
        at=(finding.value, finding.sd) if is_angle else None,
        expects=(fit.expected, fit.sd) if is_angle and fit else None,
    )


def _edge_row(engine: Engine, cam: Place, edges: Sequence[Finding]) -> MeasuredRow:
    """Where the edges of one cam stand behind the wheel's index, all in one line."""
    sd = max(edge.sd for edge in edges)
    if len(edges) == 1:
        value = estimate(edges[0].value, sd, "deg")
    else:
        places = places_for(sd, 0.5)
        value = f"{', '.join(f'{number(e.value, places)}°' for e in sorted(edges, key=lambda e: e.value))}, "
        value += f"each{NBSP}±{NBSP}{number(sd, places)}"
    name = quantity_words(engine, "cam_edge_angle", cam)
    ids = id_range([edge.id for edge in edges])
    return MeasuredRow(ids, name, value, "", any(map(is_typed, edges)), None, None)


def measured_sentence(assessment: Assessment) -> str:
    """What the cams do against the crank wheel, in a sentence; empty where no such angle was measured.

    Notes
    -----
    A cam is off where it differs from its described place by more than two deviations; cams are said to be
    alike when they differ by less than two of their joint deviations.
    """
    cams = [f for f in assessment.findings if f.quantity == "cam_phase_error"]
    if not cams:
        return ""
    found = list({str(finding.place): finding for finding in reversed(cams)}.values())[::-1]
    engine = assessment.engine
    names = [inside(quantity_words(engine, f.quantity, f.place)).removesuffix(" to crank") for f in found]
    when = condition_words(found[0].condition, bare=True)
    several = len({_head(finding) for finding in cams}) > 1
    context = f"{at_start(when)}: " if several and when else ""
    usual = _usual(assessment, found)
    if not usual and not any(abs(f.value) > 2 * f.sd for f in found):
        them = "it" if len(found) == 1 else "them"
        return _in(context, f"{listed(names)}: where the description puts {them}, within what can be measured.")
    spread = max(f.value for f in found) - min(f.value for f in found)
    if not usual and len(found) > 1 and spread <= 2 * 2**0.5 * max(f.sd for f in found):
        early = "early" if found[0].value > 0 else "late"
        who = "both cams come" if len(found) == 2 else "all cams come"
        return _in(context, f"{who} {early} against the crank wheel, and alike.")
    said = [f"{name} {angle(f.value, f.sd)}" for name, f in zip(names, found, strict=True)]
    return _in(context, f"against the crank wheel {listed(said)}{'; no more than is usual' if usual else ''}.")


def _usual(assessment: Assessment, found: Sequence[Finding]) -> bool:
    """Whether a healthy drive leads, and all of these lie within two spreads of what it shows."""
    fits = {fit.finding: fit for fit in assessment.belief.fit}
    healthy = standing(assessment).leader.id in SPECIAL
    return healthy and all(f.id in fits and abs(fits[f.id].z) < 2.0 for f in found)


def _in(context: str, text: str) -> str:
    return sentence(f"{context}{text}" if context else text)
