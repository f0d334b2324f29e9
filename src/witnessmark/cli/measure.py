"""``witnessmark measure``: recordings and logs in, findings out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from witnessmark.app.logpages import LogShown
    from witnessmark.app.measure import Measurements

__all__ = ["measure"]

_EPILOG = """\b
A scope recording, with a description and with the wheel found from the recording alone:
  witnessmark measure idle.csv --engine "made-up four"
  witnessmark measure cranking.csv
A log of what the computer said; its page with pictures is written where you are, as drive.html:
  witnessmark measure drive.csv --cylinders 4 --known litres=1.5
  witnessmark measure drive.csv --cylinders 4 --column "T_liq=coolant unit=F"
\b
What a file does not say stands in a note beside it, NAME.csv.toml: units, channels, which edge, condition.
"""


@click.command("measure", epilog=_EPILOG)
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING…", type=click.Path(path_type=Path))
@click.option(
    "--engine", metavar="E", help="A described engine, by name or by its file. Without one, known wheels are tried."
)
@click.option("--cylinders", type=click.IntRange(1, 16), metavar="N", help="Enough of an engine for a log.")
@click.option("--known", multiple=True, metavar="FACTS", help="What else is known: “litres=1.5 metering=air_meter”.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="HEADING=WHAT",
    help="What a column of a log is: “T_liq=coolant unit=F”, “note=nothing”. Remembered for the next log like it.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Write what was found as JSON to standard output, and nothing else."
)
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the JSON there, as measurement.json, and the page of each log.",
)
def measure(
    recordings: tuple[Path, ...],
    engine: str | None,
    cylinders: int | None,
    known: tuple[str, ...],
    columns: tuple[str, ...],
    as_json: bool,
    into: Path | None,
) -> None:
    """What recordings and logs show, in the units of the engine.

    Of crank and cam sensors: speed, missing and extra edges, and every cam edge in crank degrees. Against top dead
    centre only where the engine's description says where the wheel stands; else against the wheel, and it says what
    would settle it. Of a log: each operating state beside what a sound engine would show, as a page with pictures.
    """
    from witnessmark.app.answer import write_text
    from witnessmark.app.logcolumns import answers_said
    from witnessmark.app.measure import measure_recordings
    from witnessmark.app.measuredjson import measurements_json
    from witnessmark.cli.progress import ProgressLine

    answers = answers_said(columns)
    with ProgressLine() as progress:
        found = measure_recordings(
            recordings, engine=engine, cylinders=cylinders, known=known, columns=answers, progress=progress
        )
    text = json.dumps(measurements_json(found), ensure_ascii=False, allow_nan=False, indent=2) + "\n"
    if into is not None:
        path = write_text(text, into / "measurement.json")
        click.echo(f"witnessmark: written: {path}", err=True)
    logs = _logs(found, wanted=not as_json or into is not None)
    if logs and (into is not None or not as_json):
        _draw(logs, into or Path.cwd())
    if as_json:
        click.echo(text, nl=False)
        return
    _tell(found, logs)


def _logs(found: Measurements, *, wanted: bool) -> dict[int, LogShown]:
    """What sound engines would show is worked out only where somebody will see it."""
    if not (found.logs and wanted):
        return {}
    from witnessmark.app.logpages import shown

    return shown(found)


def _draw(logs: dict[int, LogShown], into: Path) -> None:
    from witnessmark.app.logpages import write_log_pages

    for path in write_log_pages(logs.values(), into):
        click.echo(f"witnessmark: drawn: {path}", err=True)


def _tell(found: Measurements, logs: dict[int, LogShown]) -> None:
    from witnessmark.cli.examine import terminal_width
    from witnessmark.report.terminal import findings_text

    for number, one in enumerate(found.each):
        if len(found.each) > 1:
            click.echo(f"{one.name}\n{'=' * len(one.name)}")
        if number in logs:
            from witnessmark.app.logpages import log_words

            click.echo(log_words(logs[number], terminal_width()))
            continue
        for name, role, reason in one.channels:
            click.echo(f"{name}: {role}. {reason}.")
        click.echo(findings_text(one.findings, one.not_measured, terminal_width(), found.engine))
        for note in one.notes:
            click.echo(note)
