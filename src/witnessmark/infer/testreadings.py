"""What the tests of the catalogue read on one engine: which of it can be told, and how sound engines read.

Both are the same for every vehicle with the engine, so they are kept between runs, in the order in which the
procedures yield their readings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import all_procedures
from witnessmark.infer.graded import read_chances
from witnessmark.infer.keeping import digest_of
from witnessmark.infer.sound import Sound, differences, one_at_a_time, rows_of
from witnessmark.predict import DriveModel, Nuisance, nuisances, tolerance_of, why_not
from witnessmark.predict.batch import Batch
from witnessmark.predict.graded import grades, is_graded
from witnessmark.predict.run import read
from witnessmark.predict.shelf import keep, kept
from witnessmark.vocabulary import Query

__all__ = ["EYE", "TestReadings", "as_read", "is_chance"]

Array = NDArray[np.float64]

EYE = 0.1
"""Chance of a wrong grade of a look that nobody has taken yet; our guess."""


def as_read(batch: Batch, queries: Sequence[Query]) -> Array:
    """What every test would read under every state of a batch; of what is graded the chance that anything is seen.

    Parameters
    ----------
    batch : Batch
        n states of the engine as it stands.
    queries : sequence of Query, length q
        Each predictable here, codes left out.

    Returns
    -------
    ndarray, shape (n, q)
        In the quantities' units; not a number where there would be no such reading.
    """
    found = np.empty((batch.rows, len(queries)))
    graded = [j for j, query in enumerate(queries) if is_graded(query)]
    plain = [j for j, query in enumerate(queries) if not is_graded(query)]
    found[:, plain] = read(batch, [queries[j] for j in plain])
    if graded:
        asked = [queries[j] for j in graded]
        chances = grades(batch.model, asked, batch.state, batch.numbers, rows=batch.rows, batch=batch)
        found[:, graded] = 1.0 - np.nan_to_num(read_chances(chances, [EYE] * len(graded))[:, :, 0], nan=1.0)
    return found


def is_chance(query: Query) -> bool:
    """Whether what is told of a reading is a chance: of yes, or that anything is seen.

    Parameters
    ----------
    query : Query

    Returns
    -------
    bool
    """
    return query.kind.kind in ("yes_no", "sign") or query.quantity == "code_state" or is_graded(query)


class TestReadings:
    """The readings of all tests on one engine.

    Parameters
    ----------
    model : DriveModel

    Attributes
    ----------
    every : tuple of Query
        What all procedures read, each once, whether it can be told or not; codes left out.
    digest : str
        Another one wherever any of it may differ.
    """

    __test__ = False  # no collection of test functions

    def __init__(self, model: DriveModel) -> None:
        self.model = model
        self._yield = {procedure.id: procedure.queries(model.engine) for procedure in all_procedures().all}
        every = dict.fromkeys(query for queries in self._yield.values() for query in queries)
        self.every = tuple(query for query in every if query.quantity != "code_state")
        self._at = {query: i for i, query in enumerate(self.every)}
        said = "\n".join(f"{q.quantity}{q.place.items}{q.condition.state}{q.condition.during}" for q in self.every)
        self.digest = digest_of(model.engine, said)
        self._name = f"tests-{self.digest}"
        self._table = _Table.of(kept(self._name), len(self.every))

    @cached_property
    def askable(self) -> Mapping[str, tuple[Query, ...]]:
        """What every procedure reads that can be told on this engine, by its id; codes left out."""
        if self._table.can_be_told is None:
            told = np.array([why_not(self.model, query) is None for query in self.every], dtype=bool)
            self._table.can_be_told = told
            keep(self._name, self._table.arrays())
        can = {query for query, told in zip(self.every, self._table.can_be_told, strict=True) if told}
        return {name: tuple(query for query in queries if query in can) for name, queries in self._yield.items()}

    def place_of(self, query: Query) -> int:
        """Where a reading stands in :attr:`every`.

        Parameters
        ----------
        query : Query

        Returns
        -------
        int
        """
        return self._at[query]

    @cached_property
    def all(self) -> frozenset[Query]:
        """Every reading that can be told on this engine, codes left out."""
        return frozenset(query for queries in self.askable.values() for query in queries)

    def sound(self, queries: Sequence[Query]) -> Sound:
        """How sound engines read, and what they differ in.

        Parameters
        ----------
        queries : sequence of Query, length q
            Of :attr:`all`, those of the timing drive left out.

        Returns
        -------
        Sound
            What is graded has neither slope nor tolerance: its chance is that of anybody seeing anything.
        """
        at = np.array([self._at[query] for query in queries], dtype=np.intp)
        missing = [query for query, i in zip(queries, at, strict=True) if np.isnan(self._table.absolute[i])]
        if missing:
            self._work_out(missing)
        return self._table.sound(at)

    @cached_property
    def moved(self) -> tuple[Nuisance, ...]:
        """What sound engines differ in that moves any measured reading of the engine as it stands."""
        plain = [query for query in self.all if query.condition.during is None and not is_graded(query)]
        return nuisances(self.model, sorted(plain, key=self.place_of))

    def is_known(self, queries: Sequence[Query]) -> bool:
        """Whether it has been worked out already how sound engines read something.

        Parameters
        ----------
        queries : sequence of Query
            Of :attr:`every`.

        Returns
        -------
        bool
        """
        return not np.isnan(self._table.absolute[[self._at[query] for query in queries]]).any()

    def learn(self, queries: Sequence[Query], mean: Array) -> None:
        """Take over how sound engines read something, worked out beside something else.

        Parameters
        ----------
        queries : sequence of Query, length q
        mean : ndarray, shape (1 + 2 m, q)
            Of the sound engine, then of those off in each of :attr:`moved`, to either side.
        """
        slope, bend = differences(mean)
        for j, query in enumerate(queries):
            known = None if is_graded(query) else tolerance_of(self.model, query)
            here = np.stack([slope[:, j], bend[:, j]]) if known is not None else np.zeros((2, len(self.moved)))
            spread = (0.0, 0.0) if known is None else (known.absolute, known.share)
            self._table.put(self._at[query], float(mean[0, j]), spread, self.moved, here)
        keep(self._name, self._table.arrays())

    def _work_out(self, queries: Sequence[Query]) -> None:
        rows = rows_of(self.moved)
        self.learn(queries, as_read(Batch(self.model, *one_at_a_time(self.moved, rows), rows), queries))


class _Table:
    """One row for every reading: how sound engines read it, as far as that was asked."""

    def __init__(self, rows: int) -> None:
        self.can_be_told: NDArray[np.bool_] | None = None
        self.mean, self.absolute, self.share = (np.full(rows, np.nan) for _ in range(3))
        self.moved: dict[Nuisance, int] = {}
        self.does: dict[int, tuple[NDArray[np.intp], Array]] = {}  # which ones, and straight and bent what they do

    def put(self, row: int, mean: float, spread: tuple[float, float], moved: Sequence[Nuisance], does: Array) -> None:
        """What was worked out of one reading."""
        self.mean[row], (self.absolute[row], self.share[row]) = mean, spread
        bears = np.flatnonzero(does.any(axis=0))
        numbers = [self.moved.setdefault(moved[int(i)], len(self.moved)) for i in bears]
        self.does[row] = np.array(numbers, dtype=np.intp), does[:, bears]

    def sound(self, at: NDArray[np.intp]) -> Sound:
        """Of some readings."""
        does = np.zeros((2, len(self.moved), len(at)))
        for j, row in enumerate(at):
            which, value = self.does[int(row)]
            does[:, which, j] = value
        bears = np.flatnonzero(does.any(axis=(0, 2)))
        names, (slope, bend) = list(self.moved), does[:, bears]
        return Sound(self.mean[at], self.absolute[at], self.share[at], tuple(names[i] for i in bears), slope, bend)

    def arrays(self) -> dict[str, NDArray[np.float64]]:
        """To be kept; names as the numbers of their letters."""
        rows = list(self.does)
        every = [self.does[row] for row in rows] or [(np.zeros(0, dtype=np.intp), np.zeros((2, 0)))]
        text = "\n".join(f"{n.variable}\t{n.place}\t{n.mean!r}\t{n.sd!r}" for n in self.moved).encode()
        told = np.zeros(0) if self.can_be_told is None else self.can_be_told.astype(np.float64)
        return {
            "told": told,
            "known": np.stack([self.mean, self.absolute, self.share]),
            "rows": np.array([(row, len(self.does[row][0])) for row in rows], dtype=np.float64).reshape(-1, 2),
            "which": np.concatenate([which for which, _ in every]).astype(np.float64),
            "does": np.concatenate([value for _, value in every], axis=1),
            "names": np.frombuffer(text, dtype=np.uint8).astype(np.float64),
        }

    @classmethod
    def of(cls, stored: Mapping[str, NDArray[np.float64]] | None, rows: int) -> _Table:
        """From what is kept; an empty one where that is none, or not what it should be."""
        found = cls(rows)
        if stored is None:
            return found
        try:
            if len(stored["told"]) == rows:
                found.can_be_told = stored["told"] > 0.5
            known = stored["known"].reshape(3, rows)
            said = bytes(stored["names"].astype(np.uint8)).decode()
            for number, line in enumerate(said.split("\n") if said else ()):
                variable, place, mean, sd = line.split("\t")
                found.moved[Nuisance(variable, place, float(mean), float(sd))] = number
            sizes = stored["rows"].astype(np.intp)
            cuts = np.cumsum(sizes[:, 1])[:-1]
            which = np.split(stored["which"].astype(np.intp), cuts)
            does = np.split(stored["does"].reshape(2, -1), cuts, axis=1)
            found.does = {int(row): pair for row, *pair in zip(sizes[:, 0], which, does, strict=True)}  # type: ignore[misc]
        except (KeyError, ValueError):
            return cls(rows)
        found.mean, found.absolute, found.share = known
        return found
