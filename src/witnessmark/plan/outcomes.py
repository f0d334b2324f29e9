"""Continuous readings cut into a few outcomes, so that a test becomes a table for the planner.

Readings are drawn, each is believed, and those that lead to like beliefs become one outcome. What is lost is told: bits
about the cause before and after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["OutcomeTable", "PointLaw", "believe", "cut"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
_ROUNDS = 30
_CANDIDATES = 24
_NEVER = 1e-300
# Chance of a yes/no reading is never taken for certain.
_SURE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class PointLaw:
    """What a test would read on weighted points of a belief.

    Parameters
    ----------
    mean : ndarray, shape (points, readings)
        Of yes/no readings the chance of yes.
    covariance : ndarray, shape (readings, readings)
    is_chance : ndarray of bool, shape (readings,)
    weight : ndarray, shape (points,) [-]
    group : ndarray of int, shape (points,)
        Hypothesis of each point.
    wide : ndarray, shape (readings,), optional
        Further spread of a reading that is far off, and of all readings on the points ``is_wide``.
    is_wide : ndarray of bool, shape (points,), optional
    outlier : float [-]
        Chance that a reading is far off; needs ``wide``.
    """

    mean: Array
    covariance: Array
    is_chance: Flags
    weight: Array
    group: Indices
    wide: Array | None = None
    is_wide: Flags | None = None
    outlier: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class OutcomeTable:
    """A test as the planner takes it.

    Parameters
    ----------
    table : ndarray, shape (outcomes, hypotheses) [-]
        Chance of each outcome under each hypothesis; columns sum to 1.
    label : ndarray of int, shape (draws,)
        Outcome of each reading drawn: what an outcome looks like is told from these.
    bits : float [bit]
        What the readings tell about the hypothesis.
    kept : float [bit]
        What the outcomes tell.
    """

    table: Array
    label: Indices
    bits: float
    kept: float


def believe(law: PointLaw, hypotheses: int, *, draws: int = 1000, seed: int = 1) -> tuple[Array, Array]:
    """Draw readings and say what each would lead one to believe.

    Parameters
    ----------
    law : PointLaw
    hypotheses : int
        How many there are.
    draws : int
    seed : int

    Returns
    -------
    tuple of ndarray, shape (draws, readings), and ndarray, shape (draws, hypotheses) [-]
        Readings, and the chance of each hypothesis after each.
    """
    rng = np.random.default_rng(seed)
    weight = law.weight / law.weight.sum()
    # Evenly through the points, so that every cause gets its share of the draws.
    picks = np.minimum(np.searchsorted(np.cumsum(weight), (np.arange(draws) + rng.random()) / draws), len(weight) - 1)
    readings = _draw(rng, law, picks)
    joint = _likelihood(law, readings) * weight
    after = np.stack([joint[:, law.group == g].sum(axis=1) for g in range(hypotheses)], axis=1)
    return readings, after / after.sum(axis=1, keepdims=True)


def cut(after: Array, *, most: int = 6, enough: float = 0.98) -> OutcomeTable:
    """Gather readings that lead to like beliefs.

    Parameters
    ----------
    after : ndarray, shape (draws, hypotheses) [-]
        Belief after each of equally likely readings.
    most : int
        Outcomes at most.
    enough : float [-]
        Share of the bits with which fewer outcomes do.

    Returns
    -------
    OutcomeTable

    Notes
    -----
    Clusters by Kullback's divergence from their mean: the mean divergence is exactly the mutual information lost
    ([banerjee2005], from memory). The table comes from all draws by what each says of a hypothesis, not from the draws
    of that hypothesis alone: chance of an outcome under h = belief in h summed over its draws / over all draws.
    """
    prior = after.mean(axis=0)
    bits = _divergence(after, prior[None, :])[:, 0].mean()
    centres = prior[None, :]
    label = np.zeros(len(after), dtype=np.intp)
    kept = 0.0
    while len(centres) < most and kept < enough * bits - 1e-9:
        tried_centres, tried = _settle(after, np.vstack([centres, _another(after, centres, label)]))
        tried_kept = float(_divergence(tried_centres, prior[None, :])[:, 0] @ (np.bincount(tried) / len(after)))
        if tried_kept <= kept + 1e-12:
            break
        centres, label, kept = tried_centres, tried, tried_kept
    sums = np.stack([after[label == k].sum(axis=0) for k in range(len(centres))])
    total = sums.sum(axis=0)
    share = (np.bincount(label, minlength=len(centres)) / len(after))[:, None]
    table = np.where(total > 0.0, sums / np.maximum(total, _NEVER), share)
    return OutcomeTable(table / table.sum(axis=0), label, float(bits), kept)


def _another(after: Array, centres: Array, label: Indices) -> Array:
    """A belief that as a further centre takes up most of what the others leave, of a few spread over that."""
    left = np.maximum(_divergence(after, centres)[np.arange(len(after)), label], 0.0)
    edges = np.cumsum(left)
    spots = np.searchsorted(edges, (np.arange(_CANDIDATES) + 0.5) / _CANDIDATES * edges[-1])
    candidates = after[np.minimum(spots, len(after) - 1)]
    taken = np.maximum(left[:, None] - _divergence(after, candidates), 0.0).sum(axis=0)
    return np.asarray(candidates[int(np.argmax(taken))])


def _settle(after: Array, centres: Array) -> tuple[Array, Indices]:
    """Move centres to the mean of what is nearest to them until nothing changes; empty ones go."""
    label = np.full(len(after), -1, dtype=np.intp)
    for _ in range(_ROUNDS):
        nearest = np.argmin(_divergence(after, centres), axis=1)
        used, nearest = np.unique(nearest, return_inverse=True)
        centres = np.stack([after[nearest == k].mean(axis=0) for k in range(len(used))])
        if len(used) == label.max() + 1 and (nearest == label).all():
            break
        label = nearest.astype(np.intp)
    return centres, label


def _divergence(after: Array, centres: Array) -> Array:
    """Kullback's divergence of each belief from each centre in bits, shape (draws, centres)."""
    own = (after * np.log2(np.maximum(after, _NEVER))).sum(axis=1)
    return np.asarray(own[:, None] - after @ np.log2(np.maximum(centres, _NEVER)).T)


def _draw(rng: np.random.Generator, law: PointLaw, picks: Indices) -> Array:
    mean = law.mean[picks]
    measured = np.flatnonzero(~law.is_chance)
    values = (rng.random(mean.shape) < np.clip(mean, _SURE, 1.0 - _SURE)).astype(np.float64)
    if len(measured):
        factor = np.linalg.cholesky(law.covariance[np.ix_(measured, measured)])
        values[:, measured] = mean[:, measured] + rng.standard_normal((len(picks), len(measured))) @ factor.T
        if law.wide is not None:
            far = rng.random(len(picks)) < law.outlier
            if law.is_wide is not None:
                far |= law.is_wide[picks]
            off = rng.standard_normal((len(picks), len(measured))) * law.wide[measured]
            values[:, measured] += off * far[:, None]
    return values


def _likelihood(law: PointLaw, readings: Array) -> Array:
    """Likelihood of readings on points, up to a factor for each reading, shape (draws, points)."""
    log = np.zeros((len(readings), len(law.mean)))
    measured = np.flatnonzero(~law.is_chance)
    if len(measured):
        covariance = law.covariance[np.ix_(measured, measured)]
        log = _log_normal(readings[:, measured], law.mean[:, measured], covariance)
        if law.wide is not None:
            further = covariance + np.diag(law.wide[measured] ** 2)
            far = _log_normal(readings[:, measured], law.mean[:, measured], further)
            with np.errstate(divide="ignore"):
                log = np.logaddexp(log + np.log1p(-law.outlier), far + np.log(law.outlier))
            if law.is_wide is not None:
                log[:, law.is_wide] = far[:, law.is_wide]
    for k in np.flatnonzero(law.is_chance):
        yes = np.clip(law.mean[:, k], _SURE, 1.0 - _SURE)
        log += np.where(readings[:, k][:, None] > 0.5, np.log(yes), np.log1p(-yes))
    return np.asarray(np.exp(log - log.max(axis=1, keepdims=True)))


def _log_normal(readings: Array, mean: Array, covariance: Array) -> Array:
    scale = np.linalg.inv(np.linalg.cholesky(covariance))
    a, b = readings @ scale.T, mean @ scale.T
    square = (a**2).sum(axis=1)[:, None] - 2.0 * a @ b.T + (b**2).sum(axis=1)[None, :]
    return np.asarray(-0.5 * square + np.log(np.abs(np.diag(scale))).sum())
