"""An answer as text: JSON for programs, a page for people, lines for the terminal. Each is loaded when asked for."""

from __future__ import annotations

import json
from pathlib import Path

from witnessmark.case.assessment import Assessment
from witnessmark.case.files import write_whole

__all__ = ["json_text", "page_html", "write_page", "write_text"]

PAGE = "page.html"


def json_text(assessment: Assessment) -> str:
    """The answer as JSON of schema ``witnessmark/assessment/1``, with a line's end.

    Parameters
    ----------
    assessment : Assessment
    """
    from witnessmark.report.json import assessment_json

    return json.dumps(assessment_json(assessment), ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def page_html(assessment: Assessment) -> str:
    """The answer as one self-contained page.

    Parameters
    ----------
    assessment : Assessment
    """
    from witnessmark.report.page import render_page

    return render_page(assessment)


def write_page(assessment: Assessment, path: Path) -> Path:
    """Write the page to a file, whole or not at all.

    Parameters
    ----------
    assessment : Assessment
    path : Path

    Raises
    ------
    StoreError
        If it cannot be kept.
    """
    return write_text(page_html(assessment), path)


def write_text(text: str, path: Path) -> Path:
    """Write text to a file, whole or not at all.

    Parameters
    ----------
    text : str
    path : Path

    Raises
    ------
    StoreError
        If it cannot be kept.
    """
    write_whole(path, text.encode("utf-8"))
    return path
