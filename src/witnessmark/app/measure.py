"""Measure: recordings in, findings out, each read with what its note says and held against the engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from witnessmark import __version__
from witnessmark.app.assess import Measured
from witnessmark.app.engines import engine_named
from witnessmark.app.progress import SILENT, Progress
from witnessmark.case.assessment import DrawnTrace, EdgeMark
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding, NotMeasured
from witnessmark.report.document import FindingDocument, NotMeasuredDocument

if TYPE_CHECKING:
    from witnessmark.measure.measurement import Measurement

__all__ = [
    "SCHEMA",
    "Measurements",
    "MeasurementsDocument",
    "RecordingDocument",
    "measure_files",
    "measure_recordings",
    "measurements_json",
    "measurements_schema",
]

SCHEMA = "witnessmark/measurement/1"


@dataclass(frozen=True, slots=True)
class Measurements:
    """What recordings gave.

    Parameters
    ----------
    engine : Engine, optional
        None where nothing was described.
    each : tuple of Measurement
        In the order the recordings were named; findings are numbered through.
    """

    engine: Engine | None
    each: tuple[Measurement, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, with their names."""
        return tuple(finding for one in self.each for finding in one.findings)

    @property
    def not_measured(self) -> tuple[NotMeasured, ...]:
        """All that could not be measured."""
        return tuple(item for one in self.each for item in one.not_measured)


class RecordingDocument(TypedDict):
    """One recording: what each channel is, what was found, and what was noticed."""

    name: str
    digest: str
    channels: list[dict[str, str]]
    findings: list[FindingDocument]
    not_measured: list[NotMeasuredDocument]
    notes: list[str]


class MeasurementsDocument(TypedDict):
    """What ``witnessmark measure --json`` writes."""

    schema: str
    version: str
    engine: str | None
    recordings: list[RecordingDocument]


def measure_recordings(
    paths: Sequence[Path], *, engine: str | None = None, progress: Progress = SILENT
) -> Measurements:
    """Measure recordings, with or without a described engine.

    Parameters
    ----------
    paths : sequence of Path
    engine : str, optional
        Name or file of a description; without one the named wheels are tried with their odds.
    progress : Progress

    Returns
    -------
    Measurements

    Raises
    ------
    InputError
        For a file that cannot be read, or an engine that is not there: one line each.
    """
    described = engine_named(engine) if engine is not None else None
    return Measurements(described, _numbered(_measured(paths, described, progress)))


def measure_files(paths: Sequence[Path], engine: Engine, *, progress: Progress = SILENT) -> Measured:
    """Measure a case's recordings for its answer.

    Parameters
    ----------
    paths : sequence of Path
    engine : Engine
    progress : Progress

    Returns
    -------
    Measured
        The picture is of the one recording that shows most.
    """
    each = _measured(paths, engine, progress)
    findings = tuple(finding for one in each for finding in one.findings)
    notes = tuple(f"{one.name}: {note}" for one in each for note in one.notes)
    missing = tuple(dict.fromkeys(item for one in each for item in one.not_measured))
    shown = max(range(len(each)), key=lambda i: _shows(each[i]), default=None)
    if shown is None:
        return Measured(findings, missing, notes=notes)
    before = sum(len(one.findings) for one in each[:shown])
    traces = tuple(DrawnTrace(d.role, d.name, d.changes_deg, d.levels) for d in each[shown].drawn)
    edges = tuple(
        EdgeMark(e.cam, e.measured_deg, e.measured_sd, e.expected_deg, e.expected_sd, str(before + e.finding))
        for e in each[shown].edges
    )
    return Measured(findings, missing, traces, edges, notes)


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
            }
            for one in found.each
        ],
    }


def measurements_schema() -> dict[str, object]:
    """JSON Schema of what ``measure --json`` writes, as published in ``docs/schema/measurement.schema.json``."""
    from witnessmark.report.schema import document_schema

    return document_schema(MeasurementsDocument, SCHEMA, title="Witnessmark: what recordings show")


def _measured(paths: Sequence[Path], engine: Engine | None, progress: Progress) -> tuple[Measurement, ...]:
    from witnessmark.measure.run import measure
    from witnessmark.recording.read import read_recording

    each = []
    for number, path in enumerate(paths):
        share = number / len(paths)
        progress(f"Reading {path.name}", share if number else None)
        try:
            recording = read_recording(path)
            progress(f"Measuring {path.name}", share if number else None)
            each.append(measure(recording, engine))
        except InputError as error:
            raise _with_file(error, path) from None
    return tuple(each)


def _with_file(error: InputError, path: Path) -> InputError:
    named = path.name in (error.where or "") or path.name in error.message
    return error if named else error.at(path.name)


def _numbered(each: tuple[Measurement, ...]) -> tuple[Measurement, ...]:
    found, number = [], 1
    for one in each:
        named = tuple(finding.with_id(f"f{number + i}") for i, finding in enumerate(one.findings))
        number += len(named)
        found.append(replace(one, findings=named))
    return tuple(found)


def _shows(one: Measurement) -> tuple[int, int, int, float]:
    """How much a recording shows of the cams: edges held against the description first, then how finely."""
    held = sum(edge.expected_deg is not None for edge in one.edges)
    return held, len(one.edges), len(one.drawn), -sum(edge.measured_sd for edge in one.edges)
