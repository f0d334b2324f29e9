"""Scales on which a reading is known equally well wherever it is.

How well a nominal is known goes with its size for much of what a fault moves: misfires are known within a half of what
they are, a leak-down within a sixth. On the reading's own scale each hypothesis would need a covariance of its own; on
this one, a straight line near nought and a logarithm beyond, one serves them all. So it is with what sound engines
differ in, where that moves a reading by a share of what it is: a leaking cylinder is cranked as slowly as the others.
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
_STRAIGHT = (
    0.5  # of a sound engine's value, up to which a reading that is moved by shares has a straight scale; see docs
)


@dataclass(frozen=True, slots=True)
class Warp:
    """A scale for each of q readings.

    Parameters
    ----------
    absolute : ndarray, shape (q,)
        In the reading's unit, and on the scale: over the share, where the straight line ends.
    share : ndarray, shape (q,) [-]
        Of the value, further out; 0 leaves the reading's own scale.
    tolerance : ndarray, shape (q,)
        How well a reading's nominal is known, on the scale.

    Notes
    -----
    y = (a / s) asinh(s x / a), whose slope is 1 / √(1 + (s x / a)²): a spread of √(a² + s² x²) becomes a everywhere
    (the usual transformation that makes a variance constant, to first order).
    """

    absolute: Array
    share: Array
    tolerance: Array

    @classmethod
    def of(cls, sound: Sound, read: Array, own: Array, by_share: NDArray[np.bool_] | None = None) -> Warp:
        """The scales on which readings are known equally well.

        Parameters
        ----------
        sound : Sound
        read, own : ndarray, shape (q,)
            Each reading and its own standard deviation, in its unit.
        by_share : ndarray of bool, shape (q,), optional
            Which are moved by shares of what they are (:attr:`witnessmark.vocabulary.Quantity.by_share`); none if left
            out.

        Returns
        -------
        Warp
        """
        size = np.abs(np.nan_to_num(sound.mean))
        relative = sound.share >= _RELATIVE
        near = np.maximum(sound.absolute, _OF_NOMINAL * sound.share * size)
        # Where a reading may be nought by its own spread, the line must be as wide as that: no misfire ± 20 is far from
        # 500, and on a logarithm that begins at 2 it would not be.
        near = np.maximum(near, own**2 / _at_least(read, own))
        flat = np.hypot(sound.absolute, sound.share * size)
        absolute = np.where(relative, np.maximum(near, 1e-9), flat)
        found = cls(absolute, np.where(relative, sound.share, 0.0), absolute)
        return found if by_share is None else found.moved_by_share(sound, by_share, flat, own**2 / _at_least(read, own))

    def moved_by_share(self, sound: Sound, which: NDArray[np.bool_], known: Array, straight: Array | float) -> Warp:
        """Other scales for readings that what sound engines differ in moves by a share.

        Parameters
        ----------
        sound : Sound
        which : ndarray of bool, shape (q,)
        known : ndarray, shape (q,)
            How well each is known where a sound engine has it, in its unit.
        straight : ndarray, shape (q,), or float
            Up to where the scale must be straight, in the reading's unit.

        Returns
        -------
        Warp
        """
        size = np.abs(np.nan_to_num(sound.mean))
        spread = np.sqrt(np.diag(sound.spread()))
        which = which & (self.share == 0.0) & (spread > 1e-6 * size) & (size > 0.0)
        if not which.any():
            return self
        share = np.where(which, spread / np.where(which, size, 1.0), self.share)
        absolute = np.where(which, share * np.maximum(_STRAIGHT * size, straight), self.absolute)
        found = Warp(absolute, share, self.tolerance)
        return Warp(absolute, share, np.where(which, known * found.slope(size), self.tolerance))

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
        bent = np.flatnonzero(ratio > 0.0)  # alone: of few readings it is asked, and it takes long
        found = np.array(x, dtype=np.float64)
        found[..., bent] = np.arcsinh(ratio[bent] * found[..., bent]) / ratio[bent]
        return found

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
        return Warp(self.absolute[which], self.share[which], self.tolerance[which])


def _at_least(read: Array, own: Array) -> Array:
    return np.maximum(np.maximum(np.abs(read), own), 1e-12)


PLAIN = Warp(np.zeros(1), np.zeros(1), np.zeros(1))
"""One reading on its own scale."""
