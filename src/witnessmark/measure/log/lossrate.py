"""How often a contact is lost, from the losses that a slow log happened to see."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["loss_rate", "seen_share"]

FloatArray = NDArray[np.float64]

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


def loss_rate(samples: Sequence[int], seconds: float, fresh_s: float) -> tuple[float, float]:
    """Losses in a minute, those that fell between two answers included, and its standard deviation.

    Parameters
    ----------
    samples : sequence of int
        Answers lost in each loss that was seen; empty where none was.
    seconds : float [s]
        So long the value was watched.
    fresh_s : float [s]
        From one answer to the next.

    Returns
    -------
    tuple of (float, float) [1/min]
        Where none was seen the rate is 0, with a spread that says what would have been missed.

    Notes
    -----
    Poisson's law for the count, with a prior of rate^-1/2 (Jeffreys). How many of all losses were seen hangs on how
    long they last: that is integrated over, each seen loss of n answers weighing a mean length by exp(-(n-1)p/m)
    (1 - exp(-p/m)).
    """
    share = seen_share(fresh_s, _LENGTHS_S)
    ratio = fresh_s / _LENGTHS_S
    more = float(sum(max(n - 1, 0) for n in samples))
    log_weight = -more * ratio + len(samples) * np.log(-np.expm1(-ratio))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    watched = share * seconds / 60.0
    shape = len(samples) + 0.5
    mean = float(weight @ (shape / watched))
    square = float(weight @ (shape * (shape + 1.0) / watched**2))
    if not samples:
        return 0.0, float(np.sqrt(square))
    return mean, float(np.sqrt(square - mean**2))
