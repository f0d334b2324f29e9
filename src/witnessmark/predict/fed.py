"""What parts make of the volts that they are fed: for whoever predicts what the parts do.

A node's fault reaches what hangs on it through these four: an injector's fuel, a pump's speed, a sensor's reading, an
actuator's pull (docs/physics.md, "what stands on the supplies").
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.actuator import PumpMotor, pump_speed
from witnessmark.physics.injector import dead_time
from witnessmark.physics.normal import ndtr
from witnessmark.predict.batch import Batch
from witnessmark.predict.supplies import driven, feed_of, solution
from witnessmark.predict.wires import load_ohm, reference_of

__all__ = ["injected", "pulled", "pump_turns", "sensor_share"]

_Array = NDArray[np.float64]

_PULSE = 0.0025  # seconds of an injector's pulse at idle; our guess
_PUMP_TORQUE, _PUMP_VOLTS = 0.06, 13.5  # of a usual pump, and the volts at which its flow is rated; our guess
_WORKS_VOLTS = 4.0  # across a sensor on 5 V, below which it no longer measures; our guess
_PULLS = 0.5  # of a sound actuator's current, with which it still moves; our guess


def injected(batch: Batch, cylinder: int, state: str | None, *, pulse: float = _PULSE) -> _Array:
    """Fuel that an injector gives for electrical reasons, over what the computer takes it to give.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    state : str, optional
        Of the condition.
    pulse : float [s]

    Returns
    -------
    array, shape (n,) [-]
        1 where it opens as the computer, which corrects for its own volts, believes; 0 where it does not open.
    """
    graph, name = supply_of(batch.model.engine), f"injector_{cylinder}"
    if not graph.has(name):
        return np.ones(batch.rows)
    node, feed, found = graph.node(name), feed_of(batch, state, name), solution(batch, state)
    sound = load_ohm(node)
    own = sound * np.maximum(batch.column("winding", name), 1e-3)
    # A winding of more resistance pulls like a sound one on less voltage.
    volts = np.maximum(feed.volts * sound / (own + feed.way_ohm), 0.1)
    seen = np.maximum(found.load_volts["ecu"], 0.1) if graph.has("ecu") else volts
    lost = np.minimum(dead_time(volts), 1.0) - np.minimum(dead_time(seen), 1.0)
    return np.asarray(np.clip(1.0 - lost / pulse, 0.0, 1.5) * np.asarray(driven(batch, node)))


def pump_turns(batch: Batch, state: str | None) -> _Array:
    """Speed of the fuel pump over the one at which its flow is rated.

    Parameters
    ----------
    batch : Batch
    state : str, optional

    Returns
    -------
    array, shape (n,) [-]
        0 where it stands; 1 and a little more with the alternator charging.
    """
    graph = supply_of(batch.model.engine)
    if not graph.has("pump"):
        return np.ones(batch.rows)
    feed, motor = feed_of(batch, state, "pump"), PumpMotor()
    held = motor.ohm * np.maximum(batch.column("winding", "pump"), 1e-3)
    turns = pump_speed(_PUMP_TORQUE, np.maximum(feed.volts, 0.0), motor, wiring_ohm=feed.way_ohm + held - motor.ohm)
    rated = pump_speed(_PUMP_TORQUE, _PUMP_VOLTS, motor)
    off = 0.0 if state == "off" else 1.0
    return np.asarray(off * np.asarray(turns) / rated * np.asarray(driven(batch, graph.node("pump"))))


def sensor_share(batch: Batch, sensor: str, state: str | None) -> tuple[_Array, _Array]:
    """What a sensor on 5 V reads for electrical reasons, over what it measures.

    Parameters
    ----------
    batch : Batch
    sensor : str
        Node id.
    state : str, optional

    Returns
    -------
    share : array, shape (n,) [-]
        Its own supply over the reference that the module divides by: a reference that sags moves both and does not
        show, what is lost in the sensor's own wires does.
    works : array, shape (n,) [-]
        Chance that it measures at all.
    """
    graph, found = supply_of(batch.model.engine), solution(batch, state)
    source = reference_of(graph, sensor)
    if source is None:
        return np.ones(batch.rows), np.ones(batch.rows)
    own, whole = found.load_volts[sensor], found.reference_volts[source]
    share = np.clip(own / np.maximum(whole, 0.1), 0.0, 1.0)
    return np.asarray(share), np.asarray(ndtr((whole - _WORKS_VOLTS) / 0.2) * ndtr((6.0 - whole) / 0.2))


def pulled(batch: Batch, actuator: str, state: str | None) -> _Array:
    """Chance that an actuator moves when it is asked to: an oil valve, purge, a wastegate's valve, a heater that heats.

    Parameters
    ----------
    batch : Batch
    actuator : str
        Node id.
    state : str, optional

    Returns
    -------
    array, shape (n,) [-]
        By its current against a sound one's.
    """
    graph = supply_of(batch.model.engine)
    if not graph.has(actuator):
        return np.ones(batch.rows)
    node, feed = graph.node(actuator), feed_of(batch, state, actuator)
    sound = load_ohm(node)
    ohm = sound * np.maximum(batch.column("winding", actuator), 1e-6)
    share = feed.volts / 12.0 * sound / (feed.way_ohm + ohm) * np.asarray(driven(batch, node))
    return np.asarray(ndtr((share - _PULLS) / 0.08))
