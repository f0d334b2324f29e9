"""Integrals along lines of unevenly spaced points whose logarithm is smooth, though the function itself falls steeply.

Between two points the logarithm is taken as a straight line, whose exponential is integrated exactly, bent by what its
slopes at the two ends say. So a peak at the very end of a range costs no more points than one inside it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.logsum import log_sum

__all__ = ["inside", "is_told", "node_masses", "sheet_is_told", "unevenness", "worst_gaps"]

Array = NDArray[np.float64]
_TINY = 1e-12
_LOWEST = -1e4  # of a log density: far below anything that counts, so that sums stay finite
_BEND_AT_MOST = 2.0  # nats at the middle of a gap
# How much a step between two points is trusted less than a bend: squares of its height, in nats.
_STEP = 0.02
# Points that already give an integral: how alike it is with half of them, in nats; how much the logarithm bends from
# one point to the next but one, where it is no further below the integral than that.
_ALIKE, _STRAIGHT, _HOLDS = 0.01, 0.5, 7.0
_STEEP = 3.0  # nats by which two neighbouring gaps differ, to be called a step


def inside(low: Array, high: Array, count: int) -> Array:
    """Evenly spaced points strictly inside ranges cut to 0..1.

    Parameters
    ----------
    low, high : ndarray, shape (lines,)
    count : int

    Returns
    -------
    ndarray, shape (lines, count)
    """
    share = (np.arange(count) + 0.5) / count
    a, b = np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)
    return np.asarray(a[:, None] + (b - a)[:, None] * share)


def node_masses(u: Array, y: Array) -> Array:
    """Log of the integral of exp(y) along every line, shared out to its points.

    Parameters
    ----------
    u : ndarray, shape (lines, n)
        Points, in any order.
    y : ndarray, shape (lines, n)
        Log of the function there; -inf allowed.

    Returns
    -------
    ndarray, shape (lines, n)
        In the order of the points; the sum of the exponentials is the integral, and its first moment is kept as well.
    """
    if u.shape[1] == 1:
        return y.copy()
    order, h, a, b = _sorted(u, y)
    gap = _gap_mass(h, a, b)
    k = np.maximum(np.abs(b - a), 1e-6)
    # Share of a gap's mass that falls to its lighter end, so that its centre of mass stays where it is.
    light = np.where(k < 1e-3, 0.5 - k / 12.0, 1.0 / k - 1.0 / np.expm1(np.minimum(k, 500.0)))
    to_left = np.where(a >= b, 1.0 - light, light)
    top = np.max(gap, axis=1, keepdims=True)
    mass = np.exp(gap - top)
    total = np.zeros_like(u)
    total[:, :-1] += mass * to_left
    total[:, 1:] += mass * (1.0 - to_left)
    result = np.empty_like(u)
    with np.errstate(divide="ignore"):
        np.put_along_axis(result, order, np.log(total) + top, axis=1)
    return result


def worst_gaps(u: Array, y: Array, count: int) -> Array:
    """Middles of the gaps that an integral along each line hangs on most.

    Parameters
    ----------
    u, y : ndarray, shape (lines, n)
        As for :func:`node_masses`.
    count : int
        How many of each line.

    Returns
    -------
    ndarray, shape (lines, count)
    """
    order, h, a, b = _sorted(u, y)
    gap = _gap_mass(h, a, b)
    doubt = gap + np.log(np.abs(_bend(h, a, b)) + _STEP * (b - a) ** 2 + _TINY)
    doubt = np.where(h < 1e-6, -np.inf, doubt)
    worst = np.argsort(-doubt, axis=1)[:, :count]
    left = np.take_along_axis(np.take_along_axis(u, order, axis=1), worst, axis=1)
    return np.asarray(left + 0.5 * np.take_along_axis(h, worst, axis=1))


def unevenness(u: Array, y: Array) -> Array:
    """How far lines are from being made of straight pieces, where their mass is: bends squared, in squares of nats.

    Parameters
    ----------
    u, y : ndarray, shape (lines, n)
        As for :func:`node_masses`.

    Returns
    -------
    ndarray, shape (lines,)
        A normal law with points one spread apart has 0.02.
    """
    _, h, a, b = _sorted(u, y)
    gap = _gap_mass(h, a, b)
    share = np.exp(gap - log_sum(gap)[:, None])
    return np.asarray(np.einsum("ln,ln->l", share, _bend(h, a, b) ** 2))


def is_told(y: Array) -> NDArray[np.bool_]:
    """Whether evenly spaced points over 0..1 already give the integrals of lines.

    Every second point alone has to give nearly the same, and wherever there is mass the logarithm has to be nearly
    straight from one point to the next but one: two rules that agree by chance do not do so on such a line.

    Parameters
    ----------
    y : ndarray, shape (lines, n)
        Log of the function; n odd.

    Returns
    -------
    ndarray of bool, shape (lines,)
    """
    u = np.broadcast_to(np.linspace(0.0, 1.0, y.shape[1]), y.shape)
    whole, half = (log_sum(node_masses(u[:, ::k], y[:, ::k])) for k in (1, 2))
    near = np.maximum(np.maximum(y[:, :-2], y[:, 2:]), y[:, 1:-1])
    bend = np.where(near > whole[:, None] - _HOLDS, _bends(y), 0.0)
    return np.asarray((np.abs(whole - half) < _ALIKE) & (bend.max(axis=1) < _STRAIGHT))


def sheet_is_told(y: Array) -> bool:
    """Whether the points of an even square grid over 0..1 by 0..1 already give its integral.

    Parameters
    ----------
    y : ndarray, shape (n, n)
        Log of the function; n odd.

    Returns
    -------
    bool
        As :func:`is_told`, along all lines of both axes that hold anything, and leaving out every second line of either
        axis or of both.
    """
    line = np.linspace(0.0, 1.0, len(y))
    whole = _sheet_total(y, line, line)
    for table in (y, y.T):
        near = np.maximum(np.maximum(table[:, :-2], table[:, 2:]), table[:, 1:-1])
        if np.any((near > whole - _HOLDS) & (_bends(table) > _STRAIGHT)):
            return False
    fewer = ((2, 1), (1, 2), (2, 2))
    return all(abs(_sheet_total(y[::a, ::b], line[::a], line[::b]) - whole) < _ALIKE for a, b in fewer)


def _bends(y: Array) -> Array:
    """By how much each inner point's two neighbours are off a straight line, in nats."""
    return np.asarray(np.abs(y[:, :-2] - 2.0 * y[:, 1:-1] + y[:, 2:]))


def _sheet_total(square: Array, outer: Array, inner: Array) -> float:
    lines = log_sum(node_masses(np.broadcast_to(inner, square.shape), np.ascontiguousarray(square)))
    return float(log_sum(node_masses(outer[None, :], lines[None, :]))[0])


def _sorted(u: Array, y: Array) -> tuple[NDArray[np.intp], Array, Array, Array]:
    """Order of the points, widths of the gaps, log values at their two ends."""
    order = np.argsort(u, axis=1, kind="stable")
    values = np.maximum(np.take_along_axis(y, order, axis=1), _LOWEST)
    widths = np.maximum(np.diff(np.take_along_axis(u, order, axis=1), axis=1), _TINY)
    return order, widths, values[:, :-1], values[:, 1:]


def _bend(h: Array, a: Array, b: Array) -> Array:
    """How far the logarithm stands above the straight line at the middle of every gap, in nats.

    From slopes at the points by parabolas through three neighbours (cubic Hermite interpolation).
    """
    slope = (b - a) / h
    if h.shape[1] < 2:
        return np.zeros_like(h)
    left, right = slope[:, :-1], slope[:, 1:]
    inner = (left * h[:, 1:] + right * h[:, :-1]) / (h[:, :-1] + h[:, 1:])
    # Beside a step the parabola would overshoot into the level part: there the gentler of the two slopes holds.
    step = np.abs(left - right) * np.minimum(h[:, :-1], h[:, 1:]) > _STEEP
    gentle = np.where(left * right > 0.0, np.where(np.abs(left) < np.abs(right), left, right), 0.0)
    inner = np.where(step, gentle, inner)
    first = ((2.0 * h[:, :1] + h[:, 1:2]) * slope[:, :1] - h[:, :1] * slope[:, 1:2]) / (h[:, :1] + h[:, 1:2])
    last = ((2.0 * h[:, -1:] + h[:, -2:-1]) * slope[:, -1:] - h[:, -1:] * slope[:, -2:-1]) / (h[:, -1:] + h[:, -2:-1])
    at = np.concatenate([first, inner, last], axis=1)
    # Where the log jumps by much, slopes beside the jump say nothing of it: bend no more than the jump's own half.
    most = np.minimum(_BEND_AT_MOST, 0.25 + 0.5 * np.abs(b - a))
    return np.asarray(np.clip(h / 8.0 * (at[:, :-1] - at[:, 1:]), -most, most))


def _gap_mass(h: Array, a: Array, b: Array) -> Array:
    """Log of the integral over every gap."""
    k = np.maximum(np.abs(b - a), 1e-9)
    straight = np.maximum(a, b) + np.log(-np.expm1(-k) / k)
    # The bend, averaged over the gap with the straight line's weight: 2/3 of it where flat, 4/k where steep.
    return np.asarray(np.log(h) + straight + 4.0 / (6.0 + k) * _bend(h, a, b))
