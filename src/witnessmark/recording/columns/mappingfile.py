"""The file in which a shop keeps what the columns of its logs are, as tables of TOML.

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

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from witnessmark.errors import FormatError, InputError
from witnessmark.recording.columns.remembered import RememberedColumn, RememberedMapping
from witnessmark.recording.columns.statedunit import stated_unit
from witnessmark.recording.parameters import signal_of

__all__ = ["SCHEMA", "mappings_from_tables", "mappings_to_tables"]

SCHEMA = 1
"""Of the file; one of another number is refused."""


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
        # Refused here, where the file can be named, and not when a log is read by it.
        _ = column.reading
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
