"""Measured channels that a file names itself (a measurement file), as columns that can be asked what they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.logtable.column import LogColumn, name_and_unit
from witnessmark.recording.logtable.layout import Layout
from witnessmark.recording.logtable.table import LogTable
from witnessmark.recording.logtable.traces import ColumnUse, calibration
from witnessmark.recording.types import Recording, Trace
from witnessmark.units import unit_spelt

__all__ = ["channel_table", "with_uses"]

FloatArray = NDArray[np.float64]
# As many as the proposal of columns looks at; every channel keeps all its samples.
_MOST_ROWS = 4000


def channel_table(recording: Recording) -> LogTable:
    """The channels of a recording side by side, at moments common to all.

    Parameters
    ----------
    recording : Recording

    Returns
    -------
    LogTable
        A column for each trace, in their order, empty where the channel was not measured anew since the moment before.
        Good for telling what the channels are, not for their values.
    """
    times = np.unique(np.concatenate([trace.times_s for trace in recording] or [np.zeros(0)]))
    moments = times[:: max(1, -(-times.size // _MOST_ROWS))]
    names = tuple(trace.name for trace in recording)
    return LogTable(
        name=recording.name,
        digest=recording.digest,
        columns=tuple(_column(k, trace, moments) for k, trace in enumerate(recording)),
        lines=np.arange(1, moments.size + 1, dtype=np.int64),
        layout=Layout("", ".", (".",) * len(names), names, None, None, 1, 0, False, ()),
    )


def _column(index: int, trace: Trace, moments: FloatArray) -> LogColumn:
    at = np.searchsorted(trace.times_s, moments, side="right") - 1
    fresh = (at >= 0) & (np.diff(at, prepend=-1) > 0)
    values = np.where(fresh, trace.values[np.maximum(at, 0)], np.nan)
    filled = int(np.isfinite(values).sum())
    return LogColumn(
        index=index,
        heading=trace.name,
        name=name_and_unit(trace.name)[0],
        label=trace.name,
        kind="number" if filled else "empty",
        values=values,
        unit=(unit_spelt(trace.unit) or trace.unit) if trace.unit else None,
        unit_from="row" if trace.unit else None,
        heading_unit=trace.unit,
        filled=filled,
    )


def with_uses(recording: Recording, table: LogTable, uses: Mapping[int, ColumnUse]) -> Recording:
    """The recording whose channels are what a mapping says, in their parameters' units.

    Parameters
    ----------
    recording : Recording
    table : LogTable
        Of :func:`channel_table`.
    uses : mapping of int to ColumnUse
        By position; a channel that has a role keeps it.

    Returns
    -------
    Recording

    Raises
    ------
    InputError
        For a role that is no signal.
    UnitError
        The unit of a channel does not measure what its role does.
    """
    return replace(
        recording,
        traces=tuple(
            _used(trace, table, table.columns[k], uses[k]) if k in uses and trace.role is None else trace
            for k, trace in enumerate(recording)
        ),
    )


def _used(trace: Trace, table: LogTable, column: LogColumn, use: ColumnUse) -> Trace:
    scale, offset, unit = calibration(table, column, use)
    return replace(trace, role=use.role, unit=unit, scale=trace.scale * scale, offset=trace.offset * scale + offset)
