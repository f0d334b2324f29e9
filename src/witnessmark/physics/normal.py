"""Chances on the normal curve, for what is asked on every start: SciPy takes two tenths of a second to import."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.chain import Values

__all__ = ["ndtr"]

Array = NDArray[np.float64]

# Rational functions of Cody for the error function and its complement: numerator and denominator, highest power first.
_NEAR = (
    (1.85777706184603153e-1, 3.16112374387056560, 1.13864154151050156e2, 3.77485237685302021e2, 3.20937758913846947e3),
    (1.0, 2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3, 2.84423683343917062e3),
)
_MIDDLE = (
    (
        2.15311535474403846e-8, 5.64188496988670089e-1, 8.88314979438837594, 6.61191906371416295e1,
        2.98635138197400131e2, 8.81952221241769090e2, 1.71204761263407058e3, 2.05107837782607147e3,
        1.23033935479799725e3,
    ),
    (
        1.0, 1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2, 1.62138957456669019e3,
        3.29079923573345963e3, 4.36261909014324716e3, 3.43936767414372164e3, 1.23033935480374942e3,
    ),
)  # fmt: skip
_FAR = (
    (
        1.63153871373020978e-2, 3.05326634961232344e-1, 3.60344899949804439e-1, 1.25781726111229246e-1,
        1.60837851487422766e-2, 6.58749161529837803e-4,
    ),
    (
        1.0, 2.56852019228982242, 1.87295284992346725, 5.27905102951428412e-1, 6.05183413124413191e-2,
        2.33520497626869185e-3,
    ),
)  # fmt: skip
_NEAR_TO, _MIDDLE_TO, _NOTHING_FROM = 0.46875, 4.0, 27.0


def ndtr(x: Values) -> Array:
    """Chance to lie below, on the normal curve of mean 0 and spread 1; as ``scipy.special.ndtr``.

    Parameters
    ----------
    x : float or array of any shape [-]

    Returns
    -------
    ndarray, of the same shape [-]

    Notes
    -----
    Φ(x) = erfc(-x/√2) / 2, and erfc by the rational functions of W. J. Cody, Rational Chebyshev approximations for the
    error function, Math. Comp. 23, 1969 (coefficients from memory, held against SciPy in the tests).

    Examples
    --------
    >>> np.round(ndtr(np.array([-1.0, 0.0, 1.6449])), 4).tolist()
    [0.1587, 0.5, 0.95]
    """
    given = np.asarray(x, dtype=np.float64)
    flat = -math.sqrt(0.5) * given.ravel()
    size = np.abs(flat)
    complement = np.zeros(size.shape)  # of the size
    near, far = size <= _NEAR_TO, size > _MIDDLE_TO
    middle = ~(near | far)
    if near.any():
        complement[near] = 1.0 - size[near] * _ratio(_NEAR, size[near] ** 2)
    if middle.any():
        complement[middle] = np.exp(-(size[middle] ** 2)) * _ratio(_MIDDLE, size[middle])
    far &= size < _NOTHING_FROM
    if far.any():
        y = size[far]
        tail = (math.sqrt(1.0 / math.pi) - _ratio(_FAR, y**-2.0) * y**-2.0) / y
        complement[far] = np.exp(-(y**2)) * tail
    below = np.where(flat < 0.0, 1.0 - 0.5 * complement, 0.5 * complement)
    return np.asarray(np.where(np.isnan(flat), np.nan, below).reshape(given.shape))


def _ratio(parts: tuple[tuple[float, ...], tuple[float, ...]], x: Array) -> Array:
    """Of two polynomials, by Horner's rule."""
    over, under = (np.full(x.shape, part[0]) for part in parts)
    for a in parts[0][1:]:
        over = over * x + a
    for b in parts[1][1:]:
        under = under * x + b
    return np.asarray(over / under)
