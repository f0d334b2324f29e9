"""Nodes laid closer where a reading bends sharply between two of them, or ceases.

A trim comes to its stop, an engine no longer runs, a code's limit is crossed: between two even nodes a straight line is
then off by many spreads, and a size that fits best may lie just there. Such gaps are cut into parts, of all ways of all
faults in one batch. Which gaps those are each reading tells for itself, so that what is laid out of it does not hang on
what it was asked together with.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.layout import Grid, Layout, even_line, with_edges

__all__ = ["Ask", "Scale", "refine"]

Array = NDArray[np.float64]
Marks = NDArray[np.bool_]
Picks = NDArray[np.intp]
Ask = Callable[[Picks, Array], Array]
"""Readings, shape (n, q), of ways, shape (n,), at shares of their sizes, shape (n, 2)."""

_PARTS = (8, 4)  # into which a gap is cut, of ways that have one size and of those with two; 1: not at all
_NEAR = 0.2  # spreads by which a straight line may be off, as far as its neighbours tell


@dataclass(frozen=True, slots=True)
class Scale:
    """How far off is too far, for each of q readings.

    Parameters
    ----------
    fixed : ndarray, shape (q,)
        Spread that a reading has whatever it is, in its unit.
    share : ndarray, shape (q,) [-]
        ... and by its size, which adds as squares do.
    least : ndarray, shape (q,)
        Size below which that gets no less.
    """

    fixed: Array
    share: Array
    least: Array

    def of(self, size: Array) -> Array:
        """Spreads of readings.

        Parameters
        ----------
        size : ndarray, shape (..., q)

        Returns
        -------
        ndarray, shape (..., q)
        """
        sized = self.share * np.maximum(size, self.least)
        return np.asarray(np.maximum(np.hypot(self.fixed, sized), 1e-12))


def refine(even: Layout, scale: Scale, ask: Ask, only: Marks | None = None) -> list[dict[int, Grid]]:
    """Closer nodes wherever a reading needs them.

    Parameters
    ----------
    even : Layout
        Of q readings, at even nodes.
    scale : Scale
    ask : callable
        Predicts all readings anew; called once at most, ways in rising order.
    only : ndarray of bool, shape (ways,), optional
        Ways that are looked at; all if left out.

    Returns
    -------
    list of dict of int to Grid, length q
        Of each reading by the way's number, as far as it needs any.
    """
    found: list[dict[int, Grid]] = [{} for _ in range(even.values.shape[1])]
    kept = np.ones(len(even.nodes), dtype=bool) if only is None else only
    sheet = even.nodes[:, 0] > 1
    sorts = [kept & ~sheet & (even.nodes[:, 1] > 1), kept & sheet]
    wanted = [
        one
        for mine, parts in zip(sorts, _PARTS, strict=True)
        if parts > 1
        for one in _wanted(even, scale, np.flatnonzero(mine), parts)
    ]
    if not wanted:
        return found
    each, which = np.unique(np.concatenate([one.key for one in wanted]), axis=0, return_inverse=True)
    values = ask(each[:, 0].astype(np.intp), each[:, 1:])[which.reshape(-1)]
    start = 0
    for one in wanted:
        stop = start + len(one.key)
        found[one.column][one.way] = one.filled(values[start:stop, one.column])
        start = stop
    return found


@dataclass(frozen=True, slots=True)
class _Wanted:
    """One reading along one way with its closer lines.

    Parameters
    ----------
    way, column : int
    lines : tuple of two ndarray
    known : ndarray
        At the even nodes.
    new : ndarray of bool, shape (n, m)
        Nodes that are not even.
    """

    way: int
    column: int
    lines: tuple[Array, Array]
    known: Array
    new: Marks

    @property
    def key(self) -> Array:
        """Way and shares of the new nodes, shape (k, 3)."""
        at = np.nonzero(self.new)
        return np.stack([np.full(len(at[0]), float(self.way)), self.lines[0][at[0]], self.lines[1][at[1]]], axis=1)

    def filled(self, values: Array) -> Grid:
        """With what was predicted at the new nodes."""
        full = np.empty(self.new.shape)
        full[self.new], full[~self.new] = values, self.known
        return with_edges(Grid(self.lines, full))


def _wanted(even: Layout, scale: Scale, ways: Picks, parts: int) -> list[_Wanted]:
    """Of ways with as many sizes each."""
    if not len(ways):
        return []
    n, m = even.nodes[ways[0]]
    at = even.first[ways][:, None] + np.arange(n * m)
    values = np.moveaxis(even.values[at].reshape(len(ways), n, m, -1), 0, 2)
    suspect = [_suspect(np.moveaxis(values, k, 0), scale) for k in (0, 1)]
    found = []
    for w, column in np.argwhere(suspect[0].any(axis=0) | suspect[1].any(axis=0)):
        marks = [_cut(one[:, w, column], parts) for one in suspect]
        old = [np.arange(len(mark))[mark] % parts == 0 for mark in marks]
        lines = (even_line(len(marks[0]))[marks[0]], even_line(len(marks[1]))[marks[1]])
        new = ~np.outer(*old)
        found.append(_Wanted(int(ways[w]), int(column), lines, values[:, :, w, column].ravel(), new))
    return found


def _cut(suspect: Marks, parts: int) -> Marks:
    """Which lines there are of those so many times as close: even ones, and those in suspect gaps."""
    found = np.append(np.repeat(suspect, parts), True)
    found[::parts] = True
    return found


def _suspect(values: Array, scale: Scale) -> Marks:
    """Which gaps along the first axis of values, shape (n, m, ways, q), are to be cut, on any line across.

    A sharp bend within a gap turns its line against both neighbours', one in a neighbour only against that one. So the
    lesser of the two turns tells: a quarter of it is what the line is off by where the bend is in the middle of the
    gap; of a gentle curve it is twice that. Where there is no reading to either side, it may turn by all that it steps.
    """
    if len(values) < 3:
        return np.zeros((max(len(values) - 1, 0), *values.shape[2:]), dtype=bool)
    step = np.diff(values, axis=0)
    turn = np.abs(np.diff(step, axis=0))
    none = np.full((1, *turn.shape[1:]), np.nan)
    least = np.fmin(np.concatenate([none, turn]), np.concatenate([turn, none]))
    least = np.where(np.isnan(least), np.abs(step), least)
    size = np.nan_to_num(np.fmin(np.abs(values[1:]), np.abs(values[:-1])))
    gone = np.isnan(values)
    return np.asarray(((0.25 * least > _NEAR * scale.of(size)) | (gone[1:] != gone[:-1])).any(axis=1))
