"""The unit that a heading or its cells state, in whatever spelling, and the name that is left."""

from __future__ import annotations

import re

from witnessmark.recording.columns.lexicon import UNREAD
from witnessmark.recording.columns.naming import mended
from witnessmark.recording.logtable import LogColumn
from witnessmark.units import unit, unit_spelt

__all__ = ["name_and_stated", "stated_unit"]

_BRACKETED = re.compile(r"(?P<name>.*?)\s*[\[({](?P<unit>[^\])}]*)[\])}]\s*(?P<rest>.*)", re.DOTALL)
_BEHIND = re.compile(
    r"(?P<name>.*?\w.*?)\s*(?:\s/|/|,|;|\bin\b|\ben\b|\bem\b)\s*(?P<unit>[^\s,;/]+(?:/[^\s,;/]+)?)\s*", re.DOTALL
)
_TAIL = re.compile(
    r"(?P<name>.*[^\W_])_(?P<unit>[A-Za-z%°]+(?:_[A-Za-z]{1,3})?)|(?P<camel>.*[a-z0-9])(?P<hump>[A-Z][A-Za-z]{0,4})"
)
# A unit behind a blank: only such as are no words and no labels ("Bank A", "sensor 1 in").
_SPACED = re.compile(
    r"(?i)(?P<name>.*\w\W*)\s(?P<unit>[°º]?[CFV]|%|kpa|mbar|hpa|bar|psi|inhg|rpm|km/h|kmh|kph|mph|g/s|kg/h|l/h|[uµ]s|ms|mv|ma|°)"
)
_LETTERS_APART = {"C": "C", "F": "F", "V": "V"}
# A single letter at the end of a heading is a unit only where it cannot be one of several of the same kind.
_LETTERS = {"c": "C", "f": "F", "v": "V", "s": "s"}
_BESIDES = re.compile(r"(?<=[a-z])[\[(]?(absolute?|absolut[ao]?|abs|rel|gauge|relativ[eao]?)[\])]?\.?$")
_DEGREES = re.compile(r"(°|deg|grad|gr$|degres|degrés|grados|graus|gradi)(?![cfk]$).{0,14}")
_SPELLINGS = {
    "": frozenset({"lambda", "λ", "-", "--", "1", "ratio", "count", "counts", "none", "n", "#", "[-]", "nr", "anzahl"}),
    "AFR": frozenset({"afr", ":1", "afr:1"}),
    "rpm": frozenset(
        {
            "tr/mn",
            "trmn",
            "trmin",
            "tpm",
            "umin",
            "rev/min",
            "n/min",
            "rpmin",
            "v/min",
            "r/m",
            "giri",
            "tours/min",
            "1min",
        }
    ),
    "C": frozenset(
        {"°c", "?c", "c°", "gradcelsius", "gradosc", "grausc", "gradic", "degresc", "degrésc", "ºc", "oc", "degc"}
    ),
    "F": frozenset({"°f", "?f", "f°", "gradosf", "degf"}),
    "g/s": frozenset({"gs", "gsec", "gramos/s", "gps"}),
    "kg/h": frozenset({"kgh"}),
    "L/h": frozenset({"lh", "litros/h", "litres/h", "litri/h"}),
    "km/h": frozenset({"kmh", "kmph"}),
    "%": frozenset({"pc", "pct", "porc", "por ciento", "vh", "v.h."}),
    "kPa": frozenset({"kpa"}),
    "mbar": frozenset({"hpa", "mb"}),
    "s": frozenset({"segundos", "secondes", "segundo", "secondi", "seg"}),
    "ms": frozenset({"millis", "milisegundos", "millisecondes", "millisekunden"}),
    "min": frozenset({"minutos", "mn", "minuti"}),
    "V": frozenset({"voltios", "volts"}),
}


def name_and_stated(column: LogColumn) -> tuple[str, str | None]:
    """What a column is called, and its unit as the table of units calls it where it is there.

    Parameters
    ----------
    column : LogColumn

    Returns
    -------
    name : str
    unit : str or None
    """
    if column.unit is not None and column.unit_from != "heading":
        return _without_unit(column.heading)[0], stated_unit(column.unit)
    if column.unit is not None and _is_unit(stated_unit(column.unit)):
        return column.name, stated_unit(column.unit)
    name, found = _without_unit(column.heading)
    return name, found if found is not None else stated_unit(column.unit)


def stated_unit(text: str | None) -> str | None:
    """The unit that a file states, as the table of units calls it where it is there.

    Parameters
    ----------
    text : str or None
        As written.

    Returns
    -------
    str or None
    """
    if text is None or not text.strip():
        return None
    bare = "".join(mended(text.strip()).split()).casefold().replace(UNREAD, "°").strip(".:")
    bare = _BESIDES.sub("", bare) or bare
    for known, spellings in _SPELLINGS.items():
        if bare in spellings:
            return known
    if _DEGREES.fullmatch(bare):
        return "deg"
    known_unit = unit_spelt(bare)
    return "mbar" if known_unit == "hPa" else known_unit or bare


def _without_unit(heading: str) -> tuple[str, str | None]:
    heading = mended(heading)
    found = _BRACKETED.fullmatch(heading)
    if found and (_is_unit(known := stated_unit(found["unit"])) or not found["unit"].strip()):
        return f"{found['name']} {found['rest']}".strip() or heading, known
    found = _BEHIND.fullmatch(heading)
    if found:
        letter = _LETTERS.get(found["unit"].casefold()) if "/" in heading else None
        known = letter or stated_unit(found["unit"])
        if (letter or len(found["unit"]) > 1) and _is_unit(known):
            return found["name"], known
    found = _SPACED.fullmatch(heading)
    if found and _is_unit(known := _LETTERS_APART.get(found["unit"]) or stated_unit(found["unit"])):
        return found["name"], known
    found = _TAIL.fullmatch(heading)
    if found:
        name, text = found["name"] or found["camel"], found["unit"] or found["hump"]
        known = _LETTERS.get(text.casefold()) if found["unit"] else None
        if known is None and len(text) > 1:
            known = stated_unit(text.replace("_", "/")) or stated_unit(text)
        if _is_unit(known) and text.casefold() not in ("in", "min", "m", "h", "pin", "deg", "count", "rpm"):
            return name, known
    return heading, None


def _is_unit(name: str | None) -> bool:
    if name is None:
        return False
    if name in ("", "AFR"):
        return True
    try:
        unit(name)
    except ValueError:
        return False
    return True
