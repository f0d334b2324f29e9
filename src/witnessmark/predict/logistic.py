"""The logistic curve, for what is asked on every start: SciPy's own takes a tenth of a second to import."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.model import Values

__all__ = ["expit"]


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
