"""What kind of column some cells make: numbers with their unit, times, words, or nothing."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import UnitError
from witnessmark.recording.cells import LEVEL_WORDS
from witnessmark.recording.logtable.column import LogColumn, Undecoded, name_and_unit
from witnessmark.recording.logtable.fill import CLOCK, MISSING, NUMBER, TEXT, ColumnCells
from witnessmark.units import conversion, unit_spelt

__all__ = ["settle"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
UnitFrom = Literal["heading", "row", "cells"] | None
_LINES_KEPT = 5
_TEXTS_KEPT = 50
_LEVELS = LEVEL_WORDS | {"yes": 1.0, "no": 0.0}
# A positive answer repeats the service with 40h added (ISO 15031-5), a negative one begins with 7F.
_ANSWER = re.compile(r"(?=.*\d)[0-9A-Fa-f]{4}[0-9A-Fa-f:\s]{2,}")


def settle(
    cells: ColumnCells, *, index: int, heading: str, label: str, unit_row: str | None, lines: NDArray[np.int64]
) -> LogColumn:
    """The column that some cells make.

    Parameters
    ----------
    cells : ColumnCells
    index : int
    heading, label : str
    unit_row : str or None
        What stands below the heading in a row of units.
    lines : array, shape (n_rows,)
        Line of the file of each row.

    Returns
    -------
    LogColumn
    """
    name, heading_unit = name_and_unit(heading)
    unit_from: UnitFrom = "heading" if heading_unit else None
    if unit_row:
        heading_unit, unit_from = unit_row, "row"
    kinds = np.isfinite(cells.values).astype(np.uint8) if cells.kinds is None else cells.kinds
    numbers, clocks, texts = (int((kinds == kind).sum()) for kind in (NUMBER, CLOCK, TEXT))
    given: dict[str, Any] = {
        "index": index,
        "heading": heading,
        "name": name,
        "label": label,
        "heading_unit": heading_unit,
        "decimal": cells.decimal,
        "missing_words": cells.missing,
        "examples": cells.examples,
    }
    if not numbers + clocks + texts:
        nothing = np.broadcast_to(np.float64(np.nan), kinds.size)
        unit, unit_from = _unit({}, heading_unit, unit_from)
        return LogColumn(kind="empty", values=nothing, unit=unit, unit_from=unit_from, **given)
    if texts > numbers + clocks:
        return _words(cells, kinds, lines, given)
    if clocks > numbers:
        values, undecoded = _without(cells, kinds, kinds == CLOCK, lines)
        return LogColumn(kind="clock", values=values, unit="s", filled=_filled(values), undecoded=undecoded, **given)
    return _numbers(cells, kinds, lines, given, unit_from)


def _filled(values: FloatArray) -> int:
    return int(np.isfinite(values).sum())


def _numbers(
    cells: ColumnCells, kinds: NDArray[np.uint8], lines: NDArray[np.int64], given: dict[str, Any], unit_from: UnitFrom
) -> LogColumn:
    """A column of numbers, in one unit."""
    keep = (kinds == NUMBER) & ~_digit_answers(cells.values)
    counts: dict[str, int] = {}
    factors = np.ones(0)
    if cells.units is not None:
        counts, keep, factors = _units_in_cells(cells.units, cells.unit_texts, keep)
    values, undecoded = _without(cells, kinds, keep, lines)
    notes = _notes(counts, given["heading_unit"], both_marks=cells.both_marks)
    if factors.size and cells.units is not None:
        other = keep & (factors[cells.units, 0] != 1.0) | keep & (factors[cells.units, 1] != 0.0)
        rows = np.flatnonzero(other)
        values[rows] = values[rows] * factors[cells.units[rows], 0] + factors[cells.units[rows], 1]
    unit, unit_from = _unit(counts, given["heading_unit"], unit_from)
    return LogColumn(
        kind="number",
        values=values,
        unit=unit,
        unit_from=unit_from,
        cell_units=counts,
        filled=_filled(values),
        undecoded=undecoded,
        notes=notes,
        **given,
    )


def _units_in_cells(
    codes: NDArray[np.int16], texts: tuple[str, ...], keep: BoolArray
) -> tuple[dict[str, int], BoolArray, FloatArray]:
    """How often each unit stands in a cell, the cells that can be used, and what brings each into the commonest unit.

    A cell in a unit of another kind, or with letters behind its number that are no unit and rare, is not used.
    """
    used = np.bincount(codes[keep] + 1, minlength=len(texts) + 1)[1:]
    order = np.argsort(-used, kind="stable")
    counts = {texts[k]: int(used[k]) for k in order if used[k]}
    # One row more, for the code -1 of a number without a unit: it is taken to be in the usual one.
    factors = np.tile([1.0, 0.0], (len(texts) + 1, 1))
    if not counts:
        return counts, keep, factors
    usual = next(iter(counts))
    known = unit_spelt(usual)
    for k, text in enumerate(texts):
        if text == usual or (spelt := unit_spelt(text)) == known is not None:
            continue
        try:
            factors[k] = conversion(spelt or "", known or "")
        except UnitError:
            keep = keep & (codes != k)
            counts.pop(text, None)
    return counts, keep, factors


def _notes(counts: dict[str, int], heading_unit: str | None, *, both_marks: bool) -> tuple[str, ...]:
    notes = []
    spelt = {unit_spelt(text) or text for text in counts}
    if len(spelt) > 1:
        told = ", ".join(f"{count} in {text}" for text, count in counts.items())
        notes.append(f"several units in its cells ({told}); all in {next(iter(counts))} here")
    if counts and heading_unit and unit_spelt(heading_unit) != unit_spelt(next(iter(counts))):
        notes.append(f"the heading says {heading_unit}, the cells say {next(iter(counts))}")
    if both_marks:
        notes.append("decimal commas and points in one column")
    return tuple(notes)


def _unit(counts: dict[str, int], heading_unit: str | None, unit_from: UnitFrom) -> tuple[str | None, UnitFrom]:
    if counts:
        text = next(iter(counts))
        return unit_spelt(text) or text, "cells"
    if heading_unit:
        return unit_spelt(heading_unit) or heading_unit, unit_from
    return None, None


def _digit_answers(values: FloatArray) -> BoolArray:
    """Cells that are an undecoded answer of digits only, far beyond everything else in the column."""
    with np.errstate(invalid="ignore"):
        high = values >= 410_000
    count = int(high.sum())
    if not count or 5 * count > _filled(values):
        return np.zeros(values.size, dtype=np.bool_)
    others = float(np.nanmax(np.where(high, np.nan, np.abs(values))))
    for row in np.flatnonzero(high):
        digits = f"{values[row]:.0f}"
        high[row] = values[row] > 1000.0 * others and digits[0] == "4" and digits[1] in "1234567"
    return high


def _without(
    cells: ColumnCells, kinds: NDArray[np.uint8], keep: BoolArray, lines: NDArray[np.int64]
) -> tuple[FloatArray, tuple[Undecoded, ...]]:
    """The values that are kept, and the texts of the cells that are not."""
    values = np.where(keep, cells.values, np.nan)
    rows = np.flatnonzero(~keep & (kinds != MISSING))
    return values, _told(rows, [_text(cells, kinds, int(row)) for row in rows[:100_000]], lines)


def _text(cells: ColumnCells, kinds: NDArray[np.uint8], row: int) -> str:
    if cells.words is not None and cells.words[row] >= 0:
        return cells.word_texts[int(cells.words[row])]
    if kinds[row] == CLOCK:
        return f"a time, {cells.values[row]:g} s"
    unit = cells.unit_texts[int(cells.units[row])] if cells.units is not None and cells.units[row] >= 0 else ""
    return f"{cells.values[row]:.12g}{unit}"


def _told(rows: NDArray[np.int64], texts: list[str], lines: NDArray[np.int64]) -> tuple[Undecoded, ...]:
    found: dict[str, list[int]] = {}
    counts = Counter(texts)
    for row, text in zip(rows, texts, strict=False):
        kept = found.setdefault(text, [])
        if len(kept) < _LINES_KEPT:
            kept.append(int(lines[row]))
    return tuple(Undecoded(text, count, tuple(found[text])) for text, count in counts.most_common(_TEXTS_KEPT))


def _words(cells: ColumnCells, kinds: NDArray[np.uint8], lines: NDArray[np.int64], given: dict[str, Any]) -> LogColumn:
    """A column of words: each word its number, in order of appearance; 0 and 1 for off and on."""
    codes = np.full(kinds.size, -1, np.int64) if cells.words is None else cells.words.astype(np.int64)
    texts = list(cells.word_texts)
    known = {text: k for k, text in enumerate(texts)}
    # Numbers among the words of an otherwise plain block were not kept as text.
    for row in np.flatnonzero((codes < 0) & (kinds != MISSING)):
        text = _text(cells, kinds, int(row))
        if text not in known:
            known[text] = len(texts)
            texts.append(text)
        codes[row] = known[text]
    used = np.unique(codes[codes >= 0])
    words = tuple(texts[k] for k in used)
    levels = [_LEVELS.get(word.casefold()) for word in words]
    if None not in levels and len(set(levels)) == len(levels) == 2:
        used, words = (used, words) if levels[0] == 0.0 else (used[::-1], words[::-1])
    new = np.full(len(texts) + 1, np.nan)
    new[used] = np.arange(used.size)
    answers = [bool(_ANSWER.fullmatch(word)) for word in words]
    undecoded: tuple[Undecoded, ...] = ()
    if any(answers) and not all(answers):
        strange = np.isin(codes, used[np.array(answers)])
        rows = np.flatnonzero(strange)
        undecoded = _told(rows, [texts[codes[row]] for row in rows], lines)
    values = new[codes]
    return LogColumn(kind="text", values=values, words=words, filled=_filled(values), undecoded=undecoded, **given)
