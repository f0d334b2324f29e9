"""``witnessmark predict``: what every test would show."""

from __future__ import annotations

import json
import sys
from contextlib import nullcontext
from pathlib import Path

import click

__all__ = ["predict"]

_EPILOG = """\b
Sound, with one fault, and with two at once:
  witnessmark predict "made-up four"
  witnessmark predict "made-up four" --fault "wheel_slipped wheel=crank wheel_slip=-11"
  witnessmark predict "made-up four" --fault "chain_jumped mesh=primary.crank" --fault "gap_wide sensor=crank"
\b
One test, whole:
  witnessmark predict "made-up four" --fault "coil_weak cylinder=3" --test misfires_read
\b
What can be written:
  witnessmark predict "made-up four" --faults
\b
A size that is left out is taken in the middle of its range, and said so.
"""


@click.command("predict", epilog=_EPILOG)
@click.argument("engine", metavar="ENGINE")
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="FAULT",
    help='A fault of the catalogue, its place, its sizes: "wheel_slipped wheel=crank wheel_slip=11". Repeat for more.',
)
@click.option(
    "--test",
    "tests",
    multiple=True,
    metavar="TEST",
    help="Everything of this test, by the name in its brackets, and no other. Repeat for more.",
)
@click.option("--all", "everything", is_flag=True, help="Also what the fault leaves where it was.")
@click.option("--faults", "list_faults", is_flag=True, help="List every fault as it can be written on this engine.")
@click.option("--json", "as_json", is_flag=True, help="Write it as JSON to standard output, and nothing else.")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the JSON there too, as prediction.json.",
)
def predict(
    engine: str,
    faults: tuple[str, ...],
    tests: tuple[str, ...],
    everything: bool,
    list_faults: bool,
    as_json: bool,
    into: Path | None,
) -> None:
    """What every test would show, sound and with a fault.

    With a fault, only the readings it moves beyond the spread of sound engines are listed, and those left out counted;
    the JSON has them all.

    ENGINE is a described engine, by name or by its file. Marks and counts of pins are among what is shown; of codes the
    chance that they are set once their monitor ran.
    """
    from witnessmark.app.answer import write_text
    from witnessmark.app.predicted import kind_of_engine, predicted, prediction_json
    from witnessmark.cli.examine import terminal_width
    from witnessmark.cli.progress import ProgressLine

    if list_faults:
        from witnessmark.report.faultlist import fault_list_text

        click.echo(fault_list_text(kind_of_engine(engine), terminal_width()), nl=False)
        return

    with ProgressLine() if sys.stderr.isatty() else nullcontext(lambda words: None) as progress:
        found = predicted(engine, faults, tests, progress=progress)
    text = json.dumps(prediction_json(found), ensure_ascii=False, allow_nan=False, indent=2) + "\n"
    if into is not None:
        path = write_text(text, into / "prediction.json")
        click.echo(f"witnessmark: written: {path}", err=True)
    if as_json:
        click.echo(text, nl=False)
        return
    from witnessmark.report.predicted import prediction_text

    click.echo(prediction_text(found, terminal_width(), everything=everything or bool(tests)), nl=False)
