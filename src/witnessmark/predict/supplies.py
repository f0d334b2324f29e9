"""The supply graph of an engine under n states at once: one solution for each way of running, shared by all rules.

What the state says of nodes goes into ``physics.supply`` here, and nowhere else (docs/physics.md, "what stands on the
supplies").
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.feed import Feed, feeds
from witnessmark.physics.network import NetworkSolution
from witnessmark.physics.supply import OPEN_OHM, SupplyEdits, SupplySolution, solution_of, solve_supply
from witnessmark.physics.wiring import wire
from witnessmark.predict.batch import Batch
from witnessmark.predict.battery import battery_now
from witnessmark.predict.boardvolts import alternator_volts
from witnessmark.predict.cranking import cranking, permitted
from witnessmark.predict.model import Values
from witnessmark.predict.setting import usual_rpm
from witnessmark.predict.solvedrows import SolvedRows
from witnessmark.predict.wires import carrying, described_ohm, is_actuator, is_pulsed, load_ohm, path_ohm
from witnessmark.vocabulary import Condition

__all__ = [
    "RUNNING",
    "driven",
    "feed_of",
    "solution",
    "solve_together",
    "solved_ways",
    "speed_of",
]

_Rows = NDArray[np.intp]

RUNNING = ("warm_up", "idle", "raised", "cruise", "acceleration", "full_load", "snap", "overrun")
"""States in which the engine turns by itself."""

_FUSE_AMPS = {"fuse": 40.0, "link": 150.0}  # above which one opens; our guess
_SHARED_SOURCE = 0.3  # of the battery's resistance, with the alternator beside it; our guess
_KEPT = SolvedRows(6_000)  # some 30 MB: every electrical fault in two ways of running
_LEAST_STARTER_OHM = 0.002
_SWITCHED_ON = 0.05  # chance of a starter that nothing keeps off, above which it is taken for on


def speed_of(state: str | None, speed_rpm: float | None) -> float:
    """Speed of a condition, the usual one of its state where it says none.

    Parameters
    ----------
    state : str, optional
    speed_rpm : float, optional [rpm]

    Returns
    -------
    float, shape () [rpm]
    """
    return speed_rpm if speed_rpm is not None else usual_rpm(state)


def solution(batch: Batch, state: str | None) -> SupplySolution:
    """The supply graph in one way of running, coils and injectors at rest.

    Parameters
    ----------
    batch : Batch
    state : str, optional
        Of the condition; idle where it says none.

    Returns
    -------
    SupplySolution
        n rows each.
    """
    way = _way(state)
    return batch.once(("supply", way), lambda: _spread(*_solved_once(batch, way)))


def feed_of(batch: Batch, state: str | None, load: str) -> Feed:
    """What the graph offers one load: coils, injectors, the pump.

    Parameters
    ----------
    batch : Batch
    state : str, optional
    load : str
        Node id.

    Returns
    -------
    Feed
        n rows each.
    """
    way = _way(state)
    return batch.once(("feed", way, load), lambda: _feed(batch, way, load))


def _way(state: str | None) -> str:
    return "running" if state is None or state in RUNNING else state


def _feed(batch: Batch, way: str, load: str) -> Feed:
    few, which = _solved_once(batch, way)
    one = batch.once(("feeds", way), lambda: _feeds(batch, few))[load]
    return Feed(one.volts[which], one.way_ohm[which], {node: rise[which] for node, rise in one.rises.items()})


def _feeds(batch: Batch, few: SupplySolution) -> Mapping[str, Feed]:
    graph = supply_of(batch.model.engine)
    return feeds(few, [node.id for node in graph if is_actuator(node)])


def _solved_once(batch: Batch, way: str) -> tuple[SupplySolution, _Rows]:
    """Each different set of supplies solved once, and which of them each state has: most states differ elsewhere."""
    return batch.once(("supplies", way), lambda: _solved(batch, [way])[way])


def _spread(few: SupplySolution, which: _Rows) -> SupplySolution:
    def each(values: Mapping[str, NDArray[np.float64]]) -> dict[str, NDArray[np.float64]]:
        return {name: value[which] for name, value in values.items()}

    return replace(
        few,
        volts=each(few.volts),
        amps=each(few.amps),
        drops=each(few.drops),
        load_volts=each(few.load_volts),
        reference_volts=each(few.reference_volts),
        battery_amps=few.battery_amps[which],
        network=NetworkSolution(few.network.volts[which], few.network.amps[which]),
        siemens=few.siemens[which],
    )


def solved_ways(batch: Batch) -> tuple[str, ...]:
    """The ways of running whose supplies a batch has solved so far.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    tuple of str
    """
    return tuple(str(key[1]) for key in batch.kept if isinstance(key, tuple) and key[0] == "supplies")


def solve_together(batch: Batch, ways: Sequence[str]) -> None:
    """Solve the supplies in several ways of running side by side, where it is known that all of them will be asked for.

    Parameters
    ----------
    batch : Batch
    ways : sequence of str
        As :func:`solved_ways` gives them.
    """
    left = [way for way in ways if ("supplies", way) not in batch.kept]
    if len(left) > 1:
        batch.kept.update({("supplies", way): found for way, found in _solved(batch, left).items()})


def _solved(batch: Batch, ways: Sequence[str]) -> dict[str, tuple[SupplySolution, _Rows]]:
    """Rows that were not solved lately, for this batch or another: what an intervention leaves alone stays solved."""
    graph = supply_of(batch.model.engine)
    each = {way: _different(_edits(batch, graph, way), _source(batch, way), batch.rows) for way in ways}
    kinds: dict[Hashable, list[str]] = {}
    for way, (edits, _, _) in each.items():
        kinds.setdefault(_kind(graph, edits), []).append(way)
    found: dict[str, tuple[SupplySolution, _Rows]] = {}
    for kind, alike in kinds.items():
        found |= _solved_alike(graph, kind, {way: each[way] for way in alike})
    return found


def _kind(graph: SupplyGraph, edits: SupplyEdits) -> Hashable:
    return (graph, tuple((field.name, *getattr(edits, field.name)) for field in fields(edits)))


def _solved_alike(
    graph: SupplyGraph,
    kind: Hashable,
    each: Mapping[str, tuple[SupplyEdits, tuple[NDArray[np.float64], NDArray[np.float64]], _Rows]],
) -> dict[str, tuple[SupplySolution, _Rows]]:
    """Ways of running that edit the same things."""
    counts = [len(emf) for _, (emf, _), _ in each.values()]
    edits = _joined([one for one, _, _ in each.values()], counts)
    emf = np.concatenate([one for _, (one, _), _ in each.values()])
    ohm = np.concatenate([one for _, (_, one), _ in each.values()])
    groups = (getattr(edits, field.name) for field in fields(edits))
    columns = [np.broadcast_to(value, emf.shape) for group in groups for value in group.values()]
    wiring = wire(graph, shorts=edits.shorting, leaks=edits.parasitic_ma)
    branches, terminals = len(wiring.branches), len(wiring.terminals)

    def anew(rows: NDArray[np.bool_]) -> NDArray[np.float64]:
        found = _burnt_through(graph, _some(edits, rows), emf[rows], ohm[rows])
        return np.concatenate([found.siemens, found.network.amps, found.network.volts], axis=1)

    flat = _KEPT.of(kind, np.stack([emf, ohm, *columns], axis=1), anew)
    told: dict[str, tuple[SupplySolution, _Rows]] = {}
    for (way, (_, _, which)), part in zip(each.items(), np.split(flat, np.cumsum(counts)[:-1]), strict=True):
        siemens, amps, volts = np.split(part, [branches, 2 * branches], axis=1)
        assert volts.shape[1] == terminals
        told[way] = solution_of(wiring, NetworkSolution(volts, amps), siemens), which
    return told


def _joined(each: Sequence[SupplyEdits], counts: Sequence[int]) -> SupplyEdits:
    """Edits of the same things one below the other; what is one number for all stays one."""
    if len(each) == 1:
        return each[0]

    def column(values: Sequence[Values]) -> Values:
        if all(np.ndim(one) == 0 and one == values[0] for one in values):
            return values[0]
        return np.concatenate([np.broadcast_to(one, (n,)) for one, n in zip(values, counts, strict=True)])

    groups: dict[str, dict[Any, Values]] = {
        field.name: {
            key: column([getattr(one, field.name)[key] for one in each]) for key in getattr(each[0], field.name)
        }
        for field in fields(SupplyEdits)
    }
    return SupplyEdits(**groups)


def _burnt_through(
    graph: SupplyGraph, edits: SupplyEdits, emf: NDArray[np.float64], ohm: NDArray[np.float64]
) -> SupplySolution:
    """Solved, and where a fuse or link carries too much, once more with it open."""
    found = solve_supply(graph, edits, emf=emf, battery_ohm=ohm)
    blown = {node.id: np.abs(found.amps[node.id]) > _FUSE_AMPS[node.kind] for node in graph if node.kind in _FUSE_AMPS}
    rows = np.any(list(blown.values()), axis=0) if blown else np.zeros(1, dtype=np.bool_)
    if not np.any(rows):
        return found
    opened = {
        name: np.where(one, OPEN_OHM, edits.resistance.get(name, described_ohm(graph.node(name))))
        for name, one in blown.items()
    }
    after = _some(replace(edits, resistance={**edits.resistance, **opened}), rows)
    return _merged(found, solve_supply(graph, after, emf=emf[rows], battery_ohm=ohm[rows]), rows)


def _some(edits: SupplyEdits, rows: NDArray[np.bool_]) -> SupplyEdits:
    """Edits in some rows only."""
    groups: dict[str, dict[Any, Values]] = {field.name: dict(getattr(edits, field.name)) for field in fields(edits)}
    return SupplyEdits(
        **{
            name: {key: value[rows] if np.ndim(value) else value for key, value in group.items()}  # type: ignore[index]
            for name, group in groups.items()
        }
    )


def _merged(whole: SupplySolution, part: SupplySolution, rows: NDArray[np.bool_]) -> SupplySolution:
    """A solution with some of its rows solved anew."""
    volts, amps, siemens = whole.network.volts.copy(), whole.network.amps.copy(), whole.siemens.copy()
    volts[rows], amps[rows], siemens[rows] = part.network.volts, part.network.amps, part.siemens
    return solution_of(whole.wiring, NetworkSolution(volts, amps), siemens)


def _different(
    edits: SupplyEdits, source: tuple[Values, Values], rows: int
) -> tuple[SupplyEdits, tuple[NDArray[np.float64], NDArray[np.float64]], _Rows]:
    """The rows that differ from one another, and for every row which of them it is."""
    kinds = [field.name for field in fields(edits)]
    columns = [np.broadcast_to(np.asarray(one, dtype=np.float64), (rows,)) for one in source]
    varied = {kind: {key: value for key, value in getattr(edits, kind).items() if np.ndim(value)} for kind in kinds}
    columns += [np.asarray(value, dtype=np.float64) for group in varied.values() for value in group.values()]
    table = np.ascontiguousarray(np.stack(columns, axis=1))
    whole = table.view(np.dtype((np.void, table.dtype.itemsize * table.shape[1]))).ravel()
    _, first, which = np.unique(whole, return_index=True, return_inverse=True)
    few = {
        kind: {**getattr(edits, kind), **{key: np.asarray(value)[first] for key, value in varied[kind].items()}}
        for kind in kinds
    }
    return SupplyEdits(**few), (table[first, 0], table[first, 1]), which.reshape(rows)


def _source(batch: Batch, way: str) -> tuple[Values, Values]:
    """Voltage behind the battery's post, and the resistance there: one battery for all who ask about it."""
    emf, ohm = battery_now(batch, Condition(way if way != "running" else "idle"))
    if way != "running":
        return emf, ohm
    return alternator_volts(batch, Condition("idle"))[0], _SHARED_SOURCE * ohm


def _edits(batch: Batch, graph: SupplyGraph, way: str) -> SupplyEdits:
    """What the state says of this graph's nodes; places that are no nodes are others' affair."""
    nodes = {node.id: node for node in graph}
    resistance: dict[str, Values] = {}
    shorting: dict[tuple[str, str], Values] = {}
    winding: dict[str, Values] = {}
    parasitic: dict[str, Values] = {}
    driver_ok: dict[str, Values] = {}
    modules = {*graph.parts, *(node.id for node in graph if node.kind == "module")}
    for (variable, place), value in batch.state.edits.items():
        name, _, to = place.partition(":")
        node = nodes.get(name)
        if variable == "driver_ok" and place in modules:
            driver_ok[place] = np.clip(value, 0.0, 1.0)
        elif node is None or not node.is_electrical:
            continue
        elif variable == "shorting":
            if (end := _end_of_short(nodes, node, to)) is not None:
                shorting[name, end] = np.maximum(value, 0.0)
        elif variable == "parasitic" and node.kind != "battery":
            parasitic[name] = np.maximum(np.subtract(value, healthy_of("parasitic", name)[0]), 0.0)
        elif variable == "resistance" and node.kind != "battery":
            resistance[name] = path_ohm(node, np.maximum(value, 0.0))
        elif variable == "winding" and node.kind == "load":
            winding[name] = np.maximum(value, 0.0)
    parasitic[graph.battery.id] = np.maximum(batch.get("parasitic", graph.battery.id), 0.0)
    dropped = {node.id: 1.0 for node in graph if node.kind == "reference5"} if way == "off" else {}
    if way == "cranking" and "starter" in nodes:
        winding["starter"] = _starter(batch, graph, resistance)
    return SupplyEdits(resistance, shorting, dropped, winding, _switched(batch, graph, way), driver_ok, parasitic)


def _starter(batch: Batch, graph: SupplyGraph, resistance: Mapping[str, Values]) -> Values:
    """A starter as the resistor that takes the current with which it turns this engine, over its described one."""
    emf, inside = battery_now(batch, Condition("cranking"))
    whole = emf / np.maximum(cranking(batch).amps, 1.0)
    way = sum(np.asarray(resistance.get(name, described_ohm(graph.node(name)))) for name in carrying(graph, "starter"))
    return np.maximum(whole - inside - way, _LEAST_STARTER_OHM) / load_ohm(graph.node("starter"))


def _end_of_short(nodes: Mapping[str, SupplyNode], node: SupplyNode, to: str) -> str | None:
    """Where a short leads: "ground" where nothing is said; None where there is nothing to join."""
    end = to or "ground"
    if end in ("ground", "supply"):
        return None if node.kind == "battery" and end == "supply" else end
    other = nodes.get(end)
    return end if other is not None and other.is_electrical and end != node.id else None


def _switched(batch: Batch, graph: SupplyGraph, way: str) -> dict[str, Values]:
    """What is on in this way of running: everything asleep when off; the starter only while cranking."""
    on: dict[str, Values] = {}
    for node in graph:
        if node.kind not in ("load", "module", "relay"):
            continue
        if way == "off" or is_pulsed(node):
            on[node.id] = 0.0
        elif node.id == "starter":
            on[node.id] = np.where(permitted(batch) > _SWITCHED_ON, 1.0, 0.0) if way == "cranking" else 0.0
        else:
            on[node.id] = 1.0
    return on


def driven(batch: Batch, node: SupplyNode) -> Values:
    """How far the module that switches a load can: 0 where its drivers are dead or it is silent.

    Parameters
    ----------
    batch : Batch
    node : SupplyNode
        A load; 1 where nothing switches it.

    Returns
    -------
    float or array, shape (n,) [-]
    """
    if node.driver is None:
        return 1.0
    module = node.driver.partition(".")[0]
    alive = np.clip(batch.column("driver_ok", module), 0.0, 1.0)
    return np.asarray(alive * (1.0 - np.clip(batch.column("module_silent", module), 0.0, 1.0)))
