"""The time of every row: stamps that repeat, stand still, begin again or cross midnight, made into one time axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.logtable.order import TimeCandidate
from witnessmark.recording.timebase import stamp_spacing
from witnessmark.recording.types import Gap

__all__ = ["RowTimes", "numbered_rows", "row_times"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_DAY_S = 86_400.0
_FAR_FROM_ZERO = 1e8
_STANDING = 2
_GAP_STEPS = 4.0


@dataclass(frozen=True, slots=True)
class RowTimes:
    """When each row was taken.

    Parameters
    ----------
    times_s : array, shape (n_rows,) [s]
        Strictly increasing over the rows that have one; NaN for the others.
    stamp_s : float [s]
        To what the times are certain; 0 when not known.
    gaps : tuple of Gap
        Where rows are missing.
    notes : tuple of str
    """

    times_s: FloatArray
    stamp_s: float
    gaps: tuple[Gap, ...] = ()
    notes: tuple[str, ...] = ()


def numbered_rows(n_rows: int, step_s: float | None, start_s: float = 0.0) -> RowTimes:
    """Times of rows that carry none.

    Parameters
    ----------
    n_rows : int
    step_s : float or None [s]
        From row to row; None where nobody said it: then the number of the row stands for the time.
    start_s : float [s]

    Returns
    -------
    RowTimes
    """
    rows = np.arange(n_rows, dtype=np.float64)
    if step_s is not None:
        return RowTimes(start_s + step_s * rows, 0.0, (), (f"no time column: {step_s:g} s from row to row, as told",))
    if n_rows < 2:
        return RowTimes(rows, 0.0)
    note = (
        "no column holds the time: the number of the row stands for it, so nothing that needs seconds is right; "
        "say the seconds from row to row in NAME.toml beside the file: [time] step_s = 0.5"
    )
    return RowTimes(rows, 0.0, (), (note,))


def row_times(stamps: FloatArray, used: BoolArray, time: TimeCandidate, name: str) -> RowTimes:
    """The times of the rows from the stamps of one column.

    Parameters
    ----------
    stamps : array, shape (n_rows,)
        As in the column; NaN where there is none.
    used : array of bool, shape (n_rows,)
        Rows that need a time although they have no stamp: it is put between its neighbours'.
    time : TimeCandidate
    name : str
        Of the column, for notes.

    Returns
    -------
    RowTimes
    """
    notes: list[str] = []
    if not time.unit_said:
        size = {1.0: "seconds", 1e-3: "milliseconds", 1e-6: "microseconds", 1e-9: "nanoseconds"}[time.factor]
        notes.append(f"the time column “{name}” names no unit; read as {size}")
    rows = np.flatnonzero(np.isfinite(stamps))
    own = stamps[rows]
    began = float(own[0])
    if abs(began) * time.factor > _FAR_FROM_ZERO:
        own = own - began
    # The printed spacing is found before it is scaled: 12 ms are exact, 0.012 s are not.
    tick = stamp_spacing(own)[1] * time.factor
    own = own / (1.0 / time.factor) if time.factor < 1.0 else own * time.factor
    if time.kind == "clock":
        own, crossed = _over_midnight(own)
        if crossed:
            notes.append(f"“{name}” passes midnight {crossed} time{'s' if crossed > 1 else ''}")
    own, strange = _without_glitches(own)
    if strange:
        notes.append(
            f"“{name}”: {strange} stamp{'s' if strange > 1 else ''} out of order, put between their neighbours'"
        )
    axis, tick, breaks, more = _axis(own, tick, name)
    notes += more
    filled = np.full(stamps.size, np.nan)
    filled[rows] = axis
    missing = np.flatnonzero(used & ~np.isfinite(stamps))
    if missing.size:
        filled[missing] = _between(missing, rows, axis)
        count = f"{missing.size} row{'s' if missing.size > 1 else ''}"
        notes.append(f"“{name}” is missing in {count}: put between the neighbours'")
    gaps, jumps = _gaps(filled, breaks, tick)
    return RowTimes(filled, tick, gaps, (*notes, *jumps))


def _over_midnight(own: FloatArray) -> tuple[FloatArray, int]:
    falls = np.diff(own, prepend=own[:1]) < -_DAY_S / 2
    return own + _DAY_S * np.cumsum(falls), int(falls.sum())


def _without_glitches(own: FloatArray) -> tuple[FloatArray, int]:
    """Single stamps that fall back although the next goes on: set between their neighbours."""
    if own.size < 4:
        return own, 0
    odd = np.zeros(own.size, dtype=np.bool_)
    odd[1:-1] = (own[1:-1] < own[:-2]) & (own[2:] > own[:-2])
    count = int(odd.sum())
    if not count or count > 0.05 * own.size:
        return own, 0
    places = np.arange(own.size)
    return np.interp(places, places[~odd], own[~odd]), count


def _axis(own: FloatArray, tick: float, name: str) -> tuple[FloatArray, float, list[int], list[str]]:
    """A strictly increasing axis, to what it is good, the stamped rows before which the count began again, and notes.

    Rows that share a stamp are spread evenly over its tick. Where a count stands for many rows (run time before the
    engine starts) they follow at the spacing of the others, and so they do where a count begins again.
    """
    starts = np.flatnonzero(np.diff(own, prepend=own[0] - 1.0) != 0.0)
    counts = np.diff(np.append(starts, own.size))
    stamps = own[starts]
    if starts.size < 2:
        return own[0] + np.arange(own.size, dtype=np.float64), tick, [], []
    ahead = np.diff(stamps)
    usual_count = float(np.median(counts))
    plain = counts <= _STANDING * usual_count
    # A count of seconds that is asked for every other second stands for two.
    width = max(tick, float(np.median(ahead[ahead > 0])) if (ahead > 0).any() else 1.0)
    spacing = width / float(counts[plain].mean())
    elapsed = counts * spacing
    fell = np.append(ahead < 0, False)
    standing = (counts > max(_STANDING * usual_count, 3)) & (np.append(2.0 * ahead, 0.0) < elapsed)
    advance = np.where(fell | standing | np.append(ahead <= 0, True), elapsed, np.append(ahead, 0.0))
    begin = np.concatenate([[0.0], np.cumsum(advance[:-1])])
    # A count that stands at first (the engine not yet running) leaves the times after it as they are written.
    begin += stamps[1] - begin[1] if standing[0] and not fell[0] else stamps[0]
    inside = np.arange(own.size) - np.repeat(starts, counts)
    span = np.where(standing | fell, elapsed, np.minimum(width, advance))
    span = np.where(counts > 1, np.where(span > 0, span, elapsed), 0.0)
    times: FloatArray = np.repeat(begin, counts) + inside * np.repeat(span / counts, counts)
    notes = []
    shared = int(counts[(counts > 1) & ~standing].sum())
    if shared:
        notes.append(
            f"{shared} of {own.size} rows share their stamp of “{name}” with others: spread evenly over {width:g} s, "
            f"their times are good to {width:g} s"
        )
    if standing.any():
        rows = int(counts[standing].sum())
        notes.append(f"“{name}” stands still over {rows} rows: taken as {spacing:.3g} s apart, like the others")
    if fell.any():
        many = int(fell.sum())
        notes.append(f"“{name}” begins again {many} time{'s' if many > 1 else ''}; how long the break was is not known")
    return times, width if shared else tick, [int(starts[k + 1]) for k in np.flatnonzero(fell)], notes


def _between(missing: NDArray[np.int64], rows: NDArray[np.int64], axis: FloatArray) -> FloatArray:
    """Times of rows without a stamp, from those around; before the first and after the last, at the usual spacing."""
    steps = np.diff(axis) / np.diff(rows)
    step = float(np.median(steps)) if steps.size else 1.0
    times = np.interp(missing, rows, axis)
    before, after = missing < rows[0], missing > rows[-1]
    times[before] = axis[0] - (rows[0] - missing[before]) * step
    times[after] = axis[-1] + (missing[after] - rows[-1]) * step
    return times


def _gaps(times: FloatArray, breaks: list[int], tick: float) -> tuple[tuple[Gap, ...], tuple[str, ...]]:
    """Where rows are missing: the count began again, or the stamps jump."""
    there = times[np.isfinite(times)]
    steps = np.diff(there)
    if not steps.size:
        return (), ()
    usual = float(np.median(steps))
    jumps = np.flatnonzero((steps > _GAP_STEPS * usual) & (steps > 2.0 * tick))
    again = {k - 1 for k in breaks}
    gaps = [Gap(float(there[k]), float(there[k + 1]), "rows are missing") for k in jumps if k not in again]
    gaps += [Gap(float(there[k]), float(there[k + 1]), "the count of time began again") for k in again]
    plain = len(gaps) - len(again)
    note = (f"{plain} stretch{'es' if plain > 1 else ''} of missing rows",) if plain else ()
    return tuple(sorted(gaps, key=lambda gap: gap.from_s)), note
