"""A dear function of many numbers as a sum of tables along its axes and over chosen pairs of them.

The anchored decomposition f ≈ f₀ + Σ f_i(x_i) + Σ f_ij(x_i, x_j), every term zero where one of its numbers is the
anchor's: exact wherever all but two are there, and those two a chosen pair. Between the points at which the function
was worked out runs a cubic through the nearest four.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["Axis", "Expansion", "Placed", "expand"]

Array = NDArray[np.float64]
Dear = Callable[[Mapping[str, float]], Array]

_FINE, _COARSE = 8, 4
"""Steps of the straight-line tables for each step of the points, along an axis and over a pair."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One number: evenly spaced points of a scale on which the function runs smoothly.

    Parameters
    ----------
    name : str
    scale : str
        "even"; "log"; "log+" for log(1 + x/unit), from 0 on; "arc" for arcsin √x, 0 to 1.
    anchor : float, shape ()
        In the number's own unit.
    step : float, shape ()
        On the scale.
    below, above : int
        Points on either side of the anchor.
    stride : int
        Every so-manieth point is used for pairs.
    unit : float, shape ()
        Of "log+".
    """

    name: str
    scale: str
    anchor: float
    step: float
    below: int
    above: int
    stride: int = 1
    unit: float = 1.0

    def on_scale(self, x: Array) -> Array:
        """Values on the scale.

        Parameters
        ----------
        x : array, shape (n,)

        Returns
        -------
        array, shape (n,)
        """
        if self.scale == "log":
            return np.log(np.maximum(x, 1e-12))
        if self.scale == "log+":
            return np.log1p(np.maximum(x, 0.0) / self.unit)
        if self.scale == "arc":
            return np.arcsin(np.sqrt(np.clip(x, 0.0, 1.0)))
        return x

    def off_scale(self, t: Array) -> Array:
        """Back again.

        Parameters
        ----------
        t : array, shape (n,)

        Returns
        -------
        array, shape (n,)
        """
        if self.scale == "log":
            return np.exp(t)
        if self.scale == "log+":
            return np.maximum(self.unit * np.expm1(t), 0.0)
        if self.scale == "arc":
            return np.sin(np.clip(t, 0.0, 0.5 * np.pi)) ** 2
        return t

    def points(self, stride: int = 1) -> tuple[Array, int]:
        """Points in the number's own unit, and which of them is the anchor.

        Parameters
        ----------
        stride : int

        Returns
        -------
        points : array, shape (m,)
        anchor : int
        """
        below, above = self.below // stride, self.above // stride
        middle = float(self.on_scale(np.array([self.anchor]))[0])
        at = np.asarray(middle + self.step * stride * np.arange(-below, above + 1), dtype=np.float64)
        return self.off_scale(at), below

    def place(self, x: Array, stride: int, fine: int) -> tuple[NDArray[np.intp], Array]:
        """Where values lie in a table of straight lines; beyond its ends at its ends.

        Parameters
        ----------
        x : array, shape (n,)
        stride, fine : int

        Returns
        -------
        index : array of int, shape (n,)
        weight : array, shape (n,)
            Of the following point.
        """
        below, above = self.below // stride, self.above // stride
        middle = float(self.on_scale(np.array([self.anchor]))[0])
        at = ((self.on_scale(x) - middle) / (self.step * stride) + below) * fine
        last = (below + above) * fine
        at = np.clip(np.nan_to_num(at), 0.0, last)
        index = np.minimum(at.astype(np.intp), last - 1)
        return index, at - index


@dataclass(frozen=True, slots=True)
class Placed:
    """Where rows lie in every table: worked out once, used for each result that is asked.

    Parameters
    ----------
    rows : int
    single : tuple of (index, weight), each array of shape (n,) or (1,)
        By axis; one entry where all rows agree.
    double : tuple of (index, weights), index of shape (n,)
        By pair; shape of the weights (4, n).
    """

    rows: int
    single: tuple[tuple[NDArray[np.intp], Array], ...]
    double: tuple[tuple[NDArray[np.intp], Array], ...]


@dataclass(frozen=True, slots=True)
class Expansion:
    """Tables of one function with several results.

    Parameters
    ----------
    axes : tuple of Axis
    pairs : tuple of (str, str)
    middle : array, shape (results,)
        At the anchor.
    lines : tuple of array, shape (results, points)
        Along each axis, less ``middle``; fine.
    planes : tuple of array, shape (results, points, points)
        Over each pair, less all before; fine.
    error : array, shape (results,)
        Standard error on states held out.
    """

    axes: tuple[Axis, ...]
    pairs: tuple[tuple[str, str], ...]
    middle: Array
    lines: tuple[Array, ...]
    planes: tuple[Array, ...]
    error: Array

    @classmethod
    def through(
        cls, axes: tuple[Axis, ...], pairs: tuple[tuple[str, str], ...], middle: Array,
        lines: Sequence[Array], planes: Sequence[Array], error: Array,
    ) -> Expansion:  # fmt: skip
        """Fine tables through values at the points.

        Parameters
        ----------
        axes : tuple of Axis
        pairs : tuple of (str, str)
        middle : array, shape (results,)
        lines : sequence of array, shape (results, points)
        planes : sequence of array, shape (results, points, points)
        error : array, shape (results,)

        Returns
        -------
        Expansion
        """
        fine_lines = tuple(line @ _through(line.shape[1], _FINE).T for line in lines)
        fine_planes = tuple(
            _through(plane.shape[1], _COARSE) @ plane @ _through(plane.shape[2], _COARSE).T for plane in planes
        )
        return cls(axes, pairs, middle, fine_lines, fine_planes, error)

    def at_points(self) -> tuple[tuple[Array, ...], tuple[Array, ...]]:
        """Values at the points alone: all that has to be kept, a tenth of the fine tables.

        Returns
        -------
        lines : tuple of array, shape (results, points)
        planes : tuple of array, shape (results, points, points)
        """
        lines = tuple(np.ascontiguousarray(line[:, ::_FINE]) for line in self.lines)
        return lines, tuple(np.ascontiguousarray(plane[:, ::_COARSE, ::_COARSE]) for plane in self.planes)

    def place(self, at: Mapping[str, Array | float], rows: int) -> Placed:
        """Lay rows out for :meth:`read`.

        Parameters
        ----------
        at : mapping of str to float or array, shape (n,)
            By axis; at the anchor where left out.
        rows : int

        Returns
        -------
        Placed
        """
        columns = {
            axis.name: _narrow(np.asarray(at.get(axis.name, axis.anchor), dtype=np.float64)) for axis in self.axes
        }
        single = tuple(axis.place(columns[axis.name], 1, _FINE) for axis in self.axes)
        by_name = {axis.name: axis for axis in self.axes}
        coarse = {
            name: by_name[name].place(columns[name], by_name[name].stride, _COARSE)
            for name in {name for pair in self.pairs for name in pair}
        }
        double = []
        for (a, b), plane in zip(self.pairs, self.planes, strict=True):
            (i, v), (j, w) = coarse[a], coarse[b]
            weights = np.stack(np.broadcast_arrays((1.0 - v) * (1.0 - w), (1.0 - v) * w, v * (1.0 - w), v * w))
            double.append((i * plane.shape[2] + j, weights))
        return Placed(rows, single, tuple(double))

    def read(self, result: int, placed: Placed) -> Array:
        """One result for all rows.

        Parameters
        ----------
        result : int
        placed : Placed

        Returns
        -------
        array, shape (n,)
        """
        total = np.full(placed.rows, self.middle[result])
        for line, (index, weight) in zip(self.lines, placed.single, strict=True):
            here = line[result]
            total += here[index] * (1.0 - weight) + here[index + 1] * weight
        for plane, (index, weights) in zip(self.planes, placed.double, strict=True):
            here, width = plane[result].ravel(), plane.shape[2]
            total += (
                here[index] * weights[0]
                + here[index + 1] * weights[1]
                + here[index + width] * weights[2]
                + here[index + width + 1] * weights[3]
            )
        return total


def expand(
    dear: Dear, axes: Sequence[Axis], pairs: Sequence[tuple[str, str]], held_out: Sequence[Mapping[str, float]]
) -> Expansion:
    """Work a function out along its axes and over its pairs, and see how far it is off elsewhere.

    Parameters
    ----------
    dear : callable (mapping of str to float) -> array, shape (results,)
        At some numbers; at the anchor's where left out.
    axes : sequence of Axis
    pairs : sequence of (str, str)
    held_out : sequence of mapping, shape (m,)
        Where the tables are compared with the function.

    Returns
    -------
    Expansion
    """
    middle = dear({})
    at_points, by_name = {}, {axis.name: axis for axis in axes}
    lines = []
    for axis in axes:
        points, anchor = axis.points()
        found = [np.zeros_like(middle) if k == anchor else dear({axis.name: x}) - middle for k, x in enumerate(points)]
        at_points[axis.name] = np.array(found).T
        lines.append(at_points[axis.name])
    planes = []
    for a, b in pairs:
        first, second = by_name[a], by_name[b]
        alone_a, alone_b = _thinned(first, at_points[a]), _thinned(second, at_points[b])
        (xs, i0), (ys, j0) = first.points(first.stride), second.points(second.stride)
        plane = np.zeros((len(middle), len(xs), len(ys)))
        for i, x in enumerate(xs):
            for j, y in enumerate(ys):
                if i != i0 and j != j0:
                    plane[:, i, j] = dear({a: x, b: y}) - middle - alone_a[:, i] - alone_b[:, j]
        planes.append(plane)
    made = Expansion.through(tuple(axes), tuple(pairs), middle, lines, planes, np.zeros_like(middle))
    return replace(made, error=_error(made, dear, held_out))


def _error(made: Expansion, dear: Dear, held_out: Sequence[Mapping[str, float]]) -> Array:
    """What 68 % of the states held out stay within; a mean of squares would be the tale of the worst one."""
    if not held_out:
        return np.zeros_like(made.middle)
    true = np.array([dear(one) for one in held_out])
    columns = {axis.name: np.array([one.get(axis.name, axis.anchor) for one in held_out]) for axis in made.axes}
    placed = made.place(columns, len(held_out))
    off = np.stack([made.read(k, placed) for k in range(len(made.middle))], axis=1) - true
    return np.asarray(np.quantile(np.abs(off), 0.68, axis=0))


def _narrow(x: Array) -> Array:
    """One entry where all are alike."""
    flat = np.atleast_1d(x)
    return flat[:1] if flat.size and bool(np.all(flat == flat[0])) else flat


def _thinned(axis: Axis, values: Array) -> Array:
    """Values at the points that pairs use."""
    first = axis.below % axis.stride
    return values[:, first :: axis.stride][:, : axis.below // axis.stride + axis.above // axis.stride + 1]


@cache
def _through(points: int, fine: int) -> Array:
    """The matrix from values at points to a cubic through the nearest four of them, ``fine`` times as close."""
    matrix = np.zeros(((points - 1) * fine + 1, points))
    for k in range(len(matrix)):
        i = min(k // fine, points - 2)
        u = k / fine - i
        weights = (
            0.5 * (-u + 2.0 * u**2 - u**3),
            0.5 * (2.0 - 5.0 * u**2 + 3.0 * u**3),
            0.5 * (u + 4.0 * u**2 - 3.0 * u**3),
            0.5 * (u**3 - u**2),
        )
        for at, weight in zip(range(i - 1, i + 3), weights, strict=True):
            if 0 <= at < points:
                matrix[k, at] += weight
            else:  # beyond the end the last two run on straight
                end, inner = (0, 1) if at < 0 else (points - 1, points - 2)
                matrix[k, end] += 2.0 * weight
                matrix[k, inner] -= weight
    return matrix
