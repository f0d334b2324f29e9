"""The command line's entry: lists, refuses in one line, and never leaves a traceback for what a person typed."""

from __future__ import annotations

import subprocess
import sys
from types import ModuleType

import click
import pytest

from witnessmark import __version__
from witnessmark.cli import main as entry
from witnessmark.errors import FormatError


@pytest.fixture
def try_command(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """A module that holds the command ``measure`` for the time of one test; a test puts the command in."""
    module = ModuleType("witnessmark.cli.of_the_test")
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setitem(entry.COMMANDS, "measure", entry.Entry(module.__name__, "Nothing."))
    return module


def ran(arguments: list[str]) -> int:
    with pytest.raises(SystemExit) as left:
        entry.main(arguments)
    return int(left.value.code or 0)


def raising(error: BaseException) -> click.Command:
    def body() -> None:
        raise error

    return click.Command("measure", callback=body)


def test_help_lists_the_commands_in_the_order_of_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(["--help"]) == 0
    printed = capsys.readouterr().out
    places = [printed.index(f"  {name} ") for name in entry.COMMANDS]
    assert places == sorted(places)


def test_without_a_word_it_says_what_it_can_do(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran([]) == 0
    assert "Commands:" in capsys.readouterr().out


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(["--version"]) == 0
    assert capsys.readouterr().out.strip() == f"witnessmark {__version__}"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["exmine"], "No command is called “exmine”. Nearest: examine. See: witnessmark --help"),
        (
            ["qq"],
            "No command is called “qq”. The commands are demo, examine, measure, predict, prepare, rehearse."
            " See: witnessmark --help",
        ),
        (["--versoin"], "No such option '--versoin'. Did you mean '--version'? See: witnessmark --help"),
    ],
)
def test_a_wrong_word_is_one_line(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == f"witnessmark: {said}\n"


def test_unusable_input_is_one_line_and_exit_2(try_command: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    error = FormatError("holds no\nnumbers", where="crank.csv", expected="time and level", todo="Export it again")
    try_command.measure = raising(error)
    assert ran(["measure"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == ("witnessmark: crank.csv: holds no numbers. Expected time and level. Export it again.\n")


def test_a_command_is_given_its_words(try_command: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    @click.command("measure")
    @click.argument("recording")
    @click.option("--json", "as_json", is_flag=True)
    def measure(recording: str, as_json: bool) -> None:
        click.echo(f"{recording} {as_json}")

    try_command.measure = measure
    assert ran(["measure", "crank.csv", "--json"]) == 0
    assert capsys.readouterr().out == "crank.csv True\n"
    assert ran(["measure"]) == 2
    assert capsys.readouterr().err == ("witnessmark: Missing argument 'RECORDING'. See: witnessmark measure --help\n")


def test_a_stop_by_hand_leaves_no_traceback(try_command: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    try_command.measure = raising(KeyboardInterrupt())
    assert ran(["measure"]) == 130
    assert capsys.readouterr().err.strip() == "witnessmark: stopped"


def test_an_error_of_the_program_is_not_hidden(try_command: ModuleType) -> None:
    try_command.measure = raising(ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        entry.main(["measure"])


def test_a_reader_that_leaves_early_is_met_with_silence() -> None:
    """As with ``witnessmark ... | head -1``: the pipe is shut before anything is written."""
    script = (
        "import os, sys; from witnessmark.cli.main import main; r, w = os.pipe(); os.dup2(w, 1); os.close(w);"
        "os.close(r); main(['--help'])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.stderr == ""
