"""Findings from a freeze frame: the values that a computer kept at the moment when it set a code."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from witnessmark.finding import Finding, Provenance
from witnessmark.measure.log.moment import moment_condition, moment_findings
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Condition

__all__ = ["frozen_findings"]


def frozen_findings(code: str, values: Iterable[tuple[Signal, float]], *, text: str = "") -> tuple[Finding, ...]:
    """What a freeze frame shows, in the quantities of the closed list.

    Parameters
    ----------
    code : str
        The code that stored it.
    values : iterable of (Signal, float)
        In the parameters' own units; float [own unit].
    text : str
        As it came, for the findings' source.

    Returns
    -------
    tuple of Finding
        Speed and coolant belong to the condition of all of them. Trims of a bank are added up where both stand there.
        What has no quantity is left out: it stays in the frame.
    """
    told = dict(values)
    source = Provenance(kind="code", text=text)
    found = moment_findings(told, moment_condition(told, Condition(freeze=code)), source)
    return tuple(replace(one, method=f"freeze frame of {code}; {one.method}") for one in found)
