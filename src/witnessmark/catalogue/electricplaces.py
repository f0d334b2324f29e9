"""Places of the supply graph: which node can fail in which way, and how often, by its kind.

Shares and the ways of failing are our guess, to be replaced by counts. Where a description has no graph of its own the
usual one of so many cylinders stands in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from witnessmark.catalogue.partwords import part_words
from witnessmark.catalogue.placeof import PlaceOf
from witnessmark.engine.stateplaces import shorting_place
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine

__all__ = ["BUILDERS", "always_live", "sources"]

_Builder = Callable[[Engine], list[PlaceOf]]

_FAMILY: Mapping[str, str] = {
    "load": "wire",
    "module": "wire",
    "link": "fuse",
}  # a load's own path is its wire and its plug
_SHARE: Mapping[str, float] = {
    "wire": 0.30,
    "pin": 0.32,
    "ground": 0.15,
    "splice": 0.06,
    "relay": 0.06,
    "fuse": 0.03,
    "reference5": 0.05,
    "bus": 0.03,
}
_WIRES = ("wire", "load", "module")
_PATHS = (*_WIRES, "pin", "splice", "relay", "fuse", "link", "bus")
_OPENS = (*_PATHS, "ground", "reference5")
_SHORTS = (*_WIRES, "pin", "relay", "bus")
_SHAKES = (*_WIRES, "pin", "ground", "fuse", "link", "bus")
_PULL_OHM = 100.0
_CUTS_OFF = ("relay", "reference5")
_WETS = (*_WIRES, "pin", "bus")
_KIND_WORDS: Mapping[str, str] = {"reference5": "5 V supply", "link": "fusible link"}


def sources(graph: SupplyGraph) -> tuple[str, ...]:
    """The 5 V sources; behind one of some hundred ohm, a pull-up, stands a signal and no supply.

    Parameters
    ----------
    graph : SupplyGraph

    Returns
    -------
    tuple of str
        Ids of nodes.
    """
    return tuple(n.id for n in graph if n.kind == "reference5" and (n.ohm.mean or 0.0) < _PULL_OHM)


def always_live(graph: SupplyGraph) -> tuple[str, ...]:
    """What could draw current with everything off: loads, modules and fuses that no relay and no 5 V source cuts off.

    Parameters
    ----------
    graph : SupplyGraph

    Returns
    -------
    tuple of str
        Ids of nodes.
    """
    switched = {name for node in graph if node.kind in _CUTS_OFF for name in graph.fed_by(node.id)}
    return tuple(n.id for n in graph if n.kind in ("load", "module", "fuse", "link") and n.id not in switched)


def _words(engine: Engine, node: SupplyNode) -> str:
    """ "coil of cylinder 3", "relay r1", "engine ground"."""
    words = part_words(engine, node.id)
    kind = _KIND_WORDS.get(node.kind, node.kind)
    if node.kind == "bus":
        return f"{words} bus"
    if node.kind in (*_WIRES, "battery") or words != node.id.replace("_", " ") or kind in words:
        return words
    return f"{kind} {words}"


def _targets(graph: SupplyGraph, node: SupplyNode) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Where edits apply: the node itself, and each way it may be shorted."""
    shorts = [("supply", shorting_place(node.id, "supply"))]
    if node.kind != "relay":  # a welded contact joins a relay to its supply, nothing else
        shorts.append(("ground", shorting_place(node.id, "ground")))
        shorts += [("neighbour", shorting_place(node.id, other)) for other in _beside(graph, node)[:1]]
    return (("self", (node.id,)), *((name, (place,)) for name, place in shorts))


def _beside(graph: SupplyGraph, node: SupplyNode) -> tuple[str, ...]:
    """Neighbours that a chafed wire or water may join it to: as described, else the next in its connector."""
    if node.beside:
        return node.beside
    shared = graph.sharing("connector", node.connector) if node.connector else ()
    return tuple(name for name in shared if name != node.id)


def _place(engine: Engine, graph: SupplyGraph, node: SupplyNode, weight: float) -> PlaceOf:
    words = _words(engine, node)
    zone = "battery" if node.kind in ("battery", "ground", "link") else "wiring"
    ids = _targets(graph, node)
    return PlaceOf("node", node.id, words, node.id, f"the {words}", frozenset({zone}), ids, weight=weight)


def _nodes(engine: Engine, graph: SupplyGraph, chosen: Sequence[SupplyNode]) -> list[PlaceOf]:
    """Each family of nodes takes its share of the faults, its members alike."""
    families = [_FAMILY.get(node.kind, node.kind) for node in chosen]
    return [
        _place(engine, graph, node, _SHARE[family] / families.count(family))
        for node, family in zip(chosen, families, strict=True)
    ]


def _of_kinds(*kinds: str, heavy: bool | None = None) -> _Builder:
    """Nodes of some kinds: all, those that carry the starter's current, or those that do not."""

    def build(engine: Engine) -> list[PlaceOf]:
        graph = supply_of(engine)
        chosen = [node for node in graph if node.kind in kinds]
        found = _nodes(engine, graph, chosen)
        if heavy is None:
            return found
        carries = _starters(graph)
        return [place for place, node in zip(found, chosen, strict=True) if (node.id in carries) == heavy]

    return build


def _starters(graph: SupplyGraph) -> frozenset[str]:
    """What the starter's current goes through, from the battery and back."""
    found: set[str] = set()
    left = ["starter"] if graph.has("starter") else []
    while left:
        node = graph.node(left.pop())
        if node.kind != "battery" and node.id not in found:
            found.add(node.id)
            left += [name for name in (node.feed, node.ground) if name is not None and graph.has(name)]
    return frozenset(found)


def _references(engine: Engine) -> list[PlaceOf]:
    """A 5 V supply, and every sensor on it that may drag it down."""
    graph = supply_of(engine)
    five = sources(graph)
    below = {name for source in five for name in graph.fed_by(source)}
    loads = [node for node in graph if node.id in below and node.kind == "load"]
    return _nodes(engine, graph, [*(graph.node(name) for name in five), *loads])


def _plugs(engine: Engine) -> list[PlaceOf]:
    """What has a plug of its own that somebody may leave off."""
    graph = supply_of(engine)
    return _nodes(engine, graph, [node for node in graph if node.kind == "load"])


def _draining(engine: Engine) -> list[PlaceOf]:
    graph = supply_of(engine)
    return _nodes(engine, graph, [graph.node(name) for name in always_live(graph)])


def _modules(engine: Engine) -> list[PlaceOf]:
    found = []
    for node in supply_of(engine):
        if node.kind == "module":
            words = part_words(engine, node.id)
            zones, ids = frozenset({"computer"}), (("self", (node.id,)),)
            found.append(PlaceOf("module", node.id, words, node.id, f"the {words}", zones, ids))
    return found


def _windings(engine: Engine) -> list[PlaceOf]:
    """Coils, injectors and whatever else a computer switches, and the pump."""
    names = [f"{kind}_{k}" for kind in ("coil", "injector") for k in range(1, engine.cylinders + 1)]
    names += [node.id for node in supply_of(engine) if node.kind == "load" and (node.driver or node.id == "pump")]
    found = []
    for name in dict.fromkeys(names):
        words = part_words(engine, name)
        if name.startswith("o2_"):
            words = f"heater of the {words}"
        stem = name.rpartition("_")[0]
        zone = {"coil": "plugs", "injector": "injectors", "o2_front": "exhaust", "o2_rear": "exhaust"}.get(
            stem, "wiring"
        )
        ids = (("self", (name,)),)
        found.append(PlaceOf("actuator", name, words, name, f"the {words}", frozenset({zone}), ids))
    return found


def _exchangeable(engine: Engine) -> list[PlaceOf]:
    """Two plugs of one shape that reach each other's socket: neighbours' coils and injectors, sensors of two banks."""
    names = [node.id for node in supply_of(engine)]
    pairs = [(f"{kind}_{k}", f"{kind}_{k + 1}") for kind in ("coil", "injector") for k in range(1, engine.cylinders)]
    pairs += [(f"{kind}_1", f"{kind}_2") for kind in ("o2_front", "o2_rear")]
    found = []
    for a, b in pairs:
        if a in names and b in names:
            kind, _, first = a.rpartition("_")
            second = b.rpartition("_")[2]
            words = f"plugs of the {part_words(engine, a)} and the {part_words(engine, b)}"
            name, ids = f"{kind}_{first}-{second}", (("self", (a, b)),)
            found.append(PlaceOf("node", name, words, name, f"the {words}", frozenset({"wiring"}), ids))
    return found


BUILDERS: Mapping[str, _Builder] = {
    "path": _of_kinds(*_PATHS, heavy=False),
    "heavy_path": _of_kinds(*_PATHS, heavy=True),
    "opening": _of_kinds(*_OPENS),
    "shorting": _of_kinds(*_SHORTS),
    "shaking": _of_kinds(*_SHAKES),
    "wetted": _of_kinds(*_WETS),
    "ground": _of_kinds("ground", heavy=False),
    "heavy_ground": _of_kinds("ground", heavy=True),
    "fuse": _of_kinds("fuse", "link"),
    "draining": _draining,
    "plugged": _plugs,
    "reference": _references,
    "module": _modules,
    "winding": _windings,
    "exchangeable": _exchangeable,
}
"""Kinds of place, by what the fault files call them."""
