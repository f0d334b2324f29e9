"""What a cell of a table can hold: a number, a level, a time of day, nothing."""

from __future__ import annotations

import re
from datetime import UTC, datetime

__all__ = ["LEVEL_WORDS", "MISSING_WORDS", "clock_seconds", "is_clock", "is_number", "number_in", "split_cells"]

MISSING_WORDS = frozenset(
    {"", "nan", "-nan", "nan(ind)", "-nan(ind)", "n/a", "na", "#n/a", "-", "--", "---", "null", "none", "?", "*"}
)
OVER_RANGE = {"inf": 1.0, "+inf": 1.0, "infinity": 1.0, "∞": 1.0, "+∞": 1.0, "overflow": 1.0, "ol": 1.0, "-inf": -1.0}
OVER_RANGE |= {"-infinity": -1.0, "-∞": -1.0, "-overflow": -1.0, "underflow": -1.0}
LEVEL_WORDS = {"true": 1.0, "false": 0.0, "high": 1.0, "low": 0.0, "h": 1.0, "l": 0.0, "on": 1.0, "off": 0.0}

_DOT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(\d+(,\d+)?|,\d+)([eE][+-]?\d+)?")
_CLOCK = re.compile(
    r"(?:(\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4})[ T]+)?(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?Z?"
)
_MINUS = str.maketrans({"\u2212": "-", "\u2013": "-", "\u00a0": ""})


def split_cells(line: str, delimiter: str) -> list[str]:
    """The cells of a line without the blanks around them; " " stands for any run of blanks."""
    if delimiter == " ":
        return line.split()
    return [cell.strip() for cell in line.split(delimiter)]


def is_number(cell: str, decimal: str) -> bool:
    """Whether a cell is a number with this decimal mark."""
    return bool((_COMMA if decimal == "," else _DOT).fullmatch(cell.translate(_MINUS)))


def is_clock(cell: str) -> bool:
    """Whether a cell is a time of day, with or without a date."""
    return bool(_CLOCK.fullmatch(cell))


def number_in(cell: str, decimal: str) -> float | None:
    """The number in a cell: NaN for none, ±inf for over range, 0 and 1 for level words; None for anything else."""
    cell = cell.translate(_MINUS)
    if is_number(cell, decimal):
        return float(cell.replace(",", "."))
    word = cell.strip('"').strip().casefold()
    if word in MISSING_WORDS:
        return float("nan")
    if word in OVER_RANGE:
        return OVER_RANGE[word] * float("inf")
    return LEVEL_WORDS.get(word)


def clock_seconds(cell: str) -> tuple[float, str | None] | None:
    """Seconds since midnight in a time of day, and its date as written; None when it is none.

    Two fields are hours and minutes.
    """
    found = _CLOCK.fullmatch(cell)
    if not found:
        return None
    date, hours, minutes, seconds = found.groups()
    total = 3600.0 * int(hours) + 60.0 * int(minutes) + float((seconds or "0").replace(",", "."))
    if int(minutes) > 59:
        return None
    if date and "-" in date:
        day = datetime.fromisoformat(date).replace(tzinfo=UTC)
        return total + day.timestamp(), date
    return total, date
