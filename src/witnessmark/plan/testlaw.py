"""The law of a test's readings on the points of a posterior: means, and how far readings lie about them.

Readings are weighed on scales on which each is known about equally well wherever it is, as the law of readings takes
them (:mod:`witnessmark.infer.warp`): a straight line near nought and a logarithm beyond where the spread grows with the
value. A misfire count known within a half of what it is parts 0 from 1,000 as plainly as 0 from 100.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.sound import Sound
from witnessmark.infer.warp import Warp
from witnessmark.vocabulary import Query

__all__ = ["TestLaw", "scales", "spreads"]

Array = NDArray[np.float64]
# What a misfiring cylinder takes from the crank follows from how often it misfires, and that is known within a half of
# what it is (predict.misfires, our guess): the reading cannot be known better than its cause.
_OF_MISFIRES, _MISFIRES_SHARE = {"contribution"}, 0.5
_LEAST = 0.3  # of a sound engine's spread: how well a reading is known near nought at best, as in infer.warp
_GROWS = 0.5  # a spread that grows by less than this share of itself over the range of a reading is one number


@dataclass(frozen=True, slots=True)
class TestLaw:
    """What a test would read on every point.

    Parameters
    ----------
    queries : tuple of Query
    mean : ndarray, shape (n, q)
        In the quantities' units; of yes/no quantities the chance of yes.
    warp : Warp
        Scales on which the spread is one number.
    covariance : ndarray, shape (q, q)
        On these scales.
    is_chance : ndarray of bool, shape (q,)
    broad : ndarray, shape (q,)
        Further spread of the points of none_of_these, on these scales.
    nowhere : ndarray, shape (q,)
        From here on, in the quantities' units, drawn readings stand for points on which there would be none; not a
        number where there always would be one.
    """

    queries: tuple[Query, ...]
    mean: Array
    warp: Warp
    covariance: Array
    is_chance: NDArray[np.bool_]
    broad: Array
    nowhere: Array

    @property
    def scaled(self) -> Array:
        """Means on the scales of :attr:`warp`, shape (n, q)."""
        return self.warp.there(self.mean)

    def only(self, which: NDArray[np.bool_]) -> TestLaw:
        """Some of the readings.

        Parameters
        ----------
        which : ndarray of bool, shape (q,)

        Returns
        -------
        TestLaw
        """
        return TestLaw(
            tuple(query for query, kept in zip(self.queries, which, strict=True) if kept),
            self.mean[:, which],
            self.warp.some(which),
            self.covariance[np.ix_(which, which)],
            self.is_chance[which],
            self.broad[which],
            self.nowhere[which],
        )

    @property
    def spread(self) -> Array:
        """Standard deviation of each reading on its scale, shape (q,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def scales(queries: Sequence[Query], sound: Sound, broad: Array, is_chance: NDArray[np.bool_]) -> Warp:
    """The scale of each reading.

    Parameters
    ----------
    queries : sequence of Query, length q
    sound : Sound
        Their readings on a sound engine.
    broad : ndarray, shape (q,)
        How far faults move each, in its unit.
    is_chance : ndarray of bool, shape (q,)

    Returns
    -------
    Warp
        With ``tolerance`` the spread of each reading on its scale, its own and that of its nominal together.

    Notes
    -----
    At x the spread is √(a² + s² x²), with a and s such that it is right at nought and at the far end of what faults do.
    """
    size = np.abs(np.nan_to_num(sound.mean))
    far = size + np.where(np.isfinite(broad), broad, 0.0)
    at_nought, here, at_far = (_spread(queries, sound, x) for x in (np.zeros_like(size), size, far))
    near = np.maximum(at_nought, _LEAST * here)
    share = np.sqrt(np.maximum(at_far**2 - near**2, 0.0)) / np.maximum(far, 1e-12)
    grows = ~is_chance & (at_far > (1.0 + _GROWS) * here) & (far > 0.0)
    absolute = np.where(grows, near, here)
    found = Warp(absolute, np.where(grows, share, 0.0), absolute)
    by_share = np.array([query.kind.by_share for query in queries], dtype=bool)
    return found.moved_by_share(sound, by_share & ~is_chance, here, at_nought)


def spreads(sound: Sound, warp: Warp, is_chance: NDArray[np.bool_]) -> Array:
    """Covariance of readings on their scales: each one's own, and what sound engines differ in.

    Parameters
    ----------
    sound : Sound
    warp : Warp
    is_chance : ndarray of bool, shape (q,)

    Returns
    -------
    ndarray, shape (q, q)
    """
    covariance = sound.spread(warp.slope(np.nan_to_num(sound.mean))) + np.diag(warp.tolerance**2 + 1e-6)
    covariance[is_chance, :] = covariance[:, is_chance] = 0.0
    covariance[is_chance, is_chance] = 1e-4
    return np.asarray(covariance)


def _spread(queries: Sequence[Query], sound: Sound, size: Array) -> Array:
    """Of readings of a size: their own spread and how well the nominal is known."""
    own = np.array([query.kind.default_sd(float(value)) for query, value in zip(queries, size, strict=True)])
    of_misfires = np.array([query.quantity in _OF_MISFIRES for query in queries])
    share = np.where(of_misfires, np.maximum(sound.share, _MISFIRES_SHARE), sound.share)
    return np.asarray(np.sqrt(own**2 + sound.absolute**2 + (share * size) ** 2))
