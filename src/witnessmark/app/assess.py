"""Everything known of one vehicle in, one answer out: weighed, planned, drawn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from witnessmark import __version__
from witnessmark.app.codemeanings import with_meanings
from witnessmark.app.drawn import drawn_causes, likeliest_engine
from witnessmark.app.engines import engine_words
from witnessmark.app.monitors import silent_codes
from witnessmark.case.assessment import Assessment, DrawnTrace, EdgeMark, Intake
from witnessmark.case.code import code_findings
from witnessmark.case.reported import NOTHING_REPORTED, Reported
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.explain import fit_of
from witnessmark.infer.history import History
from witnessmark.infer.sharedgate import are_several_off
from witnessmark.plan.next import next_steps
from witnessmark.plan.terms import Terms

if TYPE_CHECKING:
    from witnessmark.infer.sharedanswer import SharedAnswer

__all__ = ["NOTHING_MEASURED", "Measured", "assess", "joined"]


@dataclass(frozen=True, slots=True)
class Measured:
    """What recordings gave.

    Parameters
    ----------
    findings : tuple of Finding
    not_measured : tuple of NotMeasured
    traces : tuple of DrawnTrace
    edges : tuple of EdgeMark
        Their ``finding`` is the index in ``findings`` as text until the answer gives out names.
    notes : tuple of str
    reported : Reported
        What computers told in recordings of their conversation.
    logs : tuple of (digest, name)
        Recordings that are logs.
    """

    findings: tuple[Finding, ...] = ()
    not_measured: tuple[NotMeasured, ...] = ()
    traces: tuple[DrawnTrace, ...] = ()
    edges: tuple[EdgeMark, ...] = ()
    notes: tuple[str, ...] = ()
    reported: Reported = NOTHING_REPORTED
    logs: tuple[tuple[str, str], ...] = ()


NOTHING_MEASURED = Measured()


def assess(
    engine: Engine,
    typed: Sequence[Finding],
    history: History,
    *,
    intake: Intake | None = None,
    measured: Measured = NOTHING_MEASURED,
    notes: Sequence[str] = (),
    reported: Reported = NOTHING_REPORTED,
    own_codes: Mapping[str, str] | None = None,
    terms: Terms | None = None,
    now: datetime | None = None,
) -> Assessment:
    """The answer to everything that is known.

    Parameters
    ----------
    engine : Engine
        As far as described.
    typed : sequence of Finding
        Readings and codes.
    history : History
    intake : Intake, optional
    measured : Measured
    notes : sequence of str
        What was noticed on the way.
    reported : Reported
        Codes with their status, readiness, on-board tests; codes that are silent though their monitors ran are added.
    own_codes : mapping of str to str, optional
        The shop's own meanings of codes.
    terms : Terms, optional
        What the owner and the shop allow the plan.
    now : datetime, optional

    Returns
    -------
    Assessment
        With number 0 until it is kept.

    Raises
    ------
    InputError
        For a finding at a place this engine does not have, or an own choice that is no step here.
    """
    history = _with_what_was_seen(history, typed)
    reported = joined((reported, measured.reported))
    typed = _not_recorded(typed, measured.findings)
    silent = silent_codes(reported, engine, mentioned=_codes((*typed, *measured.findings)))
    typed = (*typed, *(finding for one in silent for finding in code_findings(one)))
    findings = tuple(f.with_id(f"f{i}") for i, f in enumerate((*typed, *measured.findings), start=1))
    diagnosis = diagnose(engine, findings, history)
    shown = _with_a_drive_to_draw(engine, diagnosis)
    opened = tuple(filter(None, history.known.get("open", "").split(",")))
    plan = next_steps(diagnosis, terms=terms, covers_open=opened)
    return Assessment(
        version=__version__,
        made_at=(now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds"),
        number=0,
        engine=shown,
        engine_words=engine_words(engine),
        intake=replace(intake or Intake(), complaint_seen=history.complaint_seen),
        findings=diagnosis.findings,
        not_measured=measured.not_measured,
        belief=diagnosis.belief,
        plan=plan,
        traces=measured.traces,
        edges=tuple(replace(e, finding=_name(e, findings, len(typed))) for e in measured.edges),
        drawn=drawn_causes(diagnosis, shown),
        shared=_shared(diagnosis),
        notes=(*notes, *measured.notes),
        reported=with_meanings(replace(reported, codes=(*reported.codes, *silent)), own_codes or {}),
        logs=measured.logs,
    )


def _shared(diagnosis: Diagnosis) -> SharedAnswer | None:
    """What the electrical findings share, where two of them or more are off; else the ranking is not even loaded."""
    findings = tuple(finding for finding in diagnosis.findings if not finding.is_asked_back)
    if not are_several_off(findings, lambda: fit_of(diagnosis.posterior, "nothing_wrong")):
        return None
    from witnessmark.infer.sharedanswer import shared_answer

    return shared_answer(diagnosis, findings)


def joined(each: Iterable[Reported]) -> Reported:
    """Several reports as one.

    Parameters
    ----------
    each : iterable of Reported

    Returns
    -------
    Reported
    """
    every = tuple(each)
    return Reported(
        tuple(code for one in every for code in one.codes),
        tuple(state for one in every for state in one.readiness),
        tuple(test for one in every for test in one.tests),
    )


def _codes(findings: Iterable[Finding]) -> set[str]:
    return {str(finding.place.get("code")) for finding in findings if finding.place.get("code") is not None}


def _not_recorded(typed: Sequence[Finding], recorded: Sequence[Finding]) -> tuple[Finding, ...]:
    """What was typed, without codes that a recording tells: the computer stands before what was read off a screen."""
    there = {(f.quantity, f.place) for f in recorded if f.place.get("code") is not None}
    return tuple(finding for finding in typed if (finding.quantity, finding.place) not in there)


def _with_what_was_seen(history: History, typed: Sequence[Finding]) -> History:
    """A reading taken while the complaint was present means that the complaint was seen here."""
    if history.complaint_seen is None and any(f.condition.complaint == "present" for f in typed):
        return replace(history, complaint_seen=True)
    return history


def _with_a_drive_to_draw(engine: Engine, diagnosis: Diagnosis) -> Engine:
    """Where no drive is described, the likeliest usual layout, which says of itself that it is no more than that."""
    if engine.drive is not None and engine.drive.stages:
        return engine
    likeliest = likeliest_engine(diagnosis)
    if likeliest.drive is None:
        return engine
    label = f"not described; drawn is the likeliest of the usual layouts: {likeliest.drive.label}"
    cams = engine.cams or likeliest.cams
    return replace(engine, banks=likeliest.banks, cams=cams, drive=replace(likeliest.drive, label=label))


def _name(edge: EdgeMark, findings: Sequence[Finding], first: int) -> str:
    """The name of the finding that an edge carries, from its index among those measured."""
    return findings[first + int(edge.finding)].id if edge.finding.isdigit() else edge.finding
