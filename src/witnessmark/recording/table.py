"""A table of text to columns of numbers: fast where the file is sound, exact about the place where it is not."""

from __future__ import annotations

import io
import re
from array import array
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording
from witnessmark.recording.cells import clock_seconds, number_in
from witnessmark.recording.dialect import Dialect
from witnessmark.recording.text import decode_words

__all__ = ["Table", "line_of_row", "read_table"]

FloatArray = NDArray[np.float64]
_LOOK_BACK = 50
_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Table:
    """Columns of numbers.

    Parameters
    ----------
    columns : array, shape (n_rows, n_columns)
        NaN where a cell is empty, ±inf where the instrument was over its range.
    notes : tuple of str
        What was left out.
    started : str, optional
        Date and time of day in the first row, when a column holds times of day.
    """

    columns: FloatArray
    notes: tuple[str, ...]
    started: str | None = None


def read_table(data: bytes, dialect: Dialect, where: str, *, lenient: bool = False) -> Table:
    """The numbers of a table.

    Parameters
    ----------
    data : bytes
        The whole text.
    dialect : Dialect
        How it is written.
    where : str
        File name, for messages.
    lenient : bool
        Pass over rows that cannot be used, for a first look.

    Raises
    ------
    DamagedRecording
        A row in the middle is cut or holds something that is no number.
    """
    data, notes = _without_cut_end(data, dialect)
    if not (dialect.quoted or any(dialect.clock)):
        quick = _quick(data, dialect)
        if quick is not None:
            return Table(quick, notes)
    return _careful(data, dialect, where, notes, lenient=lenient)


def _quick(data: bytes, dialect: Dialect) -> FloatArray | None:
    """All numbers in one go, or None where some cell is not a plain number."""
    start = dialect.offset
    if dialect.decimal == ",":
        data, start = data[start:].replace(b",", b"."), 0
    if dialect.trailing:
        mark = re.escape(dialect.delimiter.encode())
        data, start = re.sub(mark + rb"[ \t]*(?=\r?\n|\r?$)", b"", data[start:]), 0
    stream = io.BytesIO(data)
    stream.seek(start)
    delimiter = None if dialect.delimiter == " " else dialect.delimiter
    try:
        block = np.loadtxt(stream, delimiter=delimiter, comments=None, ndmin=2)
    except ValueError:
        return None
    return block if block.shape[1] == dialect.columns else None


def _without_cut_end(data: bytes, dialect: Dialect) -> tuple[bytes, tuple[str, ...]]:
    """The text without a last row that stops inside its last number.

    Such a row still has all its cells, so only its look betrays it: no line end, and a last cell
    shorter than those of the rows before, which are all of one length.
    """
    if data.endswith((b"\n", b"\r")):
        return data, ()
    lines = data[-4096:].split(b"\n")[1:]
    before = [dialect.cells(decode_words(line).strip()) for line in lines[-1 - _LOOK_BACK : -1]]
    last = dialect.cells(decode_words(lines[-1]).strip()) if lines else []
    lengths = {len(cells[-1]) for cells in before if cells}
    if len(before) >= 3 and len(lengths) == 1 and len(last) == len(before[-1]) and len(last[-1]) < min(lengths):
        return data[: len(data) - len(lines[-1])], (_cut_note(data.count(b"\n") + 1),)
    return data, ()


def _cut_note(line: int) -> str:
    return f"1 row left out: the last line ({line}) is cut short"


def _lines(data: bytes, dialect: Dialect) -> Iterator[tuple[int, str]]:
    """Line numbers and lines from the first numbers on, empty ones left out."""
    for number, line in enumerate(data[dialect.offset :].split(b"\n"), start=dialect.first_line):
        text = decode_words(line).strip("\r\n")
        if text.strip():
            yield number, text


def line_of_row(data: bytes, dialect: Dialect, row: int) -> int:
    """The line of the file, from 1, that holds a row of the table."""
    for i, (number, _) in enumerate(_lines(data, dialect)):
        if i == row:
            return number
    return dialect.first_line + row


def _careful(data: bytes, dialect: Dialect, where: str, notes: tuple[str, ...], *, lenient: bool) -> Table:
    """Row by row: missing cells, words, times of day; says where a row cannot be used."""
    numbers = array("d")
    lines = list(_lines(data, dialect))
    remarks = 0
    for i, (number, line) in enumerate(lines):
        if line.lstrip().startswith("#"):
            remarks += 1
            continue
        cells = dialect.cells(line)
        if dialect.trailing and cells and cells[-1] == "":
            cells.pop()
        problem, row = _row(cells, dialect)
        if problem is None:
            numbers.extend(row)
        elif i == len(lines) - 1 and i > 0:
            notes += (_cut_note(number),)
        elif not lenient:
            raise DamagedRecording(
                problem,
                given=line[:60],
                where=f"{where}, line {number}",
                expected=f"{dialect.columns} numbers in every row",
                todo="Remove that line, or export the recording again",
            )
    if remarks:
        notes += (f"{remarks} remark{'s' if remarks > 1 else ''} among the rows left out",)
    columns = np.frombuffer(numbers, dtype=np.float64).reshape(-1, dialect.columns).copy()
    _unroll_midnights(columns, dialect)
    return Table(columns, notes, _started(lines[0][1], dialect))


def _row(cells: list[str], dialect: Dialect) -> tuple[str | None, list[float]]:
    """What is wrong with a row, or None; and its numbers."""
    if len(cells) != dialect.columns:
        plural = "" if len(cells) == 1 else "s"
        return f"the row has {len(cells)} cell{plural} where the others have {dialect.columns}", []
    row = []
    for k, cell in enumerate(cells):
        clock = clock_seconds(cell) if dialect.clock[k] else None
        value = clock[0] if clock else number_in(cell, dialect.decimal)
        if value is None:
            shown = cell if cell.isprintable() else "bytes that are no text"
            name = dialect.names[k] or str(k + 1)
            return f"column “{name}” holds “{shown[:24]}”, which is no number", []
        row.append(value)
    return None, row


def _unroll_midnights(columns: FloatArray, dialect: Dialect) -> None:
    """A time of day without a date jumps back at midnight; count the days on."""
    for k, is_time in enumerate(dialect.clock):
        if is_time:
            steps = np.diff(columns[:, k], prepend=columns[:1, k])
            columns[:, k] += _DAY_S * np.cumsum(steps < -_DAY_S / 2)


def _started(line: str, dialect: Dialect) -> str | None:
    for cell, is_time in zip(dialect.cells(line), dialect.clock, strict=False):
        if is_time:
            return cell
    return None
