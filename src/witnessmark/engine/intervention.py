"""Interventions as temporary edits of the state: what is exchanged, cut off or held while something is measured.

The rows stand in ``data/interventions.toml``. A condition names one as ``during=swap_coil:3-1``: the id, and behind a
colon what it is done to; where nothing is said, the thing that is being read.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from witnessmark.engine.state import State, Values
from witnessmark.engine.stateplaces import KINDS, phased_cams, state_places
from witnessmark.engine.supply_names import cam_node
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, one_of
from witnessmark.vocabulary import Place

__all__ = ["HOSES", "Intervention", "intervention", "interventions", "while_done"]

HOSES = ("branch", "servo", "purge", "pcv", "fuel_filter")
"""What a hose clamp reaches."""

_NAMED = {"cylinder": "cylinder", "bank": "bank", "node": "node", "duct": "duct", "sensor": "sensor"}
_ANYWHERE = Place()
_FREE = ("node", "duct", "hose", "cam")


@dataclass(frozen=True, slots=True)
class Intervention:
    """One row of the file.

    Parameters
    ----------
    id, words : str
        In words with {where}.
    at : str
        Kind of place it is done to.
    default : str
        What it is done to where nothing is said; "own": what is being read.
    edits : tuple of mapping
        Variable, op, value and where it applies.
    """

    id: str
    words: str
    at: str
    default: str
    edits: tuple[Mapping[str, Any], ...]

    @property
    def exchanges(self) -> bool:
        """Whether it exchanges parts between two places."""
        return any(edit["op"] == "exchange" for edit in self.edits)


@cache
def interventions() -> Mapping[str, Intervention]:
    """All interventions by id, from ``data/interventions.toml``.

    Returns
    -------
    mapping of str to Intervention
    """
    text = files("witnessmark").joinpath("data/interventions.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["intervention"]
    return {
        row["id"]: Intervention(row["id"], row["words"], row["at"], row["default"], tuple(row["edit"])) for row in rows
    }


def intervention(during: str) -> tuple[Intervention, str]:
    """The intervention that a condition names, and what it is done to.

    Parameters
    ----------
    during : str
        "swap_coil", "swap_coil:3-1", "pinch_hose:branch".

    Returns
    -------
    row : Intervention
    where : str
        Empty where nothing is said.

    Raises
    ------
    InputError
        For an id that is not there; names the nearest.
    """
    name, _, where = during.partition(":")
    known = interventions()
    if name not in known:
        raise one_of("intervention", name, known)
    return known[name], where


def while_done(engine: Engine, state: State, during: str | None, place: Place = _ANYWHERE) -> State:
    """The state while an intervention lasts.

    Parameters
    ----------
    engine : Engine
    state : State
        n states side by side, before it.
    during : str, optional
        As a condition has it; None, or a test that is no intervention: the state as it is.
    place : Place
        What is being read, for interventions that say nothing of where.

    Returns
    -------
    State

    Raises
    ------
    InputError
        For something it cannot be done to on this engine.
    """
    if during is None or during.partition(":")[0] not in interventions():
        return state
    row, said = intervention(during)
    if not row.edits:
        return state
    names = _places(engine, row, said, place)
    changes: list[tuple[str, str, str, Values]] = []
    for edit in row.edits:
        spots = [str(edit.get("on", "{}")).replace("{}", name) for name in names]
        if edit["op"] == "power":  # what is weak grows weaker, what is sound stays so
            own = [place for spot in spots for place in _at_node(engine, spot)]
            got = [(place, state.get(edit["variable"], place)) for place in own]
            changes += [(edit["variable"], place, "set", value ** float(edit["value"])) for place, value in got]
        elif edit["op"] != "exchange":
            spots += _other_shorts(state, edit["variable"], spots)
            changes += [(edit["variable"], spot, edit["op"], float(edit["value"])) for spot in spots]
        elif len(spots) == 2:
            a, b = (state.get(edit["variable"], spot) for spot in spots)
            changes += [(edit["variable"], spots[0], "set", b), (edit["variable"], spots[1], "set", a)]
    return state.edited(changes)


def _at_node(engine: Engine, node: str) -> list[str]:
    """Where the state keeps what belongs to a node: a cam's sensor goes by its cam."""
    own = [cam.id for cam in engine.cams if node in ("cam", cam_node("cam", cam.id))]
    return own or [node]


def _other_shorts(state: State, variable: str, spots: list[str]) -> list[str]:
    """Whatever else a node is shorted to ("map:supply"): what is done to the node is done to all its shorts."""
    if variable != "shorting":
        return []
    return [at for name, at in state.edits if name == variable and ":" in at and at.partition(":")[0] in spots]


def _places(engine: Engine, row: Intervention, said: str, place: Place) -> tuple[str, ...]:
    """Numbers or names of what it is done to: two where parts are exchanged."""
    known = _known(engine, row.at)
    names = tuple(said.split("-")) if said and row.exchanges else (said,) if said else _default(engine, row, place)
    for name in names:
        if known and name not in known:
            raise one_of(f"{row.at} for {row.id}", name, known)
    if not row.exchanges or len(names) != 1:
        return names
    if len(known) < 2:
        raise InputError(f"{row.id}: nothing to exchange it with on this engine", given=said or str(place))
    return (names[0], known[(known.index(names[0]) + 1) % len(known)])


def _default(engine: Engine, row: Intervention, place: Place) -> tuple[str, ...]:
    if row.default == "phasers":
        return tuple(_known(engine, "cam")[:2]) if len(_known(engine, "cam")) > 1 else ()
    if row.default != "own":
        return (row.default,)
    own = place.get(_NAMED.get(row.at, row.at))
    return () if own is None else (str(own),)


def _known(engine: Engine, kind: str) -> list[str]:
    """What it could be done to; empty where any name may stand."""
    if kind in ("cylinder", "bank"):
        return [name.rpartition("_")[2] for name in state_places(engine, kind)]
    if kind == "cam":
        return phased_cams(engine)
    if kind == "hose":
        return list(HOSES)
    return list(state_places(engine, kind)) if kind in KINDS and kind not in _FREE else []
