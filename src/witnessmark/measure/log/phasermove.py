"""How a phaser follows a step of its target, as far as the rate of the samples tells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.series import Series

__all__ = ["Moves", "Slew", "Step", "moves_of", "slew_of", "still_at"]

FloatArray = NDArray[np.float64]

STILL_DEG = 1.0
"""By so much may a target change from sample to sample and count as still."""
SETTLES_S = 1.5
"""After so long a sound phaser has arrived: 50° at a slow 40 °/s; common practice, no source."""

_STEP_DEG = 8.0
_WATCHED_S = 5.0
_DEAD_S = 0.6  # most that may pass before a cam begins to move; our guess
_FOLLOWS = 0.2  # of the step; below it the cam has not followed
_USED = 0.85  # of the way: beyond it the course hangs on how the control ends it
_BRAKES_S = (
    0.0,
    0.03,
    0.06,
    0.1,
)  # in which a control that brakes goes most of what is left; common practice, no source
_SHAPE = 0.01  # of the way by which a real course differs from a straight one; our guess
_LEAST_NOISE_DEG = 0.2
_LATER = 4
_SLEWS = np.geomspace(3.0, 900.0, 100)  # the fastest is out of reach of any phaser; our guess
_ONE_SIDED = 0.147  # of the greatest likelihood at the lower end of an interval of 97.5 %: exp(-1.96²/2), Wilks
_WIDEST = 3.0  # ends of an interval may be that far apart; beyond that the lower end alone is told
_TOLD = 0.1  # where the fastest stays that likely against the likeliest, samples come too seldom to tell
_NORMAL_90 = 1.6448536269514722


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step of a target and what the cam did.

    Parameters
    ----------
    from_s, to_s : float [s]
        Last sample of the target before, first after: in between it stepped.
    until_s : float [s]
        Watched so long.
    wanted_deg, moved_deg : float [deg]
        Of the target, of the cam.
    before_deg : float [deg]
    times_s, values : array, shape (n,) [s], [deg]
        Of the cam, from the step on.
    settled : bool
        Whether it had come to rest before the next command.
    """

    from_s: float
    to_s: float
    until_s: float
    wanted_deg: float
    moved_deg: float
    before_deg: float
    times_s: FloatArray
    values: FloatArray
    settled: bool

    @property
    def followed(self) -> bool:
        """Whether the cam moved at all as it should."""
        return self.moved_deg / self.wanted_deg > _FOLLOWS


@dataclass(frozen=True, slots=True)
class Moves:
    """Steps of a target that can be judged.

    Parameters
    ----------
    steps : tuple of Step
    overlapping : int
        Steps left out because the next command came before the cam was at rest, or they were no steps but ramps.
    """

    steps: tuple[Step, ...]
    overlapping: int

    @property
    def stuck(self) -> tuple[Step, ...]:
        """Steps that the cam did not follow."""
        return tuple(step for step in self.steps if not step.followed)


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


def still_at(target: Series, times_s: object) -> NDArray[np.bool_]:
    """Whether a target had stood still for long enough at each time, shape (n,).

    Parameters
    ----------
    target : Series
    times_s : array, shape (n,) [s]

    Returns
    -------
    array of bool, shape (n,)
        False before the first and after the last sample, in gaps, and until :data:`SETTLES_S` after a movement.
    """
    times = np.asarray(times_s, dtype=np.float64)
    if len(target) < 2:
        return np.zeros(times.shape, dtype=np.bool_)
    begins, ends = _moving(target)
    after = np.searchsorted(target.times_s, times, side="left")
    inside = (after > 0) & (after < len(target)) | np.isin(times, target.times_s[[0, -1]])
    right = np.clip(after, 1, len(target) - 1)
    gap = target.times_s[right] - target.times_s[right - 1]
    last = np.searchsorted(begins, times, side="right") - 1
    since = times - target.times_s[0]
    if begins.size:
        since = np.where(last >= 0, times - ends[np.maximum(last, 0)], since)
    return np.asarray(inside & (gap <= 4.0 * target.period_s) & (since >= SETTLES_S), dtype=np.bool_)


def _moving(target: Series) -> tuple[FloatArray, FloatArray]:
    """Begins and ends of intervals between samples in which a target moves."""
    jump = np.abs(np.diff(target.values)) > max(STILL_DEG, 1.5 * target.step)
    return target.times_s[:-1][jump], target.times_s[1:][jump]


def moves_of(actual: Series, target: Series) -> Moves:
    """The steps of a target and what the cam did after each.

    Parameters
    ----------
    actual, target : Series
        Cam position and target, each with its own times.

    Returns
    -------
    Moves
        Steps of 8° or more out of rest, with the cam watched until the next command, five seconds at most.
    """
    begins, ends = _moving(target)
    steps, left_out = [], 0
    for k, (begin, end) in enumerate(zip(begins.tolist(), ends.tolist(), strict=True)):
        if k and begin - ends[k - 1] < SETTLES_S:
            continue
        size = float(target.values[np.searchsorted(target.times_s, end)] - _value_at(target, begin))
        ramped = k + 1 < begins.size and begins[k + 1] < end + 1e-9
        if abs(size) < _STEP_DEG and not ramped:
            continue
        until = min(end + _WATCHED_S, float(target.times_s[-1]), *(float(one) for one in begins[k + 1 : k + 2]))
        found = None if ramped else _watched(actual, begin, end, until, size)
        if found is None:
            left_out += 1
        else:
            steps.append(found)
    return Moves(tuple(steps), left_out)


def _value_at(series: Series, time_s: float) -> float:
    return float(series.values[np.searchsorted(series.times_s, time_s)])


def _watched(actual: Series, begin: float, end: float, until: float, size: float) -> Step | None:
    """None where the cam is not seen at rest before, or the next command comes while it may be on its way."""
    before, after = actual.inside(begin - SETTLES_S, begin), actual.inside(np.nextafter(begin, np.inf), until)
    if len(before) < 1 or len(after) < 3:
        return None
    tail = after.inside(max(end, until - 0.4 * (until - end)), until)
    rest = tail.values if len(tail) >= 2 else after.values[-2:]
    start = float(np.mean(before.values))
    moved = float(np.mean(rest)) - start
    arrived = abs(moved / size) > 0.7 and float(np.ptp(rest[-2:])) <= 0.1 * abs(moved) + 1.0
    if not arrived and until - end < SETTLES_S:
        return None
    return Step(begin, end, until, size, moved, start, after.times_s, after.values, arrived)


# ---------------------------------------------------------------- the rate


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
    half = float(np.hypot(half, _NORMAL_90 * apart / np.sqrt(len(followed))))
    tailed = bool(weights[-1] >= _TOLD * weights.max())
    bounded = not tailed and high <= _WIDEST * low
    if not bounded:
        low = float(_SLEWS[np.argmax(weights > _ONE_SIDED * weights.max())])
    dead, dead_sd = _dead(followed, noise, stamp_s)
    settles = float(np.median([_settles(step, noise) for step in followed]))
    return Slew(value, half / _NORMAL_90, low, bounded, len(followed), dead, dead_sd, settles)


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
    begins = np.linspace(step.from_s, step.to_s + _DEAD_S, 64)
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
