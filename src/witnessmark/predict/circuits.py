"""What meters, clamps and the computer show of supplies, grounds and modules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import state_places
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.fed import pulled
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sensing import position_node
from witnessmark.predict.signals import faded
from witnessmark.predict.supplies import driven, feed_of, solution
from witnessmark.predict.wires import (
    along,
    behind,
    is_actuator,
    is_pulsed,
    load_ohm,
    named,
    reference_of,
    relative_sd,
    shaken,
)
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

_PULL_OHM = 100.0
_WANDERS_S = 1.0  # how long a weak signal's strength stays on one side of what it needs; our guess
_METER_OHM = 1e7  # where a meter says no more than "open"; common practice, no source


def _node(model: DriveModel, query: Query) -> SupplyNode:
    return supply_of(model.engine).node(str(query.place.get("node")))


def _drop(batch: Batch, query: Query) -> Values:
    """Along the node's own path, at the current of what hangs on it: of what draws in pulses, the one that draws most.

    Coils and injectors pulse in turn; a scope sees the drop of each while it draws.
    """
    node, state = _node(batch.model, query), query.condition.state
    found = solution(batch, state)
    if state == "off":
        return found.drops[node.id]
    amps, most = found.amps[node.id], np.zeros(batch.rows)
    for load, ohm in _pulsed(batch, node):
        feed = feed_of(batch, state, load)
        drawn = np.maximum(feed.volts, 0.0) / (feed.way_ohm + ohm)
        most = np.maximum(most, np.abs(drawn * feed.rises[node.id]))
    branch = next(i for i, one in enumerate(found.wiring.branches) if one.kind == "path" and one.node == node.id)
    return (amps + np.sign(amps + 1e-12) * most) / found.siemens[:, branch]


def _pulsed(batch: Batch, node: SupplyNode) -> list[tuple[str, Values]]:
    """Coils and injectors that draw through a node, with their own resistance."""
    graph = supply_of(batch.model.engine)
    alive: list[tuple[str, Values]] = []
    for load, way in batch.once("ways of what pulses", lambda: _ways(graph)):
        if node.id in way:
            ohm = load_ohm(load) * np.maximum(batch.column("winding", load.id), 1e-6)
            alive.append((load.id, ohm / np.maximum(driven(batch, load), 1e-9)))
    return alive


def _ways(graph: SupplyGraph) -> list[tuple[SupplyNode, tuple[str, ...]]]:
    """Coils and injectors, each with all that it hangs on."""
    return [(load, behind(graph, load.id)) for load in graph if is_pulsed(load)]


def _reference(batch: Batch, query: Query) -> Values:
    """At the 5 V source, or at the plus pin of a sensor on it; against the ground of the module."""
    graph, node = supply_of(batch.model.engine), _node(batch.model, query)
    if query.condition.state == "off":
        return 0.0
    found = solution(batch, query.condition.state)
    source = reference_of(graph, node.id)
    module = next(one for one in found.wiring.regulators if one.node.id == source)
    minus = found.network.volts[:, module.minus]
    return np.maximum(found.volts[node.id] - minus, 0.0)


def _dropouts(batch: Batch, query: Query) -> Values:
    """Losses in a minute: its own, those of all that it hangs on, and of the places these lie in; of a position sensor
    those of a signal that has become too weak.
    """
    graph = supply_of(batch.model.engine)
    lost = np.asarray(_lost(batch, shaken(graph, behind(graph, _placed(query)))), dtype=np.float64)
    return lost + _fades(batch, _placed(query))


def _fades(batch: Batch, name: str) -> NDArray[np.float64]:
    """Losses in a minute of a signal whose strength wanders about what its input needs: none of one that is strong, and
    none any more of one that is gone for good.
    """
    wheels = (CRANK, *(cam.id for cam in batch.model.engine.cams))
    graph = supply_of(batch.model.engine)
    found = np.zeros(batch.rows)
    for wheel in wheels:
        if name in (wheel, position_node(graph, wheel)):
            weak = np.broadcast_to(faded(batch.state, wheel)[:, 0], (batch.rows,))
            found = found + 60.0 / _WANDERS_S * weak * (1.0 - weak)
    return found


def _dropouts_together(batch: Batch, query: Query) -> Values:
    """Losses in a minute of all that both hang on: what is lost there takes both with it."""
    graph, other = supply_of(batch.model.engine), str(query.place.get("other_node"))
    theirs = shaken(graph, behind(graph, other))
    return _lost(batch, [name for name in shaken(graph, behind(graph, _placed(query))) if name in theirs])


def _lost(batch: Batch, names: Iterable[str]) -> Values:
    return sum((batch.column("dropout_rate", name) for name in names), np.zeros(batch.rows))


def _placed(query: Query) -> str:
    return str(query.place.get("node"))


def _insulation(batch: Batch, query: Query) -> Values:
    """From the node to all that it may leak to, unplugged."""
    name = _placed(query)
    through = 1.0 / _METER_OHM + batch.column("shorting", name)
    for variable, place in batch.state.edits:
        if variable == "shorting" and ":" in place and name in place.split(":"):
            through = through + batch.column("shorting", place)
    return 1.0 / np.maximum(through, 1e-9)


def _winding(batch: Batch, query: Query) -> Values:
    """Of the part itself, unplugged."""
    name = str(query.place.get("actuator"))
    node = supply_of(batch.model.engine).node(name)
    own = batch.column("winding", name) * load_ohm(node) * np.maximum(batch.number(_ohm_key(name), 1.0), 0.0)
    return 1.0 / (1.0 / np.maximum(own, 1e-3) + 1.0 / _METER_OHM)


def _ohm_key(name: str) -> str:
    """Windings of a kind are alike: all coils, all injectors."""
    return f"electric:{name.partition('_')[0]}_ohm"


def _drain(batch: Batch, query: Query) -> Values:
    """Through the node's own path, everything asleep; at the battery all of it."""
    node, found = _node(batch.model, query), solution(batch, "off")
    amps = found.battery_amps if node.kind == "battery" else np.abs(found.amps[node.id])
    return 1000.0 * amps


def _reaches(batch: Batch, query: Query) -> Values:
    """Chance that the right part acts when it is driven: wired to its own place, and fed."""
    name = _placed(query)
    own = 1.0 - np.clip(batch.column("circuit_map", name), 0.0, 1.0)
    graph = supply_of(batch.model.engine)
    if graph.has(name) and is_actuator(graph.node(name)):
        own = own * pulled(batch, name, "key_on")
    return 0.01 + 0.98 * own


# ---------------------------------------------------------------- what cannot be asked here


def _electrical(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    return (node.id for node in graph if node.is_electrical and node.kind != "battery")


def _places(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    every = [node.id for node in graph]
    for kind in ("sensor", "oxygen_sensor", "position"):
        every += [name for name in state_places(model.engine, kind) if name not in every]
    return every


def _two_places(model: DriveModel, query: Query) -> str | None:
    """Refuses where either name is not known."""
    return named("node", _places)(model, query) or named("other_node", _places)(model, query)


def _on_reference(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    # A source of some hundred ohm is the pull-up of a sensor that is a resistor: what it shows is a signal.
    sources = [node.id for node in graph if node.kind == "reference5" and (node.ohm.mean or 0.0) < _PULL_OHM]
    return [node.id for node in graph if reference_of(graph, node.id) in sources]


def _wound(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    return (node.id for node in graph if is_actuator(node))


def _with_battery(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    return (node.id for node in graph if node.is_electrical)


# ---------------------------------------------------------------- what sound engines differ in


def _own_path(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """A 5 V source holds its voltage whatever its supply does: only the wire behind it counts."""
    if (node := _node(model, query)).kind != "reference5" and query.condition.state != "off":
        mean, sd = healthy_of("resistance", node.id)
        yield Nuisance("resistance", node.id, mean, sd)


def _windings(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    name = str(query.place.get("actuator"))
    yield Nuisance("winding", name, *healthy_of("winding", name))
    spread = relative_sd(supply_of(model.engine).node(name).load_ohm, 0.35)
    yield Nuisance(_ohm_key(name), "", 1.0, spread)


def _asleep(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    if _node(model, query).kind == "battery":
        battery = _node(model, query).id
        yield Nuisance("parasitic", battery, *healthy_of("parasitic", battery))
        yield Nuisance("battery_charge", "battery", *healthy_of("battery_charge", "battery"))


# Tolerances beyond the healthy spread: our guess. A drop depends on currents that the graph knows by their kind only.
RULES: Mapping[str, Rule] = {
    "branch_drop": Rule(_drop, Tolerance(0.02, 0.3), named("node", _electrical), along("node")),
    "reference_volts": Rule(_reference, Tolerance(0.03), named("node", _on_reference), _own_path),
    "signal_dropouts": Rule(_dropouts, Tolerance(0.1, 0.5), named("node", _places)),
    "dropouts_together": Rule(_dropouts_together, Tolerance(0.1, 0.5), _two_places),
    "insulation_ohm": Rule(_insulation, Tolerance(0.0, 0.8), named("node", _places)),
    "winding_ohm": Rule(_winding, Tolerance(0.05, 0.03), named("actuator", _wound), _windings),
    "circuit_reaches": Rule(_reaches, Tolerance(), named("node", _places)),
    "drain_measured": Rule(_drain, Tolerance(3.0, 0.05), named("node", _with_battery), _asleep),
}
