"""Tests and interventions: what to do, what it costs, and which quantities it yields on an engine."""

from __future__ import annotations

import itertools
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["Procedure", "Procedures", "procedures"]


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
        "phaser" or "two_phasers".
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
        phased = _phased(engine)
        if (self.needs == "phaser" and not phased) or (self.needs == "two_phasers" and len(phased) < 2):
            return ()
        found = []
        for row in self.yields:
            if row["quantity"] == "cam_phase_error" and self.needs_reference and not _referenced(engine):
                continue
            condition = Condition(**row.get("condition", {}))
            found += [Query(row["quantity"], place, condition) for place in _PLACES[row["each"]](engine)]
        return tuple(found)


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
    """

    all: tuple[Procedure, ...]
    covers: Mapping[str, tuple[float, str]]
    last_hazard: str


@cache
def procedures() -> Procedures:
    """The tests that concern the timing drive, from ``data/tests/drive.toml``.

    Returns
    -------
    Procedures
    """
    text = files("witnessmark").joinpath("data/tests/drive.toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    hazards = data["hazard"]
    rows = tuple(_procedure(raw, hazards) for raw in data["test"])
    covers = {name: (float(row["minutes"]), row["words"]) for name, row in data["cover"].items()}
    return Procedures(rows, covers, hazards["last"])


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


def _phased(engine: Engine) -> list[str]:
    """Cams that have a phaser, or more likely than not."""
    drive = engine.drive
    phasers = {} if drive is None else dict(drive.phasers)
    return [cam.id for cam in engine.cams if cam.id in phasers and phasers[cam.id].presence >= 0.5]


def _referenced(engine: Engine) -> bool:
    wheel = engine.wheel(CRANK)
    return wheel is not None and wheel.reference_deg.is_known


def _cams(engine: Engine) -> list[Place]:
    return [Place.of(bank=cam.bank, cam=cam.kind) for cam in engine.cams]


def _phased_cams(engine: Engine) -> list[Place]:
    phased = set(_phased(engine))
    return [Place.of(bank=cam.bank, cam=cam.kind) for cam in engine.cams if cam.id in phased]


def _zeros(engine: Engine) -> list[Place]:
    if engine.reporting.learns is False:
        return []
    return [Place.of(learnt_item="cam_zero", bank=cam.bank, cam=cam.kind) for cam in engine.cams]


def _codes(engine: Engine) -> list[Place]:
    one_bank = ("P0016", "P0017") if {cam.kind for cam in engine.cams} != {"single"} else ("P0016",)
    return [Place.of(code=code) for code in (*one_bank, "P0335", "P0340")]


def _driven(engine: Engine) -> list[Place]:
    """Pins between neighbouring marks along each tight side."""
    assert engine.drive is not None
    found = []
    for stage in engine.drive.stages:
        shafts = [sprocket.shaft for sprocket in stage.sprockets]
        for near, far in itertools.pairwise(shafts):
            found.append(Place.of(mesh=stage.mesh(far), other_mesh=stage.mesh(near)))
    return found


def _chains(engine: Engine) -> list[Place]:
    assert engine.drive is not None
    return [Place.of(chain=stage.id) for stage in engine.drive.stages if stage.kind == "chain"]


def _wheels(engine: Engine) -> list[Place]:
    return [Place.of(wheel=CRANK), *(Place.of(wheel=cam.id) for cam in engine.cams)]


def _parts(engine: Engine) -> list[Place]:
    return [Place.of(part=f"wheel:{name}") for name in (CRANK, *(cam.id for cam in engine.cams))]


def _marks(engine: Engine) -> list[Place]:
    return [Place.of(mark=cam.id) for cam in engine.cams]


def _crank_wheel(engine: Engine) -> list[Place]:
    return [Place.of(wheel=CRANK)]


def _one(engine: Engine) -> list[Place]:
    return [Place()]


_PLACES: dict[str, Callable[[Engine], list[Place]]] = {
    "cam": _cams,
    "phased_cam": _phased_cams,
    "cam_zero": _zeros,
    "correlation_code": _codes,
    "driven_mesh": _driven,
    "chain": _chains,
    "mark": _marks,
    "wheel": _wheels,
    "crank_wheel": _crank_wheel,
    "part": _parts,
    "one": _one,
}
