"""The closed lists that findings are made of: quantities, places, conditions.

The quantities themselves stand in ``data/quantities.toml`` with their units, places and
usual spreads; nothing in the program invents another.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from witnessmark.errors import InputError, one_of

__all__ = ["CAMS", "GRADES", "STATES", "Condition", "Place", "Quantity", "Query", "quantities", "quantity"]

STATES = (
    "off",
    "key_on",
    "cranking",
    "warm_up",
    "idle",
    "raised",
    "cruise",
    "acceleration",
    "full_load",
    "snap",
    "overrun",
)
CAMS = ("intake", "exhaust", "single")
GRADES = 4
"""Grades of what is seen, smelt or heard: 0 looked for and not so, 1 slightly, 2 plainly, 3 grossly."""
_WORD_VALUES = {"cam": CAMS, "other_cam": CAMS}
_INTEGERS = ("bank", "other_bank", "cylinder")
PLACE_KEYS = (
    "bank",
    "cylinder",
    "cam",
    "other_cam",
    "other_bank",
    "wheel",
    "mesh",
    "other_mesh",
    "chain",
    "mark",
    "edge",
    "sensor",
    "code",
    "learnt_item",
    "part",
    "node",
    "other_node",
    "valve",
    "plug",
    "position",
    "duct",
    "fluid",
    "fuel",
    "rail",
    "pump",
    "module",
    "battery",
    "actuator",
    "driveline",
    "order",
    "gas",
    "zone",
    "word",
)


_LEARNT_UNITS = {"cam_zero": "deg", "crank_variation": "%", "throttle_zero": "%", "fuel_trim": "%"}


@dataclass(frozen=True, slots=True)
class Quantity:
    """One line of the closed list.

    Parameters
    ----------
    name, unit, what : str
        Name, the unit it is kept in, and what it is in words.
    keys : tuple of str
        The place keys that say where it was taken, the needed ones first.
    optional : tuple of str
        Place keys that may be left out.
    sd : float
        Usual standard deviation when none is given, in ``unit`` (relative: a share of the
        value); for yes/no the chance of a wrong answer.
    relative : bool
    kind : str
        "number", "count", "yes_no", "sign" or "grade": how much of a word, 0 to 3.
    instrument : str
        Class of instrument that shares one noise scale and one bias.
    zones : tuple of str
        Values that ``zone=`` may have; empty where it is not a place of this quantity.
    by_share : bool
        Whether what sound engines differ in moves it by a share of what it is, so that half the value has half the
        spread: a cylinder that leaks is cranked, filled and squeezed like its neighbours.
    """

    name: str
    unit: str
    what: str
    keys: tuple[str, ...]
    optional: tuple[str, ...]
    sd: float
    relative: bool
    kind: str
    instrument: str
    zones: tuple[str, ...] = ()
    by_share: bool = False

    @property
    def words(self) -> tuple[str, ...]:
        """The words of a grade; empty where it takes a number alone."""
        return tuple(word.strip() for word in self.what.split(",")) if self.kind == "grade" else ()

    def default_sd(self, value: float) -> float:
        """The usual spread at a value, in ``unit``."""
        return abs(value) * self.sd if self.relative else self.sd

    def unit_at(self, place: Place) -> str:
        """The unit at a place: what a computer learns has one for each item it learns.

        Parameters
        ----------
        place : Place
        """
        return _LEARNT_UNITS.get(str(place.get("learnt_item")), self.unit) if self.unit == "own" else self.unit


@cache
def quantities() -> Mapping[str, Quantity]:
    """All quantities by name.

    Returns
    -------
    mapping of str to Quantity
    """
    text = files("witnessmark").joinpath("data/quantities.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["quantity"]
    return {
        row["name"]: Quantity(
            name=row["name"],
            unit=row["unit"],
            what=row["what"],
            keys=tuple(row.get("keys", ())),
            optional=tuple(row.get("optional", ())),
            sd=float(row["sd"]),
            relative=bool(row.get("relative", False)),
            kind=row.get("kind", "number"),
            instrument=row["instrument"],
            zones=tuple(row.get("zones", ())),
            by_share=bool(row.get("by_share", False)),
        )
        for row in rows
    }


def quantity(name: str) -> Quantity:
    """The quantity of this name.

    Parameters
    ----------
    name : str

    Returns
    -------
    Quantity

    Raises
    ------
    InputError
        If the name is not in the list; names the nearest.
    """
    try:
        return quantities()[name]
    except KeyError:
        raise one_of("quantity", name, quantities()) from None


@dataclass(frozen=True, slots=True)
class Place:
    """Where something was measured: a few keys with their values, in a fixed order.

    Build with :meth:`of`; two places with the same keys and values are equal and hash alike.
    """

    items: tuple[tuple[str, str | int], ...] = ()

    @classmethod
    def of(cls, **keys: str | int | None) -> Place:
        """A place from its keys; ``None`` leaves a key out.

        Raises
        ------
        InputError
            For a key or a value outside the vocabulary.
        """
        known = {key: value for key, value in keys.items() if value is not None}
        return cls.from_mapping(known)

    @classmethod
    def from_mapping(cls, keys: Mapping[str, str | int]) -> Place:
        """A place from a mapping, checked against the vocabulary.

        Raises
        ------
        InputError
            For a key or a value outside the vocabulary.
        """
        checked: dict[str, str | int] = {}
        for key, value in keys.items():
            if key not in PLACE_KEYS:
                raise one_of("place", key, PLACE_KEYS)
            checked[key] = _checked_value(key, value)
        return cls(tuple(sorted(checked.items(), key=lambda item: PLACE_KEYS.index(item[0]))))

    def get(self, key: str) -> str | int | None:
        """The value at a key, or None."""
        return next((value for name, value in self.items if name == key), None)

    def as_dict(self) -> dict[str, str | int]:
        """Keys and values, as JSON wants them."""
        return dict(self.items)

    def with_keys(self, **keys: str | int | None) -> Place:
        """This place with some keys replaced (``None`` takes one away)."""
        return Place.of(**{**self.as_dict(), **keys})

    def __str__(self) -> str:
        return " ".join(f"{key}={value}" for key, value in self.items)


def _checked_value(key: str, value: str | int) -> str | int:
    if key in _INTEGERS:
        try:
            number = int(value)
        except (TypeError, ValueError):
            raise InputError(f"{key}={value} is not a whole number", given=str(value)) from None
        if number < 1:
            raise InputError(f"{key}={number}: counting starts at 1", given=str(value))
        return number
    text = str(value)
    if key in _WORD_VALUES and text not in _WORD_VALUES[key]:
        raise one_of(key, text, _WORD_VALUES[key])
    return text


@dataclass(frozen=True, slots=True)
class Condition:
    """Under which circumstances. Whatever is left out is not known.

    Parameters
    ----------
    state : str, optional
        One of :data:`STATES`.
    speed_rpm, coolant_c : float, optional
    phaser : str, optional
        "parked" or "moved".
    complaint : str, optional
        "present" or "absent".
    during : str, optional
        An intervention under way.
    freeze : str, optional
        The code whose freeze frame this is from.
    """

    state: str | None = None
    speed_rpm: float | None = None
    coolant_c: float | None = None
    phaser: str | None = None
    complaint: str | None = None
    during: str | None = None
    freeze: str | None = None

    def __post_init__(self) -> None:
        for key, value, allowed in (
            ("state", self.state, STATES),
            ("phaser", self.phaser, ("parked", "moved")),
            ("complaint", self.complaint, ("present", "absent")),
        ):
            if value is not None and value not in allowed:
                raise one_of(key, value, allowed)

    def as_dict(self) -> dict[str, str | float]:
        """What is known, as JSON wants it."""
        pairs = ((key, getattr(self, key)) for key in self.__slots__)
        return {key: value for key, value in pairs if value is not None}


@dataclass(frozen=True, slots=True)
class Query:
    """What would be read: a quantity, at a place, under a condition."""

    quantity: str
    place: Place = Place()
    condition: Condition = Condition()

    @property
    def kind(self) -> Quantity:
        """The line of the closed list."""
        return quantity(self.quantity)
