"""Logs: whatever a vehicle's computers said, stored in a file, becomes values with their meaning, and findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from witnessmark.app.codemeanings import shop_meanings, with_meanings
from witnessmark.app.logcolumns import MappedLog, mapped_channels, mapped_log
from witnessmark.app.shopfolder import shop_path
from witnessmark.app.vehicletold import told_by, told_findings
from witnessmark.case.owner import without_vins
from witnessmark.case.reported import NOTHING_REPORTED, Reported
from witnessmark.decode.broadcast import read_bus_log
from witnessmark.decode.identifiers import NO_IDENTIFIERS, read_identifiers
from witnessmark.decode.stored import decode_stored
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.moment import is_moment, moment_condition, moment_findings, moment_values
from witnessmark.measure.log.run import measure_log
from witnessmark.measure.log.series import Log, log_of
from witnessmark.recording.columns import Answer, ColumnProposal
from witnessmark.recording.parameters import parameters
from witnessmark.recording.types import Recording
from witnessmark.report.logpage import ColumnSeen
from witnessmark.vocabulary import Condition

__all__ = ["IDENTIFIERS_FILE", "LogFile", "is_log", "measured_log", "opened"]

IDENTIFIERS_FILE = "identifiers.toml"
"""The shop's file of its own identifiers, in the shop folder; none is shipped."""

_TABLE, _MEASUREMENT = "parameter_csv", "mdf4"
# A tooth of sixty passes in 5 ms while the engine cranks: no channel sampled as seldom shows a wheel.
_LEAST_STEP_S = 0.005
_ASKED, _WORTH_NAMING = 3, 0.02  # candidates that a question names, and the least chance of one


@dataclass(frozen=True, slots=True, eq=False)
class LogFile:
    """A file opened: its values over time, what its columns are, and what the vehicle told beside them.

    Parameters
    ----------
    recording : Recording
        Traces with their roles.
    columns : tuple of ColumnSeen
        Of a table; empty for what names its values itself.
    reported : Reported
        Codes, readiness and on-board tests.
    told : tuple of Finding
        What they, and frozen values, are evidence of.
    unanswered : tuple of str
        Columns that nothing is taken from until a person says what they are, and why.
    """

    recording: Recording
    columns: tuple[ColumnSeen, ...] = ()
    reported: Reported = NOTHING_REPORTED
    told: tuple[Finding, ...] = ()
    unanswered: tuple[str, ...] = ()


def opened(path: Path, answers: Mapping[str, str] | None = None, *, remember: bool = True) -> LogFile:
    """Open any stored file of a vehicle.

    Parameters
    ----------
    path : Path
    answers : mapping of str to str, optional
        What a person says of columns, by heading: "coolant unit=F".
    remember : bool
        Keep what is sure and what was answered for the next log with these headings.

    Returns
    -------
    LogFile
        Of a recording of an instrument: as it was read.

    Raises
    ------
    InputError
        A file that is not there or not readable, or an answer that makes no sense.
    """
    recording = read_bus_log(path)
    given = dict[int | str, Answer | str]((answers or {}).items())
    if recording.format == _TABLE:
        mapped = mapped_log(path, given, remember=remember)
        return LogFile(_without_vins(mapped.recording), _columns(mapped), unanswered=mapped.unanswered)
    columns: tuple[ColumnSeen, ...] = ()
    unanswered: tuple[str, ...] = ()
    if _names_its_channels(recording):
        mapped = mapped_channels(recording, given, remember=remember)
        recording, columns, unanswered = mapped.recording, _columns(mapped), mapped.unanswered
    own = shop_path(IDENTIFIERS_FILE)
    stored = decode_stored(recording, identifiers=read_identifiers(own) if own.is_file() else NO_IDENTIFIERS)
    report = stored.report
    if not report.units:
        return LogFile(_without_vins(stored.recording), columns, unanswered=unanswered)
    findings = told_findings(report, recording.digest, recording.name)
    reported = with_meanings(told_by(report), shop_meanings())
    return LogFile(_without_vins(stored.recording), columns, reported, findings, unanswered)


def _names_its_channels(recording: Recording) -> bool:
    """Whether a measurement file holds what a computer said: it is too slow for a wheel, and nobody names one."""
    if recording.format != _MEASUREMENT or not len(recording):
        return False
    known = parameters()
    steps = [float(np.median(np.diff(trace.times_s))) for trace in recording if len(trace) > 1]
    roles = (trace.role.split()[0] for trace in recording if trace.role)
    return min(steps, default=np.inf) >= _LEAST_STEP_S and all(role in known for role in roles)


def _without_vins(recording: Recording) -> Recording:
    """What was noticed is kept with answers, and a VIN is not."""
    return replace(recording, notes=tuple(without_vins(note) for note in recording.notes))


def is_log(file: LogFile) -> bool:
    """Whether a file holds what a computer said, and not what an instrument saw.

    Parameters
    ----------
    file : LogFile

    Returns
    -------
    bool
    """
    known = parameters()
    has_roles = any(trace.role and trace.role.split()[0] in known for trace in file.recording.traces)
    return has_roles or file.recording.format == _TABLE or file.recording.frames is not None or bool(file.told)


def measured_log(file: LogFile, engine: Engine | None) -> LogMeasurement:
    """Findings of a log, those that the vehicle told itself among them.

    Parameters
    ----------
    file : LogFile
    engine : Engine, optional

    Returns
    -------
    LogMeasurement
        Of a single row: each value with the usual spread of its quantity, as if it had been typed.
    """
    log = log_of(file.recording)
    if not log.series:  # frames that nobody described, or codes without values
        found = LogMeasurement(log, (), (), (), (), ())
    else:
        found = _of_a_moment(log) if is_moment(log) else measure_log(file.recording, engine)
    return replace(found, findings=(*found.findings, *file.told), notes=(*file.recording.notes, *found.notes))


def _of_a_moment(log: Log) -> LogMeasurement:
    values = moment_values(log)
    said = log.recording.condition if log.recording is not None else Condition()
    source = Provenance("recording", digest=log.digest, trace=log.name)
    findings = moment_findings(values, moment_condition(values, said), source)
    return LogMeasurement(log, (), findings, (), (), ("a single row: nothing can be averaged",))


def _columns(mapped: MappedLog) -> tuple[ColumnSeen, ...]:
    return tuple(_seen(column) for column in mapped.proposal.columns)


def _seen(column: ColumnProposal) -> ColumnSeen:
    aside = column.signal.id == "nothing"
    question, reading = column.question, column.reading
    rest = [one.words for one in column.candidates[1 : 1 + _ASKED] if one.probability >= _WORTH_NAMING]
    return ColumnSeen(
        column.heading,
        "" if aside else column.signal.words,
        "" if aside else reading.written,
        f"{question.reason}. The answer decides {question.changes}." if question is not None else "",
        tuple(dict.fromkeys(rest)) if question is not None else (),
        str(Answer(column.signal, reading.unit or None, reading.scale, reading.offset)) if question is not None else "",
    )
