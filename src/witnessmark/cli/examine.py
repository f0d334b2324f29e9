"""``witnessmark examine``: a case, or readings typed by hand, in; causes, chances and the next test out."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

__all__ = ["examine", "terminal_width"]

PAGE_HERE = "witnessmark-page.html"
_USUAL_WIDTH, _WIDEST = 80, 100
_EPILOG = """\b
A case goes on from what is written in it:
  witnessmark examine late-cams        (the folder that holds case.toml)
\b
Readings alone are enough to begin:
  witnessmark examine --cylinders 4 \\
    --saw "cam_deviation bank=1 cam=intake -11" \\
    --saw "cam_deviation bank=1 cam=exhaust -11" \\
    --code P0016 --code P0017
"""


@click.command("examine", epilog=_EPILOG)
@click.argument("case", required=False, type=click.Path(path_type=Path))
@click.option("--cylinders", type=int, metavar="N", help="How many cylinders; enough where nothing else is known.")
@click.option("--engine", metavar="E", help="A described engine, by name or by its file.")
@click.option(
    "--saw",
    multiple=True,
    metavar="READING",
    help='What was read: "QUANTITY key=value … VALUE [unit] [±SD]". Once for each reading. An odd figure that was '
    'asked back and stands takes "checked" behind it.',
)
@click.option(
    "--code",
    "codes",
    multiple=True,
    metavar="CODE",
    help='A trouble code: "P0171", "P0171 status=pending", "P0017 set=no monitor_ran=yes".',
)
@click.option(
    "--ready",
    multiple=True,
    metavar="MONITORS",
    help='Which monitors have run since codes were cleared: "catalyst=complete evaporation=incomplete".',
)
@click.option("--known", multiple=True, metavar="FACTS", help='What else is known: "metering=air_meter km=187400".')
@click.option(
    "--did",
    multiple=True,
    metavar="WORK",
    help='What was done before: "fitted part=cam_sensor cured=no", "work part=crank_seal began=yes".',
)
@click.option("--when", multiple=True, metavar="WORDS", help='When the complaint shows: "cold load".')
@click.option(
    "--agreed",
    multiple=True,
    metavar="TERMS",
    help="What the owner agreed to, and what cannot be done here: "
    '"minutes=120 used_minutes=35 covers=plug_out without=leak_down"; the plan stays inside it.',
)
@click.option("--instead", default="", metavar="STEP", help="Price your own choice: a test or repair by its name.")
@click.option(
    "--think",
    type=click.FloatRange(0.0, 60.0),
    metavar="SECONDS",
    help="How long the planner may think: 2 looks much further than the usual tenth of a second.",
)
@click.option("--json", "as_json", is_flag=True, help="Write the answer as JSON to standard output, and nothing else.")
@click.option("--owner", "to_owner", is_flag=True, help="Write what the owner is told, and nothing else.")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Typed readings: make a case of them there. A case: write the page there.",
)
@click.option(
    "--list",
    "listing",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda ctx, _, asked: _list_quantities(ctx) if asked else None,
    help="List what can stand under --saw, with units and places.",
)
def examine(
    case: Path | None,
    cylinders: int | None,
    engine: str | None,
    saw: tuple[str, ...],
    codes: tuple[str, ...],
    ready: tuple[str, ...],
    known: tuple[str, ...],
    did: tuple[str, ...],
    when: tuple[str, ...],
    agreed: tuple[str, ...],
    instead: str,
    think: float | None,
    as_json: bool,
    to_owner: bool,
    into: Path | None,
) -> None:
    """Findings in, causes with their probability and the next test out.

    CASE is the folder of a case. Its recordings are measured, everything is weighed, and the answer is kept in the
    case. Without a case the readings are typed here.
    """
    from witnessmark.app.examine import Typed, Wish, examine_case, examine_typed
    from witnessmark.cli.progress import ProgressLine

    typed = Typed(saw, codes, known, did, when, cylinders, engine, ready=ready, agreed=agreed)
    wish = Wish(instead, think)
    _refuse_mixture(case, typed)
    if as_json and to_owner:
        raise click.UsageError("--json and --owner do not go together: the JSON holds both explanations.")
    with ProgressLine() as progress:
        if case is not None:
            found = examine_case(case, into=into, wish=wish, progress=progress)
        else:
            page = None if as_json or into is not None else Path(PAGE_HERE)
            found = examine_typed(typed, into=into, page=page, wish=wish, progress=progress)
    for note in found.notes:
        click.echo(f"witnessmark: {note}", err=True)
    if as_json:
        click.echo(found.json, nl=False)
        return
    from witnessmark.report.terminal import assessment_text, owner_text

    if to_owner:
        click.echo(owner_text(found.assessment, terminal_width()), nl=False)
        return
    click.echo(assessment_text(found.assessment, terminal_width()))
    for what, path in (("Kept", found.kept), ("Page", found.page)):
        if path is not None:
            click.echo(f"{what}: {path}")


def terminal_width() -> int:
    """Columns to write in."""
    return min(_WIDEST, shutil.get_terminal_size((_USUAL_WIDTH, 24)).columns)


def _list_quantities(ctx: click.Context) -> None:
    """The closed list, as lines that can be filled in."""
    from witnessmark.vocabulary import quantities

    for kind in quantities().values():
        place = " ".join([*(f"{key}=…" for key in kind.keys), *(f"[{key}=…]" for key in kind.optional)])
        unit = "" if kind.unit in ("", "-", "own") else f" in {kind.unit}"
        click.echo(f"{kind.name} {place}".rstrip() + unit)
    ctx.exit(0)


def _refuse_mixture(case: Path | None, typed: object) -> None:
    from witnessmark.app.examine import Typed

    anything = typed != Typed()
    if case is not None and anything:
        raise click.UsageError(f"A case and typed readings do not go together: write them into {case / 'case.toml'}.")
    if case is None and not anything:
        raise click.UsageError("Nothing to examine. Name a case, or type what was read: --cylinders 4 --saw …")
