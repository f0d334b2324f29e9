"""The published JSON Schema of an answer, generated from the types of ``document``.

``python -m witnessmark.report.schema FILE`` writes it; a test holds the published file against it.
"""

from __future__ import annotations

import json
import sys
import types
from pathlib import Path
from typing import Annotated, Literal, NotRequired, Union, get_args, get_origin, get_type_hints, is_typeddict

from witnessmark.report.document import SCHEMA, AssessmentDocument

__all__ = ["assessment_schema", "document_schema", "schema_text"]

Schema = dict[str, object]
_PLAIN = {str: "string", int: "integer", float: "number", bool: "boolean", type(None): "null"}


def assessment_schema() -> Schema:
    """The schema of an answer, by JSON Schema draft 2020-12.

    Returns
    -------
    dict
    """
    return document_schema(AssessmentDocument, SCHEMA, title="Witnessmark: one answer")


def document_schema(document: type, name: str, *, title: str) -> Schema:
    """The schema of any document that is written as a TypedDict.

    Parameters
    ----------
    document : type
    name : str
        Its schema's name with version: "witnessmark/assessment/1".
    title : str

    Returns
    -------
    dict
    """
    found: dict[str, Schema] = {}
    body = _of(document, found)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:{name.replace('/', ':')}",
        "title": title,
        **body,
        "$defs": {kind: found[kind] for kind in sorted(found)},
    }


def schema_text() -> str:
    """The schema as it stands in its file."""
    return json.dumps(assessment_schema(), indent=2, ensure_ascii=False) + "\n"


def _of(hint: object, found: dict[str, Schema]) -> Schema:
    """The schema of one type; a document's own goes to the definitions."""
    origin = get_origin(hint)
    if origin is Annotated:
        inner, text = get_args(hint)[:2]
        return {**_of(inner, found), "description": text}
    if origin is NotRequired:
        return _of(get_args(hint)[0], found)
    if origin is Literal:
        return {"enum": list(get_args(hint))}
    if origin is list:
        return {"type": "array", "items": _of(get_args(hint)[0], found)}
    if origin is dict:
        return {"type": "object", "additionalProperties": _of(get_args(hint)[1], found)}
    if origin in (Union, types.UnionType):
        return {"anyOf": [_of(part, found) for part in get_args(hint)]}
    if isinstance(hint, type) and hint in _PLAIN:
        return {"type": _PLAIN[hint]}
    if isinstance(hint, type) and is_typeddict(hint):
        if hint.__name__ not in found:
            found[hint.__name__] = {}
            found[hint.__name__] = _document(hint, found)
        return {"$ref": f"#/$defs/{hint.__name__}"}
    raise TypeError(f"no schema for {hint!r}")


def _document(kind: type, found: dict[str, Schema]) -> Schema:
    hints = get_type_hints(kind, include_extras=True)
    required: frozenset[str] = getattr(kind, "__required_keys__", frozenset())
    optional = {name for name, hint in hints.items() if get_origin(hint) is NotRequired}
    schema: Schema = {"type": "object"}
    text = (kind.__doc__ or "").strip()
    if text and not text.startswith("dict("):
        schema["description"] = text
    schema["properties"] = {name: _of(hint, found) for name, hint in hints.items()}
    schema["required"] = [name for name in hints if name in required and name not in optional]
    return schema


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(schema_text(), encoding="utf-8")
