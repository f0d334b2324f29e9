"""The posterior thinned to a few hundred points, so that tests can be tried on each of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.components import Rows
from witnessmark.infer.posterior import OTHERS, Posterior
from witnessmark.infer.summary import group_of

__all__ = ["Part", "Particles", "particles"]

Array = NDArray[np.float64]
_COUNT = 400


@dataclass(frozen=True, slots=True)
class Part:
    """The points on one world.

    Parameters
    ----------
    world : int
    rows : tuple of Rows
    start, stop : int
        Which points they are.
    """

    world: int
    rows: tuple[Rows, ...]
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
    parts: tuple[Part, ...]
    healthy: tuple[int, ...]  # worlds of the healthy points that follow all parts
    none_from: int  # from here on the points of none_of_these

    @property
    def chance(self) -> Array:
        """Probability of each group, shape (groups,)."""
        return np.asarray(np.bincount(self.group, weights=self.weight, minlength=len(self.groups)), dtype=np.float64)


def particles(post: Posterior, count: int = _COUNT) -> Particles:
    """Thin the posterior by systematic resampling; every group keeps its exact mass. The same again is told once.

    Parameters
    ----------
    post : Posterior
    count : int
        About how many points.

    Returns
    -------
    Particles
    """
    key = "particles", count
    if key not in post.told:
        post.told[key] = _thinned(post, count)
    found = post.told[key]
    assert isinstance(found, Particles)
    return found


def _thinned(post: Posterior, count: int) -> Particles:
    numbers: dict[object, int] = {}
    clouds = (*post.clouds, *post.unseen)
    logs = np.concatenate([cloud.log_weight for cloud in clouds]) - post.log_total
    mass = np.exp(logs)
    owner = np.repeat(np.arange(len(clouds)), [len(c.log_weight) for c in clouds])
    inside = np.concatenate([np.arange(len(c.log_weight)) for c in clouds])
    edges = np.cumsum(mass)
    ticks = (np.arange(count) + 0.5) / count * edges[-1]
    points, counts = np.unique(np.searchsorted(edges, ticks), return_counts=True)
    owners = owner[points]
    chosen = [(int(k), np.flatnonzero(owners == k)) for k in np.unique(owners)]
    weight, group, parts = [], [], []
    start = 0
    for world in range(len(post.worlds)):
        rows = []
        begin = start
        for cloud_index, mine in chosen:
            cloud = clouds[cloud_index]
            if cloud.world != world:
                continue
            at = inside[points[mine]]
            integrated = cloud.integrated
            rows.append(Rows(integrated.component, integrated.share[at], integrated.choice[at]))
            number = numbers.setdefault(group_of(post, integrated.component.key), len(numbers))
            weight.append(counts[mine] * edges[-1] / count)
            group.append(np.full(len(at), number))
            start += len(at)
        if rows:
            parts.append(Part(world, tuple(rows), begin, start))
    healthy, tail = [], []
    for name in OTHERS:
        number = numbers.setdefault(name, len(numbers))
        for world in range(len(post.worlds)):
            log_mass = post.beyond[world] if name == "elsewhere" else post.other_log_mass[(world, name)]
            share = float(np.exp(log_mass - post.log_total))
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
