"""Cells to columns, a block of rows at a time: fast over plain numbers, exact about everything else.

Logged values repeat, so a cell that is no plain number is read once and looked up ever after.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.logtable.cells import mark_shown, read_cell

__all__ = ["CLOCK", "MISSING", "NUMBER", "TEXT", "ColumnCells", "ColumnFill"]

FloatArray = NDArray[np.float64]
_PLAIN = b"0123456789+-. \0"
_MOST_KNOWN = 50_000
_MOST_WORDS = 5_000
_SHOWN = 60
MISSING, NUMBER, CLOCK, TEXT = range(4)
_KINDS = {"missing": MISSING, "number": NUMBER, "clock": CLOCK, "text": TEXT}
_NAN = float("nan")


@dataclass(frozen=True, slots=True)
class _Block:
    """The cells of some rows: values, and where they are not all plain numbers what each is."""

    count: int
    values: FloatArray | None = None
    kinds: NDArray[np.uint8] | None = None
    words: NDArray[np.int32] | None = None
    units: NDArray[np.int16] | None = None


@dataclass(frozen=True, slots=True)
class ColumnCells:
    """The cells of a whole column, before anybody decided what kind of column it is.

    Parameters
    ----------
    decimal : str
    both_marks : bool
        Some cells prove a decimal comma, others a point.
    values : array, shape (n_rows,)
        Numbers and times; NaN for the rest.
    kinds : array of uint8, shape (n_rows,), or None
        MISSING, NUMBER, CLOCK or TEXT; None where every cell is a plain number or empty.
    words, units : array, shape (n_rows,), or None
        Which of ``word_texts`` and ``unit_texts`` a cell holds; -1 for none.
    word_texts, unit_texts : tuple of str
    missing : dict of str to int
        Words that stand for nothing.
    examples : tuple of str
    """

    decimal: str
    both_marks: bool
    values: FloatArray
    kinds: NDArray[np.uint8] | None
    words: NDArray[np.int32] | None
    units: NDArray[np.int16] | None
    word_texts: tuple[str, ...]
    unit_texts: tuple[str, ...]
    missing: dict[str, int]
    examples: tuple[str, ...]


class _Known(dict[str, int]):
    """Cells already read, and where what they hold is kept; one not yet known is read when it is looked up."""

    def __init__(self, learn: Callable[[str], int]) -> None:
        self._learn = learn

    def __missing__(self, text: str) -> int:
        return self._learn(text)


class ColumnFill:
    """A column while it is read.

    Parameters
    ----------
    decimal : str
        The decimal mark that its first cells show.
    """

    def __init__(self, decimal: str) -> None:
        self.decimal = decimal
        self._blocks: list[_Block] = []
        self._words: dict[str, int] = {}
        self._units: dict[str, int] = {}
        self._missing: Counter[str] = Counter()
        self._examples: dict[str, None] = {}
        self._marks: set[str] = set()
        self._forget()

    def _forget(self) -> None:
        self._known = _Known(self._learn)
        # Many columns never need them; they grow when they do.
        self._value = np.empty(64)
        self._kind = np.empty(64, np.uint8)
        self._code = np.empty((64, 2), np.int32)
        self._nothings: dict[int, str] = {}

    def add(self, cells: Sequence[str]) -> None:
        """Take the cells of the next rows."""
        if len(self._examples) < 5:
            self._examples |= dict.fromkeys([cell.strip() for cell in cells[:500] if cell.strip()][:5])
        joined = "\0".join(cells)
        if not joined.strip("\0 "):
            self._blocks.append(_Block(len(cells)))
            return
        self._blocks.append(
            self._quick(cells, joined)
            or self._times_of_day(joined)
            or self._in_one_unit(joined)
            or self._careful(cells)
        )

    def add_numbers(self, values: FloatArray) -> None:
        """Take the numbers of the next rows, NaN for empty cells."""
        self._blocks.append(_Block(len(values), values))

    @property
    def holds_words(self) -> bool:
        """Whether any cell so far held words."""
        return bool(self._words)

    def is_value(self, cell: str) -> bool:
        """Whether a cell holds a number or a time."""
        place = self._known[cell]
        return bool(self._kind[place] in (NUMBER, CLOCK))

    def _quick(self, cells: Sequence[str], joined: str) -> _Block | None:
        """Cells that are plain numbers or empty; None where one is neither."""
        if self.decimal == ",":
            if "." in joined:
                return None
            joined = joined.replace(",", ".")
            cells = joined.split("\0")
        if not joined.isascii() or joined.encode().translate(None, _PLAIN):
            return None
        try:
            # One pass without a test for every cell; most blocks have no empty cell.
            return _Block(len(cells), np.array(list(map(float, cells))))
        except ValueError:
            pass
        # Twice, as empty cells beside each other share a mark.
        bare = "\0".join([cell.strip() for cell in cells]) if " " in joined else joined
        filled = f"\0{bare}\0".replace("\0\0", "\0nan\0").replace("\0\0", "\0nan\0")[1:-1]
        try:
            return _Block(len(cells), np.array(list(map(float, filled.split("\0")))))
        except ValueError:
            return None

    @staticmethod
    def _times_of_day(joined: str) -> _Block | None:
        """Cells that are all HH:MM:SS."""
        if joined[2:3] != ":" or (len(joined) + 1) % 9 or not joined.isascii():
            return None
        signs = np.frombuffer(joined.encode() + b"\0", np.uint8).reshape(-1, 9)
        digits = signs[:, [0, 1, 3, 4, 6, 7]].astype(np.int64) - ord("0")
        marks = (signs[:, [2, 5]] == ord(":")).all() and not signs[:, 8].any()
        if not marks or digits.min() < 0 or digits.max() > 9 or digits[:, [2, 4]].max() > 5:
            return None
        values = digits @ np.array([36_000, 3600, 600, 60, 10, 1])
        return _Block(len(signs), values.astype(np.float64), np.full(len(signs), CLOCK, np.uint8))

    def _in_one_unit(self, joined: str) -> _Block | None:
        """Cells that all end in the one unit that the column has shown so far."""
        if len(self._units) != 1:
            return None
        (unit,) = self._units
        count = joined.count(unit)
        if count != joined.count(unit + "\0") + joined.endswith(unit):
            return None
        bare = joined.replace(unit, "")
        block = self._quick(bare.split("\0"), bare)
        if block is None or block.values is None:
            return None
        kinds = np.isfinite(block.values).astype(np.uint8)
        if int(kinds.sum()) != count:
            return None
        return _Block(block.count, block.values, kinds, None, kinds.astype(np.int16) - 1)

    def _careful(self, cells: Sequence[str]) -> _Block:
        if len(self._known) > _MOST_KNOWN:
            self._forget()
        found = np.fromiter(map(self._known.__getitem__, cells), np.int64, len(cells))
        kinds, values, codes = self._kind[found], self._value[found], self._code[found]
        texts = int((kinds == TEXT).sum())
        words = codes[:, 0].copy() if texts else None
        numbers = np.flatnonzero((kinds == NUMBER) | (kinds == CLOCK))
        if words is not None and texts > numbers.size:
            # In a column of words a number is a word like any other, and kept verbatim.
            words[numbers] = [self._word(cells[k]) for k in numbers.tolist()]
        if self._nothings:
            nothings, counts = np.unique(found[kinds == MISSING], return_counts=True)
            for k, count in zip(nothings.tolist(), counts.tolist(), strict=True):
                if k in self._nothings and len(self._missing) < 50:
                    self._missing[self._nothings[k]] += count
        units = codes[:, 1].astype(np.int16) if self._units else None
        return _Block(len(cells), values, kinds, words, units)

    def _learn(self, text: str) -> int:
        cell = read_cell(text, self.decimal)
        other = "." if self.decimal == "," else ","
        if other in text and self.decimal not in text and mark_shown(text) == other:
            self._marks |= {self.decimal, other}
        place = len(self._known)
        if place >= self._value.size:
            size = 4 * place
            self._value, self._kind = np.resize(self._value, size), np.resize(self._kind, size)
            self._code = np.resize(self._code, (size, 2))
        self._value[place], self._kind[place] = cell.value, _KINDS[cell.kind]
        self._code[place] = self._word(text) if cell.kind == "text" else -1, self._unit(cell.unit)
        if cell.kind == "missing" and (bare := text.strip()[:_SHOWN]):
            self._nothings[place] = bare
        self._known[text] = place
        return place

    def _word(self, text: str) -> int:
        text = text.strip()[:_SHOWN]
        if text not in self._words and len(self._words) >= _MOST_WORDS:
            text = "…"
        return self._words.setdefault(text, len(self._words))

    def _unit(self, unit: str | None) -> int:
        if unit is None:
            return -1
        if unit not in self._units and len(self._units) >= 1000:
            unit = "…"
        return self._units.setdefault(unit, len(self._units))

    def cells(self) -> ColumnCells:
        """All that was taken, as arrays; the fill is empty afterwards."""
        blocks, self._blocks = self._blocks, []
        special = any(block.kinds is not None for block in blocks)
        worded = any(block.words is not None for block in blocks)
        with_units = any(block.units is not None for block in blocks)
        return ColumnCells(
            decimal=self.decimal,
            both_marks=len(self._marks) > 1,
            values=_joined([_values(block) for block in blocks], np.float64),
            kinds=_joined([_kinds(block) for block in blocks], np.uint8) if special else None,
            words=_joined([_codes(block.words, block.count) for block in blocks], np.int32) if worded else None,
            units=_joined([_codes(block.units, block.count) for block in blocks], np.int16) if with_units else None,
            word_texts=tuple(self._words),
            unit_texts=tuple(self._units),
            missing=dict(self._missing.most_common()),
            examples=tuple(self._examples)[:5],
        )


def _joined(parts: list[NDArray[Any]], dtype: Any) -> NDArray[Any]:
    return np.concatenate(parts).astype(dtype, copy=False) if parts else np.empty(0, dtype)


def _values(block: _Block) -> FloatArray:
    return np.broadcast_to(np.float64(_NAN), block.count) if block.values is None else block.values


def _kinds(block: _Block) -> NDArray[np.uint8]:
    if block.kinds is not None:
        return block.kinds
    return np.isfinite(_values(block)).astype(np.uint8)


def _codes(codes: NDArray[Any] | None, count: int) -> NDArray[Any]:
    return np.broadcast_to(np.int16(-1), count) if codes is None else codes
