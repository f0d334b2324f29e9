"""Predictions for rows of severities: looked up in the tables of an engine, or worked out where that is as quick."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.state import State
from witnessmark.infer.components import Rows, assemble
from witnessmark.infer.foretold import Asked, Foretold, GradeRead, is_cheap
from witnessmark.infer.layout import Layout
from witnessmark.infer.ruled import can_be_told
from witnessmark.predict import expect
from witnessmark.predict.model import Numbers
from witnessmark.vocabulary import Query

__all__ = ["Lookup", "added_up"]

Array = NDArray[np.float64]


class Lookup:
    """Readings of one engine for rows of severities: looked up where laid out, worked out where that is as quick.

    Parameters
    ----------
    foretold : Foretold
    queries : sequence of Query or GradeRead, length q
    """

    def __init__(self, foretold: Foretold, queries: Sequence[Asked]) -> None:
        self.foretold = foretold
        self.queries = tuple(queries)
        there = [j for j, asked in enumerate(queries) if _is_there(foretold, asked)]
        self.mine = [j for j in there if not is_cheap(queries[j])]
        self.chance = np.array([_is_chance(queries[j]) for j in self.mine], dtype=bool)
        self.table = foretold.table([queries[j] for j in self.mine])
        self.cheap = [j for j in there if is_cheap(queries[j]) and queries[j].quantity != "code_state"]
        self._place = {j: k for k, j in enumerate(self.mine)}

    def read(self, batch: Sequence[Rows]) -> tuple[Array, State, Numbers]:
        """Predictions of every row.

        Parameters
        ----------
        batch : sequence of Rows
            n rows in all.

        Returns
        -------
        value : ndarray, shape (n, q)
            Of yes and no the chance of yes; not a number for codes that are worked out as they are needed, and for
            what this engine has not.
        state : State
        numbers : mapping of str to ndarray, shape (n,)
            As the rows stand; both empty where all was looked up.
        """
        found = self._looked_up(batch)
        if len(self.mine) == len(self.queries):
            return found, State({}), {}
        state, numbers, rows = assemble(batch)
        if self.cheap:
            asked = [query for j in self.cheap if isinstance(query := self.queries[j], Query)]
            found[:, self.cheap] = expect(self.foretold.model, asked, state, numbers, rows=rows).mean
        return found, state, numbers

    def _looked_up(self, batch: Sequence[Rows]) -> Array:
        total = sum(len(rows.choice) for rows in batch)
        if total and len(self.mine) == len(self.queries):
            return added_up(self.table, batch, self.foretold.direction, self.chance)
        found = np.full((total, len(self.queries)), np.nan)
        if self.mine:
            found[:, self.mine] = added_up(self.table, batch, self.foretold.direction, self.chance)
        return found

    def moves(self, kinds: Sequence[Kind], scale: Array) -> NDArray[np.bool_]:
        """Which ways of faults move any looked-up reading by more than its scale.

        Parameters
        ----------
        kinds : sequence of Kind, length n
        scale : ndarray, shape (q,)

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        if not self.mine or not kinds:
            return np.zeros(len(kinds), dtype=bool)
        healthy = self.table.values[0]
        far = np.abs(self.table.values - healthy) > scale[self.mine]
        far |= np.isnan(self.table.values) != np.isnan(healthy)
        moved = np.logical_or.reduceat(far.any(axis=1), self.table.first)
        return np.asarray(moved[[self.foretold.direction(kind) for kind in kinds]])

    def middles(self, j: int) -> Array:
        """What a reading that is looked up is under every way of every fault, in the middle of its sizes.

        Parameters
        ----------
        j : int

        Returns
        -------
        ndarray, shape (ways + 1, 1)
            The first of the sound engine.
        """
        ways = np.arange(len(self.table.first), dtype=np.intp)
        return self.table.at(ways, np.full((len(ways), 2), 0.5))[:, [self._place[j]]]


def added_up(
    table: Layout, batch: Sequence[Rows], direction_of: Callable[[Kind], int], chance: NDArray[np.bool_]
) -> Array:
    """Readings between the nodes of a table; two faults at once add what each does.

    Parameters
    ----------
    table : Layout
        Its first node is the sound engine.
    batch : sequence of Rows
        n rows in all.
    direction_of : callable (Kind) -> int
        Which direction of the table a way of a fault is.
    chance : ndarray of bool, shape (q,)
        Which readings are chances.

    Returns
    -------
    ndarray, shape (n, q)
    """
    total = sum(len(rows.choice) for rows in batch)
    healthy = table.values[0]
    value = np.broadcast_to(healthy, (total, len(healthy))).copy()
    for k in range(max((len(rows.component.kinds) for rows in batch), default=0)):
        direction, share = _along(batch, k, total, direction_of)
        moved = table.at(direction, share)
        moved -= healthy
        value += moved
    if chance.any():
        value[:, chance] = np.clip(value[:, chance], 0.0, 1.0)
    return value


def _along(
    batch: Sequence[Rows], k: int, total: int, direction_of: Callable[[Kind], int]
) -> tuple[NDArray[np.intp], Array]:
    """Direction and shares of the k-th fault of every row."""
    direction, share = np.zeros(total, dtype=np.intp), np.zeros((total, 2))
    start = 0
    for rows in batch:
        stop = start + len(rows.choice)
        kinds = rows.component.kinds
        if k < len(kinds):
            direction[start:stop] = direction_of(kinds[k])
            first, n = sum(len(kind.axes) for kind in kinds[:k]), len(kinds[k].axes)
            if n == 1:
                share[start:stop, 1] = rows.share[:, first]
            elif n > 1:
                share[start:stop] = rows.share[:, first : first + 2]
        start = stop
    return direction, share


def _is_there(foretold: Foretold, asked: Asked) -> bool:
    query = asked.query if isinstance(asked, GradeRead) else asked
    return query.quantity == "code_state" or can_be_told(foretold.model, query)


def _is_chance(asked: Asked) -> bool:
    return isinstance(asked, GradeRead) or asked.kind.kind in ("yes_no", "sign")
