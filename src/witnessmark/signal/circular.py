"""Numbers on a circle: angles that begin again after a turn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["circular_mean_deg", "circular_median_deg", "circular_sd_deg", "difference_deg", "wrapped_deg"]

FloatArray = NDArray[np.float64]


def wrapped_deg(angle_deg: FloatArray | float, period_deg: float = 360.0) -> FloatArray:
    """Angles brought into 0 ≤ angle < period.

    Parameters
    ----------
    angle_deg : array, shape (n,) [deg]
    period_deg : float [deg]
        360 for a turn, 720 for a cycle.

    Returns
    -------
    array, shape (n,) [deg]
    """
    wrapped = np.mod(np.asarray(angle_deg, dtype=np.float64), period_deg)
    # A tiny negative angle rounds up to the period itself.
    return np.where(wrapped >= period_deg, 0.0, wrapped)


def difference_deg(
    angle_deg: FloatArray | float, other_deg: FloatArray | float, period_deg: float = 360.0
) -> FloatArray:
    """The short way from ``other_deg`` to ``angle_deg``, −period/2 ≤ difference < period/2.

    Parameters
    ----------
    angle_deg, other_deg : array, shape (n,) [deg]
    period_deg : float [deg]

    Returns
    -------
    array, shape (n,) [deg]

    Examples
    --------
    >>> float(difference_deg(2.0, 719.0, 720.0))
    3.0
    """
    apart = np.asarray(angle_deg, dtype=np.float64) - np.asarray(other_deg, dtype=np.float64)
    return wrapped_deg(apart + period_deg / 2.0, period_deg) - period_deg / 2.0


def circular_mean_deg(angle_deg: FloatArray, period_deg: float = 360.0) -> float:
    """Direction of the sum of unit vectors, 0 ≤ mean < period; NaN for no angles.

    Parameters
    ----------
    angle_deg : array, shape (n,) [deg]
    period_deg : float [deg]

    Returns
    -------
    float [deg]

    Notes
    -----
    Mardia and Jupp, Directional Statistics, eq. 2.2.4 (equation number from memory).
    """
    if np.size(angle_deg) == 0:
        return float("nan")
    turn = 2.0j * np.pi / period_deg
    return float(
        wrapped_deg(np.angle(np.exp(turn * np.asarray(angle_deg)).sum()) * period_deg / (2.0 * np.pi), period_deg)
    )


def circular_sd_deg(angle_deg: FloatArray, period_deg: float = 360.0) -> float:
    """Standard deviation about the circular mean, taken the short way round; NaN for fewer than two angles.

    Parameters
    ----------
    angle_deg : array, shape (n,) [deg]
    period_deg : float [deg]

    Returns
    -------
    float [deg]
    """
    if np.size(angle_deg) < 2:
        return float("nan")
    return float(np.std(difference_deg(angle_deg, circular_mean_deg(angle_deg, period_deg), period_deg), ddof=1))


def circular_median_deg(angle_deg: FloatArray, period_deg: float = 360.0) -> float:
    """Median on a circle, 0 ≤ median < period; NaN for no angles.

    Parameters
    ----------
    angle_deg : array, shape (n,) [deg]
    period_deg : float [deg]

    Returns
    -------
    float [deg]

    Notes
    -----
    Cut open opposite the circular mean; good for angles that lie on less than half the circle.
    """
    if np.size(angle_deg) == 0:
        return float("nan")
    mean = circular_mean_deg(angle_deg, period_deg)
    return float(wrapped_deg(mean + np.median(difference_deg(angle_deg, mean, period_deg)), period_deg))
