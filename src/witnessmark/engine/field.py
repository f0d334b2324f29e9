"""What the keys of descriptions hold: values read by functions of ours, numbers, sources, and tables.

Imported only by the shapes of descriptions; pydantic comes with it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from witnessmark.engine import written
from witnessmark.engine.number import ABSENT
from witnessmark.errors import InputError
from witnessmark.source import Source

__all__ = ["Described", "Origin", "Part", "absent", "numbered"]


@dataclass(frozen=True, eq=False)
class Described:
    """Reads a value with a function of ours and carries our errors through pydantic with their parts.

    Parameters
    ----------
    read : callable
        From what the file holds to the value.
    json : dict
        JSON Schema of what the file may hold.
    """

    read: Callable[[object], object]
    json: Any

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Any:
        return dict(self.json)

    def _read(self, given: object) -> object:
        try:
            return self.read(given)
        except InputError as error:
            parts = {"message": error.message, "expected": error.expected, "todo": error.todo}
            raise PydanticCustomError("described", "{message}", parts) from error


def numbered(kind: written.Kind) -> Described:
    """Reads a number of a kind.

    Parameters
    ----------
    kind : Kind

    Returns
    -------
    Described
    """
    return Described(partial(written.parse_number, kind), written.number_schema(kind))


def absent(description: str) -> Any:
    """A number that is not known where its key is left out.

    Parameters
    ----------
    description : str
        For the published schema.

    Returns
    -------
    FieldInfo
    """
    return Field(default_factory=lambda: ABSENT, description=description)


Origin = Annotated[
    Source,
    Described(
        written.parse_source,
        {"type": "string", "description": f"Any words; best begun with one of {', '.join(written.SOURCE_KINDS)}."},
    ),
]
"""Where numbers come from, in words."""


class Part(BaseModel):
    """A table of a description: no key besides those named, nothing turned into another type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False, str_max_length=200)
