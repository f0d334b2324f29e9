"""How the coolant warmed after a start: time to 80 °C, rise for the heat it was given, and where it came to rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.firingheat import Heating, heating_of, sound_course
from witnessmark.measure.log.habit import fresh_every_s
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import TURNING, condition_of, source_of
from witnessmark.measure.log.words import figure
from witnessmark.vocabulary import Condition, Place

__all__ = ["Rise", "WarmUp", "plateau_of", "reaching", "rise_of", "running_of", "warm_up_of", "warming"]

_TO_C = 80.0
_BEHIND_S = 2.5  # by which a sensor and what smooths it trail; our guess
_WARM_C = 60.0  # a start above it leaves too little to warm
_JUDGED_C = 75.0  # a sound thermostat is still shut; predict judges the rise there too
_NEVER_MIN = 60.0  # what the prediction says of an engine that does not get there
_BELOW_C = 77.0  # a rest below it is none of a sound thermostat that lets 80 °C be reached
_STOPPED_S = 60.0
_RUNS_RPM = 400.0  # common practice, no source
_AHEAD_S = 90.0  # after a start coolant and head run ahead of the block: the rise is judged from then on; our guess
_LEAST_RISE_K, _LEAST_S = 15.0, 60.0
_LAG_K = 1.0  # by which a sensor may be behind, and coolant uneven; our guess
_OIL_SHARE, _OIL_SD = 0.6, 0.1  # of the way, where the oil stands; and what not knowing it makes of the rise; our guess
_NEAR_K, _REST_S, _RISES = 3.0, 120.0, 0.8 / 60.0
_COLD = "a log of a start after a night's stand, from before the start until the fan has run"


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


@dataclass(frozen=True, slots=True)
class Rise:
    """Coolant's rise against a sound engine's for the same heat.

    Parameters
    ----------
    ratio, sd : float [-]
    from_s, to_s : float [s]
    measured_k, sound_k : float [K]
    """

    ratio: float
    sd: float
    from_s: float
    to_s: float
    measured_k: float
    sound_k: float


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
        runs = speed.times_s[speed.values > _RUNS_RPM]
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


def reaching(coolant: Series, from_s: float, until_s: float, celsius: float = _TO_C) -> tuple[float, float] | None:
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
    A line through what is shown within 3 K of it on the way up; the steps of the display and the sensor's lag are
    turned into time by its slope.
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
    sd = np.sqrt((coolant.step**2 / 12.0 + (0.3 * _LAG_K) ** 2) / slope**2 + inside.period_s**2 / 12.0)
    return at, float(sd)


def rise_of(coolant: Series, heating: Heating, found: WarmUp, ambient_c: float) -> Rise | None:
    """The coolant's rise over what a sound engine's would be, up to where either passes 75 °C.

    Parameters
    ----------
    coolant : Series
    heating : Heating
        Of ``found``, from where the rise is judged on.
    found : WarmUp
    ambient_c : float [C]

    Returns
    -------
    Rise or None
        None where a sound engine's would have risen by less than 15 K.
    """
    begin = float(heating.times_s[0])
    now = float(np.interp(begin, coolant.times_s, coolant.values))
    oil = found.from_c + _OIL_SHARE * (now - found.from_c)
    if found.late_s != 0.0:
        oil = ambient_c + _OIL_SHARE * max(now - ambient_c, 0.0)
    sound = sound_course(heating, now, ambient_c, oil_start_c=min(oil, now))
    shown = np.interp(heating.times_s, coolant.times_s, coolant.values)
    passed = np.flatnonzero(np.maximum(sound, shown) >= _JUDGED_C)
    last = int(passed[0]) if passed.size else len(sound) - 1
    if last and passed.size:
        # Straight between the ends of pieces.
        top = np.maximum(sound, shown)
        part = float(np.clip((_JUDGED_C - top[last - 1]) / max(top[last] - top[last - 1], 1e-6), 0.0, 1.0))
    else:
        part = 1.0
    before = max(last - 1, 0)
    to_s = float(heating.times_s[before] + part * (heating.times_s[last] - heating.times_s[before]))
    sound_k = float(np.interp(to_s, heating.times_s, sound)) - now
    measured_k = float(np.interp(to_s, coolant.times_s, coolant.values)) - now
    if sound_k < _LEAST_RISE_K or to_s - begin < _LEAST_S:
        return None
    ratio = measured_k / sound_k
    shares = [heating.share_sd * ratio, np.hypot(coolant.step / 12.0**0.5, _LAG_K) / sound_k]
    shares += [] if found.late_s == 0.0 else [_OIL_SD * ratio]
    return Rise(ratio, float(np.sqrt(np.sum(np.square(shares)))), begin, to_s, measured_k, sound_k)


# ---------------------------------------------------------------- as findings


def warming(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """Time to 80 °C and rise for the heat given, or why a log does not tell.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional

    Returns
    -------
    LogPart
    """
    coolant = log.get("coolant")
    found = warm_up_of(log, coolant, states) if coolant is not None else "no coolant temperature is logged"
    if coolant is None or isinstance(found, str):
        return LogPart(not_measured=tuple(_missing(str(found))))
    results = [_time(log, coolant, found, states), _rate(log, coolant, found, engine)]
    return LogPart(
        tuple(one for one in results if isinstance(one, Finding)),
        tuple(one for one in results if isinstance(one, NotMeasured)),
    )


def _missing(reason: str) -> Iterator[NotMeasured]:
    for quantity in ("warm_up_time", "warming_rate"):
        yield NotMeasured(quantity, Place(), reason, _COLD)


def _time(log: Log, coolant: Series, found: WarmUp, states: Sequence[StateSpan]) -> Finding | NotMeasured:
    if found.late_s != 0.0:
        late = f"{found.late_s:.0f} s after the start" if found.late_s is not None else "with the engine running"
        return NotMeasured(
            "warm_up_time",
            Place(),
            f"the log begins {late}, at {figure(found.from_c)} °C: how cold it was is not known",
            _COLD,
        )
    at = reaching(coolant, found.from_s, found.until_s)
    if at is not None:
        # In a table that repeats its answers a value is as old as half the time between fresh ones.
        old = max(fresh_every_s(log, coolant) - coolant.period_s, 0.0)
        value, to_s = (at[0] - 0.5 * old - found.from_s) / 60.0, at[0]
        sd = float(np.sqrt(at[1] ** 2 + old**2 / 12.0 + _BEHIND_S**2)) / 60.0
        method = f"from {figure(found.from_c)} °C to {_TO_C:.0f} °C"
    else:
        rest = plateau_of(coolant, (found.from_s, found.until_s))
        level = float(np.median(coolant.inside(*rest).values)) if rest is not None else None
        if rest is None or level is None or level > _BELOW_C:
            return _not_yet(coolant, found)
        value, sd, to_s = _NEVER_MIN, 1.0, rest[1]
        method = f"comes to rest at {level:.0f} °C: {_NEVER_MIN:.0f} min stand for never, as they do in the prediction"
    return Finding(
        "warm_up_time", Place(), value, sd, _condition(log, found.from_s, to_s),
        source_of(log, [coolant], found.from_s, to_s), method,
    )  # fmt: skip


def _not_yet(coolant: Series, found: WarmUp) -> NotMeasured:
    inside = coolant.inside(found.from_s, found.until_s)
    last, minutes = float(inside.values[-1]), (found.until_s - found.from_s) / 60.0
    late = inside.inside(found.until_s - 120.0, found.until_s)
    slope = float(np.polyfit(late.times_s - late.times_s[0], late.values, 1)[0]) * 60.0 if len(late) > 2 else 0.0
    more = (
        f"; at its last rate of {slope:.1f} K/min not before {minutes + (_TO_C - last) / slope:.0f} min"
        if slope > 0.1
        else ""
    )
    return NotMeasured(
        "warm_up_time",
        Place(),
        f"{last:.0f} °C when the engine had run for {minutes:.1f} min and the log ended{more}",
        _COLD,
    )


def _rate(log: Log, coolant: Series, found: WarmUp, engine: Engine | None) -> Finding | NotMeasured:
    begin = found.from_s + (_AHEAD_S if found.late_s == 0.0 else 0.0)
    heating = heating_of(log, begin, found.until_s, engine)
    if heating is None:
        return NotMeasured(
            "warming_rate", Place(), "neither manifold pressure, absolute load nor air flow says how much was burnt, "
            "or the engine ran for too short a time",
            "manifold pressure or air flow, logged beside coolant and engine speed",
        )  # fmt: skip
    ambient = _ambient(log, found)
    rise = rise_of(coolant, heating, found, ambient)
    if rise is None:
        return NotMeasured("warming_rate", Place(), "too little was burnt to warm an engine by 15 K", _COLD)
    used = [
        coolant,
        *(s for name in ("engine_speed", "map", "maf", "absolute_load") if (s := log.get(name)) is not None),
    ]
    return Finding(
        "warming_rate", Place(), rise.ratio, rise.sd, _condition(log, rise.from_s, rise.to_s),
        source_of(log, used, rise.from_s, rise.to_s),
        f"coolant rose by {rise.measured_k:.0f} K, a sound engine's would have by {rise.sound_k:.0f} K for the same "
        f"heat: {heating.how}, {figure(ambient)} °C outside",
        ("a usual engine's heat capacity for its size, all petrol burnt, spark not retarded",),
    )  # fmt: skip


def _ambient(log: Log, found: WarmUp) -> float:
    """Outside air where it is logged, else the coldest that intake air and coolant say."""
    for name in ("outside_air", "intake_air"):
        series = log.get(name)
        if series is not None:
            early = series.inside(found.from_s - 30.0, found.from_s + 120.0)
            if len(early):
                return min(float(np.min(early.values)), found.from_c)
    return min(found.from_c, 20.0)


def _condition(log: Log, from_s: float, to_s: float) -> Condition:
    return condition_of(log, [StateSpan("warm_up", from_s, to_s)], state="warm_up", coolant=False)
