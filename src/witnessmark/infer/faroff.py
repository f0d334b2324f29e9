"""Readings about a prediction, of which now and then some are far off: summed over which ones, at every noise scale.

Each is normal about its prediction, with a covariance that a noise scale of the instruments is in, or far off by a wide
law of its own. Up to some readings every two of them may be far off at once; of many the most suspect ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.logsum import log_sum

__all__ = ["FarOff", "Scale", "scale_of"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_MANY = 14  # up to this many readings every two of them may be far off at once; beyond, the most suspect one by one
_AT_ONCE = 3  # of those, so many at once
_SUSPECT = -2.0  # nat: log odds that a reading is far off, below which no further one is looked for
_SUSPECTS = 8  # readings that may be among them
_BY_SCALE = 60  # readings from which on the noise scales of many rows are gone through one by one
_CHUNK = 120_000  # numbers that stand in memory at once: as many as stay near the processor


@dataclass(frozen=True)
class Scale:
    """One noise scale's covariance, with everything its far-off readings need.

    Parameters
    ----------
    log_odds : float [nat]
        Of the noise scale.
    inverse : ndarray, shape (q, q)
        Of the covariance.
    log_norm : float [nat]
        Of the density where no reading is far off.
    single_gain, single_log : ndarray, shape (q,)
        What a reading taken as far off saves of the squared residual; log odds that it is, at no residual.
    pair_inverse : ndarray, shape (p, 2, 2)
        The same of every two at once.
    pair_log : ndarray, shape (p,)
    """

    log_odds: float
    inverse: Array
    log_norm: float
    single_gain: Array
    single_log: Array
    pair_inverse: Array
    pair_log: Array


@dataclass(frozen=True)
class _Stacked:
    """The same of all noise scales side by side, v of them."""

    log_weight: Array  # (v,)
    odds: Array  # (q,)
    diagonal: Array  # (v, q)
    inverse: Array  # (v, q, q)
    single_gain: Array  # (v, q)
    single_log: Array  # (v, q)
    pair_inverse: Array  # (v, p, 2, 2)
    pair_log: Array  # (v, p)


def scale_of(covariance: Array, log_odds: float, outlier: Array, wide: Array) -> Scale:
    """What a covariance says of readings and of far-off ones.

    Parameters
    ----------
    covariance : ndarray, shape (q, q)
    log_odds : float [nat]
        Of its noise scale.
    outlier : ndarray, shape (q,) [-]
        Chance that each is far off.
    wide : ndarray, shape (q,)
        How far.

    Returns
    -------
    Scale
    """
    inverse: Array = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    log_norm = -0.5 * float(np.linalg.slogdet(covariance)[1] + len(outlier) * np.log(2.0 * np.pi))
    return _of_inverse(inverse, log_norm + float(np.sum(np.log1p(-outlier))), log_odds, outlier, wide)


def _of_inverse(inverse: Array, log_norm: float, log_odds: float, outlier: Array, wide: Array) -> Scale:
    extra = wide**2
    odds = np.log(np.maximum(outlier, 1e-300)) - np.log1p(-outlier)
    diagonal = np.diag(inverse)
    single_gain = extra / (1.0 + extra * diagonal)
    single_log = odds - 0.5 * np.log1p(extra * diagonal)
    i, j = _pairs_of(len(outlier))
    block = np.empty((len(i), 2, 2))
    block[:, 0, 0] = 1.0 / extra[i] + diagonal[i]
    block[:, 1, 1] = 1.0 / extra[j] + diagonal[j]
    block[:, 0, 1] = block[:, 1, 0] = inverse[i, j]
    determinant = block[:, 0, 0] * block[:, 1, 1] - block[:, 0, 1] ** 2
    pair_log = odds[i] + odds[j] - 0.5 * np.log(determinant * extra[i] * extra[j])
    pair_inverse: Array = np.asarray(np.linalg.inv(block) if len(i) else block, dtype=np.float64)
    return Scale(log_odds, inverse, log_norm, single_gain, single_log, pair_inverse, pair_log)


def _pairs_of(count: int) -> tuple[Picks, Picks]:
    """Every two readings, where they are few."""
    if not 2 <= count <= _MANY:
        none = np.zeros(0, dtype=np.intp)
        return none, none
    first, second = np.triu_indices(count, k=1)
    return first.astype(np.intp), second.astype(np.intp)


def _log_sum_of(terms: Array) -> Array:
    """As :func:`log_sum` over the first axis of finite numbers, which are spoilt."""
    top = np.max(terms, axis=0)
    terms -= top
    np.exp(terms, out=terms)
    return np.asarray(np.log(terms.sum(axis=0)) + top)


class FarOff:
    """The law of q readings about a prediction.

    Parameters
    ----------
    scales : sequence of Scale, length v
    outlier : ndarray, shape (q,) [-]
        Chance that each is far off.
    wide : ndarray, shape (q,)
        How far, on their scales.
    level : ndarray of int, shape (l,)
        Which noise scales are the same for every class of instrument: all that several far-off readings are asked of.
    level_log : ndarray, shape (l,) [nat]
        What their log odds are more than as one of all.
    """

    def __init__(self, scales: Sequence[Scale], outlier: Array, wide: Array, level: Picks, level_log: Array) -> None:
        self.scales = tuple(scales)
        self.level, self.level_log = level, level_log
        self._outlier, self._wide = outlier, wide

    @property
    def count(self) -> int:
        """How many readings, q."""
        return len(self._wide)

    def shifted(self, along: Array) -> FarOff:
        """The law where something of unknown size moves the readings together.

        Parameters
        ----------
        along : ndarray, shape (q,)
            What one spread of it moves them by.

        Returns
        -------
        FarOff
            With ``along`` times itself added to the covariances (the inverse after a rank-one update: Sherman and
            Morrison, Ann. Math. Stat. 21, 1950, p. 124).
        """
        moved = [self._shifted(one, along) for one in self.scales]
        return FarOff(moved, self._outlier, self._wide, self.level, self.level_log)

    def _shifted(self, scale: Scale, along: Array) -> Scale:
        toward = scale.inverse @ along
        grown = 1.0 + float(along @ toward)
        inverse = scale.inverse - np.outer(toward, toward) / grown
        log_norm = scale.log_norm - 0.5 * float(np.log(grown))
        return _of_inverse(inverse, log_norm, scale.log_odds, self._outlier, self._wide)

    def log_density(self, residual: Array) -> Array:
        """Log probability density of what n predictions leave of the readings.

        Parameters
        ----------
        residual : ndarray, shape (n, q)

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        i, j = _pairs_of(self.count)
        most = max(_CHUNK // (len(self.scales) * (1 + self.count + len(i))), 1)
        if len(residual) > most and self.count >= _BY_SCALE:
            return self._of_many(residual)
        if len(residual) > most:
            return np.concatenate([self.log_density(residual[k : k + most]) for k in range(0, len(residual), most)])
        law, left = self._stacked, residual.T
        u = np.moveaxis(law.inverse @ left, 1, 0)  # of every noise scale at once: (q, v, n)
        quad = np.einsum("qvn,qn->vn", u, left)
        # No outlier, each by itself, each pair: the long axis last, so that sums over the others run along memory.
        terms = np.empty((1 + self.count + len(i), *quad.shape))
        terms[0] = 0.0
        squares = u * u
        single = terms[1 : 1 + self.count]
        np.multiply(squares, 0.5 * law.single_gain.T[:, :, None], out=single)
        single += law.single_log.T[:, :, None]
        own = 0.5 * law.pair_inverse[..., None]  # (v, p, 2, 2, 1)
        both = np.empty(quad.shape)
        for k, (a, b) in enumerate(zip(i, j, strict=True)):  # in place: six passes over memory instead of a dozen
            saved = terms[1 + self.count + k]
            np.multiply(squares[a], own[:, k, 0, 0], out=saved)
            np.multiply(u[a], u[b], out=both)
            both *= 2.0 * own[:, k, 0, 1]
            saved += both
            np.multiply(squares[b], own[:, k, 1, 1], out=both)
            saved += both
            saved += law.pair_log[:, k, None]
        level = self.level
        further = self._further(u[:, level], single[:, level], quad[level]) if self.count > _MANY else None
        found = log_sum(law.log_weight[:, None] - 0.5 * quad + _log_sum_of(terms), axis=0)
        return found if further is None else np.logaddexp(found, further)

    def _of_many(self, residual: Array) -> Array:
        """The same for so many readings that one noise scale's matrix is all that stays near the processor."""
        most = max(_CHUNK // self.count, 1)
        if len(residual) > most:
            return np.concatenate([self._of_many(residual[k : k + most]) for k in range(0, len(residual), most)])
        law, level, left = self._stacked, self.level, np.ascontiguousarray(residual.T)
        n = left.shape[1]
        found = np.empty((len(law.log_weight), n))
        quad = np.empty_like(found)
        pulls, singles = (np.empty((self.count, len(level), n)) for _ in range(2))
        for v, inverse in enumerate(law.inverse):
            u = inverse @ left
            np.einsum("qn,qn->n", u, left, out=quad[v])
            terms = np.empty((1 + self.count, n))
            terms[0] = 0.0
            single = terms[1:]
            np.multiply(u, u, out=single)
            single *= 0.5 * law.single_gain[v][:, None]
            single += law.single_log[v][:, None]
            for k in np.flatnonzero(level == v):
                pulls[:, k], singles[:, k] = u, single
            found[v] = law.log_weight[v] - 0.5 * quad[v] + _log_sum_of(terms)
        return np.logaddexp(log_sum(found, axis=0), self._further(pulls, singles, quad[level]))

    def _further(self, u: Array, single: Array, quad: Array) -> Array:
        """Two and more far-off readings at once, where many were taken: beside the most suspect one every other.

        Of a hundred readings one in three sets has one that is far off, one in fifteen has two. With the most suspect
        one set aside, the others are judged anew; then with the two most suspect ones. Of the noise scales only those
        that are the same for every class of instrument are gone through.

        Parameters
        ----------
        u : ndarray, shape (q, levels, n)
            Residuals times the inverse covariance.
        single : ndarray, shape (q, levels, n)
            Log odds that each reading by itself is far off.
        quad : ndarray, shape (levels, n)
            Squared residuals in spreads.

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        law, level = self._stacked, self.level
        inverse = law.inverse[level]
        found = np.full(quad.shape, -np.inf)
        worst = single.max(axis=1)
        rows = np.flatnonzero(worst.max(axis=0) > _SUSPECT)
        few = np.argpartition(-worst[:, rows], _SUSPECTS - 1, axis=0)[:_SUSPECTS]  # of each row; its readings from here
        u, alone = (np.take_along_axis(whole[:, :, rows], few[:, None, :], axis=0) for whole in (u, single))
        precision = np.moveaxis(law.diagonal[level][:, few], 1, 0)
        extra, odds = (self._wide[few] ** 2)[:, None, :], law.odds[few][:, None, :]
        so_far = np.zeros((len(found), len(rows)))
        before: list[tuple[Array, Array]] = []  # of each set aside: its column of the precision, and what it gains
        each = np.arange(len(rows))
        for _ in range(_AT_ONCE - 1):
            pick = np.argmax(alone.max(axis=1), axis=0)
            so_far = so_far + alone[pick, :, each].T
            column = np.moveaxis(inverse[:, few, few[pick, each]], 1, 0)
            for earlier, gained in before:
                column = column - earlier * (gained * earlier[pick, :, each].T)
            wide = extra[pick, 0, each]
            gain = wide / (1.0 + wide * column[pick, :, each].T)
            before.append((column, gain))
            u = u - column * (gain * u[pick, :, each].T)
            precision = np.maximum(precision - gain * column**2, 0.0)
            spread = 1.0 + extra * precision
            aside = np.isneginf(alone)
            aside[pick, :, each] = True
            alone = np.where(aside, -np.inf, odds - 0.5 * np.log(spread) + 0.5 * extra / spread * u**2)
            found[:, rows] = np.logaddexp(found[:, rows], so_far + log_sum(alone, axis=0))
        log_weight = law.log_weight[level] + self.level_log
        return log_sum(log_weight[:, None] - 0.5 * quad + found, axis=0)

    @cached_property
    def _stacked(self) -> _Stacked:
        every = self.scales
        return _Stacked(
            np.array([one.log_odds + one.log_norm for one in every]),
            np.log(np.maximum(self._outlier, 1e-300)) - np.log1p(-self._outlier),
            np.stack([np.diag(one.inverse) for one in every]),
            *(
                np.stack([getattr(one, name) for one in every])
                for name in ("inverse", "single_gain", "single_log", "pair_inverse", "pair_log")
            ),
        )
