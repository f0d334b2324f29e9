"""How one number of an engine description is written, and what it may be.

::

    teeth = 20                                              exact
    teeth = {value = 20, source = "counted", note = "…"}    exact, and from where
    teeth = {between = [18, 24]}                            somewhere in a range
    teeth = {among = [20, 21, 22], odds = [3, 2, 1]}        one of a few; even odds if none are given

Left out means not known. No validation library is needed here; ``schema`` builds on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from witnessmark.engine.number import Number
from witnessmark.errors import EngineDefinitionError, InputError, one_of
from witnessmark.source import Source

__all__ = [
    "BORE",
    "CIRCLE",
    "COUNT",
    "CYCLE",
    "DISPLACEMENT",
    "EVENT",
    "INHERITED",
    "LENGTH",
    "LIFT",
    "LIMIT",
    "LINKS",
    "OFFSET",
    "PHASER",
    "PINS",
    "PITCH",
    "RATIO",
    "ROD",
    "SIGN",
    "SOURCE_KINDS",
    "TEETH",
    "TURN",
    "VOLUME",
    "Kind",
    "number_schema",
    "parse_number",
    "parse_source",
    "shorten",
]

SOURCE_KINDS = (
    "counted",
    "measured",
    "computed",
    "maker",
    "typical",
    "guess",
    "assumed",
    "invented",
    "stated",
    "unstated",
)
# Stands on a number that names no source of its own, until the description's own source takes its place.
INHERITED = Source("inherited")
_KEYS = ("value", "between", "among", "odds", "source", "note")
_SHAPES = ("value", "between", "among")


@dataclass(frozen=True, slots=True)
class Kind:
    """What sort of number it is: its bounds, whether whole, its unit, and what to call it.

    Parameters
    ----------
    words : str
        "a tooth count".
    low, high : float
        Bounds, both included.
    unit : str
    whole : bool
    signs : bool
        Only +1 and -1, or the words "advanced" and "retarded".
    """

    words: str
    low: float
    high: float
    unit: str = ""
    whole: bool = False
    signs: bool = False

    @property
    def expected(self) -> str:
        """In words, for error messages."""
        if self.signs:
            return '1 or "advanced" where + means advanced, -1 or "retarded" where + means retarded'
        unit = f" {self.unit}" if self.unit else ""
        whole = ", whole" if self.whole else ""
        return f"{self.words}, {self.low:g} to {self.high:g}{unit}{whole}"


TEETH = Kind("a tooth count", 6, 400, whole=True)
PITCH = Kind("a pitch", 2, 40, "mm")
LINKS = Kind("a count of links", 10, 600, whole=True)
PINS = Kind("a count of pins", 0, 600, whole=True)
CIRCLE = Kind("a roller's or guide's diameter", 5, 10_000, "mm")
LENGTH = Kind("a length", 0, 3000, "mm")
TURN = Kind("a crank angle within one turn", 0, 360, "degrees")
CYCLE = Kind("a crank angle within the cycle", 0, 720, "degrees")
PHASER = Kind("a phaser's travel, + = advance", -150, 150, "crank degrees")
LIMIT = Kind("a limit", 0, 90, "crank degrees")
BORE = Kind("a bore, stroke or diameter", 10, 250, "mm")
ROD = Kind("a connecting rod from eye to eye", 40, 500, "mm")
OFFSET = Kind("a pin offset, + = towards the thrust side", -20, 20, "mm")
RATIO = Kind("a compression ratio", 5, 20)
DISPLACEMENT = Kind("a displacement", 0.1, 12, "L")
EVENT = Kind("a valve event", -60, 120, "crank degrees")
LIFT = Kind("a valve lift", 0, 20, "mm")
COUNT = Kind("a count of valves", 1, 4, whole=True)
VOLUME = Kind("a volume", 0.05, 50, "L")
SIGN = Kind("a sign", -1, 1, signs=True)


def parse_source(source: object, note: object = None) -> Source:
    """The source that two words of a description name.

    Parameters
    ----------
    source : object
        A kind ("counted"), or a text that may begin with one ("maker's data, sheet 4", "guess: by its look").
    note : object
        More words.

    Returns
    -------
    Source
        Of kind "stated" where the text begins with no known kind.

    Raises
    ------
    EngineDefinitionError
        If either is not text.
    """
    for name, text in (("source", source), ("note", note)):
        if text is not None and not isinstance(text, str):
            raise EngineDefinitionError(f"{name} = {shorten(text)} is not text", expected="a few words in quotes")
    said, more = str(source or "").strip(), str(note or "").strip()
    if not said:
        return Source("stated", more) if more else INHERITED
    word = said.split()[0].lower().rstrip(",;:.").removesuffix("'s").removesuffix("’s")
    kind = word if word in SOURCE_KINDS else "stated"
    words = (
        "" if said.lower() == kind else said[len(kind) + 1 :].strip() if said.lower().startswith(f"{kind}:") else said
    )
    return Source(kind, "; ".join(filter(None, (words, more))))


def parse_number(kind: Kind, written: object) -> Number:
    """The number that a value of a description says.

    Parameters
    ----------
    kind : Kind
    written : object
        A plain number, or a table (the module's text shows each spelling).

    Returns
    -------
    Number
        With the source :data:`INHERITED` where it names none.

    Raises
    ------
    EngineDefinitionError
        For anything else, and for numbers outside what the kind allows.
    """
    if not isinstance(written, Mapping):
        return Number.exactly(_plain(kind, written), INHERITED)
    for key in written:
        if key not in _KEYS:
            raise _as_definition(one_of("key", str(key), _KEYS))
    shapes = [key for key in _SHAPES if key in written]
    if len(shapes) != 1:
        raise EngineDefinitionError(
            f"the table says {' and '.join(shapes) or 'no number'}", expected="one of value, between, among"
        )
    if "odds" in written and shapes != ["among"]:
        raise EngineDefinitionError(f"odds belong to among, not to {shapes[0]}")
    source = parse_source(written.get("source"), written.get("note"))
    given = written[shapes[0]]
    if shapes == ["value"]:
        return Number.exactly(_plain(kind, given), source)
    if shapes == ["between"]:
        return _between(kind, given, source)
    return Number.among(_list(kind, given), _odds(written.get("odds")), source)


def _between(kind: Kind, given: object, source: Source) -> Number:
    ends = _list(kind, given)
    if len(ends) != 2:
        raise EngineDefinitionError(f"between holds {len(ends)} numbers", expected="the lower and the upper end")
    if ends[0] >= ends[1]:
        raise EngineDefinitionError(
            f"the range from {ends[0]:g} to {ends[1]:g} is upside down or empty", expected="the lower end first"
        )
    return Number.between(ends[0], ends[1], source)


def _odds(given: object) -> list[float]:
    if given is None:
        return []
    if not isinstance(given, list | tuple) or not all(_is_number(odd) and 0 < odd < 1e9 for odd in given):
        raise EngineDefinitionError(f"odds = {shorten(given)}", expected="a number above 0 for each candidate")
    return [float(odd) for odd in given]


def _list(kind: Kind, given: object) -> list[float]:
    if not isinstance(given, list | tuple):
        raise EngineDefinitionError(f"{shorten(given)} is not a list", expected="numbers in square brackets")
    return [_plain(kind, one) for one in given]


def _plain(kind: Kind, given: object) -> float:
    if kind.signs and isinstance(given, str):
        given = {"advanced": 1, "retarded": -1}.get(given.strip().lower(), given)
    if not _is_number(given):
        raise EngineDefinitionError(f"{shorten(given)} is not a number", expected=kind.expected)
    value = float(given)  # type: ignore[arg-type]
    if not kind.low <= value <= kind.high or (kind.signs and value not in (-1.0, 1.0)):
        raise EngineDefinitionError(f"{value:g} cannot be", expected=kind.expected)
    if kind.whole and value != round(value):
        raise EngineDefinitionError(f"{value:g} is not a whole number", expected=kind.expected)
    return value


def _is_number(given: object) -> bool:
    return isinstance(given, int | float) and not isinstance(given, bool)


def shorten(given: object) -> str:
    """A value as a description would write it, short enough for one line.

    Parameters
    ----------
    given : object

    Returns
    -------
    str
    """
    text = str(given).lower() if isinstance(given, bool) else repr(given)
    return text if len(text) <= 40 else f"{text[:39]}…"


def _as_definition(error: InputError) -> EngineDefinitionError:
    return EngineDefinitionError(error.message, given=error.given, expected=error.expected, todo=error.todo)


@cache
def number_schema(kind: Kind) -> dict[str, Any]:
    """JSON Schema of one written number.

    Parameters
    ----------
    kind : Kind

    Returns
    -------
    dict
    """
    one: dict[str, Any] = {
        "type": "integer" if kind.whole else "number",
        "minimum": int(kind.low) if kind.low == int(kind.low) else kind.low,
        "maximum": int(kind.high) if kind.high == int(kind.high) else kind.high,
    }
    if kind.signs:
        one = {"enum": [1, -1, "advanced", "retarded"]}
    where = {"source": {"type": "string"}, "note": {"type": "string"}}
    positive = {"type": "number", "exclusiveMinimum": 0}
    shapes: list[dict[str, Any]] = [
        {"value": one},
        {"between": {"type": "array", "items": one, "minItems": 2, "maxItems": 2}},
        {"among": {"type": "array", "items": one, "minItems": 1}, "odds": {"type": "array", "items": positive}},
    ]
    tables = [
        {"type": "object", "properties": {**shape, **where}, "required": [first], "additionalProperties": False}
        for first, shape in zip(_SHAPES, shapes, strict=True)
    ]
    return {"description": kind.expected, "anyOf": [one, *tables]}
