"""What a vehicle's wiring leaves of the voltage for coils, injectors and the pump, and what it puts in their way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from witnessmark.engine.state import State, healthy_of
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.physics.feed import Feed, feeds
from witnessmark.physics.supply import OPEN_OHM, SupplyEdits, solve_supply
from witnessmark.simulate.parts import edit_of, place

__all__ = ["SOUND", "Way", "starters_way_ohm", "ways_of"]

_ASLEEP = ("coil", "injector", "starter")  # until their own turn comes
_FUSE_AMPS = 40.0  # above which one opens; our guess


@dataclass(frozen=True, slots=True)
class Way:
    """What stands around one load, against a sound vehicle.

    Parameters
    ----------
    share : float [-]
        Of the voltage that a sound one offers, 0 where nothing arrives or nothing switches it.
    more_ohm : float [ohm]
        In its way beyond a sound one's.
    """

    share: float = 1.0
    more_ohm: float = 0.0


SOUND = Way()


def ways_of(engine: Engine, state: State, volts: float) -> Mapping[str, Way]:
    """The ways of all coils and injectors, and of the pump.

    Parameters
    ----------
    engine : Engine
    state : State
        One row.
    volts : float [V]
        At the battery.

    Returns
    -------
    mapping of str to Way
        By "coil_1", "injector_1" …, "pump"; :data:`SOUND` for what the graph does not know.
    """
    graph = supply_of(engine)
    names = [place(kind, n) for kind in ("coil", "injector") for n in range(1, engine.cylinders + 1)]
    loads = [name for name in (*names, "pump") if graph.has(name) and graph.node(name).kind == "load"]
    sound, real = _fed(graph, State({}), loads, volts), _fed(graph, state, loads, volts)
    found = dict.fromkeys((*names, "pump"), SOUND)
    for name in loads:
        driver = graph.node(name).driver
        works = 1.0 if driver is None else _works(state, driver.partition(".")[0])
        share = float(real[name].volts[0]) / max(float(sound[name].volts[0]), 1e-6)
        more = float(real[name].way_ohm[0]) - float(sound[name].way_ohm[0])
        found[name] = Way(float(np.clip(share, 0.0, 1.5)) * works, max(more, 0.0))
    return found


def starters_way_ohm(engine: Engine, state: State) -> float:
    """Resistance in the starter's way beyond a sound vehicle's: its own terminals, its grounds, what feeds it [ohm].

    Parameters
    ----------
    engine : Engine
    state : State
        One row.

    Returns
    -------
    float [ohm]
    """
    graph = supply_of(engine)
    ahead, seen, total = ["starter"], set[str](), 0.0
    while ahead:
        name = ahead.pop()
        if name in seen or not graph.has(name) or graph.node(name).kind == "battery":
            continue
        seen.add(name)
        if ("resistance", name) in state.edits:
            total += max(edit_of(state, "resistance", name) - healthy_of("resistance", name)[0], 0.0)
        ahead += [one for one in (graph.node(name).feed, graph.node(name).ground) if one is not None]
    return total


def _works(state: State, module: str) -> float:
    silent = edit_of(state, "module_silent", module)
    return float(np.clip(edit_of(state, "driver_ok", module) * (1.0 - silent), 0.0, 1.0))


def _fed(graph: SupplyGraph, state: State, loads: list[str], volts: float) -> Mapping[str, Feed]:
    edits = _edits(graph, state)
    found = solve_supply(graph, edits, emf=volts)
    blown = [n.id for n in graph if n.kind == "fuse" and abs(float(np.ravel(found.amps[n.id])[0])) > _FUSE_AMPS]
    if blown:
        opened = {**edits.resistance, **dict.fromkeys(blown, OPEN_OHM)}
        found = solve_supply(graph, SupplyEdits(opened, edits.shorting, switched=edits.switched), emf=volts)
    return feeds(found, loads)


def _edits(graph: SupplyGraph, state: State) -> SupplyEdits:
    nodes = {node.id: node for node in graph if node.is_electrical}
    resistance: dict[str, float] = {}
    shorting: dict[tuple[str, str], float] = {}
    for variable, where in state.edits:
        name, _, to = where.partition(":")
        if name not in nodes or nodes[name].kind == "battery":
            continue
        value = max(edit_of(state, variable, where), 0.0)
        if variable == "resistance":
            # The state counts from a usual contact's, the description from its own.
            usual, _ = healthy_of("resistance", name)
            resistance[name] = max((nodes[name].ohm.mean or 0.0) + value - usual, 0.0)
        elif variable == "shorting" and (to in ("", "ground", "supply") or to in nodes):
            shorting[name, to or "ground"] = value
    asleep = {name: 0.0 for name, node in nodes.items() if node.kind == "load" and name.split("_")[0] in _ASLEEP}
    return SupplyEdits(resistance, shorting, switched=asleep)
