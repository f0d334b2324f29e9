"""Rows of the catalogue of faults, as the files have them: one file a system, each row naming state variables only.

All of them are weighed against each other, and any of them can be put into an engine by hand
(:mod:`witnessmark.catalogue.spelt`).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from typing import Any

from witnessmark.errors import one_of

__all__ = ["SYSTEMS", "Catalogue", "FaultRow", "Repair", "Together", "catalogue", "check_repair_job"]

SYSTEMS = (
    "drive",
    "cylinder",
    "air",
    "exhaust",
    "sensors",
    "fuel",
    "ignition",
    "electrical",
    "oil",
    "work",
)
"""All systems, by the names of their files in ``data/faults/``."""


@dataclass(frozen=True, slots=True)
class Repair:
    """What cures a fault.

    Parameters
    ----------
    job : str
        One job at one scope is one repair, whatever it cures.
    cause : str
        What it cures, in a few words.
    minutes : tuple of float, shape (3,) [min]
        Low, typical, high.
    success : float [-]
        Chance that it cures.
    words : str
    cures : tuple of str
        Parts whose renewal is (part of) it.
    """

    job: str
    cause: str
    minutes: tuple[float, float, float]
    success: float
    words: str
    cures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Together:
    """Parts that wear, or are wrong, as a set: plugs, injectors, lash.

    Parameters
    ----------
    share : float [-]
        Of the row's prior that befalls all of them alike.
    words : str
        All places together, for people.
    fault : str
        The fault in words, as it befalls all.
    repair : Repair
    high : mapping of str to float
        By variable, in its unit: how far it goes at most where all go alike; what one part may come to by breaking,
        all of them do not come to by wear.
    """

    share: float
    words: str
    fault: str
    repair: Repair
    high: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One line of the catalogue.

    Parameters
    ----------
    id, words, place : str
    edits : tuple of mapping
        As in the file.
    onset : str
        Letters S, L, W, I and of what sets it off.
    prior : float [1/1000]
        Per 1,000 complaints, the engine's total.
    factors : mapping of str to float [-]
        By a, k, o, w.
    repair : Repair
    needs : str, optional
    system : str
        One of :data:`SYSTEMS`.
    together : Together, optional
        Where its parts may go as a set.
    shares : mapping of str to float [-]
        By the last part of a place's id ("exhaust" of "3.exhaust"): how much of the row falls on such places, against
        the others. Empty: all alike.
    """

    id: str
    words: str
    place: str
    edits: tuple[Mapping[str, Any], ...]
    onset: str
    prior: float
    factors: Mapping[str, float]
    repair: Repair
    needs: str | None
    system: str = "drive"
    together: Together | None = None
    shares: Mapping[str, float] = field(default_factory=dict)

    def as_set(self) -> FaultRow:
        """This row as it befalls all its parts alike."""
        if self.together is None:
            return self
        edits = tuple(
            {**e, "high": self.together.high.get(e["variable"], e["high"])} if "high" in e else e for e in self.edits
        )
        return replace(self, words=self.together.fault, repair=self.together.repair, edits=edits)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Rows, and what the other hypotheses weigh, per 1,000 complaints.

    Parameters
    ----------
    rows : tuple of FaultRow
    others : mapping of str to float [1/1000]
    """

    rows: tuple[FaultRow, ...]
    others: Mapping[str, float]

    def row(self, name: str) -> FaultRow:
        """The row of this id; the first, where one id stands for several kinds of part.

        Parameters
        ----------
        name : str

        Returns
        -------
        FaultRow

        Raises
        ------
        KeyError
            If there is none.
        """
        for row in self.rows:
            if row.id == name:
                return row
        raise KeyError(name)


@cache
def catalogue(systems: tuple[str, ...] = SYSTEMS) -> Catalogue:
    """The faults of some systems, from ``data/faults/<system>.toml``.

    Parameters
    ----------
    systems : tuple of str
        Of :data:`SYSTEMS`; all of them if left out.

    Returns
    -------
    Catalogue

    Raises
    ------
    InputError
        For a system that is not there; names the nearest.
    """
    for system in systems:
        if system not in SYSTEMS:
            raise one_of("system", system, SYSTEMS)
    drive = _file("drive")
    minutes = {name: (float(a), float(b), float(c)) for name, (a, b, c) in drive["minutes"].items()}
    rows = tuple(_row(raw, minutes, system) for system in systems for raw in _file(system)["fault"])
    return Catalogue(rows, {name: float(value) for name, value in drive["others"].items()})


def check_repair_job(name: str) -> None:
    """Refuse a job that cures nothing of the list.

    Parameters
    ----------
    name : str

    Raises
    ------
    InputError
        Names the nearest.
    """
    known = {row.repair.job for row in catalogue().rows}
    if name not in known:
        raise one_of("repair", name, sorted(known))


@cache
def _file(system: str) -> Mapping[str, Any]:
    return tomllib.loads(files("witnessmark").joinpath(f"data/faults/{system}.toml").read_text(encoding="utf-8"))


def _row(raw: Mapping[str, Any], minutes: Mapping[str, tuple[float, float, float]], system: str) -> FaultRow:
    fix = raw["repair"]
    repair = Repair(
        fix["job"], fix["cause"], minutes[fix["minutes"]], fix["success"] / 100.0, fix["words"], tuple(raw["cures"])
    )
    return FaultRow(
        id=raw["id"],
        words=raw["words"],
        place=raw["place"],
        edits=tuple(raw["edit"]),
        onset=raw["onset"],
        prior=float(raw["prior"]),
        factors={name: float(value) for name, value in raw.get("factors", {}).items()},
        repair=repair,
        needs=raw.get("needs"),
        system=system,
        together=_together(raw["together"], repair) if "together" in raw else None,
        shares={name: float(value) for name, value in raw.get("shares", {}).items()},
    )


def _together(raw: Mapping[str, Any], repair: Repair) -> Together:
    whole = replace(repair, cause=raw["cause"], words=raw["repair"])
    high = {name: float(value) for name, value in raw.get("high", {}).items()}
    return Together(float(raw["share"]), raw["place"], raw["words"], whole, high)
