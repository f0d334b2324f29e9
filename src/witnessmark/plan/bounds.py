"""What no plan can beat: every cause known beforehand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.tables import Situations, Tables

__all__ = ["KnownCause"]

Array = NDArray[np.float64]
# Of a hypothesis that more repairs cure than this, only the looser bound is worked out.
_MANY = 6


@dataclass(frozen=True, slots=True, eq=False)
class KnownCause:
    """Cheapest proven end of each hypothesis, were it known.

    Parameters
    ----------
    tables : Tables
    base : ndarray, shape (hypotheses,) [-]
        With every cover off: no situation of this case can be cheaper.
    which : ndarray of int, shape (hypotheses, k)
        Repairs that may cure a hypothesis, as actions.
    is_there : ndarray of bool, shape (hypotheses, k)
    """

    tables: Tables
    base: Array
    which: NDArray[np.intp]
    is_there: NDArray[np.bool_]

    @classmethod
    def of(cls, tables: Tables) -> KnownCause:
        """Worked out once for a problem.

        Parameters
        ----------
        tables : Tables

        Returns
        -------
        KnownCause

        Notes
        -----
        With the cause known and covers free, a repair of price c that cures with chance s leads to at least c/s or to
        escalation, whatever follows it: let m be the least of these; c + (1 - s) m >= m by c >= s m.
        """
        with np.errstate(divide="ignore"):
            alone = np.where(tables.cures > 0.0, tables.price[:, None] / tables.cures, np.inf)
        base = np.minimum(tables.escalation, alone.min(axis=0, initial=np.inf))
        count = (tables.cures > 0.0).sum(axis=0)
        width = max(1, min(_MANY, int(count.max(initial=0))))
        which = np.zeros((len(base), width), dtype=np.intp)
        is_there = np.zeros((len(base), width), dtype=bool)
        for h in range(len(base)):
            found = np.flatnonzero(tables.cures[:, h] > 0.0)
            if len(found) <= width:
                which[h, : len(found)] = found
                is_there[h, : len(found)] = True
        return cls(tables, base, which, is_there)

    def price(self, at: Situations) -> Array:
        """No plan from here can expect less, times the chance of coming here.

        Parameters
        ----------
        at : Situations

        Returns
        -------
        ndarray, shape (n,) [-]

        Notes
        -----
        The first repair pays its covers and its price, and what follows its failure is at least ``base``.
        """
        return np.asarray((at.mass * self.each(at)).sum(axis=1))

    def each(self, at: Situations) -> Array:
        """The same for each hypothesis, given that it is true.

        Parameters
        ----------
        at : Situations

        Returns
        -------
        ndarray, shape (n, hypotheses) [-]
        """
        t = self.tables
        if not len(t.names):
            return np.broadcast_to(t.escalation, at.mass.shape)
        rows = np.arange(len(self.base))[:, None]
        after = (1.0 - t.cures[self.which, rows]) * self.base[:, None]
        first = t.cost(at.off)[:, self.which] + after
        first = np.where(self.is_there & ~at.done[:, self.which], first, np.inf).min(axis=2)
        many = (t.cures > 0.0).sum(axis=0) > self.which.shape[1]
        return np.minimum(t.escalation, np.where(many, self.base, first))
