"""One cell of a parameter log: a number with or without a unit, a time, nothing, or words."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Literal, NamedTuple

from witnessmark.recording.cells import MISSING_WORDS
from witnessmark.units import unit_spelt

__all__ = ["Cell", "CellKind", "mark_shown", "plain_number", "read_cell", "unit_text"]

CellKind = Literal["number", "clock", "missing", "text"]
_LONGEST = 256
_NAN = float("nan")

_MISSING = MISSING_WORDS | {"no data", "nodata", "n.a.", "n/d", "n.d.", "k.a.", "s/d", "nd", "n/v", "unknown"}
_MISSING -= {""}
_BLANKS = " \u00a0\u202f\u2009'\u2019"
_NUMBER = re.compile(
    rf"(?P<sign>[+\-\u2212\u2013]?)\s*(?P<body>\d[\d.,]*(?:[{_BLANKS}]\d{{3}}(?!\d)(?:[.,]\d*)?)*|[.,]\d+)"
    r"(?P<exponent>[eE][+-]?\d{1,3})?(?P<unit>.*)",
    re.DOTALL,
)
_BLANK_GROUPS = re.compile(rf"\d{{1,3}}(?:[{_BLANKS}]\d{{3}})+(?:[.,]\d*)?")
_GROUPS = {",": re.compile(r"[1-9]\d{0,2}(?:,\d{3})+"), ".": re.compile(r"[1-9]\d{0,2}(?:\.\d{3})+")}
# A unit holds digits in a few known spellings only; "410C0FA0" is an answer nobody decoded, not 410 of something.
_UNIT = re.compile(r"[^\W\d_]{1,12}|[%°º˚‰λ/\"”][^\d;:|]{0,12}|[^\W\d_]{1,6}(?:[/·.* ²³\-][^\W\d_]{0,6}[²³]?){1,3}")
_CLOCK = re.compile(
    r"(?:(?P<iso>\d{4}[-/.]\d{1,2}[-/.]\d{1,2})|(?P<date>\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}))?(?:(?:(?<=\d)[ T_]+|^)"
    r"(?P<h>\d{1,3}):(?P<m>\d{2})(?::(?P<s>\d{2})(?:[.,:](?P<fraction>\d{1,9}))?|(?P<tenths>[.,]\d{1,3}))?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?:Z|UTC|[+-]\d{2}:?\d{2})?)?"
)


# A degree sign read in the wrong encoding.
_LOST_DEGREE = re.compile(r"^(Â[°º]|\ufffd|\?(?=[CF]$)|ï¿½)")
_DATED = re.compile(r"\d{1,4}([-/.])\d{1,2}\1\d{2,4}(?!\d)")


class Cell(NamedTuple):
    """What a cell holds.

    Parameters
    ----------
    kind : "number", "clock", "missing" or "text"
    value : float
        The number, or the time in seconds; NaN for the others.
    unit : str or None
        As written behind the number.
    """

    kind: CellKind
    value: float = _NAN
    unit: str | None = None


_NOTHING, _WORDS = Cell("missing"), Cell("text")


def read_cell(text: str, decimal: str = ".") -> Cell:
    """What a cell of a log holds.

    Parameters
    ----------
    text : str
        As in the file.
    decimal : str
        "," or ".": what a mark means that could be either, as in 1,234.

    Returns
    -------
    Cell

    Examples
    --------
    >>> read_cell("24,77g/s")
    Cell(kind='number', value=24.77, unit='g/s')
    >>> read_cell("00:00:54").value
    54.0
    """
    text = text.strip().strip('"').strip()
    if not text or text.casefold() in _MISSING:
        return _NOTHING
    if len(text) > _LONGEST:
        return _WORDS
    if ":" in text or _DATED.match(text):
        seconds = _clock(text)
        if seconds is not None:
            return Cell("clock", seconds)
    found = _NUMBER.fullmatch(text)
    if found is None:
        return _WORDS
    unit = _LOST_DEGREE.sub("°", found["unit"].strip())
    exponent = found["exponent"] or ""
    if exponent and (unit or _is_answer(found["body"], exponent)):
        return _WORDS
    # "1/min" alone is a unit, and no number.
    if unit and (not unit_text(unit) or (unit[0] == "/" and unit_spelt(text) is not None)):
        return _WORDS
    value = plain_number(found["body"].strip(_BLANKS), decimal)
    if value is None:
        return _WORDS
    if exponent:
        value = float(f"{value!r}{exponent}") if "e" not in repr(value) else value * 10.0 ** int(exponent[1:])
    if value == float("inf"):
        return _WORDS
    return Cell("number", -value if found["sign"] not in ("", "+") else value, unit or None)


def _is_answer(body: str, exponent: str) -> bool:
    """Whether digits around an E are an answer in hexadecimal (410E80), not a number with an exponent (1.5E3)."""
    return body.isdigit() and len(body) > 1 and exponent[1].isdigit()


def unit_text(text: str) -> bool:
    """Whether what stands behind a number can be a unit.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool
    """
    return unit_spelt(text) is not None or _UNIT.fullmatch(text) is not None


def plain_number(body: str, decimal: str) -> float | None:
    """A number without sign or exponent, its thousands grouped or not; None when its marks make no sense.

    Parameters
    ----------
    body : str
        Digits, marks and blanks.
    decimal : str
        What a mark means that could be either.

    Returns
    -------
    float or None [-]

    Examples
    --------
    >>> plain_number("1.234,5", "."), plain_number("1,234", "."), plain_number("1,234", ","), plain_number("1,2,3", ".")
    (1234.5, 1234.0, 1.234, None)
    """
    if not body.replace(".", "").replace(",", "").isdigit():
        if not _BLANK_GROUPS.fullmatch(body):
            return None
        body = body.translate(dict.fromkeys(map(ord, _BLANKS)))
    points, commas = body.count("."), body.count(",")
    if points and commas:
        last = "." if body.rindex(".") > body.rindex(",") else ","
        head, _, tail = body.rpartition(last)
        other = "," if last == "." else "."
        return float(f"{head.replace(other, '')}.{tail}") if _GROUPS[other].fullmatch(head) else None
    mark = "," if commas else "."
    if points + commas > 1 or (points + commas == 1 and mark != decimal and _GROUPS[mark].fullmatch(body)):
        return float(body.replace(mark, "")) if _GROUPS[mark].fullmatch(body) else None
    return float(body.replace(",", "."))


def mark_shown(text: str) -> str | None:
    """The decimal mark that a cell proves, or None when it proves none.

    Parameters
    ----------
    text : str

    Returns
    -------
    str or None

    Examples
    --------
    >>> mark_shown("24,77g/s"), mark_shown("1.234,5"), mark_shown("1,234"), mark_shown("88")
    (',', ',', None, None)
    """
    cell = read_cell(text)
    if cell.kind != "number":
        return None
    body = _NUMBER.fullmatch(text.strip().strip('"').strip())
    marks = body["body"] if body else ""
    points, commas = marks.count("."), marks.count(",")
    if points and commas:
        return "." if marks.rindex(".") > marks.rindex(",") else ","
    if points + commas != 1:
        # 1.234.567: the repeated mark groups thousands, so the other one is the decimal mark.
        return None if points + commas == 0 else "," if points else "."
    mark = "." if points else ","
    return None if _GROUPS[mark].fullmatch(marks.strip(_BLANKS)) else mark


def _clock(text: str) -> float | None:
    """Seconds of a time of day, of a duration, or of a date with a time (then since 1970 where the year leads)."""
    found = _CLOCK.fullmatch(text)
    if found is None or (found["h"] is None and found["iso"] is None and found["date"] is None):
        return None
    day = _day(*re.split(r"[-/.]", found["iso"])) if found["iso"] else _european_day(found["date"])
    if found["h"] is None or day is None:
        return day or None
    first, second, third = int(found["h"]), int(found["m"]), int(found["s"] or 0)
    if second > 59 or third > 60:
        return None
    if found["tenths"]:
        # Two fields with a fraction are minutes and seconds.
        return day + 60.0 * first + second + float(found["tenths"].replace(",", "."))
    if found["half"]:
        first = first % 12 + (12 if found["half"][0] in "Pp" else 0)
    return day + 3600.0 * first + 60.0 * second + float(f"{third}.{found['fraction'] or 0}")


def _european_day(date: str | None) -> float | None:
    """Day.month.year. With other marks the month may come first: such a date counts as none; midnight shows anyway."""
    if not date or "." not in date:
        return 0.0
    day, month, year = date.split(".")
    return _day(f"20{year}" if len(year) == 2 else year, month, day)


def _day(year: str, month: str, day: str) -> float | None:
    try:
        return datetime(int(year), int(month), int(day), tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return None
