"""Rows of a table that differ from a usual row in the same few columns, taken together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["blocks"]

Marks = NDArray[np.bool_]
Picks = NDArray[np.intp]


def blocks(moved: Marks, least: int, most: int) -> list[tuple[Picks, Picks]]:
    """Every row once, in blocks of rows that are moved in about the same columns.

    Parameters
    ----------
    moved : ndarray of bool, shape (n, q)
        Where each row differs from the usual one.
    least, most : int
        Rows of a block: as many if there are, and at most.

    Returns
    -------
    list of (ndarray of int, shape (m,), ndarray of int, shape (k,))
        Rows, and the columns that any of them is moved in.
    """
    n, q = moved.shape
    first, last = np.argmax(moved, axis=1), q - 1 - np.argmax(moved[:, ::-1], axis=1)
    key = np.where(moved[np.arange(n), first], (first * q + last) * (q + 1) + moved.sum(axis=1), -1)
    order = np.argsort(key, kind="stable")
    ends = np.append(np.flatnonzero(np.diff(key[order])) + 1, n)
    found, start = [], 0
    for end in ends:
        # Few of a kind go on with the next, which begins at the same column as a rule.
        if end - start < least and end < n:
            continue
        for low in range(start, int(end), most):
            rows = order[low : min(low + most, int(end))]
            found.append((rows, np.flatnonzero(moved[rows].any(axis=0))))
        start = int(end)
    return found
