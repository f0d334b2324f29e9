"""Oxygen sensors: λ by state, swing and pace of narrow-band ones, the catalyst's damping, sensors that stand still."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.measured import Event, LogPart
from witnessmark.measure.log.plain import averages
from witnessmark.measure.log.response import response_of
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import Group, condition_of, grouped, source_of
from witnessmark.measure.log.swing import Swing, crossings_of, ratio_of, swing_of
from witnessmark.measure.log.trimsense import trim_against
from witnessmark.measure.log.words import WORDS
from witnessmark.vocabulary import Place

__all__ = ["oxygen", "sensor_name"]

_CLOSED = ("idle", "raised", "cruise")
_NARROW_V = 1.35  # a narrow-band sensor gives no more
_WARM = (True, None)
_DEAD_V = 0.1
_WATCHED_S = 40.0
_RATES = "a log of both sensors alone, ten times a second or more, at a steady 2,500 rpm"


def oxygen(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """What a log says of the oxygen sensors.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Not needed: banks and sensors are named by the log.

    Returns
    -------
    LogPart
        Findings ``lambda_reported``, ``o2_swing``, ``o2_crossings``, ``rear_activity`` and ``o2_response``.
    """
    findings: list[Finding] = []
    missing: list[NotMeasured] = []
    events: list[Event] = []
    for one in log.all_of("lambda"):
        name = sensor_name(one)
        if name is not None:
            findings += averages(
                log, one, states, ("warm_up", *_CLOSED, "acceleration", "full_load"), "lambda_reported",
                Place.of(sensor=name),
            )  # fmt: skip
            events += _frozen(log, one, states)
    for one in log.all_of("o2_voltage"):
        name = sensor_name(one)
        if name is not None and _narrow(one):
            for result in _narrow_band(log, one, name, states):
                (findings if isinstance(result, Finding) else missing).append(result)  # type: ignore[arg-type]
            events += _stuck(log, one, name, states)
    for bank in sorted({one.signal.bank or 1 for one in log.all_of("o2_voltage")}):
        for result in _rear(log, bank, states):
            (findings if isinstance(result, Finding) else missing).append(result)  # type: ignore[arg-type]
    against, notes = trim_against(log, [s for s in states if s.state in _CLOSED and s.warm in _WARM])
    return LogPart(tuple(findings), tuple(missing), (*events, *against), notes)


def sensor_name(series: Series) -> str | None:
    """The sensor's name: the first along the exhaust is the front, the second the rear one; None beyond.

    Parameters
    ----------
    series : Series

    Returns
    -------
    str or None
        "o2_front_1".
    """
    which = {1: "front", 2: "rear"}.get(series.signal.sensor or 0)
    return f"o2_{which}_{series.signal.bank}" if which else None


def _narrow(series: Series) -> bool:
    return float(series.values.max()) < _NARROW_V


def _groups(states: Sequence[StateSpan]) -> Iterator[Group]:
    """Closed loop, warm; stretches too short for a swing are left in: they join others."""
    return (group for group in grouped(states, _CLOSED) if group.warm in _WARM)


def _narrow_band(log: Log, one: Series, name: str, states: Sequence[StateSpan]) -> Iterator[Finding | NotMeasured]:
    place = Place.of(sensor=name)
    for group in _groups(states):
        pieces = pieces_of(one, group.spans)
        found = swing_of(pieces)
        if found is None:
            continue
        condition = condition_of(log, group.spans, state=group.state)
        source = source_of(log, [one], float(pieces[0].times_s[0]), float(pieces[-1].times_s[-1]))
        yield Finding("o2_swing", place, found.value, found.sd, condition, source, _words(found))
        pace = crossings_of(pieces)
        if pace is None or not name.startswith("o2_front"):
            continue
        if pace.reliable:
            yield Finding(
                "o2_crossings", place, pace.per_min, pace.sd, condition, source,
                f"{pace.count} crossings, both ways, each past 0.35 and 0.55 V",
            )  # fmt: skip
        else:
            yield NotMeasured(
                "o2_crossings", place,
                f"at least {pace.per_min:.0f} a minute {WORDS[group.state]}: a sample every {one.period_s:.2g} s "
                "shows swings that were never there and misses others", _RATES,
            )  # fmt: skip
    if name.startswith("o2_front"):
        yield from _response(log, one, place, states)


def _words(found: Swing) -> str:
    return (
        f"5 to 95 % of {found.count} samples: {found.low:.2f} to {found.high:.2f} V, rich "
        f"{100 * found.rich_share:.0f} % of the time"
    )


def _response(log: Log, one: Series, place: Place, states: Sequence[StateSpan]) -> Iterator[Finding | NotMeasured]:
    found = response_of(one, states)
    if isinstance(found, str):
        yield NotMeasured("o2_response", place, found, "Force rich, then lean, and log the sensor ten times a second.")
        return
    yield Finding(
        "o2_response", place, found.seconds, found.sd, condition_of(log, found.spans, state="overrun"),
        source_of(log, [one], found.spans[0].from_s, found.spans[-1].to_s),
        f"63 % of the way to lean after the fuel was cut, {len(found.spans)} times",
        ("fuel is cut where overrun begins",),
    )  # fmt: skip


def _rear(log: Log, bank: int, states: Sequence[StateSpan]) -> Iterator[Finding | NotMeasured]:
    front, rear = (log.get("o2_voltage", bank=bank, sensor=sensor) for sensor in (1, 2))
    place = Place.of(bank=bank)
    if rear is None:
        return
    if front is None or not _narrow(front):
        yield NotMeasured(
            "rear_activity", place, "the front sensor is not logged in volts of a narrow-band sensor: the two swings "
            "have no common measure", "Compare the rear sensor's swing with that of a sound vehicle of the kind.",
        )  # fmt: skip
        return
    for group in _groups(states):
        pieces = [pieces_of(one, group.spans) for one in (rear, front)]
        found = ratio_of(*pieces)
        if found is None:
            continue
        begin, end = float(pieces[1][0].times_s[0]), float(pieces[1][-1].times_s[-1])
        yield Finding(
            "rear_activity", place, found[0], found[1], condition_of(log, group.spans, state=group.state),
            source_of(log, [rear, front], begin, end),
            f"swing from 5 to 95 % of {sum(map(len, pieces[0]))} and {sum(map(len, pieces[1]))} samples",
        )  # fmt: skip


# ---------------------------------------------------------------- sensors that stand still


def _stuck(log: Log, one: Series, name: str, states: Sequence[StateSpan]) -> Iterator[Event]:
    """A front sensor of a warm closed loop swings; a rear one that stands rich is a good catalyst."""
    if not name.startswith("o2_front"):
        return
    spans = [span for group in _groups(states) for span in group.spans]
    pieces = pieces_of(one, spans)
    values = np.concatenate([piece.values for piece in pieces]) if pieces else np.empty(0)
    seconds = sum(span.seconds for span in spans)
    if values.size < 10 or seconds < _WATCHED_S or float(np.ptp(np.percentile(values, (2.0, 98.0)))) > _DEAD_V:
        return
    level = float(np.median(values))
    what = "lean" if level < 0.35 else "rich" if level > 0.55 else "between lean and rich, as with its wire open"
    yield Event(
        "implausible", (str(one.signal),), float(pieces[0].times_s[0]), float(pieces[-1].times_s[-1]),
        f"The front sensor of bank {one.signal.bank} stands {what} at {level:.2f} V through {seconds:.0f} s of warm "
        "running: stuck, or the mixture is beyond the trims.",
    )  # fmt: skip


def _frozen(log: Log, one: Series, states: Sequence[StateSpan]) -> Iterator[Event]:
    """λ of a running engine is never one and the same number for long."""
    if one.signal.sensor != 1:
        return
    for group in _groups(states):
        for piece in pieces_of(one, group.spans):
            if (
                len(piece) >= 20
                and float(piece.times_s[-1] - piece.times_s[0]) >= _WATCHED_S
                and not np.ptp(piece.values)
            ):
                yield Event(
                    "implausible", (str(one.signal),), float(piece.times_s[0]), float(piece.times_s[-1]),
                    f"λ of bank {one.signal.bank} is {piece.values[0]:.3f} and nothing else in {len(piece)} samples.",
                )  # fmt: skip
