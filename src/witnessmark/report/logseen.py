"""What a log shows, for its page: a sentence, then each operating state's values against a sound engine's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.spans import StateSpan
from witnessmark.report.logcurves import Expected
from witnessmark.report.naming import condition_words, quantity_words, reading, state_words, value_words
from witnessmark.report.strips import Axis
from witnessmark.report.words import at_start, counted, inside, listed, number, sentence
from witnessmark.vocabulary import STATES

__all__ = ["AXIS", "LogRow", "LogTable", "is_outside", "log_sentences", "log_tables"]

AXIS = Axis(-4.0, 4.0, 2.0, unit="")
"""How far a value lies from what is expected, in spreads of sound engines; the reading's own spread is drawn too."""

_WIDE = 1.645


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
    """The findings of one operating state."""

    head: str
    rows: tuple[LogRow, ...]


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
    tables: dict[str, list[Finding]] = {}
    for finding in measured.findings:
        tables.setdefault(finding.condition.state or "", []).append(finding)
    order = [state for state in (*STATES, "") if state in tables]
    return tuple(
        LogTable(
            _head(state, measured.states, tables[state]),
            tuple(_row(engine, f, known.get((f.quantity, f.place, state))) for f in tables[state]),
        )
        for state in order
    )


def _head(state: str, spans: Sequence[StateSpan], findings: Sequence[Finding]) -> str:
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
    low, high = measured.log.span_s
    told = [
        f"{_time_words(high - low)}, {counted(len(measured.log.series), 'value')} of the engine. {_shares(measured)}"
    ]
    told.append(_against(measured, engine, expected))
    if measured.events:
        told.append(f"{counted(len(measured.events), 'time')} a value dropped out, stood still or jumped; see below.")
    return tuple(sentence(text) for text in told if text)


def _shares(measured: LogMeasurement) -> str:
    seconds: dict[str, float] = {}
    for span in measured.states:
        seconds[span.state] = seconds.get(span.state, 0.0) + span.seconds
    whole = max(measured.log.span_s[1] - measured.log.span_s[0], 1e-9)
    most = [s for s in sorted(seconds, key=lambda state: -seconds[state])[:4] if seconds[s] >= 0.005 * whole]
    if not most:
        return "No operating state could be told."
    return at_start(listed([f"{state_words(s)} {number(100 * seconds[s] / whole)} %" for s in most]))


def _against(measured: LogMeasurement, engine: Engine, expected: Sequence[Expected]) -> str:
    known = {(e.quantity, e.place, e.state): e for e in expected}
    held = [(f, e) for f in measured.findings if (e := known.get((f.quantity, f.place, f.condition.state or "")))]
    if not held:
        return ""
    outside = [(f, e) for f, e in held if is_outside(f, e)]
    if not outside:
        all_of = "The one value" if len(held) == 1 else f"All {number(len(held))} values"
        lies = "lies" if len(held) == 1 else "lie"
        return f"{all_of} that can be held against a sound engine {lies} where such an engine would show it."
    said = [
        f"{inside(quantity_words(engine, f.quantity, f.place))} at {state_words(f.condition.state or 'idle')} "
        f"({value_words(f)}, expected {reading(e.quantity, e.value, e.sd, e.place)})"
        for f, e in outside
    ]
    inner = number(len(held) - len(outside))
    return f"Outside what nine of ten sound engines show: {listed(said)}. {inner} more lie inside"
