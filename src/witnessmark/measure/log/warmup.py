"""The warm-up that a log shows: where it begins, when a warmth is reached, where the coolant comes to rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.estimate import NORMAL_90
from witnessmark.measure.log.average import EVEN_90, SLOW_AGE_S
from witnessmark.measure.log.habit import RUNS_RPM
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import TURNING
from witnessmark.measure.log.words import figure

__all__ = ["LAG_K", "TO_C", "WarmUp", "plateau_of", "reaching", "running_of", "warm_up_of"]

TO_C = 80.0
"""The warmth to which a warm-up is timed [C]."""
LAG_K = 1.0
"""By which a sensor may be behind, and coolant uneven [K]; our guess."""

_AGE_SD_S = 0.9 * SLOW_AGE_S / NORMAL_90  # from nothing to twice the usual, each as likely
_WARM_C = 60.0  # a start above it leaves too little to warm
_STOPPED_S = 60.0
_NEAR_K, _REST_S, _RISES = 3.0, 120.0, 0.8 / 60.0


@dataclass(frozen=True, slots=True)
class WarmUp:
    """A warm-up that a log shows.

    Parameters
    ----------
    from_s, until_s : float [s]
        Where it is watched.
    from_c : float [C]
    late_s : float, optional [s]
        How long after the start the log begins; 0 where the start is seen, None where that is not known.
    """

    from_s: float
    until_s: float
    from_c: float
    late_s: float | None


def running_of(log: Log, states: Sequence[StateSpan]) -> tuple[float, float] | None:
    """From the first moment that the engine runs to the last before it stands for a minute.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
        Used where no engine speed is logged.

    Returns
    -------
    tuple of (float, float) or None [s]
    """
    speed = log.get("engine_speed")
    if speed is not None:
        runs = speed.times_s[speed.values > RUNS_RPM]
    else:
        runs = np.array([time for span in states if span.state in TURNING for time in (span.from_s, span.to_s)])
    if runs.size < 2:
        return None
    apart = np.flatnonzero(np.diff(runs) > _STOPPED_S)
    # Apart may also be a gap of the log: only where the engine is seen to stand has it been stopped.
    for k in apart.tolist():
        between = (
            speed.inside(np.nextafter(runs[k], np.inf), np.nextafter(runs[k + 1], -np.inf))
            if speed is not None
            else None
        )
        if between is None or len(between):
            return float(runs[0]), float(runs[k])
    return float(runs[0]), float(runs[-1])


def plateau_of(coolant: Series, running: tuple[float, float] | None) -> tuple[float, float] | None:
    """Where the coolant no longer rises, whatever warmth it has come to.

    Parameters
    ----------
    coolant : Series
    running : tuple of (float, float), optional [s]

    Returns
    -------
    tuple of (float, float) or None [s]
        None where it still rises at the end, or rests for less than two minutes.
    """
    if running is None:
        return None
    inside = coolant.inside(*running)
    if len(inside) < 5 or running[1] - running[0] < _REST_S:
        return None
    late = inside.inside(running[1] - 0.4 * (running[1] - running[0]), running[1])
    if len(late) < 3:
        return None
    level = float(np.median(late.values))
    from_s = float(inside.times_s[np.argmax(inside.values >= level - _NEAR_K)])
    rest = inside.inside(from_s, running[1])
    if running[1] - from_s < _REST_S or len(rest) < 5:
        return None
    trend = float(np.polyfit(rest.times_s - from_s, rest.values, 1)[0])
    return None if trend > _RISES else (from_s, running[1])


def warm_up_of(log: Log, coolant: Series, states: Sequence[StateSpan]) -> WarmUp | str:
    """The warm-up of a log, or the reason why it shows none.

    Parameters
    ----------
    log : Log
        Its run time, where it has one, says how long after the start it begins.
    coolant : Series
    states : sequence of StateSpan

    Returns
    -------
    WarmUp or str
    """
    running = running_of(log, states)
    if running is None:
        return "the engine does not run in this log"
    inside = coolant.inside(*running)
    before = coolant.inside(running[0] - 30.0, running[0])
    if len(inside) < 3:
        return "hardly any coolant temperature is logged while the engine runs"
    first = float(before.values[-1]) if len(before) else float(inside.values[0])
    if first > _WARM_C:
        return f"the log starts warm: coolant {figure(first)} °C when the engine is first seen running"
    stood = any(span.state in ("off", "key_on", "cranking") and span.from_s < running[0] for span in states)
    run_time, late = log.get("run_time"), 0.0 if stood else None
    if late is None and run_time is not None:
        counted = run_time.inside(running[0], running[0] + 20.0)
        if len(counted):
            late = max(float(np.median(counted.values - (counted.times_s - running[0]))), 0.0)
            late = 0.0 if late < 5.0 else late
    return WarmUp(running[0], running[1], first, late)


def reaching(coolant: Series, from_s: float, until_s: float, celsius: float = TO_C) -> tuple[float, float] | None:
    """When a rising temperature that is shown in steps passes a value, and how sure that is.

    Parameters
    ----------
    coolant : Series
    from_s, until_s : float [s]
    celsius : float [C]

    Returns
    -------
    tuple of (float, float) or None [s]
        Time and standard deviation; None where it is not passed.

    Notes
    -----
    A line through what is shown within 3 K of it on the way up, less the usual age of what a thermistor shows. A line
    over several steps of the display passes through the middle of each: one step's rounding, over their number, is
    left. That and what a sensor reads differently from one time to the next are turned into time by the line's slope.
    """
    inside = coolant.inside(from_s, until_s)
    there = np.flatnonzero(inside.values >= celsius)
    if not there.size:
        return None
    last = int(there[0])
    if last == 0:
        return None
    beyond = min(last + 1, len(inside))
    while beyond < len(inside) and celsius <= inside.values[beyond] < celsius + _NEAR_K:
        beyond += 1
    near = np.flatnonzero(np.abs(inside.values[:beyond] - celsius) <= _NEAR_K)
    near = near if near.size >= 3 and np.ptp(inside.values[near]) > 0.0 else np.arange(max(last - 1, 0), last + 1)
    times, values = inside.times_s[near], inside.values[near]
    slope, level = np.polyfit(times - times[0], values, 1)
    slope = max(float(slope), 1e-3)
    at = float(np.clip(times[0] + (celsius - level) / slope, inside.times_s[max(last - 1, 0)] - 30.0, times[-1]))
    rounded = EVEN_90 * coolant.step / np.unique(values).size
    sd = np.sqrt((rounded**2 + (0.3 * LAG_K) ** 2) / slope**2 + inside.period_s**2 / 12.0 + _AGE_SD_S**2)
    return at - SLOW_AGE_S, float(sd)
