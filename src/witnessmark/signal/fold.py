"""A converter that overflows: above its range the numbers begin again at the bottom.

The tops of such a trace are cut off and stand at its foot, where they add edges that are none. Where the numbers prove
the fold, it is undone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.signal.robust import quantum

__all__ = ["Fold", "find_fold", "unfolded"]

FloatArray = NDArray[np.float64]
_BITS = range(8, 17)
_MOVING_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Fold:
    """What was found.

    Parameters
    ----------
    period : float
        The converter's whole range, in the unit of the values.
    samples : int
        How many samples lie beyond the range.
    """

    period: float
    samples: int


def find_fold(values: FloatArray) -> Fold | None:
    """Whether the numbers fold over at the end of a converter's range.

    Parameters
    ----------
    values : array, shape (n,)
        Evenly spaced samples.

    Returns
    -------
    Fold or None
        None unless the values use the whole of 2ⁿ steps, the signal moves through the middle of its range (a signal of
        two states does not), and nine in ten of the jumps across more than half the range go on smoothly once undone.
    """
    step = quantum(values)
    if step == 0.0:
        return None
    low, high = float(values.min()), float(values.max())
    steps = (high - low) / step + 1.0
    whole = next((2**bits for bits in _BITS if 0.98 * 2**bits <= steps <= 2**bits + 0.5), None)
    if whole is None:
        return None
    period = whole * step
    middle = np.abs(values - (low + high) / 2.0) < period / 4.0
    if float(middle.mean()) < _MOVING_SHARE:
        return None
    jumps = np.flatnonzero(np.abs(np.diff(values)) > period / 2.0)
    jumps = jumps[jumps >= 1]
    if not jumps.size:
        return None
    before, at, after = values[jumps - 1], values[jumps], values[jumps + 1]
    straight_on = 2.0 * at - before
    undone = after - np.sign(after - at) * period
    # The sample before may lie beyond the range itself; then the step between the two has to be undone as well.
    near = np.minimum(np.abs(undone - straight_on), np.abs(undone - at)) < period / 4.0
    if float(near.mean()) < 0.9:
        return None
    turns = _turns(values, period)
    inside = turns == 0
    if np.abs(turns).max() > 1 or float(inside.mean()) < 0.5:
        return None
    return Fold(period, int(values.size - inside.sum()))


def _turns(values: FloatArray, period: float) -> NDArray[np.int64]:
    """How often the range was left upwards before each sample."""
    steps = np.diff(values)
    crossings = (steps < -period / 2.0).astype(np.int64) - (steps > period / 2.0)
    turns = np.concatenate([[0], np.cumsum(crossings)])
    # The recording may begin beyond the range; most samples lie inside.
    return turns - int(np.median(turns))


def unfolded(values: FloatArray, fold: Fold) -> FloatArray:
    """The values with the fold undone, shape (n,).

    Parameters
    ----------
    values : array, shape (n,)
    fold : Fold
        From :func:`find_fold` on the same values.

    Returns
    -------
    array, shape (n,)
    """
    return values + fold.period * _turns(values, fold.period)
