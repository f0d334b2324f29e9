"""The sizes of a fault in words: what it changes, by how much, and where its name has not said so already."""

from __future__ import annotations

import math

from witnessmark.catalogue.partwords import part_words
from witnessmark.catalogue.spelt import SpeltFault
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import state_variables
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.engine.types import Engine
from witnessmark.report.naming import stage_or_shaft, valve_words
from witnessmark.report.words import estimate, listed, number, signed, unit_of
from witnessmark.vocabulary import Place, quantity

__all__ = ["sizes_words"]

# What the state has numbers for that are no sizes.
_WORDS = {
    ("fitted_part", 1.0): "a neighbour’s part",
    ("fitted_part", 2.0): "a foreign part",
    ("circuit_map", 1.0): "wires exchanged",
    ("sensor_polarity", -1.0): "leads reversed",
}
# Of what is counted in a part's own unit: a sensor as physics.airstate counts it, position sensors in degrees.
_OWN = {"maf": "g/s", "map": "kPa", "ect": "C", "iat": "C", "o2_front": "", "o2_rear": ""}
_OPEN = 1e9  # what the state has for an open winding or wire


def sizes_words(engine: Engine, fault: SpeltFault) -> str:
    """Every edit of a fault in words, to stand behind its name: "pitch slip +1 pitch, slack +6 mm at primary chain".

    Parameters
    ----------
    engine : Engine
    fault : SpeltFault

    Returns
    -------
    str
        Places that the fault's own name says are left out; "each" where it sits at several.
    """
    own = fault.instance.where.targets("self")
    said: dict[str, list[str]] = {}
    for variable, place, op, amount in fault.sizes:
        words = (
            _WORDS.get((variable, amount)) or f"{variable.replace('_', ' ')} {_size_words(variable, place, op, amount)}"
        )
        if variable == "shorting":
            place, _, to = place.partition(":")  # as engine.stateplaces.shorting_place put them together
            words += f" to {part_words(engine, to or 'ground')}"
        said.setdefault(words, []).append(place)
    return ", ".join(f"{what}{_at(engine, what, tuple(places), own)}" for what, places in said.items())


def _at(engine: Engine, what: str, places: tuple[str, ...], own: tuple[str, ...]) -> str:
    if places == own:
        return " each" if len(own) > 1 and what not in _WORDS.values() else ""
    if len(places) > 1 and places == cylinders_of(engine):
        return " at every cylinder"
    return f" at {listed([_place_words(engine, place) for place in places])}"


def _place_words(engine: Engine, place: str) -> str:
    """A place of the state: "exhaust valve of cylinder 3", "primary chain", "coil of cylinder 2"."""
    kind, _, which = place.partition("_")
    if kind == "cylinder" and "." in which:
        return valve_words(which)
    if place == CRANK or "." in place or any(place == s.id for s in (engine.drive.stages if engine.drive else ())):
        return stage_or_shaft(engine, place)
    return part_words(engine, place)


def _unit(variable: str, place: str) -> str:
    """Of a variable at a place, as units are written in the catalogue."""
    unit, stem = state_variables()[variable].unit, place.rstrip("_0123456789")
    if variable == "learnt_error":
        return quantity("learnt_reported").unit_at(Place.of(learnt_item=place.partition(":")[0]))
    if variable == "sensor_offset":
        return _OWN.get(stem, "deg" if place == CRANK or "." in place else unit)
    return unit


def _size_words(variable: str, place: str, op: str, amount: float) -> str:
    unit = _unit(variable, place)
    if op == "multiply":
        return f"times {number(amount, 2)}"
    if abs(amount) >= _OPEN:
        return "open"
    if unit == "0/1":
        return "yes" if amount >= 0.5 else "no"
    if not 0.0 < abs(amount) < 1.0:
        return estimate(amount, 0.0, unit, plus=op == "add")
    places = 1 - math.floor(math.log10(abs(amount)))  # two figures of what is small
    return f"{signed(amount, places) if op == 'add' else number(amount, places)}{unit_of(unit, amount)}"
