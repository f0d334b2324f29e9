"""The law of many readings for many rows: what all rows have in common is worked out once.

A row leaves of the readings what the usual row leaves, and a difference in the few readings that its fault moves. So of
the inverse covariances only those readings' columns are multiplied.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

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
_FEW = 4  # rows for which nothing is worked out beforehand
_ALIKE = 12  # times as many rows for which columns are picked out at once
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
        self._root = np.sqrt(0.5 * law.single_gain)  # times which a pull is the root of log odds

    @cached_property
    def _scaled(self) -> Array:
        return np.asarray(self._law.inverse * self._root[:, None, :])

    @cached_property
    def _usual_pull(self) -> Array:
        return np.asarray(self._law.inverse @ self._usual)

    @cached_property
    def _usual_scaled(self) -> Array:
        return self._usual_pull * self._root

    @cached_property
    def _usual_quad(self) -> Array:
        return np.asarray((self._usual_pull @ self._usual)[:, None])

    @cached_property
    def _odds(self) -> Array:
        return np.exp(self._law.single_log)

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
        for rows, u, squares in self._plainly(residual) if n <= _FEW else self._about_the_usual(residual):
            found[rows], quad[:, rows] = self._one_at_most(u, squares, rows, suspects)
        return np.logaddexp(found, self._more(suspects, quad))

    def _plainly(self, residual: Array) -> Iterator[tuple[Picks, Array, Array]]:
        """Rows, their pulls times the root, (v, n, q), and squares, (v, n), of all at once."""
        pull = residual @ self._law.inverse
        yield np.arange(len(residual)), pull * self._root[:, None], np.einsum("vnq,nq->vn", pull, residual)

    def _about_the_usual(self, residual: Array) -> Iterator[tuple[Picks, Array, Array]]:
        """The same, block by block of rows that differ from the usual one in the same few readings."""
        most = max(_CHUNK // self._root.size, 1)
        for alike, columns in blocks(residual != self._usual, max(most // 2, 1), _ALIKE * most):
            scaled = self._scaled if len(columns) == residual.shape[1] else self._scaled[:, columns]
            for low in range(0, len(alike), most):
                rows = alike[low : low + most]
                moved = residual[np.ix_(rows, columns)] - self._usual[columns]
                u = moved @ scaled
                squares = self._usual_quad + self._squares(u, moved, columns)
                u += self._usual_scaled[:, None]
                yield rows, u, squares

    def _squares(self, u: Array, moved: Array, columns: Picks) -> Array:
        """By how much the squares of rows differ from the usual one's, shape (v, n)."""
        ours = u if len(columns) == u.shape[2] else u[:, :, columns]
        pull = ours / self._root[:, None, columns]
        pull += 2.0 * self._usual_pull[:, None, columns]
        return np.asarray(np.einsum("vnk,nk->vn", pull, moved))

    def _one_at_most(self, u: Array, quad: Array, rows: Picks, suspects: Suspects) -> tuple[Array, Array]:
        """From pulls times the root, which are spoilt, and squares of all scales."""
        law, level = self._law, self._level
        own = u[level]
        single = own * own
        single += law.single_log[level, None]
        few = np.argpartition(-single.max(axis=0), SUSPECTS - 1, axis=1)[:, :SUSPECTS]
        own /= self._root[level, None]
        suspects.which[:, rows] = few.T
        suspects.pull[:, :, rows] = np.moveaxis(np.take_along_axis(own, few[None], 2), 2, 0)
        suspects.log_odds[:, :, rows] = np.moveaxis(np.take_along_axis(single, few[None], 2), 2, 0)
        np.multiply(u, u, out=u)
        if float(u.max()) < _STEEP:
            logs = np.log1p((np.exp(u, out=u) @ self._odds[:, :, None])[:, :, 0])
        else:
            logs = _log_one_plus(u + law.single_log[:, None])
        return log_sum(law.log_weight[:, None] - 0.5 * quad + logs, axis=0), quad[level]

    def _more(self, suspects: Suspects, quad: Array) -> Array:
        """Log density of two and more far off, shape (n,)."""
        found = np.full(quad.shape[1], -np.inf)
        rows = np.flatnonzero(suspects.log_odds.max(axis=(0, 1)) > SUSPECT)
        few = suspects.which[:, rows]
        inverse = self._law.inverse[self._level][:, few[:, None], few[None]]
        more = log_of_more(suspects.some(rows), inverse, self._wide, self._law.odds)
        found[rows] = log_sum(self._level_weight[:, None] - 0.5 * quad[:, rows] + more, axis=0)
        return found

    def log_shifted(self, residual: Array, along: Array) -> Array:
        """Log density of one row under laws in each of which something more of unknown size moves the readings.

        Parameters
        ----------
        residual : ndarray, shape (q,)
        along : ndarray, shape (p, q)
            What one spread of it moves them by.

        Returns
        -------
        ndarray, shape (p,) [nat]
            With ``along`` times itself added to the covariances (the inverse after a rank-one update: Sherman and
            Morrison, Ann. Math. Stat. 21, 1950, p. 124).
        """
        law, level, extra = self._law, self._level, self._wide**2
        toward = along @ law.inverse  # (v, p, q)
        grown = 1.0 + np.einsum("vpq,pq->vp", toward, along)
        pulled = toward @ residual
        plain = law.inverse @ residual
        u = plain[:, None] - toward * (pulled / grown)[..., None]
        quad = (plain @ residual)[:, None] - pulled**2 / grown
        precision = extra * (law.diagonal[:, None] - toward**2 / grown[..., None])
        single = law.odds - 0.5 * np.log1p(precision) + 0.5 * extra / (1.0 + precision) * u**2
        lost = 0.5 * np.log(grown)
        found = log_sum(law.log_weight[:, None] - lost - 0.5 * quad + _log_one_plus(single), axis=0)
        few = np.argsort(-single[level].max(axis=0), axis=1)[:, :SUSPECTS]
        own, odds, t = (np.take_along_axis(whole[level], few[None], 2) for whole in (u, single, toward))
        suspects = Suspects(few.T, np.moveaxis(own, 2, 0), np.moveaxis(odds, 2, 0))
        t = np.moveaxis(t, 2, 1)  # (levels, few, p)
        inverse = (
            law.inverse[level][:, few.T[:, None], few.T[None]] - t[:, :, None] * t[:, None] / grown[level, None, None]
        )
        more = log_of_more(suspects, inverse, self._wide, law.odds)
        more += self._level_weight[:, None] - lost[level] - 0.5 * quad[level]
        more[:, single[level].max(axis=(0, 2)) <= SUSPECT] = -np.inf
        return np.logaddexp(found, log_sum(more, axis=0))


def _log_one_plus(log_odds: Array) -> Array:
    """Log of one and the sum along the last axis, from logarithms of any size."""
    top = np.maximum(log_odds.max(axis=-1), 0.0)
    return np.asarray(np.log(np.exp(log_odds - top[..., None]).sum(axis=-1) + np.exp(-top)) + top)
