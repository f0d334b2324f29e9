"""Statistics that a few wild samples do not move."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["excerpt", "mad_sd", "noise_sd", "quantum"]

FloatArray = NDArray[np.float64]

# Median of |x| for a standard normal x (DLMF 7.17, inverse error function at 1/2, times the square root of 2).
_NORMAL_MEDIAN = 0.6744897501960817
# And its upper quartile of |x|.
_NORMAL_QUARTILE = 1.1503493803760079
# Differences of order k of white noise of sd 1 have the variance C(2k, k).
_DIFFERENCE_ORDERS = {2: 6.0, 4: 70.0, 6: 924.0}
_FEW_VALUES = 8
_LOOKED_AT = 200_000


def excerpt(values: FloatArray, count: int, *, runs: int = 64) -> FloatArray:
    """Runs of neighbours from all over a long array.

    Parameters
    ----------
    values : array, shape (n,)
    count : int
        How many values to keep, about.
    runs : int
        In how many runs.

    Returns
    -------
    array, shape (m,)
        The array itself where it is no longer than ``count``.
    """
    if values.size <= count:
        return values
    length = count // runs
    starts = np.linspace(0, values.size - length, runs).astype(np.int64)
    return np.concatenate([values[start : start + length] for start in starts])


def mad_sd(values: FloatArray) -> float:
    """Standard deviation from the median of the distances to the median.

    Parameters
    ----------
    values : array, shape (n,)

    Returns
    -------
    float
        In the unit of the values; equals the standard deviation for normal numbers. 0 for fewer than two values.

    Examples
    --------
    >>> round(mad_sd(np.array([1.0, 2.0, 3.0, 4.0, 1000.0])), 3)
    1.483
    """
    if values.size < 2:
        return 0.0
    return float(np.median(np.abs(values - np.median(values)))) / _NORMAL_MEDIAN


def noise_sd(values: FloatArray, step: float = 0.0) -> float:
    """Standard deviation of the noise from sample to sample, the signal beneath it taken away.

    Parameters
    ----------
    values : array, shape (n,)
        Evenly spaced samples.
    step : float
        Step of the converter, see :func:`quantum`; 0 when not known.

    Returns
    -------
    float
        In the unit of the values, no less than ``step / sqrt(12)``; that for fewer than eight samples.

    Notes
    -----
    Differences of order 2, 4 and 6, scaled by sqrt(C(2k, k)), which white noise leaves at its own standard deviation;
    whatever remains of a signal only adds, so the smallest counts. Of numbers that mostly stay on one step the median
    difference is none; there the upper quartile of the highest order, which mixes most samples, tells how often they
    leave it. Noise that the instrument has smoothed over several samples is underestimated.
    """
    floor = step / float(np.sqrt(12.0))
    if values.size < _FEW_VALUES:
        return floor
    found = [
        float(np.median(np.abs(np.diff(values, n=order)))) / (_NORMAL_MEDIAN * float(np.sqrt(variance)))
        for order, variance in _DIFFERENCE_ORDERS.items()
    ]
    least = min(found)
    if least < step:
        coarse = float(np.percentile(np.abs(np.diff(values, n=6)), 75)) / (_NORMAL_QUARTILE * float(np.sqrt(924.0)))
        least = min(coarse, step)
    return max(least, floor)


def quantum(values: FloatArray) -> float:
    """Smallest step of the converter: the least distance between different values.

    Parameters
    ----------
    values : array, shape (n,)

    Returns
    -------
    float
        In the unit of the values; 0 where two values only, or far too many, show no step.
    """
    looked_at = excerpt(values, _LOOKED_AT)
    levels = np.unique(looked_at)
    if levels.size < 3 or levels.size > looked_at.size / 4:
        return 0.0
    steps = np.diff(levels)
    # Decimal fractions carry rounding errors that make one value two.
    steps = steps[steps > 1e-6 * (levels[-1] - levels[0])]
    return float(steps.min()) if steps.size else 0.0
