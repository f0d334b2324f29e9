"""The price of repairing without another test, by one order worked out at once instead of step by step.

For large problems: an order sorted once instead of anew after every repair. Of a cause that several repairs cure, the
cheaper ones count first and the others take what these leave; that is never too cheap, so the price can still be had.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.leaf import clusters
from witnessmark.plan.tables import Situations, Tables

__all__ = ["QuickOrder"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
# Repairs of one cause that are followed one by one; of further ones only what the first of all leave.
_FOLLOWED = 4
_OUT_OF_REACH = 1e30
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class QuickOrder:
    """What the order needs, worked out once for a problem.

    Parameters
    ----------
    tables : Tables
    which : ndarray of int, shape (hypotheses, k)
        Repairs of each hypothesis, the cheapest for its chance first, as indices into ``tables.repairs``.
    cures : ndarray, shape (hypotheses, k) [-]
        Their chances; 0 where there are fewer.
    gather : ndarray, shape (hypotheses * k, repairs) [-]
        Adds them up by repair.
    covered : tuple of ndarray of int
        Repairs that need each cover.
    """

    tables: Tables
    which: Indices
    cures: Array
    gather: Array
    covered: tuple[Indices, ...]
    grouped: tuple[Indices, ...]

    @classmethod
    def of(cls, tables: Tables) -> QuickOrder:
        """Worked out once for a problem.

        Parameters
        ----------
        tables : Tables

        Returns
        -------
        QuickOrder
        """
        cures = tables.cures[tables.repairs]
        count = int((cures > 0.0).sum(axis=0).max(initial=0))
        width = max(1, min(_FOLLOWED, count))
        with np.errstate(divide="ignore"):
            dear = np.where(cures > 0.0, tables.price[tables.repairs][:, None] / cures, np.inf)
        which = np.argsort(dear, axis=0, kind="stable")[:width].T
        chance = np.take_along_axis(cures.T, which, axis=1)
        gather = np.zeros((which.size, len(tables.repairs)))
        gather[np.arange(which.size), which.ravel()] = 1.0
        covered = tuple(np.flatnonzero(tables.need[tables.repairs, c]) for c in range(len(tables.cover_price)))
        return cls(tables, which, chance, gather, covered, clusters(tables))

    def price(self, at: Situations) -> Array:
        """Expected price of repairing without another test, times the chance of coming here.

        Parameters
        ----------
        at : Situations

        Returns
        -------
        ndarray, shape (n,) [-]
        """
        t = self.tables
        stop = at.mass @ t.escalation
        if not len(t.repairs):
            return np.asarray(stop)
        left = (t.may(at.done, at.off) if t.is_limited else ~at.done)[:, t.repairs]
        cured = self._cured(at, left)
        gain = cured @ self.gather
        saved = (cured * np.repeat(t.escalation, self.which.shape[1])) @ self.gather
        order = np.argsort(-self._keys(gain, left, at.off), axis=1)
        cost = self._cost_in_order(order, left, at)
        gain, saved = (np.take_along_axis(x, order, axis=1) for x in (gain, saved))
        still = at.mass.sum(axis=1)[:, None] - np.cumsum(gain, axis=1) + gain
        spent = np.cumsum(cost * np.maximum(still, 0.0), axis=1)
        ends = spent + np.maximum(stop[:, None] - np.cumsum(saved, axis=1), 0.0)
        return np.asarray(np.minimum(stop, ends.min(axis=1)))

    def _cured(self, at: Situations, left: Flags) -> Array:
        """Chance that each of a cause's repairs is the one that cures it, shape (n, hypotheses * k)."""
        cures = np.where(left[:, self.which], self.cures, 0.0)
        mass = at.mass
        found = np.empty(cures.shape)
        for k in range(cures.shape[2]):
            found[:, :, k] = mass * cures[:, :, k]
            mass = mass - found[:, :, k]
        return found.reshape(len(mass), -1)

    def _keys(self, gain: Array, left: Flags, off: Flags) -> Array:
        """What repairs are sorted by: of a cluster under one cover none comes before the best beginning of it."""
        t = self.tables
        price = t.price[t.repairs]
        cost = t.cost(off)[:, t.repairs]
        key = gain / cost
        rows = np.arange(len(gain))[:, None]
        for group in self.grouped:
            own = gain[:, group] / price[group]
            order = group[np.argsort(-own, axis=1)]
            cover = cost[:, group[0]] - price[group[0]]
            together = np.cumsum(gain[rows, order], axis=1) / (cover[:, None] + np.cumsum(price[order], axis=1))
            key[:, group] = np.minimum(own, together.max(axis=1)[:, None]) * (1.0 + 1e-9 * own)
        return np.where(left, key, -1.0)

    def _cost_in_order(self, order: Indices, left: Flags, at: Situations) -> Array:
        """Prices in the order, each cover paid by the first that needs it; none beyond what was agreed."""
        t = self.tables
        rank = np.empty_like(order)
        np.put_along_axis(rank, order, np.broadcast_to(np.arange(order.shape[1]), order.shape), axis=1)
        cost = self._in_order(np.where(left, t.price[t.repairs], _OUT_OF_REACH), t.cover_price, order, rank, at.off)
        opened = at.off & ~t.off
        for k in np.flatnonzero(np.isfinite(t.limit)):
            use = np.broadcast_to(t.use[t.repairs, k], order.shape)
            spent = at.done @ t.use[:, k] + opened @ t.cover_use[:, k]
            so_far = spent[:, None] + np.cumsum(self._in_order(use, t.cover_use[:, k], order, rank, at.off), axis=1)
            cost = np.where(so_far <= t.limit[k] + _ROUNDING, cost, _OUT_OF_REACH)
        return cost

    def _in_order(self, each: Array, of_cover: Array, order: Indices, rank: Indices, off: Flags) -> Array:
        found = np.take_along_axis(each, order, axis=1)
        for cover, members in enumerate(self.covered):
            if len(members):
                closed = np.flatnonzero(~off[:, cover])
                found[closed, rank[np.ix_(closed, members)].min(axis=1)] += of_cover[cover]
        return found
