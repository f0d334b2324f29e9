"""Steps of a phaser's target that can be judged, and what the cam did after each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.series import Series

__all__ = ["DEAD_S", "SETTLES_S", "STILL_DEG", "Moves", "Step", "moves_of", "still_at"]

FloatArray = NDArray[np.float64]

STILL_DEG = 1.0
"""By so much may a target change from sample to sample and count as still."""
SETTLES_S = 1.5
"""After so long a sound phaser has arrived: 50° at a slow 40 °/s; common practice, no source."""
DEAD_S = 0.6
"""Most that may pass before a cam begins to move; our guess."""

_STEP_DEG = 8.0
_WATCHED_S = 5.0
_FOLLOWS = 0.2  # of the step; below it the cam has not followed


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
