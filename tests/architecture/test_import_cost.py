"""What starting up may load. Seconds are measured in benchmarks/; here only what is imported."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

import click
import pytest

from witnessmark.cli.main import COMMANDS

# Import times on the machine this was designed on: numpy 170 ms, pydantic 66, rich 100, numba 380, scipy 230.
HEAVY = {"numpy", "scipy", "numba", "pydantic", "rich", "jinja2", "tomlkit", "sqlalchemy", "fastapi", "matplotlib"}
TYPED_EXAMPLE = [
    "examine",
    "--cylinders=4",
    "--saw=cam_deviation bank=1 cam=intake -11",
    "--saw=cam_deviation bank=1 cam=exhaust -11",
    "--code=P0016",
    "--code=P0017",
    "--json",
]


def imported_by(arguments: list[str], folder: Path) -> tuple[set[str], subprocess.CompletedProcess[str]]:
    """Dotted names that a whole process of the program imports, and how it ended."""
    command = [sys.executable, "-X", "importtime", "-m", "witnessmark", *arguments]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False)
    lines = [line for line in done.stderr.splitlines() if line.startswith("import time:")]
    return {line.rsplit("|", 1)[1].strip() for line in lines}, done


def libraries(names: set[str]) -> set[str]:
    return {name.split(".")[0] for name in names}


def command_exists(name: str) -> bool:
    return find_spec(COMMANDS[name].module) is not None


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], []], ids=str)
def test_the_entry_loads_nothing_heavy(arguments: list[str], tmp_path: Path) -> None:
    names, done = imported_by(arguments, tmp_path)
    assert done.returncode == 0
    assert "click" in names
    assert not libraries(names) & HEAVY
    assert not [name for name in names if name.startswith("witnessmark.cli.") and name != "witnessmark.cli.main"]


def test_a_command_that_does_not_exist_loads_nothing_heavy(tmp_path: Path) -> None:
    names, done = imported_by(["examin"], tmp_path)
    assert done.returncode == 2
    assert not libraries(names) & HEAVY


@pytest.mark.skipif(not command_exists("examine"), reason="the command examine is not written yet")
def test_typed_examine_keeps_the_compiler_out(tmp_path: Path) -> None:
    """Once an engine's tables are kept: making them is what the compiler is for."""
    imported_by([*TYPED_EXAMPLE, f"--into={tmp_path / 'first'}"], tmp_path)
    names, done = imported_by([*TYPED_EXAMPLE, f"--into={tmp_path / 'again'}"], tmp_path)
    assert done.returncode == 0, done.stderr[-2000:]
    assert "numpy" in names
    assert not {"numba", "llvmlite", "matplotlib", "scipy"} & libraries(names)
    assert not [name for name in names if name.startswith("witnessmark.measure.")]  # no recording is there to measure


def test_typed_examine_that_keeps_nothing_loads_what_it_needs(tmp_path: Path) -> None:
    """Without a case there is no file to read or write: no pydantic; nothing is laid out anew: no pool of threads."""
    imported_by(TYPED_EXAMPLE, tmp_path)
    names, done = imported_by(TYPED_EXAMPLE, tmp_path)
    assert done.returncode == 0, done.stderr[-2000:]
    assert "numpy" in names
    assert not {"pydantic", "rich", "jinja2", "tomlkit", "concurrent", "logging"} & libraries(names)


def test_an_answer_from_kept_predictions_does_not_load_what_predicts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the rules say of a reading beside its value is kept with the predictions."""
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    trim = ["examine", "--cylinders=4", "--known=metering=air_meter", "--saw=fuel_trim bank=1 state=idle 24", "--json"]
    imported_by(trim, tmp_path)
    names, done = imported_by(trim, tmp_path)
    assert done.returncode == 0, done.stderr[-2000:]
    heavy = {
        "physics.operating",
        "physics.network",
        "physics.gaspath",
        "predict.air",
        "predict.trims",
        "predict.charge",
    }
    assert not {f"witnessmark.{name}" for name in heavy} & names


@pytest.mark.parametrize("name", COMMANDS)
def test_the_table_of_commands_tells_the_truth(name: str) -> None:
    """The list of commands is printed from a table, unseen by the commands; so the table is held against them here."""
    if not command_exists(name):
        pytest.skip(f"the command {name} is not written yet")
    command = getattr(import_module(COMMANDS[name].module), name)
    assert isinstance(command, click.Command)
    assert command.name == name
    assert command.get_short_help_str(limit=200).rstrip(".") == COMMANDS[name].line.rstrip(".")
