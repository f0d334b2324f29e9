"""The floors and walls of ARCHITECTURE.md: who may import whom."""

from __future__ import annotations

import pytest

from tests.architecture.sources import PACKAGE, Module, imports, read_modules

# Ground floor: single modules, each importing only those before it.
GROUND = ("errors", "units", "source", "estimate", "vocabulary", "finding")

# The floors above it, lowest first. Some stand empty still; their place is known.
FLOORS = (
    ("signal", "engine", "recording"),
    ("physics", "decode", "catalogue"),
    ("measure", "predict", "link"),
    ("infer", "simulate"),
    ("plan", "proof"),
    ("case",),
    ("report",),
    ("app",),
    ("web", "batch"),
    ("cli",),
)
FLOOR = dict.fromkeys(GROUND, 0) | {name: i for i, row in enumerate(FLOORS, start=1) for name in row}

# Walls: what would be allowed by height, and is not.
WALLS = {
    "physics": ("recording",),
    "measure": ("catalogue",),
    "predict": ("catalogue",),
}
DOORS = ("cli", "web", "batch")
BENEATH_DOORS = ("app", "report", *GROUND)  # parse, call app, render
OF_CODES = ("codes", "codecircuit", "codenames", "codeparts", "codethreshold", "codeunpredicted")
GATES = {(f"predict.{name}", "catalogue.codes") for name in OF_CODES}  # which codes a state would set

# Walls against libraries.
ONLY_AT_THE_EDGES = "pydantic"  # files and requests
PYDANTIC_ALLOWED = ("engine", "recording", "catalogue", "link", "case", "report", "app", *DOORS)
NOT_IN_DOORS = ("scipy", "numba", "sqlite3", "sqlalchemy", "duckdb")
SCIPY_ALLOWED = "scipy.special"  # the rest takes a second or more to import


def violations(module: Module) -> list[str]:
    """Every import of one module that breaks a floor or a wall, in words."""
    if module.top == "testing":
        return []
    if module.top and module.top != "__main__" and module.top not in FLOOR:
        return [f"{module.name} stands on no floor: add it to the plan or move it"]
    found = []
    for target, line in imports(module):
        reason = _inside(module, target) if target.split(".")[0] == PACKAGE else _outside(module, target)
        if reason:
            found.append(f"{module.name}:{line} imports {target}: {reason}")
    return found


def _inside(module: Module, target: str) -> str | None:
    parts = target.split(".")[1:]
    if not module.parts:
        return "the root imports nothing"
    top = parts[0] if parts else ""
    if top.startswith("__") or top == module.top:
        return None
    if top == "testing":
        return "nothing imports testing"
    if module.top == "__main__":
        return None if top == "cli" else "__main__ starts the command line and no more"
    if top not in FLOOR:
        return "it stands on no floor"
    return _by_height(module.top, top) or _by_wall(module, parts)


def _by_height(here: str, there: str) -> str | None:
    if here in GROUND and there in GROUND:
        return None if GROUND.index(there) < GROUND.index(here) else "it comes later on the ground floor"
    if FLOOR[there] > FLOOR[here]:
        return "it lies on a higher floor"
    if FLOOR[there] == FLOOR[here]:
        return "neighbours on one floor do not import each other"
    return None


def _by_wall(module: Module, parts: list[str]) -> str | None:
    here, there = module.top, parts[0]
    if there in WALLS.get(here, ()):
        gate = (".".join(module.parts), ".".join(parts[:2]))
        return None if gate in GATES else "a wall stands between them"
    if here in DOORS and there not in (*BENEATH_DOORS, *DOORS):
        return "a door parses, calls app and renders"
    return None


def _outside(module: Module, target: str) -> str | None:
    library = target.split(".")[0]
    if library == ONLY_AT_THE_EDGES and module.top not in PYDANTIC_ALLOWED:
        return "pydantic is for files and requests; inside are frozen dataclasses"
    if module.top in DOORS and library in NOT_IN_DOORS:
        return "doors hold no physics and no SQL"
    if library == "scipy" and not f"{target}.".startswith(f"{SCIPY_ALLOWED}."):
        return "only scipy.special is quick enough to import"
    return None


def test_every_import_points_downward() -> None:
    broken = [line for module in read_modules() for line in violations(module)]
    assert not broken, "\n".join(broken)


def test_there_are_modules_to_look_at() -> None:
    names = {module.name for module in read_modules()}
    assert {f"{PACKAGE}.{name}" for name in GROUND} <= names
    assert f"{PACKAGE}.cli.main" in names


# ---------------------------------------------------------------- the test, tested


def broken(name: str, source: str, *, is_package: bool = False) -> bool:
    return bool(violations(Module(f"{PACKAGE}.{name}" if name else PACKAGE, is_package, source)))


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("units", "from witnessmark.finding import Finding"),
        ("errors", "import witnessmark.units"),
        ("estimate", "from witnessmark.vocabulary import Place"),
        ("finding", "from witnessmark.engine import Engine"),
        ("signal.edges", "from witnessmark.decode.wheel import lock"),
        ("signal.edges", "from witnessmark.recording.types import Trace"),
        ("engine.types", "from witnessmark import recording"),
        ("engine.types", "def f():\n    from witnessmark.infer import belief"),
        (
            "engine.types",
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from witnessmark.physics import chain",
        ),
        ("physics.chain", "from witnessmark.recording import Trace"),
        ("physics.chain", "from witnessmark.decode import wheel"),
        ("decode.wheel", "import witnessmark.catalogue.codes as codes"),
        ("measure.timing", "from witnessmark.catalogue import faults"),
        ("measure.run", "from witnessmark.predict import run"),
        ("measure.run", "TABLE = {'timing': 'witnessmark.predict.timing'}"),
        ("predict.timing", "from witnessmark.catalogue.codes import CODES"),
        ("predict.codes", "from witnessmark.catalogue.faults import FAULTS"),
        ("predict.codes", "from witnessmark.catalogue import faults"),
        ("infer.belief", "from witnessmark.simulate import world"),
        ("simulate.world", "from witnessmark.infer import belief"),
        ("plan.next", "from witnessmark.proof import compare"),
        ("case.store", "from ..report import document"),
        ("report", "from . import render\nfrom ..app import open"),
        ("app.diagnose", "from witnessmark.cli import main"),
        ("cli.examine", "from witnessmark.physics import chain"),
        ("cli.examine", "from witnessmark.infer import belief"),
        ("cli.examine", "import sqlite3"),
        ("web.pages.case", "from witnessmark.predict import run"),
        ("web.pages.case", "from witnessmark.batch import jobs"),
        ("batch.jobs", "from sqlalchemy import select"),
        ("infer.belief", "from pydantic import BaseModel"),
        ("physics.valves", "import scipy.stats"),
        ("physics.valves", "from scipy import signal"),
        ("physics.valves", "import scipy"),
        ("app.open", "from witnessmark.testing import strategies"),
        ("helpers.various", "import math"),
        ("engine.types", "from witnessmark.helpers import various"),
        ("__main__", "from witnessmark.app import open"),
        ("", "from witnessmark.errors import WitnessmarkError"),
    ],
)
def test_a_violation_is_caught(name: str, source: str) -> None:
    is_package = name in ("", "report")
    assert broken(name, source, is_package=is_package)


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("finding", "from witnessmark.errors import InputError\nfrom witnessmark.vocabulary import Place"),
        ("signal.edges", "from witnessmark.errors import InputError\nimport numpy as np"),
        ("engine.types", "from witnessmark.engine.number import Number\nfrom pydantic import BaseModel"),
        ("physics.chain", "from witnessmark.engine import Engine\nfrom scipy.special import erf"),
        ("decode.wheel", "from witnessmark.signal import edges"),
        ("measure.timing", "from witnessmark.recording import Trace\nfrom witnessmark.decode import wheel"),
        ("predict.codes", "from witnessmark.catalogue.codes import CODES"),
        ("predict.codes", "from witnessmark.catalogue import codes"),
        ("infer.belief", "from witnessmark.catalogue import faults\nfrom scipy import special"),
        ("simulate.world", "from witnessmark.physics import chain"),
        ("app.diagnose", "from witnessmark.infer import belief\nfrom witnessmark.report import document"),
        ("cli.main", "from witnessmark import __version__\nTABLE = 'witnessmark.cli.demo'"),
        ("cli.serve", "from witnessmark.web import server\nfrom witnessmark.app import open"),
        ("testing.strategies", "from witnessmark.cli import main"),
        ("__main__", "from witnessmark.cli.main import main"),
        ("errors", '"""Nothing is imported by words such as witnessmark.finding in a sentence."""'),
    ],
)
def test_what_is_allowed_passes(name: str, source: str) -> None:
    assert not broken(name, source)
