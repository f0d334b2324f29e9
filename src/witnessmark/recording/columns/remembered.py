"""What was once said of a log's columns, kept for the next log with the same headings."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.recording.columns.candidates import Proposal
from witnessmark.recording.columns.lexicon import folded
from witnessmark.recording.columns.naming import mended
from witnessmark.recording.columns.readings import Reading
from witnessmark.recording.columns.statedunit import name_and_stated
from witnessmark.recording.logtable import LogColumn, LogTable
from witnessmark.recording.parameters import Signal
from witnessmark.units import conversion, unit_spelt

__all__ = [
    "RememberedColumn",
    "RememberedMapping",
    "fingerprint",
    "remembered_uses",
    "with_mapping",
]

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

    @property
    def reading(self) -> Reading:
        """How its numbers are read.

        Raises
        ------
        UnitError
            For a unit that measures something else than the parameter does.
        """
        own = self.signal.parameter.unit
        factor, shift = (1.0, 0.0)
        if own not in ("", "text") and self.unit:
            factor, shift = conversion(unit_spelt(self.unit) or self.unit, own)
        scale, offset = self.scale * factor, self.offset * factor + shift
        return Reading(self.written, self.unit, self.scale, self.offset, scale, offset, 0.0)


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
        found[column.index] = (said.signal, said.reading)
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
