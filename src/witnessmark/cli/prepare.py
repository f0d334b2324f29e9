"""``witnessmark prepare``: an engine's predictions laid out beforehand."""

from __future__ import annotations

import click

__all__ = ["prepare"]

_EPILOG = """\b
What is met most, once after installing (some minutes):
  witnessmark prepare
\b
Other engines that are often on the lift:
  witnessmark prepare --cylinders 6
  witnessmark prepare --engine "made-up v6 links"
"""


@click.command("prepare", epilog=_EPILOG)
@click.option("--cylinders", type=int, metavar="N", help="How many cylinders; 4 where nothing is said.")
@click.option("--engine", metavar="E", help="A described engine, by name or by its file.")
def prepare(cylinders: int | None, engine: str | None) -> None:
    """Lay out an engine's predictions, so that its first reading is answered at once.

    What is laid out is kept in the user's cache, as everything is that an answer works out: this only does it
    beforehand. Causes and their chances are the same with it and without.
    """
    from witnessmark.app.prepare import prepare as lay_out
    from witnessmark.cli.progress import ProgressLine

    with ProgressLine() as progress:
        count = lay_out(engine, cylinders, progress=progress)
    click.echo(f"Laid out: {count} engine{'s' if count > 1 else ''} that such readings are weighed on.")
