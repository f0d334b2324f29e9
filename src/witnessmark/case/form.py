"""``case.toml`` from text to a checked form, with every complaint in one line that names the place."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from witnessmark.errors import FormatError, InputError, nearest, one_of

if TYPE_CHECKING:
    from pydantic import BaseModel

    from witnessmark.case.schema import CaseFile

__all__ = ["checked_form", "line_of", "nearest_file", "parsed_toml"]

_TYPES = {
    "int": "a whole number",
    "float": "a number",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in square brackets",
    "model": "a table",
    "dict": "a table",
}
_AT_LINE = re.compile(r" \(at line (\d+), column \d+\)$")


def parsed_toml(text: str, name: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Parameters
    ----------
    text : str
    name : str
        Of the file, for the message.

    Raises
    ------
    FormatError
        Names the line that cannot be read.
    """
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        found = _AT_LINE.search(said)
        where = f"{name}, line {found[1]}" if found else name
        what = _AT_LINE.sub("", said)
        what = what[:1].lower() + what[1:]
        raise FormatError(
            f"this line cannot be read: {what}", where=where, todo='A line is key = value; words stand in "quotes"'
        ) from None


def checked_form(text: str, name: str = "case.toml") -> CaseFile:
    """The checked content of a case file.

    Parameters
    ----------
    text : str
    name : str
        Of the file, for messages.

    Raises
    ------
    FormatError
        Not TOML, or a value of the wrong kind.
    InputError
        A key that does not belong there; names the nearest.
    """
    from pydantic import ValidationError

    from witnessmark.case.schema import CaseFile

    content = parsed_toml(text, name)
    try:
        return CaseFile.model_validate(content)
    except ValidationError as error:
        found = [dict(one) for one in error.errors(include_url=False)]
        found.sort(key=lambda one: one["type"] != "extra_forbidden")
        raise _complaint(found[0], text, name, CaseFile) from None


def line_of(text: str, words: str) -> int | None:
    """Number of the first line that holds these words, or None."""
    at = text.find(words)
    return text.count("\n", 0, at) + 1 if at >= 0 else None


def _complaint(error: Mapping[str, Any], text: str, name: str, model: type[BaseModel]) -> InputError:
    loc = [step for step in error["loc"] if not _is_branch(step)]
    key = str(next((step for step in reversed(loc) if isinstance(step, str)), ""))
    row = line_of(text, key)
    place = ".".join(str(step + 1) if isinstance(step, int) else step for step in loc)
    where = f"{name}, line {row}" if row else f"{name}, {place}"
    kind, given = error["type"], error["input"]
    if kind == "extra_forbidden":
        return one_of("line of a case", key, _keys_at(loc[:-1], model), where=where)
    if kind == "missing":
        return InputError(f"“{key}” is missing", where=f"{name}, {place}")
    shown = repr(given) if len(repr(given)) <= 40 else f"{repr(given)[:39]}…"
    if kind == "literal_error":
        words = str(error["ctx"]["expected"]).strip("'")
        return FormatError(f"{key} = {shown} is not known here", where=where, expected=words)
    if kind in ("greater_than_equal", "less_than_equal"):
        return FormatError(f"{key} = {shown} cannot be", where=where, expected="1 to 16")
    if kind == "list_type" and isinstance(given, Mapping):
        return FormatError(
            f"[{key}] stands in single brackets", where=where, expected=f"[[{key}]]: there may be several"
        )
    expected = next((words for start, words in _TYPES.items() if kind.startswith(start)), None)
    return FormatError(f"{key} = {shown} cannot be", where=where, expected=expected)


def _is_branch(step: str | int) -> bool:
    """Pydantic names the member of a union that it tried; nobody wrote that."""
    return isinstance(step, str) and bool(re.search(r"[\[\](]", step) or step in ("str", "int", "float", "bool"))


def _keys_at(loc: Sequence[str | int], model: type[BaseModel]) -> list[str]:
    from pydantic import BaseModel

    here = model
    for step in loc:
        if isinstance(step, str) and step in here.model_fields:
            annotation = here.model_fields[step].annotation
            inner = [annotation, *getattr(annotation, "__args__", ())]
            here = next((one for one in inner if isinstance(one, type) and issubclass(one, BaseModel)), here)
    return list(here.model_fields)


def nearest_file(word: str, names: Sequence[str], where: str) -> InputError:
    """The error for a file that is not there, naming the one that is most like it."""
    near = nearest(word, names)
    todo = f"Nearest: {near[0]}" if near else (f"There are: {', '.join(names)}" if names else "There are none")
    return InputError(f"no recording is called “{word}”", given=word, where=where, todo=todo)
