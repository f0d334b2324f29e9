"""Everything one log gave."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.series import Log
from witnessmark.measure.log.spans import StateSpan

__all__ = ["Event", "LogMeasurement", "LogPart"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to values at a time: a drop-out, a freeze, a step.

    Parameters
    ----------
    kind : str
        "dropout", "freeze", "step", "implausible".
    signals : tuple of str
        Which signals, in their text; more than one where they went together.
    from_s, to_s : float [s]
    words : str
        What was seen, in a sentence with its numbers.
    """

    kind: str
    signals: tuple[str, ...]
    from_s: float
    to_s: float
    words: str


@dataclass(frozen=True, slots=True)
class LogPart:
    """What one part of the measuring yields: every module of this package gives one of these.

    Parameters
    ----------
    findings : tuple of Finding
    not_measured : tuple of NotMeasured
    events : tuple of Event
    notes : tuple of str
    """

    findings: tuple[Finding, ...] = ()
    not_measured: tuple[NotMeasured, ...] = ()
    events: tuple[Event, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class LogMeasurement:
    """What one log gave.

    Parameters
    ----------
    log : Log
    states : tuple of StateSpan
        In order of time, without overlap; what lies between belongs to no state.
    findings, not_measured, events, notes
        As in :class:`LogPart`, of all parts.
    """

    log: Log
    states: tuple[StateSpan, ...]
    findings: tuple[Finding, ...]
    not_measured: tuple[NotMeasured, ...]
    events: tuple[Event, ...]
    notes: tuple[str, ...]
