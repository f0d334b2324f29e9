"""The part of a supply graph that a figure shows, as lines from top to bottom: feeds above what hangs on them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from witnessmark.engine.supply import LOADS, SupplyGraph, SupplyNode

__all__ = ["Line", "graph_lines", "is_of_returns"]

_MOST = 34  # lines; what is sound and away from the suspect is then told as a number


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the figure.

    Parameters
    ----------
    node : str
        Empty where it stands for several that are not drawn.
    depth : int
        How many stand above it.
    parent : int
        Its parent's line; -1 for none.
    is_below : bool
        Whether it is the suspect or hangs on it.
    folded : int
        How many it stands for.
    """

    node: str
    depth: int
    parent: int
    is_below: bool
    folded: int = 0


def is_of_returns(graph: SupplyGraph, suspects: tuple[str, ...]) -> bool:
    """Whether a figure follows the grounds: where all that is suspected is one.

    Parameters
    ----------
    graph : SupplyGraph
    suspects : tuple of str

    Returns
    -------
    bool
    """
    return bool(suspects) and all(graph.node(name).kind == "ground" for name in suspects)


def graph_lines(graph: SupplyGraph, suspects: tuple[str, ...], read: Mapping[str, bool]) -> tuple[Line, ...]:
    """Lines of the suspects, of what was read, and of all that stands between them and the battery.

    Parameters
    ----------
    graph : SupplyGraph
    suspects : tuple of str
    read : mapping of str to bool
        By node: whether anything that was found there is off.

    Returns
    -------
    tuple of Line
    """
    parents = _parents(graph, suspects)
    kept = {name for name in (*suspects, *read) if graph.has(name)}
    below = {name for name in parents if any(one in suspects for one in _up(parents, name))}
    if len(_whole(parents, kept)) > _MOST:
        kept = {name for name in kept if name in suspects or name in below or read.get(name, False)}
    kept = _whole(parents, kept)
    lines: list[Line] = []
    for root in (node.id for node in graph if node.id in kept and parents[node.id] is None):
        _add(graph, parents, kept, below, suspects, root, 0, -1, lines)
    return tuple(lines)


def _parents(graph: SupplyGraph, suspects: tuple[str, ...]) -> dict[str, str | None]:
    returns = is_of_returns(graph, suspects)
    found: dict[str, str | None] = {}
    buses = [name for name in suspects if graph.node(name).kind == "bus"]
    for node in graph:
        parent = _return_of(graph, node) if returns else node.feed
        if buses and node.kind == "module" and node.id in graph.node(buses[0]).ends:
            parent = buses[0]
        found[node.id] = parent if parent is not None and graph.has(parent) else None
    return found


def _return_of(graph: SupplyGraph, node: SupplyNode) -> str | None:
    if node.kind in LOADS:
        return node.ground or (node.driver.partition(".")[0] if node.driver else None)
    return node.feed if node.kind in ("ground", "reference5") else None


def _up(parents: Mapping[str, str | None], name: str) -> Iterator[str]:
    here: str | None = name
    while here is not None:
        yield here
        here = parents[here]


def _whole(parents: Mapping[str, str | None], kept: set[str]) -> set[str]:
    return {one for name in kept for one in _up(parents, name)}


def _add(
    graph: SupplyGraph, parents: Mapping[str, str | None], kept: set[str], below: set[str], suspects: tuple[str, ...],
    name: str, depth: int, parent: int, lines: list[Line],
) -> None:  # fmt: skip
    here = len(lines)
    lines.append(Line(name, depth, parent, name in below))
    children = [node.id for node in graph if parents[node.id] == name]
    for child in children:
        if child in kept:
            _add(graph, parents, kept, below, suspects, child, depth + 1, here, lines)
    left = [child for child in children if child not in kept]
    if left and name in below:
        loads = {one for child in left for one in _under(graph, parents, child) if graph.node(one).kind in LOADS}
        lines.append(Line("", depth + 1, here, True, max(len(loads), 1)))


def _under(graph: SupplyGraph, parents: Mapping[str, str | None], name: str) -> Iterator[str]:
    yield from (node.id for node in graph if name in _up(parents, node.id))
