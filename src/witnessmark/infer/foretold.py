"""What every fault of the list would show on one engine: predictions along each way it may happen, kept once made.

The timing drive's readings are short sums and are worked out as they are needed. All others come from operating points,
the supply graph and the gas in the cylinders: they are laid out once for an engine, a column a reading, and looked up
between nodes after that. Where a reading bends sharply or ceases its nodes lie closer. Predictions are tabulated,
likelihoods never.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import codes as known_codes
from witnessmark.catalogue.faults import FaultInstance, Kind, fault_instances
from witnessmark.engine.intervention import while_done
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import NO_CHOICE, Component, Rows, assemble
from witnessmark.infer.graded import read_chances
from witnessmark.infer.keeping import Kept, Stored
from witnessmark.infer.layout import Grid, Layout
from witnessmark.infer.refinement import Scale, refine
from witnessmark.infer.ruled import OF_THE_DRIVE, ruled
from witnessmark.infer.sound import Sound, below, covariance_of, differences, one_at_a_time, rows_of
from witnessmark.infer.testreadings import TestReadings
from witnessmark.predict import DriveModel, Nuisance, expect, nuisances, tolerance_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.codes import code_chance, is_of_the_drive, is_predicted
from witnessmark.predict.graded import grades
from witnessmark.vocabulary import GRADES, Condition, Place, Query

__all__ = ["Asked", "Column", "Foretold", "GradeRead", "is_cheap", "nodes_of"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_ONE, _TWO = 13, 7  # nodes along the severity of a fault that has one; along each of two
_NOTHING = 0.003  # spreads of a usual reading
_CHANCE = 0.05  # of a chance: counts as a spread
_LEAST = 0.3  # of the sound engine's reading: below that a spread that goes by size gets no less
_ANYWHERE = Place()


def is_cheap(query: Asked) -> bool:
    """Whether a reading is worked out as it is needed, rather than laid out beforehand.

    Parameters
    ----------
    query : Query or GradeRead

    Returns
    -------
    bool
        True for the timing drive's readings and codes.
    """
    if query.quantity != "code_state":
        return query.quantity in OF_THE_DRIVE
    code = known_codes().get(str(query.place.get("code")))
    return code is None or is_of_the_drive(code)


@dataclass(frozen=True, slots=True)
class GradeRead:
    """That a person gives a grade: a yes or no of its own, with the chance of a wrong grade in it.

    Parameters
    ----------
    query : Query
        A graded one.
    grade : int
        0 to 3.
    error : float [-]
        Chance of a wrong grade.
    """

    query: Query
    grade: int
    error: float

    @property
    def quantity(self) -> str:
        """Of the query."""
        return self.query.quantity

    @property
    def place(self) -> Place:
        """Of the query."""
        return self.query.place

    @property
    def condition(self) -> Condition:
        """Of the query."""
        return self.query.condition


Asked = Query | GradeRead
"""What a column is of."""


@dataclass(frozen=True, slots=True)
class Column:
    """One reading under everything.

    Parameters
    ----------
    healthy : float, shape ()
        In the quantity's unit; of yes and no the chance of yes.
    moved : tuple of Nuisance, length m
        What sound engines differ in that bears on it.
    slope, bend : ndarray, shape (m,)
        What one standard deviation of each does to it, straight and bent.
    nodes : ndarray, shape (n,)
        At the even nodes of every way, one after the other; the first is the sound engine.
    closer : mapping of int to Grid
        Closer nodes of some ways, by direction.
    """

    healthy: float
    moved: tuple[Nuisance, ...]
    slope: Array
    bend: Array
    nodes: Array
    closer: Mapping[int, Grid] = field(default_factory=dict)


class Foretold:
    """The readings of one engine under every fault that it may have.

    Parameters
    ----------
    model : DriveModel
    like : Foretold, optional
        Of an engine that differs in nothing but what its computer calls things.
    """

    def __init__(self, model: DriveModel, like: Foretold | None = None) -> None:
        self.model = model
        self.instances: tuple[FaultInstance, ...] = fault_instances(model.engine) if like is None else like.instances
        self.ways = tuple(kind for instance in self.instances for kind in instance.kinds)
        shapes = [(1, 1), *(_shape(kind) for kind in self.ways)]
        self.shape: Picks = np.array(shapes, dtype=np.intp)
        sizes = self.shape.prod(axis=1)
        self.first: Picks = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp)
        self.count = int(sizes.sum())
        self._direction = {id(kind): d for d, kind in enumerate(self.ways, start=1)}
        self._columns: dict[Asked, Column] = {} if like is None else like._columns
        self._kept: Kept | None = None if like is None else like._kept

    @property
    def _stored(self) -> Kept:
        if self._kept is None:
            self._kept = Kept(self.model.engine, self.ways)
        return self._kept

    @property
    def digest(self) -> str:
        """What predictions along its ways are kept under: another one wherever they may differ."""
        return self._stored.digest

    def direction(self, kind: Kind) -> int:
        """Which direction of the tables a way of one of the instances is; 0 is the sound engine.

        Parameters
        ----------
        kind : Kind
            Of :attr:`instances`, the very object.

        Returns
        -------
        int
        """
        return self._direction[id(kind)]

    def has_way(self, kind: Kind) -> bool:
        """Whether a way is one of this engine's instances', the very object.

        Parameters
        ----------
        kind : Kind

        Returns
        -------
        bool
        """
        return id(kind) in self._direction

    def way_like(self, instance: FaultInstance, kind: Kind) -> Kind | None:
        """The same way of the same fault at the same place of this engine.

        Parameters
        ----------
        instance : FaultInstance
            Of another engine that the description allows.
        kind : Kind
            One of its ways.

        Returns
        -------
        Kind or None
            None where this engine has no such place, or the fault not this way there.
        """
        mine = self._instance_at.get(instance.key)
        at = next(i for i, one in enumerate(instance.kinds) if one is kind)
        if mine is None or len(mine.kinds) != len(instance.kinds) or len(mine.kinds[at].axes) != len(kind.axes):
            return None
        return mine.kinds[at]

    @cached_property
    def _instance_at(self) -> dict[tuple[str, str], FaultInstance]:
        return {instance.key: instance for instance in self.instances}

    def columns(self, queries: Sequence[Asked]) -> tuple[Column, ...]:
        """Columns of readings that are not cheap; those not yet at hand are made together.

        Parameters
        ----------
        queries : sequence of Query or GradeRead
            Each predictable on this engine; a code as ``code_state``.

        Returns
        -------
        tuple of Column
        """
        queries = [_plain(query) for query in queries]
        missing = [query for query in dict.fromkeys(queries) if query not in self._columns]
        if missing:
            # Together: one look into what is kept of the rules, instead of one for each column.
            ruled(self.model, [query for query in missing if isinstance(query, Query) and not _is_code(query)])
            for query, stored in self._stored.get(missing).items():
                self._columns[query] = self._unpacked(query, stored)
            made = self._make([query for query in missing if query not in self._columns])
            packed = {query: _packed(query, column) for query, column in made.items()}
            # As it will be read again: an answer is the same the first time and later.
            self._columns.update({query: self._unpacked(query, column) for query, column in packed.items()})
            self._stored.put(packed)
        return tuple(self._columns[query] for query in queries)

    def has(self, query: Asked) -> bool:
        """Whether a reading can be told without making a column.

        Parameters
        ----------
        query : Query

        Returns
        -------
        bool
        """
        query = _plain(query)
        if is_cheap(query) or query in self._columns:
            return True
        return bool(self._stored.get([query]))

    @cached_property
    def tests(self) -> TestReadings:
        """What the tests of the catalogue read on this engine."""
        return TestReadings(self.model)

    def tells_code(self, name: str) -> bool:
        """Whether anything predicts a code on this engine.

        Parameters
        ----------
        name : str
            "P0171".

        Returns
        -------
        bool
        """
        query = Query("code_state", Place.of(code=name))
        if name not in known_codes() or not is_predicted(known_codes()[name]):
            return False
        if not is_cheap(query) and self.has(query):
            return True
        return code_chance(self.model, name, HEALTHY, {}, 1) is not None

    def table(self, queries: Sequence[Asked]) -> Layout:
        """The columns of some readings, to be looked up between their nodes.

        Parameters
        ----------
        queries : sequence of Query, length q

        Returns
        -------
        Layout
            One direction for the sound engine, then one for every way.
        """
        columns = self.columns(queries)
        values = np.stack([c.nodes for c in columns], axis=1) if columns else np.empty((self.count, 0))
        return Layout.refined(Layout.even(values, self.shape), [column.closer for column in columns])

    def sound(self, queries: Sequence[Query]) -> Sound:
        """How sound engines read, and what they differ in.

        Parameters
        ----------
        queries : sequence of Query, length q
            Measured ones.

        Returns
        -------
        Sound
        """
        cheap = [j for j, query in enumerate(queries) if is_cheap(query)]
        dear = [j for j, query in enumerate(queries) if not is_cheap(query)]
        mean = np.empty(len(queries))
        does: dict[Nuisance, Array] = {}  # straight and bent
        if cheap or not dear:
            asked = [queries[j] for j in cheap]
            moved = nuisances(self.model, asked)
            state, numbers = one_at_a_time(moved, rows_of(moved))
            expected = expect(self.model, asked, state, numbers, rows=rows_of(moved))
            mean[cheap] = expected.mean[0]
            for nuisance, slope, bend in zip(moved, *differences(expected.mean), strict=True):
                does.setdefault(nuisance, np.zeros((2, len(queries))))[:, cheap] = slope, bend
        for j, column in zip(dear, self.columns([queries[j] for j in dear]), strict=True):
            mean[j] = column.healthy
            for nuisance, *both in zip(column.moved, column.slope, column.bend, strict=True):
                does.setdefault(nuisance, np.zeros((2, len(queries))))[:, j] = both
        order = sorted(does, key=lambda nuisance: nuisance.is_number)
        slope, bend = np.moveaxis(np.array([does[n] for n in order]).reshape(len(order), 2, len(queries)), 1, 0)
        known = [one.tolerance for one in ruled(self.model, queries)]
        absolute, share = np.array([t.absolute for t in known]), np.array([t.share for t in known])
        return Sound(mean, absolute, share, tuple(order), slope, bend)

    def _make(self, queries: Sequence[Asked]) -> dict[Asked, Column]:
        """Columns worked out, those of one intervention at a time."""
        engines: dict[tuple[str | None, Place], list[Query]] = {}
        for query in queries:
            if isinstance(query, Query) and query.quantity != "code_state":
                during = query.condition.during
                where = query.place if during is not None and ":" not in during else _ANYWHERE
                engines.setdefault((during, where), []).append(query)
        found: dict[Asked, Column] = {}
        for (during, where), asked in engines.items():
            touched = None if during is None else self._touched(during, where)
            whole = touched is None or touched[0] or np.count_nonzero(touched) > 0.5 * self.count
            found |= self._laid_out(asked) if whole or touched is None else self._exchanged(asked, touched)
        codes = [query for query in queries if query.quantity == "code_state"]
        graded = [query for query in queries if isinstance(query, GradeRead)]
        return found | (self._codes(codes) if codes else {}) | (self._grades(graded) if graded else {})

    def _grades(self, reads: Sequence[GradeRead]) -> dict[Asked, Column]:
        chances = self._grades_in(reads, self._all_states(), self.count)
        return self._with_closer(_of_chances(reads, chances), lambda state, rows: self._grades_in(reads, state, rows))

    def _grades_in(self, reads: Sequence[GradeRead], state: State, rows: int) -> Array:
        """Chances of grades, shape (rows, reads)."""
        queries = tuple(dict.fromkeys(read.query for read in reads))
        chances = grades(self.model, queries, state, rows=rows)
        found = np.empty((rows, len(reads)))
        for k, read in enumerate(reads):
            own = chances[:, [queries.index(read.query)]]
            imagined = np.full(rows, read.error / GRADES)  # of what could not be there
            chance = read_chances(own, [read.error])[:, 0, read.grade]
            found[:, k] = np.where(np.isnan(chance), imagined, chance)
        return found

    def _touched(self, during: str, where: Place) -> NDArray[np.bool_]:
        """Nodes whose engine an intervention makes another one; where two like parts change places the sound one is
        not among them.
        """
        before = self._all_states()
        after = while_done(self.model.engine, before, during, where)
        touched = np.zeros(self.count, dtype=bool)
        for key in after.edits.keys() | before.edits.keys():
            touched |= np.broadcast_to(np.asarray(after.get(*key)) != np.asarray(before.get(*key)), (self.count,))
        return touched

    def _exchanged(self, queries: Sequence[Query], touched: NDArray[np.bool_]) -> dict[Asked, Column]:
        """As without the intervention, but at the nodes that it touches."""
        bare = [replace(query, condition=replace(query.condition, during=None)) for query in queries]
        if not touched.any():  # nothing that may be wrong here sits in what changes places
            return dict(zip(queries, self.columns(bare), strict=True))
        before = self._all_states()
        few = State({key: np.asarray(value)[touched] for key, value in before.edits.items()})
        mean = expect(self.model, queries, few, rows=int(np.count_nonzero(touched))).mean
        other = np.logical_or.reduceat(touched, self.first)
        found: dict[Asked, Column] = {}
        for j, (query, column) in enumerate(zip(queries, self.columns(bare), strict=True)):
            nodes = column.nodes.copy()
            nodes[touched] = mean[:, j]
            closer = {way: grid for way, grid in column.closer.items() if not other[way]}
            found[query] = replace(column, nodes=nodes, closer=closer)
        return self._with_closer(found, lambda state, rows: expect(self.model, queries, state, rows=rows).mean, other)

    def _laid_out(self, read: Sequence[Query]) -> dict[Asked, Column]:
        """The sound engine, each healthy difference and all nodes are rows of one batch."""
        moved = nuisances(self.model, read)
        first = rows_of(moved)
        rows = first + self.count - 1
        state, numbers = one_at_a_time(moved, rows)
        state = below(state, self._states(), first, rows)
        expected = expect(self.model, read, state, numbers, rows=rows)
        slope, bend = differences(expected.mean[:first])
        row = {(nuisance.variable, nuisance.place): i for i, nuisance in enumerate(moved)}
        found: dict[Asked, Column] = {}
        for j, query in enumerate(read):
            own = nuisances(self.model, [query])  # in this order, which is the one that a kept column is read in
            mine = [row[n.variable, n.place] for n in own]
            value = expected.mean[:, j]
            nodes = np.concatenate([value[:1], value[first:]])
            found[query] = Column(float(value[0]), own, slope[mine, j], bend[mine, j], nodes)
        return self._with_closer(found, lambda state, rows: expect(self.model, read, state, rows=rows).mean)

    def _codes(self, queries: Sequence[Asked]) -> dict[Asked, Column]:
        chances = self._codes_in(queries, self._all_states(), self.count)
        found = _of_chances(queries, chances)
        return self._with_closer(found, lambda state, rows: self._codes_in(queries, state, rows))

    def _codes_in(self, queries: Sequence[Asked], state: State, rows: int) -> Array:
        """Chances of codes, shape (rows, queries)."""
        shared = Batch(self.model, state, {}, rows)
        found = np.empty((rows, len(queries)))
        for k, query in enumerate(queries):
            chance = code_chance(self.model, str(query.place.get("code")), state, {}, rows, batch=shared)
            assert chance is not None
            found[:, k] = chance[:, 0]
        return found

    def _with_closer(
        self,
        columns: Mapping[Asked, Column],
        read: Callable[[State, int], Array],
        only: NDArray[np.bool_] | None = None,
    ) -> dict[Asked, Column]:
        """The same with closer nodes where a reading needs them; ``read`` predicts all of them for so many states."""
        values = np.stack([column.nodes for column in columns.values()], axis=1)

        def ask(way: Picks, share: Array) -> Array:
            return read(assemble(_side_by_side(self.ways, way, share))[0], len(way))

        closer = refine(Layout.even(values, self.shape), self._scale(columns), ask, only)
        pairs = zip(columns.items(), closer, strict=True)
        return {query: replace(column, closer={**column.closer, **more}) for (query, column), more in pairs}

    def _scale(self, columns: Mapping[Asked, Column]) -> Scale:
        """Spread of the readings of sound engines, instruments included, and how it grows with them."""
        fixed, share, least = np.empty((3, len(columns)))
        for k, (query, column) in enumerate(columns.items()):
            fixed[k], share[k], least[k] = _CHANCE, 0.0, 0.0
            if isinstance(query, Query) and query.kind.kind in ("number", "count"):
                known, kind = tolerance_of(self.model, query), query.kind
                differ = float(np.diag(covariance_of(column.slope[:, None], column.bend[:, None]))[0])
                fixed[k] = np.sqrt(known.absolute**2 + differ + (0.0 if kind.relative else kind.sd**2))
                share[k] = np.hypot(known.share, kind.sd if kind.relative else 0.0)
                least[k] = _LEAST * abs(float(np.nan_to_num(column.healthy)))
        return Scale(fixed, share, least)

    def _all_states(self) -> State:
        """The sound engine and all nodes, as the columns have them."""
        return below(State({}), self._states(), 1, self.count)

    def _states(self) -> State:
        """All nodes of all ways side by side, without the sound one."""
        return assemble([nodes_of(kind) for kind in self.ways])[0]

    def _unpacked(self, query: Asked, stored: Stored) -> Column:
        nodes = np.full(self.count, stored.healthy)
        nodes[stored.at] = stored.value
        moved: tuple[Nuisance, ...] = ()
        if isinstance(query, Query) and query.quantity != "code_state":
            moved = ruled(self.model, [query])[0].moved
        return Column(stored.healthy, moved, stored.slope, stored.bend, nodes, stored.closer)


def _is_code(query: Asked) -> bool:
    return query.quantity == "code_state"


def _plain(query: Asked) -> Asked:
    """Without what bears on what a reading is worth, and not on what it should be."""
    if isinstance(query, GradeRead):
        return replace(query, query=_query_of(_plain(query.query)))
    if query.quantity == "code_state":
        return Query(query.quantity, query.place)
    if query.condition.complaint is None and query.condition.freeze is None:
        return query
    return replace(query, condition=replace(query.condition, complaint=None, freeze=None))


def _query_of(asked: Asked) -> Query:
    return asked.query if isinstance(asked, GradeRead) else asked


def _packed(query: Asked, column: Column) -> Stored:
    """Without what no reading could show: nodes that differ from the sound engine by next to nothing."""
    is_number = isinstance(query, Query) and query.kind.kind in ("number", "count")
    least = _NOTHING * _query_of(query).kind.default_sd(column.healthy) if is_number else 1e-4
    differs = np.flatnonzero(~(np.abs(column.nodes - column.healthy) <= max(least, 1e-9)))
    at = differs.astype(np.intp)
    return Stored(column.healthy, column.slope, column.bend, at, column.nodes[differs], column.closer)


def _of_chances(queries: Sequence[Asked], chances: Array) -> dict[Asked, Column]:
    """Columns of what has no spread of its own, from their nodes, shape (n, queries)."""
    nodes = np.ascontiguousarray(chances.T)
    return {
        query: Column(float(own[0]), (), np.zeros(0), np.zeros(0), own)
        for query, own in zip(queries, nodes, strict=True)
    }


def _side_by_side(ways: Sequence[Kind], way: Picks, share: Array) -> list[Rows]:
    """Rows of ways, by direction and in rising order, at shares of their sizes."""
    found = []
    for mine in np.split(np.arange(len(way)), np.flatnonzero(np.diff(way)) + 1):
        kind = ways[way[mine[0]] - 1]
        own = np.full((len(mine), len(kind.axes)), 0.5)
        own[:, : min(2, len(kind.axes))] = share[mine][:, 2 - min(2, len(kind.axes)) :]
        found.append(_rows(kind, own))
    return found


def _rows(kind: Kind, share: Array) -> Rows:
    return Rows(Component((), (), (kind,), NO_CHOICE, (), 0.0), share, np.zeros(len(share), dtype=np.intp))


def nodes_of(kind: Kind) -> Rows:
    """One way of a fault at the nodes that a table has of it.

    Parameters
    ----------
    kind : Kind

    Returns
    -------
    Rows
    """
    return _rows(kind, _nodes(kind))


def _shape(kind: Kind) -> tuple[int, int]:
    return (1, 1) if not kind.axes else (1, _ONE) if len(kind.axes) == 1 else (_TWO, _TWO)


def _nodes(kind: Kind) -> Array:
    """Shares of the severities at the nodes, shape (n, axes); from a third on the middle."""
    if not kind.axes:
        return np.zeros((1, 0))
    if len(kind.axes) == 1:
        return np.linspace(0.0, 1.0, _ONE)[:, None]
    line = np.linspace(0.0, 1.0, _TWO)
    share = np.full((_TWO * _TWO, len(kind.axes)), 0.5)
    share[:, 0], share[:, 1] = np.repeat(line, _TWO), np.tile(line, _TWO)
    return share
