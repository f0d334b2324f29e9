"""How a table of text is written: delimiter, decimal mark, headings, units, where the numbers begin."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording.cells import is_clock, is_number, number_in, split_cells
from witnessmark.recording.text import decode_words

__all__ = ["Dialect", "find_dialect"]

_DELIMITERS = (";", "\t", "|", ",", " ")
# Enough to see past any heading; cutting every line in every possible way takes time.
_LINES = 400
_NAMED = {";": "semicolon", "\t": "tab", "|": "bar", ",": "comma", " ": "blanks"}
_BRACKETED = re.compile(r"(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*")
_UNIT_WORD = re.compile(
    r"(?i)(n|u|µ|μ|m|k)?(s|sec|v|volts?|a|amps?|pa|hz|ohm|w)|min|rpm|1/min|bar|psi|mbar|°c?|deg\w?|%|g/s|°f|km/h"
)
_SEPARATOR_LINE = re.compile(r"(?i)sep=(.)")


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a table of text is written.

    Parameters
    ----------
    delimiter : str
        One character; " " stands for any run of blanks.
    decimal : str
        "." or ",".
    quoted : bool
        Cells stand in quotation marks.
    trailing : bool
        Every row ends with a delimiter that no cell follows.
    names : tuple of str
        Headings, "" where there is none.
    units : tuple of str or None
        Units as written.
    clock : tuple of bool
        Which columns hold times of day.
    first_line : int
        Line of the file with the first numbers, from 1.
    offset : int
        Byte at which that line begins.
    header : tuple of (str, str)
        Lines above the headings.
    whole : tuple of bool
        Which columns are written without a decimal mark or exponent.
    """

    delimiter: str
    decimal: str
    quoted: bool
    trailing: bool
    names: tuple[str, ...]
    units: tuple[str | None, ...]
    clock: tuple[bool, ...]
    first_line: int
    offset: int
    header: tuple[tuple[str, str], ...]
    whole: tuple[bool, ...]

    @property
    def columns(self) -> int:
        """Number of columns."""
        return len(self.names)

    @property
    def has_headings(self) -> bool:
        """Whether the file names its columns."""
        return any(self.names)

    def cells(self, line: str) -> list[str]:
        """The cells of one line, blanks and quotation marks taken off."""
        if self.quoted:
            return [
                cell.strip() for cell in next(csv.reader([line], delimiter=self.delimiter, skipinitialspace=True), [])
            ]
        return split_cells(line, self.delimiter)

    def describe(self) -> str:
        """In words, for the history of a recording."""
        mark = "comma" if self.decimal == "," else "point"
        return f"{self.columns} columns, delimiter {_NAMED[self.delimiter]}, decimal {mark}"


@dataclass(frozen=True, slots=True)
class _Guess:
    """One way to cut the lines: how many are rows of numbers, and how wide."""

    delimiter: str
    decimal: str
    quoted: bool
    width: int
    rows: tuple[int, ...]


def find_dialect(head: bytes, where: str, *, complete: bool) -> Dialect:
    """How the table that begins with these bytes is written.

    Parameters
    ----------
    head : bytes
        Plain text from :func:`witnessmark.recording.text.to_text`.
    where : str
        File name, for messages.
    complete : bool
        Whether ``head`` is the whole file; if not, its last line may be cut and is not looked at.

    Raises
    ------
    FormatError
        There are no rows of numbers.
    DamagedRecording
        There are headings and nothing below.
    """
    raw_lines = head.split(b"\n")
    if not complete and len(raw_lines) > 1:
        raw_lines = raw_lines[:-1]
    lines = [decode_words(line).rstrip("\r") for line in raw_lines[:_LINES]]
    guess = _best_guess(lines)
    if guess is None:
        raise _no_numbers(lines, where)
    first = guess.rows[0]
    rows = [_cells(lines[i], guess) for i in guess.rows[:200]]
    # An empty last cell in every row is the mark of a delimiter too many; in some rows only it is a missing number.
    trailing = guess.width > 1 and guess.delimiter != " " and all(row[-1] == "" for row in rows)
    width = guess.width - trailing
    names, units, above = _headings(lines[:first], guess, width)
    return Dialect(
        delimiter=guess.delimiter,
        decimal=guess.decimal,
        quoted=guess.quoted,
        trailing=trailing,
        names=names,
        units=units,
        clock=tuple(any(is_clock(row[k]) for row in rows) for k in range(width)),
        first_line=first + 1,
        offset=sum(len(line) + 1 for line in raw_lines[:first]),
        header=_remarks(above),
        whole=tuple(all(row[k].lstrip("+-").isdigit() for row in rows if row[k]) for k in range(width)),
    )


def _best_guess(lines: list[str]) -> _Guess | None:
    """The cut that makes most lines rows of numbers; among equals the first delimiter that makes columns."""
    told = next((m.group(1) for line in lines[:1] if (m := _SEPARATOR_LINE.fullmatch(line.strip()))), None)
    delimiters = (told,) if told in _DELIMITERS else _DELIMITERS
    guesses = [g for d in delimiters for g in (_guess(lines, d, ","), _guess(lines, d, ".")) if g]
    if not guesses:
        return None
    most = max(len(g.rows) for g in guesses)
    good = [g for g in guesses if len(g.rows) >= 0.9 * most]
    # A point reads "1" as well as a comma does, so a comma wins only where it makes more rows.
    return max(good, key=lambda g: (g.width > 1, len(g.rows), g.decimal == "."))


def _guess(lines: list[str], delimiter: str, decimal: str) -> _Guess | None:
    quoted = sum('"' in line for line in lines) > len(lines) / 2
    if delimiter == decimal and not quoted:
        return None
    probe = _Guess(delimiter, decimal, quoted, 0, ())
    widths: dict[int, int] = {}
    for i, line in enumerate(lines):
        cells = _cells(line, probe)
        if _is_row(cells, decimal):
            widths[i] = len(cells)
    if not widths:
        return None
    width = Counter(widths.values()).most_common(1)[0][0]
    rows = [i for i, n in widths.items() if n == width]
    # A remark above the headings may look like a row of numbers; the table begins below the headings.
    while len(rows) > 2 and any(_is_heading(line, probe, width) for line in lines[rows[0] + 1 : rows[1]]):
        rows = rows[1:]
    return _Guess(delimiter, decimal, quoted, width, tuple(rows))


def _is_heading(line: str, guess: _Guess, width: int) -> bool:
    """Whether every cell of a line is a word."""
    cells = [cell for cell in _cells(line, guess) if cell]
    return len(cells) >= max(width - 1, 1) and not any(
        is_number(cell, ".") or is_number(cell, ",") or cell[0].isdigit() for cell in cells
    )


def _cells(line: str, guess: _Guess) -> list[str]:
    if guess.quoted:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=guess.delimiter, skipinitialspace=True), [])]
    return split_cells(line, guess.delimiter)


def _is_row(cells: list[str], decimal: str) -> bool:
    """At least one number or time of day, and nothing that is no value."""
    values = [is_clock(cell) or number_in(cell, decimal) is not None for cell in cells]
    return bool(cells) and all(values) and any(is_clock(cell) or is_number(cell, decimal) for cell in cells)


def _headings(above: list[str], guess: _Guess, width: int) -> tuple[tuple[str, ...], tuple[str | None, ...], list[str]]:
    """Names and units of the columns out of the lines above the numbers, and the lines left over."""
    blank_names: tuple[str, ...] = ("",) * width
    no_units: tuple[str | None, ...] = (None,) * width
    filled = [i for i, line in enumerate(above) if line.strip(f" \t{guess.delimiter}")]
    if not filled:
        return blank_names, no_units, []
    last = _fitting(above[filled[-1]], guess, width)
    if last is None:
        return blank_names, no_units, above
    if len(filled) > 1 and _is_unit_row(last):
        named = _fitting(above[filled[-2]], guess, width)
        if named is not None:
            split = [_name_and_unit(cell) for cell in named]
            units = tuple(_bare_unit(cell) or own for cell, (_, own) in zip(last, split, strict=True))
            return tuple(name for name, _ in split), units, above[: filled[-2]]
    split = [_name_and_unit(cell) for cell in last]
    return tuple(name for name, _ in split), tuple(unit for _, unit in split), above[: filled[-1]]


def _fitting(line: str, guess: _Guess, width: int) -> list[str] | None:
    """The cells of a heading line, when it has as many as there are columns (a blank or unnamed last one is borne)."""
    quoted = _Guess(guess.delimiter, guess.decimal, '"' in line, 0, ())
    cells = _cells(line.lstrip("#").strip(" \r"), quoted)
    if len(cells) == width + 1 and cells[-1] == "":
        cells = cells[:-1]
    if len(cells) != width and guess.delimiter == " ":
        cells = [cell for cell in re.split(r"\t|  +|[;,]\s*", line.strip()) if cell]
    return cells if len(cells) == width else None


def _is_unit_row(cells: list[str]) -> bool:
    bare = [cell for cell in cells if cell]
    return bool(bare) and all(_UNIT_WORD.fullmatch(cell) or _is_bracketed_alone(cell) for cell in bare)


def _is_bracketed_alone(cell: str) -> bool:
    found = _BRACKETED.fullmatch(cell)
    return found is not None and not found.group("name")


def _bare_unit(cell: str) -> str | None:
    found = _BRACKETED.fullmatch(cell)
    return (found.group("unit") if found else cell).strip() or None


def _name_and_unit(cell: str) -> tuple[str, str | None]:
    found = _BRACKETED.fullmatch(cell)
    if found and found.group("name"):
        return found.group("name").strip(), found.group("unit").strip() or None
    name, _, unit = cell.rpartition("/")
    if name and _UNIT_WORD.fullmatch(unit.strip()):
        return name.strip(), unit.strip()
    return cell, None


def _remarks(lines: list[str]) -> tuple[tuple[str, str], ...]:
    remarks = []
    for line in lines:
        text = line.strip().strip('"')
        if not text:
            continue
        key, mark, value = next(
            (parts for mark in (":", "=", "\t", ";", ",") if (parts := text.partition(mark))[1]), (text, "", "")
        )
        remarks.append((key.strip(' "#'), value.strip(' ",;')) if mark else (text.lstrip("# "), ""))
    return tuple(remarks)


def _no_numbers(lines: list[str], where: str) -> FormatError | DamagedRecording:
    filled = [line for line in lines if line.strip()]
    widths = {mark: {len(split_cells(line, mark)) for line in filled} for mark in _DELIMITERS[:4]}
    looks_like_headings = 0 < len(filled) <= 3 and any(len(w) == 1 and min(w) > 1 for w in widths.values())
    if looks_like_headings:
        return DamagedRecording("there are headings and no rows below them", where=where, todo="Export it again")
    shown = filled[0].strip()[:40] if filled else ""
    return FormatError(
        "no rows of numbers were found",
        given=f"first line “{shown}”",
        where=where,
        expected="a table of numbers with a time column",
        todo="Export the recording as CSV",
    )
