"""Which faults some test can see, and which no test can part: predictions in spreads of what would be read.

Every fault is put into a sound engine at several severities, and every reading of every test predicted, in spreads
(:mod:`witnessmark.infer.ruler`). A distance of 3 is worth 20 decibans on average.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import FaultInstance, Kind
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.ruler import Ruler

__all__ = ["SEEN_AT", "Course", "Sight", "courses_of", "hidden_share", "sights_of"]

Array = NDArray[np.float64]

SEEN_AT = 3.0
"""Distance, in spreads, from which a test sees a fault or parts two: a mean weight of 4.5 nats, 20 decibans."""

_ALONG = 3  # severities, an odd number; of several sizes, all along the diagonal
_BEND_POINTS = 17


@dataclass(frozen=True, slots=True)
class Course:
    """A fault's way through the readings, from its least severity to its greatest.

    Parameters
    ----------
    instance : FaultInstance
    rows : ndarray of int, shape (n,)
        Its states among all that were read.
    bends : ndarray of int, shape (m, 3)
        Three severities in turn of one way to happen, as rows.
    shares : ndarray, shape (n,) [-]
        Mean share of the range of each.
    """

    instance: FaultInstance
    rows: NDArray[np.intp]
    bends: NDArray[np.intp]
    shares: Array


def courses_of(instances: Sequence[FaultInstance], *, along: int = _ALONG) -> tuple[State, int, tuple[Course, ...]]:
    """All faults at several sizes from least to greatest, as states side by side.

    Parameters
    ----------
    instances : sequence of FaultInstance
    along : int
        How many severities, an odd number.

    Returns
    -------
    state : State
    rows : int
    courses : tuple of Course
    """
    edits: list[tuple[int, tuple[str, str], float]] = []
    courses: list[Course] = []
    row = 0
    for instance in instances:
        rows: list[int] = []
        bends: list[tuple[int, int, int]] = []
        shares: list[float] = []
        for kind in instance.kinds:
            if not kind.terms:
                continue
            grid = _grid(kind, along)
            for k, point in enumerate(grid):
                theta = np.array([[float(axis.at(np.array(s))) for axis, s in zip(kind.axes, point, strict=True)]])
                changed = HEALTHY.edited(kind.changes(theta.reshape(1, -1))).edits
                edits += [(row + k, key, float(np.squeeze(value))) for key, value in changed.items()]
            bends += [(row + k, row + k + 1, row + k + 2) for k in range(0, len(grid) - 2, 2)]
            rows += range(row, row + len(grid))
            shares += [float(np.mean(point)) if len(point) else 1.0 for point in grid]
            row += len(grid)
        triples = np.array(bends, dtype=np.intp).reshape(-1, 3)
        courses.append(Course(instance, np.array(rows, dtype=np.intp), triples, np.array(shares)))
    columns: dict[tuple[str, str], Array] = {}
    for at, key, value in edits:
        columns.setdefault(key, np.full(row, float(np.ravel(HEALTHY.get(*key))[0])))[at] = value
    return State(columns), row, tuple(courses)


def _grid(kind: Kind, along: int) -> Array:
    """Shares of the range of every axis; sizes that come together grow together."""
    count = len(kind.axes)
    return np.repeat(np.linspace(0.0, 1.0, along)[:, None], count, axis=1) if count else np.empty((1, 0))


@dataclass(frozen=True, slots=True)
class Sight:
    """How far a fault moves the readings of the test that sees it best, at each severity.

    Parameters
    ----------
    test : str
        That sees it best at its greatest.
    distance : ndarray, shape (n,) [-]
        In spreads, at each severity of the course.
    """

    test: str
    distance: Array

    @property
    def seen(self) -> bool:
        """Whether some test sees it at some severity."""
        return bool(np.max(self.distance) >= SEEN_AT)


def sights_of(ruler: Ruler, read: Array, courses: Sequence[Course]) -> tuple[Sight, ...]:
    """What the tests, each by itself, see of each fault.

    Parameters
    ----------
    ruler : Ruler
    read : ndarray, shape (rows, q)
    courses : sequence of Course

    Returns
    -------
    tuple of Sight
    """
    names = list(ruler.tests)
    far = np.stack([np.sqrt(np.square(ruler.whitened(read, ruler.tests[name])).sum(axis=1)) for name in names])
    found = []
    for course in courses:
        own = far[:, course.rows]
        best, _ = np.unravel_index(int(np.argmax(own)), own.shape)
        found.append(Sight(names[int(best)], own.max(axis=0)))
    return tuple(found)


def hidden_share(whitened: Array, courses: Sequence[Course], seen: Sequence[NDArray[np.bool_]]) -> Array:
    """How much of one fault another one explains as well, all tests together.

    Parameters
    ----------
    whitened : ndarray, shape (rows, d) [-]
        All readings, from :meth:`Ruler.whitened`.
    courses : sequence of Course, length c
    seen : sequence of ndarray of bool
        Which severities of each course some test sees at all.

    Returns
    -------
    ndarray, shape (c, c) [-]
        Share of the seen severities of the first that lie within :data:`SEEN_AT` of the way of the second; NaN where
        nothing of the first is seen.

    Notes
    -----
    Distance to a way is that to the nearest of many points of the parabola through each three severities. With
    w = Σ cₖ wₖ and Σ cₖ = 1, |x − w|² = Σ cₖ |x − wₖ|² − ½ Σ cₖ cₗ |wₖ − wₗ|²: follows from the law of cosines.
    """
    square = np.square(whitened).sum(axis=1)
    apart = np.maximum(square[:, None] + square[None, :] - 2.0 * whitened @ whitened.T, 0.0)
    found = np.full((len(courses), len(courses)), np.nan)
    for b, course in enumerate(courses):
        near = apart[:, course.rows].min(axis=1)
        for triple in course.bends:
            near = np.minimum(near, _to_bend(apart, triple).min(axis=1))
        for a, other in enumerate(courses):
            if np.any(seen[a]):
                found[a, b] = float(np.mean(near[other.rows][seen[a]] < SEEN_AT**2))
    return found


def _to_bend(apart: Array, triple: NDArray[np.intp]) -> Array:
    """Squared distances of all rows to points of the parabola through three, shape (rows, points)."""
    t = np.linspace(0.0, 1.0, _BEND_POINTS)
    share = np.stack([(1.0 - t) * (1.0 - 2.0 * t), 4.0 * t * (1.0 - t), t * (2.0 * t - 1.0)])
    own = apart[np.ix_(triple, triple)]
    return np.asarray(np.maximum(apart[:, triple] @ share - 0.5 * np.einsum("kt,kl,lt->t", share, own, share), 0.0))
