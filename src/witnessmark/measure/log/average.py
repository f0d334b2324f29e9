"""Means of samples that follow one another too closely to be independent, and how far to trust them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from witnessmark.measure.log.series import Series

__all__ = ["Average", "average"]

FloatArray = NDArray[np.float64]

_NORMAL_90 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Average:
    """The mean of a parameter over one or several stretches.

    Parameters
    ----------
    value, sd : float [unit of the parameter]
        ``sd`` is that of the mean; 1.645 of it on either side hold the true mean in 90 of 100 cases.
    scatter : float [unit of the parameter]
        Standard deviation of single samples.
    count : int
        Samples.
    worth : float [-]
        How many independent samples they are worth.
    """

    value: float
    sd: float
    scatter: float
    count: int
    worth: float


def average(pieces: list[Series], *, floor: float = 0.0) -> Average | None:
    """The mean over stretches of one series, weighted by time.

    Parameters
    ----------
    pieces : list of Series
        Stretches of one series, as :meth:`Series.inside` gives them.
    floor : float [unit of the parameter]
        What averaging cannot take away (a sensor that is read late, a display that rounds), added as squares.

    Returns
    -------
    Average or None
        None below three samples in all.

    Notes
    -----
    The spread is found from means of blocks: where samples are correlated, means of longer blocks scatter more than
    those of as many independent samples would. Blocks grow until there are eight left (batch means; Law and Kelton,
    Simulation Modeling and Analysis, from memory). Few blocks widen by Student's factor.
    """
    used = [piece for piece in pieces if len(piece)]
    values = np.concatenate([piece.values for piece in used]) if used else np.empty(0)
    if values.size < 3:
        return None
    step = max((piece.step for piece in used), default=0.0)
    mean, scatter = float(np.mean(values)), float(np.std(values, ddof=1))
    variance, freedom = max(
        (_variance_of_mean(values, size) for size in _sizes(values.size)), key=lambda found: found[0]
    )
    rounding = step / np.sqrt(12.0) / np.sqrt(values.size) if scatter > 0.3 * step else step / np.sqrt(12.0)
    student = float(stdtrit(max(freedom, 1), 0.95)) / _NORMAL_90
    sd = float(np.sqrt(variance * student**2 + rounding**2 + floor**2))
    worth = scatter**2 / variance if variance > 0 else float(values.size)
    return Average(mean, sd, scatter, int(values.size), float(min(worth, values.size)))


def _sizes(count: int) -> list[int]:
    """Lengths of blocks: 1, 2, 4 … while at least eight blocks are left."""
    sizes = [1]
    while count // (2 * sizes[-1]) >= 8:
        sizes.append(2 * sizes[-1])
    return sizes


def _variance_of_mean(values: FloatArray, size: int) -> tuple[float, int]:
    blocks = values.size // size
    means = values[: blocks * size].reshape(blocks, size).mean(axis=1)
    return float(np.var(means, ddof=1)) / blocks, blocks - 1
