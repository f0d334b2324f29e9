"""The law of many readings for many rows: what all rows have in common is worked out once.

A row leaves of the readings what the usual row leaves, and a difference in the few readings that its fault moves. So of
the inverse covariances only those readings' columns are multiplied.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.logsum import log_sum
from witnessmark.infer.moved import blocks
from witnessmark.infer.noisescale import Stacked
from witnessmark.infer.suspects import SUSPECT, SUSPECTS, Suspects, log_of_more

__all__ = ["ManyReadings"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_CHUNK = 160_000  # numbers that stand in memory at once: as many as stay near the processor
_ROWS = 4_000  # rows whose suspects are gone through at once
_STEEP = 600.0  # log odds up to which their exponentials are summed as they are


class ManyReadings:
    """The law of many readings at all noise scales.

    Parameters
    ----------
    law : Stacked
    wide : ndarray, shape (q,)
        How far a far-off reading is off.
    level : ndarray of int, shape (l,)
        Which noise scales are the same for every class of instrument.
    level_log : ndarray, shape (l,) [nat]
        What their log odds are more than as one of all.
    usual : ndarray, shape (q,)
        What the usual row leaves of the readings. The law is the same with any.
    """

    def __init__(self, law: Stacked, wide: Array, level: Picks, level_log: Array, usual: Array) -> None:
        self._law, self._wide, self._usual = law, wide, usual
        self._level, self._level_weight = level, law.log_weight[level] + level_log
        root = np.sqrt(0.5 * law.single_gain)
        self._scaled = law.inverse * root[:, None, :]  # each column times the root that makes its square log odds
        self._unscale = 1.0 / root
        self._usual_pull = law.inverse @ usual
        self._usual_scaled = self._usual_pull * root
        self._usual_quad = self._usual_pull @ usual
        self._odds = np.exp(law.single_log)

    def log_density(self, residual: Array) -> Array:
        """Log probability density of what n predictions leave of the readings.

        Parameters
        ----------
        residual : ndarray, shape (n, q)

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        if len(residual) > _ROWS:
            return np.concatenate([self.log_density(residual[k : k + _ROWS]) for k in range(0, len(residual), _ROWS)])
        n, levels = len(residual), len(self._level)
        found, quad = np.empty(n), np.empty((levels, n))
        suspects = Suspects(
            np.empty((SUSPECTS, n), dtype=np.intp), *(np.empty((SUSPECTS, levels, n)) for _ in range(2))
        )
        most = max(_CHUNK // self._unscale.size, 1)
        for rows, columns in blocks(residual != self._usual, most):
            moved = residual[np.ix_(rows, columns)] - self._usual[columns]
            found[rows], quad[:, rows] = self._block(moved, columns, rows, suspects)
        return np.logaddexp(found, self._more(suspects, quad))

    def _block(self, moved: Array, columns: Picks, rows: Picks, suspects: Suspects) -> tuple[Array, Array]:
        """Rows that differ from the usual one by so much in some readings: up to one far off, and squares by level."""
        law, level, every = self._law, self._level, len(columns) == self._unscale.shape[1]
        u = moved @ (self._scaled if every else self._scaled[:, columns])  # (v, n, q)
        u += self._usual_scaled[:, None]
        ours = u if every else u[:, :, columns]
        pull = ours * self._unscale[:, None, columns] + self._usual_pull[:, None, columns]
        quad = self._usual_quad[:, None] + np.einsum("vnk,nk->vn", pull, moved)
        own = u[level]
        single = own * own
        single += law.single_log[level, None]
        few = np.argpartition(-single.max(axis=0), SUSPECTS - 1, axis=1)[:, :SUSPECTS]
        suspects.which[:, rows] = few.T
        suspects.pull[:, :, rows] = np.moveaxis(
            np.take_along_axis(own * self._unscale[level, None], few[None], 2), 2, 0
        )
        suspects.log_odds[:, :, rows] = np.moveaxis(np.take_along_axis(single, few[None], 2), 2, 0)
        np.multiply(u, u, out=u)
        if float(u.max()) < _STEEP:
            logs = np.log1p(np.einsum("vnq,vq->vn", np.exp(u, out=u), self._odds))
        else:
            u += law.single_log[:, None]
            top = np.maximum(u.max(axis=2), 0.0)
            logs = np.log(np.exp(u - top[:, :, None]).sum(axis=2) + np.exp(-top)) + top
        return log_sum(law.log_weight[:, None] - 0.5 * quad + logs, axis=0), quad[level]

    def _more(self, suspects: Suspects, quad: Array) -> Array:
        """Log density of two and more far off, shape (n,)."""
        found = np.full(quad.shape[1], -np.inf)
        rows = np.flatnonzero(suspects.log_odds.max(axis=(0, 1)) > SUSPECT)
        some = Suspects(suspects.which[:, rows], suspects.pull[:, :, rows], suspects.log_odds[:, :, rows])
        more = log_of_more(some, self._law.inverse[self._level], self._wide, self._law.odds)
        found[rows] = log_sum(self._level_weight[:, None] - 0.5 * quad[:, rows] + more, axis=0)
        return found
