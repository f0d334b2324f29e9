"""Vibration by order of engine, wheel and shaft, and slip of the converter (docs/physics.md, "vibration")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.evenness import of_the_cylinders, torques
from witnessmark.predict.logistic import step
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import own_speed, speed_rpm
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "shaken_seat", "transmitted"]

_MOUNT_HZ, _DAMPING = 9.0, 0.15  # natural frequency on sound mounts and its damping; our guess
_REST_ON_STOP, _STOP_SD = 0.45, 0.08  # share of the stiffness below which an engine lies on its stop; our guess
_FIRING = 1.0  # m/s² that the firing order would shake the seat with on a rigid mount, at idle; our guess
_TORQUE = {"raised": 1.0, "cruise": 2.5, "acceleration": 5.0, "full_load": 7.0, "overrun": 0.8, "snap": 4.0}
_FLOOR = 0.02
_ROAD_KMH = {"cruise": (90.0, 15.0), "acceleration": (60.0, 15.0), "full_load": (80.0, 20.0), "overrun": (70.0, 15.0)}
_WHEEL, _SHAFT = 0.12, 0.05  # m/s² for an unbalance of 1 at 100 km/h; our guess
_SWING, _PLAY, _BELT = 0.015, 0.25, 0.003  # m/s² for N m of swinging torque, degree of play, N m of drag; our guess
_LOCKED_RPM, _SLIPS = 15.0, 0.8  # slip of a locked converter, and for each N m that its torque swings; our guess
_OPEN_RPM, _OPEN_SD = 180.0, 50.0
_SOURCES = ("engine", "wheel", "shaft")


def transmitted(stiffness: Values, hertz: Values) -> NDArray[np.float64]:
    """Share of a shaking force that the mounts pass on.

    Parameters
    ----------
    stiffness : float or array, shape (n,) [-]
        Of the mounts over sound ones.
    hertz : float or array, shape (n,) [Hz]

    Returns
    -------
    ndarray, shape (n,) [-]

    Notes
    -----
    √(1 + (2ζr)²)/√((1 - r²)² + (2ζr)²) of one mass on a damped spring, any textbook, from memory. A mount that has
    given way lets the engine lie on its stop, which passes everything: our guess.
    """
    soft = np.maximum(np.asarray(stiffness, dtype=np.float64), 1e-3)
    ratio = np.asarray(hertz, dtype=np.float64) / (_MOUNT_HZ * np.sqrt(soft))
    damped = (2.0 * _DAMPING * ratio) ** 2
    free = np.sqrt((1.0 + damped) / ((1.0 - ratio**2) ** 2 + damped))
    stopped = step((_REST_ON_STOP - soft) / _STOP_SD)
    return np.asarray((1.0 - stopped) * free + stopped * np.maximum(free, 1.0))


def _order_of(query: Query) -> tuple[str, float] | None:
    """Source and order, or None where it is not written as an order."""
    source, _, number = str(query.place.get("order")).partition(":")
    try:
        order = float(number)
    except ValueError:
        return None
    return (source, order) if source in _SOURCES and 0.0 < order < 100.0 else None


def _no_order(model: DriveModel, query: Query) -> str | None:
    if _order_of(query) is None:
        given = query.place.get("order")
        return f"“{given}” is no order: write engine:0.5, wheel:1 or shaft:1"
    return None


def _vibration(batch: Batch, query: Query) -> Values:
    found = _order_of(query)
    assert found is not None
    source, order = found
    if source == "engine":
        return _of_engine(batch, query.condition, order)
    road = _road(batch, query.condition)
    unbalance = np.maximum(batch.column("unbalance", "driveline"), 0.0)
    if source == "wheel":
        return np.asarray(np.hypot(_FLOOR, _WHEEL * unbalance * (road / 100.0) ** 2 / order**2))
    swing = _SWING * _swing(batch) * _locked(batch, query.condition)
    return np.asarray(_FLOOR + _SHAFT * unbalance * (road / 100.0) ** 2 / order**2 + swing)


def shaken_seat(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """What shakes the seat beyond a sound vehicle's, though the cylinders pull evenly: mounts, wheels, clutch.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [m/s2]

    Notes
    -----
    Docs/physics.md, "vibration": the firing order past mounts as they are over past sound ones, a wheel once in its
    turn, and the torque that a shuddering clutch swings by, their squares added.
    """
    order = 0.5 * batch.model.engine.cylinders
    hertz = order * np.asarray(speed_rpm(batch, condition)) / 60.0
    sound = np.maximum(transmitted(1.0, hertz), 1e-6)
    more = transmitted(batch.column("mount_stiffness", "driveline"), hertz) / sound
    firing = np.asarray(_of_engine(batch, condition, order))
    mounts = firing * np.maximum(1.0 - 1.0 / np.maximum(more, 1e-6), 0.0)
    road = np.asarray(_road(batch, condition)) / 100.0
    wheels = _WHEEL * np.maximum(batch.column("unbalance", "driveline") - 1.0, 0.0) * road**2
    clutch = _SWING * _swing(batch) * _locked(batch, condition)
    return np.asarray(np.sqrt(mounts**2 + wheels**2 + clutch**2))


def _of_engine(batch: Batch, condition: Condition, order: float) -> Values:
    """The order's part of the cylinders' torques in firing order; a turn of the crank also feels play and belt."""
    rpm = speed_rpm(batch, condition)
    count = batch.model.engine.cylinders
    harmonic = 2.0 * order
    whole = abs(harmonic - round(harmonic)) < 1e-6
    shaken: Values = 0.0
    if whole:
        each = torques(batch, condition)[:, _firing_places(batch.model)]
        turn = np.exp(-2j * np.pi * round(harmonic) * np.arange(count) / count)
        shaken = np.abs(each @ turn) / count / max(1.0, harmonic / count) ** 2
    passed = transmitted(batch.column("mount_stiffness", "driveline"), order * np.asarray(rpm) / 60.0)
    force = _FIRING * _TORQUE.get(str(condition.state), 1.0) * shaken
    if abs(order - 1.0) < 1e-6:
        drag = np.maximum(batch.column("accessory_drag", "engine"), 0.0)
        force = force + _PLAY * np.maximum(batch.column("flexplate_play", "driveline"), 0.0) + _BELT * drag
    running = np.asarray(rpm) > 0.0
    return np.asarray(np.where(running, np.hypot(_FLOOR, force * passed), 0.0))


def _firing_places(model: DriveModel) -> list[int]:
    """Column of each cylinder in firing order; by number where the order is not said."""
    order = model.engine.firing_order
    if sorted(order) != list(range(1, model.engine.cylinders + 1)):
        return list(range(model.engine.cylinders))
    return [k - 1 for k in order]


def _road(batch: Batch, condition: Condition) -> Values:
    """Speed on the road in km/h; standing in all states that a shop sees."""
    known = _ROAD_KMH.get(str(condition.state))
    return 0.0 if known is None else np.maximum(batch.number(f"speed:road_kmh:{condition.state}", known[0]), 0.0)


def _swing(batch: Batch) -> NDArray[np.float64]:
    return np.maximum(batch.column("shudder_torque", "driveline"), 0.0)


def _locked(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """1 where the converter's clutch is shut: on the road, unless it is commanded open or does not shut."""
    if condition.state not in _ROAD_KMH:
        return np.zeros(batch.rows)
    open_by = np.clip(batch.column("command", "converter"), 0.0, 1.0)
    return (1.0 - open_by) * (1.0 - np.clip(batch.column("lockup_open", "driveline"), 0.0, 1.0))


def _slip(batch: Batch, query: Query) -> Values:
    locked = _locked(batch, query.condition)
    open_rpm = np.maximum(batch.number("driveline:open_slip_rpm", _OPEN_RPM), 0.0)
    return np.asarray(locked * (_LOCKED_RPM + _SLIPS * _swing(batch)) + (1.0 - locked) * open_rpm)


def _standing(model: DriveModel, query: Query) -> str | None:
    if query.condition.state not in _ROAD_KMH:
        return "slip of the converter is read on the road: state cruise, acceleration, full_load or overrun"
    return None


def _of_vibration(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    for name in ("mount_stiffness", "unbalance", "shudder_torque", "flexplate_play"):
        yield Nuisance(name, "driveline", *healthy_of(name, "driveline"))
    yield from of_the_cylinders(model)
    yield from own_speed(query.condition)
    known = _ROAD_KMH.get(str(query.condition.state))
    if known is not None:
        yield Nuisance(f"speed:road_kmh:{query.condition.state}", "", *known)


def _of_slip(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield Nuisance("shudder_torque", "driveline", *healthy_of("shudder_torque", "driveline"))
    yield Nuisance("driveline:open_slip_rpm", "", _OPEN_RPM, _OPEN_SD)


# Where a sensor is held and how a body answers: our guess.
RULES: Mapping[str, Rule] = {
    "vibration_order": Rule(_vibration, Tolerance(0.03, 0.4), _no_order, _of_vibration),
    "converter_slip": Rule(_slip, Tolerance(8.0, 0.1), _standing, _of_slip),
}
