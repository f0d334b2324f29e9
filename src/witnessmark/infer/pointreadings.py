"""What tests would read on the points of a posterior, engine by engine.

An engine that has little of the belief lends its points to the likeliest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Kind
from witnessmark.infer.components import Rows
from witnessmark.infer.points import Particles, particles
from witnessmark.infer.posterior import Posterior
from witnessmark.infer.testtable import TestTable
from witnessmark.infer.world import World
from witnessmark.vocabulary import Query

__all__ = ["PointReadings", "readings_on"]

Array = NDArray[np.float64]

_SHARE = 0.1  # of the belief that an engine has to have, for its readings to be worked out by themselves


@dataclass(frozen=True, slots=True)
class _Stand:
    """One engine with its points, and what was read of them: the first row is the sound engine."""

    table: TestTable
    rows: tuple[Rows, ...]
    points: NDArray[np.intp]
    columns: dict[Query, Array] = field(default_factory=dict)


@dataclass(frozen=True)
class PointReadings:
    """Readings on the points of one posterior.

    Parameters
    ----------
    cloud : Particles
    best : int
        The likeliest engine.
    stands : mapping of int to _Stand
        Engines whose readings are worked out.
    """

    cloud: Particles
    best: int
    stands: Mapping[int, _Stand]

    def stand_of(self, world: int) -> int:
        """The engine on which the points of an engine are worked out.

        Parameters
        ----------
        world : int

        Returns
        -------
        int
        """
        return world if world in self.stands else self.best

    def points_of(self, world: int) -> NDArray[np.intp]:
        """Which points are worked out on an engine.

        Parameters
        ----------
        world : int
            One of :attr:`stands`.

        Returns
        -------
        ndarray of int, shape (n,)
        """
        return self.stands[world].points

    def read(self, world: int, queries: Sequence[Query]) -> tuple[Array, Array]:
        """What tests would read on one engine.

        Parameters
        ----------
        world : int
            One of :attr:`stands`.
        queries : sequence of Query, length q
            Each predictable on it; neither codes nor readings of the timing drive. Of what is graded the chance that
            anything is seen.

        Returns
        -------
        sound : ndarray, shape (q,)
        points : ndarray, shape (n, q)
            In the order of :meth:`points_of`.
        """
        stand = self.stands[world]
        missing = [query for query in dict.fromkeys(queries) if query not in stand.columns]
        if missing:
            sound, points = stand.table.read(missing, stand.rows)
            stand.columns.update(zip(missing, np.concatenate([sound[None, :], points]).T, strict=True))
        if not queries:
            return np.empty(0), np.empty((len(stand.points), 0))
        found = np.stack([stand.columns[query] for query in queries], axis=1)
        return found[0], found[1:]


def readings_on(post: Posterior) -> PointReadings:
    """What tests would read on the points of a posterior; the same again is told once.

    Parameters
    ----------
    post : Posterior

    Returns
    -------
    PointReadings
    """
    if "readings" not in post.told:
        post.told["readings"] = _laid_out(post)
    found = post.told["readings"]
    assert isinstance(found, PointReadings)
    return found


def _laid_out(post: Posterior) -> PointReadings:
    cloud = particles(post)
    best = int(np.argmax(post.world_mass))
    own = [w for w in range(len(post.worlds)) if w == best or post.world_mass[w] >= _SHARE]
    stands = {}
    for w in own:
        parts = [part for part in cloud.parts if part.world == w or (w == best and part.world not in own)]
        points = np.concatenate([np.zeros(0, dtype=np.intp), *(np.arange(part.start, part.stop) for part in parts)])
        world = post.worlds[w]
        rows = tuple(_on(world, rows) for part in parts for rows in part.rows)
        stands[w] = _Stand(TestTable(world.foretold), rows, points)
    return PointReadings(cloud, best, stands)


def _on(world: World, rows: Rows) -> Rows:
    """Rows of another engine as this one has them: ways that it has not (of another drive) do nothing on it."""
    component = rows.component
    if all(world.foretold.has_way(kind) for kind in component.kinds):
        return rows
    kinds: list[Kind] = []
    columns: list[int] = []
    first = 0
    for instance, kind in zip(component.instances, component.kinds, strict=True):
        mine = world.foretold.way_like(instance, kind)
        if mine is not None:
            kinds.append(mine)
            columns += range(first, first + len(kind.axes))
        first += len(kind.axes)
    return Rows(replace(component, kinds=tuple(kinds)), rows.share[:, columns], rows.choice)
