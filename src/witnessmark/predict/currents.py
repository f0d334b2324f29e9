"""What a clamp shows of coils, injectors and the pump."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply import SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.errors import one_of
from witnessmark.physics.actuator import Injector, PumpMotor, injector_current, ramp_time
from witnessmark.physics.ignition import Coil
from witnessmark.physics.ignition import coil_current as ramp
from witnessmark.predict.airdescribed import OPEN, described, open_numbers
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.supplies import driven, feed_of, solution, speed_of
from witnessmark.predict.wires import carrying, load_ohm, relative_sd, sound_electrics
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "coil_amps", "coil_circuit", "coil_of", "dwell"]

_LEAST_SHARE = 0.1  # of a usual resistance, where a wide guess would go below nothing
_WANTED_AMPS = 6.5  # that the computer dwells for; our guess
_LONGEST_DWELL = 0.006  # seconds; our guess
_BUSIEST = 0.7  # of the time between two firings of one coil that it may dwell; our guess
_PULSE = 0.003  # seconds into an injector's pulse at which its current is read; our guess
_DIRECT_AMPS, _DIRECT_VOLTS, _DIRECT_OHM = 10.0, 65.0, 1.5  # a driver with a raised supply, from memory
_PUMP_NEED = 0.35  # of a sound pump's flow below which the pressure falls; our guess
_IDLE_TORQUE = 0.25  # share of the pump's torque that is friction; our guess


def _load(batch: Batch, name: str) -> SupplyNode:
    return supply_of(batch.model.engine).node(name)


def _ohm(batch: Batch, name: str) -> Values:
    kind = name.partition("_")[0]
    return load_ohm(_load(batch, name)) * np.maximum(batch.number(f"electric:{kind}_ohm", 1.0), _LEAST_SHARE)


# ---------------------------------------------------------------- coils


def coil_of(batch: Batch, cylinder: int) -> Coil:
    """The coil of a cylinder, its primary as the supply graph has it.

    Parameters
    ----------
    batch : Batch
    cylinder : int

    Returns
    -------
    Coil
    """
    name = f"coil_{cylinder}"
    graph = supply_of(batch.model.engine)
    return Coil(ohm=(graph.node(name).load_ohm.mean or Coil().ohm) if graph.has(name) else Coil().ohm)


def coil_circuit(batch: Batch, cylinder: int, condition: Condition) -> tuple[Values, Values]:
    """Volts that a coil would have without its current, and the resistance of its way.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition

    Returns
    -------
    volts : float or array, shape (n,) [V]
        Nothing where nobody drives it.
    way_ohm : float or array, shape (n,) [ohm]
    """
    name = f"coil_{cylinder}"
    if not supply_of(batch.model.engine).has(name):
        return solution(batch, condition.state).volts[supply_of(batch.model.engine).battery.id], 0.05
    feed = feed_of(batch, condition.state, name)
    return np.maximum(feed.volts, 0.0) * np.asarray(driven(batch, _load(batch, name))), feed.way_ohm


def dwell(batch: Batch, cylinder: int, condition: Condition) -> Values:
    """Dwell that the computer gives a sound coil at the volts that it sees itself.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [s]
    """
    coil, graph = coil_of(batch, cylinder), supply_of(batch.model.engine)
    found = solution(batch, condition.state)
    seen = found.load_volts["ecu"] if graph.has("ecu") else found.volts[graph.battery.id]
    wanted = np.asarray(ramp_time(_WANTED_AMPS, np.maximum(seen, 1.0), coil.ohm, coil.henry))
    rpm = max(speed_of(condition.state, condition.speed_rpm), 1.0)
    return np.asarray(np.minimum(wanted, min(_LONGEST_DWELL, _BUSIEST * 120.0 / rpm)))


def coil_amps(batch: Batch, cylinder: int, condition: Condition) -> Values:
    """Primary current at the end of the dwell.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [A]
    """
    volts, way = coil_circuit(batch, cylinder, condition)
    winding = np.maximum(batch.column("winding", f"coil_{cylinder}"), 0.0)
    winding = winding * np.maximum(batch.number("electric:coil_ohm", 1.0), _LEAST_SHARE)
    return ramp(dwell(batch, cylinder, condition), volts, coil_of(batch, cylinder), winding=winding, wiring_ohm=way)


def _coil(batch: Batch, query: Query) -> Values:
    amps = coil_amps(batch, int(str(query.place.get("actuator")).rpartition("_")[2]), query.condition)
    return amps * np.maximum(batch.number("electric:coil_amps", 1.0), 0.0)


# ---------------------------------------------------------------- injectors


def _injector(batch: Batch, query: Query) -> Values:
    """At the end of a usual pulse; of a driver with a raised supply its peak."""
    name = str(query.place.get("actuator"))
    feed = feed_of(batch, query.condition.state, name)
    volts = np.maximum(feed.volts, 0.0) * np.asarray(driven(batch, _load(batch, name)))
    own = _ohm(batch, name) * np.maximum(batch.column("winding", name), 1e-3)
    sound = Injector(ohm=0.0)
    port = np.asarray(injector_current(_PULSE, volts, sound, wiring_ohm=feed.way_ohm + own))
    raised = _DIRECT_VOLTS * volts / 14.0
    direct = np.minimum(
        _DIRECT_AMPS, raised / (feed.way_ohm + _DIRECT_OHM * np.maximum(batch.column("winding", name), 1e-3))
    )
    share = np.asarray(batch.number("fuel:direct", _direct(batch.model)))
    return np.asarray((1.0 - share) * port + share * direct)


def _direct(model: DriveModel) -> float:
    direct = described(model.engine).direct
    return OPEN["fuel:direct"][0] if direct is None else float(direct)


# ---------------------------------------------------------------- the pump


def _pump(batch: Batch, query: Query) -> Values:
    """By its torque, which goes with the pressure; at most what it draws standing still."""
    name = str(query.place.get("actuator"))
    feed, motor = feed_of(batch, query.condition.state, name), PumpMotor()
    on = 0.0 if query.condition.state == "off" else 1.0
    flow = np.maximum(batch.column("lift_pump_flow", "pump"), 0.0)
    blocked = np.clip(batch.column("restriction", "fuel_filter"), 0.0, 1.0)
    set_to = np.maximum(1.0 + batch.column("regulator_error", "regulator") / 100.0, 0.0)
    pressure = set_to * np.minimum(flow / _PUMP_NEED, 1.0) * (1.0 + 0.5 * blocked**4)
    torque = _IDLE_TORQUE + (1.0 - _IDLE_TORQUE) * pressure
    wanted = np.maximum(batch.number("electric:pump_amps", 6.0), 0.0) * torque
    held = motor.ohm * np.maximum(batch.column("winding", name), 1e-3)
    return on * np.minimum(wanted, np.maximum(feed.volts, 0.0) / (feed.way_ohm + held))


# ---------------------------------------------------------------- what may be asked, and what sound ones differ in


def _of_kind(kind: str) -> Callable[[DriveModel, Query], str | None]:
    def refuses(model: DriveModel, query: Query) -> str | None:
        graph, name = supply_of(model.engine), str(query.place.get("actuator"))
        known = [n.id for n in graph if n.kind == "load" and n.id.partition("_")[0] == kind]
        return None if name in known else one_of(f"{kind} of this engine", name, known).message

    return refuses


def _differs(*numbers: tuple[str, float, float]) -> Callable[[DriveModel, Query], Iterable[Nuisance]]:
    def nuisances(model: DriveModel, query: Query) -> Iterable[Nuisance]:
        graph, name = supply_of(model.engine), str(query.place.get("actuator"))
        kind = name.partition("_")[0]
        if query.condition.state == "off":
            return
        if kind != "pump":
            yield from sound_electrics(graph, carrying(graph, name), query.condition.state)
            yield Nuisance("winding", name, *healthy_of("winding", name))
            yield Nuisance(f"electric:{kind}_ohm", "", 1.0, relative_sd(graph.node(name).load_ohm, 0.35))
        for key, mean, sd in numbers:
            yield Nuisance(key, "", mean, sd)
        if kind == "injector":
            yield from open_numbers(model, ("fuel:direct",))
        if kind == "pump":
            yield Nuisance("regulator_error", "regulator", *healthy_of("regulator_error", "regulator"))

    return nuisances


def _rule(kind: str, read: Callable[[Batch, Query], Values], *numbers: tuple[str, float, float]) -> Rule:
    return Rule(read, Tolerance(0.05, 0.06), _of_kind(kind), _differs(*numbers))


# What a computer dwells for, and what a pump draws, are the maker's: wide; our guess.
RULES: Mapping[str, Rule] = {
    "coil_current": _rule("coil", _coil, ("electric:coil_amps", 1.0, 0.25)),
    "injector_current": _rule("injector", _injector),
    "pump_current": _rule("pump", _pump, ("electric:pump_amps", 6.0, 1.8)),
}
