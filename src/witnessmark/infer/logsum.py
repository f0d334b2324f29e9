"""Sums of numbers that are known by their logarithms."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["log_sum"]

Array = NDArray[np.float64]


def log_sum(values: Array, axis: int = -1) -> Array:
    """Log of the sum of exponentials along an axis, safe against overflow.

    Parameters
    ----------
    values : ndarray
        Any shape.
    axis : int

    Returns
    -------
    ndarray, shape without that axis
    """
    top = np.max(values, axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.sum(np.exp(values - top), axis=axis)) + np.squeeze(top, axis=axis))
