"""What a hypothesis would also show, where nobody has looked yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import procedures
from witnessmark.infer.belief import Expected
from witnessmark.infer.components import Key, Rows
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.pointreadings import readings_on
from witnessmark.infer.points import Particles
from witnessmark.infer.posterior import Posterior
from witnessmark.infer.sound import Sound
from witnessmark.infer.summary import clouds_of
from witnessmark.infer.world import World
from witnessmark.predict import why_not
from witnessmark.predict.graded import is_graded
from witnessmark.vocabulary import Query

__all__ = ["also_shows"]

Array = NDArray[np.float64]

_POINTS = 24  # heaviest points that stand for a hypothesis
_TELLS = 2.5  # spreads off healthy, to be worth saying
_MOST = 4


def also_shows(post: Posterior, name: Key, done: Sequence[Query]) -> tuple[Expected, ...]:
    """What a hypothesis predicts off healthy and nobody has looked for, the clearest first.

    Parameters
    ----------
    post : Posterior
    name : Key
        The hypothesis.
    done : sequence of Query
        Already read.

    Returns
    -------
    tuple of Expected
        At most four; spread over its severity and the usual spread of the instrument.
    """
    of_drive = all(post.instances[part].row.system == "drive" for part in name)
    told = _of_the_drive_alone(post, name, done) if of_drive else _of_all(post, name, done)
    if told is None:
        return ()
    queries, weight, means, sound = told
    there = ~np.isnan(means).any(axis=0)
    mean = weight @ means
    usual = [query.kind.default_sd(float(one)) for query, one in zip(queries, np.nan_to_num(mean), strict=True)]
    own = np.hypot(usual, np.hypot(sound.absolute, sound.share * np.abs(mean)))
    spread = np.hypot(own, np.sqrt(weight @ (means - mean) ** 2))
    off = np.where(there, np.abs(mean - sound.mean) / np.maximum(own, 1e-6), 0.0)
    clearest = [j for j in np.argsort(-off, kind="stable")[:_MOST] if off[j] > _TELLS]
    return tuple(_expected(queries[j], float(mean[j]), float(spread[j])) for j in clearest)


def _expected(query: Query, mean: float, spread: float) -> Expected:
    return Expected(query.quantity, query.place, query.condition, mean, spread, query.kind.unit_at(query.place))


_Told = tuple[Sequence[Query], Array, Array, Sound]
"""Queries, weights of some points of a hypothesis, what they read, what sound engines read."""


def _of_the_drive_alone(post: Posterior, name: Key, done: Sequence[Query]) -> _Told | None:
    """Its heaviest points on its likeliest engine: the drive's own readings are short sums."""
    cloud = max(clouds_of(post, name), key=lambda c: c.log_total)
    world = post.worlds[cloud.world]
    queries = _unread(_of_the_drive(world), done)
    if not queries:
        return None
    best = np.argsort(-cloud.log_weight)[:_POINTS]
    rows = Rows(cloud.integrated.component, cloud.integrated.share[best], cloud.integrated.choice[best])
    weight = np.exp(cloud.log_weight[best] - cloud.log_weight[best[0]])
    means = Lookup(world.foretold, queries).read([rows])[0]
    return queries, weight / weight.sum(), means, world.foretold.sound(queries)


def _of_all(post: Posterior, name: Key, done: Sequence[Query]) -> _Told | None:
    """Its share of the points that all tests are tried on, on the engine that has most of it."""
    readings = readings_on(post)
    at = _points_of(readings.cloud, name)
    gathered: dict[int, list[int]] = {}
    for world, point in at:
        gathered.setdefault(readings.stand_of(world), []).append(point)
    if not gathered:
        return None
    world = max(gathered, key=lambda w: float(readings.cloud.weight[gathered[w]].sum()))
    tests = post.worlds[world].foretold.tests
    key = "unread", world, tuple(done)
    if key not in post.told:
        post.told[key] = _unread([[q for q in each if _as_it_stands(q)] for each in tests.askable.values()], done)
    queries = cast(list[Query], post.told[key])
    mine = np.isin(readings.points_of(world), gathered[world])
    weight = readings.cloud.weight[readings.points_of(world)[mine]]
    means = readings.read(world, queries)[1][mine]
    return queries, weight / weight.sum(), means, tests.sound(queries)


def _points_of(cloud: Particles, name: Key) -> list[tuple[int, int]]:
    """World and number of every point of a hypothesis."""
    found = []
    for part in cloud.parts:
        start = part.start
        for rows in part.rows:
            stop = start + len(rows.choice)
            if rows.component.key == name:
                found += [(part.world, point) for point in range(start, stop)]
            start = stop
    return found


def _as_it_stands(query: Query) -> bool:
    """A measured reading of the engine outside its drive, with nothing done to it meanwhile."""
    measured = query.kind.kind in ("number", "count") and not is_graded(query)
    return measured and query.condition.during is None and not is_cheap(query)


def _unread(each: Iterable[Sequence[Query]], done: Sequence[Query]) -> list[Query]:
    """Quantities of the tests listed that nobody has read, each once."""
    found: dict[tuple[object, ...], Query] = {}
    for queries in each:
        for query in queries:
            plain = query.condition.during is None and query.kind.kind in ("number", "count")
            spot = query.quantity, query.place
            if plain and spot not in found and not _is_read(query, done):
                found[spot] = query
    return list(found.values())


def _of_the_drive(world: World) -> list[tuple[Query, ...]]:
    """What the drive's own tests read: a fault of the drive is told by what is near it."""
    each = (procedure.queries(world.model.engine) for procedure in procedures().all)
    return [tuple(q for q in queries if is_cheap(q) and why_not(world.model, q) is None) for queries in each]


def _is_read(query: Query, done: Sequence[Query]) -> bool:
    """Whether somebody has read this: the same quantity at the same place, or at one that says more."""
    wanted = set(query.place.items)
    return any(q.quantity == query.quantity and (wanted <= set(q.place.items)) for q in done)
