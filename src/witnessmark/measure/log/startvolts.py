"""The voltage that a starter pulls down to, out of samples that come down with a computer's smoothing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.average import EVEN_90
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan

__all__ = ["CRANK_SAMPLES", "pulled_down"]

FloatArray = NDArray[np.float64]

CRANK_SAMPLES = 3
"""Values of a start, below which nothing but a bound is told."""
_LAGS_S = np.linspace(0.02, 0.5, 13)  # of smoothing, each as likely; our guess
_LEADS_S = np.linspace(0.0, 0.4, 5)  # by which the starter turns before a speed is shown; our guess
_LOWEST_V = 0.1  # what comes after the last value so close to the lowest is of an engine that fires; our guess
_BEFORE_S, _APART_S = 8.0, 0.5  # how long before a start, and how close to it, a standing voltage counts
_NOISE_V, _PRIOR = 0.05, 3.0  # of single samples and of a lag that is none of first order; worth as many; our guess


def pulled_down(volts: Series, starts: Sequence[StateSpan]) -> tuple[float, float] | None:
    """Voltage while the starter turns the engine.

    Parameters
    ----------
    volts : Series
    starts : sequence of StateSpan
        The cranking stretches.

    Returns
    -------
    tuple of (float, float) or None [V]
        Voltage and standard deviation; None below three samples in all, or where no start tells.

    Notes
    -----
    What is shown comes down from the voltage before the start to that of the start as a first-order lag does. How slow
    the lag is and how long before the first shown speed it began is not known: both are tried on a grid, with the
    voltage found by least squares, and weighed by Student's likelihood of what is left (a few samples of the usual
    noise counted in). The spread is that of the mixture; several starts are weighed by theirs.
    """
    shown = [(_down(piece), s) for s in starts if len(piece := volts.inside(s.from_s, s.to_s))]
    if sum(len(one) for one, _ in shown) < CRANK_SAMPLES:
        return None
    told = [_settled(volts, one, s.from_s) for one, s in shown]
    weights = np.array([1.0 / sd**2 for _, sd in told])
    return float(weights @ np.array([value for value, _ in told]) / weights.sum()), float(weights.sum() ** -0.5)


def _down(shown: Series) -> Series:
    """Without what rises again at the end."""
    last = int(np.flatnonzero(shown.values <= shown.values.min() + _LOWEST_V)[-1])
    return shown.inside(float(shown.times_s[0]), float(shown.times_s[last]))


def _settled(volts: Series, shown: Series, from_s: float) -> tuple[float, float]:
    """Where the samples of one start come to, and how sure that is."""
    before = volts.inside(from_s - _BEFORE_S, from_s - _APART_S).values
    leads = _LEADS_S if before.size else np.zeros(1)
    begun = from_s if before.size else float(shown.times_s[0])
    high = float(np.median(before)) if before.size else float(shown.values[0])
    since = shown.times_s - begun + leads[:, None, None]
    left = np.exp(-since / _LAGS_S[:, None])  # (leads, lags, n)
    come = 1.0 - left
    power = np.square(come).sum(axis=2) + 1e-6
    at = (come * (shown.values - high * left)).sum(axis=2) / power
    off = np.square(shown.values - high * left - at[:, :, None] * come).sum(axis=2)
    off += _PRIOR * (_NOISE_V**2 + (EVEN_90 * volts.step) ** 2)
    free = len(shown) + _PRIOR - 1.0
    logs = -0.5 * (np.log(power) + free * np.log(off))
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    value = float((weights * at).sum())
    spread = (weights * (np.square(at - value) + off / free / power)).sum()
    return value, float(np.sqrt(spread))
