"""Misfires that the computer counted, of a thousand firings of each cylinder; ignition taken back for knock.

Counts are few and come by chance: their doubt is Poisson's, and no misfire in a hundred firings is not the same as none
in ten thousand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc, gammaincinv

from witnessmark.engine.types import Engine
from witnessmark.estimate import NORMAL_90
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.average import average
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.plain import averages
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import Group, condition_of, grouped, source_of
from witnessmark.measure.log.words import WORDS, with_spread
from witnessmark.vocabulary import Place

__all__ = ["Counted", "MisfireRate", "counted", "misfire_rate", "misfires", "poisson_interval"]

FloatArray = NDArray[np.float64]

_FIRED = ("warm_up", "idle", "raised", "cruise", "acceleration", "full_load", "snap")
_KNOCKED = ("idle", "raised", "cruise", "acceleration", "full_load")
_MODULI = (256, 65536)
_NEAR_END = 0.8  # of a counter's range, above which a fall is taken for its wrap; our guess
_FEWEST_FIRINGS = 100.0
_BLOCKS = 8
_LOUD = 20.0  # misfires from which bunching can be told; our guess


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """What a counter counted between its samples.

    Parameters
    ----------
    from_s, to_s : array, shape (n,) [s]
    counts : array, shape (n,) [-]
    resets, wraps : int
    full : bool
        Whether it stood at the end of its range, where it counts no more.
    """

    from_s: FloatArray
    to_s: FloatArray
    counts: FloatArray
    resets: int
    wraps: int
    full: bool


@dataclass(frozen=True, slots=True)
class MisfireRate:
    """Misfires of a cylinder over its firings.

    Parameters
    ----------
    per_1000, sd : float [1/1000]
        1.645 of ``sd`` on either side hold 90 % of what Jeffreys' prior leaves of the rate; where none was counted all
        of it lies on one side, and the upper end of his interval is kept: 1.2 counts.
    low, high : float [1/1000]
        Ends of the exact 90 % interval.
    count, firings : float [-]
    bunched : float [-]
        By how much counts of stretches scatter more than by chance; 1 where that cannot be told.
    """

    per_1000: float
    sd: float
    low: float
    high: float
    count: float
    firings: float
    bunched: float


def counted(counter: Series) -> Counted:
    """Steps of a counter, with its resets and wraps.

    Parameters
    ----------
    counter : Series

    Returns
    -------
    Counted
        After a reset what it shows has been counted since, some of it perhaps before: it counts from 0.
    """
    steps = np.diff(counter.values)
    before, after = counter.values[:-1], counter.values[1:]
    fell = steps < 0.0
    wrapped = np.zeros(steps.shape, dtype=np.bool_)
    for modulus in _MODULI:
        fits = fell & (before >= _NEAR_END * modulus) & (before < modulus) & (after < (1.0 - _NEAR_END) * modulus)
        steps = np.where(fits, steps + modulus, steps)
        wrapped |= fits
    reset = fell & ~wrapped
    ends = [modulus - 1 for modulus in _MODULI]
    full = bool(len(counter) > 2 and any(np.sum(counter.values == end) > 2 for end in ends))
    since = np.where(reset, np.maximum(after, 0.0), steps)
    return Counted(counter.times_s[:-1], counter.times_s[1:], since, int(reset.sum()), int(wrapped.sum()), full)


def poisson_interval(count: float, share: float = 0.9) -> tuple[float, float]:
    """Interval for the mean of a Poisson count.

    Parameters
    ----------
    count : float [-]
    share : float [-]
        Chance that it holds the mean, at least.

    Returns
    -------
    tuple of (float, float), shape () each [-]
        Of 0 counted: 0 and 3.0.

    Notes
    -----
    Exact, by quantiles of the gamma distribution: Garwood 1936, from memory.

    Examples
    --------
    >>> [round(end, 2) for end in poisson_interval(0)]
    [0.0, 3.0]
    """
    tail = 0.5 * (1.0 - share)
    low = float(gammaincinv(count, tail)) if count > 0.0 else 0.0
    return low, float(gammaincinv(count + 1.0, 1.0 - tail))


def misfire_rate(counter: Series, speed: Series, spans: Sequence[StateSpan]) -> MisfireRate | None:
    """Misfires of one cylinder in some stretches.

    Parameters
    ----------
    counter : Series
    speed : Series
        Engine speed; a cylinder fires every other turn.
    spans : sequence of StateSpan

    Returns
    -------
    MisfireRate or None
        None below a hundred firings.
    """
    steps = counted(counter)
    inside = np.zeros(steps.counts.shape, dtype=np.bool_)
    for span in spans:
        inside |= (steps.from_s >= span.from_s) & (steps.to_s <= span.to_s)
    fired = _firings(speed, steps.from_s[inside], steps.to_s[inside])
    whole = np.isfinite(fired)
    counts, fired = steps.counts[inside][whole], fired[whole]
    firings, count = float(fired.sum()), float(counts.sum())
    if firings < _FEWEST_FIRINGS:
        return None
    bunched = _bunched(counts, fired)
    low, high = poisson_interval(count)
    wide = np.sqrt(bunched)
    low, high = max(count - wide * (count - low), 0.0), count + wide * (high - count)
    per = 1000.0 / firings
    return MisfireRate(
        per * count, per * wide * _reach(count) / NORMAL_90, per * low, per * high, count, firings, bunched
    )  # fmt: skip


def _reach(count: float) -> float:
    """How far from a count on either side lies what holds 90 % of the mean's posterior under Jeffreys' prior."""
    if count < 0.5:
        return float(gammaincinv(count + 0.5, 0.95)) - count
    low, high = 0.0, 10.0 * np.sqrt(count) + 10.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        held = gammainc(count + 0.5, count + middle) - gammainc(count + 0.5, max(count - middle, 0.0))
        low, high = (low, middle) if held > 0.9 else (middle, high)
    return float(high)


def _firings(speed: Series, begins: FloatArray, ends: FloatArray) -> FloatArray:
    """Of one cylinder between times: speed over 120, integrated straight between samples; none across gaps."""
    if len(speed) < 2 or not begins.size:
        return np.full(begins.shape, np.nan)
    turns = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(speed.times_s) * (speed.values[1:] + speed.values[:-1]))])
    # Linear in between errs by less than a firing; beyond the ends and across gaps nothing is known.
    apart = max(6.0 * speed.period_s, 3.0)
    seen = np.isfinite(speed.between(begins, apart_s=apart)) & np.isfinite(speed.between(ends, apart_s=apart))
    found = (np.interp(ends, speed.times_s, turns) - np.interp(begins, speed.times_s, turns)) / 120.0
    return np.where(seen, found, np.nan)


def _bunched(counts: FloatArray, firings: FloatArray) -> float:
    """Variance over mean of counts in eight stretches of as many firings; 1 where too few are counted to tell."""
    if counts.size < 2 * _BLOCKS or counts.sum() < _LOUD:
        return 1.0
    block = np.minimum((_BLOCKS * np.cumsum(firings) / firings.sum()).astype(np.int64), _BLOCKS - 1)
    seen, could = (np.bincount(block, one, minlength=_BLOCKS) for one in (counts, firings))
    expected = counts.sum() * could / firings.sum()
    told = expected > 0.0
    ratio = float(np.sum(np.square(seen - expected)[told] / expected[told]) / max(int(told.sum()) - 1, 1))
    return max(ratio, 1.0)


def misfires(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """Misfires and knock retard by cylinder and state.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Not needed: every count belongs to its own cylinder's firings.

    Returns
    -------
    LogPart
        Findings ``misfire_count`` [1/1000 of that cylinder's firings], zero counts included, and ``knock_retard``.
    """
    findings: list[Finding] = []
    missing: list[NotMeasured] = []
    notes: list[str] = []
    speed = log.get("engine_speed")
    for counter in log.all_of("misfire_count"):
        notes += _oddities(counter)
        for group in grouped(states, _FIRED):
            found = misfire_rate(counter, speed, group.spans) if speed is not None else None
            if found is None:
                continue
            assert speed is not None
            if counter.signal.cylinder is None:
                missing.append(_of_all(found, group))
            else:
                findings.append(_finding(log, counter, speed, group, found))
        if speed is None:
            missing.append(NotMeasured(
                "misfire_count", Place.of(cylinder=counter.signal.cylinder),
                "counts without engine speed do not say of how many firings", "engine speed, logged beside them",
            ))  # fmt: skip
    for part in (_knock(log, one, states) for one in log.all_of("knock_retard")):
        findings += part.findings
        missing += part.not_measured
        notes += part.notes
    return LogPart(tuple(findings), tuple(missing), notes=tuple(notes))


def _finding(log: Log, counter: Series, speed: Series, group: Group, found: MisfireRate) -> Finding:
    begin, end = group.spans[0].from_s, group.spans[-1].to_s
    bunched = f", in bunches ({found.bunched:.1f} times the scatter of chance)" if found.bunched > 1.5 else ""
    return Finding(
        "misfire_count", Place.of(cylinder=counter.signal.cylinder), found.per_1000, found.sd,
        condition_of(log, group.spans, state=group.state), source_of(log, [counter, speed], begin, end),
        f"{found.count:.0f} counted in {found.firings:.0f} firings of this cylinder{bunched}; exact 90 % "
        f"interval {found.low:.2g} to {found.high:.2g}",
    )  # fmt: skip


def _of_all(found: MisfireRate, group: Group) -> NotMeasured:
    return NotMeasured(
        "misfire_count", Place(),
        f"the count is of all cylinders together: {found.count:.0f} in {found.firings:.0f} firings of each, "
        f"{WORDS[group.state]}",
        "a log with the counts of single cylinders",
    )  # fmt: skip


def _oddities(counter: Series) -> list[str]:
    steps, name = counted(counter), counter.signal.words
    found = []
    if steps.resets:
        found.append(f"{name}: set back to 0 {steps.resets} times; what was counted just before is not known")
    if steps.wraps:
        found.append(f"{name}: ran over the end of its range {steps.wraps} times, and was counted on")
    if steps.full:
        found.append(f"{name}: stood at the end of its range, where it counts no more: there were at least as many")
    return found


def _knock(log: Log, retard: Series, states: Sequence[StateSpan]) -> LogPart:
    """Some computers give what is taken back a minus: all of it, then."""
    turned = bool(retard.values.min() < 0.0 and retard.values.max() <= 0.0)
    scale, notes = (
        (-1.0, (f"{retard.signal.words}: below zero all along, taken as degrees taken back",)) if turned else (1.0, ())
    )
    if retard.signal.cylinder is None:
        means = [(group.state, average(pieces_of(retard, group.spans))) for group in grouped(states, _KNOCKED)]
        words = "; ".join(
            f"{with_spread(scale * one.value, one.sd, '°', least_places=1)} {WORDS[state]}"
            for state, one in means
            if one is not None
        )
        reason = f"the log gives one value for all cylinders{': ' + words if words else ''}"
        return LogPart(
            not_measured=(NotMeasured("knock_retard", Place(), reason, "a log of it for each cylinder"),), notes=notes
        )
    place = Place.of(cylinder=retard.signal.cylinder)
    return LogPart(
        tuple(averages(log, retard, states, _KNOCKED, "knock_retard", place, scale=scale, steady=False)), notes=notes
    )
