"""What the planner tells apart: repairs, the likely ones by halves that would read differently, the unlikely as one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.points import Particles

__all__ = ["UNLIKELY", "Causes", "stacked", "told_apart"]

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

UNLIKELY = -1
"""The group of the unlikely causes that are taken as one."""
_KEPT = 32  # repairs told apart at most
_HALVED = 0.05  # chance of a repair from which on its points are told apart by halves
_QUARTERED = 0.25
_APART = 1.0  # spreads of reading: points nearer together than that are one hypothesis
_FAR = 6.0  # spreads beyond which nothing is further off


@dataclass(frozen=True, slots=True)
class Causes:
    """Hypotheses of the planner.

    Parameters
    ----------
    group : tuple of int
        Index of each one's repair among the groups of the points; ``UNLIKELY`` of the last one where there is one.
    of_point : ndarray of int, shape (points,)
        Hypothesis of each point.
    chance : ndarray, shape (hypotheses,) [-]
    """

    group: tuple[int, ...]
    of_point: Indices
    chance: Array

    def of_groups(self, count: int, values: Array) -> Array:
        """Values of hypotheses added up by group; the unlikely ones last.

        Parameters
        ----------
        count : int
            Groups there are.
        values : ndarray, shape (..., hypotheses)

        Returns
        -------
        ndarray, shape (..., count + 1)
        """
        found = np.zeros((*values.shape[:-1], count + 1))
        for h, group in enumerate(self.group):
            found[..., group] += values[..., h]
        return found


def told_apart(cloud: Particles, readings: Array) -> Causes:
    """Hypotheses from weighted points and what would be read on each.

    Parameters
    ----------
    cloud : Particles
    readings : ndarray, shape (points, readings)
        In spreads of each reading.

    Returns
    -------
    Causes

    Notes
    -----
    A repair whose points would read differently (a small or a large leak, one cylinder or another) is told apart by
    halves along the direction in which they differ most: within one hypothesis tests are taken as independent.
    """
    weight = cloud.weight / cloud.weight.sum()
    chance = np.bincount(cloud.group, weights=weight, minlength=len(cloud.groups))
    order = np.argsort(-chance, kind="stable")
    named = [g for g in range(len(cloud.groups)) if isinstance(cloud.groups[g], str)]
    kept = [*named, *(int(g) for g in order if int(g) not in named)][: _KEPT + len(named)]
    of_point = np.full(len(weight), -1, dtype=np.intp)
    groups: list[int] = []
    for g in sorted(kept):
        points = np.flatnonzero(cloud.group == g)
        if not len(points):
            continue
        times = 0 if g in named else int(chance[g] >= _HALVED) + int(chance[g] >= _QUARTERED)
        for part in _halves(points, readings, weight, times):
            of_point[part] = len(groups)
            groups.append(g)
    if (of_point < 0).any():
        of_point[of_point < 0] = len(groups)
        groups.append(UNLIKELY)
    chances = np.bincount(of_point, weights=weight, minlength=len(groups)).astype(np.float64)
    return Causes(tuple(groups), of_point, chances)


def _halves(points: Indices, readings: Array, weight: Array, times: int) -> Iterator[Indices]:
    """Points cut at the middle of the direction in which their readings differ most, so many times over."""
    if times == 0 or len(points) < 2:
        yield points
        return
    along = _direction(readings[points], weight[points])
    order = np.argsort(along, kind="stable")
    half = 0.5 * weight[points].sum() * (1.0 - 1e-9)
    cut = 1 + int(np.searchsorted(np.cumsum(weight[points][order]), half))
    cut = min(max(cut, 1), len(points) - 1)
    if np.std(along) < _APART:
        yield points
        return
    for part in (points[order[:cut]], points[order[cut:]]):
        yield from _halves(np.sort(part), readings, weight, times - 1)


def _direction(readings: Array, weight: Array) -> Array:
    """Place of each point along the first principal direction, in spreads of reading."""
    share = weight / weight.sum()
    middle = share @ readings
    off = np.clip(readings - middle, -_FAR, _FAR) * np.sqrt(share)[:, None]
    _, vectors = np.linalg.eigh(off @ off.T)
    first = vectors[:, -1] @ off
    return np.asarray(np.clip(readings - middle, -_FAR, _FAR) @ (first / max(float(np.linalg.norm(first)), 1e-12)))


def stacked(means: Sequence[Array], spreads: Sequence[Array]) -> Array:
    """Readings of all tests side by side, in their spreads.

    Parameters
    ----------
    means : sequence of ndarray, shape (points, readings)
    spreads : sequence of ndarray, shape (readings,)

    Returns
    -------
    ndarray, shape (points, all readings)
    """
    return np.hstack([mean / spread for mean, spread in zip(means, spreads, strict=True)])
