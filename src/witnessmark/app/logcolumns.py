"""A parameter log and what its columns are: proposed, asked about, remembered in the shop's ``columns.toml``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import tomlkit

from witnessmark.app.shopfolder import read_shop_toml, shop_path, write_shop_text
from witnessmark.errors import InputError
from witnessmark.recording.columns import (
    Answer,
    ColumnProposal,
    Proposal,
    RememberedMapping,
    answer_of,
    mappings_from_tables,
    mappings_to_tables,
    propose,
    with_mapping,
)
from witnessmark.recording.logtable import (
    ColumnUse,
    LogTable,
    channel_table,
    log_recording,
    read_log_table,
    time_candidates,
    with_uses,
)
from witnessmark.recording.read import find_sidecar
from witnessmark.recording.reader import NO_HINTS
from witnessmark.recording.sidecar import Sidecar
from witnessmark.recording.types import Recording

__all__ = [
    "COLUMNS_FILE",
    "MappedLog",
    "answers_said",
    "mapped_channels",
    "mapped_log",
    "read_mappings",
    "write_mappings",
]

COLUMNS_FILE = "columns.toml"
"""Name of the file in the shop folder."""
_HEAD = """# What the columns of this shop's logs are, as proposed and answered. Written by the program, free to edit.
# A log with the same headings is read by it without a question, unless its numbers deny it.
# Delete a [[log]] to be asked again.

"""


@dataclass(frozen=True, slots=True)
class MappedLog:
    """A log and what its columns are.

    Parameters
    ----------
    recording : Recording
        Traces with their roles; a column that is asked about has none.
    table : LogTable
    proposal : Proposal
        With the questions that are open.
    """

    recording: Recording
    table: LogTable
    proposal: Proposal

    @property
    def questions(self) -> tuple[ColumnProposal, ...]:
        """Columns that are still to be asked about."""
        return self.proposal.questions

    @property
    def unanswered(self) -> tuple[str, ...]:
        """What was not used, and why, a line a column."""
        return tuple(
            f"not used until it is answered: {column.question.reason}"
            for column in self.questions
            if column.question is not None
        )


def read_mappings() -> tuple[RememberedMapping, ...]:
    """What the shop remembers of its logs' columns.

    Returns
    -------
    tuple of RememberedMapping

    Raises
    ------
    InputError
        If ``columns.toml`` is there and cannot be read; says where.
    """
    return mappings_from_tables(read_shop_toml(COLUMNS_FILE), str(shop_path(COLUMNS_FILE)))


def write_mappings(mappings: tuple[RememberedMapping, ...]) -> Path:
    """Keep the mappings in the shop folder.

    Parameters
    ----------
    mappings : tuple of RememberedMapping

    Returns
    -------
    Path
        The file.

    Raises
    ------
    StoreError
        If it cannot be kept.
    """
    return write_shop_text(COLUMNS_FILE, _HEAD + tomlkit.dumps(mappings_to_tables(mappings)))


def answers_said(lines: Iterable[str]) -> dict[str, str]:
    """What a person says of columns, one a line: "T_liq=coolant unit=F".

    Parameters
    ----------
    lines : iterable of str
        ``HEADING=WHAT``. A heading may hold "=" itself: it ends at the first one that an answer follows.

    Returns
    -------
    dict of str to str
        What by heading.

    Raises
    ------
    InputError
        For a line without an answer, or with one that makes no sense.

    Examples
    --------
    >>> answers_said(["T=4 [s]=time", "note=nothing"])
    {'T=4 [s]': 'time', 'note': 'nothing'}
    """
    return dict(_answer_said(line) for line in lines)


def _answer_said(line: str) -> tuple[str, str]:
    parts = line.split("=")
    refused = InputError(f"--column “{line}” says nothing", expected="HEADING=WHAT, as in “T_liq=coolant unit=F”")
    for cut in range(1, len(parts)):
        heading, what = "=".join(parts[:cut]).strip(), "=".join(parts[cut:]).strip()
        try:
            answer_of(what)
        except InputError as error:
            refused = error.at(f"--column “{line}”")
            continue
        return heading, what
    raise refused


def mapped_log(
    path: Path | str,
    answers: Mapping[int | str, Answer | str] | None = None,
    *,
    remember: bool = True,
    sidecar: Sidecar | Path | str | None = None,
) -> MappedLog:
    """Read a parameter log, and say what its columns are.

    Parameters
    ----------
    path : path
    answers : mapping, optional
        What a person says of columns, by their position or heading: an answer, or its text ("coolant unit=F").
    remember : bool
        Keep what is sure and what was answered for the next log with these headings.
    sidecar : Sidecar or path, optional
        As :func:`witnessmark.recording.read.read_recording`; what it says of a channel stands over everything.

    Returns
    -------
    MappedLog

    Raises
    ------
    InputError
        No such file or column, or an answer that makes no sense.
    FormatError, DamagedRecording
        As :func:`witnessmark.recording.logtable.read_log_table`.
    """
    path = Path(path)
    table = read_log_table(path)
    proposal = _proposed(table, answers, remember=remember)
    said = find_sidecar(path, sidecar)
    recording = log_recording(table, _uses(table, proposal), hints=said.hints() if said else NO_HINTS)
    if said:
        recording = said.applied_to(recording)
        proposal = _without_said(proposal, table, recording)
    return MappedLog(recording, table, proposal)


def mapped_channels(
    recording: Recording, answers: Mapping[int | str, Answer | str] | None = None, *, remember: bool = True
) -> MappedLog:
    """Say what the channels of a measurement file are, which names them itself.

    Parameters
    ----------
    recording : Recording
        A channel that has a role, from the note beside the file, keeps it.
    answers, remember
        As of :func:`mapped_log`.

    Returns
    -------
    MappedLog

    Raises
    ------
    InputError
        No such channel, or an answer that makes no sense.
    """
    table = channel_table(recording)
    proposal = _without_said(_proposed(table, answers, remember=remember), table, recording)
    return MappedLog(with_uses(recording, table, proposal.uses), table, proposal)


def _proposed(table: LogTable, answers: Mapping[int | str, Answer | str] | None, *, remember: bool) -> Proposal:
    """What is proposed, kept for the next log with these headings."""
    given = {
        table[key].index: answer_of(answer) if isinstance(answer, str) else answer
        for key, answer in (answers or {}).items()
    }
    mappings = read_mappings()
    proposal = propose(table, mappings, given)
    if remember:
        kept = with_mapping(mappings, table, proposal)
        if kept != mappings:
            write_mappings(kept)
    return proposal


def _uses(table: LogTable, proposal: Proposal) -> dict[int, ColumnUse]:
    """Uses that the table can take: a column called the time that cannot order the rows is left out."""
    uses = proposal.uses
    able = {candidate.column for candidate in time_candidates(table)}
    return {k: use for k, use in uses.items() if use.role != "time" or k in able}


def _without_said(proposal: Proposal, table: LogTable, recording: Recording) -> Proposal:
    """Questions that the sidecar has answered are none any more."""
    said = {trace.name for trace in recording.traces if trace.role is not None}
    names = {column.index: column.name for column in table.columns}
    columns = tuple(
        replace(column, question=None) if column.question is not None and names[column.index] in said else column
        for column in proposal.columns
    )
    return Proposal(columns)
