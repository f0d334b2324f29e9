"""How a log takes its values: when each comes afresh, which ones are worth waiting for, what a sensor's name is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.supply_names import sensor_node
from witnessmark.measure.log.series import Log, Series
from witnessmark.recording.parameters import Signal

__all__ = ["QUICK", "RUNS_RPM", "Runs", "fresh_every_s", "fresh_only", "node_of", "runs_of", "turning"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RUNS_RPM = 400.0
"""Below it a starter turns the engine, above it the engine runs by itself [rpm]; common practice, no source."""

_SELDOM_S = 5.0  # answers that come more often than this are told by their repeats themselves
_CHANGES = 4  # of a value, to say how far they lie apart
QUICK = ("engine_speed", "vehicle_speed", "map", "maf", "load", "absolute_load", "throttle", "timing", "short_trim",
         "lambda", "o2_voltage", "o2_current", "injection_time", "fuel_rate", "torque_actual", "rail_pressure", "pedal",
         "cam_actual", "volts", "throttle_relative", "throttle_command", "torque_demand")  # fmt: skip
"""Parameters that are hardly ever still while the engine runs on the road."""


class Runs:
    """Stretches of samples over which a value does not change by a digit.

    Parameters
    ----------
    values : array, shape (n,)
        At least one.
    """

    __slots__ = ("first", "last", "length")

    def __init__(self, values: FloatArray) -> None:
        begins = np.flatnonzero(np.append(True, values[1:] != values[:-1]))
        self.first: NDArray[np.int64] = begins
        self.last: NDArray[np.int64] = np.append(begins[1:], values.size) - 1
        self.length: NDArray[np.int64] = self.last - self.first + 1


def runs_of(series: Series) -> Runs:
    """The runs of a series.

    Parameters
    ----------
    series : Series
        With at least one sample.

    Returns
    -------
    Runs
    """
    return Runs(series.values)


def fresh_every_s(log: Log, series: Series) -> float:
    """How often a value comes afresh [s]; not a number below two samples.

    Parameters
    ----------
    log : Log
    series : Series

    Returns
    -------
    float [s]

    Notes
    -----
    A table with a value in every cell of every row may have been written faster than the answers came: it repeats the
    last one. Then the shortest of a value's own standstills tell, where it changes often enough to show them.
    """
    return log.once(("fresh", series), lambda: _fresh_every_s(log, series))


def _fresh_every_s(log: Log, series: Series) -> float:
    if len(series) < 2 or len(log.series) < 3:
        return series.period_s
    begin, end = series.times_s[[0, -1]]
    if len(series) < 0.98 * max(int(np.searchsorted(o.times_s, end) - np.searchsorted(o.times_s, begin)) for o in log):
        return series.period_s
    changes = np.diff(series.times_s[runs_of(series).first])
    if changes.size < _CHANGES:
        return series.period_s
    return max(series.period_s, float(np.percentile(changes, 10)))


def fresh_only(log: Log) -> Log:
    """A log without the values that only repeat an answer.

    Parameters
    ----------
    log : Log

    Returns
    -------
    Log
        In a table that was written faster than the answers came, each answer once, at the first row that has it.
    """
    return Log({s.signal: _fresh(s, fresh_every_s(log, s)) for s in log}, log.name, log.digest, log.recording)


def _fresh(series: Series, every_s: float) -> Series:
    if len(series) < 2 or not every_s > max(1.6 * series.period_s, _SELDOM_S):
        return series
    runs = runs_of(series)
    since = series.times_s - np.repeat(series.times_s[runs.first], runs.length)
    count = np.floor((since + 0.25 * series.period_s) / every_s)
    kept = np.append(True, (np.diff(count) != 0.0) | (np.diff(series.values) != 0.0))
    return replace(series, times_s=series.times_s[kept], values=series.values[kept])


def node_of(signal: Signal) -> str:
    """The sensor that a signal is read from, by its name in the supply graph; empty where none is.

    Parameters
    ----------
    signal : Signal

    Returns
    -------
    str
    """
    return sensor_node(signal.id, bank=signal.bank, sensor=signal.sensor, cam=signal.cam)


def turning(log: Log, times_s: FloatArray) -> BoolArray:
    """Whether the engine ran by itself at each time, shape (n,); true where the log has no speed.

    Parameters
    ----------
    log : Log
    times_s : array, shape (n,) [s]

    Returns
    -------
    array of bool, shape (n,)
    """
    speed = log.get("engine_speed")
    if speed is None or len(speed) < 2:
        return np.ones(times_s.size, dtype=bool)
    known = speed.known_at(times_s, oldest_s=max(4.0 * speed.period_s, 1.0))
    return np.asarray(known > RUNS_RPM)
