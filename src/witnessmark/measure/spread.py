"""A spread seen through noise: what is left of it, never below nothing, with an honest doubt."""

from __future__ import annotations

import numpy as np

__all__ = ["spread_behind"]

_POINTS = 800


def spread_behind(seen_var: float, noise_var: float, sd_of_difference: float) -> tuple[float, float]:
    """Mean and standard deviation of a spread whose square was seen with noise added.

    Parameters
    ----------
    seen_var : float, shape ()
        Variance as seen, in the square of the unit.
    noise_var : float, shape ()
        What the measurement itself puts in, the same unit.
    sd_of_difference : float, shape ()
        Standard deviation of ``seen_var - noise_var``, the same unit.

    Returns
    -------
    tuple of (float, float), shape () each
        Of the spread, in the unit.

    Notes
    -----
    The difference is normal about the true variance; every spread from 0 up is as likely beforehand. Cutting the
    difference off at 0 instead would call every small spread nothing, and be sure of it.
    """
    difference = seen_var - noise_var
    sigma = max(sd_of_difference, 1e-12)
    top = float(np.sqrt(max(difference, 0.0) + 6.0 * sigma))
    x = (np.arange(_POINTS) + 0.5) * top / _POINTS
    log_weight = -0.5 * ((x**2 - difference) / sigma) ** 2
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    mean = float(weight @ x)
    return mean, float(np.sqrt(weight @ (x - mean) ** 2))
