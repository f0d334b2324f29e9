"""What was seen: the figure of the traces, angles against what is expected, the rest, and what was not measured."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.report.measured import measured_sentence, measured_tables, other_tables
from witnessmark.report.measuredtable import MeasuredTable
from witnessmark.report.missing import Missing, missing
from witnessmark.report.notes import figure_notes, measured_notes
from witnessmark.report.standing import Standing
from witnessmark.report.strips import Axis, axis_of
from witnessmark.report.trace import TraceFigure, trace_figure
from witnessmark.report.words import counted

__all__ = ["Seen", "seen"]


_MOST_MISSING, _SHOWN_MISSING = 6, 4


@dataclass(frozen=True, slots=True)
class Seen:
    """Part 4 of the page."""

    short: str
    sentence: str
    figure: TraceFigure | None
    figure_notes: tuple[str, ...]
    tables: tuple[MeasuredTable, ...]
    axis: Axis | None
    notes: tuple[str, ...]
    others: tuple[MeasuredTable, ...]
    n_others: int
    missing: tuple[Missing, ...]
    n_missing: int  # so many are shown, the others fold


def seen(assessment: Assessment, stands: Standing) -> Seen:
    """What was measured, ready to be shown.

    Parameters
    ----------
    assessment : Assessment
    stands : Standing

    Returns
    -------
    Seen
    """
    tables, others = measured_tables(assessment), other_tables(assessment)
    gone = missing(assessment.engine, assessment.not_measured)
    figure = trace_figure(assessment.engine, assessment.traces, assessment.edges)
    count = sum(len(table.rows) for table in (*tables, *others))
    recordings = {finding.source.digest for finding in assessment.findings if finding.source.digest}
    short = counted(len(recordings), "recording") if recordings else counted(count, "value") if count else "nothing yet"
    return Seen(
        short=short,
        sentence=measured_sentence(assessment),
        figure=figure,
        figure_notes=figure_notes(assessment, figure),
        tables=tables,
        axis=axis_of(pair for table in tables for row in table.rows for pair in (row.at, row.expects)),
        notes=measured_notes(assessment, stands) if tables else (),
        others=others,
        n_others=sum(len(table.rows) + bool(table.quiet) for table in others),
        missing=gone,
        n_missing=len(gone) if len(gone) <= _MOST_MISSING else _SHOWN_MISSING,
    )
