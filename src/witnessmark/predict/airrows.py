"""Rows of what the operating point is worked out from: those that differ, some of them, and back to all of them."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.airpath import VARIES, AirPath
from witnessmark.physics.airstate import PER_BANK, PER_CYLINDER, AirState
from witnessmark.physics.demand import Demand
from witnessmark.physics.fuelling import Fuelling
from witnessmark.physics.operating import OperatingPoint

__all__ = ["differing", "flat", "put", "rows_of", "shaped", "table_of", "taken"]

Array = NDArray[np.float64]
Rows = NDArray[np.bool_]
T = TypeVar("T")

_OF_POINT = tuple(one.name for one in fields(OperatingPoint) if one.name != "fuelling")
_OF_FUEL = tuple(one.name for one in fields(Fuelling))
_BY_BANK = (
    "back_pressure",
    "front_sensor_pressure",
    "rear_sensor_pressure",
    "trim",
    "trim_wanted",
    "lambda_bank",
    "lambda_reported",
)
_BY_CYLINDER = ("lambda_cylinder", "work")


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


def table_of(path: AirPath, state: AirState, demand: Demand, n: int) -> tuple[Hashable, Array]:
    """All that rows are worked out from: what stands beside them, and a table with everything that may differ.

    Parameters
    ----------
    path : AirPath
    state : AirState
    demand : Demand
    n : int

    Returns
    -------
    beside : hashable
    table : ndarray, shape (n, k)
    """
    beside = tuple(getattr(path, one.name) for one in fields(path) if one.name not in VARIES)
    wide = {**dict.fromkeys(PER_BANK, path.n_banks), **dict.fromkeys(PER_CYLINDER, path.n_cylinders)}
    columns = [np.broadcast_to(np.asarray(getattr(path, name), dtype=np.float64), (n,))[:, None] for name in VARIES]
    for laid in (state, demand):
        for one in fields(laid):
            value = np.asarray(getattr(laid, one.name), dtype=np.float64)
            width = wide.get(one.name) if laid is state else None
            whole = np.broadcast_to(value, (n,))[:, None] if width is None else np.broadcast_to(value, (n, width))
            columns.append(whole)
    return beside, np.concatenate(columns, axis=1)


def flat(point: OperatingPoint, work: Array) -> Array:
    """A point and the work of its cylinders as one row of numbers for each state.

    Parameters
    ----------
    point : OperatingPoint
    work : ndarray, shape (n, cylinders) [-]

    Returns
    -------
    ndarray, shape (n, w)
    """
    n = len(point.speed_rpm)
    columns = [getattr(point, name) for name in _OF_POINT] + [getattr(point.fuelling, name) for name in _OF_FUEL]
    return np.concatenate([np.asarray(value).reshape(n, -1) for value in (*columns, work)], axis=1)


def shaped(path: AirPath, table: Array) -> tuple[OperatingPoint, Array]:
    """The inverse of :func:`flat`.

    Parameters
    ----------
    path : AirPath
    table : ndarray, shape (n, w)

    Returns
    -------
    point : OperatingPoint
    work : ndarray, shape (n, cylinders) [-]
    """
    start, found = 0, {}
    for name in (*_OF_POINT, *_OF_FUEL, "work"):
        width = path.n_banks if name in _BY_BANK else path.n_cylinders if name in _BY_CYLINDER else 0
        found[name] = table[:, start : start + width] if width else table[:, start]
        start += width or 1
    fuelling = Fuelling(**{name: found[name] for name in _OF_FUEL})
    return OperatingPoint(**{name: found[name] for name in _OF_POINT}, fuelling=fuelling), found["work"]
