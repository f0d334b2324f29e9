"""A network of resistors between nodes of known and unknown potential, solved for many sets of values at once.

Unknown nodes are eliminated one by one, each by its star-mesh transform: what hung together through the node hangs
together directly afterwards. Only sums, products and quotients of positive conductances occur, so nothing cancels
between a milliohm and an open wire. The order of elimination is found once, from the wiring alone; the arithmetic then
runs over whole arrays, one entry for each set of values (docs/physics.md, "resistor networks").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError

__all__ = ["Eliminated", "NetworkSolution", "Reduced", "eliminate", "reduce_network", "solve_network"]

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class NetworkSolution:
    """Potentials and currents of a network.

    Parameters
    ----------
    volts : array, shape (n, nodes) [V]
        NaN where nothing settles a node's potential: no path leads to a fixed one.
    amps : array, shape (n, branches) [A]
        From the first to the second end of each branch.
    """

    volts: _Array
    amps: _Array


@dataclass(frozen=True, slots=True)
class _Plan:
    """In which order nodes go, and what each still touches then."""

    order: tuple[int, ...]
    touching: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class _Star:
    """One node as it was when it went: what it touched, its shares, their sum, and whether that is ever nothing."""

    node: int
    touching: tuple[int, ...]
    shares: tuple[_Array, ...]
    total: _Array
    floats: bool


@dataclass(frozen=True, slots=True)
class Eliminated:
    """A network whose unknown nodes have been eliminated: ready for any potentials and currents given to it.

    Parameters
    ----------
    n_nodes : int
    branches : tuple of (int, int), length m
    siemens : array, shape (n, m) [S]
    fixed : tuple of int, length f
    stars : tuple of _Star
        The nodes in the order in which they went.
    """

    n_nodes: int
    branches: tuple[tuple[int, int], ...]
    siemens: _Array
    fixed: tuple[int, ...]
    stars: tuple[_Star, ...]

    def solve(self, fixed_volts: _Array, injected: _Array | None = None) -> NetworkSolution:
        """Potential of every node and current of every branch.

        Parameters
        ----------
        fixed_volts : array, shape (n, f) [V]
        injected : array, shape (n, n_nodes), optional [A]
            Current driven into each node from outside.

        Returns
        -------
        NetworkSolution

        Raises
        ------
        EngineDefinitionError
            Where a current is driven into nodes that nothing leads away from.

        Notes
        -----
        Substitution backward through the eliminated nodes, and one step of refinement; follows from Kirchhoff's laws.

        Examples
        --------
        >>> import numpy as np
        >>> ready = eliminate(2, [(0, 1)], siemens=np.array([[0.5]]), fixed=[0])
        >>> ready.solve(np.array([[12.0]]), np.array([[0.0, -1.0]])).volts.tolist()
        [[12.0, 10.0]]
        """
        # Inside, one row is one node or branch with all its sets of values: they are worked on together.
        given, siemens = np.ascontiguousarray(fixed_volts.T), np.ascontiguousarray(self.siemens.T)
        driven = np.zeros((self.n_nodes, len(self.siemens))) if injected is None else np.array(injected.T, order="C")
        volts = _potentials(self.stars, driven, self.fixed, given)
        amps = _currents(volts, self.branches, siemens)
        # What rounding left over at each node is driven in once more; potentials that small keep all their digits.
        lacking = driven - _leaving(amps, self.branches, self.n_nodes)
        lacking[list(self.fixed)] = 0.0
        floating = np.isnan(volts)
        lacking[floating] = 0.0
        correction = _potentials(self.stars, lacking, self.fixed, np.zeros_like(given))
        amps += _currents(correction, self.branches, siemens)
        correction[floating] = np.nan
        return NetworkSolution((volts + correction).T, amps.T)

    def respond(self, injected: _Array) -> NetworkSolution:
        """What several currents would each add, were they driven in alone: the given potentials held at nothing.

        Parameters
        ----------
        injected : array, shape (k, n_nodes) or (k, n, n_nodes) [A]
            Current driven into each node from outside, k cases of it, for all sets of values alike or for each.

        Returns
        -------
        NetworkSolution
            ``volts`` of shape (k, n, nodes), ``amps`` of shape (k, n, branches).

        Raises
        ------
        EngineDefinitionError
            Where a current is driven into nodes that nothing leads away from.

        Notes
        -----
        As :meth:`solve`, without its refinement; what it adds to a solution follows from linearity.

        Examples
        --------
        >>> import numpy as np
        >>> ready = eliminate(2, [(0, 1)], siemens=np.array([[0.5]]), fixed=[0])
        >>> ready.respond(np.array([[0.0, -1.0], [0.0, 2.0]])).volts.tolist()
        [[[0.0, -2.0]], [[0.0, 4.0]]]
        """
        n = len(self.siemens)
        given = np.asarray(injected, dtype=np.float64)
        cases = given[:, None, :] if given.ndim == 2 else given
        driven = np.ascontiguousarray(np.broadcast_to(np.moveaxis(cases, 2, 0), (self.n_nodes, len(given), n)))
        volts = _potentials(self.stars, driven, self.fixed, np.zeros((len(self.fixed), 1, 1)))
        amps = _currents(volts, self.branches, np.ascontiguousarray(self.siemens.T)[:, None, :])
        return NetworkSolution(np.moveaxis(volts, 0, 2), np.moveaxis(amps, 0, 2))


def eliminate(
    n_nodes: int, branches: Sequence[tuple[int, int]], *, siemens: _Array, fixed: Sequence[int]
) -> Eliminated:
    """A network made ready, for those who solve it for several sets of given potentials and currents.

    Parameters
    ----------
    n_nodes : int
    branches : sequence of (int, int), length m
        The two nodes that each branch joins.
    siemens : array, shape (n, m) [S]
        Conductance of each branch in each of n sets of values; 0 for an open one.
    fixed : sequence of int, length f
        Nodes whose potential is given.

    Returns
    -------
    Eliminated

    Raises
    ------
    EngineDefinitionError
        For a conductance that is negative or not finite, and for a branch from a node to itself.

    Notes
    -----
    Star-mesh transform, node by node: see :func:`solve_network`. From memory.

    Examples
    --------
    >>> import numpy as np
    >>> len(eliminate(3, [(0, 1), (1, 2)], siemens=np.ones((4, 2)), fixed=[0, 2]).stars)
    1
    """
    _refuse_bad(branches, siemens)
    plan = _plan(n_nodes, tuple(branches), tuple(fixed))
    stars = tuple(_eliminated(plan, branches, siemens))
    return Eliminated(n_nodes, tuple(branches), siemens, tuple(fixed), stars)


@dataclass(frozen=True, slots=True)
class Reduced:
    """A network of which only some nodes are left: what hung together through the others hangs together directly.

    Parameters
    ----------
    n_nodes : int
        Of the whole.
    branches : tuple of (int, int), length m
        Of the whole.
    fixed : tuple of int, length f
    left : tuple of int
        Nodes of the whole that are left: the fixed ones first.
    stars : tuple of _Star
        The others in the order in which they went.
    mesh : tuple of (int, int), length p
        Pairs of what is left, as places in ``left``.
    siemens : array, shape (n, p) [S]
        Between the two of each pair.
    """

    n_nodes: int
    branches: tuple[tuple[int, int], ...]
    fixed: tuple[int, ...]
    left: tuple[int, ...]
    stars: tuple[_Star, ...]
    mesh: tuple[tuple[int, int], ...]
    siemens: _Array

    def injected(self, whole: _Array) -> _Array:
        """What currents driven into the whole network are to the nodes that are left.

        Parameters
        ----------
        whole : array, shape (n, n_nodes) [A]

        Returns
        -------
        array, shape (n, nodes left) [A]

        Notes
        -----
        Follows from the star-mesh transform: a node that goes gives its current on by the shares of its arms.

        Examples
        --------
        An ampere into the middle of two like resistors:

        >>> import numpy as np
        >>> few = reduce_network(3, [(0, 1), (1, 2)], siemens=np.ones((1, 2)), fixed=[0], left=[2])
        >>> few.injected(np.array([[0.0, 1.0, 0.0]])).tolist()
        [[0.5, 0.5]]
        """
        driven = _given_on(self.stars, np.ascontiguousarray(whole.T))
        return np.ascontiguousarray(driven[list(self.left)].T)

    def whole(self, rest: Eliminated, siemens: _Array) -> Eliminated:
        """The whole network made ready, from what is left made ready.

        Parameters
        ----------
        rest : Eliminated
            Of the nodes that are left, numbered by their place in ``left``, with branches of their own besides.
        siemens : array, shape (n, m) [S]
            Of the whole, those branches included.

        Returns
        -------
        Eliminated

        Notes
        -----
        By definition: the nodes of ``rest`` go after all others.

        Examples
        --------
        >>> import numpy as np
        >>> siemens = np.array([[1.0, 1.0, 2.0]])
        >>> chain = [(0, 1), (1, 2), (2, 3)]
        >>> few = reduce_network(4, chain, siemens=siemens, fixed=[0, 3], left=[2])
        >>> rest = eliminate(3, few.mesh, siemens=few.siemens, fixed=[0, 1])
        >>> few.whole(rest, siemens).solve(np.array([[5.0, 0.0]])).volts.tolist()
        [[5.0, 3.0, 1.0, 0.0]]
        """
        own = [
            _Star(
                self.left[star.node],
                tuple(self.left[one] for one in star.touching),
                star.shares,
                star.total,
                star.floats,
            )
            for star in rest.stars
        ]
        return Eliminated(self.n_nodes, self.branches, siemens, self.fixed, (*self.stars, *own))


def reduce_network(
    n_nodes: int, branches: Sequence[tuple[int, int]], *, siemens: _Array, fixed: Sequence[int], left: Sequence[int]
) -> Reduced:
    """A network without most of its nodes, for those who try several things at the few that are left.

    Parameters
    ----------
    n_nodes : int
    branches : sequence of (int, int), length m
    siemens : array, shape (n, m) [S]
    fixed : sequence of int, length f
        Nodes whose potential is given.
    left : sequence of int
        Nodes that stay besides.

    Returns
    -------
    Reduced

    Raises
    ------
    EngineDefinitionError
        As :func:`eliminate`.

    Notes
    -----
    Star-mesh transform, node by node: see :func:`solve_network`. From memory.

    Examples
    --------
    Two resistors of 1 and 3 ohm in a row are one of 4:

    >>> import numpy as np
    >>> few = reduce_network(3, [(0, 1), (1, 2)], siemens=np.array([[1.0, 1 / 3]]), fixed=[0], left=[2])
    >>> few.mesh, few.siemens.tolist()
    (((0, 1),), [[0.25]])
    """
    _refuse_bad(branches, siemens)
    stays = tuple(dict.fromkeys([*fixed, *left]))
    plan = _plan(n_nodes, tuple(branches), stays)
    between: dict[tuple[int, int], _Array] = {}
    stars = tuple(_eliminated(plan, branches, siemens, between))
    place = {node: i for i, node in enumerate(stays)}
    mesh = tuple((place[a], place[b]) for a, b in between)
    columns = np.stack(list(between.values()), axis=1) if between else np.zeros((len(siemens), 0))
    return Reduced(n_nodes, tuple(branches), tuple(fixed), stays, stars, mesh, columns)


def solve_network(
    n_nodes: int,
    branches: Sequence[tuple[int, int]],
    *,
    siemens: _Array,
    fixed: Sequence[int],
    fixed_volts: _Array,
    injected: _Array | None = None,
) -> NetworkSolution:
    """Potential of every node and current of every branch.

    Parameters
    ----------
    n_nodes : int
    branches : sequence of (int, int), length m
        The two nodes that each branch joins.
    siemens : array, shape (n, m) [S]
        Conductance of each branch in each of n sets of values; 0 for an open one.
    fixed : sequence of int, length f
        Nodes whose potential is given.
    fixed_volts : array, shape (n, f) [V]
    injected : array, shape (n, n_nodes), optional [A]
        Current driven into each node from outside.

    Returns
    -------
    NetworkSolution

    Raises
    ------
    EngineDefinitionError
        For a conductance that is negative or not finite, for a branch from a node to itself, and where a current is
        driven into nodes that nothing leads away from.

    Notes
    -----
    Kirchhoff's laws by nodal analysis; a node goes by the star-mesh transform g_ij = g_i g_j / Σ g, from memory.
    One step of refinement against the currents follows, so that they close at each node far below what
    rounding of potentials would leave. Exact for any linear network; 1e-12 to 1e6 S were tried.

    Examples
    --------
    Two resistors of 1 and 3 ohm across 12 V:

    >>> import numpy as np
    >>> values = np.array([[1.0, 1.0 / 3.0]])
    >>> solved = solve_network(
    ...     3, [(0, 1), (1, 2)], siemens=values, fixed=[0, 2], fixed_volts=np.array([[12.0, 0.0]])
    ... )
    >>> solved.volts[0].round(9).tolist(), solved.amps[0].round(9).tolist()
    ([12.0, 9.0, 0.0], [3.0, 3.0])
    """
    return eliminate(n_nodes, branches, siemens=siemens, fixed=fixed).solve(fixed_volts, injected)


def _refuse_bad(branches: Sequence[tuple[int, int]], siemens: _Array) -> None:
    if np.any(~np.isfinite(siemens)) or np.any(siemens < 0.0):
        raise EngineDefinitionError("a conductance that is negative or endless", expected="0 siemens or more")
    for a, b in branches:
        if a == b:
            raise EngineDefinitionError(f"a branch from node {a} to itself")


@lru_cache(maxsize=64)
def _plan(n_nodes: int, branches: tuple[tuple[int, int], ...], fixed: tuple[int, ...]) -> _Plan:
    """Fewest neighbours first: on a wiring tree that never makes a new branch."""
    near: dict[int, set[int]] = {node: set() for node in range(n_nodes)}
    for a, b in branches:
        near[a].add(b)
        near[b].add(a)
    left, order, touching = set(range(n_nodes)) - set(fixed), [], []
    while left:
        node = min(left, key=lambda one: (len(near[one]), one))
        around = tuple(sorted(near.pop(node)))
        for one in around:
            near[one].discard(node)
            near[one].update(other for other in around if other != one)
        left.remove(node)
        order.append(node)
        touching.append(around)
    return _Plan(tuple(order), tuple(touching))


def _eliminated(
    plan: _Plan,
    branches: Sequence[tuple[int, int]],
    siemens: _Array,
    between: dict[tuple[int, int], _Array] | None = None,
) -> list[_Star]:
    """The nodes as they go; what is left between those that stay stands in ``between`` afterwards."""
    between = {} if between is None else between
    for column, (a, b) in enumerate(branches):
        key = (min(a, b), max(a, b))
        own = np.ascontiguousarray(siemens[:, column])
        between[key] = between[key] + own if key in between else own
    nothing = np.zeros(len(siemens))
    stars = []
    for node, touching in zip(plan.order, plan.touching, strict=True):
        arms = [between.pop((min(node, one), max(node, one)), nothing) for one in touching]
        total = sum(arms, nothing)
        floats = bool(np.any(total <= 0.0))
        if floats:
            shares = tuple(np.divide(arm, total, out=np.zeros_like(total), where=total > 0.0) for arm in arms)
        else:
            shares = tuple(arm / total for arm in arms)
        for i, one in enumerate(touching):
            for j in range(i):
                key = (min(one, touching[j]), max(one, touching[j]))
                between[key] = between.get(key, nothing) + arms[i] * shares[j]
        stars.append(_Star(node, touching, shares, total, floats))
    return stars


def _given_on(stars: Sequence[_Star], injected: _Array) -> _Array:
    """Currents driven in, with what each node that goes gives on to those it touches."""
    driven = np.array(injected)
    for star in stars:
        own = driven[star.node]
        if own.any():  # most nodes have nothing driven in
            for one, share in zip(star.touching, star.shares, strict=True):
                driven[one] += share * own
    return driven


def _potentials(stars: Sequence[_Star], injected: _Array, fixed: Sequence[int], fixed_volts: _Array) -> _Array:
    """Potentials by node; behind the nodes any shape that ends in the sets of values."""
    driven = _given_on(stars, injected)
    volts = np.full_like(driven, np.nan)
    volts[list(fixed)] = fixed_volts
    held = not any(star.floats for star in stars)
    for star in reversed(stars):
        own = driven[star.node] / star.total if held else _where_held(star, driven[star.node])
        for one, share in zip(star.touching, star.shares, strict=True):
            if held:
                own += share * volts[one]
            else:
                np.add(own, share * volts[one], out=own, where=share > 0.0)
        volts[star.node] = own
    return volts


def _where_held(star: _Star, current: _Array) -> _Array:
    """What a driven current alone makes of a node's potential, NaN where nothing holds it."""
    floating = star.total <= 0.0
    if np.any(floating & (current != 0.0)):
        raise EngineDefinitionError(f"a current is driven into node {star.node}, and nothing leads away from it")
    return np.divide(current, star.total, out=np.full_like(current, np.nan), where=~floating)


def _currents(volts: _Array, branches: Sequence[tuple[int, int]], siemens: _Array) -> _Array:
    ends = np.array(branches, dtype=np.intp).reshape(-1, 2)
    amps = volts[ends[:, 0]]
    amps -= volts[ends[:, 1]]
    amps *= siemens
    # Between nodes that both float nothing flows: no potential settles them, and no current can.
    amps[np.isnan(amps)] = 0.0
    return amps


def _leaving(amps: _Array, branches: Sequence[tuple[int, int]], n_nodes: int) -> _Array:
    leaving = np.zeros((n_nodes, amps.shape[1]))
    for row, (a, b) in enumerate(branches):
        leaving[a] += amps[row]
        leaving[b] -= amps[row]
    return leaving
