"""A column of a parameter log: its numbers, and everything in its cells that is none."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.units import unit_spelt

__all__ = ["ColumnKind", "LogColumn", "Undecoded", "name_and_unit"]

FloatArray = NDArray[np.float64]
ColumnKind = Literal["number", "clock", "text", "empty"]

_BRACKETED = re.compile(r"(?P<name>.*?)\s*(?:\[(?P<square>[^\]\[]*)\]|\((?P<round>[^()]*)\))\s*", re.DOTALL)
_SEPARATED = re.compile(
    r"(?P<name>.*?\S)\s*(?P<mark>[,;/]|\s[-\u2013]|\s+in|_)\s*(?P<unit>[^\s,;_]{1,12}(?: C| F| CA)?)", re.DOTALL
)
_PER = re.compile(r"(?P<name>.*\S)\s*(?P<unit>/\s*min|1/min|min-1|min⁻¹)", re.IGNORECASE | re.DOTALL)
# The stroke of "kg/h" belongs to the unit, and does not part a name from an "h".
_WITH_STROKE = re.compile(r"(?P<name>.*?[^\s,;/\-\u2013])(?:\s+in)?\s+(?P<unit>[^\s/,;]+\s?/\s?[^\s/]+)", re.DOTALL)
# A name may end in a lone letter or in a word that happens to be a unit ("Bank 1, A", "Pedal_F"); behind a stroke or
# "in" it is a unit ("Zeit / s").
_NEVER = frozenset({"in", "pin", "pins", "count", "teeth", "tooth"})
_LETTERS = frozenset("acfkmhsv")
# Units that end a name without being its unit: "run time min", "gear count".
_WORDS = _NEVER | {"min", "sec", "secs", "second", "seconds", "minute", "minutes", "hour", "hours", "std", "seg", "sek"}
_WORDS |= {"kilometer", "miles", "mile"}


@dataclass(frozen=True, slots=True)
class Undecoded:
    """A text in a column of numbers that is no number: an answer nobody decoded, a word.

    Parameters
    ----------
    text : str
        Verbatim, cut after 60 characters.
    count : int
    lines : tuple of int
        The first lines of the file that hold it.
    """

    text: str
    count: int
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class LogColumn:
    """One column.

    Parameters
    ----------
    index : int
        Position in the file, from 0; the time is counted like any other.
    heading : str
        Verbatim; "" where there is none.
    name : str
        The heading without its unit.
    label : str
        The heading, told apart from others of the same text: "Speed", "Speed (2)"; "column 4" where there is none.
    kind : "number", "clock", "text" or "empty"
        "clock": times of day or durations, in seconds.
    values : array, shape (n_rows,)
        As the file holds them, in ``unit``; NaN where there is none. Of a column of text, the numbers of the words.
    unit : str or None
        As ``witnessmark.units`` calls it where it is known there, else as written; None when the file does not say.
    unit_from : "heading", "row", "cells" or None
        Where the unit stands.
    heading_unit : str or None
        Unit as written in heading or unit row, whatever the cells say.
    cell_units : mapping of str to int
        Units as written inside the cells, and in how many.
    decimal : str
        "," or ".".
    words : tuple of str
        Of a column of text: the word of each number.
    filled : int
        How many cells hold a value (a number, a time; in a column of text, a word).
    missing_words : mapping of str to int
        Words that stand for nothing ("N/A", "--"), and how often.
    undecoded : tuple of Undecoded
        Texts among numbers, commonest first; in a column of text, undecoded answers among the words.
    examples : tuple of str
        The first few different cells, verbatim.
    notes : tuple of str
        What a careful person should know of this column.
    """

    index: int
    heading: str
    name: str
    label: str
    kind: ColumnKind
    values: FloatArray
    unit: str | None = None
    unit_from: Literal["heading", "row", "cells"] | None = None
    heading_unit: str | None = None
    cell_units: Mapping[str, int] = field(default_factory=dict)
    decimal: str = "."
    words: tuple[str, ...] = ()
    filled: int = 0
    missing_words: Mapping[str, int] = field(default_factory=dict)
    undecoded: tuple[Undecoded, ...] = ()
    examples: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        values = self.values.view()
        values.flags.writeable = False
        object.__setattr__(self, "values", values)
        object.__setattr__(self, "cell_units", MappingProxyType(dict(self.cell_units)))
        object.__setattr__(self, "missing_words", MappingProxyType(dict(self.missing_words)))

    def __repr__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"LogColumn({self.index} “{self.label[:40]}”{unit}, {self.kind}, {self.filled} of {self.values.size} rows)"
        )

    @property
    def there(self) -> NDArray[np.bool_]:
        """Which rows hold a value, shape (n_rows,)."""
        return np.isfinite(self.values)

    @property
    def undecoded_count(self) -> int:
        """How many cells hold a text that could not be read."""
        return sum(each.count for each in self.undecoded)

    @property
    def whole(self) -> bool:
        """Whether all its values are whole numbers."""
        values = self.values[self.there]
        return bool(values.size) and bool((values == np.rint(values)).all())

    def word_at(self, row: int) -> str | None:
        """The word in a row of a column of text; None where there is none."""
        value = self.values[row]
        return self.words[int(value)] if self.kind == "text" and np.isfinite(value) else None


def name_and_unit(heading: str) -> tuple[str, str | None]:
    """A heading without its unit, and the unit as written.

    Parameters
    ----------
    heading : str

    Returns
    -------
    name : str
    unit : str or None

    Examples
    --------
    >>> name_and_unit("Coolant (°C)"), name_and_unit("Motordrehzahl /min"), name_and_unit("Trim (Bank 1)")
    (('Coolant', '°C'), ('Motordrehzahl', '/min'), ('Trim (Bank 1)', None))
    >>> name_and_unit("Air mass kg/h"), name_and_unit("Zeit / s")
    (('Air mass', 'kg/h'), ('Zeit', 's'))
    """
    found = _BRACKETED.fullmatch(heading)
    if found:
        inside = (found["square"] if found["square"] is not None else found["round"]).strip()
        # Square brackets hold units and little else; round ones may hold "Bank 1".
        loose = found["square"] is not None and len(inside) <= 10 and not inside[-1:].isdigit()
        if not inside or unit_spelt(inside) is not None or loose:
            return found["name"] or heading, inside or None
        return heading, None
    found = _WITH_STROKE.fullmatch(heading)
    if found and unit_spelt(found["unit"]) is not None:
        return found["name"], found["unit"]
    found = _PER.fullmatch(heading)
    if found:
        return found["name"], found["unit"]
    found = _SEPARATED.fullmatch(heading)
    if found and _is_unit_behind(found["mark"].strip(), found["unit"].casefold()):
        # After an underscore the word is part of the name as well: ENGINE_RPM is no ENGINE.
        return (heading if found["mark"] == "_" else found["name"]), found["unit"]
    last = heading.rsplit(None, 1)
    if len(last) == 2 and unit_spelt(last[1]) is not None and last[1].casefold() not in _WORDS:
        if not last[1].isalpha():
            return last[0], last[1]
        # "Engine RPM": the word is part of the name as well. A lone letter behind a name is no unit.
        return heading, last[1] if len(last[1]) > 2 else None
    return heading, None


def _is_unit_behind(mark: str, unit: str) -> bool:
    if unit_spelt(unit) is None or unit in _NEVER:
        return False
    if mark in ("/", "in"):
        return True
    return unit not in (_LETTERS - set("sv") if mark in ",;" else _LETTERS)
