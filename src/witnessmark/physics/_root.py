"""Roots of many falling functions at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.chain import Values

__all__ = ["Fewer", "falling_root", "falling_root_of"]

_FEWER = 0.7  # share of rows still open, below which the others are no longer looked at

_Rows = NDArray[np.intp]


T = TypeVar("T")


class Fewer(Generic[T]):
    """Some rows of what is laid out for n, cut out once for as long as the same are asked for: rows only ever leave."""

    def __init__(self, whole: T, cut: Callable[[_Rows], T], n: int) -> None:
        self.whole, self.now, self.cut, self.n, self.count = whole, whole, cut, n, n

    def of(self, rows: _Rows) -> T:
        """Those rows, numbers of all n."""
        if len(rows) != self.count:
            self.now = self.whole if len(rows) == self.n else self.cut(rows)
            self.count = len(rows)
        return self.now


def falling_root(
    function: Callable[[Values], Values], low: Values, high: Values, *, precision: float = 1e-15
) -> Values:
    """Where functions that fall from left to right pass zero, each between its own ends.

    Chandrupatla's rule (Advances in Engineering Software 28 (1997), from memory): inverse quadratic interpolation where
    it can be trusted, bisection where not. Where both ends have one sign, the end nearer to zero is the answer: the
    caller's limits hold. ``precision`` is a share of the root and of a hundredth of the interval. Elementwise: one
    function's root does not depend on its neighbours'.
    """
    return _searched(lambda x, rows: function(x), low, high, precision, whole=True)


def falling_root_of(
    function: Callable[[Values, _Rows], Values], low: Values, high: Values, *, precision: float = 1e-15
) -> Values:
    """The same where functions can be looked at for some rows only, ``function(x, rows)``; rows along the first axis.

    Rows that have been found are not looked at again.
    """
    return _searched(function, low, high, precision, whole=False)


def _searched(
    function: Callable[[Values, _Rows], Values], low: Values, high: Values, precision: float, *, whole: bool
) -> Values:
    a, b = (np.array(x, dtype=np.float64) for x in np.broadcast_arrays(high, low))
    rows = np.arange(len(a) if a.ndim else 1)
    fa, fb = np.asarray(function(a, rows)), np.asarray(function(b, rows))
    a, b = np.broadcast_to(a, fa.shape).copy(), np.broadcast_to(b, fa.shape).copy()
    fa, fb = fa.copy(), fb.copy()
    outside = np.sign(fa) * np.sign(fb) > 0.0
    answer = np.asarray(np.where(np.abs(fa) < np.abs(fb), a, b))
    closed = np.asarray(outside)
    t, span = np.full(fa.shape, 0.5), 0.01 * np.abs(b - a)
    for _ in range(80):
        if np.all(closed):
            break
        if not whole and np.mean(open_ := _any_open(closed)) < _FEWER:
            rows = rows[open_]
            a, b, fa, fb, t, span, closed = (one[open_] for one in (a, b, fa, fb, t, span, closed))
        x = a + t * (b - a)
        fx = np.asarray(function(x, rows))
        same = np.sign(fx) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, fx
        near = np.abs(fa) < np.abs(fb)
        best, fbest = np.where(near, a, b), np.where(near, fa, fb)
        width = np.abs(b - a)
        finest = precision * (np.abs(best) + span) + 1e-300
        if whole:
            answer = np.where(outside, answer, best)
            closed = outside | (fbest == 0.0) | (width <= finest)
        else:
            answer[rows] = np.where(closed, answer[rows], best)
            closed = closed | (fbest == 0.0) | (width <= finest)
        t = np.clip(_fraction(a, b, c, fa, fb, fc), *_clear_of_ends(finest, width))
    found: Values = answer[()]
    return found


def _any_open(closed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(~np.all(closed.reshape(len(closed), -1), axis=1))


def _fraction(a: Values, b: Values, c: Values, fa: Values, fb: Values, fc: Values) -> Values:
    with np.errstate(divide="ignore", invalid="ignore"):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        trusted = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
        t = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
    return np.where(trusted & np.isfinite(t), t, 0.5)


def _clear_of_ends(finest: Values, width: Values) -> tuple[Values, Values]:
    least = np.minimum(0.5, 0.5 * finest / np.maximum(width, 1e-300))
    return least, 1.0 - least
