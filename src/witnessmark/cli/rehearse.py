"""``witnessmark rehearse``: a recording of what a fault would look like."""

from __future__ import annotations

import json
from pathlib import Path

import click

__all__ = ["rehearse"]

_EPILOG = """\b
See beforehand what a jumped chain would look like, or set somebody a puzzle:
  witnessmark rehearse "made-up four" --fault "chain_jumped mesh=primary.crank" --test scope_crank_cam --into try
  witnessmark rehearse "made-up four" --fault "wheel_slipped wheel=crank wheel_slip=9" --test scope_crank_cam \\
      --into puzzle --seed 7 --sealed
\b
The same late cam, seen by a pressure transducer in cylinder 2, and by the battery current:
  witnessmark rehearse "made-up four" --fault "chain_jumped mesh=primary.crank" --test incylinder_crank \\
      --cylinder 2 --into trace
  witnessmark rehearse "made-up four" --fault "chain_jumped mesh=primary.crank" --test current_compression --into amps
\b
Recorded can be: scope_crank_cam, current_compression, incylinder_crank, incylinder_run, incylinder_fired,
scope_actuators, scope_secondary, scope_charging, pulses. Logged can be: trims_at_speeds, air_readings, cold_to_hot,
road_recorder. Measure crank and cam like any other recording: witnessmark measure try/scope_crank_cam.csv
"""


@click.command("rehearse", epilog=_EPILOG)
@click.argument("engine", metavar="ENGINE")
@click.option("--fault", "faults", multiple=True, metavar="FAULT", help="A fault, its place, its sizes. More: again.")
@click.option("--test", "test", required=True, metavar="TEST", help="What is recorded or logged: see below.")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    metavar="DIR",
    help="Where the recording, its note and the picture go.",
)
@click.option(
    "--running",
    metavar="HOW",
    help="idle, cranking, raised, snap; for scope_crank_cam also overrun, run_up, stop, sweep. Left out: as usual.",
)
@click.option("--with", "instrument", metavar="TOOL", help="logic: changes of state of crank and cam; scope: samples.")
@click.option("--cylinder", type=click.IntRange(1), default=1, help="Which cylinder is looked at.")
@click.option("--rate", "rate_hz", type=float, metavar="HZ", help="Samples a second, 10000 to 2000000.")
@click.option("--seed", type=click.IntRange(0), default=1, help="Which vehicle of the kind, and which moment.")
@click.option("--sealed", is_flag=True, help="Keep the fault, and where edges belong, off the page.")
@click.option(
    "--json", "as_json", is_flag=True, help="Write what was done as JSON to standard output, and nothing else."
)
def rehearse(
    engine: str, faults: tuple[str, ...], test: str, into: Path, running: str | None, instrument: str | None,
    cylinder: int, rate_hz: float | None, seed: int, sealed: bool, as_json: bool,
) -> None:  # fmt: skip
    """A recording and a picture of what a fault would look like.

    ENGINE is a described engine, by name or by its file. The recording has in it what real ones have and measuring
    knows nothing of: teeth cut unevenly, cams that swing, valves of its own make, tubes that ring, clamps whose zero is
    off, values rounded as the standard rounds them.
    """
    from witnessmark.app.rehearse import rehearsal_json
    from witnessmark.app.rehearse import rehearse as compute
    from witnessmark.cli.progress import ProgressLine

    with ProgressLine() as progress:
        done = compute(
            engine, faults, test, into, running=running, instrument=instrument, cylinder=cylinder, rate_hz=rate_hz,
            seed=seed, sealed=sealed, progress=progress,
        )  # fmt: skip
    if as_json:
        click.echo(json.dumps(rehearsal_json(done, faults), ensure_ascii=False, indent=2))
        return
    click.echo(f"{done.recording}: the recording, with its note beside it.")
    click.echo(f"{done.page}: the picture.")
    for name, value in done.taken:
        click.echo(f"Not described, taken for granted: {name}, {value}.")
    click.echo("In it, as in real ones, and unknown to measuring:")
    for effect in done.left_out:
        click.echo(f"  {effect}")
