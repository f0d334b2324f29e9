"""Numbers, chances, odds and decibans as people read them.

Plain and short, and never surer than the number beside it. A minus sign is a minus sign, a
number keeps its unit on its line, and a spread is said to one figure.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime

__all__ = [
    "NBSP",
    "angle",
    "apportion",
    "at_start",
    "between",
    "bound",
    "chance",
    "counted",
    "deciban_words",
    "decibans",
    "estimate",
    "inside",
    "listed",
    "minutes",
    "moment",
    "number",
    "odds",
    "places_for",
    "sentence",
    "signed",
    "unit_of",
]

NBSP = "\N{NO-BREAK SPACE}"
_NUMBER_UNIT = re.compile(r"(?<=\d) (?=(?:%|mm|rpm|kPa|V|s|bit|bits|min|minutes|pins|teeth|times)\b|%|±)")
_SIGN_NUMBER = re.compile(r"(?<=[<>±]) (?=\d)")
MINUS = "\N{MINUS SIGN}"
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_UNITS = {
    "deg": "°",
    "cam_deg": f"°{NBSP}of cam",
    "C": f"{NBSP}°C",
    "F": f"{NBSP}°F",
    "deg/s": "°/s",
    "mm2": f"{NBSP}mm²",
    "m/s2": f"{NBSP}m/s²",
    "rad/s2": f"{NBSP}rad/s²",
    "1/turn": f"{NBSP}a turn",
    "1/min": f"{NBSP}a minute",
    "1/s": f"{NBSP}a second",
    "1/1000": f"{NBSP}in 1000",
    "mohm": f"{NBSP}mΩ",
    "ohm": f"{NBSP}Ω",
    "uS": f"{NBSP}µS",
    "count": "",
    "own": "",
    "0..3": f"{NBSP}of 3",
    "-": "",
    "": "",
}
_AFTER = ("1/turn", "1/min", "1/s", "1/1000", "0..3")  # units in words stand behind the spread
_COUNTED = {"pin": ("pin", "pins"), "tooth": ("tooth", "teeth"), "pitch": ("pitch", "pitches")}
_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def number(value: float, places: int = 0) -> str:
    """A number with so many decimals, with a true minus sign and thousands set apart.

    Examples
    --------
    >>> number(-11.08, 1)
    '−11.1'
    >>> number(-0.04, 1)
    '0.0'
    """
    text = f"{abs(value):.{places}f}"
    whole, dot, rest = text.partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", NBSP)
    negative = value < 0 and any(digit not in "0." for digit in text)
    return f"{MINUS if negative else ''}{whole}{dot}{rest}"


def signed(value: float, places: int = 1) -> str:
    """A number with its sign, plus as well."""
    text = number(value, places)
    return text if text.startswith(MINUS) or not any(d in "123456789" for d in text) else f"+{text}"


def places_for(sd: float, value: float = 0.0) -> int:
    """How many decimals a spread of this size is worth: one figure of it, two where it begins with a one.

    Examples
    --------
    >>> places_for(0.23), places_for(0.94), places_for(1.0, -11.0), places_for(14.0)
    (1, 1, 0, 0)
    """
    if sd <= 0.0 or (float(sd).is_integer() and float(value).is_integer()):
        return 0 if float(value).is_integer() or abs(value) >= 1000 else 1
    exponent = math.floor(math.log10(sd * 1.0527))  # 0.95 and more is said as 1
    leading_one = sd / 10.0**exponent < 1.95 and exponent >= 0
    return max(0, -exponent + (1 if leading_one and exponent == 0 else 0))


def unit_of(unit: str, value: float = 2.0) -> str:
    """What is written after a number of this unit, its space included."""
    if unit in _COUNTED:
        one, many = _COUNTED[unit]
        return f"{NBSP}{one if abs(value) == 1 else many}"
    return _UNITS.get(unit, f"{NBSP}{unit}")


def estimate(value: float, sd: float, unit: str, *, repeat_unit: bool = False, plus: bool = False) -> str:
    """A value and its spread: "−11.1° ± 0.2".

    Parameters
    ----------
    value, sd : float
        In ``unit``; a spread of 0 is left out.
    unit : str
    repeat_unit : bool
        Write the unit behind the spread too, for running text.
    plus : bool
        Write a plus sign before what is above 0.

    Returns
    -------
    str
    """
    places = places_for(sd, value)
    head = signed(value, places) if plus else number(value, places)
    text = f"{head}{unit_of(unit, value)}"
    if sd <= 0.0:
        return text
    if unit in _AFTER:
        return f"{head}{NBSP}±{NBSP}{number(sd, places)}{unit_of(unit)}"
    tail = unit_of(unit) if repeat_unit and unit not in _COUNTED else ""
    return f"{text}{NBSP}±{NBSP}{number(sd, places)}{tail}"


def angle(value_deg: float, sd_deg: float = 0.0, *, ahead: bool = False) -> str:
    """An angle in words, + = early: "11.1° ± 0.2° late".

    Parameters
    ----------
    value_deg, sd_deg : float [deg]
    ahead : bool
        Say ahead and behind instead, for marks that are looked at.

    Returns
    -------
    str
    """
    places = places_for(sd_deg, value_deg)
    size = estimate(abs(value_deg), sd_deg, "deg", repeat_unit=True)
    if number(abs(value_deg), places).strip("0.") == "":
        return f"{size} off" if sd_deg else "in its place"
    early, late = ("ahead", "behind") if ahead else ("early", "late")
    return f"{size} {early if value_deg > 0 else late}"


def chance(probability: float) -> str:
    r"""A probability in whole percent, never 0 and never 100.

    Examples
    --------
    >>> chance(0.736), chance(0.004), chance(0.9999)
    ('74\xa0%', '<\xa01\xa0%', '>\xa099\xa0%')
    """
    percent = 100.0 * probability
    if percent < 0.95:
        return f"<{NBSP}1{NBSP}%"
    if percent > 99.05:
        return f">{NBSP}99{NBSP}%"
    return f"{min(99, max(1, round(percent)))}{NBSP}%"


def odds(db: float) -> str:
    """Odds that so many decibans make: "6 to 1", "1 to 6", "about even".

    Examples
    --------
    >>> odds(7.9), odds(-12.6), odds(0.3), odds(2.2)
    ('6 to 1', '1 to 18', 'about even', '1.7 to 1')
    """
    ratio = 10.0 ** (min(abs(db), 60.0) / 10.0)
    if ratio < 1.12:
        return "about even"
    if ratio > 10_000:
        size = f"over {number(10_000)}"
    elif ratio >= 100:
        step = 10.0 ** (math.floor(math.log10(ratio)) - 1)
        size = number(round(ratio / step) * step)
    elif ratio < 1.75:
        size = number(ratio, 1)
    else:  # halves up to ten
        size = number(round(2.0 * ratio) / 2.0 if ratio < 9.75 else ratio, 1 if ratio < 9.75 else 0).removesuffix(".0")
    return f"{size} to 1" if db > 0 else f"1 to {size}"


def decibans(value: float) -> str:
    """Decibans with sign and one decimal."""
    return signed(value, 1)


def deciban_words(value: float) -> str:
    """Decibans in words: under 3 a hint, 3 to 8 speaks, 8 to 15 strongly, above 15 all but decides."""
    size = abs(value)
    if size < 0.05:
        return "says nothing"
    if size < 3.0:
        return "a hint"
    if size > 15.0:
        return "all but rules it in" if value > 0 else "all but rules it out"
    how = "speaks strongly" if size >= 8.0 else "speaks"
    return f"{how} {'for' if value > 0 else 'against'} it"


def apportion(parts: Sequence[float], total: float, places: int = 1) -> list[float]:
    """Parts rounded so that what is printed adds up exactly to the printed total.

    Parameters
    ----------
    parts : sequence of float
    total : float
        What they add up to before rounding.
    places : int
        Decimals that are printed.

    Returns
    -------
    list of float
        Each within one unit of the last decimal of its part.

    Notes
    -----
    Largest remainders: all are rounded down, then those that lost most get a unit back.

    Examples
    --------
    >>> apportion([1.04, 1.04, 1.04], 3.12)
    [1.0, 1.0, 1.1]
    >>> round(sum(apportion([6.04, 5.43, -6.13, 2.55], 7.89)), 1)
    7.9
    """
    scale = 10.0**places
    wanted = round(total * scale)
    floors = [math.floor(part * scale) for part in parts]
    missing = wanted - sum(floors)
    by_loss = sorted(range(len(parts)), key=lambda i: (floors[i] - parts[i] * scale, -abs(parts[i]), -i))
    while parts and missing:
        step = 1 if missing > 0 else -1
        for i in by_loss if step > 0 else reversed(by_loss):
            if missing:
                floors[i] += step
                missing -= step
    return [unit / scale for unit in floors]


def minutes(span: tuple[float, float, float]) -> str:
    """Minutes with their spread: "25, likely 18 to 40"."""
    low, typical, high = span
    text = number(typical)
    return text if round(low) == round(high) else f"{text}, likely {number(low)} to {number(high)}"


def counted(count: int, one: str, many: str | None = None) -> str:
    """A small count in words: "two codes", "no reading", "14 findings"."""
    name = one if count == 1 else (many or f"{one}s")
    return f"{_SMALL[count] if count < len(_SMALL) else count} {name}"


def listed(items: Sequence[str], last: str = "and") -> str:
    """Items as a sentence lists them: "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def between(low: float, high: float, unit: str) -> str:
    """A range: "310 to 390 mm"."""
    return f"{number(low)} to {number(high)}{unit_of(unit)}"


def at_start(text: str) -> str:
    """The same words with a capital, for the head of a sentence; the name of a file stays as it is."""
    first = text.split(" ", 1)[0].rstrip(":,.;")
    return text if "." in first or "_" in first else text[:1].upper() + text[1:]


def moment(text: str) -> str:
    """A date, or a date with its time, as people write it; anything else as it stands.

    Examples
    --------
    >>> moment("2026-03-17"), moment("2026-03-17T09:05:12+00:00"), moment("12 March 10:21")
    ('17 March 2026', '17 March 2026, 09:05 UTC', '12 March 10:21')
    """
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return text
    day = f"{when.day} {_MONTHS[when.month - 1]} {when.year}"
    if "T" not in text and ":" not in text:
        return day
    offset = when.utcoffset()
    zone = "" if offset is None else " UTC" if not offset else f" {when:%z}"
    return f"{day}, {when:%H:%M}{zone}"


def inside(text: str) -> str:
    """The same words for the middle of a sentence: small letter, no full stop; what begins like TDC or P0016 stays."""
    text = text.strip().removesuffix(".")
    first = text.split(" ", 1)[0]
    if len(first) > 1 and any(c.isupper() or c.isdigit() for c in first[1:]):
        return text
    return text[:1].lower() + text[1:]


def bound(text: str) -> str:
    """The same words with each number kept on one line with its unit or sign."""
    return _NUMBER_UNIT.sub(NBSP, _SIGN_NUMBER.sub(NBSP, text))


def sentence(text: str) -> str:
    """The same words as a sentence: capital first, a full stop at the end, numbers bound to their units."""
    text = bound(text.strip())
    if not text:
        return ""
    return at_start(text) if text.endswith((".", "?", "!", "…", "”")) else f"{at_start(text)}."
