"""Queries and states for the tests of supplies, sensors and ignition, short to write."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

import numpy as np

from tests.unit.predict.drives import asked
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import known_engines
from witnessmark.engine.state import State
from witnessmark.engine.stateplaces import KINDS, state_places
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect, why_not
from witnessmark.vocabulary import Condition, Query

BY_NODE = (
    "branch_drop",
    "reference_volts",
    "signal_dropouts",
    "bus_errors",
    "insulation_ohm",
    "circuit_reaches",
    "drain_measured",
)
BY_ACTUATOR = ("winding_ohm", "coil_current", "injector_current", "pump_current")
BY_MODULE = ("supply_reported", "module_answers", "start_permitted", "calibration_id_match")
BY_CYLINDER = ("firing_voltage", "spark_duration", "misfire_count", "knock_retard")
ALL = (
    *BY_NODE,
    *BY_ACTUATOR,
    *BY_MODULE,
    *BY_CYLINDER,
    "signal_amplitude",
    "edges_extra",
    "track_gap",
    "temperature_reported",
)


@cache
def bare(cylinders: int = 4) -> DriveModel:
    """An engine of which only the count of cylinders is known: the usual supplies."""
    return DriveModel.of(candidate_engines(Engine("bare", cylinders=cylinders))[0].engine)


def every_model() -> Iterator[DriveModel]:
    """All shipped engines, laid out, and the bare one."""
    for known in known_engines():
        engine = known.load()
        yield DriveModel.of(engine if engine.drive is not None else candidate_engines(engine)[0].engine)
    yield bare()


def at(model: DriveModel, name: str, state: str, edits: Mapping[tuple[str, str], object] | None = None, /,
       during: str | None = None, numbers: Mapping[str, float] | None = None, **place: object) -> float:  # fmt: skip
    """What one query should read in a way of running, with some edits of a sound engine."""
    query = asked(name, Condition(state, during=during), **place)
    assert why_not(model, query) is None, why_not(model, query)
    return float(expect(model, [query], State(edits or {}), numbers).mean[0, 0])  # type: ignore[arg-type]


def everything(
    model: DriveModel, states: tuple[str, ...] = ("off", "key_on", "cranking", "idle", "full_load")
) -> list[Query]:
    """Everything of these quantities that can be asked of an engine."""
    graph, found = supply_of(model.engine), []
    for state in states:
        condition = Condition(state)
        for node in graph:
            found += [asked(name, condition, node=node.id) for name in BY_NODE]
            found += [asked(name, condition, actuator=node.id) for name in BY_ACTUATOR]
            found += [asked(name, condition, module=node.id) for name in BY_MODULE]
        for k in range(1, model.engine.cylinders + 1):
            found += [asked(name, condition, cylinder=k) for name in BY_CYLINDER]
        found += [
            asked("signal_amplitude", condition, position="crank"),
            asked("edges_extra", condition, wheel="crank"),
        ]
        found += [asked("track_gap", condition, sensor=name) for name in ("throttle_sensor", "pedal")]
        found += [asked("temperature_reported", condition, sensor=name) for name in ("ect", "iat")]
    return [query for query in found if why_not(model, query) is None]


def places(model: DriveModel) -> list[str]:
    """Every place of the state vector on an engine, its nodes and some shorts between them."""
    graph = supply_of(model.engine)
    found = [place for kind in KINDS for place in state_places(model.engine, kind)]
    found += [node.id for node in graph]
    return list(dict.fromkeys(found))


def rows(edits: list[tuple[str, str, float]]) -> State:
    """One row for each edit."""
    columns: dict[tuple[str, str], np.ndarray] = {}
    for row, (variable, place, value) in enumerate(edits):
        sound = State({}).get(variable, place)
        columns.setdefault((variable, place), np.full(len(edits), sound, dtype=float))[row] = value
    return State(columns)  # type: ignore[arg-type]
