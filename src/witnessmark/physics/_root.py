"""Roots of many falling functions at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from witnessmark.physics.chain import Values

__all__ = ["falling_root"]


def falling_root(
    function: Callable[[Values], Values], low: Values, high: Values, *, precision: float = 1e-15
) -> Values:
    """Where functions that fall from left to right pass zero, each between its own ends.

    Chandrupatla's rule (Advances in Engineering Software 28 (1997), from memory): inverse quadratic interpolation where
    it can be trusted, bisection where not. Where both ends have one sign, the end nearer to zero is the answer: the
    caller's limits hold. ``precision`` is a share of the root and of a hundredth of the interval. Elementwise: one
    function's root does not depend on its neighbours'.
    """
    a, b = (np.array(x, dtype=np.float64) for x in np.broadcast_arrays(high, low))
    fa, fb = np.asarray(function(a)), np.asarray(function(b))
    a, b = np.broadcast_to(a, fa.shape).copy(), np.broadcast_to(b, fa.shape).copy()
    fa, fb = fa.copy(), fb.copy()
    outside = np.sign(fa) * np.sign(fb) > 0.0
    answer = np.where(np.abs(fa) < np.abs(fb), a, b)
    t, span = np.full(fa.shape, 0.5), 0.01 * np.abs(b - a)
    for _ in range(80):
        x = a + t * (b - a)
        fx = np.asarray(function(x))
        same = np.sign(fx) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, fx
        near = np.abs(fa) < np.abs(fb)
        best, fbest = np.where(near, a, b), np.where(near, fa, fb)
        width = np.abs(b - a)
        finest = precision * (np.abs(best) + span) + 1e-300
        if np.all(outside | (fbest == 0.0) | (width <= finest)):
            break
        t = np.clip(_fraction(a, b, c, fa, fb, fc), *_clear_of_ends(finest, width))
    found: Values = np.where(outside, answer, best)[()]
    return found


def _fraction(a: Values, b: Values, c: Values, fa: Values, fb: Values, fc: Values) -> Values:
    with np.errstate(divide="ignore", invalid="ignore"):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        trusted = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
        t = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
    return np.where(trusted & np.isfinite(t), t, 0.5)


def _clear_of_ends(finest: Values, width: Values) -> tuple[Values, Values]:
    least = np.minimum(0.5, 0.5 * finest / np.maximum(width, 1e-300))
    return least, 1.0 - least
