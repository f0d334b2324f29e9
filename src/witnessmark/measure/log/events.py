"""What happened to the values of a log: drop-outs, standstills, steps, and which of them came together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.log.freezes import Watched, freezes_of
from witnessmark.measure.log.habit import fresh_every_s, node_of
from witnessmark.measure.log.lapses import Lapse, at_home, lapses_of, shows_losses, watched_s
from witnessmark.measure.log.lossrate import loss_rate, seen_by_both, seen_share
from witnessmark.measure.log.measured import Event, LogPart
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.steps import jumps_of
from witnessmark.measure.log.together import Together, shared, together
from witnessmark.measure.log.words import odds_of_accident
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Condition, Place

__all__ = ["events", "without_lost"]

_UNKNOWN_END = "nothing tells what this log shows in place of the value when the sensor's wire is lost"
_HOME = "the value stands at an end of its scale for a quarter of the time or more: lost, or at home there"
_USUAL_LOSS_S = 0.5
_BLIND = 0.2  # below this share of losses seen, none seen says nothing; by both of two, below half of it
_SHORTEST_WATCH_S = 30.0
_MOST_EVENTS = 20  # of one kind of one signal; the rest are counted in the last one's words


def events(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """Drop-outs, standstills and steps of a log.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Of no account here: sensors go by their usual names.

    Returns
    -------
    LogPart
        Findings ``signal_dropouts``, ``signal_frozen`` and ``dropouts_together`` of each sensor or pair that was
        watched long enough; every event with its place in time.
    """
    lapses, watched = lapses_of(log), freezes_of(log)
    fresh = {series.signal: fresh_every_s(log, series) for series in log if len(series) > 1}
    seconds = log.span_s[1] - log.span_s[0]
    tied = together(lapses, fresh, seconds)
    condition = _condition(log, states)
    found: list[Finding | NotMeasured] = [
        *_rates(log, lapses, fresh, condition),
        *_standstills(log, watched, condition),
    ]
    found += _pairs(log, lapses, fresh, tied, condition)
    return LogPart(
        findings=tuple(one for one in found if isinstance(one, Finding)),
        not_measured=tuple(one for one in found if isinstance(one, NotMeasured)),
        events=tuple(sorted(_events(log, lapses, watched, tied), key=lambda one: one.from_s)),
    )


def without_lost(log: Log) -> Log:
    """A log without the values that were lost or stood still while they must move.

    Parameters
    ----------
    log : Log

    Returns
    -------
    Log
        The same where nothing was lost.
    """
    told = [(one.signal, one.from_s, one.to_s) for one in lapses_of(log) if one.value is not None]
    told += [(f.signal, f.from_s, f.to_s) for one in freezes_of(log) for f in one.freezes]
    if not told:
        return log
    kept = {series.signal: _less(series, told) for series in log}
    return Log(kept, log.name, log.digest, log.recording)


def _less(series: Series, told: Sequence[tuple[Signal, float, float]]) -> Series:
    sound = np.ones(len(series), dtype=bool)
    for signal, begins, ends in told:
        if signal == series.signal:  # the samples on either side are sound
            sound &= (series.times_s <= begins) | (series.times_s >= ends)
    return series if sound.all() else replace(series, times_s=series.times_s[sound], values=series.values[sound])


def _condition(log: Log, states: Sequence[StateSpan]) -> Condition:
    """The state, where nearly all of the log is in one; whether the complaint was there, where that was noted."""
    total = max(log.span_s[1] - log.span_s[0], 1e-9)
    by_state: dict[str, float] = {}
    for span in states:
        by_state[span.state] = by_state.get(span.state, 0.0) + span.seconds
    most = max(by_state, key=lambda name: by_state[name], default=None)
    noted = log.recording.condition if log.recording is not None else Condition()
    return Condition(
        state=most if most is not None and by_state[most] > 0.9 * total else None,
        complaint=noted.complaint,
        during=noted.during,
    )


# ---------------------------------------------------------------- drop-outs in a minute


def _sensors(log: Log, least: int) -> dict[str, Series]:
    """For every sensor its series; of several tracks the first."""
    found: dict[str, Series] = {}
    for series in sorted(log, key=lambda one: str(one.signal)):
        if (node := node_of(series.signal)) and len(series) >= least:
            found.setdefault(node, series)
    return dict(sorted(found.items()))


def _rates(
    log: Log, lapses: Sequence[Lapse], fresh: Mapping[Signal, float], condition: Condition
) -> Iterator[Finding | NotMeasured]:
    for node, series in _sensors(log, 2).items():
        place = Place.of(node=node)
        mine = [lapse for lapse in lapses if lapse.signal == series.signal]
        spacing = fresh[series.signal]
        watched = watched_s(log, series) - sum(one.to_s - one.from_s for one in mine)
        if not shows_losses(series.signal):
            yield NotMeasured(
                "signal_dropouts", place, _UNKNOWN_END, "a recording of the sensor's signal itself with a scope"
            )
            continue
        if at_home(log, series):
            yield NotMeasured("signal_dropouts", place, _HOME, "record the sensor's signal itself with a scope")
            continue
        seen = float(seen_share(spacing, np.array([_USUAL_LOSS_S]))[0])
        if watched < _SHORTEST_WATCH_S or (not mine and seen < _BLIND):
            slow = (
                f"a value every {spacing:.2g} s misses most losses of contact" if seen < _BLIND else "too short a log"
            )
            yield NotMeasured(
                "signal_dropouts", place, slow, "a log of fewer values at a time, so that each comes more often"
            )
            continue
        value, sd = loss_rate([lapse.samples for lapse in mine], watched, spacing)
        yield Finding(
            "signal_dropouts", place, value, sd, condition, _source(log, series),
            f"{len(mine)} losses seen in {watched / 60.0:.1f} min with a value every {spacing:.2g} s; Poisson's law",
            ("losses between two values are reckoned in: one loss lasts 0.05 to 5 s in the mean",),
        )  # fmt: skip


def _source(log: Log, series: Series) -> Provenance:
    return Provenance(
        "recording", log.digest, series.name or str(series.signal), float(series.times_s[0]), float(series.times_s[-1])
    )


# ---------------------------------------------------------------- standstills


def _standstills(log: Log, watched: Sequence[Watched], condition: Condition) -> Iterator[Finding | NotMeasured]:
    by_signal = {one.signal: one for one in watched}
    for node, series in _sensors(log, 2).items():
        place, one = Place.of(node=node), by_signal.get(series.signal)
        if one is None:
            continue  # what moves as slowly as a temperature stands still of itself
        if one.refused or one.seconds < _SHORTEST_WATCH_S:
            reason = one.refused or f"watched for {one.seconds:.0f} s only"
            yield NotMeasured("signal_frozen", place, reason, "a longer log of a drive, with more values a second")
            continue
        wrong = max([f.chance for f in one.freezes], default=0.05)
        shown = f"{len(one.freezes)} standstills" if one.freezes else "no standstill"
        yield Finding(
            "signal_frozen", place, float(bool(one.freezes)), min(max(wrong, 0.005), 0.05), condition,
            _source(log, series), f"{shown} in {one.seconds / 60.0:.1f} min, by its habit and what moved around it",
        )  # fmt: skip


# ---------------------------------------------------------------- together


def _pairs(
    log: Log, lapses: Sequence[Lapse], fresh: Mapping[Signal, float], tied: Sequence[Together], condition: Condition
) -> Iterator[Finding]:
    """Losses that two sensors share, for every pair of which one was lost at all."""
    sensors = {n: s for n, s in _sensors(log, 2).items() if shows_losses(s.signal) and not at_home(log, s)}
    lost = {n: [lapse for lapse in lapses if lapse.signal == s.signal] for n, s in sensors.items()}
    names = list(sensors)
    for k, one in enumerate(names):
        for other in names[k + 1 :]:
            if not lost[one] and not lost[other]:
                continue
            slower = max((sensors[one], sensors[other]), key=lambda s: fresh[s.signal])
            spacing = fresh[slower.signal]
            if float(seen_by_both(spacing, np.array([_USUAL_LOSS_S]))[0]) < 0.5 * _BLIND:
                continue
            ties = any({sensors[one].signal, sensors[other].signal} <= set(group.signals) for group in tied)
            pairs = shared(lost[one], lost[other], spacing + 0.2) if ties else []
            seconds = min(watched_s(log, sensors[one]), watched_s(log, sensors[other]))
            if seconds < _SHORTEST_WATCH_S:
                continue
            value, sd = loss_rate([min(a.samples, b.samples) for a, b in pairs], seconds, spacing, both=True)
            chance = min(
                (g.chance for g in tied if {sensors[one].signal, sensors[other].signal} <= set(g.signals)), default=1.0
            )
            said = f"; by accident with a chance of {odds_of_accident(chance)}" if pairs else ""
            yield Finding(
                "dropouts_together", Place.of(node=one, other_node=other), value, sd, condition, _source(log, slower),
                f"{len(pairs)} of {len(lost[one])} and {len(lost[other])} losses at the same moment{said}",
                ("losses between two values are reckoned in: one loss lasts 0.05 to 5 s in the mean",),
            )  # fmt: skip


# ---------------------------------------------------------------- events


def _events(log: Log, lapses: Sequence[Lapse], watched: Sequence[Watched], tied: Sequence[Together]) -> Iterator[Event]:
    told = set()
    for group in tied:
        told |= {id(lapse) for moment in group.moments for lapse in moment}
        yield from _together_events(group)
    alone: dict[Signal, list[Lapse]] = {}
    for lapse in lapses:
        if id(lapse) not in told:
            alone.setdefault(lapse.signal, []).append(lapse)
    for signal, mine in alone.items():
        for k, lapse in enumerate(mine[:_MOST_EVENTS], 1):
            left = len(mine) - k
            more = f"; {left} more follow" if k == _MOST_EVENTS and left else ""
            yield Event("dropout", (str(signal),), lapse.from_s, lapse.to_s, _lapse_words(lapse) + more)
    for one in watched:
        for freeze in one.freezes:
            unit = freeze.signal.parameter.unit
            words = (
                f"{freeze.signal.words} stood at {freeze.value:.4g} {unit} for {freeze.to_s - freeze.from_s:.0f} s; "
                f"its longest ordinary standstill is {freeze.usual_s:.0f} s"
            )
            yield Event("freeze", (str(freeze.signal),), freeze.from_s, freeze.to_s, words)
    for jump in jumps_of(log, lapses, [freeze for one in watched for freeze in one.freezes]):
        yield Event("step", tuple(str(s) for s in jump.signals), jump.from_s, jump.to_s, jump.words)


def _lapse_words(lapse: Lapse) -> str:
    unit = lapse.signal.parameter.unit
    how = "gave no answer while others went on" if lapse.value is None else f"showed {lapse.value:.4g} {unit}"
    return f"{lapse.signal.words} {how}, {lapse.samples} value{'s' if lapse.samples != 1 else ''} lost"


def _together_events(group: Together) -> Iterator[Event]:
    names = " and ".join(signal.words for signal in group.signals)
    for moment in group.moments[:_MOST_EVENTS]:
        signals = tuple(sorted({str(lapse.signal) for lapse in moment}))
        words = (
            f"{names} were lost together, {len(group.moments)} time{'s' if len(group.moments) != 1 else ''} in all; "
            f"the chance that this is an accident is {odds_of_accident(group.chance)}"
        )
        begins, ends = min(lapse.from_s for lapse in moment), max(lapse.to_s for lapse in moment)
        yield Event("dropout", signals, begins, ends, words)
