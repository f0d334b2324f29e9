"""A page of readings, one parameter a line, as a log of one row: "Engine speed; 812; rpm"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.recording.logtable.cells import read_cell
from witnessmark.recording.logtable.layout import cut
from witnessmark.recording.text import decode_words
from witnessmark.units import unit_spelt

__all__ = ["Page", "find_page"]

# Blanks last: they stand between words as well.
_DELIMITERS = (";", "\t", "|", "=", ":", ",", " ")
_MOST_BYTES = 100_000
_MOST_LINES = 500
_NAME = re.compile(r"[^\W\d_].*")
_HEADS = re.compile(r"(?i)(value|wert|valeur|valor|valore|waarde|reading|parameter|name|actual|measured|ist).*")


@dataclass(frozen=True, slots=True)
class Page:
    """A page of readings.

    Parameters
    ----------
    delimiter : str
    names, values : tuple of str
        Verbatim.
    units : tuple of str or None
        From a third column.
    first_line : int
        Line of the first reading, from 1.
    header : tuple of str
        Lines that are no reading.
    """

    delimiter: str
    names: tuple[str, ...]
    values: tuple[str, ...]
    units: tuple[str, ...] | None
    first_line: int
    header: tuple[str, ...]


def find_page(data: bytes) -> Page | None:
    r"""The page of readings in a text, or None where it is something else.

    Parameters
    ----------
    data : bytes
        Plain text from :func:`witnessmark.recording.text.to_text`.

    Returns
    -------
    Page or None

    Examples
    --------
    >>> find_page(b"Engine speed: 812 rpm\nCoolant: 88 C\nAir flow: 4,1 g/s\n").names
    ('Engine speed', 'Coolant', 'Air flow')
    >>> find_page(b"rpm 812\ncoolant 88 C\nshort trim b1 -4.7 %\n").names
    ('rpm', 'coolant', 'short trim b1')
    """
    if len(data) > _MOST_BYTES or data.count(b"\n") > _MOST_LINES:
        return None
    lines = [line.strip() for line in decode_words(data).replace("\0", "\ufffd").split("\n")]
    pages = [page for mark in _DELIMITERS if (page := _page(lines, mark)) is not None]
    return max(pages, key=lambda page: len(page.names), default=None)


def _page(lines: list[str], mark: str) -> Page | None:
    readings: dict[str, tuple[str, str]] = {}
    others: list[str] = []
    first = 0
    numbers = 0
    for number, line in enumerate(lines, start=1):
        if not line:
            continue
        reading = _reading(line, mark)
        if reading is None:
            others.append(line)
            continue
        name, value, unit = reading
        if name in readings:
            return None
        numbers += read_cell(value).kind in ("number", "clock")
        first = first or number
        readings[name] = (value, unit)
    # A table has rows of several numbers; a page has a name, and one value, in nearly every line.
    if len(readings) < 3 or len(others) > 0.2 * len(readings) + 1 or numbers < 0.6 * len(readings):
        return None
    units = tuple(unit for _, unit in readings.values())
    values = tuple(value for value, _ in readings.values())
    return Page(mark, tuple(readings), values, units if any(units) else None, first, tuple(others))


def _reading(line: str, mark: str) -> tuple[str, str, str] | None:
    """Name, value and unit of a line; None when it holds something else."""
    if mark == " ":
        return _spoken(line)
    name, found, rest = line.partition(mark)
    name = name.strip().strip('"').strip()
    if not found or not _NAME.fullmatch(name) or read_cell(name).kind != "text":
        return None
    if mark in "=:" or (mark == "," and read_cell(rest, ",").kind == "number" and '"' not in rest):
        cells = [rest.strip()]
    else:
        cells = cut(rest, mark)
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    if not cells or len(cells) > 2 or len(cells[0]) > 60:
        return None
    unit = cells[1] if len(cells) == 2 else ""
    if _HEADS.fullmatch(name) and _HEADS.fullmatch(cells[0]):
        return None
    return (name, cells[0], unit) if not unit or unit_spelt(unit.strip("[]()")) or len(unit) <= 8 else None


def _spoken(line: str) -> tuple[str, str, str] | None:
    """Name and value of a line without any mark, as one types it: "short trim b1 -4.7 %"."""
    words = line.split()
    for k in range(1, len(words)):
        name, value = " ".join(words[:k]), " ".join(words[k:])
        cell = read_cell(value)
        if cell.kind == "clock" or (cell.kind == "number" and (cell.unit is None or unit_spelt(cell.unit))):
            return (name, value, "") if _NAME.fullmatch(name) and read_cell(name).kind == "text" else None
    return None
