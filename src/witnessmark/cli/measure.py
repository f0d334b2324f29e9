"""``witnessmark measure``: recordings in, findings out."""

from __future__ import annotations

import json
from pathlib import Path

import click

__all__ = ["measure"]

_EPILOG = """\b
With a description, and with the wheel found from the recording alone:
  witnessmark measure idle.csv --engine "made-up four"
  witnessmark measure cranking.csv
\b
What a file does not say stands in a note beside it, NAME.csv.toml: units, channels, which edge, condition.
"""


@click.command("measure", epilog=_EPILOG)
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING…", type=click.Path(path_type=Path))
@click.option(
    "--engine", metavar="E", help="A described engine, by name or by its file. Without one, known wheels are tried."
)
@click.option(
    "--json", "as_json", is_flag=True, help="Write what was found as JSON to standard output, and nothing else."
)
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the JSON there too, as measurement.json.",
)
def measure(recordings: tuple[Path, ...], engine: str | None, as_json: bool, into: Path | None) -> None:
    """What recordings show, in the units of the engine.

    Speed, missing and extra edges, and every cam edge in crank degrees. Against top dead centre only where the engine's
    description says where the wheel stands; else against the wheel, and it says what would settle it.
    """
    from witnessmark.app.answer import write_text
    from witnessmark.app.measure import measure_recordings, measurements_json
    from witnessmark.cli.progress import ProgressLine

    with ProgressLine() as progress:
        found = measure_recordings(recordings, engine=engine, progress=progress)
    text = json.dumps(measurements_json(found), ensure_ascii=False, allow_nan=False, indent=2) + "\n"
    if into is not None:
        path = write_text(text, into / "measurement.json")
        click.echo(f"witnessmark: written: {path}", err=True)
    if as_json:
        click.echo(text, nl=False)
        return
    from witnessmark.cli.examine import terminal_width
    from witnessmark.report.terminal import findings_text

    for one in found.each:
        if len(found.each) > 1:
            click.echo(f"{one.name}\n{'=' * len(one.name)}")
        for name, role, reason in one.channels:
            click.echo(f"{name}: {role}. {reason}.")
        click.echo(findings_text(one.findings, one.not_measured, terminal_width(), found.engine))
        for note in one.notes:
            click.echo(note)
