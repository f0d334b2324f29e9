"""Two and more far-off readings at once, where many were taken: beside the most suspect one every other.

Of a hundred readings one in three sets has one that is far off, one in fifteen has two. With the most suspect one set
aside, the others are judged anew; then with the two most suspect ones. Of the noise scales only those that are the same
for every class of instrument are gone through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.logsum import log_sum

__all__ = ["SUSPECT", "SUSPECTS", "Suspects", "log_of_more"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_AT_ONCE = 3  # far-off readings at once at most
SUSPECT = -2.0  # nat: log odds that a reading is far off, below which no further one is looked for
SUSPECTS = 8  # readings that may be among them


@dataclass(frozen=True, slots=True)
class Suspects:
    """The few most suspect readings of every row, of n.

    Parameters
    ----------
    which : ndarray of int, shape (few, n)
    pull : ndarray, shape (few, levels, n)
        Their residuals times the inverse covariance.
    log_odds : ndarray, shape (few, levels, n) [nat]
        That each by itself is far off.
    """

    which: Picks
    pull: Array
    log_odds: Array

    def some(self, rows: Picks) -> Suspects:
        """Those of some rows.

        Parameters
        ----------
        rows : ndarray of int, shape (m,)

        Returns
        -------
        Suspects
        """
        return Suspects(self.which[:, rows], self.pull[:, :, rows], self.log_odds[:, :, rows])


def log_of_more(suspects: Suspects, inverse: Array, wide: Array, odds: Array) -> Array:
    """Log odds that two or three of them are far off, against none.

    Parameters
    ----------
    suspects : Suspects
    inverse : ndarray, shape (levels, few, few, n)
        What the inverse of the covariance at each noise scale gone through has of them.
    wide : ndarray, shape (q,)
        How far each reading is off if it is far off.
    odds : ndarray, shape (q,) [nat]
        Log odds of that before any reading.

    Returns
    -------
    ndarray, shape (levels, n) [nat]
    """
    few, u, alone = suspects.which, suspects.pull, suspects.log_odds
    found = np.full((len(inverse), few.shape[1]), -np.inf)
    precision = np.moveaxis(np.einsum("laan->lan", inverse), 1, 0)
    extra, before_any = (wide[few] ** 2)[:, None, :], odds[few][:, None, :]
    so_far = np.zeros(found.shape)
    before: list[tuple[Array, Array]] = []  # of each set aside: its column of the precision, and what it gains
    each = np.arange(found.shape[1])
    for _ in range(_AT_ONCE - 1):
        pick = np.argmax(alone.max(axis=1), axis=0)
        so_far = so_far + alone[pick, :, each].T
        column = np.moveaxis(inverse[:, :, pick, each], 1, 0)
        for earlier, gained in before:
            column = column - earlier * (gained * earlier[pick, :, each].T)
        far = extra[pick, 0, each]
        gain = far / (1.0 + far * column[pick, :, each].T)
        before.append((column, gain))
        u = u - column * (gain * u[pick, :, each].T)
        precision = np.maximum(precision - gain * column**2, 0.0)
        spread = 1.0 + extra * precision
        aside = np.isneginf(alone)
        aside[pick, :, each] = True
        alone = np.where(aside, -np.inf, before_any - 0.5 * np.log(spread) + 0.5 * extra / spread * u**2)
        found = np.logaddexp(found, so_far + log_sum(alone, axis=0))
    return found
