"""The look-ahead as a graph of situations, each with a price that can be had and one that no plan can beat.

A situation reached by the same actions and outcomes in another order is the same one and is worked out once. It is
*opened* by trying every action left on it. Prices are times the chance of coming there, so that those of an action's
outcomes simply add.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.agreement import Asking
from witnessmark.plan.bounds import KnownCause
from witnessmark.plan.quickleaf import QuickOrder
from witnessmark.plan.tables import Situations, Tables
from witnessmark.plan.telling import Telling

__all__ = ["Graph"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
# Chance of a situation below which it is priced but never opened.
_UNLIKELY = 1e-7
# Share of the root's price that no situation is opened for.
_TRIFLE = 1e-6
_NOWHERE = 0  # the number of the situation that cannot be: it costs nothing


class Graph:
    """Situations found so far.

    Parameters
    ----------
    tables : Tables
    asking : Asking, optional
        Where the case may end inside what was agreed by asking for more.

    Notes
    -----
    Arrays, one row a situation: ``at`` the situations, ``upper`` a price that can be had, ``lower`` one that no plan
    can beat, ``depth`` how many actions lie before it, ``opened`` its row in the tables of edges or -1.
    """

    def __init__(self, tables: Tables, asking: Asking | None = None) -> None:
        self.tables, self.known = tables, KnownCause.of(tables)
        self.asking = asking
        self.unlimited = QuickOrder.of(replace(tables, limit=np.full_like(tables.limit, np.inf)))
        self.order, self.telling = QuickOrder.of(tables), Telling(tables)
        nowhere = tables.start().take(np.array([0]))
        self.at = Situations(np.zeros_like(nowhere.mass), nowhere.done, nowhere.off)
        self.upper, self.lower = np.zeros(1), np.zeros(1)
        self.depth = np.zeros(1, dtype=np.intp)
        self.opened = np.full(1, -1, dtype=np.intp)
        count, branches = len(tables.names), len(tables.owner)
        self.child = np.zeros((0, branches), dtype=np.intp)
        self.cost, self.untried = np.zeros((0, count)), np.zeros(0)
        self.owner = np.zeros(0, dtype=np.intp)
        self._marks = np.random.default_rng(20).integers(0, 2**63, branches, dtype=np.uint64)
        self._key = np.zeros(1, dtype=np.uint64)
        self._sorted: dict[int, tuple[NDArray[np.uint64], Indices]] = {}
        self.root = int(self._add(tables.start(), np.ones(1, dtype=np.uint64), np.zeros(1, dtype=np.intp))[0])

        if asking is not None:
            self.upper[self.root] = min(self.upper[self.root], asking.now)

    def __len__(self) -> int:
        return len(self.upper)

    def end(self, at: Situations) -> Array:
        """Price of ending the case as it stands: handed on, or the owner asked and repaired in order.

        Parameters
        ----------
        at : Situations

        Returns
        -------
        ndarray, shape (n,) [-]
        """
        price = at.mass @ self.tables.escalation
        if self.asking is not None:
            price = np.minimum(price, self.asking.price * at.mass.sum(axis=1) + self.unlimited.price(at))
        return np.asarray(price)

    def _least_end(self, at: Situations) -> Array:
        """No end can cost less."""
        price = at.mass @ self.tables.escalation
        if self.asking is not None:
            price = np.minimum(price, self.asking.price * at.mass.sum(axis=1) + self.known.price(at))
        return np.asarray(price)

    def _add(self, at: Situations, key: NDArray[np.uint64], depth: Indices) -> Indices:
        start = len(self)
        self.at = Situations(
            np.concatenate([self.at.mass, at.mass]),
            np.concatenate([self.at.done, at.done]),
            np.concatenate([self.at.off, at.off]),
        )
        self.upper = np.append(self.upper, np.minimum(self.order.price(at), self.end(at)))
        self.lower = np.append(self.lower, self.known.price(at))
        self.depth = np.append(self.depth, depth)
        self.opened = np.append(self.opened, np.full(len(at), -1, dtype=np.intp))
        self._key = np.append(self._key, key)
        return np.arange(start, len(self))

    def open(self, rows: Indices) -> None:
        """Try every action on some situations of one depth that are not opened yet.

        Parameters
        ----------
        rows : ndarray of int
        """
        t = self.tables
        at = self.at.take(rows)
        weight = at.mass.sum(axis=1)
        cost = weight[:, None] * t.cost(at.off)
        tried, untried = self._worth_trying(rows, at, cost)
        cost[~tried] = np.inf
        chance = at.mass @ t.branch.T
        real = np.isfinite(cost)[:, t.owner] & (chance > 1e-13 * weight[:, None])
        row, branch = np.nonzero(real)
        child = np.full(real.shape, _NOWHERE, dtype=np.intp)
        child[row, branch] = self._children(rows[row], branch, int(self.depth[rows[0]]) + 1)
        self.opened[rows] = len(self.child) + np.arange(len(rows))
        self.child = np.concatenate([self.child, child])
        self.cost = np.concatenate([self.cost, cost])
        # An action left untried as too dearly bought is no cheaper than what could be had already.
        self.untried = np.append(self.untried, np.minimum(untried, self.upper[rows]))
        self.owner = np.append(self.owner, rows)

    def _worth_trying(self, rows: Indices, at: Situations, cost: Array) -> tuple[Flags, Array]:
        """Actions left, inside what was agreed, and not already known to be dearer than what can be had.

        First actions are all tried: each is somebody's own choice. Behind them only the likeliest of many are; what the
        others cost at least is given back too, shape (n,).
        """
        t = self.tables
        least = cost + at.mass @ ((1.0 - t.cures) * self.known.base).T
        is_first = (rows == self.root)[:, None]
        useful = t.may(at.done, at.off) & ((least < self.upper[rows][:, None]) | is_first)
        tried = useful & (self.telling.best(at, cost, useful) | is_first)
        return tried, np.where(useful & ~tried, least, np.inf).min(axis=1, initial=np.inf)

    def _children(self, parent: Indices, branch: Indices, depth: int) -> Indices:
        """Numbers of the situations behind branches, those that are new worked out."""
        key = self._key[parent] + self._marks[branch]
        keys, first, inverse = np.unique(key, return_index=True, return_inverse=True)
        known, numbers = self._sorted.get(depth, (np.zeros(0, dtype=np.uint64), np.zeros(0, dtype=np.intp)))
        found = np.full(len(keys), -1, dtype=np.intp)
        if len(known):
            place = np.minimum(np.searchsorted(known, keys), len(known) - 1)
            found = np.where(known[place] == keys, numbers[place], -1)
        new = np.flatnonzero(found < 0)
        if len(new):
            up, through = parent[first[new]], branch[first[new]]
            action = self.tables.owner[through]
            done = self.at.done[up]
            done[np.arange(len(new)), action] = True
            at = Situations(
                self.at.mass[up] * self.tables.branch[through], done, self.at.off[up] | self.tables.need[action]
            )
            found[new] = self._add(at, keys[new], np.full(len(new), depth, dtype=np.intp))
            both = np.append(known, keys[new]), np.append(numbers, found[new])
            order = np.argsort(both[0])
            self._sorted[depth] = both[0][order], both[1][order]
        return found[inverse]

    def back_up(self) -> None:
        """Carry the prices of what was opened up to the root."""
        for depth in range(int(self.depth.max()), -1, -1):
            edges = np.flatnonzero(self.depth[self.owner] == depth)
            if len(edges):
                rows = self.owner[edges]
                upper, lower = self.through(edges)
                self.upper[rows] = np.minimum(self.upper[rows], upper.min(axis=1, initial=np.inf))
                least = np.minimum(self._least_end(self.at.take(rows)), lower.min(axis=1, initial=np.inf))
                least = np.minimum(least, self.untried[edges])
                self.lower[rows] = np.maximum(self.lower[rows], least)

    def through(self, edges: Indices) -> tuple[Array, Array]:
        """Prices of each action: one that can be had, one that cannot be beaten.

        Parameters
        ----------
        edges : ndarray of int
            Rows of the tables of edges.

        Returns
        -------
        tuple of two ndarray, shape (n, actions) [-]
        """
        first = self.tables.first
        child, cost = self.child[edges], self.cost[edges]
        if not len(first):
            return cost, cost
        upper = cost + np.add.reduceat(self.upper[child], first, axis=1)
        lower = cost + np.add.reduceat(self.lower[child], first, axis=1)
        return upper, lower

    def optimistic(self, ahead: int) -> float:
        """Price of the root if everything nearer than ``ahead`` that was not opened cost no more than it must.

        Parameters
        ----------
        ahead : int

        Returns
        -------
        float, shape () [-]
            A full look so many steps ahead finds no less.
        """
        near = (self.opened < 0) & (self.depth < ahead)
        price = np.where(near, self.lower, self.upper)
        for depth in range(min(ahead, int(self.depth.max())) - 1, -1, -1):
            edges = np.flatnonzero(self.depth[self.owner] == depth)
            if len(edges) and len(self.tables.first):
                through = self.cost[edges] + np.add.reduceat(price[self.child[edges]], self.tables.first, axis=1)
                rows = self.owner[edges]
                price[rows] = np.minimum(price[rows], np.minimum(through.min(axis=1), self.untried[edges]))
        return float(price[self.root])

    def waiting(self, most: int) -> tuple[Indices, Array, Array]:
        """Situations that may still change the root's choice, what each has room to gain, and the detour to it.

        Parameters
        ----------
        most : int
            Actions ahead: deeper ones are not opened.

        Returns
        -------
        tuple of ndarray of int and two ndarray, shape (n,) [-]
            Numbers; the room between both prices; what the way there costs beyond the best way.
        """
        detour = np.full(len(self), np.inf)
        detour[self.root] = 0.0
        for depth in range(int(self.depth.max()) + 1):
            edges = np.flatnonzero((self.depth[self.owner] == depth) & np.isfinite(detour[self.owner]))
            if len(edges):
                rows = self.owner[edges]
                upper, lower = self.through(edges)
                best = self.upper[rows][:, None]
                beyond = detour[rows][:, None] + upper - best
                # What cannot beat another action is out, unless it is that action itself.
                beyond[(lower >= best) & (upper > best)] = np.inf
                np.minimum.at(detour, self.child[edges], beyond[:, self.tables.owner])
        gain = self.upper - self.lower
        still = (self.opened < 0) & np.isfinite(detour) & (self.depth < most) & (gain > _TRIFLE * self.upper[self.root])
        still &= self.at.mass.sum(axis=1) > _UNLIKELY
        still[_NOWHERE] = False
        rows = np.flatnonzero(still)
        return rows, gain[rows], detour[rows]
