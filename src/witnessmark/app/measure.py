"""Measure: recordings in, findings out, each read with what its note says and held against the engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.app.assess import Measured, joined
from witnessmark.app.engines import engine_meant
from witnessmark.app.progress import SILENT, Progress
from witnessmark.case.assessment import DrawnTrace, EdgeMark
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding, NotMeasured

if TYPE_CHECKING:
    from witnessmark.app.logs import LogFile
    from witnessmark.measure.log.measured import LogMeasurement
    from witnessmark.measure.measurement import Measurement

__all__ = ["LogRead", "Measurements", "measure_files", "measure_recordings"]


@dataclass(frozen=True, slots=True, eq=False)
class LogRead:
    """A log among the recordings.

    Parameters
    ----------
    file : LogFile
    measured : LogMeasurement
        Its findings with their names.
    """

    file: LogFile
    measured: LogMeasurement


@dataclass(frozen=True, slots=True, eq=False)
class Measurements:
    """What recordings gave.

    Parameters
    ----------
    engine : Engine, optional
        None where nothing was described.
    each : tuple of Measurement
        In the order the recordings were named; findings are numbered through.
    logs : mapping of int to LogRead
        Those that are logs, by their place in ``each``.
    """

    engine: Engine | None
    each: tuple[Measurement, ...]
    logs: Mapping[int, LogRead]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, with their names."""
        return tuple(finding for one in self.each for finding in one.findings)

    @property
    def not_measured(self) -> tuple[NotMeasured, ...]:
        """All that could not be measured."""
        return tuple(item for one in self.each for item in one.not_measured)


def measure_recordings(
    paths: Sequence[Path],
    *,
    engine: str | None = None,
    cylinders: int | None = None,
    known: Sequence[str] = (),
    columns: Mapping[str, str] | None = None,
    progress: Progress = SILENT,
) -> Measurements:
    """Measure recordings, with or without a described engine.

    Parameters
    ----------
    paths : sequence of Path
    engine : str, optional
        Name or file of a description; without one the named wheels are tried with their odds.
    cylinders : int, optional
        Enough of a description for a log.
    known : sequence of str
        What else is known of the engine, as ``examine`` takes it: "metering=air_meter".
    columns : mapping of str to str, optional
        What a person says of a log's columns, by heading.
    progress : Progress

    Returns
    -------
    Measurements

    Raises
    ------
    InputError
        For a file that cannot be read, or an engine that is not there: one line each.
    """
    described = _described(engine, cylinders, known)
    each, logs = _numbered(*_measured(paths, described, progress, columns))
    return Measurements(described, each, logs)


def _described(engine: str | None, cylinders: int | None, known: Sequence[str]) -> Engine | None:
    if engine is None and cylinders is None:
        if known:
            raise InputError("--known says more of an engine that is not named", todo="Name --engine or --cylinders")
        return None
    from witnessmark.case.history import engine_with_known, parse_known

    return engine_with_known(engine_meant(engine, cylinders), parse_known(known))


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
    each, logs = _measured(paths, engine, progress)
    reported = joined(read.file.reported for read in logs.values())
    findings = tuple(finding for one in each for finding in one.findings)
    asked = {each[place].name: read.file.unanswered for place, read in logs.items()}
    notes = tuple(f"{one.name}: {note}" for one in each for note in (*one.notes, *asked.get(one.name, ())))
    missing = _missing(each, logs)
    named = tuple((each[place].digest, each[place].name) for place in logs)
    shown = max(range(len(each)), key=lambda i: _shows(each[i]), default=None)
    if shown is None or not each[shown].drawn:
        return Measured(findings, missing, notes=notes, reported=reported, logs=named)
    before = sum(len(one.findings) for one in each[:shown])
    traces = tuple(DrawnTrace(d.role, d.name, d.changes_deg, d.levels) for d in each[shown].drawn)
    edges = tuple(
        EdgeMark(e.cam, e.measured_deg, e.measured_sd, e.expected_deg, e.expected_sd, str(before + e.finding))
        for e in each[shown].edges
    )
    return Measured(findings, missing, traces, edges, notes, reported, named)


def _measured(
    paths: Sequence[Path], engine: Engine | None, progress: Progress, columns: Mapping[str, str] | None = None
) -> tuple[tuple[Measurement, ...], dict[int, LogRead]]:
    from witnessmark.app.logs import is_log, measured_log, opened
    from witnessmark.measure.run import measure

    each: list[Measurement] = []
    logs: dict[int, LogRead] = {}
    for number, path in enumerate(paths):
        share = number / len(paths)
        progress(f"Reading {path.name}", share if number else None)
        try:
            file = opened(path, columns)
            progress(f"Measuring {path.name}", share if number else None)
            if is_log(file):
                logs[number] = LogRead(file, measured_log(file, engine))
                each.append(_as_measurement(logs[number]))
            else:
                each.append(measure(file.recording, engine))
        except InputError as error:
            raise _with_file(error, path) from None
    return tuple(each), logs


def _as_measurement(read: LogRead) -> Measurement:
    from witnessmark.measure.measurement import Measurement

    found = read.measured
    channels = tuple((c.heading, c.taken or "nothing", c.question) for c in read.file.columns)
    recording = read.file.recording
    return Measurement(recording.name, recording.digest, found.findings, found.not_measured, channels, found.notes)


def _missing(each: Sequence[Measurement], logs: Mapping[int, LogRead]) -> tuple[NotMeasured, ...]:
    """What has no value: of logs only what none of them gave, with the first one's reason."""
    found = {(finding.quantity, finding.place) for one in each for finding in one.findings}
    missing: dict[object, NotMeasured] = {}
    for place, one in enumerate(each):
        for item in one.not_measured:
            where = (item.quantity, item.place)
            if place not in logs:
                missing.setdefault(item, item)
            elif where not in found:
                missing.setdefault(where, item)
    return tuple(missing.values())


def _with_file(error: InputError, path: Path) -> InputError:
    named = path.name in (error.where or "") or path.name in error.message
    return error if named else error.at(path.name)


def _numbered(
    each: tuple[Measurement, ...], logs: Mapping[int, LogRead]
) -> tuple[tuple[Measurement, ...], dict[int, LogRead]]:
    found, read, number = [], {}, 1
    for place, one in enumerate(each):
        named = tuple(finding.with_id(f"f{number + i}") for i, finding in enumerate(one.findings))
        number += len(named)
        found.append(replace(one, findings=named))
        if place in logs:
            read[place] = replace(logs[place], measured=replace(logs[place].measured, findings=named))
    return tuple(found), read


def _shows(one: Measurement) -> tuple[int, int, int, float]:
    """How much a recording shows of the cams: edges held against the description first, then how finely."""
    held = sum(edge.expected_deg is not None for edge in one.edges)
    return held, len(one.edges), len(one.drawn), -sum(edge.measured_sd for edge in one.edges)
