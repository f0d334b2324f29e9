"""How well readings are read: stated spread at a value, readings that cannot be, counts that end at 0."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.law import WIDE
from witnessmark.vocabulary import Query

__all__ = ["Gauges"]

Array = NDArray[np.float64]

# Of the spread at the sound value: a gauge's class is a share of its full scale, so near zero it is not better by much.
_LEAST = 0.5
_COUNT = "misfire_count"


@dataclass(frozen=True)
class Gauges:
    """Instruments of q readings.

    Parameters
    ----------
    sd : ndarray, shape (q,)
        Usual spread: of the value where it is relative.
    relative, counts : ndarray of bool, shape (q,)
        Stated as a share of the value; a count, which ends at 0.
    sound : ndarray, shape (q,)
        What a sound engine of this kind shows; 0 where there is none.
    kind : ndarray of int, shape (q,)
        Class of instrument: those of one class share a bias.
    """

    sd: Array
    relative: NDArray[np.bool_]
    counts: NDArray[np.bool_]
    sound: Array
    kind: NDArray[np.intp]

    @classmethod
    def of(cls, queries: Sequence[Query], sound: Array) -> Gauges:
        """Of readings whose sound values are known."""
        names = sorted({query.kind.instrument for query in queries})
        return cls(
            np.array([query.kind.sd for query in queries]),
            np.array([query.kind.relative for query in queries], dtype=bool),
            np.array([query.quantity == _COUNT for query in queries], dtype=bool),
            np.abs(np.nan_to_num(sound)),
            np.array([names.index(query.kind.instrument) for query in queries], dtype=np.intp),
        )

    def some(self, which: Sequence[int] | NDArray[np.intp]) -> Gauges:
        """Of some of the readings."""
        at = np.asarray(which, dtype=np.intp)
        return Gauges(self.sd[at], self.relative[at], self.counts[at], self.sound[at], self.kind[at])

    @property
    def alike(self) -> NDArray[np.bool_]:
        """Which readings share a bias, shape (q, q)."""
        return np.asarray(self.kind[:, None] == self.kind[None, :])

    def spread(self, value: Array) -> Array:
        """Stated spread at values, shape (..., q): the usual one, never less than the instrument resolves.

        Where it is a share of the value it is at least half of what it is at the sound value.
        """
        share = self.sd * np.maximum(np.abs(value), _LEAST * self.sound)
        own = np.where(self.relative, share, self.sd)
        return np.asarray(np.maximum(own, np.where(self.counts, 1.0, 0.05 * self.sd + 1e-3)))

    def stray(self, rng: np.random.Generator) -> Array:
        """Readings that cannot be: taken elsewhere, or of a frozen screen. Anything within their usual reach."""
        return np.asarray(rng.normal(0.0, self._reach()))

    def log_stray(self, value: Array) -> Array:
        """Log density of such readings at values."""
        z = value / self._reach()
        logs = -0.5 * z**2 - np.log(self._reach()) - 0.5 * np.log(2.0 * np.pi)
        return np.asarray(np.where(self.counts & (value <= 0.0), np.log(0.5), logs))

    def ended(self, value: Array) -> Array:
        """Counts end at 0."""
        return np.asarray(np.where(self.counts, np.maximum(value, 0.0), value))

    def _reach(self) -> Array:
        return np.asarray(WIDE * self.spread(np.maximum(self.sound, 1.0)))
