"""A case file written for a person to go on with: every line as it was typed, with room for what is not known yet."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from witnessmark.case.agreed import LISTS, listed
from witnessmark.case.words import as_number, split_line

__all__ = ["Typed", "case_text"]


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed, line for line.

    Parameters
    ----------
    saw, codes, known, did, when, ready, agreed : tuple of str
    cylinders : int, optional
    engine : str, optional
        Name of a described engine.
    complaint_seen : bool, optional
    """

    saw: tuple[str, ...] = ()
    codes: tuple[str, ...] = ()
    known: tuple[str, ...] = ()
    did: tuple[str, ...] = ()
    when: tuple[str, ...] = ()
    cylinders: int | None = None
    engine: str | None = None
    complaint_seen: bool | None = None
    ready: tuple[str, ...] = ()
    agreed: tuple[str, ...] = ()


def case_text(typed: Typed, *, title: str = "", complaint: str = "", vehicle: str = "") -> str:
    """The text of a ``case.toml`` that says what was typed.

    Parameters
    ----------
    typed : Typed
    title, complaint, vehicle : str

    Returns
    -------
    str
    """
    lines = [
        "# One vehicle, one complaint. Edit freely: what changes is entered in journal.jsonl at the next examine.",
        "# Name, address, plate and VIN belong in owner.toml, not here.",
        'format = "witnessmark/case/1"',
        f"title = {_quoted(title)}",
        f"complaint = {_quoted(complaint)}  # in the owner's own words",
        f"vehicle = {_quoted(vehicle)}",
        *_seen(typed.complaint_seen),
        "",
        *([f"cylinders = {typed.cylinders}"] if typed.cylinders is not None else []),
        *([f"engine = {_quoted(typed.engine)}"] if typed.engine is not None else []),
        *_list("known", typed.known),
        *_list("when", typed.when),
        *_list("did", typed.did),
        *_list("codes", typed.codes),
        *(_list("readiness", typed.ready) if typed.ready else []),
        *_list("saw", typed.saw),
        *_agreed(typed.agreed),
    ]
    return "\n".join(lines) + "\n"


def _seen(seen: bool | None) -> list[str]:
    if seen is None:
        return ["# complaint_seen = true  # or false: was the complaint seen here?"]
    return [f"complaint_seen = {'true' if seen else 'false'}"]


def _agreed(lines: Sequence[str]) -> list[str]:
    """The table of what the owner agreed to; as a line of comment where nothing was said."""
    pairs = dict(pair for line in lines for pair in split_line(line, with_head=False).pairs)
    if not pairs:
        return ["", "# [agreed]  # what the owner agreed to: the plan stays inside it", "# minutes = 120"]
    return ["", "[agreed]", *(f"{key} = {_value(key, value)}" for key, value in pairs.items())]


def _value(key: str, value: str) -> str:
    if key in LISTS:
        return f"[{', '.join(map(_quoted, listed(value)))}]"
    return repr(as_number(key, value))


def _list(key: str, values: Sequence[str]) -> Iterable[str]:
    if not values:
        return [f"{key} = []"]
    return [f"{key} = [", *(f"  {_quoted(value)}," for value in values), "]"]


def _quoted(text: str) -> str:
    """A basic string of TOML: its escapes are JSON's, but for the one control character that JSON lets stand."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
