"""Rows that were solved lately, kept by what they were solved from: interventions leave most states as they were."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from hashlib import blake2b
from threading import Lock

import numpy as np
from numpy.typing import NDArray

__all__ = ["SolvedRows"]

Array = NDArray[np.float64]

_KINDS = 64  # of what stands beside the rows, before all is forgotten


class SolvedRows:
    """A bounded store of rows of numbers; the one longest out of use is forgotten first.

    Parameters
    ----------
    most : int
        Rows that are kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[tuple[int, bytes], Array] = OrderedDict()
        self._kinds: dict[Hashable, int] = {}
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._kept)

    def of(self, kind: Hashable, table: Array, solve: Callable[[NDArray[np.bool_]], Array]) -> Array:
        """Solutions of rows, of those alone that are new.

        Parameters
        ----------
        kind : hashable
            All that solutions depend on besides the rows.
        table : ndarray, shape (n, k)
            What each row is solved from.
        solve : callable (ndarray of bool, shape (n,)) -> ndarray, shape (m, w)
            Solutions of the m rows that are marked.

        Returns
        -------
        ndarray, shape (n, w)
        """
        with self._lock:
            if len(self._kinds) >= _KINDS and kind not in self._kinds:
                self._kinds.clear()
                self._kept.clear()
            number = self._kinds.setdefault(kind, len(self._kinds))
            rows = np.ascontiguousarray(table) + 0.0  # -0 is 0
            keys = [(number, blake2b(row, digest_size=16).digest()) for row in rows]
            old = [self._kept.get(key) for key in keys]
            for key, one in zip(keys, old, strict=True):
                if one is not None:
                    self._kept.move_to_end(key)
        new = np.array([one is None for one in old])
        if not np.any(new):
            return np.array(old)
        solved = solve(new)
        found = np.empty((len(keys), solved.shape[1]))
        found[new] = solved
        if not np.all(new):
            found[~new] = np.array([one for one in old if one is not None])
        with self._lock:
            for row in np.flatnonzero(new):
                self._kept[keys[row]] = found[row].copy()
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return found
