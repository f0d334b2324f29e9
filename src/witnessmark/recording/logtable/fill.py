"""Cells to columns, a block of rows at a time: fast over plain numbers, exact about everything else.

Logged values repeat, so a cell that is no plain number is read once and looked up ever after.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
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
        self._known: dict[str, tuple[int, float, int, int]] = {}
        self._words: dict[str, int] = {}
        self._units: dict[str, int] = {}
        self._missing: Counter[str] = Counter()
        self._examples: dict[str, None] = {}
        self._marks: set[str] = set()

    def add(self, cells: Sequence[str]) -> None:
        """Take the cells of the next rows."""
        if len(self._examples) < 5:
            self._examples |= dict.fromkeys([cell.strip() for cell in cells[:500] if cell.strip()][:5])
        joined = "\0".join(cells)
        if not joined.strip("\0 "):
            self._blocks.append(_Block(len(cells)))
            return
        quick = self._quick(cells, joined)
        self._blocks.append(_Block(len(cells), quick) if quick is not None else self._careful(cells))

    def is_value(self, cell: str) -> bool:
        """Whether a cell holds a number or a time."""
        return (self._known.get(cell) or self._learn(cell))[0] in (NUMBER, CLOCK)

    def _quick(self, cells: Sequence[str], joined: str) -> FloatArray | None:
        """The values of cells that are plain numbers or empty; None where one is neither."""
        if self.decimal == ",":
            if "." in joined:
                return None
            joined = joined.replace(",", ".")
            cells = joined.split("\0")
        if not joined.isascii() or joined.encode().translate(None, _PLAIN):
            return None
        try:
            # One pass without a test for every cell; most blocks have no empty cell.
            return np.array(list(map(float, cells)))
        except ValueError:
            pass
        try:
            return np.array([float(cell) if cell and not cell.isspace() else _NAN for cell in cells])
        except ValueError:
            return None

    def _careful(self, cells: Sequence[str]) -> _Block:
        known = self._known
        if len(known) > _MOST_KNOWN:
            known.clear()
        found = [known.get(cell) or self._learn(cell) for cell in cells]
        kinds = np.array([each[0] for each in found], dtype=np.uint8)
        values = np.array([each[1] for each in found], dtype=np.float64)
        texts, numbers = int((kinds == TEXT).sum()), int(((kinds == NUMBER) | (kinds == CLOCK)).sum())
        words = units = None
        if texts > numbers:
            words = np.array([self._word(cell) if kind else -1 for cell, kind in zip(cells, kinds, strict=True)], np.int32)
        elif texts:
            words = np.array([each[2] for each in found], dtype=np.int32)
        if self._units:
            units = np.array([each[3] for each in found], dtype=np.int16)
        for cell in (cell for cell, kind in zip(cells, kinds, strict=True) if kind == 0 and cell):
            if (bare := cell.strip()[:_SHOWN]) and (bare in self._missing or len(self._missing) < 50):
                self._missing[bare] += 1
        return _Block(len(cells), values, kinds, words, units)

    def _learn(self, text: str) -> tuple[int, float, int, int]:
        cell = read_cell(text, self.decimal)
        if len(self._marks) < 2 and cell.kind == "number" and (mark := mark_shown(text)):
            self._marks.add(mark)
        word = self._word(text) if cell.kind == "text" else -1
        entry = (_KINDS[cell.kind], cell.value, word, self._unit(cell.unit))
        self._known[text] = entry
        return entry

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
