"""The supply graph: which node feeds which, from the battery to the last sensor, and through which ground it returns.

Electrical, air and oil alike: a node names its feed. What the graph says together is checked in ``supply_check``;
volts and amperes are the affair of ``physics.supply``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from witnessmark.engine.number import ABSENT, Number
from witnessmark.errors import InputError, one_of
from witnessmark.source import UNSTATED, Source

__all__ = ["CARRIERS", "DUCTS", "KINDS", "LOADS", "USUAL_PARTS", "SupplyGraph", "SupplyNode"]

CARRIERS = ("wire", "splice", "pin", "fuse", "link", "relay")
"""Kinds that pass current on from their feed to what they feed."""

LOADS = ("load", "module")
"""Kinds that take current and return it to a ground."""

DUCTS = ("gallery", "branch")
"""Kinds that carry oil or air, no current."""

KINDS = ("battery", *CARRIERS, "ground", "reference5", *LOADS, "bus", *DUCTS)
"""All kinds of node."""

USUAL_PARTS = ("ecu", "gearbox", "pump", "plenum")
"""Parts of the engine that a graph may name without describing them."""


@dataclass(frozen=True, slots=True)
class SupplyNode:
    """One node of the graph.

    Parameters
    ----------
    id : str
        "r1"; a pin is its connector's id and its number: "c9.3".
    kind : str
        One of :data:`KINDS`.
    feed : str, optional
        What feeds it (``from`` in files): a node or a part; of a ground, where it leads.
    ground : str, optional
        Of a load or module: the ground through which its current returns.
    driver : str, optional
        Of a load: the pin of a module that switches it ("ecu.31"); with no ground of its own its current returns there.
    signal : str, optional
        Of a sensor: the pin that reads it.
    coil : str, optional
        Of a relay: the pin that pulls it.
    connector, harness, zone : str, optional
        What it shares with others by place.
    beside : tuple of str
        Neighbours that water or a chafed wire may join it to.
    ends : tuple of str
        Of a bus: the modules on it.
    ohm : Number
        Resistance of its own path from its feed, of a reference: of its source, in ohm.
    load_ohm : Number
        Resistance of a load or module itself, in ohm.
    limit_amps : Number
        Of a reference: the current at which its source gives way, in ampere.
    """

    id: str
    kind: str
    feed: str | None = None
    ground: str | None = None
    driver: str | None = None
    signal: str | None = None
    coil: str | None = None
    connector: str | None = None
    harness: str | None = None
    zone: str | None = None
    beside: tuple[str, ...] = ()
    ends: tuple[str, ...] = ()
    ohm: Number = ABSENT
    load_ohm: Number = ABSENT
    limit_amps: Number = ABSENT

    @property
    def is_electrical(self) -> bool:
        """Whether it carries current from a feed: no duct, and no bus, which carries messages only."""
        return self.kind not in (*DUCTS, "bus")


@dataclass(frozen=True)
class SupplyGraph:
    """All nodes of one vehicle that are described.

    Parameters
    ----------
    name : str
    nodes : tuple of SupplyNode
    parts : tuple of str
        Parts named without being nodes; taken as well supplied.
    source : Source
    """

    name: str
    nodes: tuple[SupplyNode, ...]
    parts: tuple[str, ...] = USUAL_PARTS
    source: Source = UNSTATED

    def __iter__(self) -> Iterator[SupplyNode]:
        return iter(self.nodes)

    @cached_property
    def by_id(self) -> Mapping[str, SupplyNode]:
        """All nodes by their id; of two of one id the first."""
        return {node.id: node for node in reversed(self.nodes)}

    def has(self, name: str) -> bool:
        """Whether a node of this id is described.

        Parameters
        ----------
        name : str

        Returns
        -------
        bool
        """
        return name in self.by_id

    def node(self, name: str) -> SupplyNode:
        """The node of this id.

        Parameters
        ----------
        name : str

        Returns
        -------
        SupplyNode

        Raises
        ------
        InputError
            If there is none; names the nearest.
        """
        found = self.by_id.get(name)
        if found is None:
            raise one_of("node", name, [node.id for node in self.nodes])
        return found

    @property
    def battery(self) -> SupplyNode:
        """The node that feeds all others."""
        for node in self.nodes:
            if node.kind == "battery":
                return node
        raise InputError("a supply graph without a battery")

    def fed_by(self, name: str) -> tuple[str, ...]:
        """Ids of all nodes whose current passes a node: what its loss takes with it.

        Parameters
        ----------
        name : str

        Returns
        -------
        tuple of str
            In the order of description, without the node itself; through feeds and through grounds.

        Raises
        ------
        InputError
            If there is no such node.
        """
        reached = {self.node(name).id}
        while True:
            more = {n.id for n in self.nodes if {n.feed, n.ground, _owner(self, n.driver)} & reached} - reached
            if not more:
                return tuple(n.id for n in self.nodes if n.id in reached and n.id != name)
            reached |= more

    def sharing(self, key: str, value: str) -> tuple[str, ...]:
        """Ids of the nodes that share a connector, harness or zone.

        Parameters
        ----------
        key : str
            "connector", "harness" or "zone".
        value : str

        Returns
        -------
        tuple of str

        Raises
        ------
        InputError
            For another key.
        """
        if key not in ("connector", "harness", "zone"):
            raise one_of("shared place", key, ("connector", "harness", "zone"))
        return tuple(node.id for node in self.nodes if getattr(node, key) == value)


def _owner(graph: SupplyGraph, pin: str | None) -> str | None:
    """The module that a pin belongs to, if the module is a node."""
    part = pin.partition(".")[0] if pin else None
    return part if part and graph.has(part) else None
