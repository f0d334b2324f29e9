"""What a log shows, for a terminal: in a sentence, then each operating state beside a sound engine, then questions."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.case.reported import NOTHING_REPORTED, Reported
from witnessmark.engine.types import Engine
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.report.logcurves import Expected
from witnessmark.report.logpage import ColumnSeen, event_rows
from witnessmark.report.logseen import LogRow, log_sentences, log_tables, outside_rows
from witnessmark.report.logtold import LogTold, log_told
from witnessmark.report.missing import missing
from witnessmark.report.terminal import NARROWEST, Sheet
from witnessmark.report.words import at_start, counted, sentence

__all__ = ["log_text"]


def log_text(
    measured: LogMeasurement,
    engine: Engine,
    expected: Sequence[Expected] = (),
    columns: Sequence[ColumnSeen] = (),
    *,
    reported: Reported = NOTHING_REPORTED,
    width: int = 80,
) -> str:
    """The text, ready to print.

    Parameters
    ----------
    measured : LogMeasurement
        Its findings with their names.
    engine : Engine
    expected : sequence of Expected
    columns : sequence of ColumnSeen
    reported : Reported
    width : int
        Columns of the terminal.

    Returns
    -------
    str
    """
    sheet = Sheet(max(NARROWEST, width))
    for text in log_sentences(measured, engine, expected):
        sheet.say(text, first="")
    for row in outside_rows(measured, engine, expected):
        sheet.say(f"{row}.")
    _told(sheet, log_told(measured, engine, reported))
    for table in log_tables(measured, engine, expected):
        sheet.heading(table.head)
        has_expected = any(row.expected != "–" for row in table.rows)
        sheet.columns(
            (
                row.what,
                row.value,
                *((_beside(row),) if has_expected else ()),
                row.ids,
            )
            for row in table.rows
        )
        if table.quiet:
            sheet.say(at_start(f"{counted(len(table.quiet), 'value')} in which nothing happened."))
    _happened(sheet, measured)
    _missing(sheet, measured, engine)
    _asked(sheet, [column for column in columns if column.question])
    return sheet.text()


def _told(sheet: Sheet, told: LogTold) -> None:
    if not told.short:
        return
    sheet.heading("What the vehicle says")
    sheet.columns((f"{row.code}  {row.text}", row.note, row.id) for row in told.codes)
    for line in told.ready:
        sheet.say(line)
    sheet.columns((f"{row.what}, {row.allowed}", row.value, row.came) for row in told.tests)


def _beside(row: LogRow) -> str:
    return "" if row.expected == "–" else f"expected {row.expected}"


def _happened(sheet: Sheet, measured: LogMeasurement) -> None:
    if measured.events:
        sheet.heading("Dropped out, stood still, jumped, not believable")
        for row in event_rows(measured.events):
            sheet.say(f"{row.when}  {row.what}. {row.words}")
    if measured.notes:
        sheet.heading("Noticed")
        for note in measured.notes:
            sheet.say(sentence(note))


def _missing(sheet: Sheet, measured: LogMeasurement, engine: Engine) -> None:
    if not measured.not_measured:
        return
    sheet.heading("Not measured")
    for item in missing(engine, measured.not_measured):
        settled = f" Settled by {item.settled_by}." if item.settled_by else ""
        sheet.say(f"{item.what}: {item.reason}{settled}")


def _asked(sheet: Sheet, asked: Sequence[ColumnSeen]) -> None:
    """What is not sure, each with the words that answer it."""
    if not asked:
        return
    sheet.heading(f"Not sure, and not used until it is said: {counted(len(asked), 'question')}")
    for column in asked:
        also = f" It may also be {'; or '.join(column.candidates)}." if column.candidates else ""
        sheet.say(f"{column.question}{also}")
        if column.option:
            sheet.say(column.option, first="    ")
