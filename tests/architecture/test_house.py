"""The house itself: size of the files, the lock, the one script, the commands that the README promises."""

from __future__ import annotations

import ast
import os
import re
import sys
import tomllib
from pathlib import Path

import pytest

from tests.architecture.sources import ROOT, SRC
from witnessmark import units, vocabulary

LONGEST_FILE = 600  # lines; most should have about 200
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")
SCRIPT = (ROOT / "dev").read_text(encoding="utf-8")
SOURCE_FILES = [*SRC.rglob("*.py"), *(ROOT / "tests").rglob("*.py"), *(ROOT / "benchmarks").rglob("*.py")]


def canonical(requirement: str) -> str:
    """A distribution's name as the lock writes it."""
    return re.sub(r"[-_.]+", "-", re.split(r"[\s;<>=!~\[]", requirement, maxsplit=1)[0]).lower()


def test_no_file_is_too_long() -> None:
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in SOURCE_FILES}
    assert not {str(path.relative_to(ROOT)): n for path, n in lengths.items() if n > LONGEST_FILE}


def test_the_lock_names_no_address() -> None:
    assert not re.findall(r"\S*(?:://|@|file:|index-url|find-links)\S*", LOCK)


def test_everything_locked_has_its_digests() -> None:
    pinned = re.findall(r"^([\w.-]+)==\S+.*\n((?: +--hash=sha256:[0-9a-f]{64}(?: \\)?\n)*)", LOCK, re.MULTILINE)
    assert len(pinned) == len(re.findall(r"^[\w.-]+==", LOCK, re.MULTILINE)) > 0
    assert not [name for name, digests in pinned if not digests]


def test_the_lock_holds_all_that_the_project_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    asked = [
        *project["project"]["dependencies"],
        *(name for extra in project["project"].get("optional-dependencies", {}).values() for name in extra),
        *project["dependency-groups"]["dev"],
        *project["build-system"]["requires"],
    ]
    locked = {canonical(name) for name in re.findall(r"^([\w.-]+)==", LOCK, re.MULTILINE)}
    assert {canonical(name) for name in asked} <= locked


def test_the_script_needs_the_standard_library_only() -> None:
    tree = ast.parse(SCRIPT)
    names = {alias.name.split(".")[0] for n in ast.walk(tree) if isinstance(n, ast.Import) for alias in n.names}
    names |= {(n.module or "").split(".")[0] for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    assert names <= set(sys.stdlib_module_names)


@pytest.mark.skipif(os.name == "nt", reason="no execute bit there")
def test_the_script_can_be_started() -> None:
    assert os.access(ROOT / "dev", os.X_OK)


def test_the_readme_and_ci_name_commands_that_exist() -> None:
    namespace: dict[str, object] = {"__name__": "dev", "__file__": str(ROOT / "dev")}
    exec(compile(SCRIPT, "dev", "exec"), namespace)
    commands = {"setup", *namespace["COMMANDS"]}  # type: ignore[misc]
    texts = [(ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "CONTRIBUTING.md", ".ci/run")]
    named = {word for text in texts for word in re.findall(r"\./dev ([a-z]+)", text)}
    assert {"demo", "test", "check"} <= named <= commands


def test_the_conventions_name_every_unit_and_operating_state() -> None:
    text = (ROOT / "docs" / "conventions.md").read_text(encoding="utf-8")
    table = text.partition("## Units")[2].partition("## Doubt")[0]
    missing = [name for name in units._UNITS if not re.search(rf"(?<![\w/]){re.escape(name)}(?![\w/])", table)]
    assert not missing
    assert not [state for state in vocabulary.STATES if not re.search(rf"\b{state}\b", text)]


def test_the_licence_is_whole() -> None:
    text = (Path(ROOT) / "LICENSE").read_text(encoding="utf-8")
    assert "Apache License" in text
    assert "END OF TERMS AND CONDITIONS" in text
