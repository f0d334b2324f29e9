"""Drives and states for the tests of predictions, short to write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np

from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.library import find_engine
from witnessmark.engine.number import Number
from witnessmark.engine.state import State
from witnessmark.engine.types import Camshaft, Engine, Reporting
from witnessmark.predict import DriveModel, expect
from witnessmark.vocabulary import Condition, Place, Query

PARKED = Condition("idle", phaser="parked")
MOVED = Condition("idle", phaser="moved")
EX, IN = "b1.exhaust", "b1.intake"


@cache
def model_of(name: str = "made-up four", **reporting: object) -> DriveModel:
    """A shipped (invented) engine, laid out; its reporting changed where said."""
    engine = find_engine(name)
    return DriveModel.of(replace(engine, reporting=replace(engine.reporting, **reporting)))


def exact_sprocket(shaft: str, teeth: int, tight_mm: float | None = None) -> Sprocket:
    tight = Number.exactly(tight_mm) if tight_mm is not None else Number()
    return Sprocket(shaft, Number.exactly(teeth), tight)


@cache
def three_stages() -> DriveModel:
    """The handbook's row: crank 24 -> 36 | 28 -> 32 | 36 -> cam 42."""
    pitch = Number.exactly(8.0)
    stages = tuple(
        Stage(name, "chain", exact_sprocket(a, n), (exact_sprocket(b, m, 200.0),), pitch)
        for name, a, n, b, m in (
            ("one", CRANK, 24, "idler_1", 36),
            ("two", "idler_1", 28, "idler_2", 32),
            ("three", "idler_2", 36, "b1.single", 42),
        )
    )
    reporting = Reporting(sign=Number.exactly(1.0), learns=False)
    return DriveModel.of(
        Engine("three stages", 4, cams=(Camshaft(1, "single"),), drive=TimingDrive(stages), reporting=reporting)
    )


def new(model: DriveModel, edits: Mapping[tuple[str, str], object] | None = None) -> State:
    """A factory-new engine (no wear, no play: healthy ones have a little), with some edits."""
    drive = model.engine.drive
    assert drive is not None
    bare: dict[tuple[str, str], object] = {}
    for stage in drive.stages:
        bare |= {("elongation", stage.id): 0.0, ("guide_wear", stage.id): 0.0, ("slack", stage.id): 0.0}
    for cam in model.engine.cams:
        bare[("phaser_lock_play", cam.id)] = 0.0
    return State({**bare, **(edits or {})})  # type: ignore[arg-type]


def asked(name: str, condition: Condition = PARKED, **place: object) -> Query:
    return Query(name, Place.of(**place), condition)  # type: ignore[arg-type]


def read(model: DriveModel, query: Query, state: State, numbers: Mapping[str, float] | None = None) -> float:
    """What one query should read."""
    return float(expect(model, [query], state, numbers).mean[0, 0])


def both_cams(model: DriveModel, state: State, name: str = "cam_phase_error") -> tuple[float, float]:
    """Exhaust, then intake of bank 1."""
    found = expect(model, [asked(name, bank=1, cam=c) for c in ("exhaust", "intake")], state).mean[0]
    return float(found[0]), float(found[1])


def array(*values: float) -> np.ndarray:
    return np.array(values, dtype=float)
