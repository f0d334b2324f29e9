"""Voltage by state: what the module finds, what that says of the battery, and what a log is too slow to show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.estimate import NORMAL_90
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.average import average
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.habit import fresh_every_s
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.plain import averages
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.startvolts import CRANK_SAMPLES, pulled_down
from witnessmark.measure.log.stretches import TURNING, condition_of, grouped, source_of
from witnessmark.measure.log.words import WORDS, with_spread
from witnessmark.vocabulary import Place

__all__ = ["voltage"]

_MODULE, _BATTERY = Place.of(module="ecu"), Place.of(battery="battery")
# Between the battery's posts and the module: 0.05 to 0.35 V of fuse, relay and wire, each as likely; common practice,
# no source. Nine tenths of that are 0.135 V on either side.
_DROP_V, _DROP_SD = 0.2, 0.135 / NORMAL_90
_FLOOR_V = 0.003  # of the converter's own wandering, which no mean takes away; our guess
_CHARGED = ("idle", "raised", "cruise")
_BEFORE_START_S = 0.5  # our guess
_BEGIN_S, _END_S = 0.3, 0.15  # of a start, in which it is brought up to speed, or fires already; our guess
_FASTER = "a log of this value alone, ten times a second, during a start; or a recording of the battery with a scope"


def voltage(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """What a log says of the supply.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Not needed.

    Returns
    -------
    LogPart
        Findings ``supply_reported`` by state, ``charging_volts`` while the engine runs, ``cranking_volts`` and
        ``cranking_speed`` where the log is quick enough; else bounds in the reasons.
    """
    found: list[Finding | NotMeasured] = list(_cranking_speed(log, states))
    volts, notes = log.get("volts"), []
    if volts is not None:
        found += averages(
            log, volts, _before_starts(states), ("key_on", *TURNING), "supply_reported", _MODULE, steady=False,
            floor=_FLOOR_V,
        )  # fmt: skip
        found += _charging(log, volts, states)
        found += _cranking_volts(log, volts, states)
        found.append(_no_ripple(log, volts))
        notes = _sag(log, volts, states)
    return LogPart(
        tuple(one for one in found if isinstance(one, Finding)),
        tuple(one for one in found if isinstance(one, NotMeasured)),
        notes=tuple(notes),
    )


def _before_starts(states: Sequence[StateSpan]) -> list[StateSpan]:
    """A starter pulls the voltage down before the speed is shown: key-on without its end."""
    return [
        replace(s, to_s=max(s.from_s, s.to_s - _BEFORE_START_S)) if s.state == "key_on" else s for s in states
    ]  # fmt: skip


def _charging(log: Log, volts: Series, states: Sequence[StateSpan]) -> Iterator[Finding]:
    """At the battery: what the module finds, and the usual drop on the way there."""
    for one in averages(log, volts, states, _CHARGED, "charging_volts", _BATTERY, steady=False):
        said = (f"read at the module: {_DROP_V:g} ± {_DROP_SD:g} V are lost between it and the battery",)
        yield replace(one, value=one.value + _DROP_V, sd=float(np.hypot(one.sd, _DROP_SD)), assumptions=said)


def _cranked(series: Series, states: Sequence[StateSpan]) -> list[Series]:
    """What was read during starts, without their ends."""
    starts = [s for s in states if s.state == "cranking"]
    inner = [series.inside(s.from_s + _BEGIN_S, s.to_s - _END_S) for s in starts if s.seconds > _BEGIN_S + _END_S]
    return [one for one in inner if len(one)]


def _cranking_volts(log: Log, volts: Series, states: Sequence[StateSpan]) -> Iterator[Finding | NotMeasured]:
    spans = [span for span in states if span.state == "cranking"]
    every = pieces_of(volts, spans)
    if not every:
        return
    spacing = fresh_every_s(log, volts)
    lowest = min(float(piece.values.min()) for piece in every)
    found = pulled_down(volts, spans)
    if found is None or spacing > 0.25:
        yield NotMeasured(
            "cranking_volts", _BATTERY,
            f"at most {lowest + _DROP_V:.1f} V: a value every {spacing:.2g} s sees little of a start", _FASTER,
        )  # fmt: skip
        return
    value, sd = found
    yield Finding(
        "cranking_volts", _BATTERY, value + _DROP_V, float(np.hypot(sd, _DROP_SD)),
        condition_of(log, spans, state="cranking"), source_of(log, [volts], spans[0].from_s, spans[-1].to_s),
        f"where {sum(len(piece) for piece in every)} samples while cranking come down to",
        (f"read at the module: {_DROP_V:g} ± {_DROP_SD:g} V are lost on the way",),
    )  # fmt: skip


def _cranking_speed(log: Log, states: Sequence[StateSpan]) -> Iterator[Finding | NotMeasured]:
    speed = log.get("engine_speed")
    spans = [span for span in states if span.state == "cranking"]
    every = pieces_of(speed, spans) if speed is not None else []
    if speed is None or not every:
        return
    spacing = fresh_every_s(log, speed)
    pieces = _cranked(speed, states)
    turning = np.concatenate([p.values for p in pieces]) if pieces else np.empty(0)
    if turning.size < CRANK_SAMPLES or spacing > 0.25 or np.median(turning) < 60.0:
        most = max(float(piece.values.max()) for piece in every)
        yield NotMeasured(
            "cranking_speed", Place(),
            (f"{most:.0f} rpm at most" if most > 30.0 else "no turning seen")
            + f": a value every {spacing:.2g} s does not tell turning from firing", _FASTER,
        )  # fmt: skip
        return
    # The middle one: at either end the engine is brought up to speed, or fires.
    value = float(np.median(turning))
    scatter = 1.4826 * float(np.median(np.abs(turning - value)))
    sd = float(np.hypot(max(1.25 * scatter, 5.0) / np.sqrt(turning.size), 2.5))
    begin, end = float(pieces[0].times_s[0]), float(pieces[-1].times_s[-1])
    yield Finding(
        "cranking_speed", Place(), value, sd, condition_of(log, spans, state="cranking"),
        source_of(log, [speed], begin, end), f"median of {turning.size} values while cranking, ends left out",
    )  # fmt: skip


def _no_ripple(log: Log, volts: Series) -> NotMeasured:
    every = fresh_every_s(log, volts)
    reason = f"a value every {every:.2g} s cannot show what swings some hundred times a second"
    settled = "a recording of the battery's voltage with a scope, AC coupled, loads on"
    return NotMeasured("ripple", _BATTERY, reason, settled)


def _sag(log: Log, volts: Series, states: Sequence[StateSpan]) -> list[str]:
    """How far it falls at idle against raised speed, and its lowest while the engine runs."""
    means = {}
    for group in grouped(states, _CHARGED):
        found = average(pieces_of(volts, group.spans))
        if found is not None and group.state not in means:
            means[group.state] = found
    running = [piece.values for piece in pieces_of(volts, [s for s in states if s.state in TURNING])]
    if not running:
        return []
    lowest = float(np.percentile(np.concatenate(running), 1.0))
    words = ", ".join(
        f"{with_spread(one.value, one.sd, 'V', least_places=2)} {WORDS[state]}" for state, one in means.items()
    )
    return [
        f"module voltage: {words or 'neither idle, raised speed nor cruise, warm'}; lowest while running {lowest:.2f} V"
    ]
