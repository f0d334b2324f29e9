"""How often a contact is lost, from the losses that a slow log happened to see."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc

from witnessmark.estimate import NORMAL_90

__all__ = ["loss_rate", "seen_by_both", "seen_share"]

FloatArray = NDArray[np.float64]

_LATER = (0.03, 0.1, 0.25, 0.5)  # of the time between answers of one value
_LENGTHS_S = np.geomspace(0.05, 5.0, 60)  # what one loss may last in the mean: every order as likely; our guess


def seen_share(fresh_s: float, lasting_s: FloatArray) -> FloatArray:
    """Share of losses into which an answer falls, shape (n,).

    Parameters
    ----------
    fresh_s : float [s]
        From one answer to the next.
    lasting_s : array, shape (n,) [s]
        Mean length of a loss.

    Returns
    -------
    array, shape (n,) [-]

    Notes
    -----
    A loss of length d is seen with chance d over the spacing, at most 1; over lengths that are exponential with mean m
    that gives (m/p)(1 - exp(-p/m)).
    """
    ratio = fresh_s / np.maximum(lasting_s, 1e-9)
    return np.asarray(-np.expm1(-ratio) / np.maximum(ratio, 1e-12))


def seen_by_both(fresh_s: float, lasting_s: FloatArray) -> FloatArray:
    """Share of losses into which an answer of each of two values falls, shape (n,).

    Parameters
    ----------
    fresh_s : float [s]
    lasting_s : array, shape (n,) [s]

    Returns
    -------
    array, shape (n,) [-]

    Notes
    -----
    The loss has to last until the second value is asked for: how much later that is, a log seldom tells, so that it is
    averaged over.
    """
    return np.asarray(seen_share(fresh_s, lasting_s) * _second_too(fresh_s / np.maximum(lasting_s, 1e-9)))


def _second_too(ratio: FloatArray) -> FloatArray:
    return np.asarray(np.mean([np.exp(-later * ratio) for later in _LATER], axis=0))


def loss_rate(samples: Sequence[int], seconds: float, fresh_s: float, *, both: bool = False) -> tuple[float, float]:
    """Losses in a minute, those that fell between two answers included, and its standard deviation.

    Parameters
    ----------
    samples : sequence of int
        Answers lost in each loss that was seen; empty where none was.
    seconds : float [s]
        So long the value was watched.
    fresh_s : float [s]
        From one answer to the next.
    both : bool
        Whether a loss counts only where it was seen in two values, the second asked for some time after the first.

    Returns
    -------
    tuple of (float, float) [1/min]
        The middle of the 90 % interval, and what 1.645 fold reaches its ends. Where none was seen the rate is 0, and
        the spread says what would have been missed.

    Notes
    -----
    Poisson's law for the count, with a prior of rate^-1/2 (Jeffreys): a gamma law of the rate. How many of all losses
    were seen hangs on how long they last: that is integrated over, each seen loss of n answers weighing a mean length m
    by exp(-(n-1)p/m) (1 - exp(-p/m)).
    """
    ratio = fresh_s / _LENGTHS_S
    more = float(sum(max(n - 1, 0) for n in samples))
    log_weight = -more * ratio + len(samples) * np.log(-np.expm1(-ratio))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    share = seen_share(fresh_s, _LENGTHS_S)
    share = share * (_second_too(ratio) if both else 1.0)
    watched = share * max(seconds, 1.0) / 60.0
    shape = len(samples) + 0.5
    if not samples:
        return 0.0, _quantile(0.9, shape, watched, weight) / NORMAL_90
    low, high = (_quantile(at, shape, watched, weight) for at in (0.05, 0.95))
    return 0.5 * (low + high), 0.5 * (high - low) / NORMAL_90


def _quantile(share: float, shape: float, watched: FloatArray, weight: FloatArray) -> float:
    """Of a mixture of gamma laws, each of the same shape over its own time watched."""
    low, high = 0.0, 20.0 * (shape + 5.0) / float(watched.min())
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(weight @ gammainc(shape, middle * watched)) < share else (low, middle)
    return 0.5 * (low + high)
