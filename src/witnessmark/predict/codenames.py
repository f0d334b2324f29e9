"""What a code's bank, letter and sensor number are on an engine: by its description alone, else candidates with odds.

"A" and "B" of cams, tracks, coils and 5 V sources are the carmaker's choice. By the standard's own rule bank 1 is the
bank of cylinder 1, and oxygen sensor 1 the one nearest the engine (SAE J2012, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.catalogue.codes import Code
from witnessmark.engine.candidates import naming_odds
from witnessmark.engine.stateplaces import bank_of_cylinder, banks_of
from witnessmark.engine.supply_names import cam_node
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine, cam_id

__all__ = ["Candidate", "bank_meant", "cam_meant", "meant"]

Candidate = tuple[str, float]
"""A part's name on this engine, and the odds that the code means it."""

_LETTER_IS_NUMBER = 0.85  # makers that give letters to coils by cylinders' numbers, others by firing order; our guess
_FIRST_LETTERS = 0.85  # makers whose A, B, C are of the throttle and whose D, E, F of the pedal; our guess
_IN_ORDER = 0.7  # makers whose A is the 5 V source that comes first in the description; our guess
_PULL_OHM = 100.0  # a source of more is the pull-up of one sensor
_ENDS = {1: "front", 2: "rear"}


def bank_meant(engine: Engine, bank: int | None) -> int | None:
    """The bank of the description that a code's bank is: bank 1 holds cylinder 1.

    Parameters
    ----------
    engine : Engine
    bank : int, optional

    Returns
    -------
    int or None
        None where the engine, as far as described, has no such bank, or the code names none.
    """
    if bank is None or bank not in banks_of(engine):
        return None
    first = bank_of_cylinder(engine, 1) if engine.bank_cylinders else 1
    return bank if first == 1 or bank > 2 else 3 - bank


def cam_meant(engine: Engine, bank: int | None, a_is_side: bool) -> tuple[Candidate, ...]:
    """The cams that a letter may mean in a bank.

    Parameters
    ----------
    engine : Engine
    bank : int, optional
        As the code names it.
    a_is_side : bool
        Whether the code says A.

    Returns
    -------
    tuple of (cam id, odds [-])
        One where the naming is described or the bank has one cam; empty where it has none.
    """
    number = bank_meant(engine, bank or 1)
    kinds = [cam.kind for cam in engine.cams if cam.bank == number]
    if number is None or not kinds:
        return ()
    if len(kinds) < 2 or "single" in kinds:
        return ((cam_id(number, kinds[0]), 1.0),)
    other = {"intake": "exhaust", "exhaust": "intake"}
    return tuple(
        (cam_id(number, (a_is or "intake") if a_is_side else other[a_is or "intake"]), odds)
        for a_is, odds in naming_odds(engine)
    )


def meant(engine: Engine, code: Code) -> tuple[Candidate, ...]:
    """The parts of an engine that a code may mean.

    Parameters
    ----------
    engine : Engine
    code : Code
        One that names a part.

    Returns
    -------
    tuple of (name, odds [-])
        Empty where this engine, as far as described, has no such part. Odds sum to 1 where every candidate is there.
    """
    if code.bank is not None and bank_meant(engine, code.bank) is None:
        return ()
    if code.part == "o2":
        end = _ENDS.get(code.sensor or 1)
        return () if end is None else ((f"o2_{end}_{bank_meant(engine, code.bank or 1)}", 1.0),)
    if code.part in ("oil_valve", "cam"):
        found = cam_meant(engine, code.bank, code.side in (None, "A"))
        return tuple((cam_node(code.part, cam), odds) for cam, odds in found)
    if code.part == "throttle_or_pedal":
        mine, other = ("throttle_sensor", "pedal") if code.side in ("A", "B", "C") else ("pedal", "throttle_sensor")
        return ((mine, _FIRST_LETTERS), (other, 1.0 - _FIRST_LETTERS))
    if code.side is not None and code.cylinder is not None:
        return _of_letter(engine, code)
    if code.cylinder is not None and code.cylinder > engine.cylinders:
        return ()
    if code.part in ("wastegate", "boost"):
        return ((code.part, 1.0),) if code.side in (None, "A") else ()
    if code.part in ("reference", "injector_group"):
        every = _references(engine) if code.part == "reference" else _injector_feeds(engine)
        return _by_order(every, "ABCD".index(code.side or "A"))
    if code.part == "bus":
        return tuple((node.id, 1.0) for node in supply_of(engine) if node.kind == "bus")[:1]
    return ((code.part, 1.0),)


def _of_letter(engine: Engine, code: Code) -> tuple[Candidate, ...]:
    """A coil's letter: the cylinder of that number, or the one that fires so manieth."""
    assert code.cylinder is not None
    k, what = code.cylinder, code.part.rpartition("_")[0]
    if k > engine.cylinders:
        return ()
    fires = engine.firing_order[k - 1] if len(engine.firing_order) == engine.cylinders else k
    if fires == k:
        return ((f"{what}_{k}", 1.0),)
    return ((f"{what}_{k}", _LETTER_IS_NUMBER), (f"{what}_{fires}", 1.0 - _LETTER_IS_NUMBER))


def _references(engine: Engine) -> list[str]:
    graph = supply_of(engine)
    return [node.id for node in graph if node.kind == "reference5" and (node.ohm.mean or 0.0) < _PULL_OHM]


def _injector_feeds(engine: Engine) -> list[str]:
    """What feeds injectors, by the lowest cylinder on it."""
    graph = supply_of(engine)
    names = [f"injector_{k}" for k in range(1, engine.cylinders + 1)]
    feeds = [graph.node(name).feed for name in names if graph.has(name)]
    return [feed for feed in dict.fromkeys(feeds) if feed is not None]


def _by_order(every: Sequence[str], index: int) -> tuple[Candidate, ...]:
    """Which of several alike a letter is: most likely by their order in the description."""
    if index >= len(every):
        return ()
    if len(every) == 1:
        return ((every[0], 1.0),)
    rest = (1.0 - _IN_ORDER) / (len(every) - 1)
    return tuple((name, _IN_ORDER if i == index else rest) for i, name in enumerate(every))
