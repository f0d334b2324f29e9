"""Which of many actions are looked at first: tests by bits for their price, repairs by chance for theirs.

Bits choose badly what to do (docs/reasoning.md), but they leave the best test among the first few. Only large problems
are thinned so, and never the first action; what the others could save is bounded and told.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.tables import Situations, Tables

__all__ = ["Telling"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
# Problems with no more actions are looked at whole.
_FEW = 24
_TESTS, _REPAIRS = 8, 4


class Telling:
    """What the choice needs, worked out once for a problem.

    Parameters
    ----------
    tables : Tables
    tests, repairs : int
        How many of each are kept.
    """

    def __init__(self, tables: Tables, *, tests: int = _TESTS, repairs: int = _REPAIRS) -> None:
        self.tables, self.most = tables, (tests, repairs)
        self.cures = np.zeros(len(tables.names), dtype=bool)
        self.cures[tables.repairs] = True
        self.few = len(tables.names) <= _FEW
        self._sure = np.zeros((len(tables.names), len(tables.chance)))
        np.add.at(self._sure, tables.owner, _x_log_x(tables.branch))

    def best(self, at: Situations, cost: Array, useful: Flags) -> Flags:
        """The first few tests and repairs of each situation.

        Parameters
        ----------
        at : Situations
        cost : ndarray, shape (n, actions) [-]
            Times the chance of coming there.
        useful : ndarray of bool, shape (n, actions)

        Returns
        -------
        ndarray of bool, shape (n, actions)
        """
        if self.few:
            return np.ones_like(useful)
        score = np.where(useful, self._score(at) / cost, -1.0)
        kept = np.zeros_like(useful)
        for which, most in ((~self.cures, self.most[0]), (self.cures, self.most[1])):
            columns = np.flatnonzero(which)
            if len(columns) > most:
                first = np.argpartition(-score[:, columns], most - 1, axis=1)[:, :most]
                np.put_along_axis(kept, columns[first], True, axis=1)
            else:
                kept[:, columns] = True
        return kept

    def _score(self, at: Situations) -> Array:
        """Mutual information of tests with the cause, chance of cure of repairs, times the chance of coming there."""
        t = self.tables
        weight = at.mass.sum(axis=1, keepdims=True)
        outcomes = _x_log_x(at.mass @ t.branch.T) - _x_log_x(weight) * (1.0 / np.bincount(t.owner))[t.owner]
        bits = at.mass @ self._sure.T - np.add.reduceat(outcomes, t.first, axis=1)
        return np.asarray(np.where(self.cures, at.mass @ t.cures.T, bits))


def _x_log_x(values: Array) -> Array:
    return np.asarray(values * np.log(np.where(values > 0.0, values, 1.0)))
