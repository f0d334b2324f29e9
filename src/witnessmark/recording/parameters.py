"""What a log can hold: the closed list of parameters, and which one of its kind a trace is.

The list stands in ``data/parameters.toml``. A trace of a log carries its :class:`Signal` as text in ``Trace.role``
("short_trim bank=1"), whatever file, payload or bus it came from.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from witnessmark.errors import InputError, one_of

__all__ = ["Parameter", "Signal", "parameters", "signal_of"]

_NUMBERS = ("bank", "sensor", "cylinder", "track")
_CAMS = ("intake", "exhaust", "single", "A", "B")


@dataclass(frozen=True, slots=True)
class Parameter:
    """One line of the closed list.

    Parameters
    ----------
    id, words, unit, kind : str
        ``unit`` is what values are kept in; ``kind`` is "signal", "count", "state", "time" or "text".
    keys, optional : tuple of str
        What says which one it is: needed, and what it may carry.
    low, high : float, optional [unit]
        What a sound vehicle's values can be.
    whole : bool
    """

    id: str
    words: str
    unit: str
    kind: str
    keys: tuple[str, ...] = ()
    optional: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    whole: bool = False

    @property
    def is_number(self) -> bool:
        """False for words and status."""
        return self.kind != "text"


@cache
def parameters() -> Mapping[str, Parameter]:
    """All parameters by id.

    Returns
    -------
    mapping of str to Parameter
    """
    text = files("witnessmark").joinpath("data/parameters.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["parameter"]
    return {
        row["id"]: Parameter(**row | {"keys": tuple(row.get("keys", ())), "optional": tuple(row.get("optional", ()))})
        for row in rows
    }


@dataclass(frozen=True, slots=True, order=True)
class Signal:
    """A parameter at its place: the second bank's long-term trim.

    Parameters
    ----------
    id : str
        Of the closed list.
    bank, sensor, cylinder, track : int, optional
        From 1; the sensor counts along the exhaust, the track within a twin potentiometer.
    cam : str, optional
        "intake", "exhaust" or "single"; "A" or "B" where the file says no more.

    Raises
    ------
    InputError
        For an id that is not on the list, a key it needs and has not, or one that it cannot carry.

    Examples
    --------
    >>> str(Signal("short_trim", bank=2))
    'short_trim bank=2'
    """

    id: str
    bank: int | None = None
    sensor: int | None = None
    cylinder: int | None = None
    track: int | None = None
    cam: str | None = None

    def __post_init__(self) -> None:
        known = parameters()
        if self.id not in known:
            raise one_of("parameter", self.id, known)
        row, given = known[self.id], set(self.where)
        missing = [key for key in row.keys if key not in given]
        beyond = sorted(given - set(row.keys) - set(row.optional))
        if missing or beyond:
            raise InputError(
                f"“{self.id}” does not say which one it is" if missing else f"“{self.id}” has no {beyond[0]}",
                given=" ".join(f"{key}={value}" for key, value in self.where.items()) or "nothing",
                expected=" ".join((*row.keys, *(f"[{key}]" for key in row.optional))) or "no key",
            )
        if self.cam is not None and self.cam not in _CAMS:
            raise one_of("cam", self.cam, _CAMS)
        for key in _NUMBERS:
            value = getattr(self, key)
            if value is not None and not 1 <= value <= 16:
                raise InputError(f"{key}={value} of “{self.id}”", expected="1 to 16")

    def __str__(self) -> str:
        return " ".join((self.id, *(f"{key}={value}" for key, value in self.where.items())))

    @property
    def where(self) -> dict[str, int | str]:
        """The keys it carries, in a fixed order."""
        found = {key: getattr(self, key) for key in (*_NUMBERS, "cam")}
        return {key: value for key, value in found.items() if value is not None}

    @property
    def parameter(self) -> Parameter:
        """Its line of the closed list."""
        return parameters()[self.id]

    @property
    def words(self) -> str:
        """What it is, for a person: "short-term fuel trim, bank 2"."""
        return ", ".join((self.parameter.words, *(f"{key} {value}" for key, value in self.where.items())))


def signal_of(text: str) -> Signal:
    """A signal from its text.

    Parameters
    ----------
    text : str
        "engine_speed", "o2_voltage bank=1 sensor=2".

    Returns
    -------
    Signal

    Raises
    ------
    InputError
        For a word that is not ``key=value``, a key or an id that is not known, or a number that is none.

    Examples
    --------
    >>> signal_of("o2_voltage bank=1 sensor=2").sensor
    2
    """
    name, *rest = text.split() or [""]
    given: dict[str, int | str] = {}
    for word in rest:
        key, mark, value = word.partition("=")
        if not mark:
            raise InputError(f"“{word}” in “{text}”", expected="key=value, as in bank=1")
        if key not in (*_NUMBERS, "cam"):
            raise one_of("key", key, (*_NUMBERS, "cam"))
        if key != "cam" and not value.isdecimal():
            raise InputError(f"“{word}” in “{text}”", expected=f"a whole number for {key}")
        given[key] = value if key == "cam" else int(value)
    return Signal(name, **given)  # type: ignore[arg-type]
