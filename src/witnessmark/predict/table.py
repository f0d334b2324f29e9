"""Predictions tabulated along directions in the space of states: what a search asks for a thousand times.

A direction is one way a state may be edited, with one size or two that grow; a table holds what every query reads at
nodes along it. Between nodes it is linear; how far that is off was measured at a probe in every cell.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State, Values
from witnessmark.predict.model import DriveModel, Numbers
from witnessmark.predict.run import expect
from witnessmark.vocabulary import Query

__all__ = ["Direction", "PredictionTable", "along_last", "tabulate"]

Array = NDArray[np.float64]
Change = tuple[str, str, str, Values]

_FEWEST, _MOST_ONE, _MOST_TWO = 9, 65, 33  # nodes along one axis: at first, and at most with one axis or two
_BETTER = 0.7  # twice as many nodes quarter the error of a curve; where they hardly lower it there is a step
_PROBE = 0.5 * (3.0 - 5.0**0.5)  # where in a cell its probe stands
_GOOD = 0.1  # spreads of a usual reading: an interpolation as near as this is good enough; our choice


@dataclass(frozen=True, slots=True)
class Direction:
    """One way a state may be edited.

    Parameters
    ----------
    changes : callable ndarray, shape (n, axes) [-] -> iterable of (variable, place, op, amount)
        Edits for ``State.edited`` at shares 0..1 of each size's range.
    axes : int
        0 (a fixed edit), 1 or 2.
    """

    changes: Callable[[Array], Iterable[Change]]
    axes: int


@dataclass(frozen=True, slots=True)
class PredictionTable:
    """What queries read along directions.

    Parameters
    ----------
    queries : tuple of Query, length q
    values : ndarray, shape (nodes, q)
        In the quantities' units, node after node, direction after direction.
    first : ndarray of int, shape (d,)
        Where each direction's nodes begin.
    nodes : ndarray of int, shape (d, 2)
        Along each axis; 1 where there is none.
    error : ndarray, shape (d, q)
        Greatest error found at a probe. Where a reading is smooth it is 0.94 of the greatest there is; a step
        between two nodes may be missed if it lies beside the probe. NaN is not counted.
    """

    queries: tuple[Query, ...]
    values: Array
    first: NDArray[np.intp]
    nodes: NDArray[np.intp]
    error: Array

    def at(self, direction: NDArray[np.intp], share: Array) -> tuple[Array, Array]:
        """Predictions between the nodes.

        Parameters
        ----------
        direction : ndarray of int, shape (n,)
        share : ndarray, shape (n, 2) [-]
            Of each size's range; what an axis has not is not read.

        Returns
        -------
        mean : ndarray, shape (n, q)
            NaN where a node beside has no such reading.
        error : ndarray, shape (n, q)
            To be added to the tolerance of the nominal as a spread.
        """
        count = self.nodes[direction]
        steps = np.clip(share, 0.0, 1.0) * (count - 1)
        low = np.minimum(np.floor(steps).astype(np.intp), np.maximum(count - 2, 0))
        part = steps - low
        start = np.asarray(self.first[direction] + low[:, 0] * count[:, 1] + low[:, 1], dtype=np.intp)
        mean = along_last(self.values, start, part[:, 1], count[:, 1])
        if np.any(count[:, 0] > 1):
            next_line = np.asarray(start + np.where(count[:, 0] > 1, count[:, 1], 0), dtype=np.intp)
            beyond = along_last(self.values, next_line, part[:, 1], count[:, 1])
            mean += part[:, :1] * (beyond - mean)
        return mean, self.error[direction]


def along_last(values: Array, start: NDArray[np.intp], part: Array, count: NDArray[np.intp]) -> Array:
    """Straight between a node and the next one along a table's last axis.

    Parameters
    ----------
    values : ndarray, shape (nodes, q)
    start : ndarray of int, shape (n,)
        Numbers of the nodes before.
    part : ndarray, shape (n,) [-]
        How far from them to the next ones.
    count : ndarray of int, shape (n,)
        Nodes along that axis; of one there is no next.

    Returns
    -------
    ndarray, shape (n, q)
        The caller's to write to.
    """
    near = np.asarray(values[start])
    if not np.any(count > 1):
        return near
    far = values[start + (count > 1)]
    far -= near
    far *= part[:, None]
    near += far
    return near


def tabulate(
    model: DriveModel,
    queries: Sequence[Query],
    directions: Sequence[Direction],
    *,
    start: State = HEALTHY,
    numbers: Numbers | None = None,
) -> PredictionTable:
    """Tabulate predictions along directions, with nodes as close as each direction needs.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q
        Each predictable here.
    directions : sequence of Direction, length d
    start : State
        One state, which the directions edit.
    numbers : mapping, optional
        Assumed throughout, each shape ().

    Returns
    -------
    PredictionTable

    Notes
    -----
    Nodes along each axis are doubled until the straight line is off by less than a tenth of a usual reading's spread
    at every probe, or more nodes do not help (a step), or there are 65 (33 along each of two axes). All directions are
    refined together, so each round is one call of ``expect``.
    """
    asked = _Asked(model, tuple(queries), start, numbers or {})
    found = [_Grid(one, asked.own) for one in directions]
    open_ones = list(range(len(found)))
    while open_ones:
        asked.fill([found[i] for i in open_ones])
        open_ones = [i for i in open_ones if found[i].refine()]
    first = np.cumsum([0, *(len(grid.flat) for grid in found)])[:-1]
    return PredictionTable(
        asked.queries,
        np.concatenate([grid.flat for grid in found]) if found else np.empty((0, len(queries))),
        np.asarray(first, dtype=np.intp),
        np.array([grid.shape for grid in found], dtype=np.intp).reshape(-1, 2),
        np.array([grid.error for grid in found]).reshape(-1, len(queries)),
    )


class _Asked:
    """Queries of one engine, answered for grids of states."""

    def __init__(self, model: DriveModel, queries: tuple[Query, ...], start: State, numbers: Numbers) -> None:
        self.model, self.queries, self.start, self.numbers = model, queries, start, numbers
        healthy = np.nan_to_num(expect(model, queries, start, numbers).mean[0])
        usual = [query.kind.default_sd(float(value)) for query, value in zip(queries, healthy, strict=True)]
        self.own = np.maximum(np.array(usual), 1e-6)

    def fill(self, grids: Sequence[_Grid]) -> None:
        """Values at all nodes and probes of some grids, in one call."""
        states = [grid.wanted() for grid in grids]
        sizes = [len(shares) for shares in states]
        state = _side_by_side(self.start, [grid.direction for grid in grids], states)
        mean = expect(self.model, self.queries, state, self.numbers, rows=sum(sizes)).mean
        for grid, own in zip(grids, np.split(mean, np.cumsum(sizes)[:-1]), strict=True):
            grid.take(own)


class _Grid:
    """Nodes of one direction, and one probe in every cell between them."""

    def __init__(self, direction: Direction, own: Array) -> None:
        self.direction, self.own = direction, own
        self.shape = (_FEWEST if direction.axes == 2 else 1, _FEWEST if direction.axes else 1)
        self.most = _MOST_ONE if direction.axes < 2 else _MOST_TWO
        self.flat = np.empty((0, len(own)))
        self.error = np.full(len(own), np.inf)
        self.stuck = np.zeros(len(own), dtype=bool)

    def wanted(self) -> Array:
        """Shares of all nodes, then of all probes, shape (m, axes)."""
        nodes = _crossed([np.linspace(0.0, 1.0, n) if n > 1 else np.zeros(1) for n in self.shape])
        probes = _crossed([_inside(n) for n in self.shape]) if self.direction.axes else np.empty((0, 2))
        return np.concatenate([nodes, probes])[:, 2 - self.direction.axes :]

    def take(self, values: Array) -> None:
        """Keep the nodes; the probes say how far a straight line between them is off."""
        count = int(np.prod(self.shape))
        self.flat, probes = values[:count], values[count:]
        if not len(probes):
            self.error = np.zeros(len(self.own))
        else:
            line = self.flat.reshape(*self.shape, -1)
            for axis, n in enumerate(self.shape):
                if n > 1:
                    line = _linear(line, axis)
            before, self.error = self.error, np.nan_to_num(np.abs(line.reshape(len(probes), -1) - probes)).max(axis=0)
            self.stuck = self.error > _BETTER * before

    def refine(self) -> bool:
        """True where finer nodes are wanted, allowed and of use; they are then asked for."""
        done = (self.error <= _GOOD * self.own) | self.stuck
        if np.all(done) or max(self.shape) >= self.most:
            return False
        self.shape = (2 * self.shape[0] - 1, 2 * self.shape[1] - 1)
        return True


def _crossed(lines: Sequence[Array]) -> Array:
    return np.array(list(itertools.product(*lines)))


def _inside(nodes: int) -> Array:
    """One share in every cell between nodes, at the golden section: a regular pattern would miss what repeats."""
    return (np.arange(nodes - 1) + _PROBE) / (nodes - 1) if nodes > 1 else np.zeros(1)


def _linear(values: Array, axis: int) -> Array:
    """Values at the probes along one axis, straight between the nodes."""
    moved = np.moveaxis(values, axis, 0)
    return np.moveaxis(moved[:-1] + _PROBE * (moved[1:] - moved[:-1]), 0, axis)


def _side_by_side(start: State, directions: Sequence[Direction], shares: Sequence[Array]) -> State:
    """All states of several directions as one: whatever only some of them edit stays as it starts in the others."""
    rows = sum(len(own) for own in shares)
    edits: dict[tuple[str, str], Array] = {}
    begin = 0
    for direction, own in zip(directions, shares, strict=True):
        for key, value in start.edited(direction.changes(own)).edits.items():
            if key not in edits:
                edits[key] = np.full(rows, float(np.ravel(start.get(*key))[0]))
            edits[key][begin : begin + len(own)] = value
        begin += len(own)
    return State(edits)
