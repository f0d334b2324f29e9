"""A parameter log as a table: columns of numbers and words, and every line that was not a sound row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError, one_of
from witnessmark.recording.logtable.column import LogColumn
from witnessmark.recording.logtable.layout import Layout

__all__ = ["CutRow", "LogTable"]


@dataclass(frozen=True, slots=True)
class CutRow:
    """A row with fewer cells than there are columns.

    Parameters
    ----------
    line : int
        Of the file, from 1.
    cells : int
        How many cells there are; they are used.
    half : bool
        The last of them was cut inside, too, and is not used.
    """

    line: int
    cells: int
    half: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class LogTable:
    """A parameter log, from bytes to columns; what the columns mean is not asked here.

    Parameters
    ----------
    name : str
        File name.
    digest : str
        "sha256:…" of the file's bytes.
    columns : tuple of LogColumn
        In the file's order, the time among them.
    lines : array, shape (n_rows,)
        Line of the file of each row, from 1.
    layout : Layout
        Delimiter, decimal mark, headings as found.
    cut_rows : tuple of CutRow
        Rows with cells missing at their end; the cells that are there are used.
    long_rows : tuple of int
        Lines with more cells than columns; what is beyond is not used.
    heading_lines : tuple of int
        Lines among the rows that repeat the headings.
    remarks : tuple of (int, str)
        Lines among the rows that hold no value, and their text.
    blank_rows : int
        Rows of delimiters only.
    notes : tuple of str
        What a careful person should know of the file; the columns have their own.
    """

    name: str
    digest: str
    columns: tuple[LogColumn, ...]
    lines: NDArray[np.int64]
    layout: Layout
    cut_rows: tuple[CutRow, ...] = ()
    long_rows: tuple[int, ...] = ()
    heading_lines: tuple[int, ...] = ()
    remarks: tuple[tuple[int, str], ...] = ()
    blank_rows: int = 0
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return f"LogTable({self.name}, {self.n_rows} rows, {len(self.columns)} columns)"

    def __len__(self) -> int:
        return self.n_rows

    @property
    def n_rows(self) -> int:
        """Number of rows."""
        return int(self.lines.size)

    @property
    def headings(self) -> tuple[str, ...]:
        """Verbatim."""
        return self.layout.headings

    @property
    def header(self) -> Mapping[str, str]:
        """Lines above the headings."""
        return MappingProxyType(dict(self.layout.header))

    @property
    def empty(self) -> tuple[LogColumn, ...]:
        """Columns without any value."""
        return tuple(column for column in self.columns if column.kind == "empty")

    def place(self, row: int) -> str:
        """File and line of a row, for messages."""
        return f"{self.name}, line {int(self.lines[row])}"

    def __getitem__(self, key: int | str) -> LogColumn:
        """A column by its position or its heading (label, heading, name; in this order).

        Raises
        ------
        InputError
            No such column, or a heading that stands over several.
        """
        if isinstance(key, int):
            if not 0 <= key < len(self.columns):
                raise InputError(f"column {key}", where=self.name, expected=f"0 to {len(self.columns) - 1}")
            return self.columns[key]
        for field in ("label", "heading", "name"):
            found = [column for column in self.columns if getattr(column, field) == key]
            if len(found) == 1:
                return found[0]
            if found:
                labels = ", ".join(column.label for column in found)
                raise InputError(f"“{key}” stands over several columns", where=self.name, expected=f"one of {labels}")
        raise one_of("column", key, [column.label for column in self.columns], where=self.name)
