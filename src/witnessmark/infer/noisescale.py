"""What every noise scale of the instruments says of readings and of those of them that are far off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["MANY", "Scale", "Stacked", "of_inverse", "pairs_of", "scale_of"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

MANY = 14  # up to this many readings every two of them may be far off at once; beyond, the most suspect one by one


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
class Stacked:
    """The same of all noise scales side by side, v of them."""

    log_weight: Array  # (v,)
    odds: Array  # (q,)
    diagonal: Array  # (v, q)
    inverse: Array  # (v, q, q)
    single_gain: Array  # (v, q)
    single_log: Array  # (v, q)
    pair_inverse: Array  # (v, p, 2, 2)
    pair_log: Array  # (v, p)

    @classmethod
    def of(cls, scales: Sequence[Scale], outlier: Array) -> Stacked:
        """Noise scales side by side.

        Parameters
        ----------
        scales : sequence of Scale, length v
        outlier : ndarray, shape (q,) [-]
            Chance that each reading is far off.

        Returns
        -------
        Stacked
        """
        return cls(
            np.array([one.log_odds + one.log_norm for one in scales]),
            np.log(np.maximum(outlier, 1e-300)) - np.log1p(-outlier),
            np.stack([np.diag(one.inverse) for one in scales]),
            *(
                np.stack([getattr(one, name) for one in scales])
                for name in ("inverse", "single_gain", "single_log", "pair_inverse", "pair_log")
            ),
        )


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
    return of_inverse(inverse, log_norm + float(np.sum(np.log1p(-outlier))), log_odds, outlier, wide)


def of_inverse(inverse: Array, log_norm: float, log_odds: float, outlier: Array, wide: Array) -> Scale:
    """As :func:`scale_of` where the inverse is known already.

    Parameters
    ----------
    inverse : ndarray, shape (q, q)
    log_norm : float [nat]
        Of the density where no reading is far off.
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
    extra = wide**2
    odds = np.log(np.maximum(outlier, 1e-300)) - np.log1p(-outlier)
    diagonal = np.diag(inverse)
    single_gain = extra / (1.0 + extra * diagonal)
    single_log = odds - 0.5 * np.log1p(extra * diagonal)
    i, j = pairs_of(len(outlier))
    block = np.empty((len(i), 2, 2))
    block[:, 0, 0] = 1.0 / extra[i] + diagonal[i]
    block[:, 1, 1] = 1.0 / extra[j] + diagonal[j]
    block[:, 0, 1] = block[:, 1, 0] = inverse[i, j]
    determinant = block[:, 0, 0] * block[:, 1, 1] - block[:, 0, 1] ** 2
    pair_log = odds[i] + odds[j] - 0.5 * np.log(determinant * extra[i] * extra[j])
    pair_inverse: Array = np.asarray(np.linalg.inv(block) if len(i) else block, dtype=np.float64)
    return Scale(log_odds, inverse, log_norm, single_gain, single_log, pair_inverse, pair_log)


def pairs_of(count: int) -> tuple[Picks, Picks]:
    """Every two readings, where they are few.

    Parameters
    ----------
    count : int

    Returns
    -------
    first, second : ndarray of int, shape (p,)
    """
    if not 2 <= count <= MANY:
        none = np.zeros(0, dtype=np.intp)
        return none, none
    first, second = np.triu_indices(count, k=1)
    return first.astype(np.intp), second.astype(np.intp)
