"""The bytes of a file to a table of columns, in blocks of lines."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from witnessmark.errors import InputError
from witnessmark.recording.logtable.cells import mark_shown
from witnessmark.recording.logtable.layout import Layout, cut, find_layout
from witnessmark.recording.logtable.page import Page, find_page
from witnessmark.recording.logtable.rows import TableRows
from witnessmark.recording.logtable.table import LogTable
from witnessmark.recording.reader import HEAD_BYTES
from witnessmark.recording.text import decode_words, to_text
from witnessmark.source import digest_bytes

__all__ = ["log_table", "read_log_table"]

_BLOCK_BYTES = 1 << 19


def read_log_table(path: Path | str) -> LogTable:
    """The table in a file with a parameter log.

    Parameters
    ----------
    path : path

    Returns
    -------
    LogTable

    Raises
    ------
    InputError
        No such file.
    FormatError
        The file is no table of text with values in it.
    DamagedRecording
        It is empty, has headings only, or hardly any of its rows has its cells.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}", given=str(path)) from None
    return log_table(data, path.name)


def log_table(data: bytes, name: str) -> LogTable:
    """The table in a file's bytes.

    Parameters
    ----------
    data : bytes
    name : str
        Of the file, for messages.

    Returns
    -------
    LogTable

    Raises
    ------
    FormatError, DamagedRecording
        As :func:`read_log_table`.
    """
    digest = digest_bytes(data)
    text = to_text(data, name)
    page = find_page(text.data)
    if page is not None:
        return _of_page(page, digest, name, text.notes)
    head = text.data[:HEAD_BYTES]
    layout = find_layout(head, name, complete=len(head) == len(text.data))
    rows = TableRows(layout, name)
    half_line = _cut_inside(text.data, layout)
    for number, lines in _blocks(text.data, layout):
        last = number + len(lines) - 1
        rows.take(number, lines, half=last if half_line and last >= half_line else 0)
    return rows.table(digest, text.notes)


def _of_page(page: Page, digest: str, name: str, notes: tuple[str, ...]) -> LogTable:
    """A page of readings, laid down as one row."""
    marks = [mark for value in page.values if (mark := mark_shown(value))]
    decimal = "," if marks.count(",") > marks.count(".") else "."
    layout = Layout(
        delimiter=page.delimiter,
        decimal=decimal,
        decimals=(decimal,) * len(page.names),
        headings=page.names,
        unit_row=None if page.units is None else tuple(unit.strip("[]() ") for unit in page.units),
        heading_line=page.first_line,
        first_line=page.first_line,
        offset=0,
        trailing=False,
        header=tuple((line[:200], "") for line in page.header),
    )
    rows = TableRows(layout, name)
    rows.take_row(page.first_line, page.values)
    return rows.table(digest, (*notes, f"a page of {len(page.names)} readings, one a line"))


def _blocks(data: bytes, layout: Layout) -> Iterator[tuple[int, list[str]]]:
    """Line number of the first, and the lines of each block."""
    number, start = layout.first_line, layout.offset
    while start < len(data):
        end = data.find(b"\n", start + _BLOCK_BYTES)
        end = len(data) if end < 0 else end + 1
        text = decode_words(data[start:end])
        if "\0" in text:
            # Columns are joined by this sign while they are read; in a file it is damage, and no part of a number.
            text = text.replace("\0", "\ufffd")
        if "\r" in text:
            text = text.replace("\r\n", "\n")
        lines = text.removesuffix("\n").split("\n")
        yield number, lines
        number, start = number + len(lines), end


def _cut_inside(data: bytes, layout: Layout) -> int:
    """The number of the last line when it stops inside its last number, else 0.

    It has no line end, and shows fewer decimals than the same column does in the rows before, or stops before its end
    without a delimiter.
    """
    if data.endswith((b"\n", b"\r")):
        return 0
    tail = data[max(len(data) - 65_536, layout.offset) :].split(b"\n")
    rows = [cut(decode_words(line), layout.delimiter) for line in tail[-21:]]
    last, before = rows[-1], [row for row in rows[:-1] if len(row) >= layout.width]
    if not last or not last[-1] or len(before) < 2:
        return 0
    same = {len(row[len(last) - 1]) for row in before if len(row) >= len(last)}
    shorter = len(last[-1]) < min(same, default=0)
    decimals = {_decimals(row[len(last) - 1]) for row in before if len(row) >= len(last)}
    fewer = len(decimals) == 1 and _decimals(last[-1]) != decimals.pop()
    return data.count(b"\n") + 1 if fewer or shorter or len(last) < layout.width else 0


def _decimals(cell: str) -> int:
    bare = cell.rstrip("%°abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ/ ")
    return len(bare) - max(bare.rfind("."), bare.rfind(",")) - 1 if "." in bare or "," in bare else 0
