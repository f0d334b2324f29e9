"""Engines and states for the tests of what cylinders show, short to write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np

from tests.unit.predict.drives import model_of, new
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.engine.stateplaces import state_places
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect
from witnessmark.vocabulary import Condition, Place, Query

# The handbook's invented engine: bore and stroke 86 mm, rod 143 mm, ratio 10.5, 10/50 and 50/10 degrees.
HANDBOOK = engine_from_toml("""
name = "handbook four"
cylinders = 4
layout = "inline"
firing_order = [1, 3, 4, 2]
cams = ["intake", "exhaust"]
cylinder = {bore_mm = 86, stroke_mm = 86, rod_mm = 143, compression_ratio = 10.5, pin_offset_mm = 0}
[valves]
intake = {opens_before_deg = 10, shuts_after_deg = 50, lift_mm = 9.5, diameter_mm = 33, count = 2}
exhaust = {opens_before_deg = 50, shuts_after_deg = 10, lift_mm = 9.5, diameter_mm = 28, count = 2}
""")


STEADY = {"cylinder:cranking_inertia": 1e4}


@cache
def handbook() -> DriveModel:
    """The handbook's engine on the drive of the made-up four."""
    return DriveModel.of(replace(find_engine("made-up four"), breathing=HANDBOOK.breathing))


@cache
def bare() -> DriveModel:
    """An engine of which nothing is known but its number of cylinders."""
    return DriveModel.of(candidate_engines(Engine("bare", cylinders=4))[0].engine)


def ask(name: str, state: str | None = None, speed_rpm: float | None = None, **place: object) -> Query:
    """A query; parked, where it matters."""
    parked = "parked" if state not in (None, "off", "cranking") else None
    return Query(name, Place.of(**place), Condition(state, speed_rpm, phaser=parked))  # type: ignore[arg-type]


def tight(model: DriveModel) -> dict[tuple[str, str], float]:
    """Edits that leave no way out of any cylinder."""
    edits = {("ring_leak", place): 0.0 for place in state_places(model.engine, "cylinder")}
    return edits | {("valve_leak", place): 0.0 for place in state_places(model.engine, "valve")}


def look(
    query: Query,
    edits: Mapping[tuple[str, str], object] | None = None,
    model: DriveModel | None = None,
    assumed: Mapping[str, float] | None = None,
) -> float:
    """What one query reads on a new engine with some edits; the made-up four where no other is given.

    The handbook's engine has a flywheel without end and, cranked, 100 kPa in its plenum: so its figures are meant.
    """
    model = model or model_of()
    numbers = {**STEADY, "cylinder:plenum_kpa:cranking": 100.0} if model is handbook() else {}
    return float(expect(model, [query], new(model, edits), {**numbers, **(assumed or {})}).mean[0, 0])


def effect(query: Query, edits: Mapping[tuple[str, str], object], model: DriveModel | None = None) -> float:
    """Its value with the edits over its value without."""
    return look(query, edits, model) / look(query, None, model)


def moved(query: Query, edits: Mapping[tuple[str, str], object], model: DriveModel | None = None) -> float:
    """Its value with the edits less its value without."""
    return look(query, edits, model) - look(query, None, model)


def drawn(places: Mapping[tuple[str, str], tuple[float, float]], rows: int, seed: int = 1) -> State:
    """States with each variable drawn evenly between two bounds."""
    rng = np.random.default_rng(seed)
    return State({key: rng.uniform(low, high, rows) for key, (low, high) in places.items()})
