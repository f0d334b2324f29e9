"""Means of samples that follow one another too closely to be independent, and how far to trust them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from witnessmark.measure.log.series import Series

__all__ = ["Average", "average"]

FloatArray = NDArray[np.float64]

_NORMAL_90 = 1.6448536269514722
_UNIFORM = 0.45 / _NORMAL_90  # of a step: the spread whose 1.645 fold holds 90 % of an even rounding error
_MOST = 32  # blocks that the samples are gathered into, so that an hour at 20 Hz takes no longer than a minute
_SHARES = np.array([0.3, 0.6, 0.85, 0.95, 0.99])  # of the scatter, that goes on from sample to sample
_TIMES = 8  # decay times tried, from one sample to the whole length
_PERIODS = 6
_LEAST = 3
# What is thought beforehand of noise: fresh at every sample, dying away, swinging. Where few samples are, it decides.
_FRESH, _DYING, _SWINGING = 0.45, 0.38, 0.17


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
    """The mean over stretches of one series.

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
    The samples are taken as a mean, and around it noise of two kinds: fresh at every sample, and going on from one to
    the next, either dying away (exponential correlation) or swinging as it does (the same times a cosine: a closed loop
    that hunts). How much of it goes on, for how long and with what period is not known: each is tried on a grid, with
    mean and size integrated out (flat and Jeffreys' prior), and the mean's interval is that of the mixture. So uneven
    times, gaps, repeated values and few samples need no rule of their own; generalised least squares, any text on it.

    Rounded values add what scatter does not smooth: an even rounding error of one step, less what noise of the size
    seen takes off it: of normal noise exp(-2 (pi sigma/step)^2) is left, the first harmonic of the rounding's sawtooth,
    of a swing between two limits the envelope of sin(x)/x; the larger counts (Widrow's theory of quantisation, from
    memory).
    """
    used = [piece for piece in pieces if len(piece)]
    values = np.concatenate([piece.values for piece in used]) if used else np.empty(0)
    if values.size < _LEAST:
        return None
    scatter = float(np.std(values, ddof=1))
    step = max(piece.step for piece in used)
    if scatter <= 1e-9 * max(1.0, float(np.max(np.abs(values)))):
        value, spread = float(values.mean()), 0.0
    else:
        value, spread = _mixture(*_blocks(used))
    sd = float(np.sqrt(spread**2 + _rounding(scatter, step) ** 2 + floor**2))
    worth = (scatter / spread) ** 2 if spread > 0.0 else float(values.size)
    return Average(value, sd, scatter, int(values.size), float(np.clip(worth, 1.0, values.size)))


def _rounding(scatter: float, step: float) -> float:
    if step <= 0.0:
        return 0.0
    noise = np.sqrt(max(scatter**2 / step**2 - 1.0 / 12.0, 0.0))
    left = max(np.exp(-2.0 * (np.pi * noise) ** 2), 1.0 / (1.0 + 2.0 * np.pi * np.sqrt(3.0) * noise))
    return float(_UNIFORM * step * left)


def _blocks(pieces: list[Series]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time, mean and count of neighbouring samples, in no more than about 32 blocks."""
    size = max(1, -(-sum(len(piece) for piece in pieces) // _MOST))
    times, means, counts = [], [], []
    for piece in pieces:
        for part in np.array_split(np.arange(len(piece)), -(-len(piece) // size)):
            times.append(float(piece.times_s[part].mean()))
            means.append(float(piece.values[part].mean()))
            counts.append(float(part.size))
    return np.array(times), np.array(means), np.array(counts)


def _mixture(times_s: FloatArray, means: FloatArray, counts: FloatArray) -> tuple[float, float]:
    """Mean, and the standard deviation whose 1.645 fold holds 90 % of the mixture over all kinds of noise."""
    if means.size < 2:
        return float(means[0]), 0.0
    centre, scale = float(means.mean()), float(means.std()) or 1.0
    found = [_fit((means - centre) / scale, counts, None, _FRESH)]
    found += [_fit((means - centre) / scale, counts, going, prior) for going, prior in _correlations(times_s)]
    logs, at, spread = (np.concatenate(part) for part in zip(*found, strict=True))
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    value = float(weights @ at)
    half = _half_width(weights, at - value, spread, float(means.size - 1))
    return centre + scale * value, scale * half / _NORMAL_90


def _correlations(times_s: FloatArray) -> list[tuple[FloatArray, float]]:
    """Ways in which noise may go on: shape (n, n) each, and how likely each is thought beforehand."""
    apart = np.abs(times_s[:, None] - times_s[None, :])
    steps = np.diff(np.sort(times_s))
    near = float(np.median(steps))
    far = float(np.minimum(steps, 5.0 * near).sum())  # what was watched: gaps between stretches show no longer times
    decays = np.geomspace(0.5 * near, max(far, near), _TIMES)
    found = [(np.exp(-apart / decay), _DYING / _TIMES) for decay in decays]
    if times_s.size >= 8:
        for period in np.geomspace(2.2 * near, max(0.5 * far, 2.3 * near), _PERIODS):
            turn = np.cos(2.0 * np.pi * apart / period)
            found += [(turn * np.exp(-apart / (many * period)), 0.5 * _SWINGING / _PERIODS) for many in (0.7, 3.0)]
    return found


def _fit(
    means: FloatArray, counts: FloatArray, going: FloatArray | None, prior: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Logarithm of the evidence, estimate and standard error, for each share of noise that goes on."""
    root = np.sqrt(counts)
    y, one = root * means, root
    if going is None:
        shares, powers = np.zeros(1), np.zeros(means.size)
    else:
        powers, axes = np.linalg.eigh(root[:, None] * going * root[None, :])
        y, one = axes.T @ y, axes.T @ one
        shares = _SHARES
    variance = shares[:, None] * np.maximum(powers, 0.0)[None, :] + (1.0 - shares[:, None])
    weight = (one**2 / variance).sum(axis=1)
    at = (one * y / variance).sum(axis=1) / weight
    left = ((y[None, :] - at[:, None] * one[None, :]) ** 2 / variance).sum(axis=1)
    free = means.size - 1
    left = np.maximum(left, 1e-12)
    logs = np.log(prior / shares.size) - 0.5 * (np.log(variance).sum(axis=1) + np.log(weight) + free * np.log(left))
    return logs, at, np.sqrt(left / free / weight)


def _half_width(weights: FloatArray, off: FloatArray, spread: FloatArray, free: float) -> float:
    """Distance from the mean that holds 90 % of a mixture of Student's distributions."""
    counts = weights > 1e-5 * weights.max()
    weights, off, spread = weights[counts] / weights[counts].sum(), off[counts], spread[counts]
    low, high = 0.0, float(np.max(np.abs(off) + 50.0 * spread))
    for _ in range(40):
        middle = 0.5 * (low + high)
        inside = weights @ (stdtr(free, (middle - off) / spread) - stdtr(free, (-middle - off) / spread))
        low, high = (middle, high) if inside < 0.9 else (low, middle)
    return 0.5 * (low + high)
