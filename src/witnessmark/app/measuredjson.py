"""What ``witnessmark measure --json`` writes: its form, its schema, and how it is filled."""

from __future__ import annotations

from typing import NotRequired, TypedDict

from witnessmark import __version__
from witnessmark.app.measure import LogRead, Measurements
from witnessmark.case.reported import NOTHING_REPORTED
from witnessmark.report.document import FindingDocument, NotMeasuredDocument, ReportedDocument

__all__ = [
    "SCHEMA",
    "EventDocument",
    "MeasurementsDocument",
    "QuestionDocument",
    "RecordingDocument",
    "StateDocument",
    "measurements_json",
    "measurements_schema",
]

SCHEMA = "witnessmark/measurement/1"


class StateDocument(TypedDict):
    """An operating state from one time of a log to another, in seconds."""

    state: str
    from_s: float
    to_s: float
    steady: bool


class EventDocument(TypedDict):
    """A value that dropped out, stood still, jumped, or cannot be believed."""

    kind: str
    signals: list[str]
    from_s: float
    to_s: float
    words: str


class QuestionDocument(TypedDict):
    """What is not sure about a column, and what it may be."""

    column: str
    taken: str
    question: str
    candidates: list[str]


class RecordingDocument(TypedDict):
    """One recording: channels, findings, what was noticed; of a log also states, events, questions, what was told."""

    name: str
    digest: str
    channels: list[dict[str, str]]
    findings: list[FindingDocument]
    not_measured: list[NotMeasuredDocument]
    notes: list[str]
    states: NotRequired[list[StateDocument]]
    events: NotRequired[list[EventDocument]]
    questions: NotRequired[list[QuestionDocument]]
    reported: NotRequired[ReportedDocument]


class MeasurementsDocument(TypedDict):
    """What ``witnessmark measure --json`` writes."""

    schema: str
    version: str
    engine: str | None
    recordings: list[RecordingDocument]


def measurements_json(found: Measurements) -> MeasurementsDocument:
    """What was measured as plain values, ready for ``json.dumps(..., allow_nan=False)``.

    Parameters
    ----------
    found : Measurements
    """
    from witnessmark.report.json import finding_json

    return {
        "schema": SCHEMA,
        "version": __version__,
        "engine": found.engine.name if found.engine is not None else None,
        "recordings": [
            {
                "name": one.name,
                "digest": one.digest,
                "channels": [{"name": name, "role": role, "reason": reason} for name, role, reason in one.channels],
                "findings": [finding_json(finding) for finding in one.findings],
                "not_measured": [
                    {"quantity": n.quantity, "place": n.place.as_dict(), "reason": n.reason, "settled_by": n.settled_by}
                    for n in one.not_measured
                ],
                "notes": list(one.notes),
                **_of_a_log(found.logs.get(number)),
            }
            for number, one in enumerate(found.each)
        ],
    }


class _LogPart(TypedDict, total=False):
    states: list[StateDocument]
    events: list[EventDocument]
    questions: list[QuestionDocument]
    reported: ReportedDocument


def _of_a_log(read: LogRead | None) -> _LogPart:
    if read is None:
        return {}
    from witnessmark.report.json import reported_json

    told: _LogPart = {"reported": reported_json(read.file.reported)} if read.file.reported != NOTHING_REPORTED else {}
    return {
        "states": [
            {"state": s.state, "from_s": s.from_s, "to_s": s.to_s, "steady": s.steady} for s in read.measured.states
        ],
        "events": [
            {"kind": e.kind, "signals": list(e.signals), "from_s": e.from_s, "to_s": e.to_s, "words": e.words}
            for e in read.measured.events
        ],
        "questions": [
            {"column": c.heading, "taken": c.taken, "question": c.question, "candidates": list(c.candidates)}
            for c in read.file.columns
            if c.question
        ],
        **told,
    }


def measurements_schema() -> dict[str, object]:
    """JSON Schema of what ``measure --json`` writes, as published in ``docs/schema/measurement.schema.json``."""
    from witnessmark.report.schema import document_schema

    return document_schema(MeasurementsDocument, SCHEMA, title="Witnessmark: what recordings show")
