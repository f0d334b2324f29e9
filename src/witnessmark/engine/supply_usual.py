"""The supply graph of an engine of which nothing electrical is described: the generic nodes, wired as is usual.

Every layout and every resistance here is our guess; a described graph replaces the whole.
"""

from __future__ import annotations

from functools import lru_cache

from witnessmark.engine.number import Number
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.types import Engine
from witnessmark.errors import EngineDefinitionError
from witnessmark.source import Source

__all__ = ["REFERENCE_SENSORS", "THERMISTORS", "supply_of", "usual_supply"]

_GUESS = Source("guess", "a usual layout, nothing described")
_MOST_CYLINDERS = 16

REFERENCE_SENSORS = {
    "ref_a": ("map", "throttle_sensor", "crank", "cam"),
    "ref_b": ("pedal", "rail"),
}
"""Which sensors share a 5 V source where nothing is described."""

THERMISTORS = {"ect": 320.0, "iat": 2500.0}
"""Temperature sensors, each pulled up to 5 V within the computer, and their ohms where they usually stand."""


@lru_cache(maxsize=_MOST_CYLINDERS)
def usual_supply(cylinders: int) -> SupplyGraph:
    """The generic nodes, from the battery to each sensor and actuator.

    Parameters
    ----------
    cylinders : int
        So many coils and injectors.

    Returns
    -------
    SupplyGraph
        Nodes "battery", "main_relay", "fuse", "engine_ground", "sensor_ground", "coil_supply", "injector_supply",
        "pump_supply", "heater_supply", "ref_a", "ref_b", "pull_ect", "pull_iat", "ecu", "coil_1" …, "injector_1" …,
        and the sensors and actuators by their names.

    Raises
    ------
    EngineDefinitionError
        For a count of cylinders that cannot be.
    """
    if not 1 <= cylinders <= _MOST_CYLINDERS:
        raise EngineDefinitionError(f"{cylinders} cylinders cannot be", expected=f"1 to {_MOST_CYLINDERS}")
    nodes = [*_feeds(), *_references()]
    for k in range(1, cylinders + 1):
        nodes.append(_load(f"coil_{k}", "coil_supply", 1.5, ground="engine_ground", driver=f"ecu.coil_{k}"))
        nodes.append(_load(f"injector_{k}", "injector_supply", 12.0, driver=f"ecu.injector_{k}"))
    return SupplyGraph(f"usual supply of {cylinders} cylinders", tuple(nodes), (), _GUESS)


def supply_of(engine: Engine) -> SupplyGraph:
    """The supply graph of an engine: as described, else the usual one of so many cylinders.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    SupplyGraph

    Raises
    ------
    EngineDefinitionError
        For a count of cylinders that cannot be.
    """
    return engine.supply if engine.supply is not None else _kept(engine.cylinders)


@lru_cache(maxsize=_MOST_CYLINDERS)
def _kept(cylinders: int) -> SupplyGraph:
    return usual_supply(cylinders)


def _feeds() -> list[SupplyNode]:
    return [
        SupplyNode("battery", "battery"),
        _path("engine_ground", "ground", "battery", 0.001),
        _path("body_ground", "ground", "battery", 0.002),
        _path("main_relay", "relay", "battery", 0.01, coil="ecu.main_relay"),
        _path("fuse", "fuse", "battery", 0.01),
        _path("coil_supply", "fuse", "main_relay", 0.01),
        _path("injector_supply", "fuse", "main_relay", 0.01),
        _path("heater_supply", "fuse", "main_relay", 0.02),
        _path("pump_supply", "relay", "battery", 0.02, coil="ecu.pump_relay"),
        SupplyNode("ecu", "module", "fuse", "engine_ground", ohm=_number(0.01), load_ohm=_number(15.0)),
        _load("starter", "battery", 0.05, ground="engine_ground"),
        _load("pump", "pump_supply", 2.0, ground="body_ground"),
        _load("o2_front", "heater_supply", 9.0, driver="ecu.heater_front"),
        _load("o2_rear", "heater_supply", 9.0, driver="ecu.heater_rear"),
        _load("oil_valve", "injector_supply", 8.0, driver="ecu.oil_valve"),
        _load("regulator", "injector_supply", 4.0, driver="ecu.regulator"),
        _load("purge", "injector_supply", 25.0, driver="ecu.purge"),
        # A heated meter takes a hundred times what a sensor does and returns it by a ground of its own; through the
        # sensors' ground it would lift their 5 V where that is open. Common practice, no source.
        _load("maf", "injector_supply", 100.0, ground="engine_ground", signal="ecu.maf"),
    ]


def _references() -> list[SupplyNode]:
    nodes = [_path("sensor_ground", "ground", "ecu", 0.01)]
    for name, sensors in REFERENCE_SENSORS.items():
        nodes.append(SupplyNode(name, "reference5", "ecu", limit_amps=_number(0.1)))
        nodes += [_load(one, name, 1000.0, ground="sensor_ground", signal=f"ecu.{one}") for one in sensors]
    for name, ohm in THERMISTORS.items():
        pull = f"pull_{name}"
        nodes.append(SupplyNode(pull, "reference5", "ecu", ohm=_number(2200.0), limit_amps=_number(0.003)))
        nodes.append(_load(name, pull, ohm, ground="sensor_ground", signal=f"ecu.{name}"))
    return nodes


def _path(name: str, kind: str, feed: str, ohm: float, *, coil: str | None = None) -> SupplyNode:
    return SupplyNode(name, kind, feed, coil=coil, ohm=_number(ohm))


def _load(
    name: str, feed: str, ohm: float, *, ground: str | None = None, driver: str | None = None, signal: str | None = None
) -> SupplyNode:
    return SupplyNode(
        name, "load", feed, ground, driver=driver, signal=signal, ohm=_number(0.01), load_ohm=_number(ohm)
    )


def _number(value: float) -> Number:
    return Number.exactly(value, _GUESS)
