"""Where the state vector's variables sit on an engine: the place ids that edits and predictions use.

Ids: "cylinder_3", its valves "cylinder_3.intake", a pair of neighbours "cylinder_1-2", a bank "bank_2", what a bank or
a cylinder has of its own "exhaust_front_2", "runner_3", "coil_3"; what there is one of by its name: "plenum",
"throttle", "maf". The timing drive keeps its own: mesh "primary.crank", chain "primary", cam "b1.intake", wheel
"crank". A learnt item is "fuel_trim:bank_1", "cam_zero:b1.intake", "throttle_zero".
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.errors import one_of

__all__ = [
    "AIR_DUCTS",
    "KINDS",
    "SENSORS",
    "VALVES",
    "bank_of_cylinder",
    "banks_of",
    "cylinders_of",
    "is_boosted",
    "pairs_of",
    "phased_cams",
    "shorting_place",
    "state_places",
]

VALVES = ("intake", "exhaust")

SENSORS = ("maf", "map", "ect", "iat", "throttle_sensor", "pedal", "knock", "rail")
"""Sensors that an engine has one of; oxygen sensors go by banks, position sensors by shafts."""

AIR_DUCTS = ("air_filter", "intake_duct", "plenum", "servo", "branch", "crankcase")
"""Ducts of air that every engine has one of; the charge's own where it has a turbocharger, runners by cylinders."""

_FLUIDS = ("fuel_filter", "tank_vent", "pickup", "gallery")
_NEVER_WITHOUT = ("engine", "fuel", "pump", "regulator", "battery", "alternator", "starter", "driveline")


def cylinders_of(engine: Engine) -> tuple[str, ...]:
    """Ids of all cylinders.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of str
        "cylinder_1" …, by number.
    """
    return _each("cylinder", engine.cylinders)


def banks_of(engine: Engine) -> tuple[int, ...]:
    """Numbers of all banks, one where nothing is said.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of int
    """
    return tuple(range(1, (engine.banks or 1) + 1))


def bank_of_cylinder(engine: Engine, number: int) -> int:
    """Which bank a cylinder is in.

    Parameters
    ----------
    engine : Engine
    number : int
        From 1.

    Returns
    -------
    int
        As described; where a second bank's cylinders are not, they are taken in turn (1 3 5, 2 4 6).
    """
    for bank, members in enumerate(engine.bank_cylinders, start=1):
        if number in members:
            return bank
    return 1 + (number - 1) % len(banks_of(engine))


def phased_cams(engine: Engine) -> list[str]:
    """Cams that have a phaser, or more likely than not.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    list of str
        Cam ids.
    """
    drive = engine.drive
    phasers = {} if drive is None else dict(drive.phasers)
    return [cam.id for cam in engine.cams if cam.id in phasers and phasers[cam.id].presence >= 0.5]


def state_places(engine: Engine, kind: str) -> tuple[str, ...]:
    """All ids of one kind of place.

    Parameters
    ----------
    engine : Engine
    kind : str
        One of :data:`KINDS`.

    Returns
    -------
    tuple of str
        Empty where this engine has none.

    Raises
    ------
    InputError
        For another kind.
    """
    if kind not in _BUILDERS:
        raise one_of("kind of place", kind, KINDS)
    return _BUILDERS[kind](engine)


def shorting_place(node: str, to: str) -> str:
    """Where the state keeps a short: a node may have several at once, one to each end.

    Parameters
    ----------
    node : str
    to : str
        "ground", "supply", or the id of another node.

    Returns
    -------
    str
        The node's own id to ground; "coil_3:supply", "c9.3:c9.2" otherwise.
    """
    return node if to == "ground" else f"{node}:{to}"


def _each(name: str, count: int) -> tuple[str, ...]:
    return tuple(f"{name}_{k}" for k in range(1, count + 1))


def _valves(engine: Engine) -> tuple[str, ...]:
    return tuple(f"{cylinder}.{kind}" for cylinder in cylinders_of(engine) for kind in VALVES)


def _pairs(engine: Engine) -> tuple[str, ...]:
    """Neighbours in one bank share a stretch of gasket."""
    found = []
    for bank in banks_of(engine):
        members = [k for k in range(1, engine.cylinders + 1) if bank_of_cylinder(engine, k) == bank]
        found += [f"cylinder_{a}-{b}" for a, b in itertools.pairwise(members)]
    return tuple(found)


def pairs_of(engine: Engine, cylinder: int) -> tuple[str, ...]:
    """The stretches of head gasket that a cylinder shares with its neighbours.

    Parameters
    ----------
    engine : Engine
    cylinder : int

    Returns
    -------
    tuple of str
    """
    found = []
    for place in state_places(engine, "pair"):
        a, _, b = place.removeprefix("cylinder_").partition("-")
        if str(cylinder) in (a, b):
            found.append(place)
    return tuple(found)


def _by_bank(name: str) -> Callable[[Engine], tuple[str, ...]]:
    return lambda engine: tuple(f"{name}_{bank}" for bank in banks_of(engine))


def _by_cylinder(name: str) -> Callable[[Engine], tuple[str, ...]]:
    return lambda engine: _each(name, engine.cylinders)


def _one(*names: str) -> Callable[[Engine], tuple[str, ...]]:
    return lambda engine: names


def is_boosted(engine: Engine) -> bool:
    """Whether a charger is described.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    bool
    """
    return engine.breathing.air.boost in ("turbo", "mechanical")


def _charge(engine: Engine) -> tuple[str, ...]:
    return ("charge_pipe", "charge_cooler") if is_boosted(engine) else ()


def _air_ducts(engine: Engine) -> tuple[str, ...]:
    return (*AIR_DUCTS, *_charge(engine), *_each("runner", engine.cylinders), *_each("port", engine.cylinders))


def _exhaust_ducts(engine: Engine) -> tuple[str, ...]:
    return (*_by_bank("exhaust_front")(engine), *_by_bank("catalyst")(engine), "tail")


def _flow_valves(engine: Engine) -> tuple[str, ...]:
    return ("throttle", "purge", "pcv", "egr", *(("wastegate",) if is_boosted(engine) else ()))


def _positions(engine: Engine) -> tuple[str, ...]:
    return (CRANK, *(cam.id for cam in engine.cams))


def _oxygen(engine: Engine) -> tuple[str, ...]:
    return (*_by_bank("o2_front")(engine), *_by_bank("o2_rear")(engine))


def _sensors(engine: Engine) -> tuple[str, ...]:
    return (*SENSORS, *_oxygen(engine))


def _high_pump(engine: Engine) -> tuple[str, ...]:
    return ("high_pump",) if engine.breathing.air.injection in (None, "direct") else ()


def _learnt(engine: Engine) -> tuple[str, ...]:
    zeros = () if engine.reporting.learns is False else tuple(f"cam_zero:{cam.id}" for cam in engine.cams)
    return (*zeros, "crank_variation", "throttle_zero", *(f"fuel_trim:bank_{bank}" for bank in banks_of(engine)))


_BUILDERS: dict[str, Callable[[Engine], tuple[str, ...]]] = {
    "cylinder": cylinders_of,
    "valve": _valves,
    "pair": _pairs,
    "bank": lambda engine: tuple(f"bank_{bank}" for bank in banks_of(engine)),
    "air_duct": _air_ducts,
    "exhaust_duct": _exhaust_ducts,
    "fluid_duct": _one(*_FLUIDS),
    "flow_valve": _flow_valves,
    "sensor": _sensors,
    "oxygen_sensor": _oxygen,
    "position": _positions,
    "coil": _by_cylinder("coil"),
    "plug": _by_cylinder("plug"),
    "boot": _by_cylinder("boot"),
    "injector": _by_cylinder("injector"),
    "high_pump": _high_pump,
    "rail": _one("rail"),
    "learnt_item": _learnt,
    **{name: _one(name) for name in _NEVER_WITHOUT},
}

KINDS = tuple(_BUILDERS)
"""Kinds of places that :func:`state_places` knows; nodes stand in the supply graph."""
