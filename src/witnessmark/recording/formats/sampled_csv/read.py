"""Samples to traces."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording
from witnessmark.recording.delimited import OpenTable, open_table, require_time_column, value_columns
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.timebase import TimeColumn, seconds, time_base
from witnessmark.recording.types import ExplicitTime, Gap, Recording, RegularTime, TimeBase, Trace
from witnessmark.source import Step

__all__ = ["read"]

FloatArray = NDArray[np.float64]
# A channel with more empty cells than this was taken less often than the others; its empty cells are no gaps.
_SPARSE_SHARE = 0.2
_GAP_STEPS = 1.5


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The recording in a table with one row per sample.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        ``step_s`` for a table without a time column.

    Returns
    -------
    Recording
        One trace of samples per channel. Empty cells are left out of their trace and named as gaps;
        stretches where rows are missing are gaps too.

    Raises
    ------
    FormatError
        The file is no such table, or nothing says when its rows were taken.
    DamagedRecording
        Time is missing, stands still or runs back; rows are damaged.
    """
    table = open_table(path)
    time_column = require_time_column(table, hints)
    if time_column is None:
        step_s = hints.step_s or 0.0
        time: TimeBase = RegularTime(hints.start_s, step_s, len(table.columns))
        notes: tuple[str, ...] = (f"no time column: {step_s:g} s from row to row, from the sidecar",)
        column = None
    else:
        column = seconds(table.columns[:, time_column], time_column, table.dialect, hints, table.name)
        time, notes = time_base(column, table.place)
        notes = column.notes + notes
    row_gaps = _missing_rows(time)
    traces, channel_notes = _traces(table, time, time_column, column, row_gaps)
    if not traces:
        raise DamagedRecording("no column holds values beside the time", where=table.name, todo="Export it again")
    if row_gaps:
        notes += (f"{len(row_gaps)} stretch{'es' if len(row_gaps) > 1 else ''} of missing rows",)
    return Recording(
        traces=traces,
        digest=table.digest,
        name=table.name,
        format="sampled_csv",
        started=(column.started if column else None) or table.started,
        header=dict(table.dialect.header),
        history=(Step("read", f"sampled_csv: {table.dialect.describe()}"),),
        notes=table.notes + notes + channel_notes,
    )


def _missing_rows(time: TimeBase) -> tuple[Gap, ...]:
    """Stretches where an otherwise even time base leaves rows out."""
    if isinstance(time, RegularTime) or len(time) < 8:
        return ()
    steps = np.diff(time.times_s)
    usual = float(np.median(steps))
    if np.mean(np.abs(steps - usual) < 0.05 * usual) < 0.9:
        return ()
    return tuple(
        Gap(float(time.times_s[i]), float(time.times_s[i + 1]), "rows are missing")
        for i in np.flatnonzero(steps > _GAP_STEPS * usual)
    )


def _traces(
    table: OpenTable, time: TimeBase, time_column: int | None, column: TimeColumn | None, row_gaps: tuple[Gap, ...]
) -> tuple[tuple[Trace, ...], tuple[str, ...]]:
    traces: list[Trace] = []
    notes: list[str] = []
    for channel, k in enumerate(value_columns(table.dialect, table.columns, time_column)):
        name = table.dialect.names[k] or f"channel {channel}"
        values, over = _held_at_range(table.columns[:, k])
        if over:
            notes.append(f"“{name}”: {over} sample{'s' if over > 1 else ''} over range, held at the largest shown")
        missing = np.isnan(values)
        if missing.all():
            notes.append(f"“{name}” is empty and was left out")
            continue
        own_time, gaps, remark = _without_missing(time, missing)
        if remark:
            notes.append(f"“{name}”: {remark}")
        traces.append(
            Trace(
                name=name,
                channel=channel,
                raw=_compact(values[~missing] if missing.any() else values, whole=table.dialect.whole[k]),
                time=own_time,
                unit=table.dialect.units[k],
                stamp_s=column.stamp_s if column else 0.0,
                gaps=tuple(sorted((*row_gaps, *gaps), key=lambda gap: gap.from_s)),
            )
        )
    return tuple(traces), tuple(notes)


def _held_at_range(values: FloatArray) -> tuple[FloatArray, int]:
    """Over-range marks become the largest (smallest) number the instrument showed, as it would have clipped there."""
    over = np.isinf(values)
    if not over.any():
        return values, 0
    finite = values[np.isfinite(values)]
    if not finite.size:
        return np.where(over, np.nan, values), 0
    return np.clip(values, finite.min(), finite.max()), int(over.sum())


def _without_missing(time: TimeBase, missing: NDArray[np.bool_]) -> tuple[TimeBase, tuple[Gap, ...], str]:
    """The time base of the samples that are there, the gaps between them, and a remark."""
    count = int(missing.sum())
    if not count:
        return time, (), ""
    there = np.flatnonzero(~missing)
    times = time.at(there)
    own: TimeBase = ExplicitTime(times)
    first, last = int(there[0]), int(there[-1])
    if isinstance(time, RegularTime) and there.size == last - first + 1:
        own = RegularTime(float(times[0]), time.step_s, int(there.size))
    if count > _SPARSE_SHARE * missing.size:
        return own, (), f"taken in {there.size} of {missing.size} rows"
    jumps = np.flatnonzero(np.diff(there) > 1)
    gaps = tuple(Gap(float(times[i]), float(times[i + 1]), "samples are missing") for i in jumps)
    where = f" in {len(gaps)} gap{'s' if len(gaps) > 1 else ''}" if gaps else " at its end or beginning"
    return own, gaps, f"{count} sample{'s' if count > 1 else ''} missing{where}"


def _compact(values: FloatArray, *, whole: bool) -> NDArray[np.generic]:
    """Whole numbers in the smallest whole-number type that holds them."""
    if not whole or not (values == np.rint(values)).all():
        return np.ascontiguousarray(values)
    low, high = values.min(), values.max()
    for dtype in (np.uint8, np.int16, np.int32):
        if np.iinfo(dtype).min <= low and high <= np.iinfo(dtype).max:
            return values.astype(dtype)
    return np.ascontiguousarray(values)
