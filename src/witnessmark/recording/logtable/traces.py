"""From the columns of a log to a recording: each column its own trace, in the unit of its parameter."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import FormatError, InputError, UnitError
from witnessmark.recording.logtable.column import LogColumn
from witnessmark.recording.logtable.order import GOOD_ENOUGH, TimeCandidate, time_blocks, time_candidates, told_blocks
from witnessmark.recording.logtable.table import LogTable
from witnessmark.recording.logtable.times import RowTimes, numbered_rows, row_times
from witnessmark.recording.parameters import signal_of
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.timebase import TIME_UNITS
from witnessmark.recording.types import ExplicitTime, Gap, Recording, Trace
from witnessmark.source import Step
from witnessmark.units import conversion, unit_spelt

__all__ = ["ColumnUse", "calibration", "log_recording"]

FloatArray = NDArray[np.float64]
_TIMES = ("time", "clock")
_GAP_STEPS = 4.0
_WORDS_SHOWN = 12
_DATE = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")
_DURATION = re.compile(r"(?i)run|lauf|elaps|dur|since|seit|depuis|desde|marche|moteur|motor|engine|rel")


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """What a column is, as a mapping says.

    Parameters
    ----------
    role : str, optional
        Text of a :class:`witnessmark.recording.parameters.Signal`.
    unit : str, optional
        In which the numbers stand after scale and offset; None: as the file says, else that of the parameter.
    scale, offset : float
        Value = number in the file × scale + offset, before units are converted.
    """

    role: str | None = None
    unit: str | None = None
    scale: float = 1.0
    offset: float = 0.0


_PLAIN = ColumnUse()


def log_recording(
    table: LogTable,
    uses: Mapping[int, ColumnUse | str] | None = None,
    *,
    hints: TimeHints = NO_HINTS,
) -> Recording:
    """The recording that the columns of a log make.

    Parameters
    ----------
    table : LogTable
    uses : mapping of int to ColumnUse or str, optional
        What columns are, by position; a text is a role. A column left out has no role and its numbers as they are.
    hints : TimeHints
        What a person said about the time; a column whose role is "time" is taken before any other.

    Returns
    -------
    Recording
        A trace for each column with a value, the time columns left out (unless their role is "run_time").
        A missing sample is not in its trace. Words are whole numbers, their meaning in the notes.

    Raises
    ------
    InputError
        For a role that is no signal, or a column that is not there.
    UnitError
        The unit of a column does not measure what its role does.
    """
    given = {k: ColumnUse(use) if isinstance(use, str) else use for k, use in (uses or {}).items()}
    for k in given:
        table[k]
    timed = _timed(table, given, hints)
    times = {k: rows for rows, columns, _ in timed for k in columns}
    time_columns = [k for _, _, k in timed if k is not None]
    order = [c.index for c in table.columns if c.index not in time_columns]
    traces: list[Trace] = []
    notes: list[str] = []
    for channel, k in enumerate([*order, *time_columns]):
        use = given.get(k, _PLAIN)
        if k in time_columns and (use.role is None or use.role in _TIMES):
            continue
        column = table.columns[k]
        notes += _column_notes(column)
        rows = times.get(k) or next(rows for rows, _, time in timed if time == k)
        if column.filled:
            traces.append(_trace(table, column, channel, use, rows))
    if not traces:
        raise InputError("no column holds values beside the time", where=table.name, todo="Export the log again")
    empty = [column.label for column in table.empty]
    if empty:
        listed = ", ".join(f"“{label}”" for label in empty[:8]) + (" …" if len(empty) > 8 else "")
        notes.append(f"{len(empty)} empty column{'s' if len(empty) > 1 else ''} left out: {listed}")
    time_notes = tuple(note for rows, _, _ in timed for note in rows.notes)
    return Recording(
        traces=tuple(traces),
        digest=table.digest,
        name=table.name,
        format="parameter_csv",
        started=_started(table),
        header=table.header,
        history=(Step("read", f"parameter_csv: {table.layout.describe()}"),),
        notes=table.notes + tuple(dict.fromkeys(time_notes)) + tuple(notes),
    )


def _timed(
    table: LogTable, given: Mapping[int, ColumnUse], hints: TimeHints
) -> list[tuple[RowTimes, tuple[int, ...], int | None]]:
    """Times of the rows, the columns they hold for, and the column they come from, for each block."""
    everything = tuple(range(len(table.columns)))
    candidates = time_candidates(table)
    # What a mapping calls something else is not the time, however evenly it rises.
    taken = {k for k, use in given.items() if use.role is not None and use.role not in (*_TIMES, "run_time")}
    candidates = tuple(each for each in candidates if each.column not in taken)
    chosen = next((k for k, use in given.items() if use.role == "time"), hints.column)
    if hints.step_s is not None or table.n_rows < 2:
        return [(numbered_rows(table.n_rows, hints.step_s, hints.start_s), everything, None)]
    told = [k for k, use in given.items() if use.role == "time"]
    if chosen is None or len(told) > 1:
        called = [each for each in candidates if each.column in told]
        blocks = told_blocks(table, called) if len(called) == len(told) > 1 else time_blocks(table, candidates)
        if blocks:
            return [(_block_times(table, b.time, b.columns, hints), b.columns, b.time.column) for b in blocks]
    found = next((each for each in candidates if each.column == chosen), None)
    if chosen is None:
        found = next((each for each in candidates if each.quality >= GOOD_ENOUGH), None)
    elif found is None and not 0 <= chosen < len(table.columns):
        raise FormatError(
            f"the sidecar calls column {chosen} the time",
            where=table.name,
            expected=f"a column from 0 to {len(table.columns) - 1}",
        )
    elif found is None:
        raise InputError(
            f"column {chosen} cannot order the rows",
            where=table.name,
            expected="a column that rises from row to row",
            todo="Leave it out, or say the seconds from row to row: [time] step_s = 0.5",
        )
    if found is None:
        return [(numbered_rows(table.n_rows, None), everything, None)]
    columns = tuple(k for k in everything if k != found.column)
    return [(_block_times(table, found, columns, hints), columns, found.column)]


def _block_times(table: LogTable, time: TimeCandidate, columns: tuple[int, ...], hints: TimeHints) -> RowTimes:
    if hints.unit is not None and time.kind == "count":
        time = TimeCandidate(
            **{name: getattr(time, name) for name in TimeCandidate.__slots__}
            | {"factor": TIME_UNITS[hints.unit], "unit_said": True}
        )
    used = np.zeros(table.n_rows, dtype=np.bool_)
    for k in columns:
        used |= table.columns[k].there
    column = table.columns[time.column]
    return row_times(column.values, used, time, column.label)


def _started(table: LogTable) -> str | None:
    """The first time of day, or date and time; a run time written as 00:04:43 is none."""
    for column in table.columns:
        if column.kind == "clock" and column.examples:
            first = column.examples[0]
            if _DATE.match(first) or not _DURATION.search(column.heading):
                return first
    return None


def _trace(table: LogTable, column: LogColumn, channel: int, use: ColumnUse, rows: RowTimes) -> Trace:
    there = column.there & np.isfinite(rows.times_s)
    # Columns without a missing value share one array of times.
    times = rows.times_s if there.all() else rows.times_s[there]
    scale, offset, unit = calibration(table, column, use)
    return Trace(
        name=column.name or f"channel {channel}",
        channel=channel,
        raw=_compact(column.values[there]),
        time=ExplicitTime(times),
        unit=unit,
        role=use.role,
        scale=scale,
        offset=offset,
        stamp_s=rows.stamp_s,
        gaps=_gaps(times, rows),
    )


def calibration(table: LogTable, column: LogColumn, use: ColumnUse) -> tuple[float, float, str | None]:
    """What makes the file's numbers values in the parameter's unit, and that unit.

    Parameters
    ----------
    table : LogTable
        Named in errors.
    column : LogColumn
    use : ColumnUse

    Returns
    -------
    scale, offset : float
    unit : str or None

    Raises
    ------
    InputError
        For a role that is no signal.
    UnitError
        The unit of the column does not measure what its role does.
    """
    written = use.unit or column.unit
    if use.role is None:
        return use.scale, use.offset, written
    wanted = signal_of(use.role).parameter.unit
    if wanted in ("", "text") or column.kind == "text":
        return use.scale, use.offset, None
    if written is None:
        return use.scale, use.offset, wanted
    try:
        factor, shift = conversion(unit_spelt(written) or written, wanted)
    except UnitError as error:
        raise UnitError(
            f"the column “{column.label}” is in {written}, and {use.role} is kept in {wanted}",
            given=written,
            where=table.name,
            expected=error.expected,
            todo="Say what the column is, or the unit that its numbers really have",
        ) from None
    return use.scale * factor, use.offset * factor + shift, wanted


def _compact(values: FloatArray) -> NDArray[np.generic]:
    """Whole numbers in the smallest type that holds them."""
    if values.size and not (values == np.rint(values)).all():
        return np.ascontiguousarray(values)
    low, high = (float(values.min()), float(values.max())) if values.size else (0.0, 0.0)
    for dtype in (np.uint8, np.int16, np.int32):
        if np.iinfo(dtype).min <= low and high <= np.iinfo(dtype).max:
            return values.astype(dtype)
    return np.ascontiguousarray(values)


def _gaps(times: FloatArray, rows: RowTimes) -> tuple[Gap, ...]:
    """Gaps of the rows, and where this column alone is missing for much longer than usual."""
    if times.size < 2:
        return rows.gaps
    steps = np.diff(times)
    long = np.flatnonzero((steps > _GAP_STEPS * float(np.median(steps))) & (steps > 2.0 * rows.stamp_s))
    inside = [(gap.from_s, gap.to_s) for gap in rows.gaps]
    own = [
        Gap(float(times[k]), float(times[k + 1]), "samples are missing")
        for k in long
        if not any(low <= times[k + 1] and times[k] <= high for low, high in inside)
    ]
    return tuple(sorted((*rows.gaps, *own), key=lambda gap: gap.from_s))


def _column_notes(column: LogColumn) -> list[str]:
    notes = [f"“{column.label}”: {note}" for note in column.notes]
    if column.undecoded:
        first = column.undecoded[0]
        at = ", ".join(map(str, first.lines))
        cells = f"{column.undecoded_count} cell{'s' if column.undecoded_count > 1 else ''}"
        more = f" and {len(column.undecoded) - 1} others" if len(column.undecoded) > 1 else ""
        notes.append(f"“{column.label}”: {cells} not decoded, as “{first.text[:40]}” in line {at}{more}")
    if column.words:
        listed = ", ".join(f"{k} = “{word[:24]}”" for k, word in enumerate(column.words[:_WORDS_SHOWN]))
        notes.append(f"“{column.label}” holds words: {listed}{' …' if len(column.words) > _WORDS_SHOWN else ''}")
    if column.missing_words:
        listed = ", ".join(f"“{word}” {count} times" for word, count in list(column.missing_words.items())[:3])
        notes.append(f"“{column.label}”: nothing measured where it says {listed}")
    return notes
