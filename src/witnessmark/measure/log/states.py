"""Operating states, found from whatever a log holds: the engine's speed, the road's, pedal, load, voltage, warmth."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.types import Engine
from witnessmark.measure.log.habit import RUNS_RPM
from witnessmark.measure.log.moments import Moments, held, moments_of, slope, swing
from witnessmark.measure.log.rest import idle_load, idle_speed, released, standing
from witnessmark.measure.log.series import Log
from witnessmark.measure.log.spans import StateSpan

__all__ = ["StatesFound", "find_states", "states_of"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Text = NDArray[np.str_]

# All of this is common practice, no source; none of it was fitted to a log.
_TURNS_RPM = 30.0
_DEAD_V, _DIP_V = 6.0, 1.0  # a module below the first is not fed; a starter takes at least the second
_RAISED, _RAISED_SOFT = 1.45, 1.3  # over idle speed
_LIGHT = 1.15  # over idle's load: what a raised speed takes without a vehicle to move
_STILL, _STILL_SOFT = 0.03, 0.06  # change of speed over a second that a held speed may have
_HOLDS, _HOLDS_SOFT = 0.6, 1.0  # km/h per second
_GAINS, _GAINS_SOFT = 1.2, 0.8
_OPEN_WIDE, _LOAD_WIDE, _MAP_WIDE = 0.7, 85.0, 0.90
_SNAP_RPM_S, _SNAP_SOFT = 1200.0, 400.0
_EVEN, _EVEN_SOFT, _EVEN_LOAD, _EVEN_LOAD_SOFT = 0.04, 0.06, 0.08, 0.12
_BEFORE_START_S, _QUICK_S = 0.5, 0.25  # our guess
_POINT = ("cranking", "snap", "key_on", "off")  # states kept though short, and whose ends are not cut


@dataclass(frozen=True, slots=True)
class StatesFound:
    """The states of a log and how they were told apart.

    Parameters
    ----------
    spans : tuple of StateSpan
        In order of time, without overlap.
    idle_rpm : float, optional [rpm]
        The lowest speed at which the engine stayed, standing.
    notes : tuple of str
        Which states could not be told, and for want of what.
    """

    spans: tuple[StateSpan, ...]
    idle_rpm: float | None
    notes: tuple[str, ...]


def states_of(log: Log, engine: Engine | None = None) -> tuple[StateSpan, ...]:
    """The operating states of a log.

    Parameters
    ----------
    log : Log
    engine : Engine, optional
        Not needed: what idles, and where the pedal rests, is found from the log itself.

    Returns
    -------
    tuple of StateSpan
        In order of time, without overlap; a stretch that is neither one nor the other belongs to none.
    """
    return find_states(log, engine).spans


def find_states(log: Log, engine: Engine | None = None) -> StatesFound:
    """The same with the idle speed found and with what could not be told.

    Parameters
    ----------
    log : Log
    engine : Engine, optional

    Returns
    -------
    StatesFound
    """
    moments = moments_of(log)
    if moments is None:
        return StatesFound((), None, ("nothing in this log tells an operating state",))
    runs, dead = _running(moments)
    stands, rests = standing(moments), released(moments, runs)
    idle = idle_speed(moments, runs, stands, rests)
    words = _words(moments, runs, dead, stands, rests, idle)
    spans = _spans(moments, words, _even(moments))
    return StatesFound(spans, idle, _notes(moments, stands, rests, idle))


def _running(m: Moments) -> tuple[BoolArray, BoolArray]:
    """Where the engine runs, and where it stands still or no more than a starter turns it."""
    told = np.isfinite(m.speed)
    runs = np.where(told, m.speed >= RUNS_RPM, m.runs_otherwise == 1.0)
    dead = np.where(told, m.speed < _TURNS_RPM, m.runs_otherwise == 0.0)
    return runs.astype(bool), dead.astype(bool)


def _words(
    m: Moments, runs: BoolArray, dead: BoolArray, stands: FloatArray, rests: FloatArray, idle: float | None
) -> Text:
    """The state at each moment, "" where none."""
    words = np.full(len(m), "", dtype="<U12")
    speed = m.speed
    if not np.isfinite(speed).any():  # then only the road and the pedal tell, at a speed taken as idle's throughout
        speed, idle = np.where(runs, 1.0, 0.0), 1.0
    quick = max(1.5, 1.1 * m.cadence_s)
    trend = np.abs(slope(m.times_s, speed, max(3.0, 1.3 * m.cadence_s))) / np.maximum(speed, 1.0)
    gains = slope(m.times_s, m.road, quick)
    _when_standing(m, words, runs & (stands != 0.0), stands, rests, speed, trend, idle)
    usual = idle_load(m, (words == "idle") | (words == "warm_up"))
    _when_moving(m, words, runs & (stands != 1.0), rests, speed, gains, idle, usual)
    wide = _wide(m, rests) & runs & (stands != 1.0)
    words[wide] = "full_load"
    if m.cadence_s <= 0.6:
        jump = slope(m.times_s, speed, max(0.15, 1.5 * m.cadence_s))
        words[held(jump > _SNAP_RPM_S, jump > _SNAP_SOFT) & runs & (stands == 1.0) & (rests != 1.0)] = "snap"
    words[dead] = "key_on"
    words[dead & (m.volts < _DEAD_V)] = "off"
    words[_cranked(m, runs, dead)] = "cranking"
    return words


def _when_standing(
    m: Moments, words: Text, where: BoolArray, stands: FloatArray, rests: FloatArray, speed: FloatArray,
    trend: FloatArray, idle: float | None,
) -> None:  # fmt: skip
    """Idle, cold idle, raised: speed held, pedal released or not.

    Without a pedal only the speed tells idle from raised. Where nothing says that the vehicle stands, a held speed
    counts as standing only while the load is about idle's: a driven engine takes more.
    """
    if idle is None:
        return
    still = held(trend < _STILL, trend < _STILL_SOFT) & where
    unsure = ~(stands == 1.0)
    high = held(speed > _RAISED * idle, speed > _RAISED_SOFT * idle)
    usual = idle_load(m, where & ~high & (rests != 0.0))
    light = m.load < _LIGHT * usual if usual is not None else np.zeros(len(m), dtype=bool)
    by_pedal = np.isfinite(rests) & np.isfinite(m.pedal)
    at_idle = still & np.where(by_pedal, (rests == 1.0) & (~high | ~unsure), (rests != 0.0) & ~high)
    raised = still & high & (rests != 1.0) & (~unsure | light)
    words[at_idle] = "idle"
    words[at_idle & (m.warm == 0.0)] = "warm_up"
    words[raised] = "raised"


def _when_moving(
    m: Moments, words: Text, where: BoolArray, rests: FloatArray, speed: FloatArray, gains: FloatArray,
    idle: float | None, usual: float | None,
) -> None:  # fmt: skip
    """Overrun with the pedal released above idle speed; else the road's speed held, or gained under load."""
    base = idle if idle is not None else 800.0
    fast = speed > _RAISED * base
    light = np.ones(len(m), dtype=bool) if usual is None else ~(m.load > usual)
    words[where & (rests == 1.0) & fast & light & (words == "")] = "overrun"
    driven = where & (words == "") & np.isfinite(gains) & (rests != 1.0) & ((speed > 1.1 * base) | (speed == 1.0))
    change = np.abs(gains)
    words[driven & held(change < _HOLDS, change < _HOLDS_SOFT)] = "cruise"
    words[driven & held(gains > _GAINS, gains > _GAINS_SOFT)] = "acceleration"


def _wide(m: Moments, rests: FloatArray) -> BoolArray:
    """Throttle well open; or load and manifold pressure as high as they go, for a plate nobody logged."""
    opened = [values for values in (m.pedal, m.plate) if np.isfinite(values).any()]
    share = np.full(len(m), np.nan)
    for values in opened:
        rest = float(np.nanpercentile(values, 1.0))
        share = np.fmax(share, (values - rest) / max(100.0 - rest, 1.0))
    filled = (m.map_share > _MAP_WIDE) & (~np.isfinite(m.load) | (m.load > _LOAD_WIDE))
    by_air = filled & (~np.isfinite(share) | (share > 0.4)) & (rests != 1.0) & (m.speed > 1200.0)
    return held((share > _OPEN_WIDE) | by_air, (share > 0.9 * _OPEN_WIDE) | by_air)


def _cranked(m: Moments, runs: BoolArray, dead: BoolArray) -> BoolArray:
    """Turning below running speed after standing; or, where speed is not told so early, a voltage pulled down."""
    found = np.zeros(len(m), dtype=bool)
    still = dead & np.isfinite(m.volts)
    rest = float(np.percentile(m.volts[still], 75.0)) if still.any() else np.nan
    dips = dead & (m.volts < rest - _DIP_V) & (m.volts > _DEAD_V)
    maybe = (~dead & ~runs & np.isfinite(m.speed)) | dips
    for first, last in _runs_of(maybe):
        before = dead[first - 1] if first else True
        short = m.times_s[last - 1] - m.times_s[first] < 60.0
        found[first:last] = (before or bool(dips[first])) and short
    return found


def _even(m: Moments) -> BoolArray:
    """Where speed and load hold still for a few seconds; where a load that is logged was lost, nobody knows."""
    reach = max(3.0, 1.5 * m.cadence_s)
    mean, sway = swing(m.times_s, m.speed, reach)
    if not np.isfinite(m.speed).any():
        mean, sway = np.ones(len(m)), np.zeros(len(m))
    middle, swings = swing(m.times_s, m.load, reach)
    swings = np.where(np.isfinite(swings), swings, np.inf if np.isfinite(m.load).any() else 0.0)
    size = np.where(np.isfinite(middle), np.maximum(np.abs(middle), 1e-9), 1.0)
    strict = (sway < _EVEN * mean) & (swings < np.maximum(_EVEN_LOAD * size, 1.0))
    loose = (sway < _EVEN_SOFT * mean) & (swings < np.maximum(_EVEN_LOAD_SOFT * size, 1.5))
    return held(strict, loose)


def _runs_of(mask: BoolArray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _spans(m: Moments, words: Text, even: BoolArray) -> tuple[StateSpan, ...]:
    """Stretches of one state, their ends cut off, split where they stop or begin to hold still."""
    found: list[StateSpan] = []
    jumps = np.diff(m.times_s) > max(4.0 * m.cadence_s, 3.0)
    changes = np.flatnonzero((words[1:] != words[:-1]) | jumps) + 1
    for first, last in zip(np.r_[0, changes], np.r_[changes, len(m)], strict=True):
        state = str(words[first])
        if not state:
            continue
        if state not in _POINT:
            first, last = _trimmed(m, int(first), int(last))
        if state == "key_on" and m.cadence_s <= _QUICK_S and last < len(m) and words[last] not in ("off", "key_on"):
            # A starter turns and pulls the voltage down before a speed is shown. A slow log has no value to spare.
            before = m.times_s[last - 1] - _BEFORE_START_S
            last = max(int(np.searchsorted(m.times_s, before, side="right")), first + 1)
        if last - first >= (1 if state in _POINT else 2):
            found.extend(_split(m, state, int(first), int(last), even))
    return tuple(found)


def _trimmed(m: Moments, first: int, last: int) -> tuple[int, int]:
    """Without the first and last second, or the first and last fresh value where they come more slowly."""
    cut = max(1.0, 0.5 * m.cadence_s) if m.cadence_s < 3.0 else 0.0
    start, end = m.times_s[first] + cut, m.times_s[last - 1] - cut
    if end < start:
        return first, first
    return int(np.searchsorted(m.times_s, start)), int(np.searchsorted(m.times_s, end, side="right"))


def _split(m: Moments, state: str, first: int, last: int, even: BoolArray) -> list[StateSpan]:
    flags = even[first:last] & (state not in ("snap", "cranking", "acceleration"))
    least = max(4.0, 2.0 * m.cadence_s)
    flags = _without_short(m.times_s[first:last], flags, least)
    bounds = np.r_[0, np.flatnonzero(np.diff(flags.astype(np.int8))) + 1, last - first]
    spans = []
    for low, high in pairwise(bounds.tolist()):
        warm = m.warm[first + low : first + high]
        known = warm[np.isfinite(warm)]
        is_warm = bool(np.mean(known) > 0.5) if known.size else None
        a, b = float(m.times_s[first + low]), float(m.times_s[first + high - 1])
        steady = bool(flags[low]) and (b > a or state in ("key_on", "off"))
        spans.append(StateSpan(state, a, b, steady, is_warm))
    return spans


def _without_short(times_s: FloatArray, flags: BoolArray, least_s: float) -> BoolArray:
    """Steady only where it lasts."""
    kept = flags.copy()
    for first, last in _runs_of(flags):
        if times_s[last - 1] - times_s[first] < least_s:
            kept[first:last] = False
    return kept


def _notes(m: Moments, stands: FloatArray, rests: FloatArray, idle: float | None) -> tuple[str, ...]:
    notes = []
    if not np.isfinite(m.speed).any():
        notes.append("no engine speed in this log: cranking, raised and snap are not told, idle only roughly")
    if not np.isfinite(stands).any():
        notes.append("no vehicle speed in this log: cruise and acceleration are not told, raised only by its low load")
    if not np.isfinite(rests).any():
        notes.append("nothing in this log tells where the pedal rests: overrun is not told, idle by its speed alone")
    if not np.isfinite(m.warm).any():
        notes.append("no coolant temperature in this log: warm-up is not told from idle")
    if idle is None and np.isfinite(m.speed).any():
        notes.append("the engine never stayed at one low speed in this log: no idle in it")
    elif m.cadence_s > 3.0:
        notes.append(f"a fresh value only every {m.cadence_s:.1f} s: snap and short changes of state are not told")
    return tuple(notes)
