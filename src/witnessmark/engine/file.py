"""Reading an engine description: commented TOML in, :class:`~witnessmark.engine.types.Engine` out.

pydantic, which checks the shape, is imported only when a description is read.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.engine.build import described, engine_of
from witnessmark.engine.check import complaints
from witnessmark.engine.refusal import not_toml, refuse_absurd, refuse_others, shape_complaints
from witnessmark.engine.types import Engine
from witnessmark.errors import FormatError

if TYPE_CHECKING:
    from witnessmark.engine.schema import EngineFile

__all__ = ["decoded", "engine_from_mapping", "engine_from_toml", "engine_schema", "read_engine"]

_LARGEST_BYTES = 1_000_000


def read_engine(path: str | Path) -> Engine:
    """The engine that a file describes.

    Parameters
    ----------
    path : str or Path
        A TOML file; ``docs/engine-description.md`` explains it.

    Returns
    -------
    Engine

    Raises
    ------
    FormatError
        If the file cannot be read as text or as TOML.
    EngineDefinitionError
        If it says what cannot be, with the place in the file.
    OutOfScope
        For engines that are not covered.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= _LARGEST_BYTES else b""
    except OSError as error:
        raise FormatError(f"cannot be read: {error.strerror}", where=str(path), todo="Look at its path") from error
    if size > _LARGEST_BYTES:
        raise FormatError("too large for an engine description", expected="a small text file", where=path.name)
    return engine_from_toml(decoded(data, path.name), where=path.name, name=path.stem)


def decoded(data: bytes, where: str) -> str:
    """The text of a file's bytes.

    Parameters
    ----------
    data : bytes
    where : str
        The file, for messages.

    Returns
    -------
    str

    Raises
    ------
    FormatError
        If they are no text.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FormatError("not plain text", expected="TOML in UTF-8", where=f"{where}, line {line}") from error


def engine_from_toml(text: str, *, where: str = "", name: str = "") -> Engine:
    """The engine that a TOML text describes.

    Parameters
    ----------
    text : str
    where : str
        Its file, for messages.
    name : str
        Used where the text gives no name.

    Returns
    -------
    Engine

    Raises
    ------
    FormatError
        If it is not TOML.
    EngineDefinitionError
        If it says what cannot be.
    OutOfScope
        For engines that are not covered.
    """
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # besides its own errors: absurdly long numbers, absurd nesting
        raise not_toml(error, text, where) from error
    return engine_from_mapping(given, where=where, name=name)


def engine_from_mapping(given: Mapping[str, Any], *, where: str = "", name: str = "") -> Engine:
    """The engine that nested tables describe, as TOML or JSON hold them.

    Parameters
    ----------
    given : mapping
    where : str
        Where it stands, for messages: "engine.toml".
    name : str
        Used where the description gives no name.

    Returns
    -------
    Engine

    Raises
    ------
    FormatError
        For what no description holds: numbers of very many digits, tables without end.
    EngineDefinitionError
        If it says what cannot be: the first thing with its place, and how many more there are.
    OutOfScope
        For engines that are not covered.
    """
    refuse_absurd(given, where)
    refuse_others(given, where)
    model = _validated(given, where)
    said = described(model, where)
    found = complaints(said)
    if found:
        raise found[0].error(where, more=len(found) - 1)
    called = model.name or name or f"engine of {model.cylinders} cylinders"
    return engine_of(said, name=called, drive_words=model.drive, source=model.source)


def _validated(given: Mapping[str, Any], where: str) -> EngineFile:
    from pydantic import ValidationError

    from witnessmark.engine.schema import EngineFile

    try:
        return EngineFile.model_validate(dict(given))
    except ValidationError as error:
        found = shape_complaints(error, given, EngineFile)
        raise found[0].error(where, more=len(found) - 1) from None


def engine_schema() -> dict[str, Any]:
    """JSON Schema of the description, as published in ``docs/schema/engine.schema.json``.

    Returns
    -------
    dict
    """
    from witnessmark.engine import schema

    return schema.engine_schema()
