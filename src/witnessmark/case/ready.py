"""Which monitors have run since codes were cleared, as typed: ``catalyst=complete evaporation=incomplete``."""

from __future__ import annotations

from collections.abc import Iterable

from witnessmark.case.reported import READINESS, MonitorState
from witnessmark.case.words import split_line
from witnessmark.catalogue.codefiles import MONITORS
from witnessmark.errors import InputError, one_of

__all__ = ["parse_ready"]


def parse_ready(lines: Iterable[str]) -> tuple[MonitorState, ...]:
    """Readiness from typed lines.

    Parameters
    ----------
    lines : iterable of str
        Pairs of a group of monitors and how far it is, any number in a line.

    Returns
    -------
    tuple of MonitorState

    Raises
    ------
    InputError
        For another group or word, naming the nearest; for a group that is given twice and differently.

    Examples
    --------
    >>> [str(one.state) for one in parse_ready(["catalyst=complete misfire=complete", "evaporation=incomplete"])]
    ['complete', 'complete', 'incomplete']
    """
    found: dict[str, MonitorState] = {}
    for line in lines:
        said = split_line(line, with_head=False)
        if said.rest:
            raise InputError(
                f"“{said.rest}” is no pair",
                given=line,
                expected="pairs as in: catalyst=complete evaporation=incomplete",
            )
        for group, state in said.pairs:
            if group not in MONITORS:
                raise one_of("monitor", group, MONITORS)
            word = state.lower()
            if word not in READINESS:
                raise one_of("state of a monitor", word, READINESS)
            before = found.setdefault(group, MonitorState(group, word))
            if before.state != word:
                raise InputError(f"{group} is given twice: {before.state} and {word}", given=line, todo="Keep one")
    return tuple(found.values())
