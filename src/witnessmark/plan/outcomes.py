"""Continuous readings cut into a few outcomes, so that a test becomes a table for the planner.

Readings are drawn, each is believed, and those that lead to like beliefs become one outcome. What is lost is told: bits
about the cause before and after.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.distinct import distinct

__all__ = ["OutcomeTable", "PointLaw", "believe", "cut", "entropy_bits"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
_ROUNDS, _ROUNDS_EACH = 30, 6
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
        Further spread of readings that are far off.
    outlier : float or ndarray, shape (points,) [-]
        Chance that readings are far off, which an unlisted cause makes likelier; needs ``wide``.
    not_negative : ndarray of bool, shape (readings,), optional
        Readings that cannot be below nothing: a draw beneath is taken for as much above.
    """

    mean: Array
    covariance: Array
    is_chance: Flags
    weight: Array
    group: Indices
    wide: Array | None = None
    outlier: float | Array = 0.0
    not_negative: Flags | None = None


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
    members = np.zeros((len(weight), hypotheses))
    members[np.arange(len(weight)), law.group] = weight
    # Most points are not told apart by a test: what it would read is the same on all of them.
    outlier = np.broadcast_to(law.outlier, (len(weight),))
    first, which = distinct(np.column_stack([law.mean, outlier]))
    few = replace(law, mean=law.mean[first], weight=weight[first], group=law.group[first], outlier=outlier[first])
    after = _likelihood(few, readings)[:, which].astype(np.float64) @ members
    return readings, after / after.sum(axis=1, keepdims=True)


def entropy_bits(chance: Array) -> Array:
    """Shannon entropy along the last axis, in bits.

    Parameters
    ----------
    chance : ndarray, shape (..., n) [-]

    Returns
    -------
    ndarray, shape (...) [bit]
    """
    return np.asarray(-(chance * np.log2(np.where(chance > 0.0, chance, 1.0))).sum(axis=-1))


def cut(after: Array, *, most: int = 6, enough: float = 0.98, trifle: float = 0.0) -> OutcomeTable:
    """Gather readings that lead to like beliefs.

    Parameters
    ----------
    after : ndarray, shape (draws, hypotheses) [-]
        Belief after each of equally likely readings.
    most : int
        Outcomes at most.
    enough : float [-]
        Share of the bits with which fewer outcomes do.
    trifle : float [bit]
        What need not be kept of them.

    Returns
    -------
    OutcomeTable

    Notes
    -----
    Clusters by Kullback's divergence from their mean: the mean divergence is exactly the mutual information lost
    ([banerjee2005], from memory). The table comes from all draws by what each says of a hypothesis, not from the draws
    of that hypothesis alone: chance of an outcome under h = belief in h summed over its draws / over all draws.
    """
    beliefs = _Beliefs.of(after)
    prior = after.mean(axis=0)
    bits = float(beliefs.away(prior[None, :])[:, 0].mean())
    label = np.zeros(len(after), dtype=np.intp)
    kept, count = 0.0, 1
    needed = min(enough * bits, bits - trifle) - 1e-9
    away = beliefs.away(prior[None, :])[:, 0]
    while count < most and kept < needed:
        centres = np.vstack([beliefs.centres(label), beliefs.another(away)])
        tried = beliefs.settled(centres, _ROUNDS_EACH)
        tried_kept = bits - float(beliefs.from_own(tried).mean())
        if tried_kept <= kept + 1e-12:
            break
        label, kept, count = tried, tried_kept, int(tried.max()) + 1
        away = beliefs.from_own(label)
    if count > 1:
        label = beliefs.settled(beliefs.centres(label), _ROUNDS)
        kept = bits - float(beliefs.from_own(label).mean())
    sums = _members(label) @ after
    total = sums.sum(axis=0)
    share = (np.bincount(label) / len(after))[:, None]
    table = np.where(total > 0.0, sums / np.maximum(total, _NEVER), share)
    return OutcomeTable(table / table.sum(axis=0), label, bits, kept)


def _members(label: Indices) -> Array:
    """Which draws each outcome holds, shape (outcomes, draws)."""
    found = np.zeros((int(label.max()) + 1, len(label)))
    found[label, np.arange(len(label))] = 1.0
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Beliefs:
    """Beliefs after each draw, with Kullback's divergence from centres, in bits."""

    after: Array
    own: Array

    @classmethod
    def of(cls, after: Array) -> _Beliefs:
        return cls(after, (after * np.log2(np.maximum(after, _NEVER))).sum(axis=1))

    def away(self, centres: Array) -> Array:
        """Of each belief from each centre, shape (draws, centres)."""
        return np.asarray(self.own[:, None] - self.after @ np.log2(np.maximum(centres, _NEVER)).T)

    def centres(self, label: Indices) -> Array:
        """Mean belief of each outcome, shape (outcomes, hypotheses)."""
        members = _members(label)
        return np.asarray(members @ self.after / members.sum(axis=1, keepdims=True))

    def from_own(self, label: Indices) -> Array:
        """Of each belief from the mean of its outcome, shape (draws,)."""
        return np.asarray(self.away(self.centres(label))[np.arange(len(label)), label])

    def another(self, away: Array) -> Array:
        """A belief that as a further centre takes up most of what the others leave, of a few spread over that."""
        left = np.maximum(away, 0.0)
        edges = np.cumsum(left)
        spots = np.searchsorted(edges, (np.arange(_CANDIDATES) + 0.5) / _CANDIDATES * edges[-1])
        candidates = self.after[np.minimum(spots, len(self.after) - 1)]
        taken = np.maximum(left[:, None] - self.away(candidates), 0.0).sum(axis=0)
        return np.asarray(candidates[int(np.argmax(taken))][None, :])

    def settled(self, centres: Array, rounds: int) -> Indices:
        """Outcomes when centres have moved to the mean of what is nearest to them, so many times; empty ones go."""
        label = np.full(len(self.after), -1, dtype=np.intp)
        for _ in range(rounds):
            nearest = np.argmin(self.away(centres), axis=1)
            used = np.bincount(nearest, minlength=len(centres)) > 0
            nearest = (np.cumsum(used) - 1)[nearest]
            if (nearest == label).all():
                break
            label = nearest.astype(np.intp)
            centres = self.centres(label)
        return label


def _draw(rng: np.random.Generator, law: PointLaw, picks: Indices) -> Array:
    mean = law.mean[picks]
    measured = np.flatnonzero(~law.is_chance)
    values = (rng.random(mean.shape) < np.clip(mean, _SURE, 1.0 - _SURE)).astype(np.float64)
    if len(measured):
        factor = np.linalg.cholesky(law.covariance[np.ix_(measured, measured)])
        values[:, measured] = mean[:, measured] + rng.standard_normal((len(picks), len(measured))) @ factor.T
        if law.wide is not None:
            far = rng.random(len(picks)) < np.broadcast_to(law.outlier, len(law.mean))[picks]
            off = rng.standard_normal((len(picks), len(measured))) * law.wide[measured]
            values[:, measured] += off * far[:, None]
    if law.not_negative is not None:
        values[:, law.not_negative] = np.abs(values[:, law.not_negative])
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
    if law.is_chance.any():
        yes = np.clip(law.mean[:, law.is_chance], _SURE, 1.0 - _SURE)
        said = (readings[:, law.is_chance] > 0.5).astype(np.float64)
        log = log + said @ np.log(yes).T + (1.0 - said) @ np.log1p(-yes).T
    # Half the width is enough for a likelihood and takes half the time.
    return np.asarray(np.exp((log - log.max(axis=1, keepdims=True)).astype(np.float32)))


def _log_normal(readings: Array, mean: Array, covariance: Array) -> Array:
    scale = np.linalg.inv(np.linalg.cholesky(covariance))
    a, b = readings @ scale.T, mean @ scale.T
    square = (a**2).sum(axis=1)[:, None] - 2.0 * a @ b.T + (b**2).sum(axis=1)[None, :]
    return np.asarray(-0.5 * square + np.log(np.abs(np.diag(scale))).sum())
