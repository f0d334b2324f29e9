"""Rows of a table that are alike, so that what follows from a row is worked out once for all that are like it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["alike", "distinct", "once_for_alike"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_FEW = 64  # rows, with which looking for like ones takes longer than it saves
_BITS = 31  # of a pattern looked at together: with as many rows in front they fit a number of 64
_ODD = np.uint64(0x9E3779B97F4A7C15)


def distinct(table: Array) -> tuple[Picks, Picks]:
    """Rows that differ from one another.

    Parameters
    ----------
    table : ndarray, shape (n, q)
        Not a number is like itself.

    Returns
    -------
    first : ndarray of int, shape (m,)
        A row of each kind.
    which : ndarray of int, shape (n,)
        Of which of these kinds every row is.

    Notes
    -----
    Rows are told apart by a hash of their bits, which sorts as one number; where two that differ share one, all rows
    are taken to differ. So rows that are said to be alike are alike to the last bit.
    """
    n = len(table)
    bits = np.ascontiguousarray(table, dtype=np.float64).view(np.uint64)
    key = np.zeros(n, dtype=np.uint64)
    for column in bits.T:
        key = (key ^ column) * _ODD
        key ^= key >> np.uint64(29)
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    which = which.reshape(n)
    if not np.array_equal(bits[first][which], bits):
        every = np.arange(n, dtype=np.intp)
        return every, every
    return first, which


def once_for_alike(work: Callable[[Array], Array], table: Array) -> Array:
    """What follows from every row by itself, worked out for those alone that differ.

    Parameters
    ----------
    work : callable (ndarray, shape (m, q)) -> ndarray, shape (m,)
        Of each row by itself.
    table : ndarray, shape (n, q)

    Returns
    -------
    ndarray, shape (n,)
    """
    if len(table) < _FEW:
        return work(table)
    first, which = distinct(table)
    order = np.argsort(first)  # as they came: those that follow one another have much in common
    found = np.empty(len(first))
    found[order] = work(table[first[order]])
    return found[which]


def alike(marks: NDArray[np.bool_]) -> list[Picks]:
    """Rows that are marked in the same places.

    Parameters
    ----------
    marks : ndarray of bool, shape (n, m)

    Returns
    -------
    list of ndarray of int
        One for each pattern there is; together every row once, in rising order within each.
    """
    which = np.zeros(len(marks), dtype=np.intp)
    for start in range(0, marks.shape[1], _BITS):  # whole numbers are sorted ten times as fast as rows
        some = marks[:, start : start + _BITS]
        key = some @ (1 << np.arange(some.shape[1], dtype=np.int64))
        which = np.unique(which * (1 << _BITS) + key, return_inverse=True)[1]
    order = np.argsort(which, kind="stable")
    return np.split(order, np.cumsum(np.bincount(which))[:-1]) if len(order) else []
