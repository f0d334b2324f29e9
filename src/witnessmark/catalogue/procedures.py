"""Tests and interventions: what to do, what it costs, and which quantities it yields on an engine.

:func:`procedures` are those of the timing drive, which the planner weighs; :func:`all_procedures` the whole engine's.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from witnessmark.catalogue.drivetests import PLACES, has_reference
from witnessmark.engine.stateplaces import is_boosted, phased_cams
from witnessmark.engine.types import Engine
from witnessmark.errors import one_of
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["WHEN", "Procedure", "Procedures", "all_procedures", "procedures"]

_PLANNED = "drive"
_OTHERS = ("link", "scope", "gauge", "cylinder", "meter", "eyes", "interventions")

WHEN: Mapping[str, str] = {
    "X": "off",
    "K": "key_on",
    "C": "cranking",
    "I": "idle",
    "M": "raised",
    "L": "cruise",
    "F": "full_load",
    "N": "snap",
    "O": "overrun",
}
"""Letters of ``when`` and the state each means."""

_COOLANT_C: Mapping[str, float] = {"c": 20.0, "h": 90.0}


@dataclass(frozen=True, slots=True)
class Procedure:
    """One test or intervention.

    Parameters
    ----------
    id, words, tool : str
    minutes : float [min]
        Typical, without the cover; half and double are low and high.
    cover : str, optional
        What must come off first.
    hazards : tuple of str
        Full sentences.
    yields : tuple
        Quantity, for which places, under which condition: rows of the data file.
    needs : str, optional
        "phaser", "two_phasers" or "boosted".
    needs_reference : bool
        Absolute cam angles only where the crank wheel's reference is described.
    """

    id: str
    words: str
    tool: str
    minutes: float
    cover: str | None
    hazards: tuple[str, ...]
    yields: tuple[Mapping[str, Any], ...]
    needs: str | None
    needs_reference: bool

    def queries(self, engine: Engine) -> tuple[Query, ...]:
        """What it would yield on an engine; empty where it does not apply.

        Parameters
        ----------
        engine : Engine
            With its drive described.

        Returns
        -------
        tuple of Query
        """
        if not self._applies(engine):
            return ()
        found: dict[Query, None] = {}  # a reading that two rows of a test name is taken once
        for row in self.yields:
            if row["quantity"] == "cam_phase_error" and self.needs_reference and not has_reference(engine):
                continue
            for place, at in _spots(engine, row["each"]):
                for seen in _looked_for(row, place):
                    found.update((Query(row["quantity"], seen, condition), None) for condition in _conditions(row, at))
        return tuple(found)

    def _applies(self, engine: Engine) -> bool:
        if self.needs == "boosted":
            return is_boosted(engine)
        least = {"phaser": 1, "two_phasers": 2}.get(str(self.needs), 0)
        return len(phased_cams(engine)) >= least


def _spots(engine: Engine, each: str) -> list[tuple[Place, str]]:
    """Every place of a list, and what is changed meanwhile."""
    if each in PLACES:
        return [(place, "") for place in PLACES[each](engine)]
    from witnessmark.catalogue.testplaces import SPOTS  # reads supply graphs: not for the drive alone

    if each not in SPOTS:
        raise one_of("list of places", each, (*PLACES, *SPOTS))
    return SPOTS[each](engine)


def _looked_for(row: Mapping[str, Any], place: Place) -> Iterator[Place]:
    """The place, once for each word that is looked, smelt or listened for there."""
    words = row.get("look_for")
    if words is None:
        yield place
        return
    for word in str(words).split():
        yield place.with_keys(word=word)


def _conditions(row: Mapping[str, Any], at: str) -> Iterator[Condition]:
    """The conditions of a row: one as it stands there, or one for each letter of its ``when``."""
    if "when" not in row:
        yield Condition(**row.get("condition", {}))
        return
    letters = str(row["when"])
    coolant = next((c for letter, c in _COOLANT_C.items() if letter in letters), None)
    during = str(row["during"]).replace("{}", at) if "during" in row else None
    for letter in letters:
        if letter not in _COOLANT_C:
            yield Condition(state=WHEN[letter], coolant_c=coolant, phaser=row.get("phaser"), during=during)


@dataclass(frozen=True, slots=True)
class Procedures:
    """All procedures, and the covers they share.

    Parameters
    ----------
    all : tuple of Procedure
    covers : mapping of str to (float, str), shape () [min]
        Minutes off and on, and what comes off in words.
    last_hazard : str
        The caution that ends every list.
    repair_hazards : mapping of str to tuple of str
        Cautions of a repair, by the system of the catalogue whose fault it cures; full sentences.
    """

    all: tuple[Procedure, ...]
    covers: Mapping[str, tuple[float, str]]
    last_hazard: str
    repair_hazards: Mapping[str, tuple[str, ...]]


@cache
def procedures() -> Procedures:
    """The tests that concern the timing drive, from ``data/tests/drive.toml``.

    Returns
    -------
    Procedures
    """
    return _read((_PLANNED,))


@cache
def all_procedures() -> Procedures:
    """The tests and interventions of the whole engine, in the order of the files.

    Returns
    -------
    Procedures
        Those of the drive among them, with everything else they yield.
    """
    return _read(_OTHERS)


def _read(names: tuple[str, ...]) -> Procedures:
    drive = _file(_PLANNED)
    own = {raw["id"]: _procedure(raw, drive["hazard"]) for raw in drive["test"]}
    found: dict[str, Procedure] = {}
    covers = dict(drive["cover"])
    for name in names:
        data = _file(name)
        covers |= data.get("cover", {})
        for raw in data["test"]:
            if "more" in raw:
                known = own[raw["more"]]
                found[known.id] = replace(known, yields=(*known.yields, *raw["yields"]))
            else:
                found[raw["id"]] = _procedure(raw, drive["hazard"])
    found = {**found, **{name: test for name, test in own.items() if name not in found}}
    minutes = {name: (float(row["minutes"]), row["words"]) for name, row in covers.items()}
    said = drive["hazard"]
    repairs = {name: tuple(said[str(one)] for one in numbers) for name, numbers in drive["repair_hazard"].items()}
    return Procedures(tuple(found.values()), minutes, said["last"], repairs)


def _file(name: str) -> Mapping[str, Any]:
    return tomllib.loads(files("witnessmark").joinpath(f"data/tests/{name}.toml").read_text(encoding="utf-8"))


def _procedure(raw: Mapping[str, Any], hazards: Mapping[str, str]) -> Procedure:
    return Procedure(
        id=raw["id"],
        words=raw["words"],
        tool=raw["tool"],
        minutes=float(raw["minutes"]),
        cover=raw.get("cover"),
        hazards=tuple(hazards[str(number)] for number in raw["hazards"]),
        yields=tuple(raw["yields"]),
        needs=raw.get("needs"),
        needs_reference=bool(raw.get("needs_reference", False)),
    )
