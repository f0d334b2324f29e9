"""Where one edit may sit that several children share: every node of the supply graph, connector, harness and zone.

A site's ways of failing are the catalogue's own rows at its node (``data/faults``), with their priors, ranges and
shares by kind of node. A connector, a harness or a zone as a whole fails like its members, all at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Axis, FaultInstance, Kind, Term, catalogue, instances_of
from witnessmark.catalogue.partwords import part_words
from witnessmark.engine.supply import DUCTS, SupplyGraph, SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine

__all__ = ["SHARED_PLACES", "Site", "Way", "duct_place", "node_words", "sites_of"]

Array = NDArray[np.float64]

SHARED_PLACES: Mapping[str, float] = {"connector": 0.5, "harness": 0.15, "zone": 0.05}
"""How often such a place fails as a whole, over how often one of its members does in the same way; our guess."""

# The catalogue's rows that sit on nodes, and the way of failing that each is. What parts do wrong inside themselves is
# a way of their own node: the part and its own wire are one site.
_ROWS: Mapping[str, str] = {
    "wire_open": "open",
    "contact_resistance": "resistance",
    "ground_resistance": "resistance",
    "wire_shorted": "short",
    "reference_dragged": "short",
    "terminal_loose": "loose",
    "water_in_connector": "wet",
    "winding_open": "itself",
    "front_o2_dead": "itself",
    "knock_sensor_wrong": "itself",
    "rail_sensor_wrong": "itself",
    "driver_dead": "driver",
    "module_dead": "silent",
    "branch_leak": "leak",
    "oilway_blocked": "blocked",
}
_KIND_WORDS = {
    "reference5": "5 V supply",
    "link": "fusible link",
    "branch": "vacuum branch",
    "gallery": "oil gallery",
}
_SYSTEMS = ("drive", "electrical", "sensors", "air", "oil")
_COMES_AND_GOES = ("loose", "wet")
_PLACE_WORDS = {"connector": "connector {}", "harness": "{} harness", "zone": "zone “{}”"}
_WHOLE: Mapping[str, tuple[str, ...]] = {
    "connector": ("open", "resistance", "loose", "wet"),
    "harness": ("open", "short", "loose"),
    "zone": ("loose", "wet"),
}
"""What can happen to a shared place as a whole: a plug off or wet, a harness pinched or cut, heat and wet in a zone."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which a site may fail.

    Parameters
    ----------
    name : str
        "open", "resistance", "short", "loose", "wet", "itself", "driver", "silent", "leak", "blocked".
    to : str
        Of a short: "ground", "supply" or "neighbour"; else empty.
    prior : float [-]
        Weight, against all ways of all sites of one graph.
    kind : Kind
        Its edits; all its sizes grow together.
    comes_and_goes : bool
    """

    name: str
    to: str
    prior: float
    kind: Kind
    comes_and_goes: bool

    @property
    def has_size(self) -> bool:
        """Whether it may be small or large."""
        return bool(self.kind.axes)

    def sizes(self, share: Array) -> Array:
        """Every size at a share of its range.

        Parameters
        ----------
        share : ndarray, shape (n,) [-]

        Returns
        -------
        ndarray, shape (n, axes)
            In each variable's unit.
        """
        columns = [axis.at(share) for axis in self.kind.axes]
        return np.stack(columns, axis=1) if columns else np.zeros((len(share), 0))


@dataclass(frozen=True, slots=True)
class Site:
    """One node, or one place that several nodes share.

    Parameters
    ----------
    id : str
        Of the node; "connector:c9", "harness:engine", "zone:head".
    kind : str
        Of the node; "connector", "harness" or "zone".
    words : str
        Without an article.
    nodes : tuple of str
        The nodes it takes with it when it fails as a whole; the node itself.
    ways : tuple of Way
    """

    id: str
    kind: str
    words: str
    nodes: tuple[str, ...]
    ways: tuple[Way, ...]

    @property
    def prior(self) -> float:
        """Weight of all its ways."""
        return sum(way.prior for way in self.ways)


def sites_of(engine: Engine) -> tuple[Site, ...]:
    """Every site of an engine's supply graph that can fail, with its ways.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of Site
        Priors sum to 1. A connector, harness or zone stands among them if it holds two nodes or more.
    """
    graph = supply_of(engine)
    ways = _ways_by_node(engine, graph)
    found = [Site(n.id, n.kind, node_words(engine, n), (n.id,), tuple(ways[n.id])) for n in graph if ways.get(n.id)]
    found += list(_shared_places(graph, ways))
    total = sum(site.prior for site in found)
    return tuple(replace(s, ways=tuple(replace(w, prior=w.prior / total) for w in s.ways)) for s in found)


def duct_place(node: SupplyNode) -> str:
    """The duct of the state that a gallery or a vacuum branch is to the forward model.

    Parameters
    ----------
    node : SupplyNode
        Of kind "gallery" or "branch".

    Returns
    -------
    str
        "gallery"; "servo" of a hose named so, else "branch".
    """
    if node.kind == "gallery":
        return "gallery"
    return "servo" if "servo" in node.id else "branch"


def node_words(engine: Engine, node: SupplyNode) -> str:
    """A node in words, without an article: "pin c9.3", "main relay", "coil of cylinder 2".

    Parameters
    ----------
    engine : Engine
    node : SupplyNode

    Returns
    -------
    str
    """
    words, kind = part_words(engine, node.id), _KIND_WORDS.get(node.kind, node.kind)
    if node.kind in ("load", "module", "battery") or kind in words:
        return words
    if node.kind in ("pin", "wire"):
        return f"{kind} {node.id}"
    first, _, rest = words.partition(" ")
    if first == node.kind or words.endswith(f" {node.kind}"):
        return f"{kind} {rest}" if first == node.kind and rest else words
    return f"{words} bus" if node.kind == "bus" else f"{kind} {words}"


def _ways_by_node(engine: Engine, graph: SupplyGraph) -> dict[str, list[Way]]:
    found: dict[str, list[Way]] = {}
    ducts: dict[str, list[str]] = {}
    for node in graph:
        if node.kind in DUCTS:
            ducts.setdefault(duct_place(node), []).append(node.id)
    rows = catalogue(_SYSTEMS)
    for row_id, name in _ROWS.items():
        for instance in instances_of(engine, rows.row(row_id)):
            place = instance.where.id
            nodes = [place] if graph.has(place) else ducts.get(place, [])
            for one in nodes:
                found.setdefault(one, []).extend(_ways(instance, name, 1.0 / len(nodes)))
    return found


def _ways(instance: FaultInstance, name: str, part: float) -> Iterator[Way]:
    weight = instance.row.prior * instance.share * part
    for kind in instance.kinds:
        yield Way(name, kind.way, weight * kind.weight, kind, name in _COMES_AND_GOES)


def _shared_places(graph: SupplyGraph, ways: Mapping[str, Sequence[Way]]) -> Iterator[Site]:
    for key, often in SHARED_PLACES.items():
        values = dict.fromkeys(getattr(node, key) for node in graph if getattr(node, key))
        for value in values:
            members = tuple(one for one in graph.sharing(key, value) if graph.node(one).is_electrical)
            own = tuple(_as_a_whole(f"{key}:{value}", _WHOLE[key], members, ways, often))
            if len(members) > 1 and own:
                yield Site(f"{key}:{value}", key, _PLACE_WORDS[key].format(value), members, own)


def _as_a_whole(
    place: str, names: Sequence[str], members: Sequence[str], ways: Mapping[str, Sequence[Way]], often: float
) -> Iterator[Way]:
    """One way for all members at once, in each way that two of them or more can fail in."""
    for name in names:
        each = [[way for way in ways.get(one, ()) if way.name == name and way.to in ("", "ground")] for one in members]
        able = [own for own in each if own]
        if len(able) < 2:
            continue
        prior = often * sum(way.prior for own in able for way in own) / len(able)
        first = able[0][0]
        if name == "loose":  # what moves the place takes all its contacts at the same moment
            terms: tuple[Term, ...] = (Term("dropout_rate", place, "add", 1.0, 0),)
        else:
            terms = tuple(term for own in able for term in own[0].kind.terms)
        yield Way(name, first.to, prior, Kind(1.0, terms, _axes(able), first.to), first.comes_and_goes)


def _axes(able: Sequence[Sequence[Way]]) -> tuple[Axis, ...]:
    """The widest of the members' ranges."""
    each = [own[0].kind.axes for own in able]
    return tuple(
        Axis(axes[0].variable, min(a.low for a in axes), max(a.high for a in axes)) for axes in zip(*each, strict=True)
    )
