"""What was once said of a log's columns, kept for the next log with the same headings.

::

    schema = 1

    [[log]]
    fingerprint = "5f3a…"
    first_seen = "monday.csv"
    delimiter = ";"
    decimal = ","

    [[log.column]]
    heading = "ENGINE_COOLANT_TEMP"
    place = 1                # the how-manyeth column of this heading
    signal = "coolant"
    written = "C"            # the unit the numbers stand in
    unit = "C"               # the unit of number × scale + offset
    scale = 1.0
    offset = 0.0
    answered = true          # a person said so
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from witnessmark.errors import FormatError, InputError
from witnessmark.recording.columns.candidates import Proposal
from witnessmark.recording.columns.lexicon import folded
from witnessmark.recording.columns.naming import mended
from witnessmark.recording.columns.readings import Reading, stated_unit
from witnessmark.recording.columns.statedunit import name_and_stated
from witnessmark.recording.logtable import LogColumn, LogTable
from witnessmark.recording.parameters import Signal, signal_of
from witnessmark.units import conversion, unit_spelt

__all__ = [
    "RememberedColumn",
    "RememberedMapping",
    "fingerprint",
    "mappings_from_tables",
    "mappings_to_tables",
    "remembered_uses",
    "with_mapping",
]

SCHEMA = 1
_LEAST_SHARED = 0.5
_MOST_MAPPINGS = 200


@dataclass(frozen=True, slots=True)
class RememberedColumn:
    """One column of a log that was seen.

    Parameters
    ----------
    heading : str
    place : int
        From 1: the how-manyeth of its heading.
    signal : Signal
    written, unit : str
        Unit in which the numbers stand, and that of number × ``scale`` + ``offset``.
    scale, offset : float
    answered : bool
        A person said so.
    """

    heading: str
    place: int
    signal: Signal
    written: str
    unit: str
    scale: float = 1.0
    offset: float = 0.0
    answered: bool = False


@dataclass(frozen=True, slots=True)
class RememberedMapping:
    """What the columns of logs with one header are.

    Parameters
    ----------
    fingerprint : str
    first_seen : str
        Name of the file.
    delimiter, decimal : str
    columns : tuple of RememberedColumn
    """

    fingerprint: str
    first_seen: str
    delimiter: str
    decimal: str
    columns: tuple[RememberedColumn, ...]


def fingerprint(table: LogTable) -> str:
    """What tells the header of a log from others, whatever the order of its columns.

    Parameters
    ----------
    table : LogTable

    Returns
    -------
    str
    """
    parts = sorted(f"{key}\t{place}\t{column.heading_unit or ''}" for column, key, place in _keyed(table))
    text = "\n".join((table.layout.delimiter, table.layout.decimal, *parts))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:32]


def _keyed(table: LogTable) -> list[tuple[LogColumn, str, int]]:
    seen: Counter[str] = Counter()
    found = []
    for column in table.columns:
        key = _key(column.heading)
        seen[key] += 1
        found.append((column, key, seen[key]))
    return found


def _key(heading: str) -> str:
    return " ".join(folded(mended(heading)).split())


def remembered_uses(table: LogTable, mappings: tuple[RememberedMapping, ...]) -> Mapping[int, tuple[Signal, Reading]]:
    """What is remembered of a log's columns.

    Parameters
    ----------
    table : LogTable
    mappings : tuple of RememberedMapping

    Returns
    -------
    mapping of int to (Signal, Reading)
        By the column's index. A header that gained or lost columns takes those it shares with the mapping that shares
        most; a column that states another unit than it did is left out.
    """
    keyed = _keyed(table)
    mapping = _nearest(table, mappings, {(key, place) for _, key, place in keyed})
    if mapping is None:
        return {}
    known = {(_key(column.heading), column.place): column for column in mapping.columns}
    found = {}
    for column, key, place in keyed:
        said = known.get((key, place))
        if said is None:
            continue
        stated = name_and_stated(column)[1]
        if stated is not None and said.written and stated != said.written and not said.answered:
            continue
        found[column.index] = (said.signal, _reading(said))
    return found


def _nearest(
    table: LogTable, mappings: tuple[RememberedMapping, ...], keys: set[tuple[str, int]]
) -> RememberedMapping | None:
    own = fingerprint(table)
    best, most = None, 0.0
    for mapping in mappings:
        if mapping.fingerprint == own:
            return mapping
        if (mapping.delimiter, mapping.decimal) != (table.layout.delimiter, table.layout.decimal):
            continue
        theirs = {(_key(column.heading), column.place) for column in mapping.columns}
        shared = len(keys & theirs) / max(1, min(len(keys), len(theirs)))
        if shared >= _LEAST_SHARED and shared > most:
            best, most = mapping, shared
    return best


def _reading(said: RememberedColumn) -> Reading:
    own = said.signal.parameter.unit
    factor, shift = (1.0, 0.0)
    if own not in ("", "text") and said.unit:
        factor, shift = conversion(unit_spelt(said.unit) or said.unit, own)
    return Reading(
        said.written, said.unit, said.scale, said.offset, said.scale * factor, said.offset * factor + shift, 0.0
    )


def with_mapping(
    mappings: tuple[RememberedMapping, ...], table: LogTable, proposal: Proposal
) -> tuple[RememberedMapping, ...]:
    """The mappings with that of one more log, the newest first.

    Parameters
    ----------
    mappings : tuple of RememberedMapping
    table : LogTable
    proposal : Proposal
        Columns with a question, and those without any value that nobody spoke of, are not kept.

    Returns
    -------
    tuple of RememberedMapping
    """
    own = fingerprint(table)
    before = next((mapping for mapping in mappings if mapping.fingerprint == own), None)
    kept = {} if before is None else {(_key(column.heading), column.place): column for column in before.columns}
    for (_, key, place), column in zip(_keyed(table), proposal.columns, strict=True):
        if column.question is not None or (column.empty and not column.told):
            continue
        reading = column.reading
        answered = column.told == "answer" or (
            column.told == "remembered" and (key, place) in kept and kept[key, place].answered
        )
        kept[key, place] = RememberedColumn(
            column.heading, place, column.signal, reading.written, reading.unit, reading.scale, reading.offset, answered
        )
    first = table.name if before is None else before.first_seen
    mapping = RememberedMapping(own, first, table.layout.delimiter, table.layout.decimal, tuple(kept.values()))
    others = tuple(each for each in mappings if each.fingerprint != own)
    return (mapping, *others)[:_MOST_MAPPINGS]


def mappings_to_tables(mappings: tuple[RememberedMapping, ...]) -> dict[str, Any]:
    """As tables of a TOML file.

    Parameters
    ----------
    mappings : tuple of RememberedMapping

    Returns
    -------
    dict
    """
    logs = []
    for mapping in mappings:
        columns = [
            {
                "heading": column.heading,
                "place": column.place,
                "signal": str(column.signal),
                "written": column.written,
                "unit": column.unit,
                "scale": column.scale,
                "offset": column.offset,
                "answered": column.answered,
            }
            for column in mapping.columns
        ]
        logs.append(
            {
                "fingerprint": mapping.fingerprint,
                "first_seen": mapping.first_seen,
                "delimiter": mapping.delimiter,
                "decimal": mapping.decimal,
                "column": columns,
            }
        )
    return {"schema": SCHEMA, "log": logs}


def mappings_from_tables(tables: Mapping[str, Any], where: str) -> tuple[RememberedMapping, ...]:
    """From the tables of a TOML file, which a person may have edited.

    Parameters
    ----------
    tables : mapping
        Empty for a file that is not there.
    where : str
        Name of the file, for messages.

    Returns
    -------
    tuple of RememberedMapping

    Raises
    ------
    FormatError
        For a newer schema, or a key that is missing or of another kind; says which.
    """
    if not tables:
        return ()
    if tables.get("schema") != SCHEMA:
        raise FormatError(
            "another version wrote this file",
            given=f"schema {tables.get('schema')}",
            where=where,
            expected=f"schema {SCHEMA}",
        )
    logs = tables.get("log", [])
    if not isinstance(logs, list):
        raise FormatError("“log” is no list of tables", where=where, expected="[[log]]")
    return tuple(_mapping(row, f"{where}, log {k}") for k, row in enumerate(logs, 1))


def _mapping(row: Any, where: str) -> RememberedMapping:
    texts = {key: _text(row, key, where) for key in ("fingerprint", "first_seen", "delimiter", "decimal")}
    columns = row.get("column", [])
    if not isinstance(columns, list):
        raise FormatError("“column” is no list of tables", where=where, expected="[[log.column]]")
    return RememberedMapping(
        **texts, columns=tuple(_column(each, f"{where}, column {k}") for k, each in enumerate(columns, 1))
    )


def _column(row: Any, where: str) -> RememberedColumn:
    texts = {key: _text(row, key, where) for key in ("heading", "signal", "written", "unit")}
    numbers = {key: _number(row, key, usual, where) for key, usual in (("scale", 1.0), ("offset", 0.0), ("place", 1))}
    try:
        column = RememberedColumn(
            heading=texts["heading"],
            place=int(numbers["place"]),
            signal=signal_of(texts["signal"]),
            written=texts["written"],
            unit=texts["unit"],
            scale=numbers["scale"],
            offset=numbers["offset"],
            answered=row.get("answered") is True,
        )
        _reading(column)
    except InputError as error:
        raise error.at(where) from None
    if column.scale == 0:
        raise FormatError("the scale of a column is 0", where=where, expected="a number other than 0")
    return replace(column, written=stated_unit(column.written) or "") if column.written else column


def _text(row: Any, key: str, where: str) -> str:
    value = row.get(key) if isinstance(row, dict) else None
    if not isinstance(value, str):
        raise FormatError(f"“{key}” is missing or no text", where=where, expected=f'{key} = "…"')
    return value


def _number(row: Any, key: str, usual: float, where: str) -> float:
    value = row.get(key, usual)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value or abs(value) > 1e12:
        raise FormatError(f"“{key}” is no number", given=str(value), where=where, expected=f"{key} = 1.0")
    return float(value)
