"""What the readers of delimited text share: opening a table, and telling changes of state from samples."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording, FormatError, InputError
from witnessmark.recording.dialect import Dialect, find_dialect
from witnessmark.recording.reader import HEAD_BYTES, TimeHints
from witnessmark.recording.table import Table, line_of_row, read_table
from witnessmark.recording.text import to_text
from witnessmark.recording.timebase import find_time_column, is_index_column
from witnessmark.source import digest_bytes

__all__ = ["OpenTable", "Preview", "changing_rows", "open_table", "preview", "require_time_column", "value_columns"]

FloatArray = NDArray[np.float64]
_NO_TIME = TimeHints()


@dataclass(frozen=True, slots=True)
class OpenTable:
    """A table read into memory, and what is needed to name a place in it.

    Parameters
    ----------
    name : str
        File name.
    digest : str
        Of the file's bytes.
    data : bytes
        The text.
    dialect : Dialect
    columns : array, shape (n_rows, n_columns)
    notes : tuple of str
    started : str, optional
    """

    name: str
    digest: str
    data: bytes
    dialect: Dialect
    columns: FloatArray
    notes: tuple[str, ...]
    started: str | None

    def place(self, row: int) -> str:
        """File and line of a row, for messages."""
        return f"{self.name}, line {line_of_row(self.data, self.dialect, row)}"

    def column_name(self, k: int) -> str:
        """Heading of a column, or its number."""
        return self.dialect.names[k] or f"column {k + 1}"


@dataclass(frozen=True, slots=True)
class Preview:
    """The first rows of a table.

    Parameters
    ----------
    dialect : Dialect
    columns : array, shape (n_rows, n_columns)
    time_column : int or None
    """

    dialect: Dialect
    columns: FloatArray
    time_column: int | None


def open_table(path: Path) -> OpenTable:
    """The whole table in a file.

    Raises
    ------
    FormatError
        The file is no table of text.
    DamagedRecording
        It is one, and rows are missing or damaged.
    """
    raw = path.read_bytes()
    text = to_text(raw, path.name)
    head = text.data[:HEAD_BYTES]
    dialect = find_dialect(head, path.name, complete=len(head) == len(text.data))
    table: Table = read_table(text.data, dialect, path.name)
    if len(table.columns) < 2:
        raise DamagedRecording(
            "there is only one row",
            given=f"{len(table.columns)} rows",
            where=path.name,
            expected="two rows at least",
            todo="Export the recording again",
        )
    return OpenTable(
        name=path.name,
        digest=digest_bytes(raw),
        data=text.data,
        dialect=dialect,
        columns=table.columns,
        notes=text.notes + table.notes,
        started=table.started,
    )


def preview(head: bytes) -> Preview | str:
    """The first rows of the table that begins with these bytes, or why they are no table."""
    try:
        return _preview(head)
    except InputError as error:
        return error.message


@lru_cache(maxsize=4)
def _preview(head: bytes) -> Preview:
    text = to_text(head, "").data
    complete = len(head) < HEAD_BYTES
    dialect = find_dialect(text, "", complete=complete)
    if not complete:
        text = text[: text.rfind(b"\n") + 1]
    columns = read_table(text, dialect, "", lenient=True).columns
    return Preview(dialect, columns, find_time_column(dialect, columns, _NO_TIME))


def value_columns(dialect: Dialect, columns: FloatArray, time_column: int | None) -> list[int]:
    """The columns that hold values: neither the time nor a count of the rows."""
    candidates = [k for k in range(dialect.columns) if k != time_column]
    first = candidates[:1] if time_column != 0 else []
    return [k for k in candidates if not (k in first and is_index_column(dialect.names[k], columns[:, k]))]


def changing_rows(levels: FloatArray) -> tuple[bool, float]:
    """Whether every column knows two values only, and in which share of the rows one of them changes.

    Parameters
    ----------
    levels : array, shape (n_rows, n_channels)
        NaN counts as "no change".
    """
    if len(levels) < 2 or levels.shape[1] == 0:
        return False, 0.0
    known = np.isfinite(levels)
    two_valued = all(np.unique(levels[known[:, k], k]).size <= 2 for k in range(levels.shape[1]))
    changes = (levels[1:] != levels[:-1]) & known[1:] & known[:-1]
    return two_valued, float(changes.any(axis=1).mean())


def require_time_column(table: OpenTable, hints: TimeHints) -> int | None:
    """The time column, or None when the sidecar gives the time between rows instead.

    Raises
    ------
    FormatError
        Neither the file nor the sidecar says when the rows were taken.
    """
    if hints.step_s is not None and hints.column is None:
        return None
    if hints.column is not None and not 0 <= hints.column < table.dialect.columns:
        raise FormatError(
            f"the sidecar calls column {hints.column} the time",
            where=table.name,
            expected=f"a column from 0 to {table.dialect.columns - 1}",
        )
    found = find_time_column(table.dialect, table.columns, hints)
    if found is None:
        hint = next(
            (
                f" (line above the numbers: “{key} {value}”)"
                for key, value in table.dialect.header
                if any(word in key.casefold() for word in ("interval", "increment", "rate", "step", "period"))
            ),
            "",
        )
        raise FormatError(
            f"no column holds the time{hint}",
            where=table.name,
            todo=f"Give the time between rows in {table.name}.toml beside the file: [time] step_s = 1e-5",
        )
    return found
