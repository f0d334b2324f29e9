"""When each row was taken: which column is the time, in which unit, and whether the samples are evenly spaced."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording, FormatError, nearest
from witnessmark.recording.dialect import Dialect
from witnessmark.recording.reader import TimeHints
from witnessmark.recording.types import ExplicitTime, RegularTime, TimeBase

__all__ = [
    "TIME_UNITS",
    "TimeColumn",
    "check_order",
    "find_time_column",
    "is_index_column",
    "seconds",
    "stamp_spacing",
    "time_base",
]

FloatArray = NDArray[np.float64]
Place = Callable[[int], str]

TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0}
_SPELLINGS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "second(s)"), "s"),
    **dict.fromkeys(("ms", "msec", "msecs", "millisecond", "milliseconds"), "ms"),
    **dict.fromkeys(("us", "µs", "μs", "usec", "microsecond", "microseconds"), "us"),
    **dict.fromkeys(("ns", "nsec", "nanosecond", "nanoseconds"), "ns"),
    **dict.fromkeys(("min", "minute", "minutes"), "min"),
    **dict.fromkeys(("h", "hour", "hours"), "h"),
}
_TIME_NAME = re.compile(
    r"(?i)(rel(ative)?|abs(olute)?|elapsed|run)?[ _.-]*(time|zeit|temps|tiempo|tempo|timestamp|time ?stamps?)\b.*"
)
_SHORT_TIME_NAME = re.compile(r"(?i)t|x|s|ms|us|µs|sec|secs|seconds?|sekunden?")
_INDEX_NAME = re.compile(r"(?i)index|samples?|sample ?(no|nr|number)\.?|no\.?|nr\.?|n|#|row|rows|point|points|count")
_UNIT_IN_NAME = re.compile(r"(?i).*?[ _.,/-](s|sec|ms|us|µs|μs|ns|min)\.?$")
# Seconds since 1970 would leave too few digits for an edge time; counted from their first row they leave enough.
_FAR_FROM_ZERO = 1e8
_BLOCK = 4096
_COARSE_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """Times of the rows of a table.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    stamp_s : float [s]
        Spacing of the time stamps; 0 when they follow no spacing.
    digit_s : float [s]
        Value of the last digit that the stamps are printed with; 0 when not known.
    notes : tuple of str
    started : str, optional
        Date and time of the first row, when the stamps count from 1970.
    """

    times_s: FloatArray
    stamp_s: float
    digit_s: float
    notes: tuple[str, ...] = ()
    started: str | None = None


def is_index_column(name: str, values: FloatArray) -> bool:
    """Whether a column only counts the rows."""
    counts = values.size > 1 and bool((np.diff(values) == 1.0).all())
    return counts and (not name or bool(_INDEX_NAME.fullmatch(name)))


def find_time_column(dialect: Dialect, block: FloatArray, hints: TimeHints) -> int | None:
    """Which column holds the time, or None when none does.

    A column called time is the time, whatever it holds; else the first one that is called "t" or the like and
    increases; else the first column of the file if it increases and is not called otherwise.
    """
    if hints.column is not None:
        return hints.column
    for k in range(dialect.columns):
        if dialect.clock[k] or _TIME_NAME.fullmatch(dialect.names[k]):
            return k
    for k in range(min(dialect.columns, 2)):
        name, unit = dialect.names[k], dialect.units[k]
        if not _increases(block[:, k]) or is_index_column(name, block[:, k]):
            continue
        if (
            _SHORT_TIME_NAME.fullmatch(name)
            or (unit and unit.casefold() in _SPELLINGS)
            or _UNIT_IN_NAME.fullmatch(name)
        ):
            return k
        if k == 0 and unit is None and (dialect.columns > 1 or not name):
            return k
    return None


def _increases(values: FloatArray) -> bool:
    """Whether a column runs forward, a jump back now and then overlooked: that is damage, to be named when read."""
    if values.size < 2:
        return False
    steps = np.diff(values)
    backward, forward = float(np.mean(steps < 0)), float(np.mean(steps > 0))
    return (backward == 0.0 and forward > 0.0) or (backward < 0.05 and forward > 0.9)


def seconds(values: FloatArray, column: int, dialect: Dialect, hints: TimeHints, where: str) -> TimeColumn:
    """A time column in seconds.

    Raises
    ------
    FormatError
        The unit is not known, or whole numbers come without a unit.
    """
    name = dialect.names[column] or f"column {column + 1}"
    notes: tuple[str, ...] = ()
    started = None
    unit = hints.unit or _unit_of(dialect, column, where)
    if unit is None and not dialect.clock[column]:
        if dialect.whole[column]:
            raise FormatError(
                f"the time column “{name}” holds whole numbers and names no unit",
                where=where,
                todo=f'Write it in {where}.toml beside the file: [time] unit = "us" (or s, ms, ns)',
            )
        notes = (f"the time column “{name}” names no unit; read as seconds",)
    factor = 1.0 if dialect.clock[column] else TIME_UNITS[unit or "s"]
    if values.size and abs(values[0]) * factor > _FAR_FROM_ZERO:
        began = float(values[0])
        started = _date(began * factor)
        values = values - began
    digit, stamp = stamp_spacing(values)
    # Division keeps what a decimal fraction says: 12 345 us are 0.012345 s, and not a bit beside it.
    times = values if factor == 1.0 else values / (1.0 / factor) if factor < 1.0 else values * factor
    return TimeColumn(times, stamp * factor, digit * factor, notes, started)


def _unit_of(dialect: Dialect, column: int, where: str) -> str | None:
    written = dialect.units[column]
    if written is None:
        name = dialect.names[column]
        found = _UNIT_IN_NAME.fullmatch(name)
        written = found.group(1) if found else name if name.casefold() in ("ms", "us", "µs", "ns") else None
    if not written or dialect.clock[column]:
        return None
    unit = _SPELLINGS.get(written.casefold())
    if unit is None:
        near = nearest(written, TIME_UNITS)
        raise FormatError(
            f"the time column has the unit “{written}”",
            given=written,
            where=where,
            expected=f"one of {', '.join(TIME_UNITS)}" + (f" (nearest: {near[0]})" if near else ""),
            todo=f'Write the right one in {where}.toml beside the file: [time] unit = "ms"',
        )
    return unit


def _date(since_1970_s: float) -> str | None:
    try:
        return datetime.fromtimestamp(since_1970_s, tz=UTC).isoformat()
    except (OverflowError, ValueError, OSError):
        return None


def stamp_spacing(values: FloatArray) -> tuple[float, float]:
    """Value of the last printed digit, and spacing of the grid on which all the numbers lie; 0 for none.

    Parameters
    ----------
    values : array, shape (n,)
        Time stamps, in the unit in which they were printed.

    Notes
    -----
    Looks at blocks of neighbours from the beginning, middle and end; numbers such as 6.999999999999999 count as 7.
    """
    n = values.size
    if n < 2:
        return 0.0, 0.0
    if n > 3 * _BLOCK:
        middle = n // 2
        values = np.concatenate([values[:_BLOCK], values[middle : middle + _BLOCK], values[-_BLOCK:]])
    for digits in range(13):
        counts = values * 10.0**digits
        whole = np.rint(counts)
        tolerance = np.maximum(1e-4, 8.0 * np.finfo(float).eps * np.abs(counts))
        if np.abs(whole).max() < 2.0**53 and (np.abs(counts - whole) <= np.minimum(tolerance, 0.01)).all():
            steps = np.diff(whole.astype(np.int64))
            return 10.0**-digits, float(np.gcd.reduce(steps)) / 10.0**digits
    return 0.0, 0.0


def time_base(column: TimeColumn, place: Place) -> tuple[TimeBase, tuple[str, ...]]:
    """The time base of sampled rows: regular where the stamps allow it, else each row its own time.

    Parameters
    ----------
    column : TimeColumn
    place : callable
        File and line of a row, for messages.

    Raises
    ------
    DamagedRecording
        Time runs back or stands still.
    """
    times = column.times_s
    check_order(times, place, may_repeat=True)
    regular = _regular(times, column.digit_s)
    repeats = bool((np.diff(times) <= 0).any())
    if regular is None:
        check_order(times, place)
        return ExplicitTime(times), ()
    if not repeats:
        return regular, ()
    return regular, (
        f"the time stamps are rounded to {column.digit_s:g} s; the samples are taken as evenly spaced, "
        f"{regular.step_s:.6g} s apart",
    )


def check_order(times_s: FloatArray, place: Place, *, may_repeat: bool = False) -> None:
    """Refuse times that are missing, run back, or (unless ``may_repeat``) stand still.

    Raises
    ------
    DamagedRecording
        Names the first such row.
    """
    missing = ~np.isfinite(times_s)
    if missing.any():
        raise DamagedRecording(
            "the time is missing", where=place(int(missing.argmax())), todo="Remove that line, or export again"
        )
    steps = np.diff(times_s)
    wrong = steps < 0 if may_repeat else steps <= 0
    if wrong.any():
        repeats = int((steps == 0).sum())
        if repeats > max(3, _COARSE_SHARE * steps.size) and not (steps < 0).any():
            raise DamagedRecording(
                f"the time stamps are too coarse: {repeats} of {times_s.size} rows share theirs with the row before",
                where=place(int(wrong.argmax()) + 1),
                todo="Export with more digits of time, or give the time between rows in NAME.toml beside the file: "
                "[time] step_s = 1e-4",
            )
        row = int(wrong.argmax()) + 1
        what = "time runs back" if steps[row - 1] < 0 else "time stands still"
        raise DamagedRecording(
            f"{what}, from {times_s[row - 1]:.9g} to {times_s[row]:.9g} s",
            where=place(row),
            expected="times that increase from row to row",
            todo="If two recordings were joined, split the file there; else export it again",
        )


def _regular(times: FloatArray, digit_s: float) -> RegularTime | None:
    """The even spacing that explains all stamps to within their last digit, if there is one."""
    n = times.size
    if n < 3 or not times[-1] > times[0]:
        return None
    step = float(times[-1] - times[0]) / (n - 1)
    off = times - (times[0] + step * np.arange(n))
    low, high = float(off.min()), float(off.max())
    if (high - low) / 2.0 > max(0.76 * digit_s, 1e-3 * step):
        return None
    # Where many samples share a stamp, only a long staircase shows an even tread.
    if digit_s > step and times[-1] - times[0] < 10.0 * digit_s:
        return None
    # Rounded stamps stand on both sides of the true time: the middle of the band is the best start.
    shift = (high + low) / 2.0 if digit_s > 1.5 * step else 0.0
    return RegularTime(float(times[0]) + shift, step, n)
