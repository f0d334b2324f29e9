"""Readings about a prediction, of which now and then some are far off: summed over which ones, at every noise scale.

Each is normal about its prediction, with a covariance that a noise scale of the instruments is in, or far off by a wide
law of its own. Up to some readings every two of them may be far off at once; of many the most suspect ones
(:mod:`witnessmark.infer.manyreadings`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.logsum import log_sum
from witnessmark.infer.manyreadings import ManyReadings
from witnessmark.infer.noisescale import MANY, Scale, Stacked, of_inverse, pairs_of

__all__ = ["FarOff"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_CHUNK = 120_000  # numbers that stand in memory at once: as many as stay near the processor


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
    usual : ndarray, shape (q,), optional
        A residual from which most of those asked about differ in a few readings: that is quicker.
    """

    def __init__(
        self,
        scales: Sequence[Scale],
        outlier: Array,
        wide: Array,
        level: Picks,
        level_log: Array,
        usual: Array | None = None,
    ) -> None:
        self.scales = tuple(scales)
        self._usual = np.zeros(len(wide)) if usual is None else usual
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
        return FarOff(moved, self._outlier, self._wide, self.level, self.level_log, self._usual)

    def _shifted(self, scale: Scale, along: Array) -> Scale:
        toward = scale.inverse @ along
        grown = 1.0 + float(along @ toward)
        inverse = scale.inverse - np.outer(toward, toward) / grown
        log_norm = scale.log_norm - 0.5 * float(np.log(grown))
        return of_inverse(inverse, log_norm, scale.log_odds, self._outlier, self._wide)

    def log_shifted(self, residual: Array, along: Array) -> Array:
        """Log density of one row under laws in each of which something of unknown size moves the readings together.

        Parameters
        ----------
        residual : ndarray, shape (q,)
        along : ndarray, shape (p, q)
            What one spread of it moves them by.

        Returns
        -------
        ndarray, shape (p,) [nat]
            As :meth:`shifted` has it of each.
        """
        if self.count > MANY and len(along):
            return self._many.log_shifted(residual, along)
        return np.array([float(self.shifted(one).log_density(residual[None, :])[0]) for one in along])

    def log_density(self, residual: Array) -> Array:
        """Log probability density of what n predictions leave of the readings.

        Parameters
        ----------
        residual : ndarray, shape (n, q)

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        i, j = pairs_of(self.count)
        most = max(_CHUNK // (len(self.scales) * (1 + self.count + len(i))), 1)
        if self.count > MANY:
            return self._many.log_density(residual)
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
        return log_sum(law.log_weight[:, None] - 0.5 * quad + _log_sum_of(terms), axis=0)

    @cached_property
    def _stacked(self) -> Stacked:
        return Stacked.of(self.scales, self._outlier)

    @cached_property
    def _many(self) -> ManyReadings:
        return ManyReadings(self._stacked, self._wide, self.level, self.level_log, self._usual)
