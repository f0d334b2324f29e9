"""What logs gave to a case: each log by operating state, that nothing happened in one line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.report.logseen import is_quiet
from witnessmark.report.measuredtable import NOTHING, MeasuredRow, MeasuredTable, id_range
from witnessmark.report.naming import condition_words, quantity_words, value_words
from witnessmark.report.words import at_start, counted
from witnessmark.vocabulary import STATES, Condition

__all__ = ["logged_tables"]


def logged_tables(engine: Engine, findings: Iterable[Finding], names: Mapping[str, str]) -> tuple[MeasuredTable, ...]:
    """Findings of logs, one table for each state of each log, in the order in which an engine goes through them.

    Parameters
    ----------
    engine : Engine
    findings : iterable of Finding
        With their names.
    names : mapping of str to str
        What each log is called, by its digest.

    Returns
    -------
    tuple of MeasuredTable
    """
    tables: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in findings:
        state, freeze = finding.condition.state or "", finding.condition.freeze or ""
        tables.setdefault((finding.source.digest or "", freeze, state), []).append(finding)
    logs = list(dict.fromkeys(digest for digest, _, _ in tables))
    order = sorted(tables, key=lambda where: (logs.index(where[0]), where[1], _place(where[2])))
    return tuple(_table(engine, tables[where], names.get(where[0], "a log")) for where in order)


def _place(state: str) -> int:
    return STATES.index(state) if state in STATES else len(STATES)


def _table(engine: Engine, findings: Sequence[Finding], name: str) -> MeasuredTable:
    quiet = [finding for finding in findings if is_quiet(finding)]
    rows = tuple(_row(engine, finding) for finding in findings if not is_quiet(finding))
    said = f"Nothing happened in {counted(len(quiet), 'value')} ({id_range([f.id for f in quiet])})." if quiet else ""
    return MeasuredTable(f"{name}: {_when([f.condition for f in findings])}", rows, said)


def _when(conditions: Sequence[Condition]) -> str:
    """The fullest of the conditions, which differ by what was averaged over the same stretches."""
    told = max((condition_words(one, bare=True) for one in conditions), key=len)
    complaint = next((one.complaint for one in conditions if one.complaint), None)
    when = told or "over the whole log"
    return at_start(f"{when}, complaint {complaint}" if complaint else when)


def _row(engine: Engine, finding: Finding) -> MeasuredRow:
    what = quantity_words(engine, finding.quantity, finding.place)
    return MeasuredRow(finding.id, what, value_words(finding), NOTHING, False, None, None)
