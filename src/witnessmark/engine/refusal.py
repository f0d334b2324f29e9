"""Saying no in one clear line: what a description's keys hold that they cannot, and engines outside the scope."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from witnessmark.engine.complaint import Complaint
from witnessmark.engine.written import shorten
from witnessmark.errors import FormatError, OutOfScope, nearest

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

__all__ = ["hint", "not_toml", "refuse_absurd", "refuse_others", "shape_complaints"]

_DEEPEST = 20
_LARGEST = 10**15

_COVERED = "Witnessmark covers four-stroke spark-ignition engines"
_TYPES = {
    "int": "a whole number",
    "float": "a number",
    "finite": "a number",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in square brackets",
    "model": "a table",
    "dict": "a table",
}


def refuse_others(given: Mapping[str, Any], where: str = "") -> None:
    """Refuse engines outside the scope at once, before any smaller complaint.

    Parameters
    ----------
    given : mapping
        The description as it was read.
    where : str
        Its file.

    Raises
    ------
    OutOfScope
        For diesel, two-stroke and rotary engines.
    """
    words = {key: str(given.get(key, "")).strip().lower() for key in ("strokes", "ignition", "fuel", "layout")}
    kind = None
    if words["strokes"] in ("2", "2.0", "two"):
        kind = "Two-stroke engines"
    elif "diesel" in words.values() or words["ignition"] == "compression":
        kind = "Diesel engines"
    elif words["layout"] in ("rotary", "wankel"):
        kind = "Rotary engines"
    if kind:
        raise OutOfScope(f"{where + ': ' if where else ''}{kind} are not covered. {_COVERED}; nothing was guessed.")


def refuse_absurd(given: object, where: str = "", *, depth: int = 0) -> None:
    """Refuse what no description holds and Python itself would stumble over.

    Parameters
    ----------
    given : object
        The description as it was read, or a part of it.
    where : str
        Its file.
    depth : int
        How many tables and lists stand around the part.

    Raises
    ------
    FormatError
        For whole numbers of very many digits, and tables in tables without end.
    """
    if depth > _DEEPEST:
        raise FormatError("tables within tables without end", expected=f"no more than {_DEEPEST}", where=where or None)
    if isinstance(given, int) and abs(given) > _LARGEST:
        raise FormatError("a whole number of very many digits", expected="a number of an engine", where=where or None)
    inside = given.values() if isinstance(given, Mapping) else given if isinstance(given, list | tuple) else ()
    for one in inside:
        refuse_absurd(one, where, depth=depth + 1)


def not_toml(error: ValueError | RecursionError, text: str, where: str = "") -> FormatError:
    """The error for a text that is not TOML, with what most often is the matter with its line.

    Parameters
    ----------
    error : ValueError or RecursionError
        What the standard library made of it.
    text : str
    where : str
        Its file.

    Returns
    -------
    FormatError
        Ready to raise.
    """
    match = re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", str(error))
    number = int(match[1]) if match and match[1] else text.count("\n") + 1
    line = text.splitlines()[number - 1].split("#")[0].strip() if match and match[1] else ""
    if "digits" in str(error) or isinstance(error, RecursionError):
        expected = "the numbers and tables of an engine"
        return FormatError("numbers or brackets without end", expected=expected, where=where or None)
    todo = "Look for a bracket or a quotation mark that is not closed"
    if "overwrite" in str(error) or "twice" in str(error):
        todo = "That key is there already, further up"
    elif re.search(r"=\s*-?\d+,\d", line):
        todo = "Write decimals with a point: 9.525"
    elif re.search(r"=\s*[^\W\d]", line):
        todo = "Put words in quotes"
    elif line and "=" not in line and not line.startswith("["):
        todo = "Write key = value; a remark begins with #"
    place = ", ".join(filter(None, (where, f"line {number}")))
    return FormatError(f"not TOML: {str(error).partition(' (at ')[0]}", given=line or None, where=place, todo=todo)


def shape_complaints(error: ValidationError, given: Mapping[str, Any], model: type[BaseModel]) -> list[Complaint]:
    """What a description's keys hold that they cannot, in our words.

    Parameters
    ----------
    error : ValidationError
    given : mapping
        The description as it was read.
    model : type
        The model it was held against.

    Returns
    -------
    list of Complaint
        Unknown keys first: one misspelt is often why another is missing.
    """
    found = [_complaint(dict(one), given, model) for one in error.errors(include_url=False)]
    return sorted(found, key=lambda complaint: not complaint.message.startswith("no key"))


def hint(word: str, choices: Sequence[str]) -> str:
    """The nearest of the valid words, or all of them."""
    near = nearest(word, choices)
    return f"Nearest: {near[0]}" if near else f"One of: {', '.join(choices)}"


def _complaint(error: Mapping[str, Any], given: Mapping[str, Any], model: type[BaseModel]) -> Complaint:
    place, kind, context = _path(error["loc"], given), str(error["type"]), error.get("ctx", {})
    last, held = error["loc"][-1], error["input"]
    if kind == "described":
        return Complaint(place, context["message"], context["expected"] or "", context["todo"] or "")
    if kind == "extra_forbidden":
        keys = _keys_at(error["loc"][:-1], model)
        return Complaint(place, f"no key is called “{_cut(last)}” here", todo=hint(str(last), keys))
    if kind == "missing":
        return Complaint(_path(error["loc"][:-1], given), f"“{last}” is missing")
    if kind == "string_too_long":
        return Complaint(place, f"a text of {len(held)} letters", f"at most {context['max_length']}")
    if kind in ("too_short", "too_long"):
        n = context["actual_length"]
        return Complaint(place, f"{n} {'entry' if n == 1 else 'entries'}", _bounds(context, "{}_length"))
    if kind == "list_type" and isinstance(held, Mapping):
        return Complaint(place, f"[{last}] in single brackets", f"[[{last}]], for there may be several")
    shown = shorten(held)
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", context["expected"]) or [context["expected"]]
        message = (
            f"no {str(last).replace('_', ' ')} is called “{_cut(held)}”"
            if isinstance(held, str)
            else f"{shown} cannot be"
        )
        return Complaint(place, message, todo=hint(_cut(held), choices))
    if kind in ("greater_than_equal", "less_than_equal"):
        return Complaint(place, f"{shown} cannot be", _bounds({**context}, "{}"))
    expected = next((words for start, words in _TYPES.items() if kind.startswith(start)), str(error["msg"]))
    return Complaint(place, f"{shown} cannot be", expected)


def _cut(text: object) -> str:
    return text if isinstance(text, str) and len(text) <= 40 else f"{str(text)[:39]}…"


def _bounds(context: Mapping[str, Any], key: str) -> str:
    for word, names in (("at least", ("min", "ge")), ("at most", ("max", "le"))):
        for name in names:
            if key.format(name) in context:
                return f"{word} {context[key.format(name)]}"
    return ""


def _path(loc: Sequence[str | int], given: object) -> str:
    """Keys joined by points; an entry of a list by its id, shaft or cam, else by its number."""
    path, here = "", given
    for step in loc:
        try:
            here = here[step]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(step, int):
            named = [here[key] for key in ("id", "shaft", "cam") if key in here] if isinstance(here, Mapping) else []
            path += f".{_cut(named[0])}" if named and isinstance(named[0], str) else f"[{step + 1}]"
        else:
            path += f".{_cut(step)}" if path else _cut(step)
    return path


def _keys_at(loc: Sequence[str | int], model: type[BaseModel]) -> list[str]:
    """The keys that a table at this place may have."""
    from pydantic import BaseModel

    here = model
    for step in loc:
        if isinstance(step, str):
            annotation = here.model_fields[step].annotation
            inner = [annotation, *getattr(annotation, "__args__", ())]
            here = next(one for one in inner if isinstance(one, type) and issubclass(one, BaseModel))
    return [field.alias or name for name, field in here.model_fields.items()]
