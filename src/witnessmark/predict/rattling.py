"""How long a drive rattles after the first start of the day (docs/physics.md, "rattle")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.oil import in_the_engine, pump_share
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import ambient_c, weather
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

_FILLS_S = 2.0  # until a sound pump has filled gallery, tensioner and phasers at 20 °C; our guess
_SLACK_MM, _PLAY_DEG = 3.0, 3.0  # that let two thirds of that time be heard; our guess
_THICK, _POWER = 0.17, 0.2  # Pa s at 20 °C, and how the time grows with the oil's thickness; our guess
_STARTED_RPM = 1000.0
_LONGEST_S = 30.0


def _seconds(batch: Batch, query: Query) -> Values:
    """Heard while there is no oil yet, as far as chain or lock leave room to move."""
    engine = batch.model.engine
    room = np.zeros(batch.rows)
    assert engine.drive is not None
    for stage in engine.drive.stages:
        if stage.kind == "chain":
            room = np.maximum(room, np.maximum(batch.column("slack", stage.id), 0.0) / _SLACK_MM)
    for cam in engine.cams:
        if engine.drive.phaser(cam.id) is not None:
            room = room + np.maximum(batch.column("phaser_lock_play", cam.id), 0.0) / _PLAY_DEG
    free = 1.0 - np.clip(batch.column("restriction", "gallery"), 0.0, 0.95)
    flow = np.maximum(pump_share(batch, _STARTED_RPM), 0.05) * free
    celsius = ambient_c(batch) if query.condition.coolant_c is None else query.condition.coolant_c
    thick = np.asarray(in_the_engine(batch, np.clip(celsius, -40.0, 150.0))) / _THICK
    fills = _FILLS_S * thick**_POWER / flow
    return np.asarray(np.minimum(fills * (1.0 - np.exp(-room)), _LONGEST_S))


def _no_drive(model: DriveModel, query: Query) -> str | None:
    return None if model.engine.drive is not None else "nothing is known of the timing drive"


def _of_rattle(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    engine = model.engine
    assert engine.drive is not None
    for stage in engine.drive.stages:
        if stage.kind == "chain":
            yield Nuisance("slack", stage.id, *healthy_of("slack", stage.id))
    for cam in engine.cams:
        if engine.drive.phaser(cam.id) is not None:
            yield Nuisance("phaser_lock_play", cam.id, *healthy_of("phaser_lock_play", cam.id))
    for name in ("oil_supply", "oil_viscosity", "oil_fuel", "fluid_deficit"):
        yield Nuisance(name, "engine", *healthy_of(name, "engine"))
    yield Nuisance("restriction", "gallery", *healthy_of("restriction", "gallery"))
    if query.condition.coolant_c is None:
        yield weather()


# How long it stood, and how well its valves hold the oil back: our guess.
RULES: Mapping[str, Rule] = {"rattle_time": Rule(_seconds, Tolerance(0.3, 0.3), _no_drive, _of_rattle)}
