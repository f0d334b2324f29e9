"""The posterior thinned to a few hundred points, so that tests can be tried on each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import Procedure
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import Rows, assemble
from witnessmark.infer.posterior import OTHERS, Posterior
from witnessmark.infer.summary import group_of
from witnessmark.infer.world import healthy_spread, none_spread
from witnessmark.predict import expect, why_not
from witnessmark.predict.codes import code_chance
from witnessmark.predict.model import Numbers
from witnessmark.vocabulary import Query

__all__ = ["Particles", "TestLaw", "law_of", "particles"]

Array = NDArray[np.float64]
_COUNT = 700


@dataclass(frozen=True, slots=True)
class _Part:
    """The points on one world, their states laid side by side."""

    world: int
    state: State
    numbers: Numbers
    start: int
    stop: int


@dataclass(frozen=True)
class Particles:
    """Weighted points over all hypotheses.

    Parameters
    ----------
    weight : ndarray, shape (n,)
    group : ndarray of int, shape (n,)
        Index into ``groups``.
    groups : tuple
        Repair keys (tuples of job and scope), or the names of the other hypotheses.
    post : Posterior
    parts : tuple
        Points of faults, world by world.
    healthy : tuple of int
        Worlds of the healthy points that follow all parts.
    none_from : int
        From here on the points of none_of_these.
    """

    post: Posterior
    weight: Array
    group: NDArray[np.intp]
    groups: tuple[object, ...]
    parts: tuple[_Part, ...]
    healthy: tuple[int, ...]  # worlds of the healthy points that follow all parts
    none_from: int  # from here on the points of none_of_these

    @property
    def chance(self) -> Array:
        """Probability of each group, shape (groups,)."""
        return np.asarray(np.bincount(self.group, weights=self.weight, minlength=len(self.groups)), dtype=np.float64)


def particles(post: Posterior, count: int = _COUNT) -> Particles:
    """Thin the posterior by systematic resampling; every group keeps its exact mass.

    Parameters
    ----------
    post : Posterior
    count : int
        About how many points.

    Returns
    -------
    Particles
    """
    numbers: dict[object, int] = {}
    logs = np.concatenate([cloud.log_weight for cloud in post.clouds]) - post.log_total
    mass = np.exp(logs)
    owner = np.repeat(np.arange(len(post.clouds)), [len(c.log_weight) for c in post.clouds])
    inside = np.concatenate([np.arange(len(c.log_weight)) for c in post.clouds])
    edges = np.cumsum(mass)
    ticks = (np.arange(count) + 0.5) / count * edges[-1]
    points, counts = np.unique(np.searchsorted(edges, ticks), return_counts=True)
    weight, group, parts = [], [], []
    start = 0
    for world in range(len(post.worlds)):
        rows = []
        begin = start
        for cloud_index in np.unique(owner[points]):
            cloud = post.clouds[cloud_index]
            if cloud.world != world:
                continue
            mine = points[owner[points] == cloud_index]
            at = inside[mine]
            integrated = cloud.integrated
            rows.append(Rows(integrated.component, integrated.share[at], integrated.choice[at]))
            number = numbers.setdefault(group_of(post, integrated.component.key), len(numbers))
            weight.append(counts[owner[points] == cloud_index] * edges[-1] / count)
            group.append(np.full(len(at), number))
            start += len(at)
        if rows:
            state, assumed, _ = assemble(rows)
            parts.append(_Part(world, state, assumed, begin, start))
    healthy, tail = [], []
    for name in OTHERS:
        number = numbers.setdefault(name, len(numbers))
        for world in range(len(post.worlds)):
            share = float(np.exp(post.other_log_mass[(world, name)] - post.log_total))
            tail.append((number, world, share))
            healthy.append(world)
    weight.append(np.array([share for _, _, share in tail]))
    group.append(np.array([number for number, _, _ in tail]))
    none_from = start + 2 * len(post.worlds)
    return Particles(
        post,
        np.concatenate(weight),
        np.concatenate(group).astype(np.intp),
        tuple(numbers),
        tuple(parts),
        tuple(healthy),
        none_from,
    )


@dataclass(frozen=True, slots=True)
class TestLaw:
    """What a test would read on every point.

    Parameters
    ----------
    queries : tuple of Query
    mean : ndarray, shape (n, q)
        Of yes/no quantities the chance of yes.
    covariance : ndarray, shape (q, q)
    is_chance : ndarray of bool, shape (q,)
    broad : ndarray, shape (q,)
        Further spread of the points of none_of_these.
    """

    queries: tuple[Query, ...]
    mean: Array
    covariance: Array
    is_chance: NDArray[np.bool_]
    broad: Array


def law_of(cloud: Particles, procedure: Procedure, done: Sequence[Query]) -> TestLaw | None:
    """The law of a test's readings, or None where it yields nothing new here.

    Parameters
    ----------
    cloud : Particles
    procedure : Procedure
    done : sequence of Query
        Already read.

    Returns
    -------
    TestLaw or None
    """
    best = int(np.argmax(cloud.post.world_mass))
    model = cloud.post.worlds[best].model
    taken = {_same(q) for q in done}
    queries = tuple(
        q
        for q in procedure.queries(model.engine)
        if _same(q) not in taken and (q.quantity == "code_state" or why_not(model, q) is None)
    )
    if not queries:
        return None
    mean = np.empty((len(cloud.weight), len(queries)))
    for part in cloud.parts:
        rows = part.stop - part.start
        mean[part.start : part.stop] = _means(cloud, part.world, part.state, part.numbers, queries, rows)
    after = cloud.parts[-1].stop if cloud.parts else 0
    healthy = np.stack([_means(cloud, w, HEALTHY, {}, queries, 1)[0] for w in range(len(cloud.post.worlds))])
    mean[after:] = healthy[list(cloud.healthy)]
    reference = healthy[best]
    mean = np.where(np.isnan(mean), reference + 4.0 * none_spread(queries), mean)
    is_chance = np.array([q.kind.kind in ("yes_no", "sign") for q in queries])
    broad = none_spread(queries)
    _repeat(cloud, queries, mean[cloud.none_from :], broad)
    return TestLaw(queries, mean, _covariance(cloud, best, queries, reference), is_chance, broad)


_CAM_ANGLES = {"cam_deviation", "cam_phase_reported", "cam_phase_error"}
_NO_POSITION = {"phase_scatter", "wheel_pitch_error", "edges_missing", "phaser_slew", "signal_polarity"}
_REPEATS_WITHIN = 2.0  # deg: how well an unlisted cause repeats itself on the same cam; our guess


def _repeat(cloud: Particles, queries: Sequence[Query], means: Array, broad: Array) -> None:
    """Whatever an unlisted cause is, it shows about the same again where it has shown already."""
    read = {f.place: f.value for f in cloud.post.worlds[0].findings.measured if f.quantity in _CAM_ANGLES}
    for j, query in enumerate(queries):
        if query.quantity in _NO_POSITION:  # nothing says that an unlisted cause would show here at all
            broad[j] = 0.0
        elif query.quantity in _CAM_ANGLES and query.place in read:
            means[:, j] = read[query.place]
            broad[j] = _REPEATS_WITHIN


def _same(query: Query) -> tuple[object, ...]:
    """What makes a second reading no news: same quantity and place, and for measurements the same state."""
    state = None if query.quantity == "code_state" else query.condition.state
    return query.quantity, query.place, state, query.condition.phaser == "moved", query.condition.during


def _means(cloud: Particles, world: int, state: State, numbers: Numbers, queries: Sequence[Query], rows: int) -> Array:
    model = cloud.post.worlds[world].model
    values = np.full((rows, len(queries)), np.nan)
    known = [j for j, query in enumerate(queries) if query.quantity != "code_state" and why_not(model, query) is None]
    values[:, known] = expect(model, [queries[j] for j in known], state, numbers, rows=rows).mean
    for j, query in enumerate(queries):
        if query.quantity == "code_state":
            chance = code_chance(model, str(query.place.get("code")), state, numbers, rows)
            if chance is not None:
                values[:, j] = chance.mean(axis=1)
    return values


def _covariance(cloud: Particles, world: int, queries: Sequence[Query], mean: Array) -> Array:
    model = cloud.post.worlds[world].model
    measured = [j for j, q in enumerate(queries) if q.quantity != "code_state"]
    covariance = np.eye(len(queries)) * 1e-4
    if measured:
        spread, tolerance, _ = healthy_spread(model, [queries[j] for j in measured])
        own = np.array([queries[j].kind.default_sd(float(mean[j])) for j in measured])
        covariance[np.ix_(measured, measured)] = spread + np.diag(tolerance**2 + own**2 + 1e-6)
    return covariance
