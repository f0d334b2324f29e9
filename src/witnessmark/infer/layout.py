"""What readings are at nodes along ways of faults, the nodes as close as each way needs, and straight between them.

Where a reading ceases between two nodes, two more stand side by side at the middle of the gap: up to there it goes on
as it came, beyond there is none. So a size that lies in the gap is not lost, and what is not known, where exactly it
ceases, errs to neither side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.table import along_last

__all__ = ["Grid", "Layout", "even_line", "with_edges"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]
Lines = tuple[Array, Array]

_BESIDE = 1e-8  # share of a size by which the two nodes at an edge stand off it
_APART = 2.0  # from one way's lines to the next one's, which reach from 0 to 1


def even_line(count: int) -> Array:
    """Evenly spaced shares from 0 to 1; of one the first.

    Parameters
    ----------
    count : int

    Returns
    -------
    ndarray, shape (count,) [-]
    """
    return np.arange(count) / max(count - 1, 1)


@dataclass(frozen=True, slots=True)
class Grid:
    """One reading along one way of a fault.

    Parameters
    ----------
    lines : tuple of two ndarray, shapes (n,) and (m,) [-]
        Rising shares of either size's range; of a way that has one size the first is one line.
    values : ndarray, shape (n, m)
        In the quantity's unit; NaN where there is no such reading. Of several readings shape (n, m, q).
    """

    lines: Lines
    values: Array


@dataclass(frozen=True, slots=True)
class Layout:
    """Some readings along all ways of faults.

    Parameters
    ----------
    values : ndarray, shape (nodes, q)
        In the quantities' units, node after node, way after way; the last line of a way runs fastest.
    first : ndarray of int, shape (ways,)
        Where each way's nodes begin.
    nodes : ndarray of int, shape (ways, 2)
        Along each size; 1 where there is none.
    keys : tuple of two ndarray
        Along each size the lines of all ways one after the other, so many times ``_APART`` on as the way's number.
    """

    values: Array
    first: Picks
    nodes: Picks
    keys: Lines

    @classmethod
    def even(cls, values: Array, nodes: Picks) -> Layout:
        """With nodes evenly spaced along every way.

        Parameters
        ----------
        values : ndarray, shape (nodes, q)
        nodes : ndarray of int, shape (ways, 2)

        Returns
        -------
        Layout
        """
        counts = nodes.prod(axis=1)
        keys = []
        for along in nodes.T:
            way = np.repeat(np.arange(len(along)), along)
            step = np.arange(len(way)) - np.repeat(np.cumsum(along) - along, along)
            keys.append(_APART * way + step / np.maximum(along - 1, 1)[way])
        return cls(values, (np.cumsum(counts) - counts).astype(np.intp), nodes, (keys[0], keys[1]))

    @classmethod
    def refined(cls, even: Layout, closer: Sequence[Mapping[int, Grid]]) -> Layout:
        """With closer nodes along some ways, each reading having its own.

        Parameters
        ----------
        even : Layout
        closer : sequence of mapping of int to Grid, length q
            Of each reading by the way's number.

        Returns
        -------
        Layout
            Along each way the nodes of all readings; between its own a reading is straight.
        """
        ways = sorted(set().union(*closer)) if closer else []
        if not ways:
            return even
        blocks = {}
        for way in ways:
            blocks[way] = _together(_plain(even, way), {j: own[way] for j, own in enumerate(closer) if way in own})
        return even._with(blocks)

    def edged(self) -> Layout:
        """With two nodes side by side in the middle of every gap of even ones in which a reading ceases.

        Returns
        -------
        Layout
        """
        gone = np.isnan(self.values)
        some, every = (of(gone, self.first, axis=0) for of in (np.logical_or.reduceat, np.logical_and.reduceat))
        ways = np.flatnonzero((some & ~every).any(axis=1))
        grids = {int(way): with_edges(_plain(self, int(way))) for way in ways}
        return self._with({way: (grid.lines, grid.values) for way, grid in grids.items()})

    def _with(self, blocks: Mapping[int, tuple[Lines, Array]]) -> Layout:
        """With other lines along some ways, and all readings there, each shape (n, m, q)."""
        if not blocks:
            return self
        nodes = self.nodes.copy()
        lines = [_cut(key, self.nodes[:, axis]) for axis, key in enumerate(self.keys)]
        for way, (own, _) in blocks.items():
            nodes[way] = len(own[0]), len(own[1])
            for axis in (0, 1):
                lines[axis][way] = own[axis] + _APART * way
        counts = nodes.prod(axis=1)
        first = (np.cumsum(counts) - counts).astype(np.intp)
        values = np.empty((int(counts.sum()), self.values.shape[1]))
        as_it_was = np.ones(len(nodes), dtype=bool)
        as_it_was[list(blocks)] = False
        values[np.repeat(as_it_was, counts)] = self.values[np.repeat(as_it_was, self.nodes.prod(axis=1))]
        for way, (_, block) in blocks.items():
            values[first[way] : first[way] + counts[way]] = block.reshape(int(counts[way]), -1)
        return Layout(values, first, nodes, (np.concatenate(lines[0]), np.concatenate(lines[1])))

    def at(self, way: Picks, share: Array) -> Array:
        """Readings between the nodes.

        Parameters
        ----------
        way : ndarray of int, shape (n,)
        share : ndarray, shape (n, 2) [-]
            Of each size's range; what a way has not is not read.

        Returns
        -------
        ndarray, shape (n, q)
            NaN where a node beside has no such reading.
        """
        count = self.nodes[way]
        low, part = self._cell(1, way, share[:, 1])
        start = self.first[way] + low
        if not np.any(count[:, 0] > 1):
            return along_last(self.values, start, part, count[:, 1])
        row, across = self._cell(0, way, share[:, 0])
        start = start + row * count[:, 1]
        mean = along_last(self.values, start, part, count[:, 1])
        beyond = along_last(self.values, start + np.where(count[:, 0] > 1, count[:, 1], 0), part, count[:, 1])
        mean += across[:, None] * (beyond - mean)
        return mean

    def _cell(self, axis: int, way: Picks, share: Array) -> tuple[Picks, Array]:
        """Along one size the line before each share, and how far from it to the next one."""
        keys, many = self.keys[axis], self.nodes[:, axis]
        begin = (np.cumsum(many) - many)[way]
        last = np.maximum(many[way] - 2, 0)
        key = _APART * way + np.clip(share, 0.0, 1.0)
        low = np.clip(np.searchsorted(keys, key, side="right") - 1 - begin, 0, last)
        near = keys[begin + low]
        gap = keys[begin + np.minimum(low + 1, many[way] - 1)] - near
        return low, np.where(gap > 0.0, (key - near) / np.where(gap > 0.0, gap, 1.0), 0.0)


def with_edges(grid: Grid) -> Grid:
    """The same with two nodes side by side in the middle of every gap in which the reading ceases.

    Parameters
    ----------
    grid : Grid

    Returns
    -------
    Grid
    """
    second, values = _edged(grid.lines[1], grid.values.swapaxes(0, 1))
    first, values = _edged(grid.lines[0], values.swapaxes(0, 1))
    return Grid((first, second), values)


def _edged(line: Array, values: Array) -> tuple[Array, Array]:
    """Along the first axis of values of shape (n, m, ...)."""
    gone = np.isnan(values)
    gaps = np.flatnonzero((gone[1:] != gone[:-1]).any(axis=tuple(range(1, values.ndim))))
    if not len(gaps):
        return line, values
    width = np.diff(line).reshape(-1, *(1,) * (values.ndim - 1))
    slope = np.diff(values, axis=0) / width
    none = np.full((1, *values.shape[1:]), np.nan)
    before, after = np.concatenate([none, slope[:-1]]), np.concatenate([slope[1:], none])
    half = 0.5 * width[gaps]
    between = 0.5 * (values[gaps] + values[gaps + 1])  # not a number beside an edge
    onward = values[gaps] + np.nan_to_num(before[gaps]) * half
    back = values[gaps + 1] - np.nan_to_num(after[gaps]) * half
    left = np.where(gone[gaps + 1], onward, between)
    right = np.where(gone[gaps], back, between)
    middle = 0.5 * (line[gaps] + line[gaps + 1])
    order = np.argsort(np.concatenate([line, middle - _BESIDE, middle + _BESIDE]), kind="stable")
    line = np.concatenate([line, middle - _BESIDE, middle + _BESIDE])[order]
    return line, np.concatenate([values, left, right])[order]


def _plain(even: Layout, way: int) -> Grid:
    """All readings at the even nodes of one way, shape (n, m, q)."""
    n, m = even.nodes[way]
    values = even.values[even.first[way] : even.first[way] + n * m].reshape(n, m, -1)
    return Grid((even_line(int(n)), even_line(int(m))), values)


def _cut(keys: Array, many: Picks) -> list[Array]:
    return np.split(keys, np.cumsum(many)[:-1])


def _together(even: Grid, closer: Mapping[int, Grid]) -> tuple[Lines, Array]:
    """All lines that any reading has of one way, and all readings there, shape (n, m, q)."""
    every = [even, *closer.values()]
    joint: Lines = (
        np.unique(np.concatenate([grid.lines[0] for grid in every])),
        np.unique(np.concatenate([grid.lines[1] for grid in every])),
    )
    count = even.values.shape[2]
    found = np.empty((len(joint[0]), len(joint[1]), count))
    rest = np.array([j for j in range(count) if j not in closer], dtype=np.intp)
    found[:, :, rest] = _at_lines(Grid(even.lines, even.values[:, :, rest]), joint)
    alike: dict[bytes, list[int]] = {}
    for j, grid in closer.items():
        alike.setdefault(grid.lines[0].tobytes() + b"|" + grid.lines[1].tobytes(), []).append(j)
    for members in alike.values():
        values = np.stack([closer[j].values for j in members], axis=2)
        found[:, :, members] = _at_lines(Grid(closer[members[0]].lines, values), joint)
    return joint, found


def _at_lines(grid: Grid, joint: Lines) -> Array:
    """Straight between the lines of a grid, one axis after the other; values may have further axes."""
    values = grid.values
    for axis, (own, wanted) in enumerate(zip(grid.lines, joint, strict=True)):
        if len(own) == len(wanted):
            continue
        low = np.clip(np.searchsorted(own, wanted, side="right") - 1, 0, max(len(own) - 2, 0))
        moved = np.moveaxis(values, axis, 0)
        part = ((wanted - own[low]) / (own[np.minimum(low + 1, len(own) - 1)] - own[low])).reshape(-1, 1, 1)
        near, far = moved[low], moved[np.minimum(low + 1, len(own) - 1)]
        line = np.where(part >= 1.0, far, near + part * (far - near))
        values = np.moveaxis(np.where(part <= 0.0, near, line), 0, axis)
    return values
