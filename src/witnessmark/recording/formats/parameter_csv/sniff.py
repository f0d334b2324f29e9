"""Whether a table is a log of parameters: told from an instrument's samples by what its cells hold, and by its pace."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from witnessmark.errors import InputError
from witnessmark.recording.columns.naming import heading_pieces, name_costs
from witnessmark.recording.columns.statedunit import name_and_stated
from witnessmark.recording.delimited import Preview, changing_rows, preview, value_columns
from witnessmark.recording.logtable import LogTable, log_table, time_candidates
from witnessmark.recording.reader import HEAD_BYTES, Sniff

__all__ = ["LEAST_COLUMNS", "LEAST_STEP_S", "sniff"]

LEAST_STEP_S = 0.015
"""Rows further apart than this are not the samples of a scope: crank and cam would not be seen between them."""
LEAST_COLUMNS = 3
"""Values beside the time that make a plain table of numbers a log; with fewer it may be any slow measurement."""
_LEAST_UNTIMED = 5
_SAYS_SO, _SAYS_MUCH = 0.5, 3.0  # nats: the name of engine speed and nothing else


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is a log of parameters.

    Parameters
    ----------
    head : bytes
        The first bytes of the file.
    path : Path
        Not opened.

    Returns
    -------
    Sniff
        Above that of a table of samples only where the table is one that no instrument writes: words or units in
        its cells, slow rows of several columns.
    """
    table = _first_rows(head)
    if isinstance(table, str):
        return Sniff(0.0, table)
    if table.n_rows == 1 and table.layout.heading_line == table.layout.first_line:
        return Sniff(0.9, f"a page of {len(table.columns)} readings")
    seen = preview(head)
    values = [column for column in table.columns if column.kind != "empty"]
    if isinstance(seen, str):
        return _of_odd_cells(table, len(values))
    return _of_plain_numbers(table, seen)


@lru_cache(maxsize=4)
def _first_rows(head: bytes) -> LogTable | str:
    if len(head) >= HEAD_BYTES:
        head = head[: max(head.rfind(b"\n"), head.rfind(b"\r")) + 1] or head
    try:
        return log_table(head, "")
    except InputError as error:
        return error.message


def _of_odd_cells(table: LogTable, n_columns: int) -> Sniff:
    """A table that is no plain table of numbers."""
    if n_columns < 2:
        return Sniff(0.0, "a table with one column of values")
    cells = sum(column.filled for column in table.columns)
    odd = sum(column.filled for column in table.columns if column.kind == "text") + sum(
        column.undecoded_count for column in table.columns
    )
    named = table.layout.heading_line is not None
    if not named and (odd > 0.1 * cells or table.layout.delimiter == " "):
        return Sniff(0.0, "no rows of numbers, and no headings")
    return Sniff(0.85 if named else 0.55, "a table of values with words, units or times in its cells")


def _of_plain_numbers(table: LogTable, seen: Preview) -> Sniff:
    channels = value_columns(seen.dialect, seen.columns, seen.time_column)
    two_valued, share = changing_rows(seen.columns[:, channels])
    if two_valued and share > 0.5:
        return Sniff(0.1, "the rows are changes of state")
    named = seen.dialect.has_headings
    if table.n_rows == 1:
        few = not named or len(channels) < LEAST_COLUMNS
        return Sniff(0.3 if few else 0.92, "a page of values: one row")
    if seen.time_column is None and not time_candidates(table):
        few = not named or len(channels) < _LEAST_UNTIMED
        return Sniff(0.3 if few else 0.6, "a table of numbers without a time column")
    candidates = time_candidates(table)
    if not candidates:
        return Sniff(0.3, "a table of numbers whose time does not rise")
    step_s = _step_s(table, candidates[0].column, candidates[0].factor)
    if step_s < LEAST_STEP_S:
        return Sniff(0.3, f"a table of numbers {step_s:.2g} s apart, too fast for a log")
    if not named or (len(channels) < LEAST_COLUMNS and not _tells_engine_speed(table)):
        weak = 0.35 if seen.time_column is None else 0.45
        return Sniff(weak, f"a table of numbers {step_s:.2g} s apart, few columns or no headings")
    return Sniff(0.93, f"a table of {len(channels)} values {step_s:.2g} s apart")


def _tells_engine_speed(table: LogTable) -> bool:
    """Whether a heading says engine speed: a scope shows the wheel, and the number is what a computer made of it."""
    names = (name_costs(heading_pieces(name_and_stated(column)[0])) for column in table.columns)
    found = [costs["engine_speed"] for costs in names if "engine_speed" in costs]
    return any(match.cost <= _SAYS_SO and match.told >= _SAYS_MUCH for match in found)


def _step_s(table: LogTable, column: int, factor: float) -> float:
    values = table.columns[column].values
    there = values[table.columns[column].there]
    return float(there[-1] - there[0]) * factor / max(there.size - 1, 1)
