"""How fast a phaser moves its cam, as far as the rate of the samples tells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.estimate import NORMAL_90
from witnessmark.measure.log.phasermove import DEAD_S, SETTLES_S, STILL_DEG, Moves, Step

__all__ = ["Slew", "slew_of"]

FloatArray = NDArray[np.float64]

_USED = 0.85  # of the way: beyond it the course hangs on how the control ends it
# In these a control that brakes goes most of what is left; common practice, no source.
_BRAKES_S = (0.0, 0.03, 0.06, 0.1)
_SHAPE = 0.01  # of the way by which a real course differs from a straight one; our guess
_LEAST_NOISE_DEG = 0.2
_LATER = 4
_SLEWS = np.geomspace(3.0, 900.0, 100)  # the fastest is out of reach of any phaser; our guess
_ONE_SIDED = 0.147  # of the greatest likelihood at the lower end of an interval of 97.5 %: exp(-1.96²/2), Wilks
_WIDEST = 3.0  # ends of an interval may be that far apart; beyond that the lower end alone is told
_TOLD = 0.1  # where the fastest stays that likely against the likeliest, samples come too seldom to tell


@dataclass(frozen=True, slots=True)
class Slew:
    """How fast a phaser moves.

    Parameters
    ----------
    value, sd : float [deg/s]
        Middle of the interval that holds it in 90 of 100 cases, and its half width over 1.645.
    at_least : float [deg/s]
        Its lower end, in 95 of 100 cases.
    bounded : bool
        False where the samples come too seldom to say more than ``at_least``.
    steps : int
    dead_s, dead_sd : float [s]
        From the command to the first movement.
    settles_s : float [s]
        From the command until it stays, middle over the steps; infinite where it never does.
    """

    value: float
    sd: float
    at_least: float
    bounded: bool
    steps: int
    dead_s: float
    dead_sd: float
    settles_s: float


def slew_of(moves: Moves, *, stamp_s: float = 0.0, step_deg: float = 0.0) -> Slew | None:
    """How fast a cam moves, from all steps that it followed.

    Parameters
    ----------
    moves : Moves
    stamp_s : float [s]
        Spacing of the time stamps.
    step_deg : float [deg]
        Of what the file can hold.

    Returns
    -------
    Slew or None
        None where no step was followed.

    Notes
    -----
    Each course is at rest, moves at an even rate after a dead time of up to 0.6 s, brakes, and rests: begin, rate and
    braking are laid out on a grid, all but the rate are summed over, and the rate is common to all steps. Of the way
    85 % are used. Every rate from 3 to 900 °/s is as likely as any other in proportion; where the fastest stays
    possible, the samples come too seldom and only the lower end says something.
    """
    followed = [step for step in moves.steps if step.followed]
    if not followed:
        return None
    noise = _noise(moves.steps, step_deg)
    rows = np.array([_log_likelihoods(step, noise, stamp_s)[0] for step in followed])
    weights = _weights(rows.sum(axis=0))
    low, high = _quantile(weights, 0.05), _quantile(weights, 0.95)
    apart = _apart(rows)
    value, half = 0.5 * (low + high), 0.5 * (high - low)
    half = float(np.hypot(half, NORMAL_90 * apart / np.sqrt(len(followed))))
    tailed = bool(weights[-1] >= _TOLD * weights.max())
    bounded = not tailed and high <= _WIDEST * low
    if not bounded:
        low = float(_SLEWS[np.argmax(weights > _ONE_SIDED * weights.max())])
    dead, dead_sd = _dead(followed, noise, stamp_s)
    settles = float(np.median([_settles(step, noise) for step in followed]))
    return Slew(value, half / NORMAL_90, low, bounded, len(followed), dead, dead_sd, settles)


def _noise(steps: Sequence[Step], step_deg: float) -> float:
    """Of single samples, from those at rest after a step."""
    rests = [step.values[step.times_s > step.to_s + SETTLES_S] for step in steps]
    differences = np.concatenate([np.diff(rest) for rest in rests if rest.size > 1] or [np.zeros(1)])
    usual = differences[np.abs(differences) <= max(4.0 * float(np.median(np.abs(differences))), 2.0 * step_deg)]
    found = float(np.sqrt(np.mean(np.square(usual)) / 2.0)) if usual.size else 0.0
    return float(max(found, step_deg / 12.0**0.5, _LEAST_NOISE_DEG))


def _log_likelihoods(step: Step, noise: float, stamp_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """By rate, shape (r,), summed over begins; by begin, shape (b,), summed over rates; and the begins [s]."""
    size = abs(step.moved_deg)
    share = np.minimum((step.values - step.before_deg) / step.moved_deg, _USED)
    # Once it is there, later samples say nothing more of how it came.
    last = int(np.argmax(share >= _USED)) + _LATER if bool((share >= _USED).any()) else share.size
    share, times = share[:last], step.times_s[:last]
    begins = np.linspace(step.from_s, step.to_s + DEAD_S, 64)
    since = np.maximum(times[None, :] - begins[:, None], 0.0)
    # One way of braking after the other: all are as likely.
    every = [
        _misfit(share, np.minimum(_course(since, size, brakes), _USED), size, noise, stamp_s) for brakes in _BRAKES_S
    ]
    both = _log_sum(np.array(every), 0)
    return _log_sum(both, 1), _log_sum(both, 0), begins


def _course(since: FloatArray, size: float, brakes_s: float) -> FloatArray:
    """Share of the way gone, shape (rates, begins, samples): evenly, and in the end by what is left over a time."""
    rate = _SLEWS[:, None, None]
    left = np.minimum(rate * brakes_s / size, 1.0)  # where it begins to brake
    even = since[None] * rate / size
    if brakes_s == 0.0:
        return np.minimum(even, 1.0)
    later = np.maximum(since[None] - (1.0 - left) * size / rate, 0.0)
    return np.where(even < 1.0 - left, even, 1.0 - left * np.exp(-later / brakes_s))


def _misfit(share: FloatArray, course: FloatArray, size: float, noise: float, stamp_s: float) -> FloatArray:
    """Logarithm of the likelihood, shape (rates, begins)."""
    on_the_way = (course > 0.0) & (course < _USED)
    jitter = np.where(on_the_way, _SLEWS[:, None, None] * stamp_s / np.sqrt(12.0) / size, 0.0)
    spread = np.sqrt((noise / size) ** 2 + _SHAPE**2 * (on_the_way | (share < _USED)[None, None]) + jitter**2)
    lost = -0.5 * np.square((share[None, None] - course) / spread) - np.log(spread)
    return np.asarray(lost.sum(axis=2))


def _log_sum(values: FloatArray, axis: int) -> FloatArray:
    top = values.max(axis=axis, keepdims=True)
    return np.asarray(np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis=axis))


def _weights(logs: FloatArray) -> FloatArray:
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def _quantile(weights: FloatArray, share: float) -> float:
    """Straight in the logarithm between grid points."""
    upto = np.cumsum(weights) - 0.5 * weights
    return float(np.exp(np.interp(share, upto, np.log(_SLEWS))))


def _apart(rows: FloatArray) -> float:
    """By how much the rates of single steps differ beyond their own doubt [deg/s]."""
    if len(rows) < 3:
        return 0.0
    every = [_weights(row) for row in rows]
    means = np.array([float(np.sum(w * _SLEWS)) for w in every])
    own = np.array([float(np.sum(w * np.square(_SLEWS - m))) for w, m in zip(every, means, strict=True)])
    return float(np.sqrt(max(float(np.var(means, ddof=1)) - float(np.mean(own)), 0.0)))


def _dead(steps: Sequence[Step], noise: float, stamp_s: float) -> tuple[float, float]:
    """The command came somewhere between two samples of the target."""
    found = []
    for step in steps:
        _, logs, begins = _log_likelihoods(step, noise, stamp_s)
        weights = _weights(logs)
        mean = float(np.sum(weights * begins))
        spread = float(np.sum(weights * np.square(begins - mean)))
        found.append((mean - 0.5 * (step.from_s + step.to_s), spread + (step.to_s - step.from_s) ** 2 / 12.0))
    means, variances = np.array(found).T
    return max(float(np.mean(means)), 0.0), float(np.sqrt(np.mean(variances) / len(found)))


def _settles(step: Step, noise: float) -> float:
    off = np.abs(step.values - step.before_deg - step.moved_deg) > 3.0 * noise + STILL_DEG
    if off[-1]:
        return float("inf")
    last = int(np.flatnonzero(off)[-1]) + 1 if off.any() else 0
    return float(step.times_s[last] - 0.5 * (step.from_s + step.to_s))
