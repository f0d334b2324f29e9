"""From what decoders read out of a vehicle's answers, as plain values, to what a case keeps of it.

The decoders' own types are not needed here: a code comes as text, a status as words, a monitor as a name and whether it
is complete.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from witnessmark.case.code import code_findings, parse_code_line
from witnessmark.case.reported import SET_BY, STATUSES, MonitorState, OnBoardTest, Reported, ReportedCode
from witnessmark.finding import Finding

__all__ = ["findings_of", "reported_code", "reported_of"]


def reported_code(code: str, status: Iterable[str] = (), *, unit: str = "") -> ReportedCode:
    """One code as a computer told it.

    Parameters
    ----------
    code : str
        "P0016", or with its failure type "P0016-00".
    status : iterable of str
        Words of :data:`witnessmark.case.reported.STATUSES`; others are left off.
    unit : str
        Which computer.

    Returns
    -------
    ReportedCode
        Not set where a status was told and none of its words is in :data:`witnessmark.case.reported.SET_BY`. Its
        monitor has not run where the status says that it was not completed since codes were cleared; otherwise that is
        left open.

    Raises
    ------
    InputError
        If it is no code.
    """
    words = tuple(word for word in dict.fromkeys(status) if word in STATUSES)
    told = parse_code_line(code)
    is_set = not words or any(word in SET_BY for word in words)
    ran = False if "not_completed_since_clear" in words and not is_set else None
    return replace(told, status=words, is_set=is_set, monitor_ran=ran, unit=unit)


def reported_of(
    codes: Iterable[tuple[str, str, Iterable[str]]],
    *,
    monitors: Mapping[str, Iterable[tuple[str, bool]]] | None = None,
    tests: Iterable[OnBoardTest] = (),
) -> Reported:
    """All that computers told, as a case keeps it.

    Parameters
    ----------
    codes : iterable of (unit, code, status)
    monitors : mapping of str to iterable of (name, complete), optional
        By unit: groups of monitors that it has, and whether they have run since codes were cleared.
    tests : iterable of OnBoardTest

    Returns
    -------
    Reported
        One entry for a code of a unit, the words of its status together.
    """
    found: dict[tuple[str, str], list[str]] = {}
    for unit, code, status in codes:
        found.setdefault((unit, code), []).extend(status)
    states = [
        MonitorState(name, "complete" if complete else "incomplete", unit)
        for unit, several in (monitors or {}).items()
        for name, complete in several
    ]
    told = (reported_code(code, status, unit=unit) for (unit, code), status in found.items())
    return Reported(tuple(told), tuple(states), tuple(tests))


def findings_of(reported: Reported) -> tuple[Finding, ...]:
    """What the codes of a report are evidence of, one finding a code, whichever computers told it.

    Parameters
    ----------
    reported : Reported

    Returns
    -------
    tuple of Finding
        Of a code that several computers tell, or that comes with several failure types: set if any says so.
    """
    by_code: dict[str, ReportedCode] = {}
    for one in reported.codes:
        before = by_code.get(one.code)
        if before is None or (one.is_set and not before.is_set):
            by_code[one.code] = one
        elif one.is_set == before.is_set:
            by_code[one.code] = replace(before, status=tuple(dict.fromkeys((*before.status, *one.status))))
    return tuple(finding for one in by_code.values() for finding in code_findings(one))
