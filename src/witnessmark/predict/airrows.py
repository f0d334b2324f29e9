"""Rows of what the operating point is worked out from: those that differ, some of them, and back to all of them."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.airpath import VARIES, AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.demand import Demand
from witnessmark.physics.fuelling import Fuelling
from witnessmark.physics.operating import OperatingPoint

__all__ = ["differing", "put", "rows_of", "taken"]

Array = NDArray[np.float64]
Rows = NDArray[np.bool_]
T = TypeVar("T")


def differing(path: AirPath, state: AirState, demand: Demand, n: int) -> tuple[Rows, NDArray[np.intp], Hashable]:
    """One of each kind of rows that are alike: most states of a batch differ in what moves no air.

    Parameters
    ----------
    path : AirPath
    state : AirState
    demand : Demand
    n : int

    Returns
    -------
    few : ndarray of bool, shape (n,)
    which : ndarray of int, shape (n,)
        Which of those few each row is like.
    key : hashable
        The same wherever those few are the same, on one kind of path.
    """
    given = [np.asarray(getattr(path, name)) for name in VARIES]
    given += [np.asarray(getattr(laid, one.name)) for laid in (state, demand) for one in fields(laid)]
    columns = [value.reshape(n, -1) for value in given if _by_row(value, n)]
    one_for_all = tuple(None if _by_row(value, n) else (value.shape, value.tobytes()) for value in given)
    if not columns:
        columns = [np.zeros((n, 1))]
    table = np.ascontiguousarray(np.concatenate(columns, axis=1, dtype=np.float64)) + 0.0  # -0 is 0
    whole = table.view(np.dtype((np.void, table.dtype.itemsize * table.shape[1]))).ravel()
    _, first, which = np.unique(whole, return_index=True, return_inverse=True)
    few = np.zeros(n, dtype=np.bool_)
    few[first] = True
    return few, np.argsort(np.argsort(first))[which.reshape(n)], (one_for_all, table[few].tobytes())


def _by_row(value: NDArray[np.generic], n: int) -> bool:
    return bool(value.ndim and value.shape[0] == n and value.dtype != bool)


def rows_of(laid: T, rows: Rows, n: int) -> T:
    """Some rows of a state or a demand.

    Parameters
    ----------
    laid : AirState or Demand
    rows : ndarray of bool, shape (n,)
    n : int

    Returns
    -------
    AirState or Demand
    """
    changed = {}
    for one in fields(laid):  # type: ignore[arg-type]
        value = np.asarray(getattr(laid, one.name))
        if _by_row(value, n):
            changed[one.name] = value[rows]
    return replace(laid, **changed)  # type: ignore[type-var]


def put(whole: OperatingPoint, part: OperatingPoint, rows: Rows) -> OperatingPoint:
    """A point with some of its rows worked out anew.

    Parameters
    ----------
    whole, part : OperatingPoint
        Of n rows, and of those that are anew.
    rows : ndarray of bool, shape (n,)

    Returns
    -------
    OperatingPoint
    """

    def merged(old: Array, new: Array) -> Array:
        found = np.array(old)
        found[rows] = new
        return found

    fuel = {f.name: merged(getattr(whole.fuelling, f.name), getattr(part.fuelling, f.name)) for f in fields(Fuelling)}
    names = [f.name for f in fields(OperatingPoint) if f.name != "fuelling"]
    numbers = {name: merged(getattr(whole, name), getattr(part, name)) for name in names}
    return OperatingPoint(**numbers, fuelling=Fuelling(**fuel))


def taken(few: OperatingPoint, which: NDArray[np.intp]) -> OperatingPoint:
    """A point of few rows laid out for all that are like one of them.

    Parameters
    ----------
    few : OperatingPoint
    which : ndarray of int, shape (n,)

    Returns
    -------
    OperatingPoint
        Of n rows.
    """
    fuel = {f.name: getattr(few.fuelling, f.name)[which] for f in fields(Fuelling)}
    names = [f.name for f in fields(OperatingPoint) if f.name != "fuelling"]
    return OperatingPoint(**{name: getattr(few, name)[which] for name in names}, fuelling=Fuelling(**fuel))
