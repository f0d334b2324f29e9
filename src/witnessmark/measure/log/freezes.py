"""Values that stand still to the last digit while they must move.

A value is judged by its own habit: how seldom it keeps its digit from one answer to the next, given how much the values
around it moved meanwhile. The longest of its ordinary runs say how far that reckoning can be trusted: answers that are
repeated, slow sensors and coarse steps make long runs in sound logs too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.habit import QUICK, Runs, fresh_every_s, turning
from witnessmark.measure.log.series import Log, Series
from witnessmark.recording.parameters import Signal

__all__ = ["Freeze", "Watched", "freezes_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LEAST_SAMPLES = 60
_SHORTEST_WATCH_S = 60.0  # in less there is no habit to judge by
_SLOWEST_S = 6.5  # an answer every so often still tells a minute's standstill; our guess
_SHORTEST_S = 10.0  # no standstill is shorter
_FRESH = 8  # answers, at least, of a standstill
_CHANCE = 1e-4  # of a run as long by its own habit, in the whole log
_BEYOND = 2.5  # times what its longest ordinary run weighs
_MOST = 4  # standstills of one value in one log; with more of them they are its habit
_CROWD = 3.0  # the movement of others counts up to so much of their usual step
_BINS = 4
_NEAR = 15  # samples about the same place, to say how calm it is there
_KIN = {"map": "air", "maf": "air", "load": "air", "absolute_load": "air", "injection_time": "air", "fuel_rate": "air",
        "torque_actual": "air", "throttle": "foot", "throttle_relative": "foot", "throttle_command": "foot",
        "pedal": "foot", "torque_demand": "foot"}  # fmt: skip
# What cannot but follow engine and road: one value over a whole drive is a standstill without any habit to judge by.
_RESTS = ("short_trim",)  # at whatever it has, while the loop is open
_MUST_MOVE = ("engine_speed", "map", "maf", "load", "absolute_load")


@dataclass(frozen=True, slots=True)
class Freeze:
    """A value stood still.

    Parameters
    ----------
    signal : Signal
    from_s, to_s : float [s]
        First and last sample of it.
    value : float [unit of the parameter]
    chance : float [-]
        Of so long a run by the value's own habit, anywhere in the log.
    usual_s : float [s]
        Its longest ordinary run.
    """

    signal: Signal
    from_s: float
    to_s: float
    value: float
    chance: float
    usual_s: float


@dataclass(frozen=True, slots=True)
class Watched:
    """Whether a value was looked at for standstills.

    Parameters
    ----------
    signal : Signal
    freezes : tuple of Freeze
    seconds : float [s]
        For which it was watched.
    refused : str
        Why it was not; empty where it was.
    """

    signal: Signal
    freezes: tuple[Freeze, ...] = ()
    seconds: float = 0.0
    refused: str = ""


def freezes_of(log: Log) -> tuple[Watched, ...]:
    """Standstills of every quick value of a log.

    Parameters
    ----------
    log : Log

    Returns
    -------
    tuple of Watched
        In order of the signals' text.
    """
    return log.once("freezes", lambda: _freezes(log))


def _freezes(log: Log) -> tuple[Watched, ...]:
    quick = sorted((one for one in log if one.signal.id in QUICK), key=lambda one: str(one.signal))
    return tuple(_watched(log, s, quick) for s in quick if len(s) > 1 and s.signal.id not in _RESTS)


def _watched(log: Log, series: Series, quick: list[Series]) -> Watched:
    runs_now = turning(log, series.times_s)
    seen = Series(series.signal, series.times_s[runs_now], series.values[runs_now], series.step, series.stamp_s)
    if len(seen) < _LEAST_SAMPLES:
        return Watched(series.signal, refused=f"only {len(seen)} values with the engine running")
    fresh = fresh_every_s(log, series)
    if fresh > _SLOWEST_S:
        return Watched(series.signal, refused=f"a value every {fresh:.0f} s is too seldom to tell")
    moved = _moved(seen, [one for one in quick if one.signal != series.signal])
    seconds = float(np.sum(np.minimum(np.diff(seen.times_s), 3.0 * fresh)))
    if seconds < _SHORTEST_WATCH_S:
        return Watched(series.signal, refused=f"the engine ran for {seconds:.0f} s only")
    if np.ptp(seen.values) == 0.0:
        return _whole(seen, moved, seconds)
    return Watched(series.signal, tuple(_found(seen, moved, fresh)), seconds)


def _whole(seen: Series, moved: FloatArray, seconds: float) -> Watched:
    if seen.signal.id in _MUST_MOVE and float(np.sum(moved)) > 30.0:
        whole = Freeze(seen.signal, float(seen.times_s[0]), float(seen.times_s[-1]), float(seen.values[0]), 1e-3, 0.0)
        return Watched(seen.signal, (whole,), seconds)
    return Watched(seen.signal, refused="it has one value throughout, and nothing says that it must move")


def _moved(seen: Series, others: list[Series]) -> FloatArray:
    """How much the values around it moved from each sample to the next, in their own usual steps, shape (n - 1,)."""
    total, count = np.zeros(len(seen) - 1), np.zeros(len(seen) - 1)
    for one in others:
        if len(one) < _LEAST_SAMPLES or one.period_s > 6.0 * max(seen.period_s, 0.5):
            continue
        at = one.known_at(seen.times_s, oldest_s=max(4.0 * one.period_s, 2.0 * seen.period_s))
        step = np.abs(np.diff(at))
        moving = step[np.isfinite(step) & (step > 0.0)]
        if moving.size < 10:
            continue
        close = 2.0 if _KIN.get(one.signal.id) == _KIN.get(seen.signal.id, "") else 1.0
        known = np.isfinite(step)
        total[known] += close * np.minimum(step[known] / float(np.mean(moving)), _CROWD)
        count[known] += close
    return total / np.maximum(count, 1.0)


def _found(seen: Series, moved: FloatArray, fresh_s: float) -> list[Freeze]:
    """Runs that are too long for the value's own habit."""
    runs = Runs(seen.values)
    lasted = seen.times_s[runs.last] - seen.times_s[runs.first]
    least = max(_SHORTEST_S, _FRESH * fresh_s)
    if lasted.size < 8 or lasted.max() < least:
        return []
    weights = _weights(seen.values, moved, runs)
    order = np.argsort(-weights)
    apart = [k for k in range(min(_MOST, lasted.size - 6)) if weights[order[k]] > _BEYOND * weights[order[k + 1]]]
    if not apart:
        return []
    suspects, ordinary = order[: apart[-1] + 1], weights[order[apart[-1] + 1 :]]
    usual = float(np.max(lasted[order[apart[-1] + 1 :]]))
    found = []
    for k in suspects.tolist():
        weight = min(float(weights[k]), _weight_there(seen, runs, k))
        chance = _chance(weight, ordinary) if weight > _BEYOND * float(ordinary.max()) else 1.0
        if chance < _CHANCE and lasted[k] >= max(least, 2.0 * usual) and not _at_rest(seen, runs, k):
            first, last = runs.first[k], runs.last[k]
            ends = (float(seen.times_s[first]), float(seen.times_s[last]))
            found.append(Freeze(seen.signal, *ends, float(seen.values[first]), chance, usual))
    return sorted(found, key=lambda one: one.from_s)


def _weights(values: FloatArray, moved: FloatArray, runs: Runs) -> FloatArray:
    """How unlikely each run is by the value's own habit, shape (runs,) [nat]."""
    still = values[1:] == values[:-1]
    limits = np.quantile(moved, np.linspace(0.0, 1.0, _BINS + 1)[1:-1])
    bins = np.searchsorted(limits, moved, side="left")
    # The longest runs are what is judged: they are not asked what is usual.
    asked = np.ones(still.size, dtype=bool)
    for k in np.argsort(-runs.length)[:_MOST]:
        if runs.length[k] > 0.02 * values.size:
            asked[runs.first[k] : runs.last[k]] = False
    surprise = np.zeros(_BINS)
    for k in range(_BINS):
        mine = asked & (bins == k)
        surprise[k] = -np.log((still[mine].sum() + 1.0) / (mine.sum() + 2.0))
    total = np.concatenate(([0.0], np.cumsum(np.where(still, surprise[bins], 0.0))))
    return np.asarray(total[runs.last] - total[runs.first])


def _weight_there(seen: Series, runs: Runs, k: int) -> float:
    """The weight of a run by how the value keeps its digit elsewhere about the same place: at idle it is calmer."""
    values, first, last = seen.values, int(runs.first[k]), int(runs.last[k])
    near = np.abs(values[:-1] - values[first]) < 2.5 * max(seen.step, 1e-9)
    near[max(first - 1, 0) : last + 1] = False
    if near.sum() < _NEAR:
        return float("inf")
    still = float((values[1:] == values[:-1])[near].sum())
    return (last - first) * -float(np.log((still + 1.0) / (near.sum() + 2.0)))


def _chance(weight: float, ordinary: FloatArray) -> float:
    """Of a run of this weight or more among so many: the tail of the ordinary ones carried on, falling as it falls."""
    top = float(np.quantile(ordinary, 0.9))
    beyond = ordinary[ordinary >= top] - top
    fall = max(float(np.mean(beyond)), 0.15 * top, 0.5)
    return float(min(1.0, 0.1 * ordinary.size * np.exp(-(weight - top) / fall)))


def _at_rest(seen: Series, runs: Runs, k: int) -> bool:
    """Whether the value stood where it also stands otherwise: a throttle at its stop, a trim switched off."""
    value, step = float(seen.values[runs.first[k]]), max(seen.step, 1e-9)
    if value == 0.0:
        return True
    low, high = np.quantile(seen.values, (0.01, 0.99))
    if low + 1.5 * step < value < high - 1.5 * step:
        return False
    same = np.abs(seen.values[runs.first] - value) < 0.5 * step
    same[k] = False
    return int(np.sum(runs.length[same] >= 4 * np.median(runs.length))) >= 1
