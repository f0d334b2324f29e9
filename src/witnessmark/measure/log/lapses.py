"""Moments at which a value was lost: no answer while others came, or an answer from the end of the scale.

What counts as the end is the standard's encoding (a byte of 0 or 255) and what a wire that is lost leaves behind it;
a value that often stands there of itself tells nothing by standing there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.habit import RUNS_RPM, fresh_every_s, turning
from witnessmark.measure.log.series import Log, Series
from witnessmark.recording.parameters import Signal

__all__ = ["Lapse", "at_home", "lapses_of", "shows_losses", "watched_s"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_INF = float("inf")
# Below the first or above the second no sound sensor of a running engine reads. The ends of the encodings of SAE J1979
# (handbook §7) lie beyond; what lies just inside them is common practice, no source.
_ENDS: Mapping[str, tuple[float, float]] = {
    "coolant": (-39.5, 200.0), "intake_air": (-39.5, 200.0), "outside_air": (-39.5, 200.0),
    "oil_temperature": (-39.5, 200.0), "map": (5.0, 254.5), "barometer": (20.0, 200.0), "maf": (0.05, 650.0),
    "throttle": (1.0, _INF), "pedal": (1.0, _INF), "engine_speed": (60.0, 12000.0), "vehicle_speed": (0.5, 254.5),
    "rail_pressure": (20.0, 60000.0), "o2_voltage": (-_INF, 1.19), "oil_pressure": (1.0, _INF),
    "fuel_pressure": (1.0, 764.0), "volts": (0.5, 40.0),
}  # fmt: skip
# How fast a value can move by itself, in its unit a second, and a margin in its unit: a jump beyond is no movement.
# Common practice, no source; speed: no car gains more than 15 km/h a second.
_MOVES: Mapping[str, tuple[float, float]] = {
    "coolant": (1.5, 12.0), "intake_air": (2.0, 12.0), "outside_air": (0.5, 8.0), "oil_temperature": (1.5, 12.0),
    "barometer": (0.2, 6.0), "vehicle_speed": (15.0, 10.0), "volts": (0.0, 5.0),
}  # fmt: skip
_SLOW = ("coolant", "intake_air", "outside_air", "oil_temperature", "barometer")
_NEVER_HIGH = ("map", "barometer")  # a standing engine's manifold holds the air outside, nobody's air is that dense
_RESTART_S = 3.0  # in less no engine stops and runs again; common practice, no source
_ABRUPT_S, _STOPPED_S = 0.3, 20.0  # so quick a log sees an engine run down or be started; our guess
_AT_HOME = 0.25  # share of a value's samples at an end from which on the end is one of its usual places
_CHANCE = 1e-3  # of a run of missing answers by accident in the whole log


@dataclass(frozen=True, slots=True)
class Lapse:
    """A value was lost for a while.

    Parameters
    ----------
    signal : Signal
    from_s, to_s : float [s]
        The last sound sample before it and the first after it.
    samples : int
        Answers that were lost.
    value : float, optional [unit of the parameter]
        What stood there instead; None where there was no answer.
    """

    signal: Signal
    from_s: float
    to_s: float
    samples: int
    value: float | None = None

    @property
    def middle_s(self) -> float:
        """Middle of the time in which it was lost [s]."""
        return 0.5 * (self.from_s + self.to_s)


def lapses_of(log: Log) -> tuple[Lapse, ...]:
    """All lapses of a log, in order of time.

    Parameters
    ----------
    log : Log

    Returns
    -------
    tuple of Lapse
    """
    return log.once("lapses", lambda: _lapses(log))


def _lapses(log: Log) -> tuple[Lapse, ...]:
    found = [lapse for series in log if len(series) > 10 for lapse in _at_ends(log, series)]
    return tuple(sorted((*found, *_missing(log)), key=lambda one: (one.from_s, str(one.signal))))


def shows_losses(signal: Signal) -> bool:
    """Whether it is known what stands in a log when the wire of a sensor is lost.

    Parameters
    ----------
    signal : Signal

    Returns
    -------
    bool
        False for those whose computer puts something of its own in their place, and for oxygen sensors, which then
        stand where they also stand cold.
    """
    return signal.id in _ENDS and signal.id != "o2_voltage"


def at_home(log: Log, series: Series) -> bool:
    """Whether a value stands at an end of its scale so often that losses there cannot be told from its usual places.

    Parameters
    ----------
    log : Log
    series : Series

    Returns
    -------
    bool
    """
    if series.signal.id in ("vehicle_speed", "engine_speed") or not len(series):
        return False
    low, high = _ENDS.get(series.signal.id, (-_INF, _INF))
    judged = _judged(log, series.times_s)
    ends = [float(mask[judged].sum()) for mask in (series.values < low, series.values > high)]
    return max(ends) > _AT_HOME * max(int(judged.sum()), 1)


def watched_s(log: Log, series: Series) -> float:
    """For how long losses of a value could be seen [s].

    Parameters
    ----------
    log : Log
    series : Series

    Returns
    -------
    float [s]
        What moves slowly is watched all the time, the rest while the engine runs.
    """
    if len(series) < 2:
        return 0.0
    apart = np.minimum(np.diff(series.times_s), 3.0 * series.period_s)
    if series.signal.id in _SLOW:
        return float(apart.sum())
    return float(apart[_judged(log, series.times_s)[1:]].sum())


def _judged(log: Log, times_s: FloatArray) -> BoolArray:
    """Whether the engine ran a little before and a little after; a moment without speed is no engine that is off."""
    judged = turning(log, times_s - _RESTART_S) & turning(log, times_s + _RESTART_S)
    speed = log.get("engine_speed")
    gone = log.once("speed lost", lambda: tuple(_at_ends(log, speed))) if speed is not None and len(speed) > 10 else ()
    for lapse in gone:
        judged |= (times_s > lapse.from_s) & (times_s < lapse.to_s)
    return judged


# ---------------------------------------------------------------- answers from the end of the scale


def _at_ends(log: Log, series: Series) -> Iterator[Lapse]:
    fresh = fresh_every_s(log, series)
    off = _beyond(log, series, fresh)
    if not off.any():
        return
    edges = np.flatnonzero(np.diff(np.concatenate(([False], off, [False])).astype(np.int8)))
    for first, last in zip(edges[::2].tolist(), (edges[1::2] - 1).tolist(), strict=True):
        if first == 0 or not _leaps(log, series, first, last, fresh):
            continue
        after = series.times_s[last + 1] if last + 1 < len(series) else series.times_s[last]
        lost = max(round((series.times_s[last] - series.times_s[first]) / fresh) + 1, 1)
        value = float(np.median(series.values[first : last + 1]))
        yield Lapse(series.signal, float(series.times_s[first - 1]), float(after), lost, value)


def _beyond(log: Log, series: Series, fresh_s: float) -> BoolArray:
    """Samples at an end of the scale; for what moves slowly, also those that leap away from all around them."""
    low, high = _ENDS.get(series.signal.id, (-_INF, _INF))
    values = series.values
    off = np.zeros(values.size, dtype=bool)
    by_leaps = series.signal.id in ("vehicle_speed", "engine_speed")  # standing they are there of themselves
    # With the engine off other values stand at an end of themselves too.
    judged = np.ones(values.size, dtype=bool) if by_leaps else _judged(log, series.times_s)
    for mask, never in ((values < low, False), (values > high, series.signal.id in _NEVER_HIGH)):
        if by_leaps or never:
            off |= mask
        elif float(mask[judged].sum()) <= _AT_HOME * max(int(judged.sum()), 1):
            off |= mask & (judged | (series.signal.id in _SLOW))
    if series.signal.id in _SLOW:
        off |= _away(series, fresh_s)
    return off


def _away(series: Series, fresh_s: float) -> BoolArray:
    """Samples that leap away from where the value was, and leap back again within half a minute."""
    rate, margin = _MOVES[series.signal.id]
    times, values = series.times_s, series.values
    off = np.zeros(values.size, dtype=bool)
    limit = margin + rate * np.maximum(np.diff(times), fresh_s)
    for leap in np.flatnonzero(np.abs(np.diff(values)) > limit).tolist():
        until = int(np.searchsorted(times, times[leap] + 30.0 + 2.0 * series.period_s))
        back = np.flatnonzero(np.abs(values[leap + 2 : until] - values[leap]) < 0.5 * margin)
        if back.size and not off[leap]:
            off[leap + 1 : leap + 2 + int(back[0])] = True
    return off


def _leaps(log: Log, series: Series, first: int, last: int, fresh_s: float) -> bool:
    """Whether it went there and came back faster than it can move."""
    times, values = series.times_s, series.values
    if last + 1 >= values.size:  # it never came back: two answers are needed to believe it
        if series.signal.id == "engine_speed":
            return last > first and _others_lost(log, float(times[first]), float(times[last]))
        return last > first and series.signal.id != "vehicle_speed"
    before, there, after = float(values[first - 1]), float(np.median(values[first : last + 1])), float(values[last + 1])
    if series.signal.id == "engine_speed":
        long = float(times[last + 1] - times[first - 1])
        # An engine that stops, and one that is started, is seen turning slowly where values come quickly. Where they do
        # not, others that no key takes to their ends say that this one was lost with them.
        most = _STOPPED_S if fresh_s <= _ABRUPT_S else max(_RESTART_S, 3.1 * fresh_s)
        if min(before, after) <= RUNS_RPM or fresh_s > 0.5 * _RESTART_S:
            return False
        return long <= most or _others_lost(log, float(times[first]), float(times[last]))
    rate, margin = _MOVES.get(series.signal.id, (0.0, 0.0))
    leap = abs(after - there) > margin + rate * max(times[last + 1] - times[last], fresh_s)
    return leap and (series.signal.id != "vehicle_speed" or abs(before - after) < 0.5 * before + 8.0)


def _others_lost(log: Log, from_s: float, to_s: float) -> bool:
    """Whether another value stood mostly at an end where no stopped engine takes it, and is not at home there."""
    for series in log:
        low, high = _ENDS.get(series.signal.id, (-_INF, _INF))
        low = low if series.signal.id in (*_SLOW, "throttle", "pedal") else -_INF
        gone, ever = ((one < low) | (one > high) for one in (series.inside(from_s, to_s).values, series.values))
        if gone.size and gone.mean() > 0.5 and ever.mean() < 0.5:
            return True
    return False


# ---------------------------------------------------------------- answers that did not come


def _missing(log: Log) -> Iterator[Lapse]:
    """Gaps of a value while others went on, longer than those that any value of this log has now and then."""
    many = [series for series in log if len(series) > 20]
    if len(many) < 2:
        return
    every = np.sort(np.concatenate([series.times_s for series in many]))
    skipped = {series.signal: _skipped(series, every) for series in many}
    singles = sum(int((gaps == 1).sum()) for gaps in skipped.values())
    usual = max((singles + 0.5) / sum(len(series) for series in many), 1e-3)
    for series in many:
        gaps = skipped[series.signal]
        for k in np.flatnonzero(gaps >= 3).tolist():
            if len(series) * usual ** gaps[k] < _CHANCE:
                yield Lapse(series.signal, float(series.times_s[k]), float(series.times_s[k + 1]), int(gaps[k]))


def _skipped(series: Series, every_s: FloatArray) -> NDArray[np.int64]:
    """Answers that a value owes between each two that came, shape (n - 1,), by how many others came meanwhile."""
    between = np.diff(np.searchsorted(every_s, series.times_s, side="left")).astype(np.float64)
    usual = float(np.median(between))
    owed = np.round(between / max(usual, 1.0)) - 1.0
    # Polled in turns, a value comes at uneven distances: only what is long beside its own longest counts.
    owed[between < 2.5 * float(np.percentile(between, 95))] = np.minimum(owed, 1.0)[
        between < 2.5 * float(np.percentile(between, 95))
    ]
    return np.asarray(np.maximum(owed, 0.0), dtype=np.int64)
