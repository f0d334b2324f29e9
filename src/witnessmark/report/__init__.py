"""An answer, written down: as one page, as plain text, as JSON. Each is loaded when it is first asked for."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.report.json import assessment_json
    from witnessmark.report.page import render_page
    from witnessmark.report.terminal import assessment_text, findings_text

__all__ = ["assessment_json", "assessment_text", "findings_text", "render_page"]

_HOMES = {"assessment_json": "json", "render_page": "page", "assessment_text": "terminal", "findings_text": "terminal"}


def __getattr__(name: str) -> Any:  # whatever stands in the table
    """What is named in ``__all__``, from where it is written."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
