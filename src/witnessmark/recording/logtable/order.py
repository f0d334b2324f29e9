"""Which columns can order the rows of a log in time, and how well."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.logtable.column import LogColumn
from witnessmark.recording.logtable.table import LogTable
from witnessmark.recording.timebase import TIME_UNITS, is_index_column
from witnessmark.units import unit, unit_spelt

__all__ = ["GOOD_ENOUGH", "TimeBlock", "TimeCandidate", "time_blocks", "time_candidates", "told_blocks"]

FloatArray = NDArray[np.float64]
GOOD_ENOUGH = 0.35
"""Quality from which on a column is taken for the time without a question."""

_SAID = (
    "time times timestamp datetime elapsed runtime uptime clock date zeit uhrzeit zeitstempel laufzeit messzeit datum "
    "temps heure horodatage duree durée tiempo hora marca fecha tempo ora orario data tijd tijdstip tid klocka czas "
    "godzina timp cas čas idő aika saat"
)
_TIME_WORDS = frozenset(_SAID.split())
_LIKE = ("time", "timestamp", "runtime", "elapsed", "zeit", "tiempo")
# Near a word for time, and none.
_NOT_TIME = frozenset({"temp", "temps", "tire", "trim", "tide", "tile", "tie"})
_SHORT_NAMES = frozenset({"t", "s", "ms", "us", "µs", "sec", "secs", "seconds", "sekunden", "msec"})
_NO_TIME_WORDS = re.compile(r"(?i)inj|einspritz|dwell|open|clos|schlie|since|cleared|mil|lamp|pulse|iniez|inyec|vorig")
_UNIT_AT_END = re.compile(r"(?i).*[\W_](sec|ms|msec|us|µs|μs|ns|min|s|h)\W*$", re.DOTALL)
_FEW_BACKWARD = 0.02


@dataclass(frozen=True, slots=True)
class TimeCandidate:
    """A column that can order the rows.

    Parameters
    ----------
    column : int
        Its position.
    kind : "clock" or "count"
        Times of day or durations, or plain numbers.
    factor : float [s]
        What one unit of the column is.
    unit_said : bool
        The file says the unit; else it is a guess from the size of the steps.
    named : bool
        The heading speaks of time.
    coverage : float
        Share of the rows in which it stands.
    moving : float
        Share of the steps that go forward; half of them do where two rows share a stamp.
    backward : tuple of int
        Rows at which it falls: a count that began again, midnight, rows out of order.
    stamp_s : float [s]
        The commonest distance of two different stamps.
    quality : float
        0 to 1; at :data:`GOOD_ENOUGH` it is used without a question.
    """

    column: int
    kind: Literal["clock", "count"]
    factor: float
    unit_said: bool
    named: bool
    coverage: float
    moving: float
    backward: tuple[int, ...]
    stamp_s: float
    quality: float


@dataclass(frozen=True, slots=True)
class TimeBlock:
    """Columns that share a time column."""

    time: TimeCandidate
    columns: tuple[int, ...]


def time_candidates(table: LogTable) -> tuple[TimeCandidate, ...]:
    """The columns that can order the rows, the best one first.

    Parameters
    ----------
    table : LogTable

    Returns
    -------
    tuple of TimeCandidate
    """
    found = [candidate for column in table.columns if (candidate := _candidate(column)) is not None]
    return tuple(sorted(found, key=lambda each: (-each.quality, each.column)))


def _candidate(column: LogColumn) -> TimeCandidate | None:
    if column.kind not in ("number", "clock") or column.filled < 2:
        return None
    said = _unit_said(column)
    if column.kind == "number" and said is None and column.unit is not None:
        return None
    rows = np.flatnonzero(column.there)
    values = column.values[rows]
    steps = np.diff(values)
    moving, backward = float((steps > 0).mean()), np.flatnonzero(steps < 0) + 1
    if moving == 0.0 or backward.size > max(3, _FEW_BACKWARD * steps.size):
        return None
    named = column.kind == "clock" or _speaks_of_time(column)
    if not named and (backward.size or moving < 0.98 or not _even(steps)):
        return None
    if not named and said is None and is_index_column(column.name, values):
        return None
    factor = said if said is not None else 1.0 if column.kind == "clock" else _factor(values, steps)
    coverage = rows.size / column.values.size
    quality = coverage * (0.3 + 0.7 * min(1.0, 1.2 * moving)) * (1.0 if named else 0.7)
    quality *= max(0.0, 1.0 - 10.0 * backward.size / steps.size)
    if _NO_TIME_WORDS.search(column.heading):
        quality *= 0.5
    return TimeCandidate(
        column=column.index,
        kind="clock" if column.kind == "clock" else "count",
        factor=factor,
        unit_said=said is not None or column.kind == "clock",
        named=named,
        coverage=coverage,
        moving=moving,
        backward=tuple(int(rows[k]) for k in backward[:1000]),
        stamp_s=float(np.median(steps[steps > 0])) * factor,
        quality=quality,
    )


def _unit_said(column: LogColumn) -> float | None:
    """The column's unit of time in seconds; None where it names none."""
    if column.kind == "clock":
        return 1.0
    text = column.unit
    if text is None and _speaks_of_time(column):
        found = _UNIT_AT_END.fullmatch(column.heading)
        text = found[1] if found else column.name if column.name.casefold() in _SHORT_NAMES - {"t"} else None
    spelt = unit_spelt(text) if text else None
    if text in ("ns", "nsec"):
        return TIME_UNITS["ns"]
    return unit(spelt).factor if spelt and unit(spelt).dimension == "time" else None


def _speaks_of_time(column: LogColumn) -> bool:
    heading = column.heading.casefold()
    words = [
        word for word in re.split(r"[\W\d_]+", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", column.heading).casefold()) if word
    ]
    if heading.strip() in _SHORT_NAMES or any(word in _TIME_WORDS or word.endswith("zeit") for word in words):
        return True
    return any(
        len(word) >= 4 and word[0] == like[0] and difflib.SequenceMatcher(None, word, like).ratio() >= 0.75
        for word in words
        for like in _LIKE
        if word not in _NOT_TIME
    )


def _even(steps: FloatArray) -> bool:
    """Whether nearly all steps are of one size: a clock's are, a distance's are not."""
    usual = float(np.median(steps))
    return usual > 0 and float(((steps > 0.4 * usual) & (steps < 2.5 * usual)).mean()) > 0.9


def _factor(values: FloatArray, steps: FloatArray) -> float:
    """Seconds in one unit of a column that names none: by its size where it counts from 1970, else by its steps."""
    size, step = float(np.abs(values).max()), float(np.median(steps[steps > 0]))
    for limit, factor in ((1e17, 1e-9), (1e14, 1e-6), (1e11, 1e-3), (1e8, 1.0)):
        if size > limit and step < size / 1e3:
            return factor
    whole = bool((values == np.rint(values)).all())
    if whole and step >= 20_000.0:
        return 1e-6
    return 1e-3 if whole and step >= 20.0 else 1.0


def time_blocks(table: LogTable, candidates: tuple[TimeCandidate, ...]) -> tuple[TimeBlock, ...]:
    """Blocks of columns that each have a time column of their own to their left; empty where the file has none.

    Parameters
    ----------
    table : LogTable
    candidates : tuple of TimeCandidate

    Returns
    -------
    tuple of TimeBlock
    """
    bare = not table.layout.heading_line
    usable = [each for each in candidates if each.moving > 0.3 and (each.named or bare or _names_next(table, each))]
    own = sorted(usable, key=lambda each: each.column)
    return told_blocks(table, own) if _alike(table, own) else ()


def told_blocks(table: LogTable, times: list[TimeCandidate]) -> tuple[TimeBlock, ...]:
    """The blocks that time columns make, where somebody says that these are time columns.

    Parameters
    ----------
    table : LogTable
    times : list of TimeCandidate

    Returns
    -------
    tuple of TimeBlock
        Empty for fewer than two, where the first column is none of them, and where one has no column of its own.
    """
    own = sorted(times, key=lambda each: each.column)
    if len(own) < 2 or own[0].column != 0:
        return ()
    ends = [*(each.column for each in own[1:]), len(table.columns)]
    blocks = [TimeBlock(each, tuple(range(each.column + 1, end))) for each, end in zip(own, ends, strict=True)]
    return tuple(blocks) if all(block.columns for block in blocks) else ()


def _alike(table: LogTable, own: list[TimeCandidate]) -> bool:
    """Whether time columns belong to blocks, and are not several clocks of the same rows."""
    if len(own) < 2:
        return False
    columns = [table.columns[each.column] for each in own]
    # Blocks stand side by side, each filled from the top; the rows of one have nothing to do with those of the other.
    if not all(column.there[: column.filled].all() for column in columns):
        return False
    headings = [re.sub(r"[\W\d_]+", "", table.columns[each.column].name).casefold() for each in own]
    if len(set(headings)) == 1:
        return True
    if all(_names_next(table, each) for each in own):
        return True
    return len({column.filled for column in columns}) == len(own) and all(each.named for each in own)


def _names_next(table: LogTable, each: TimeCandidate) -> bool:
    """Whether a heading holds that of the column to its right, as "t_map" beside "map" does."""
    if each.column + 1 >= len(table.columns):
        return False
    name = table.columns[each.column + 1].name.casefold()
    return bool(name) and name in table.columns[each.column].heading.casefold()
