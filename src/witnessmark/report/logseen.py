"""What a log shows, for its page: a sentence, then each operating state's values against a sound engine's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.report.logcurves import Expected
from witnessmark.report.naming import condition_words, quantity_words, reading, state_words, value_words
from witnessmark.report.strips import Axis
from witnessmark.report.words import at_start, counted, listed, number, sentence
from witnessmark.vocabulary import STATES

if TYPE_CHECKING:
    from witnessmark.measure.log.measured import LogMeasurement
    from witnessmark.measure.log.spans import StateSpan

__all__ = ["AXIS", "LogRow", "LogTable", "is_outside", "is_quiet", "log_sentences", "log_tables", "outside_rows"]

AXIS = Axis(-4.0, 4.0, 2.0, unit="")
"""How far a value lies from what is expected, in spreads of sound engines; the reading's own spread is drawn too."""

_WIDE = 1.645
_BY_CHANCE = 0.1  # of sound readings lie outside a band of nine in ten
_TOLD = ("code_state", "monitor_ran")  # stand in a part of their own
_HAPPENINGS = ("signal_dropouts", "signal_frozen", "dropouts_together", "misfire_count")


@dataclass(frozen=True, slots=True)
class LogRow:
    """One finding against what a sound engine shows; ``at`` and ``expects`` stand on :data:`AXIS`."""

    ids: str
    what: str
    value: str
    expected: str
    at: tuple[float, float] | None
    expects: tuple[float, float] | None
    outside: bool


@dataclass(frozen=True, slots=True)
class LogTable:
    """The findings of one operating state; ``quiet`` are those that say that nothing happened."""

    head: str
    rows: tuple[LogRow, ...]
    quiet: tuple[LogRow, ...] = ()


def is_outside(finding: Finding, expected: Expected) -> bool:
    """Whether a finding lies beyond what 90 of 100 sound engines would have read here.

    Parameters
    ----------
    finding : Finding
    expected : Expected

    Returns
    -------
    bool
    """
    spread = (finding.sd**2 + expected.sd**2) ** 0.5
    return bool(abs(finding.value - expected.value) > _WIDE * spread)


def log_tables(measured: LogMeasurement, engine: Engine, expected: Sequence[Expected] = ()) -> tuple[LogTable, ...]:
    """Findings by operating state, in the order in which an engine goes through them.

    Parameters
    ----------
    measured : LogMeasurement
        Its findings with their names.
    engine : Engine
    expected : sequence of Expected

    Returns
    -------
    tuple of LogTable
    """
    known = {(e.quantity, e.place, e.state): e for e in expected}
    tables: dict[tuple[str, str], list[Finding]] = {}
    for finding in measured.findings:
        if finding.quantity not in _TOLD:
            where = (finding.condition.freeze or "", finding.condition.state or "")
            tables.setdefault(where, []).append(finding)
    order = [(freeze, s) for freeze in sorted({freeze for freeze, _ in tables}) for s in (*STATES, "")]
    found = []
    for freeze, state in (where for where in order if where in tables):
        members = tables[freeze, state]
        rows = [(f, _row(engine, f, known.get((f.quantity, f.place, state)))) for f in members]
        found.append(
            LogTable(
                _head(state, measured.states, members),
                tuple(row for f, row in rows if not is_quiet(f)),
                tuple(row for f, row in rows if is_quiet(f)),
            )
        )
    return tuple(found)


def is_quiet(finding: Finding) -> bool:
    """Whether a finding says that something did not happen.

    Parameters
    ----------
    finding : Finding

    Returns
    -------
    bool
    """
    return finding.quantity in _HAPPENINGS and finding.value == 0.0


def _head(state: str, spans: Sequence[StateSpan], findings: Sequence[Finding]) -> str:
    if findings[0].condition.freeze is not None:
        return at_start(condition_words(max((f.condition for f in findings), key=lambda c: len(str(c))), bare=True))
    if not state:
        return "Over the whole log"
    lasting = [span for span in spans if span.state == state]
    when = condition_words(findings[0].condition, bare=True)
    if not lasting:
        return at_start(when)
    return at_start(
        f"{when}: {_time_words(sum(s.seconds for s in lasting))} in {counted(len(lasting), 'stretch', 'stretches')}"
    )


def _time_words(seconds: float) -> str:
    return f"{number(seconds)} s" if seconds < 120 else f"{number(seconds / 60)} min"


def _row(engine: Engine, finding: Finding, expected: Expected | None) -> LogRow:
    what = quantity_words(engine, finding.quantity, finding.place)
    if expected is None or expected.sd <= 0:
        return LogRow(finding.id, what, value_words(finding), "–", None, None, False)
    off = (finding.value - expected.value) / expected.sd
    return LogRow(
        finding.id,
        what,
        value_words(finding),
        reading(finding.quantity, expected.value, expected.sd, finding.place),
        (off, finding.sd / expected.sd),
        (0.0, 1.0),
        is_outside(finding, expected),
    )


def log_sentences(measured: LogMeasurement, engine: Engine, expected: Sequence[Expected] = ()) -> tuple[str, ...]:
    """What the log holds, what lies outside, what happened: a sentence each.

    Parameters
    ----------
    measured : LogMeasurement
    engine : Engine
    expected : sequence of Expected

    Returns
    -------
    tuple of str
    """
    told = [_held_words(measured), _against(measured, expected)]
    if measured.events:
        times = {1: "Once", 2: "Twice"}.get(len(measured.events)) or counted(len(measured.events), "time")
        told.append(f"{times} a value dropped out, stood still, jumped or could not be believed")
    return tuple(sentence(text) for text in told if text)


def _held_words(measured: LogMeasurement) -> str:
    low, high = measured.log.span_s
    if not measured.log.series:
        return "No value over time in this file"
    values = f"{counted(len(measured.log.series), 'value')} of the engine"
    return f"{_time_words(high - low)}, {values}. {_shares(measured)}" if high > low else f"One row, {values}"


def _shares(measured: LogMeasurement) -> str:
    seconds: dict[str, float] = {}
    for span in measured.states:
        seconds[span.state] = seconds.get(span.state, 0.0) + span.seconds
    whole = max(measured.log.span_s[1] - measured.log.span_s[0], 1e-9)
    most = [s for s in sorted(seconds, key=lambda state: -seconds[state])[:4] if seconds[s] >= 0.005 * whole]
    if not most:
        return "No operating state could be told."
    return at_start(listed([f"{state_words(s)} {number(100 * seconds[s] / whole)} %" for s in most]))


def _against(measured: LogMeasurement, expected: Sequence[Expected]) -> str:
    held = list(_held(measured, expected))
    if not held:
        return ""
    outside = [(f, e) for f, e in held if is_outside(f, e)]
    several = f"{number(len(held))} values that can be held against a sound engine"
    if not outside:
        return (
            "The one value that can be held against a sound engine lies inside"
            if len(held) == 1
            else (f"All {several} lie where such an engine would show them")
        )
    first = f"Of {several}, {counted(len(outside), 'lies', 'lie')} outside what nine of ten such engines show"
    chance = round(_BY_CHANCE * len(held))
    return f"{first}; about {counted(chance, 'would', 'would')} by chance alone" if chance else first


def outside_rows(measured: LogMeasurement, engine: Engine, expected: Sequence[Expected] = ()) -> tuple[str, ...]:
    """Each value that lies outside, the furthest first: "Manifold pressure at idle: 46 kPa, expected 34 kPa".

    Parameters
    ----------
    measured : LogMeasurement
    engine : Engine
    expected : sequence of Expected

    Returns
    -------
    tuple of str
    """
    outside = [(f, e) for f, e in _held(measured, expected) if is_outside(f, e)]
    outside.sort(key=lambda pair: -abs(pair[0].value - pair[1].value) / float(np.hypot(pair[0].sd, pair[1].sd)))
    return tuple(
        f"{quantity_words(engine, f.quantity, f.place)}, {state_words(f.condition.state or 'idle')}: "
        f"{value_words(f)}, expected {reading(e.quantity, e.value, e.sd, e.place)}"
        for f, e in outside
    )


def _held(measured: LogMeasurement, expected: Sequence[Expected]) -> Iterator[tuple[Finding, Expected]]:
    known = {(e.quantity, e.place, e.state): e for e in expected}
    for finding in measured.findings:
        one = known.get((finding.quantity, finding.place, finding.condition.state or ""))
        if one is not None:
            yield finding, one
