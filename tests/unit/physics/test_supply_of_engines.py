"""The described supplies of the shipped engines, solved: sound loads get their volts, currents close at every node."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.physics.test_supply import lack_of_closure
from witnessmark.engine.library import KnownEngine, known_engines
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_names import cylinder_of_node
from witnessmark.physics.supply import OPEN_OHM, SupplyEdits, SupplySolution, solve_supply

SHIPPED = [known for known in known_engines() if known.shipped and known.load().supply is not None]


def running(graph: SupplyGraph, cylinders: int, **more: object) -> SupplySolution:
    """One row for each cylinder, its coil and injector on; everything else on but the starter."""
    fired = {node.id: cylinder_of_node(node.id) for node in graph}
    switched = {name: np.eye(cylinders)[k - 1] for name, k in fired.items() if k is not None}
    return solve_supply(graph, SupplyEdits(switched={"starter": 0.0, **switched}, **more))  # type: ignore[arg-type]


@pytest.mark.parametrize("known", SHIPPED, ids=lambda known: known.file)
def test_sound_loads_get_their_volts_and_currents_close(known: KnownEngine) -> None:
    """No sound connection drops more than 0.1 V: common practice (check values, row 270). 12.6 V at the battery."""
    engine = known.load()
    graph = engine.supply
    assert graph is not None
    found = running(graph, engine.cylinders)
    # The wiring names its battery's terminal after the node, which all shipped engines call "battery".
    assert _closure(found) <= 1e-9
    fives = {node.id for node in graph if node.kind == "reference5"}
    pulls = {node.id for node in graph if node.kind == "reference5" and (node.ohm.exact or 0.0) > 100.0}
    for name, volts in found.load_volts.items():
        source = _source_of(graph, name)
        if source in pulls:  # a sensor that the unit pulls up: between the stops of a circuit code
            assert 0.3 < volts.min() <= volts.max() < 4.7, name
        elif source in fives:
            assert volts == pytest.approx(5.0, abs=0.03), name
        elif name != "starter":
            assert 10.8 < volts.max() <= 12.6, name
    drops = {name: drop.max() for name, drop in found.drops.items() if name not in fives}
    assert max(drops.values()) < 0.1, max(drops, key=lambda name: drops[name])


def _closure(found: SupplySolution) -> float:
    renamed = ["batt" if name == "battery" else name for name in found.wiring.terminals]
    return float(lack_of_closure(found, terminals=renamed).max())


def _source_of(graph: SupplyGraph, name: str) -> str:
    here = graph.node(name)
    while here.feed is not None and graph.has(here.feed) and graph.node(here.feed).kind not in ("module", "battery"):
        here = graph.node(here.feed)
    return here.id


@pytest.mark.parametrize("known", SHIPPED, ids=lambda known: known.file)
def test_cranking_sags_and_everything_still_stands_on_the_battery(known: KnownEngine) -> None:
    """Some hundred ampere through the described starter and 6 milliohm of battery: 9 to 12 V at the post."""
    engine = known.load()
    assert engine.supply is not None
    found = solve_supply(engine.supply, battery_ohm=0.006)
    assert 150.0 < found.amps["starter"][0] < 450.0
    assert 9.0 < found.volts["battery"][0] < 12.0


@pytest.mark.parametrize("known", SHIPPED, ids=lambda known: known.file)
def test_every_open_node_starves_what_it_feeds(known: KnownEngine) -> None:
    """Electrical loads under an open feed lose their volts; loads that the node does not feed keep theirs."""
    engine = known.load()
    graph = engine.supply
    assert graph is not None
    sound = running(graph, engine.cylinders)
    for node in graph:
        if node.kind not in ("fuse", "splice", "pin", "relay"):
            continue
        beneath = set(graph.fed_by(node.id))
        if beneath & {one.id for one in graph if one.kind == "module"}:
            continue  # a dead unit switches nothing: not a question of the feeds
        found = running(graph, engine.cylinders, resistance={node.id: OPEN_OHM})
        for name, volts in found.load_volts.items():
            row = (cylinder_of_node(name) or 1) - 1  # what is off takes no current, and shows whatever is left
            whole = sound.load_volts[name][row]
            assert name == "starter" or (volts[row] < 0.5 * whole) == (name in beneath), (node.id, name)
            assert name in beneath or volts[row] > 0.98 * whole, (node.id, name)
