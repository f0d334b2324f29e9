"""What cannot be in a supply graph: each contradiction as one line with the id of its node."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from witnessmark.engine.complaint import Complaint
from witnessmark.engine.supply import CARRIERS, DUCTS, KINDS, LOADS, SupplyGraph, SupplyNode
from witnessmark.engine.supply_names import cam_of_node, cylinder_of_node
from witnessmark.errors import nearest

__all__ = ["check_supply", "supply_complaints", "supply_part_complaints"]

# What may feed a node of each kind, besides a part that is not described.
_FEEDERS = {
    **dict.fromkeys(CARRIERS, ("battery", *CARRIERS)),
    **dict.fromkeys(("wire", "splice", "pin"), ("battery", *CARRIERS, "reference5")),
    **dict.fromkeys(LOADS, ("battery", *CARRIERS, "reference5")),
    "ground": ("battery", "ground", "module"),
    "reference5": ("module",),
    **dict.fromkeys(DUCTS, (*DUCTS, "load")),  # an electric pump feeds one
}
# Keys that only some kinds have.
_ONLY_ON = {
    "ground": LOADS,
    "driver": ("load",),
    "signal": ("load",),
    "coil": ("relay",),
    "ends": ("bus",),
    "load_ohm": LOADS,
    "limit_amps": ("reference5",),
    "connector": ("pin", "ground", "splice"),
}


def check_supply(graph: SupplyGraph) -> None:
    """Refuse a supply graph that cannot be.

    Parameters
    ----------
    graph : SupplyGraph

    Raises
    ------
    EngineDefinitionError
        With the first contradiction, and how many more there are.
    """
    found = supply_complaints(graph)
    if found:
        raise found[0].error(graph.name, more=len(found) - 1)


def supply_complaints(graph: SupplyGraph) -> list[Complaint]:
    """Everything in a supply graph that cannot be.

    Parameters
    ----------
    graph : SupplyGraph

    Returns
    -------
    list of Complaint
        Empty where nothing contradicts.
    """
    found = [*_name_complaints(graph), *_battery_complaints(graph)]
    for node in graph:
        found += _node_complaints(graph, node)
    # Only where every feed is there does it make sense to follow them round.
    return found or list(_loop_complaints(graph))


def supply_part_complaints(graph: SupplyGraph, cylinders: int, cams: Sequence[str]) -> Iterator[Complaint]:
    """Loads named for a cylinder or a cam that the engine does not have.

    Parameters
    ----------
    graph : SupplyGraph
    cylinders : int
    cams : sequence of str
        Cam ids; empty where the cams are not described.
    """
    for node in graph:
        cylinder, cam = cylinder_of_node(node.id), cam_of_node(node.id)
        if cylinder is not None and not 1 <= cylinder <= cylinders:
            yield Complaint(f"node.{node.id}", f"there is no cylinder {cylinder}: this engine has {cylinders}")
        if cam is not None and cams and cam not in cams:
            yield Complaint(f"node.{node.id}", f"this engine has no cam {cam}", f"one of {', '.join(cams)}")


def _name_complaints(graph: SupplyGraph) -> Iterator[Complaint]:
    for name, times in Counter(node.id for node in graph).items():
        if times > 1:
            yield Complaint(f"node.{name}", f"{times} nodes are called “{name}”", "an id of its own for each")


def _battery_complaints(graph: SupplyGraph) -> Iterator[Complaint]:
    batteries = [node.id for node in graph if node.kind == "battery"]
    if any(node.is_electrical for node in graph) and len(batteries) != 1:
        said = "no battery" if not batteries else f"{len(batteries)} batteries: {', '.join(batteries)}"
        yield Complaint("node", said, 'one node of kind = "battery"')


def _node_complaints(graph: SupplyGraph, node: SupplyNode) -> Iterator[Complaint]:
    place = f"node.{node.id}"
    if node.kind not in KINDS:
        yield Complaint(f"{place}.kind", f"no kind of node is called “{node.kind}”", f"one of {', '.join(KINDS)}")
        return
    for key, kinds in _ONLY_ON.items():
        value = getattr(node, key)
        given = value.is_known if hasattr(value, "is_known") else bool(value)
        if given and node.kind not in kinds:
            yield Complaint(f"{place}.{key}", f"a {node.kind} has no {key}", f"{key} on {' or '.join(kinds)} only")
    yield from _feed_complaints(graph, node, place)
    if node.kind in LOADS:
        yield from _return_complaints(graph, node, place)
    for key in ("driver", "signal", "coil"):
        pin = getattr(node, key)
        if pin is not None and not _is_pin(graph, pin):
            yield Complaint(f"{place}.{key}", f"no module has a pin “{pin}”", todo=_near(graph, pin.partition(".")[0]))
    yield from _neighbour_complaints(graph, node, place)


def _feed_complaints(graph: SupplyGraph, node: SupplyNode, place: str) -> Iterator[Complaint]:
    place += ".from"
    if node.kind in ("battery", "bus"):
        if node.feed is not None:
            yield Complaint(place, f"a {node.kind} is fed by nothing", "no “from”")
        return
    what = "leads nowhere" if node.kind == "ground" else "is fed by nothing"
    if node.feed is None:
        yield Complaint(place, f"{node.kind} {node.id} {what}", "“from”, with the id of a node")
    elif graph.has(node.feed):
        feeder = graph.node(node.feed)
        if node.feed == node.id:
            yield Complaint(place, f"{node.kind} {node.id} feeds itself")
        elif feeder.kind not in _FEEDERS[node.kind]:
            yield Complaint(
                place, f"a {feeder.kind} cannot feed a {node.kind}", f"one of {', '.join(_FEEDERS[node.kind])}"
            )
    elif node.feed not in graph.parts:
        leads = "leads to" if node.kind == "ground" else "is fed by"
        yield Complaint(
            place, f"{node.kind} {node.id} {leads} “{node.feed}”, which is not there", todo=_near(graph, node.feed)
        )
    elif node.kind in CARRIERS:
        yield Complaint(place, f"part {node.feed} cannot feed a {node.kind}", "the battery or what it feeds")


def _return_complaints(graph: SupplyGraph, node: SupplyNode, place: str) -> Iterator[Complaint]:
    if node.ground is None:
        if node.driver is None:
            yield Complaint(f"{place}.ground", f"the current of {node.id} returns nowhere", "a ground, or a driver")
    elif "," in node.ground:
        yield Complaint(f"{place}.ground", f"two grounds for {node.id}: {node.ground}", "one; splice them first")
    elif not graph.has(node.ground):
        yield Complaint(
            f"{place}.ground", f"ground “{node.ground}” of {node.id} is not there", todo=_near(graph, node.ground)
        )
    elif (kind := graph.node(node.ground).kind) not in ("ground", "battery"):
        yield Complaint(f"{place}.ground", f"{node.ground} is a {kind}, no ground", "a ground, or the battery")


def _neighbour_complaints(graph: SupplyGraph, node: SupplyNode, place: str) -> Iterator[Complaint]:
    for other in node.beside:
        if other == node.id:
            yield Complaint(f"{place}.beside", f"{node.id} stands beside itself")
        elif not graph.has(other) and "." not in other:
            yield Complaint(f"{place}.beside", f"“{other}” beside {node.id} is not there", todo=_near(graph, other))
    if node.kind == "bus" and len(set(node.ends)) < 2:
        yield Complaint(f"{place}.ends", f"bus {node.id} joins fewer than two modules", "two ends or more")
    for end in node.ends:
        if not _is_module(graph, end):
            yield Complaint(f"{place}.ends", f"“{end}” on bus {node.id} is not there", todo=_near(graph, end))


def _loop_complaints(graph: SupplyGraph) -> Iterator[Complaint]:
    """Feeds, and returns to ground, that come back to where they began instead of reaching the battery."""
    feeds = {node.id: node.feed for node in graph}
    for ring in _rings(feeds):
        yield Complaint(f"node.{ring[0]}.from", f"a loop of feeds: {' from '.join(ring)}")
    returns = {node.id: node.feed if node.kind == "ground" else node.ground for node in graph}
    for ring in _rings(returns):
        if any(graph.node(name).kind != "ground" for name in ring):  # a ring of grounds alone was named above
            key = "from" if graph.node(ring[0]).kind == "ground" else "ground"
            message = f"its current returns to itself: {' to '.join(ring)}"
            yield Complaint(f"node.{ring[0]}.{key}", message, "a way to the battery")


def _rings(leads: Mapping[str, str | None]) -> Iterator[list[str]]:
    """Every ring of ids, its first named again at the end."""
    seen: set[str] = set()
    for start in leads:
        way: list[str] = []
        here: str | None = start
        while here is not None and here in leads and here not in way and here not in seen:
            way.append(here)
            here = leads[here]
        if here in way:
            yield [*way[way.index(here) :], here]
        seen.update(way)


def _is_pin(graph: SupplyGraph, pin: str) -> bool:
    part, point, name = pin.partition(".")
    return bool(point and name) and _is_module(graph, part)


def _is_module(graph: SupplyGraph, name: str) -> bool:
    return name in graph.parts or (graph.has(name) and graph.node(name).kind == "module")


def _near(graph: SupplyGraph, word: str) -> str:
    found = nearest(word, [*(node.id for node in graph), *graph.parts])
    return f"Nearest: {found[0]}" if found else "Add it, or list it under parts"
