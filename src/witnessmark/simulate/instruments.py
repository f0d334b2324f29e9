"""Instruments: what becomes of signals between the probe and the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.sensors import Level

__all__ = ["Instrument", "LogicAnalyser", "Scope", "edge_rows", "hall_volts", "sampled", "set_range"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class LogicAnalyser:
    """Notes every change of state, to the tick of its clock.

    Parameters
    ----------
    tick_s : float [s]
        Time between two looks at the inputs.
    clock_ppm : float
        How much its clock runs fast, in millionths.
    """

    tick_s: float = 1e-6
    clock_ppm: float = 0.0


@dataclass(frozen=True, slots=True)
class Scope:
    """Samples voltages at a fixed rate.

    Parameters
    ----------
    step_s : float [s]
        From sample to sample.
    bits : int
        Of its converter.
    low_v, high_v : float [V]
        Range; what lies outside is clipped.
    ranged : bool
        True: whoever recorded set the range of each channel to its signal, symmetric about zero, in the usual steps.
    noise_v : float [V]
        Standard deviation of its own noise.
    drift_v : float [V]
        How far its zero wanders over the recording.
    hum_v : float [V]
        Amplitude of mains hum picked up.
    skew_s : float [s]
        How much later each further channel is converted than the time noted.
    clock_ppm : float
        How much its clock runs fast, in millionths.
    """

    step_s: float = 2e-5
    bits: int = 12
    low_v: float = -10.0
    high_v: float = 10.0
    ranged: bool = False
    noise_v: float = 0.01
    drift_v: float = 0.0
    hum_v: float = 0.0
    skew_s: float = 0.0
    clock_ppm: float = 0.0


Instrument = LogicAnalyser | Scope


def edge_rows(
    levels: Sequence[Level], tick_s: float, from_s: float, to_s: float
) -> tuple[FloatArray, NDArray[np.uint8]]:
    """Rows of a list of changes: the state at the start, then one row wherever any channel changed.

    Parameters
    ----------
    levels : sequence of Level
    tick_s : float [s]
        The inputs are looked at once a tick; a pulse that begins and ends between two looks is never seen.
    from_s, to_s : float [s]

    Returns
    -------
    array, shape (n,) [s]
        Times, whole ticks.
    array of uint8, shape (n, channels)
    """
    first = int(np.ceil(from_s / tick_s))
    ticks = [np.ceil(level.times_s[(level.times_s > from_s) & (level.times_s <= to_s)] / tick_s) for level in levels]
    every = np.unique(np.concatenate([[first], *ticks]))
    times = every * tick_s
    # Half a tick's thousandth on, so that a change exactly on a tick has happened.
    states = np.stack([level.at(times + 1e-3 * tick_s) for level in levels], axis=1).astype(np.uint8)
    changed = np.concatenate([[True], (np.diff(states.astype(np.int8), axis=0) != 0).any(axis=1)])
    return times[changed], states[changed]


def hall_volts(
    level: Level, times_s: FloatArray, *, high_v: float, low_v: float, rise_s: float, fall_s: float
) -> FloatArray:
    """Voltage of a switching sensor with a pull-up: slow up, fast down.

    Parameters
    ----------
    level : Level
    times_s : array, shape (n,) [s]
    high_v, low_v : float [V]
    rise_s, fall_s : float [s]
        Time constants.

    Returns
    -------
    array, shape (n,) [V]
    """
    index = np.searchsorted(level.times_s, times_s, side="right")
    high = (index % 2 == 0) == level.starts_high
    since = np.full(times_s.size, np.inf)
    moved = index > 0
    since[moved] = times_s[moved] - level.times_s[index[moved] - 1]
    target = np.where(high, high_v, low_v)
    before = np.where(high, low_v, high_v)
    tau = np.where(high, rise_s, fall_s)
    with np.errstate(over="ignore"):
        return np.asarray(target + (before - target) * np.exp(-since / tau))


_RANGES_V = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def set_range(scope: Scope, volts: FloatArray) -> Scope:
    """The scope with its range set to a signal: the smallest that holds nearly all of it.

    Parameters
    ----------
    scope : Scope
    volts : array, shape (n,) [V]

    Returns
    -------
    Scope
    """
    needed = float(np.percentile(np.abs(volts), 99.0)) if volts.size else 0.0
    reach = next((r for r in _RANGES_V if r > needed), _RANGES_V[-1])
    return replace(scope, low_v=-reach, high_v=reach)


def sampled(volts: FloatArray, scope: Scope, rng: np.random.Generator) -> tuple[NDArray[np.int32], float, float]:
    """What the converter makes of voltages.

    Parameters
    ----------
    volts : array, shape (n,) [V]
    scope : Scope
    rng : numpy.random.Generator

    Returns
    -------
    array of int32, shape (n,)
        Counts.
    float [V]
        Volts for one count.
    float [V]
        Volts at count zero.
    """
    count = volts.size
    along = np.linspace(0.0, 1.0, count)
    drift = scope.drift_v * np.sin(2.0 * np.pi * (along * rng.uniform(0.2, 1.2) + rng.random()))
    hum = scope.hum_v * np.sin(2.0 * np.pi * (50.0 * scope.step_s * np.arange(count) + rng.random()))
    noisy = volts + drift + hum + rng.normal(0.0, scope.noise_v, count)
    top = 2**scope.bits - 1
    per_count = (scope.high_v - scope.low_v) / top
    counts = np.clip(np.rint((noisy - scope.low_v) / per_count), 0, top).astype(np.int32)
    return counts, per_count, scope.low_v
