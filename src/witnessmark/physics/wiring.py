"""The supply graph as a network: terminals, and the branches between them.

Every potential is against the battery's negative post, whose terminal is called :data:`DATUM`. A load or module has the
terminal of its own id on the supply side; its return side is the ground it names, or, where a driver switches it,
a terminal of its own behind which the driver stands.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.engine.supply import LOADS, SupplyGraph, SupplyNode
from witnessmark.errors import InputError, one_of

__all__ = ["DATUM", "SHORT_TO", "Branch", "Regulator", "Wiring", "wire"]

DATUM = "battery negative"
"""The terminal that all potentials are against."""

SHORT_TO = ("ground", "supply")
"""What a short may lead to besides another node."""

_EMF = "battery emf"


@dataclass(frozen=True, slots=True)
class Branch:
    """One branch of the network.

    Parameters
    ----------
    kind : str
        "battery", "path" (a node's own, from its feed), "load", "driver", "short", "leak" (a parasitic drain),
        "source" (of a 5 V reference, to its module's minus), "pass" (to its module's plus), "sense".
    node : str
        Whose it is.
    ends : tuple of (int, int)
        Numbers of its terminals.
    to : str
        Of a short: where it leads.
    """

    kind: str
    node: str
    ends: tuple[int, int]
    to: str = ""


@dataclass(frozen=True, slots=True)
class Regulator:
    """Where a 5 V source sits.

    Parameters
    ----------
    node : SupplyNode
    out, plus, minus : int
        Numbers of the terminals: its output, and the supply and the ground of its module.
    """

    node: SupplyNode
    out: int
    plus: int
    minus: int


@dataclass(frozen=True, slots=True)
class Wiring:
    """A whole network.

    Parameters
    ----------
    terminals : tuple of str
        The first two are the fixed ones: the battery's negative post, and its EMF behind its resistance.
    branches : tuple of Branch
    regulators : tuple of Regulator
    returns : tuple of (str, int)
        Each load and module with the number of its return terminal.
    """

    terminals: tuple[str, ...]
    branches: tuple[Branch, ...]
    regulators: tuple[Regulator, ...]
    returns: tuple[tuple[str, int], ...]

    @property
    def ends(self) -> list[tuple[int, int]]:
        """The two terminals of each branch."""
        return [branch.ends for branch in self.branches]


class _Builder:
    """Terminals and branches as they are found."""

    def __init__(self, graph: SupplyGraph) -> None:
        self.graph = graph
        self.numbers = {DATUM: 0, _EMF: 1}
        self.branches: list[Branch] = []

    def terminal(self, name: str) -> int:
        return self.numbers.setdefault(name, len(self.numbers))

    def add(self, kind: str, node: str, ends: tuple[int, int], to: str = "") -> None:
        # A load whose two sides are one terminal takes no current and needs no branch.
        if ends[0] != ends[1]:
            self.branches.append(Branch(kind, node, ends, to))

    def plus(self, name: str | None) -> int:
        """The supply side of a feed; a part that is not described stands on the battery itself."""
        return self.terminal(name if name is not None and self.graph.has(name) else self.graph.battery.id)

    def minus(self, name: str | None) -> int:
        """Where a return to this node ends."""
        if name is None or not self.graph.has(name) or self.graph.node(name).kind == "battery":
            return self.terminal(DATUM)
        node = self.graph.node(name)
        return self.returning(node) if node.kind in LOADS else self.terminal(name)

    def returning(self, node: SupplyNode) -> int:
        return self.minus(node.ground) if node.ground is not None else self.terminal(f"{node.id} return")


def wire(graph: SupplyGraph, *, shorts: Iterable[tuple[str, str]] = (), leaks: Iterable[str] = ()) -> Wiring:
    """The network of a supply graph.

    Parameters
    ----------
    graph : SupplyGraph
        One that :func:`~witnessmark.engine.supply_check.check_supply` lets pass.
    shorts : iterable of (str, str)
        Node, and where a short from it leads: "ground", "supply", or another node.
    leaks : iterable of str
        Nodes with a parasitic drain.

    Returns
    -------
    Wiring

    Raises
    ------
    InputError
        For a short or drain at a node that is not there, that carries no current, or from a node to itself.

    Notes
    -----
    Follows from the graph: each node is one branch from its feed, each load one more to its return.

    Examples
    --------
    >>> from witnessmark.engine.supply import SupplyGraph, SupplyNode
    >>> lamp = SupplyNode("lamp", "load", "batt", ground="batt")
    >>> wiring = wire(SupplyGraph("torch", (SupplyNode("batt", "battery"), lamp)))
    >>> wiring.terminals
    ('battery negative', 'battery emf', 'batt', 'lamp')
    >>> [(branch.kind, branch.ends) for branch in wiring.branches]
    [('battery', (1, 2)), ('path', (2, 3)), ('load', (3, 0))]
    """
    build = _Builder(graph)
    battery = graph.battery.id
    build.add("battery", battery, (build.terminal(_EMF), build.terminal(battery)))
    regulators: list[Regulator] = []
    for node in graph:
        if node.is_electrical and node.kind != "battery":
            _add_node(build, node, regulators)
    for name, to in shorts:
        ends = build.terminal(_carrying(graph, name)), _short_end(build, name, to)
        if ends[0] == ends[1]:
            raise InputError(f"a short from {name} to itself")
        build.add("short", name, ends, to)
    for name in leaks:
        build.add("leak", name, (build.terminal(_carrying(graph, name)), 0))
    returns = tuple((node.id, build.returning(node)) for node in graph if node.kind in LOADS)
    return Wiring(tuple(build.numbers), tuple(build.branches), tuple(regulators), returns)


def _add_node(build: _Builder, node: SupplyNode, regulators: list[Regulator]) -> None:
    own = build.terminal(node.id)
    if node.kind == "ground":
        build.add("path", node.id, (own, build.minus(node.feed)))
        return
    if node.kind == "reference5":
        out, plus, minus = build.terminal(f"{node.id} source"), build.plus(node.feed), build.minus(node.feed)
        regulators.append(Regulator(node, out, plus, minus))
        build.add("path", node.id, (out, own))
        for kind, end in (("source", minus), ("pass", plus), ("sense", minus)):
            build.add(kind, node.id, (out, end))
        return
    build.add("path", node.id, (build.plus(node.feed), own))
    if node.kind in LOADS:
        back = build.returning(node)
        build.add("load", node.id, (own, back))
        if node.ground is None and node.driver is not None:
            build.add("driver", node.id, (back, build.minus(node.driver.partition(".")[0])))


def _carrying(graph: SupplyGraph, name: str) -> str:
    if not graph.node(name).is_electrical:
        raise InputError(f"node {name} carries no current", expected="a node between battery and ground")
    return name


def _short_end(build: _Builder, name: str, to: str) -> int:
    if to == "ground":
        return 0
    if to == "supply":
        return build.terminal(build.graph.battery.id)
    if not build.graph.has(to):
        raise one_of("end of a short", to, [*SHORT_TO, *(node.id for node in build.graph)], where=f"node {name}")
    return build.terminal(_carrying(build.graph, to))
