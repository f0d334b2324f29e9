"""What a case's file says of codes: the codes, readiness, freeze frames, on-board tests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from witnessmark.case.code import parse_code, parse_code_line
from witnessmark.case.linein import CASE_FILE, at_line, written
from witnessmark.case.ready import parse_ready
from witnessmark.case.reported import MonitorState, OnBoardTest, ReportedCode
from witnessmark.case.typed import parse_reading
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding

if TYPE_CHECKING:
    from witnessmark.case.schema import CaseFile, CodeFile

__all__ = ["codes_in", "frozen_in", "readiness_in", "tests_in"]


def codes_in(form: CaseFile, text: str) -> Iterator[tuple[str, ReportedCode]]:
    """Codes, each with the line that it was typed in.

    Parameters
    ----------
    form : CaseFile
    text : str
        Of the file.

    Yields
    ------
    tuple of (str, ReportedCode)

    Raises
    ------
    InputError
        For one that cannot be used; names its place in the file.
    """
    for line in form.codes:
        with at_line(text, line):
            yield line, parse_code_line(line)
    for number, table in enumerate(form.code, start=1):
        if table.struck:
            continue
        try:
            yield table.code, _code_of(table)
        except InputError as error:
            raise error.at(f"{CASE_FILE}, code {number}") from None


def _code_of(table: CodeFile) -> ReportedCode:
    """A table says the same as a line; the code of it may not bring keys of its own."""
    parse_code(table.code)
    ran = {None: "", True: " monitor_ran=yes", False: " monitor_ran=no"}[table.monitor_ran]
    status = f" status={','.join(table.status)}" if table.status else ""
    found = parse_code_line(f"{table.code} set={written(table.set)}{status}{ran}")
    return replace(found, unit=table.unit)


def readiness_in(form: CaseFile, text: str) -> tuple[MonitorState, ...]:
    """Which monitors have run.

    Parameters
    ----------
    form : CaseFile
    text : str

    Returns
    -------
    tuple of MonitorState

    Raises
    ------
    InputError
        As :func:`witnessmark.case.ready.parse_ready`, with the line of the file.
    """
    if isinstance(form.readiness, dict):
        lines = [f"{key}={value}" for key, value in form.readiness.items()]
        with at_line(text, "readiness"):
            return parse_ready(lines)
    with at_line(text, *form.readiness):
        return parse_ready(form.readiness)


def tests_in(form: CaseFile) -> Iterator[OnBoardTest]:
    """Results of on-board tests.

    Parameters
    ----------
    form : CaseFile

    Yields
    ------
    OnBoardTest
    """
    for one in form.on_board_test:
        yield OnBoardTest(one.monitor, one.test, one.value, one.low, one.high, one.measured_in, one.words, one.unit)


def frozen_in(form: CaseFile, text: str, engine: Engine) -> tuple[Finding, ...]:
    """Readings out of the freeze frames of codes.

    Parameters
    ----------
    form : CaseFile
    text : str
    engine : Engine
        To refuse places that it does not have.

    Returns
    -------
    tuple of Finding

    Raises
    ------
    InputError
        For a line that cannot be used; names the freeze frame.
    """
    found = []
    for number, frame in enumerate(form.freeze, start=1):
        try:
            code = parse_code(frame.code)
            found += [parse_reading(f"{line} freeze={code}", engine=engine) for line in frame.saw]
        except InputError as error:
            raise error.at(f"{CASE_FILE}, freeze {number}") from None
    return tuple(found)
