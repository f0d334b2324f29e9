"""The logistic curve, for what is asked on every start: SciPy's own takes a tenth of a second to import."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.model import Values

__all__ = ["expit", "step"]

_PER_SPREAD = np.pi / 3.0**0.5  # of the logistic law


def expit(x: Values) -> NDArray[np.float64]:
    """1 / (1 + e⁻ˣ), as ``scipy.special.expit``.

    Parameters
    ----------
    x : float or array, shape (n,) [-]

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(np.asarray(x, dtype=np.float64), -700.0, 700.0))))


def step(spreads: Values) -> NDArray[np.float64]:
    """A blurred threshold: logistic, with the standard deviation of one unit.

    Parameters
    ----------
    spreads : ndarray
        Distance beyond the threshold, of any shape, in standard deviations [-].

    Returns
    -------
    ndarray
        Of the same shape [-].
    """
    return expit(_PER_SPREAD * np.clip(spreads, -30.0, 30.0))
