"""What tests read along the ways of faults of one engine, as far as anybody asked: worked out once, then looked up.

A case comes back after every test with much the same suspects, and one engine's complaints share them. So what was
worked out for a way of a fault stays, at the nodes along its sizes; of other ways nothing is worked out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.components import SOUND, Rows, assemble
from witnessmark.infer.foretold import Foretold, nodes_of
from witnessmark.infer.layout import Layout
from witnessmark.infer.lookup import added_up
from witnessmark.infer.sound import below, one_at_a_time, rows_of
from witnessmark.infer.testreadings import as_read, is_chance
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import Numbers
from witnessmark.predict.shelf import keep_all, kept_of
from witnessmark.vocabulary import Query

__all__ = ["TestTable"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]


class TestTable:
    """Readings of all tests along ways of faults.

    Parameters
    ----------
    foretold : Foretold
        Of the engine.
    """

    __test__ = False  # no collection of test functions

    def __init__(self, foretold: Foretold) -> None:
        self._foretold = foretold
        self._tests = foretold.tests
        self._name = f"along-{foretold.digest}-{self._tests.digest}"
        self._width = len(self._tests.every)
        self._values: dict[int, NDArray[np.float32]] = {}  # by direction: its nodes, every reading
        self._done: dict[int, NDArray[np.bool_]] = {}
        self._batches: dict[tuple[int, ...], tuple[Batch, int]] = {}
        self._looked_for: set[int] = set()

    def read(self, queries: Sequence[Query], batch: Sequence[Rows]) -> tuple[Array, Array]:
        """What tests would read.

        Parameters
        ----------
        queries : sequence of Query, length q
            Each predictable on this engine; neither codes nor readings of the timing drive. Of what is graded the
            chance that anything is seen.
        batch : sequence of Rows
            n rows in all, of ways of this engine's faults. Two faults at once add what each does.

        Returns
        -------
        sound : ndarray, shape (q,)
        rows : ndarray, shape (n, q)
        """
        columns = np.array([self._tests.place_of(query) for query in queries], dtype=np.intp)
        direction = self._foretold.direction
        ways = [0, *dict.fromkeys(direction(kind) for rows in batch for kind in rows.component.kinds)]
        self.lay_out(queries, ways)
        parts = [self._values[way][:, columns].astype(np.float64) for way in ways]
        table = Layout.even(np.concatenate(parts), self._foretold.shape[ways]).edged()
        chances = np.array([is_chance(query) for query in queries], dtype=bool)
        place = {way: k for k, way in enumerate(ways)}
        found = added_up(table, batch, lambda kind: place[direction(kind)], chances)
        return table.values[0], found

    def lay_out(self, queries: Sequence[Query], ways: Sequence[int]) -> None:
        """Work out what tests would read along some ways, as far as nobody has, and keep it.

        Parameters
        ----------
        queries : sequence of Query
            As for :meth:`read`.
        ways : sequence of int
            Directions of the engine's tables; 0 is the sound engine.
        """
        columns = np.array([self._tests.place_of(query) for query in queries], dtype=np.intp)
        self._load(ways)
        self._work_out([way for way in ways if not self._is_done(way, columns)], columns)

    def _is_done(self, way: int, columns: Picks) -> bool:
        return way in self._done and bool(self._done[way][columns].all())

    def _work_out(self, ways: Sequence[int], columns: Picks) -> None:
        """Readings of some ways at all their nodes."""
        if not ways:
            return
        open_ones = [~self._done[way][columns] if way in self._done else np.ones(len(columns), bool) for way in ways]
        wanted = columns[np.any(open_ones, axis=0)]
        asked = [self._tests.every[j] for j in wanted]
        sizes = [int(self._foretold.shape[way].prod()) for way in ways]
        batch, first = self._batch(tuple(ways), asked)
        found = as_read(batch, asked)
        if first:
            self._tests.learn(asked, found[:first])
        for way, size, values in zip(ways, sizes, np.split(found[first:], np.cumsum(sizes)[:-1]), strict=True):
            if way not in self._done:
                self._done[way] = np.zeros(self._width, dtype=bool)
                self._values[way] = np.full((size, self._width), np.nan, dtype=np.float32)
            self._values[way][:, wanted] = values
            self._done[way][wanted] = True
        keep_all(
            {self._named(way): {"done": self._done[way].astype(np.uint8), "values": self._values[way]} for way in ways}
        )

    def _batch(self, ways: tuple[int, ...], asked: Sequence[Query]) -> tuple[Batch, int]:
        """All nodes of some ways, and from which row on; asked for again, it goes on from what it has worked out.

        Where nobody knows yet how sound engines read it, they stand before the nodes: two batches would work out most
        of it twice.
        """
        if ways not in self._batches:
            rows = [SOUND if way == 0 else nodes_of(self._foretold.ways[way - 1]) for way in ways]
            state, _, count = assemble(rows)
            numbers: Numbers = {}
            first = 0
            if not self._tests.is_known(asked):
                first = rows_of(self._tests.moved)
                sound, numbers = one_at_a_time(self._tests.moved, first + count)
                state = below(sound, state, first, first + count)
            self._batches = {ways: (Batch(self._foretold.model, state, numbers, first + count), first)}
        return self._batches[ways]

    def _named(self, way: int) -> str:
        return f"{self._name}-{way}"

    def _load(self, ways: Sequence[int]) -> None:
        """What is kept of some ways that nobody has looked for yet."""
        new = {self._named(way): way for way in ways if way not in self._looked_for}
        self._looked_for.update(new.values())
        for name, arrays in kept_of(new).items():
            way, values, done = new[name], arrays.get("values"), arrays.get("done")
            if values is None or done is None or done.shape != (self._width,):
                continue
            if values.shape == (int(self._foretold.shape[way].prod()), self._width):
                self._values[way], self._done[way] = values.astype(np.float32), done > 0.5
