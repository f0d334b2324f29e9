"""Tables of slow physics: worked out once, read by straight lines between."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.model import Values

__all__ = ["between"]

_Array = NDArray[np.float64]


def between(axes: Sequence[_Array], table: _Array, at: Sequence[Values]) -> _Array:
    """A table's value between its points; beyond its ends, the end's.

    Parameters
    ----------
    axes : sequence of ndarray, shape (m_k,)
        Rising, one for each dimension, in the units of ``at``.
    table : ndarray, shape (m_1, m_2, …)
    at : sequence of float or array, shape (n,)
        Where, one for each axis.

    Returns
    -------
    ndarray, shape (n,)
        In the table's unit.
    """
    places = [np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in at]
    places = list(np.broadcast_arrays(*places))
    low, share = [], []
    for axis, x in zip(axes, places, strict=True):
        inside = np.clip(x, axis[0], axis[-1])
        i = np.clip(np.searchsorted(axis, inside, side="right") - 1, 0, len(axis) - 2)
        low.append(i)
        share.append((inside - axis[i]) / (axis[i + 1] - axis[i]))
    total = np.zeros(places[0].shape)
    for corner in product((0, 1), repeat=len(axes)):
        weight = np.ones(places[0].shape)
        for up, part in zip(corner, share, strict=True):
            weight = weight * (part if up else 1.0 - part)
        total = total + weight * table[tuple(i + up for i, up in zip(low, corner, strict=True))]
    return total
