"""Fuel trims by operating state and bank: short and long together, as far as the log shows both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.average import Average, average
from witnessmark.measure.log.conditions import chosen, pieces_of
from witnessmark.measure.log.loops import closed_parts
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import condition_of, source_of
from witnessmark.measure.log.tellings import ends, mean_finding, method_of
from witnessmark.measure.log.words import WORDS, figure, with_spread
from witnessmark.vocabulary import Place

__all__ = ["trims"]

_STATES = ("idle", "warm_up", "raised", "cruise")
_OLD_S = 300.0  # how long a learnt trim that was read counts; it moves slowly (common practice, no source)
_UNSEEN_LONG = 4.0  # % that a sound long-term trim spreads by: what is not logged may hide so much; our guess
_STOP_SHARE, _STOP_LEAST = 0.6, 12.0  # of samples at one outermost value, and how far out that must be
_MORE = (1.5**2 - 1.0) ** 0.5  # beside the scatter over the root of the count, that makes half more of it
_LOOP_S = 0.5  # reading less often than this may miss a closed loop's swing, of a second or a few (common practice)
_NO_LONG = "the long-term trim is not in this log: what has been learnt comes on top"


def trims(log: Log, states: tuple[StateSpan, ...], engine: Engine | None = None) -> LogPart:
    """Fuel trim of each bank at idle, warming up, raised and cruising.

    Parameters
    ----------
    log : Log
    states : tuple of StateSpan
    engine : Engine, optional
        Not needed.

    Returns
    -------
    LogPart
        ``fuel_trim`` where the short-term trim is logged; where only the long-term one is, ``learnt_reported``, which
        says what was and is no proof of the present.

    Notes
    -----
    Short and long are read at different moments, and a step of the long one is taken back by the short one. So their
    means over the same stretches are added, not their samples.
    """
    findings: list[Finding] = []
    missing: list[NotMeasured] = []
    notes: list[str] = []
    for bank in _banks(log):
        short, long = log.get("short_trim", bank=bank), log.get("long_trim", bank=bank)
        if short is None:
            findings += _learnt(log, long, bank, states)
            missing.append(_no_short(bank))
            continue
        found = list(_of_bank(log, short, long, bank, states))
        findings += found
        notes += [*_stop_notes(found, bank), *_flow_notes(log, found, bank)]
        if not found:
            missing.append(_nothing(bank))
    return LogPart(tuple(findings), tuple(missing), (), tuple(notes))


def _banks(log: Log) -> list[int]:
    return sorted({int(s.signal.bank or 1) for id in ("short_trim", "long_trim") for s in log.all_of(id)})


def _of_bank(log: Log, short: Series, long: Series | None, bank: int, states: Sequence[StateSpan]) -> Iterator[Finding]:
    for state in _STATES:
        spans = chosen(states, state, warm=None if state == "warm_up" else True)
        closed = closed_parts(log, bank, spans)
        if closed is None and state == "warm_up":
            closed = _where_it_moves(short, spans)
        use = spans if closed is None else closed
        finding = _sum(log, short, long, bank, use, told=closed is not None and state != "warm_up") if use else None
        if finding is not None:
            yield finding


def _where_it_moves(short: Series, spans: Sequence[StateSpan]) -> tuple[StateSpan, ...]:
    """Nothing says whether the loop is closed on a cold engine: from a trim's first movement on it is."""
    found = []
    for span in spans:
        piece = short.inside(span.from_s, span.to_s)
        changed = piece.times_s[1:][np.diff(piece.values) != 0.0]
        if changed.size:
            found.append(replace(span, from_s=float(changed[0]), to_s=float(piece.times_s[-1])))
    return tuple(found)


def _sum(
    log: Log, short: Series, long: Series | None, bank: int, spans: Sequence[StateSpan], *, told: bool
) -> Finding | None:
    pieces = pieces_of(short, spans)
    fast = average(pieces, floor=_alias(pieces))
    if fast is None:
        return None
    assumptions = () if told else ("closed loop in this state: the log does not hold the fuel system's status",)
    slow = _slow(long, spans) if long is not None else None
    if slow is None:
        assumptions = (*assumptions, _NO_LONG)
        learnt, unsure = 0.0, _UNSEEN_LONG
    else:
        learnt, unsure = slow
    if _at_stop(short, pieces):
        assumptions = (*assumptions, "the short-term trim stood at its stop: at least this much")
    return Finding(
        "fuel_trim",
        Place.of(bank=bank),
        fast.value + learnt,
        float(np.hypot(fast.sd, unsure)),
        condition_of(log, spans, state=spans[0].state),
        source_of(log, [s for s in (short, long) if s is not None], *ends(spans)),
        _method(fast, learnt if slow is not None else None, spans),
        assumptions,
    )


def _alias(pieces: Sequence[Series]) -> float:
    """What a loop's own swing leaves where it is read about as seldom as it turns: it shows as a slow one, or not.

    Independent samples would leave the scatter over the root of their number; a swing met unluckily, half more.
    """
    values = np.concatenate([piece.values for piece in pieces]) if pieces else np.empty(0)
    steps = [piece.period_s for piece in pieces if len(piece) > 1]
    if values.size < 3 or not steps or float(np.median(steps)) < _LOOP_S:
        return 0.0
    return float(_MORE * np.std(values, ddof=1) / np.sqrt(values.size))


def _method(fast: Average, learnt: float | None, spans: Sequence[StateSpan]) -> str:
    text = f"short-term {figure(fast.value, 1, plus=True)} %"
    text += "" if learnt is None else f" and long-term {figure(learnt, 1, plus=True)} %"
    return f"{text}; {method_of(fast, spans)}"


def _slow(long: Series, spans: Sequence[StateSpan]) -> tuple[float, float] | None:
    """Mean of the long-term trim over the stretches; where it was read too seldom, the last that was known."""
    pieces = pieces_of(long, spans)
    levels = np.unique(np.concatenate([piece.values for piece in pieces])).size if pieces else 1
    # It creeps from step to step, and stands on each for long: little smooths the rounding but their number.
    found = average(pieces, floor=0.12 * long.step / levels)
    if found is not None:
        return found.value, found.sd
    middles = [0.5 * (span.from_s + span.to_s) for span in spans]
    known = long.known_at(middles, oldest_s=_OLD_S)
    known = known[np.isfinite(known)]
    if not known.size:
        return None
    rounded = 0.27 * long.step
    return float(known.mean()), float(np.hypot(rounded, 0.3 * np.std(long.values)))


def _at_stop(short: Series, pieces: Sequence[Series]) -> bool:
    """Most samples stand at the outermost value that the whole log shows, and that lies far out."""
    values = np.concatenate([piece.values for piece in pieces])
    outermost = float(short.values[int(np.argmax(np.abs(short.values)))])
    return abs(outermost) >= _STOP_LEAST and float(np.mean(values == outermost)) >= _STOP_SHARE


def _stop_notes(found: Sequence[Finding], bank: int) -> list[str]:
    at = [WORDS[str(f.condition.state)] for f in found if any("at its stop" in a for a in f.assumptions)]
    return [f"fuel trim of bank {bank} stands at its stop {', '.join(at)}: at least as much as is told"] if at else []


def _flow_notes(log: Log, found: Sequence[Finding], bank: int) -> list[str]:
    """How the trim moves as more air flows: idle against the states with more of it, in numbers."""
    by_state = {str(f.condition.state): f for f in found}
    low = by_state.get("idle")
    highs = [f for s in ("raised", "cruise") if (f := by_state.get(s)) is not None]
    if low is None or not highs:
        return []
    words = ", ".join(
        f"{with_spread(f.value, _own(f), '%', plus=True, least_places=1)} {WORDS[str(f.condition.state)]}"
        for f in (low, *highs)
    )
    change, sd = highs[-1].value - low.value, float(np.hypot(_own(highs[-1]), _own(low)))
    if abs(change) < 1.645 * sd:
        how = "no change beyond its doubt"
    else:
        how = f"{'rising' if change > 0 else 'falling'} by {with_spread(abs(change), sd, '%', least_places=1)}"
    return [f"fuel trim of bank {bank} as the air flow grows: {words}: {how}"]


def _own(finding: Finding) -> float:
    """Spread without what all states share: a long-term trim nobody logged."""
    shared = _UNSEEN_LONG if _NO_LONG in finding.assumptions else 0.0
    return float(np.sqrt(max(finding.sd**2 - shared**2, 0.0)))


def _learnt(log: Log, long: Series | None, bank: int, states: Sequence[StateSpan]) -> Iterator[Finding]:
    spans = [span for state in ("idle", "raised", "cruise") for span in chosen(states, state, warm=True)]
    if long is None or not spans:
        return
    finding = mean_finding(
        log, long, spans, "learnt_reported", place=Place.of(learnt_item="fuel_trim", bank=bank),
        condition=condition_of(log, spans, state=None), assumptions=("a learnt trim says what was, not what is",),
    )  # fmt: skip
    if finding is not None:
        yield finding


def _no_short(bank: int) -> NotMeasured:
    reason = "only the long-term trim is logged: it says what was learnt, not what is"
    return NotMeasured("fuel_trim", Place.of(bank=bank), reason, f"a log with the short-term trim of bank {bank}")


def _nothing(bank: int) -> NotMeasured:
    reason = "no stretch of idle, raised speed or cruise in which the trim was at work"
    settled = "a log of a warm engine: idle, 2,500 rpm standing, steady driving, 20 s each"
    return NotMeasured("fuel_trim", Place.of(bank=bank), reason, settled)
