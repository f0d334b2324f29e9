"""What is seen of sensors themselves: amplitude, extra edges, worn tracks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_names import cam_node
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.engine.types import Engine
from witnessmark.physics.normal import ndtr
from witnessmark.physics.sensorcircuit import SignalInput, hall_levels, reluctance_volts
from witnessmark.predict.batch import Batch
from witnessmark.predict.marks import shaft_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.supplies import solution, speed_of
from witnessmark.predict.wires import behind, named, reference_of, shaken
from witnessmark.vocabulary import Query

__all__ = ["RULES", "position_node"]

_Array = NDArray[np.float64]

_TRACKED = ("throttle_sensor", "pedal")
_RELUCTANCE_VOLTS = 2.0  # amplitude at idle speed, sound gap: one to some volts, from memory
_COIL_OHM = 900.0  # of such a sensor; common practice, no source
_GAP_LOSS = 0.35  # of the amplitude for each mm beyond 1; our guess (as in predict.codes)
_WEAKEST, _WEAK_WIDTH = 0.35, 0.05  # of a sound field, below which a switching sensor no longer does; our guess
_NOISE = 0.02  # of a sound amplitude; our guess
_HYSTERESIS = 0.25  # of a sound amplitude; our guess
_USUAL_EDGES = 58.0  # where the wheel is not described
_TRACK_GAP = 0.2  # percent between two sound tracks; our guess


def position_node(graph: SupplyGraph, wheel: str) -> str | None:
    """The supply graph's node of the sensor that watches a wheel.

    Parameters
    ----------
    graph : SupplyGraph
    wheel : str
        "crank" or a cam's id.

    Returns
    -------
    str or None
        None where the graph has none.
    """
    names = (CRANK,) if wheel == CRANK else (cam_node("cam", wheel), "cam")
    return next((name for name in names if graph.has(name)), None)


def _is_reluctance(engine: Engine, wheel: str) -> float | None:
    described = engine.wheel(wheel)
    kind = described.sensor_kind if described is not None else None
    return None if kind is None else float(kind == "reluctance")


def _field(batch: Batch, wheel: str) -> _Array:
    """Strength at the sensor as a share of a sound one's."""
    gap = batch.column("sensor_gap", wheel) - 1.0
    return np.asarray(batch.column("sensor_gain", wheel) / np.maximum(1.0 + _GAP_LOSS * gap, 0.1))


def _wheel(batch: Batch, query: Query, key: str) -> str:
    return shaft_of(batch.model, str(query.place.get(key) or CRANK))


def _amplitude(batch: Batch, query: Query) -> Values:
    """Of the recorded signal: a coil's goes with speed and field, a switching sensor's is its two levels."""
    wheel, condition = _wheel(batch, query, "position"), query.condition
    rpm = speed_of(condition.state, condition.speed_rpm)
    if rpm <= 0.0:
        return np.nan
    field, node = _field(batch, wheel), position_node(supply_of(batch.model.engine), wheel)
    own = node or wheel
    way = np.maximum(batch.column("resistance", own) - healthy_of("resistance", own)[0], 0.0)
    strength = np.asarray(batch.number("electric:reluctance_volts", _RELUCTANCE_VOLTS)) * rpm / 750.0
    coil = reluctance_volts(
        strength * field * (1.0 if wheel == CRANK else 0.5), coil_ohm=_COIL_OHM, wire_ohm=way,
        shorting=batch.column("shorting", own),
    )  # fmt: skip
    fed = solution(batch, condition.state).load_volts[node] if node is not None else np.full(batch.rows, 5.0)
    low, high = hall_levels(fed, SignalInput(), wire_ohm=way)
    switching = (np.asarray(high) - np.asarray(low)) * ndtr((field - _WEAKEST) / _WEAK_WIDTH)
    share = np.asarray(batch.number(f"electric:reluctance:{wheel}", _share(batch.model.engine, wheel)))
    return np.asarray(share * np.asarray(coil) + (1.0 - share) * switching)


def _share(engine: Engine, wheel: str) -> float:
    known = _is_reluctance(engine, wheel)
    return 0.5 if known is None else known


def _extra(batch: Batch, query: Query) -> Values:
    """Edges that no tooth made, in a turn: contacts that go and come, noise that beats the hysteresis, bent teeth."""
    wheel, condition = _wheel(batch, query, "wheel"), query.condition
    rpm = speed_of(condition.state, condition.speed_rpm)
    if rpm <= 0.0:
        return np.nan
    turns = rpm * (1.0 if wheel == CRANK else 0.5)
    graph = supply_of(batch.model.engine)
    node = position_node(graph, wheel) or wheel
    lost = sum(
        (batch.column("dropout_rate", name) for name in shaken(graph, behind(graph, node))), np.zeros(batch.rows)
    )
    noise = _NOISE * batch.column("sensor_noise", wheel)
    beaten = ndtr(-_HYSTERESIS * np.maximum(_field(batch, wheel), 0.0) / np.maximum(noise, 1e-6))
    flipped = 0.5 * (1.0 - batch.column("sensor_polarity", wheel))
    return np.asarray(lost / turns + _edges(batch.model.engine, wheel) * beaten + 0.3 * flipped)


def _edges(engine: Engine, wheel: str) -> float:
    described = engine.wheel(wheel)
    if described is None:
        return _USUAL_EDGES
    if described.gaps_deg:
        return float(len(described.gaps_deg))
    return float(parse_wheel(described.pattern).n_edges) if described.pattern else _USUAL_EDGES


def _track(batch: Batch, query: Query) -> Values:
    """Largest difference of the two tracks over the sweep: wear makes noise, one track's wires make an offset."""
    name = str(query.place.get("sensor"))
    if query.condition.state == "off":
        return np.nan
    worn = _TRACK_GAP * batch.column("sensor_noise", name)
    graph, found = supply_of(batch.model.engine), solution(batch, query.condition.state or "key_on")
    lost = np.zeros(batch.rows)
    if graph.has(name):
        source = next((one for one in found.wiring.regulators if one.node.id == reference_of(graph, name)), None)
        if source is not None:
            whole = np.maximum(found.network.volts[:, source.out] - found.network.volts[:, source.minus], 0.1)
            # Half way through the sweep half of what its wires take is missing from the track that hangs on them.
            lost = 50.0 * np.clip(1.0 - found.load_volts[name] / whole, 0.0, 1.0)
    bent = 50.0 * np.abs(batch.column("sensor_gain", name) - 1.0) * 0.1
    return np.hypot(worn, lost + bent)


# ---------------------------------------------------------------- what may be asked, and what sound ones differ in


def _sound_position(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """A switching sensor's levels do not depend on its gap; a coil's do."""
    wheel = shaft_of(model, str(query.place.get("position") or CRANK))
    known = _is_reluctance(model.engine, wheel)
    if known == 0.0:
        return
    for variable in ("sensor_gap", "sensor_gain"):
        yield Nuisance(variable, wheel, *healthy_of(variable, wheel))
    yield Nuisance("electric:reluctance_volts", "", _RELUCTANCE_VOLTS, 0.5 * _RELUCTANCE_VOLTS)
    if known is None:
        yield Nuisance(f"electric:reluctance:{wheel}", "", 0.5, 0.5)


def _sound_track(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    name = str(query.place.get("sensor"))
    for variable in ("sensor_noise", "sensor_gain"):
        yield Nuisance(variable, name, *healthy_of(variable, name))


# Tolerances beyond these: our guess.
RULES: Mapping[str, Rule] = {
    "signal_amplitude": Rule(_amplitude, Tolerance(0.1, 0.1), nuisances=_sound_position),
    "edges_extra": Rule(_extra, Tolerance(0.02, 0.3)),
    "track_gap": Rule(_track, Tolerance(0.3, 0.3), named("sensor", lambda model, graph: _TRACKED), _sound_track),
}
