"""The page of a log: what it says first, the values over time, each state against a sound engine, what happened."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark import __version__
from witnessmark.case.reported import NOTHING_REPORTED, Reported
from witnessmark.engine.types import Engine
from witnessmark.measure.log.measured import Event, LogMeasurement
from witnessmark.recording.parameters import signal_of
from witnessmark.report.logcourse import course_figure
from witnessmark.report.logcurves import Expected
from witnessmark.report.logseen import AXIS, log_sentences, log_tables, outside_rows
from witnessmark.report.logstates import state_figure
from witnessmark.report.logtold import log_told
from witnessmark.report.missing import missing
from witnessmark.report.page import templates
from witnessmark.report.tokens import stylesheet
from witnessmark.report.words import at_start, counted, listed, number, sentence

__all__ = ["ColumnSeen", "EventRow", "event_rows", "render_log"]

_EVENTS = {"dropout": "dropped out", "freeze": "stood still", "step": "jumped", "implausible": "not believable"}


@dataclass(frozen=True, slots=True)
class ColumnSeen:
    """One column of the file, and what it was taken for.

    Parameters
    ----------
    heading : str
        As the file has it.
    taken : str
        What it is, in words; empty where it was left aside.
    unit : str
        Of the file's numbers.
    question : str
        What is not sure about it; empty where nothing is.
    candidates : tuple of str
        What else it can be, likeliest first.
    answer : str
        What to say for it to be what it was taken for: "coolant unit=F".
    """

    heading: str
    taken: str
    unit: str = ""
    question: str = ""
    candidates: tuple[str, ...] = ()
    answer: str = ""

    @property
    def option(self) -> str:
        """What to type for it to be what it was taken for, safe in a shell; empty where nothing is to be said."""
        return f"--column {_quoted(f'{self.heading}={self.answer}')}" if self.answer else ""


@dataclass(frozen=True, slots=True)
class EventRow:
    """Something that happened to values: when, to which and what, in words."""

    when: str
    what: str
    words: str


def event_rows(events: Sequence[Event]) -> tuple[EventRow, ...]:
    """What happened to values, in words.

    Parameters
    ----------
    events : sequence of Event

    Returns
    -------
    tuple of EventRow
    """
    return tuple(_seen(event) for event in events)


def render_log(
    measured: LogMeasurement,
    engine: Engine,
    expected: Sequence[Expected] = (),
    columns: Sequence[ColumnSeen] = (),
    *,
    assumed: Sequence[str] = (),
    against: str | None = None,
    reported: Reported = NOTHING_REPORTED,
) -> str:
    """The page, as one file without script.

    Parameters
    ----------
    measured : LogMeasurement
        Its findings with their names.
    engine : Engine
        What places and expectations were taken from.
    expected : sequence of Expected
    columns : sequence of ColumnSeen
    assumed : sequence of str
        What the description left open and was taken for granted, a sentence each.
    against : str, optional
        What to call the engine; empty where none was named.
    reported : Reported
        Codes, readiness and on-board tests, where the vehicle told of them.

    Returns
    -------
    str
        HTML.
    """
    tables = log_tables(measured, engine, expected)
    told = log_told(measured, engine, reported)
    drawn = (state_figure(measured, expected), course_figure(measured, expected))
    figures = [figure for figure in drawn if figure is not None]
    named = engine.name if against is None else against
    asked = [column for column in columns if column.question]
    return templates().get_template("log.html.j2").render(
        version=__version__, style=stylesheet(), name=measured.log.name, engine=named,
        digest=measured.log.digest, sentences=log_sentences(measured, engine, expected), told=told,
        outside=outside_rows(measured, engine, expected),
        figures=figures, tables=tables, axis=AXIS,
        has_strips=any(row.at for table in tables for row in table.rows),
        events=event_rows(measured.events), missing=missing(engine, measured.not_measured),
        columns=columns, asked=asked, assumed=assumed, notes=[sentence(note) for note in measured.notes],
        short={
            "states": counted(len(tables), "state"), "events": counted(len(measured.events), "event"),
            "columns": _columns_short(columns, asked), "told": told.short,
        },
        foot=f"Witnessmark {__version__}. Measured from the file named above; the file itself is kept as it came.",
    )  # fmt: skip


def _quoted(text: str) -> str:
    """In quotation marks as every shell has them, unless the file's heading holds what a shell would act on."""
    return shlex.quote(text) if any(c in text for c in '"$`\\!%') else f'"{text}"'


def _columns_short(columns: Sequence[ColumnSeen], asked: Sequence[ColumnSeen]) -> str:
    if not asked:
        return counted(len(columns), "column")
    return f"{counted(len(columns), 'column')}, {counted(len(asked), 'question')}"


def _seen(event: Event) -> EventRow:
    names = listed([signal_of(text).words for text in event.signals])
    lasting = event.to_s - event.from_s
    when = (
        f"{number(event.from_s, 1)} s" if lasting < 0.05 else f"{number(event.from_s, 1)} to {number(event.to_s, 1)} s"
    )
    what = f"{at_start(names)}: {_EVENTS.get(event.kind, event.kind)}"
    return EventRow(when, what, sentence(event.words))
