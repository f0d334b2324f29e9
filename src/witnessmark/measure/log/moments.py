"""What a log knows at each moment it reads the engine's speed: the other values there, and how they are changing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.habit import RUNS_RPM
from witnessmark.measure.log.series import Log, Series

__all__ = ["Moments", "held", "moments_of", "slope", "swing"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
At = Callable[[str], FloatArray]

_CLOCKS = ("engine_speed", "map", "maf", "load", "vehicle_speed", "throttle", "pedal", "run_time", "volts", "coolant")
_LOADS = ("load", "absolute_load", "map", "maf")
_WARM_C, _COLD_C = 70.0, 66.0  # from where an engine is called warm, and below which it is cold again; common practice


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """Values at the moments of one clock; arrays of shape (n,), not a number where nothing was read near by.

    Parameters
    ----------
    times_s : array [s]
    cadence_s : float [s]
        How often a fresh value comes: a file may repeat the last one in several rows.
    speed : array [rpm]
    road : array [km/h]
    load : array [unit of the parameter that stands for it]
        Calculated load, else absolute load, else manifold pressure, else air flow.
    map_share : array [-]
        Manifold pressure over that of the surroundings.
    pedal, plate : array [%]
        What the driver does; what the throttle's plate does, which idle control moves too.
    volts : array [V]
    warm : array
        1 warm, 0 cold, not a number where no temperature tells.
    runs_otherwise : array
        1 where, without a speed, other values say that the engine runs; 0 where they say that it does not.
    """

    times_s: FloatArray
    cadence_s: float
    speed: FloatArray
    road: FloatArray
    load: FloatArray
    map_share: FloatArray
    pedal: FloatArray
    plate: FloatArray
    volts: FloatArray
    warm: FloatArray
    runs_otherwise: FloatArray

    def __len__(self) -> int:
        return int(self.times_s.size)

    @property
    def weights_s(self) -> FloatArray:
        """How long each moment stands for [s]; what lies in a gap counts for none."""
        most = 3.0 * self.cadence_s
        apart = np.minimum(np.diff(self.times_s), most) if len(self) > 1 else np.empty(0)
        return np.asarray(0.5 * (np.append(apart, 0.0) + np.insert(apart, 0, 0.0)))


def moments_of(log: Log) -> Moments | None:
    """The moments of a log; None for a log in which nothing tells of the engine.

    Parameters
    ----------
    log : Log

    Returns
    -------
    Moments or None
    """
    clock = next((found for id in _CLOCKS for found in log.all_of(id) if len(found) > 1), None)
    if clock is None:
        return None
    times, cadence = clock.times_s, _cadence(clock)

    def at(id: str) -> FloatArray:
        series = next(iter(log.all_of(id)), None)
        return _near(series, times, cadence) if series is not None else np.full(times.shape, np.nan)

    load = next((values for id in _LOADS if np.isfinite(values := at(id)).any()), np.full(times.shape, np.nan))
    return Moments(
        times, cadence, at("engine_speed"), at("vehicle_speed"), load, _map_share(at("map"), at("barometer")),
        _pedal(log, at), at("throttle"), at("volts"), _warm(at("coolant"), at("oil_temperature")),
        _runs_otherwise(at),
    )  # fmt: skip


def held(strict: BoolArray, loose: BoolArray) -> BoolArray:
    """Stretches where the loose rule holds throughout and the strict one at least once: no flicker at a threshold.

    Parameters
    ----------
    strict, loose : array of bool, shape (n,)

    Returns
    -------
    array of bool, shape (n,)
    """
    loose = loose | strict
    starts = np.flatnonzero(loose & ~np.insert(loose[:-1], 0, False))
    if not starts.size:
        return loose
    ends = np.flatnonzero(loose & ~np.append(loose[1:], False)) + 1
    hits = np.concatenate(([0], np.cumsum(strict)))
    found = np.zeros(loose.size, dtype=bool)
    for first, last in zip(starts, ends, strict=True):
        found[first:last] = hits[last] > hits[first]
    return found


def slope(times_s: FloatArray, values: FloatArray, reach_s: float) -> FloatArray:
    """Least squares' slope within a reach on either side of each moment, shape (n,) [unit/s].

    Parameters
    ----------
    times_s, values : array, shape (n,)
    reach_s : float [s]

    Returns
    -------
    array, shape (n,)
        Not a number with fewer than two values in reach.
    """
    count, (t, v, tt, tv, _) = _sums(times_s, values, reach_s)
    with np.errstate(invalid="ignore", divide="ignore"):
        spread = tt - t * t / count
        found = (tv - t * v / count) / spread
    found[(count < 2) | ~(spread > 1e-12)] = np.nan
    return np.asarray(found)


def swing(times_s: FloatArray, values: FloatArray, reach_s: float) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation within a reach on either side of each moment, shape (n,) each.

    Parameters
    ----------
    times_s, values : array, shape (n,)
    reach_s : float [s]

    Returns
    -------
    tuple of array, shape (n,) each
    """
    shift = float(np.nanmean(values)) if np.isfinite(values).any() else 0.0
    count, (_, v, _, _, vv) = _sums(times_s, values - shift, reach_s)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = v / count
        return mean + shift, np.sqrt(np.maximum(vv / count - mean * mean, 0.0))


def _sums(times_s: FloatArray, values: FloatArray, reach_s: float) -> tuple[FloatArray, tuple[FloatArray, ...]]:
    """Count and sums over the window of each moment; times counted from the moment itself keep their digits."""
    known = np.isfinite(values)
    v, t = np.where(known, values, 0.0), np.where(known, times_s - times_s[0], 0.0)
    first = np.searchsorted(times_s, times_s - reach_s * (1 + 1e-9))
    last = np.searchsorted(times_s, times_s + reach_s * (1 + 1e-9), side="right")

    def over(terms: FloatArray) -> FloatArray:
        run = np.concatenate(([0.0], np.cumsum(terms)))
        return np.asarray(run[last] - run[first])

    count, sum_t, sum_v = over(known.astype(np.float64)), over(t), over(v)
    sum_tt, sum_tv, sum_vv = over(t * t), over(t * v), over(v * v)
    at = times_s - times_s[0]
    near_t = sum_t - count * at
    near_tt = sum_tt - 2.0 * at * sum_t + count * at * at
    return count, (near_t, sum_v, near_tt, sum_tv - at * sum_v, sum_vv)


def _cadence(clock: Series) -> float:
    """Usual time between fresh values: from change to change where most rows only repeat the last one."""
    period = clock.period_s
    if clock.signal.id != "engine_speed":
        return period
    turning = clock.values > RUNS_RPM
    changed = np.flatnonzero((np.diff(clock.values) != 0.0) & turning[1:] & turning[:-1]) + 1
    if changed.size < 5:
        return period
    return float(max(period, np.median(np.diff(clock.times_s[changed]))))


def _near(series: Series, times_s: FloatArray, cadence_s: float) -> FloatArray:
    """Drawn straight between samples; beside a gap the nearest sample, if it is not too far."""
    own = series.period_s if len(series) > 1 else 0.0
    apart = 4.0 * max(own, cadence_s)
    found = series.between(times_s, apart_s=apart)
    missing = np.flatnonzero(~np.isfinite(found))
    if missing.size and len(series):
        after = np.clip(np.searchsorted(series.times_s, times_s[missing]), 0, len(series) - 1)
        before = np.maximum(after - 1, 0)
        wanted = times_s[missing]
        nearer = np.abs(series.times_s[before] - wanted) <= np.abs(series.times_s[after] - wanted)
        at = np.where(nearer, before, after)
        close = np.abs(series.times_s[at] - wanted) <= 0.5 * apart
        found[missing[close]] = series.values[at[close]]
    return found


def _pedal(log: Log, at: At) -> FloatArray:
    """The pedal; else the opening from rest, which a computer reckons so that it is 0 with the pedal released."""
    track = next((series for series in log.all_of("pedal") if np.ptp(series.values) > 0.0), None)
    if track is None:
        return np.asarray(at("pedal"))
    base = next(series for id in _CLOCKS for series in log.all_of(id) if len(series) > 1)
    return _near(track, base.times_s, _cadence(base))


def _map_share(pressure: FloatArray, barometer: FloatArray) -> FloatArray:
    if not np.isfinite(pressure).any():
        return pressure
    known = np.isfinite(barometer)
    around = float(np.median(barometer[known])) if known.any() else float(np.nanpercentile(pressure, 99.0))
    return np.asarray(pressure / np.where(known, barometer, around))


def _warm(coolant: FloatArray, oil: FloatArray) -> FloatArray:
    known = np.where(np.isfinite(coolant), coolant, oil)
    warm = held(known >= _WARM_C, known >= _COLD_C)
    return np.where(np.isfinite(known), warm.astype(np.float64), np.nan)


def _runs_otherwise(at: At) -> FloatArray:
    """Air that flows, a clock that counts, an alternator that charges; the first that is there decides."""
    for id, runs in (("maf", 0.8), ("load", 2.0), ("run_time", 0.5), ("volts", 13.2)):
        values = np.asarray(at(id))
        if np.isfinite(values).any():
            return np.where(np.isfinite(values), (values > runs).astype(np.float64), np.nan)
    return np.full(np.asarray(at("engine_speed")).shape, np.nan)
