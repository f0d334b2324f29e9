"""A page that lists cases, each with a line on where it stands and a way to its own page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

__all__ = ["ContentsRow", "contents_html"]


@dataclass(frozen=True, slots=True)
class ContentsRow:
    """One case: its title, what it shows, where it stands, and its page (relative to the list; empty for none)."""

    title: str
    shows: str
    stands: str
    link: str


def contents_html(rows: Sequence[ContentsRow]) -> str:
    """The page as one file: nothing is fetched, no script is needed.

    Parameters
    ----------
    rows : sequence of ContentsRow

    Returns
    -------
    str
    """
    from witnessmark.report.tokens import stylesheet

    listed = "\n".join(_entry(row) for row in rows)
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="color-scheme" content="light dark">
<meta name="viewport" content="width=device-width,initial-scale=1">
<title>Demonstration · Witnessmark</title>
<style>{stylesheet()}</style>
</head>
<body>
<div class="sheet">
<header>
<div class="brand"><span>Witnessmark</span></div>
<h1>Demonstration</h1>
<p class="stand">Nobody owns these vehicles. Stories, engine and recordings are made up; the reasoning is not.</p>
</header>
<main>
{listed}
</main>
</div>
</body>
</html>
"""


def _entry(row: ContentsRow) -> str:
    title = escape(row.title)
    heading = f'<a href="{escape(row.link, quote=True)}">{title}</a>' if row.link else title
    stands = f"<p>{escape(row.stands)}</p>\n" if row.stands else ""
    return f'<section>\n<h2>{heading}</h2>\n<p class="lab">{escape(row.shows)}</p>\n{stands}</section>'
