"""How a parameter log is laid out: delimiter, headings, units below them, where the rows begin."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording.logtable.cells import mark_shown, read_cell
from witnessmark.recording.text import decode_words
from witnessmark.units import unit_spelt

__all__ = ["MOST_COLUMNS", "Layout", "cut", "find_layout"]

MOST_COLUMNS = 2000
_DELIMITERS = (";", "\t", "|", ",", " ")
_NAMED = {";": "semicolon", "\t": "tab", "|": "bar", ",": "comma", " ": "blanks", "=": "equals sign", ":": "colon"}
_LINES = 300
_TOLD = re.compile(r"(?i)sep=(.)")
_BRACKETED = re.compile(r"[\[(]\s*(.*?)\s*[\])]")


@dataclass(frozen=True, slots=True)
class Layout:
    """How a log is laid out.

    Parameters
    ----------
    delimiter, decimal : str
        ``decimal`` is the mark that the file shows; a column may show another.
    decimals : tuple of str
        The mark of each column.
    headings : tuple of str
        Verbatim; "" where there is none. Their number is that of the columns.
    unit_row : tuple of str or None
        Units in a row below the headings.
    heading_line : int or None
        Line of the headings, from 1.
    first_line, offset : int
        Line and byte at which the rows begin.
    trailing : bool
        Rows end with a delimiter that no cell follows.
    header : tuple of (str, str)
        Lines above the headings.
    """

    delimiter: str
    decimal: str
    decimals: tuple[str, ...]
    headings: tuple[str, ...]
    unit_row: tuple[str, ...] | None
    heading_line: int | None
    first_line: int
    offset: int
    trailing: bool
    header: tuple[tuple[str, str], ...]

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.headings)

    def describe(self) -> str:
        """In words, for the history of a recording."""
        mark = "comma" if self.decimal == "," else "point"
        return f"{self.width} columns, delimiter {_NAMED[self.delimiter]}, decimal {mark}"


def cut(line: str, delimiter: str) -> list[str]:
    """The cells of one line, blanks and quotation marks taken off.

    Parameters
    ----------
    line : str
    delimiter : str
        " " stands for any run of blanks.

    Returns
    -------
    list of str
    """
    if '"' in line:
        try:
            row = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error:
            row = line.split(delimiter)
        return [cell.strip() for cell in row]
    if delimiter == " ":
        return line.split()
    return [cell.strip() for cell in line.split(delimiter)]


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to cut the lines: cells of each, the usual width, and how well it fits."""

    delimiter: str
    rows: list[list[str]]
    width: int
    fit: float


def find_layout(head: bytes, where: str, *, complete: bool) -> Layout:
    """How the log that begins with these bytes is laid out.

    Parameters
    ----------
    head : bytes
        Plain text from :func:`witnessmark.recording.text.to_text`.
    where : str
        File name, for messages.
    complete : bool
        Whether ``head`` is the whole file; if not, its last line may be cut and is not looked at.

    Returns
    -------
    Layout

    Raises
    ------
    FormatError
        There are no rows of values, or far too many columns.
    DamagedRecording
        There are headings and nothing below.
    """
    raw_lines = head.split(b"\n")
    if not complete and len(raw_lines) > 1:
        raw_lines = raw_lines[:-1]
    lines = [decode_words(line).strip("\r\f") for line in raw_lines[:_LINES]]
    way = _best_way(lines, where)
    if way is None:
        raise _no_values(lines, where)
    heading, first = _where_it_begins(way)
    if first is None:
        raise _no_values(lines, where)
    body = [row for row in way.rows[first:] if any(row)]
    usual = _usual_width(body)
    full = [row for row in body if len(row) == usual]
    headings = _bare(way.rows[heading]) if heading is not None else []
    trailing = usual > 1 and way.delimiter != " " and all(row[-1] == "" for row in full) and usual > len(headings) > 0
    width = max(usual - trailing, len(headings))
    if width > MOST_COLUMNS:
        raise FormatError(f"{width} columns", where=where, expected=f"{MOST_COLUMNS} at most")
    units = None if heading is None else _unit_row(way, heading, first)
    decimal, decimals = _decimals(full, width, way.delimiter)
    return Layout(
        delimiter=way.delimiter,
        decimal=decimal,
        decimals=decimals,
        headings=(*headings, *[""] * (width - len(headings))),
        unit_row=units,
        heading_line=None if heading is None else heading + 1,
        first_line=first + 1,
        offset=sum(len(line) + 1 for line in raw_lines[:first]),
        trailing=trailing,
        header=_remarks(lines[: first if heading is None else heading]),
    )


def _best_way(lines: list[str], where: str) -> _Way | None:
    told = next((m[1] for line in lines[:1] if (m := _TOLD.fullmatch(line.strip()))), None)
    longest = max((line.count(mark) for line in lines for mark in _DELIMITERS), default=0)
    if longest > 4 * MOST_COLUMNS:
        raise FormatError(f"a line of {longest + 1} cells", where=where, expected=f"{MOST_COLUMNS} columns at most")
    ways = [_way(lines, mark) for mark in ((told,) if told in _DELIMITERS else _DELIMITERS)]
    good = [way for way in ways if way.width > 1 and way.fit > 0.0]
    # Blanks separate words as well as cells: they count where nothing else does.
    if not good:
        return None
    best = max(good, key=lambda way: way.fit * (0.5 if way.delimiter == " " else 1.0))
    return best if best.fit >= (0.4 if best.delimiter == " " else 0.15) else None


def _way(lines: list[str], delimiter: str) -> _Way:
    rows = [cut(line, delimiter) for line in lines]
    filled = [row for row in rows if any(row)]
    width = _usual_width(filled)
    near = [row for row in filled if abs(len(row) - width) <= 1]
    known: dict[str, bool] = {}
    cells = [cell for row in near[:120] for cell in row if cell]
    values = sum(_is_value(cell, known) for cell in cells)
    share = values / len(cells) if cells else 0.0
    return _Way(delimiter, rows, width, len(near) / len(filled) * share if filled else 0.0)


def _usual_width(rows: list[list[str]]) -> int:
    widths = Counter(map(len, rows))
    return max(widths, key=lambda n: (widths[n], n)) if widths else 0


def _is_value(cell: str, known: dict[str, bool]) -> bool:
    if cell not in known:
        known[cell] = read_cell(cell).kind in ("number", "clock")
    return known[cell]


def _where_it_begins(way: _Way) -> tuple[int | None, int | None]:
    """The line of the headings and that of the first row, from 0."""
    known: dict[str, bool] = {}
    rows = way.rows
    data = [_is_data(row, way.width, known) for row in rows]
    for i, row in enumerate(rows):
        if not _is_heading(row, way.width, known):
            continue
        following = [k for k in range(i + 1, min(i + 5, len(rows))) if any(rows[k])]
        first = next((k for k in following if data[k]), None)
        between = [k for k in following if first is not None and k < first]
        # Only a row of units may stand between the headings and the rows: else the headings come later.
        if first is not None and all(_is_unit_row(rows[k]) for k in between):
            later = _real_heading(rows, data, known, way.width, first, row)
            return later if later is not None else (i, first)
    return None, next((i for i, is_data in enumerate(data) if is_data), None)


def _real_heading(
    rows: list[list[str]], data: list[bool], known: dict[str, bool], width: int, first: int, heading: list[str]
) -> tuple[int, int] | None:
    """Headings that come one or two rows after what looked like some: remarks as wide as the table stood above."""
    for k in range(first + 1, min(first + 4, len(rows) - 1)):
        if rows[k] != heading and _is_heading(rows[k], width, known):
            after = next((j for j in range(k + 1, min(k + 4, len(rows))) if data[j]), None)
            if after is not None and sum(data[after:]) > sum(data[first:k]):
                return k, after
    return None


def _is_heading(row: list[str], width: int, known: dict[str, bool]) -> bool:
    filled = [cell for cell in row if cell]
    if len(row) < max(width - 1, 2) or len(filled) < max(2, 0.5 * width) or _is_unit_row(row):
        return False
    values = sum(_is_value(cell, known) for cell in filled)
    words = sum(read_cell(cell).kind == "text" for cell in filled)
    return values <= 0.2 * len(filled) and words >= 0.5 * len(filled)


def _is_data(row: list[str], width: int, known: dict[str, bool]) -> bool:
    filled = [cell for cell in row if cell]
    values = sum(_is_value(cell, known) for cell in filled)
    if _is_unit_row(row):
        return False
    return len(row) >= max(2, 0.5 * width) and values >= max(1, 0.25 * len(filled))


def _is_unit_row(row: list[str]) -> bool:
    filled = [cell for cell in row if cell.strip(" -")]
    known = sum(_is_unit(cell) for cell in filled)
    return bool(filled) and known > 0.5 * len(filled) and all(len(cell) <= 14 for cell in filled)


def _is_unit(cell: str) -> bool:
    found = _BRACKETED.fullmatch(cell)
    return found is not None or unit_spelt(cell) is not None


def _unit_row(way: _Way, heading: int, first: int) -> tuple[str, ...] | None:
    for row in way.rows[heading + 1 : first]:
        if any(row) and _is_unit_row(row):
            return tuple(found[1] if (found := _BRACKETED.fullmatch(cell)) else cell.strip(" -") for cell in row)
    return None


def _bare(cells: list[str]) -> list[str]:
    """The headings without what a delimiter too many leaves behind."""
    cells = [cells[0].lstrip("#").strip() or cells[0], *cells[1:]] if cells else cells
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def _decimals(rows: list[list[str]], width: int, delimiter: str) -> tuple[str, tuple[str, ...]]:
    """The decimal mark of the file and of each column, from the cells that prove one."""
    counts = [
        Counter(mark for row in rows for mark in [mark_shown(row[k])] if mark) for k in range(min(width, len(rows[0])))
    ]
    whole: Counter[str] = sum(counts, Counter())
    ties = "," if delimiter == ";" and _shows(rows, ",") and not whole["."] else "."
    file = "," if whole[","] > whole["."] else "." if whole["."] else ties
    own = [("," if c[","] > c["."] else ".") if c else file for c in counts]
    return file, (*own, *[file] * (width - len(own)))


def _shows(rows: list[list[str]], mark: str) -> bool:
    return any(mark in cell for row in rows for cell in row if read_cell(cell).kind == "number")


def _remarks(lines: list[str]) -> tuple[tuple[str, str], ...]:
    remarks = []
    for line in lines:
        text = line.strip().strip('"').strip()
        if not text.strip(";,|\t #") or _TOLD.fullmatch(text):
            continue
        parts = next((p for mark in (":", "=", "\t", ";", ",") if (p := text.partition(mark))[1]), (text, "", ""))
        remarks.append((parts[0].strip(' "#'), parts[2].strip(' ",;\t')))
    return tuple(remarks)


def _no_values(lines: list[str], where: str) -> FormatError | DamagedRecording:
    filled = [line for line in lines if line.strip()]
    if 0 < len(filled) <= 3 and any(len(cut(filled[-1], mark)) > 1 for mark in _DELIMITERS[:4]) and len(filled) < 2:
        return DamagedRecording("there are headings and no rows below them", where=where, todo="Export it again")
    shown = filled[0].strip()[:40] if filled else ""
    shown = shown if shown.isprintable() else "bytes that are no text"
    return FormatError(
        "no rows of numbers were found",
        given=f"first line “{shown}”",
        where=where,
        expected="a table with one parameter in each column",
        todo="Export the log as CSV",
    )
