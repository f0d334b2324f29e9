"""``witnessmark demo``: four made-up cases, laid out, examined, and shown in the browser."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from witnessmark.app.demo import Demonstration

__all__ = ["demo"]

FOLDER = "witnessmark-demo"
_EPILOG = """\b
For a look, and for a folder to try things in:
  witnessmark demo
  witnessmark demo --into ~/try --no-open
"""


@click.command("demo", epilog=_EPILOG)
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(FOLDER),
    metavar="DIR",
    help=f"Where the cases are laid out; ./{FOLDER} if left out. What is there already stays.",
)
@click.option("--port", type=click.IntRange(0, 65535), metavar="N", help="Port for the page; a free one if left out.")
@click.option("--no-open", is_flag=True, help="Write the pages and return; so it is anyway where there is no terminal.")
@click.option("--json", "as_json", is_flag=True, help="Write what was laid out as JSON, and return.")
def demo(into: Path, port: int | None, no_open: bool, as_json: bool) -> None:
    """Lay out the demonstration cases, examine them, open the page.

    An in-line four after a front seal was replaced: as it came in, and with the deciding test made. A sound drive on a
    vehicle with a complaint. And the first case again with little known of the engine.
    """
    from witnessmark.app.demo import lay_out_demo
    from witnessmark.cli.progress import ProgressLine

    with ProgressLine() as progress:
        laid_out = lay_out_demo(into, progress=progress)
    for case in laid_out.cases:
        for note in case.examined.notes:
            click.echo(f"witnessmark: {case.folder.name}: {note}", err=True)
    if as_json:
        click.echo(json.dumps(_document(laid_out), ensure_ascii=False, indent=2))
        return
    _tell(laid_out)
    if no_open or not sys.stdout.isatty():
        return
    from witnessmark.cli.show import show_folder

    show_folder(laid_out.folder, port=port or 0)


def _tell(laid_out: Demonstration) -> None:
    for case in laid_out.cases:
        verdict = case.examined.assessment.belief.verdict
        click.echo(f"{case.folder}: {verdict.kind}. {verdict.reason}")
    click.echo(f"Page: {laid_out.contents}")


def _document(laid_out: Demonstration) -> dict[str, object]:
    return {
        "schema": "witnessmark/demo/1",
        "folder": str(laid_out.folder),
        "page": str(laid_out.contents),
        "cases": [
            {
                "case": str(case.folder),
                "assessment": str(case.examined.kept),
                "page": str(case.examined.page) if case.examined.page is not None else None,
                "verdict": {
                    "kind": case.examined.assessment.belief.verdict.kind,
                    "reason": case.examined.assessment.belief.verdict.reason,
                },
            }
            for case in laid_out.cases
        ],
    }
