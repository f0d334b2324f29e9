"""Changes of state to traces of levels."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import FormatError
from witnessmark.recording.delimited import OpenTable, changing_rows, open_table, require_time_column, value_columns
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.timebase import check_order, seconds
from witnessmark.recording.types import ExplicitTime, Recording, Trace
from witnessmark.source import Step

__all__ = ["read"]

FloatArray = NDArray[np.float64]


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The recording in a table with one row per change of state.

    Parameters
    ----------
    path : Path
    hints : TimeHints

    Returns
    -------
    Recording
        One trace of levels per channel; all share the times of the rows.

    Raises
    ------
    FormatError
        The file is no such table.
    DamagedRecording
        Time is missing or runs back, rows are damaged.
    """
    table = open_table(path)
    time_column = require_time_column(table, hints)
    if time_column is None:
        raise FormatError("a list of changes needs a time in every row", where=table.name)
    column = seconds(table.columns[:, time_column], time_column, table.dialect, hints, table.name)
    check_order(column.times_s, table.place, may_repeat=True)
    keep, repeat_notes = _last_of_equal_times(column.times_s)
    levels = table.columns[keep]
    time = ExplicitTime(column.times_s[keep])
    channels = value_columns(table.dialect, table.columns, time_column)
    traces = tuple(_trace(table, levels[:, k], k, i, time, column.stamp_s) for i, k in enumerate(channels))
    return Recording(
        traces=traces,
        digest=table.digest,
        name=table.name,
        format="edge_csv",
        started=column.started or table.started,
        header=dict(table.dialect.header),
        history=(Step("read", f"edge_csv: {table.dialect.describe()}"),),
        notes=table.notes + column.notes + repeat_notes + _row_notes(levels[:, channels]) + _stamp_note(column.stamp_s),
    )


def _last_of_equal_times(times_s: FloatArray) -> tuple[NDArray[np.bool_], tuple[str, ...]]:
    """Rows that share a time stamp describe one moment; its last state holds."""
    keep = np.append(np.diff(times_s) > 0, True)
    lost = int(times_s.size - keep.sum())
    if not lost:
        return keep, ()
    plural = "s share their" if lost > 1 else " shares its"
    return keep, (f"{lost} row{plural} time with the next one; the last state at each time was kept",)


def _trace(table: OpenTable, values: FloatArray, k: int, channel: int, time: ExplicitTime, stamp_s: float) -> Trace:
    missing = ~np.isfinite(values)
    if missing.any():
        values, time = values[~missing], ExplicitTime(time.times_s[~missing])
    low, high = _two_levels(table, values, k)
    span = high - low
    return Trace(
        name=table.dialect.names[k] or f"channel {channel}",
        channel=channel,
        raw=((values > low) if span else values).astype(np.uint8),
        time=time,
        unit=table.dialect.units[k],
        kind="levels",
        scale=span or 1.0,
        offset=low,
        stamp_s=stamp_s,
    )


def _two_levels(table: OpenTable, values: FloatArray, k: int) -> tuple[float, float]:
    found = np.unique(values)
    if np.isin(found, (0.0, 1.0)).all():
        return 0.0, 1.0
    if found.size == 1:
        return float(found[0]), float(found[0])
    if found.size > 2:
        row = int(np.argmax(~np.isin(table.columns[:, k], found[:2]) & np.isfinite(table.columns[:, k])))
        raise FormatError(
            f"the channel “{table.column_name(k)}” has more than two values",
            given=", ".join(f"{value:g}" for value in found[:4]),
            where=table.place(row),
            expected="a low and a high state",
            todo="If these are samples, read the file as sampled_csv",
        )
    return float(found[0]), float(found[1])


def _row_notes(levels: FloatArray) -> tuple[str, ...]:
    _, share = changing_rows(levels)
    still = round((1.0 - share) * (len(levels) - 1))
    return (f"{still} row{'s' if still > 1 else ''} without any change",) if still else ()


def _stamp_note(stamp_s: float) -> tuple[str, ...]:
    return (f"time stamps lie {stamp_s:.4g} s apart or a multiple of it",) if stamp_s else ()
