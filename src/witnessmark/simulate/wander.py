"""Noise with a memory: what drifts for a while and comes back; and what follows with a lag."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["behind", "rate_limited", "wander"]

FloatArray = NDArray[np.float64]


def wander(count: int, step_s: float, size: float, seconds: float, rng: np.random.Generator) -> FloatArray:
    """A first-order random walk about zero, shape (count,).

    Parameters
    ----------
    count : int
    step_s : float [s]
    size : float
        Standard deviation, in whatever unit.
    seconds : float [s]
        After which e^-1 of it is left.
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (count,)
    """
    keep = float(np.exp(-step_s / seconds))
    drawn = rng.normal(0.0, size * np.sqrt(1.0 - keep**2), count)
    now = float(rng.normal(0.0, size))
    found = np.empty(count)
    for k, more in enumerate(drawn.tolist()):
        now = keep * now + more
        found[k] = now
    return found


def behind(values: FloatArray, step_s: float, seconds: float) -> FloatArray:
    """What a first-order lag leaves of values, shape (n,).

    Parameters
    ----------
    values : array, shape (n,)
    step_s, seconds : float [s]

    Returns
    -------
    array, shape (n,)
    """
    share, now = 1.0 - float(np.exp(-step_s / seconds)), float(values[0])
    found = np.empty(values.size)
    for k, wanted in enumerate(values.tolist()):
        now += share * (wanted - now)
        found[k] = now
    return found


def rate_limited(
    wanted: FloatArray, step_s: float, rate: FloatArray, *, seconds: float, start: float | None = None
) -> FloatArray:
    """What goes after something with a lag, but no faster than a rate, shape (n,).

    Parameters
    ----------
    wanted : array, shape (n,)
    step_s : float [s]
    rate : array, shape (n,) [1/s, of the unit of ``wanted``]
        At most.
    seconds : float [s]
        Lag of the last part of the way.
    start : float, optional
        Where it stands at first; there already where left out.

    Returns
    -------
    array, shape (n,)
    """
    share = 1.0 - float(np.exp(-step_s / seconds))
    now = float(wanted[0]) if start is None else start
    found = np.empty(wanted.size)
    for k, (goal, most) in enumerate(zip(wanted.tolist(), (step_s * rate).tolist(), strict=True)):
        now += min(max(share * (goal - now), -most), most)
        found[k] = now
    return found
