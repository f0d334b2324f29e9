"""The command line's entry: which commands there are, and what happens when one cannot go on.

Nothing but click and the errors is imported before a command is asked for, so that ``--help`` answers at once.
"""

from __future__ import annotations

import gc
import os
import sys
from importlib import import_module
from typing import NamedTuple

import click

from witnessmark import __version__
from witnessmark.errors import WitnessmarkError, nearest

__all__ = ["COMMANDS", "Entry", "LazyGroup", "main", "witnessmark"]

# All matrices here are small: more threads than one wait for each other, twenty times as long on a busy machine.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Most of what a command makes lives until its end: looking for what does not, at every 700 things made, finds nothing.
_MADE_BETWEEN_LOOKS = 200_000

UNUSABLE_INPUT = 2
STOPPED_BY_HAND = 130


class Entry(NamedTuple):
    """Where a command lives, and its line in the list of commands.

    The module holds the command under the command's own name.
    """

    module: str
    line: str


COMMANDS: dict[str, Entry] = {
    "demo": Entry("witnessmark.cli.demo", "Lay out the demonstration cases, examine them, open the page."),
    "examine": Entry("witnessmark.cli.examine", "Findings in, causes with their probability and the next test out."),
    "measure": Entry("witnessmark.cli.measure", "What recordings and logs show, in the units of the engine."),
    "predict": Entry("witnessmark.cli.predict", "What every test would show, sound and with a fault."),
    "prepare": Entry(
        "witnessmark.cli.prepare", "Lay out an engine's predictions, so that its first reading is answered at once."
    ),
    "rehearse": Entry("witnessmark.cli.rehearse", "A recording and a picture of what a fault would look like."),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when asked for, never to list them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command; None if none is named so."""
        if cmd_name not in COMMANDS:
            return None
        command = getattr(import_module(COMMANDS[cmd_name].module), cmd_name)
        if not isinstance(command, click.Command):
            raise TypeError(f"{COMMANDS[cmd_name].module}.{cmd_name} is not a command")
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that the first word names; name the nearest one where there is none."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            near = nearest(args[0], COMMANDS)
            hint = f"Nearest: {near[0]}." if near else f"The commands are {', '.join(COMMANDS)}."
            ctx.fail(f"No command is called “{args[0]}”. {hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from the table: asking each for its own line would import them all."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.line) for name, entry in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="'witnessmark COMMAND --help' explains one command. With --json, standard output carries only the JSON.",
)
@click.version_option(__version__, "--version", message="witnessmark %(version)s")
@click.pass_context
def witnessmark(ctx: click.Context) -> None:
    """Find the one physical cause that predicts every number you measured, and the test to make next.

    For four-stroke spark-ignition engines. Four readings and a cylinder count are enough to begin.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave the process.

    Exit code 0 is an answer; 2 is input that cannot be used, said in one line on standard error.

    Parameters
    ----------
    arguments : list of str, optional
        The words after the program's name; the process's own if left out.
    """
    _never_fail_on_a_sign()
    sys.exit(_run(arguments))


def _run(arguments: list[str] | None) -> int:
    gc.set_threshold(_MADE_BETWEEN_LOOKS, *gc.get_threshold()[1:])
    try:
        code = witnessmark.main(args=arguments, prog_name="witnessmark", standalone_mode=False)
    except WitnessmarkError as error:
        return _refuse(str(error))
    except click.UsageError as error:
        return _refuse(_with_help(error))
    except click.ClickException as error:
        return _refuse(error.format_message())
    except (click.Abort, KeyboardInterrupt):
        _refuse("stopped")
        return STOPPED_BY_HAND
    return code if isinstance(code, int) else 0


def _with_help(error: click.UsageError) -> str:
    """One line where click would print three: what is wrong, and where the help is."""
    line = error.format_message()
    if error.ctx is None:
        return line
    return f"{line.rstrip()} See: {error.ctx.command_path} --help"


def _refuse(line: str) -> int:
    click.echo(f"witnessmark: {' '.join(line.split())}", err=True)
    return UNUSABLE_INPUT


def _never_fail_on_a_sign() -> None:
    """Let a terminal that cannot write ± or ° show a question mark instead of ending the answer."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
