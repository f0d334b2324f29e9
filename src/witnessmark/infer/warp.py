"""Scales on which a reading is known equally well wherever it is.

How well a nominal is known goes with its size for much of what a fault moves: misfires are known within a half of what
they are, a leak-down within a sixth. On the reading's own scale each hypothesis would need a covariance of its own; on
this one, a straight line near nought and a logarithm beyond, one serves them all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.sound import Sound

__all__ = ["PLAIN", "Warp"]

Array = NDArray[np.float64]

_RELATIVE = 0.12  # share of the value from which on a reading is looked at on a scale of its own
_OF_NOMINAL = 0.3


@dataclass(frozen=True, slots=True)
class Warp:
    """A scale for each of q readings.

    Parameters
    ----------
    absolute : ndarray, shape (q,)
        In the reading's unit: how well it is known near nought. On the scale, everywhere.
    share : ndarray, shape (q,) [-]
        Of the value, further out; 0 leaves the reading's own scale.

    Notes
    -----
    y = (a / s) asinh(s x / a), whose slope is 1 / √(1 + (s x / a)²): a spread of √(a² + s² x²) becomes a everywhere
    (the usual transformation that makes a variance constant, to first order).
    """

    absolute: Array
    share: Array

    @classmethod
    def of(cls, sound: Sound, read: Array, own: Array) -> Warp:
        """The scales on which readings are known equally well.

        Parameters
        ----------
        sound : Sound
        read, own : ndarray, shape (q,)
            Each reading and its own standard deviation, in its unit.

        Returns
        -------
        Warp
        """
        size = np.abs(np.nan_to_num(sound.mean))
        relative = sound.share >= _RELATIVE
        near = np.maximum(sound.absolute, _OF_NOMINAL * sound.share * size)
        # Where a reading may be nought by its own spread, the line must be as wide as that: no misfire ± 20 is far from
        # 500, and on a logarithm that begins at 2 it would not be.
        near = np.maximum(near, own**2 / np.maximum(np.maximum(np.abs(read), own), 1e-12))
        flat = np.hypot(sound.absolute, sound.share * size)
        absolute = np.where(relative, np.maximum(near, 1e-9), flat)
        return cls(absolute, np.where(relative, sound.share, 0.0))

    def there(self, x: Array) -> Array:
        """From the readings' own scales.

        Parameters
        ----------
        x : ndarray, shape (..., q)

        Returns
        -------
        ndarray, shape (..., q)
        """
        if not self.share.any():
            return x
        ratio = self.share / np.maximum(self.absolute, 1e-12)
        safe = np.where(ratio > 0.0, ratio, 1.0)
        return np.asarray(np.where(ratio > 0.0, np.arcsinh(safe * x) / safe, x))

    def back(self, y: Array) -> Array:
        """To the readings' own scales.

        Parameters
        ----------
        y : ndarray, shape (..., q)

        Returns
        -------
        ndarray, shape (..., q)
        """
        ratio = self.share / np.maximum(self.absolute, 1e-12)
        safe = np.where(ratio > 0.0, ratio, 1.0)
        return np.asarray(np.where(ratio > 0.0, np.sinh(np.clip(safe * y, -50.0, 50.0)) / safe, y))

    def slope(self, x: Array) -> Array:
        """What a small step of a reading is on the scale.

        Parameters
        ----------
        x : ndarray, shape (..., q)

        Returns
        -------
        ndarray, shape (..., q) [-]
        """
        ratio = self.share / np.maximum(self.absolute, 1e-12)
        return np.asarray(1.0 / np.hypot(1.0, ratio * np.nan_to_num(x)))

    def some(self, which: NDArray[np.bool_]) -> Warp:
        """The scales of some of the readings.

        Parameters
        ----------
        which : ndarray of bool, shape (q,)

        Returns
        -------
        Warp
        """
        return Warp(self.absolute[which], self.share[which])


PLAIN = Warp(np.zeros(1), np.zeros(1))
"""One reading on its own scale."""
