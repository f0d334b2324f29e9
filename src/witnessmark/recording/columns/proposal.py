"""What each column of a log is: the likeliest of all assignments, with a question where it is not sure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from witnessmark.errors import InputError
from witnessmark.recording.columns.candidates import Answer, Candidate, ColumnProposal, Proposal, reading_of
from witnessmark.recording.columns.questions import checked_reading, doubled, question_about
from witnessmark.recording.columns.remembered import RememberedMapping, remembered_uses
from witnessmark.recording.columns.statedunit import name_and_stated
from witnessmark.recording.columns.weighing import SHARED, Weighed, agree, fixed, relate, same_unit, settle, weighed
from witnessmark.recording.logtable import LogTable
from witnessmark.recording.parameters import Signal

__all__ = ["propose"]

_SHOWN, _LEAST_SHOWN = 6, 0.01


def propose(
    table: LogTable,
    remembered: tuple[RememberedMapping, ...] = (),
    answers: Mapping[int, Answer] | None = None,
) -> Proposal:
    """What each column of a log is.

    Parameters
    ----------
    table : LogTable
    remembered : tuple of RememberedMapping
        What was said of earlier logs of the shop.
    answers : mapping of int to Answer, optional
        What a person says of columns of this one, by their index.

    Returns
    -------
    Proposal

    Raises
    ------
    InputError
        For an answer about a column that is not there.
    """
    given = dict(answers or {})
    beyond = [k for k in given if not 0 <= k < len(table.columns)]
    if beyond:
        raise InputError(f"column {beyond[0]}", where=table.name, expected=f"0 to {len(table.columns) - 1}")
    known = remembered_uses(table, remembered)
    columns = []
    for column in table.columns:
        if column.index in given:
            answer = given[column.index]
            columns.append(fixed(column, answer.signal, reading_of(answer, name_and_stated(column)[1]), "answer"))
        elif column.index in known:
            signal, reading = known[column.index]
            columns.append(fixed(column, signal, reading, "remembered"))
        else:
            columns.append(weighed(column))
    settle(columns)
    agree(columns)
    same_unit(columns)
    relate(columns)
    settle(columns)
    return Proposal(_without_doubles(tuple(_proposed(column, columns) for column in columns), columns))


def _without_doubles(proposed: tuple[ColumnProposal, ...], columns: list[Weighed]) -> tuple[ColumnProposal, ...]:
    """Of two columns of different headings that would both be one signal, the less likely is asked about."""
    best: dict[Signal, int] = {}
    for i, column in enumerate(proposed):
        if column.signal.id in SHARED or column.empty or column.question is not None:
            continue
        first = best.setdefault(column.signal, i)
        if (column.told != "", column.probability) > (proposed[first].told != "", proposed[first].probability):
            best[column.signal] = i
    return tuple(
        replace(column, question=doubled(columns[i], columns[best[column.signal]]))
        if column.question is None
        and not column.told
        and not column.empty
        and best.get(column.signal, i) != i
        and columns[best[column.signal]].key != columns[i].key
        else column
        for i, column in enumerate(proposed)
    )


def _proposed(column: Weighed, columns: list[Weighed]) -> ColumnProposal:
    candidates: list[Candidate] = []
    shares: list[float] = []
    for k in np.argsort(-column.chances)[:_SHOWN]:
        if candidates and column.chances[k] < _LEAST_SHOWN:
            break
        reading, share = checked_reading(column, columns, int(k)) if not candidates else column.readings_of(int(k))
        candidates.append(Candidate(column.signals[k], reading, float(column.chances[k])))
        shares.append(share)
    empty = column.facts.kind == "empty"
    question = None if empty else question_about(column, columns, tuple(candidates), shares[0])
    return ColumnProposal(
        column.column.index, column.column.heading, tuple(candidates), question, told=column.told, empty=empty
    )
