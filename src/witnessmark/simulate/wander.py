"""Noise with a memory: what drifts for a while and comes back; and what follows with a lag."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["behind", "followed", "rate_limited", "wander"]

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
    return _kept(float(rng.normal(0.0, size)), keep, drawn)


def _kept_python(now: float, keep: float, drawn: FloatArray) -> FloatArray:
    found = np.empty(drawn.size)
    for k in range(drawn.size):
        now = keep * now + drawn[k]
        found[k] = now
    return found


_kept = cast(Callable[..., FloatArray], njit(cache=True, nogil=True)(_kept_python))


def _followed_python(wanted: FloatArray, shares: FloatArray, now: float) -> FloatArray:
    found = np.empty(wanted.size)
    for k in range(wanted.size):
        now += shares[k] * (wanted[k] - now)
        found[k] = now
    return found


_followed = cast(Callable[..., FloatArray], njit(cache=True, nogil=True)(_followed_python))


def followed(wanted: FloatArray, shares: FloatArray, start: float) -> FloatArray:
    """What goes after something by a share of the way at each step, shape (n,).

    Parameters
    ----------
    wanted, shares : array, shape (n,)
    start : float
        Where it stands before the first step.

    Returns
    -------
    array, shape (n,)
    """
    return _followed(wanted, shares, start)


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
    share = 1.0 - float(np.exp(-step_s / seconds))
    return followed(np.asarray(values, dtype=np.float64), np.full(values.size, share), float(values[0]))


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
    return _limited(np.asarray(wanted, dtype=np.float64), step_s * rate, share, now)


def _limited_python(wanted: FloatArray, most: FloatArray, share: float, now: float) -> FloatArray:
    found = np.empty(wanted.size)
    for k in range(wanted.size):
        now += min(max(share * (wanted[k] - now), -most[k]), most[k])
        found[k] = now
    return found


_limited = cast(Callable[..., FloatArray], njit(cache=True, nogil=True)(_limited_python))
