"""Cranking: where battery, starter and engine meet (docs/physics.md, "battery and starter" and "cranking")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics.starter import StarterMotor, cranking_point, torque_of_current
from witnessmark.predict.airdescribed import described, open_numbers
from witnessmark.predict.batch import Batch
from witnessmark.predict.battery import battery_now, of_a_battery
from witnessmark.predict.feeds import any_module, extra_ohm, modules
from witnessmark.predict.logistic import step
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.oil import in_the_engine
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sealing import held, kept_by_late_cams
from witnessmark.predict.setting import oil_c, own_warmth
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "Cranking", "cranking", "of_cranking", "permitted", "turns"]

_CRANKS = Condition("cranking")
_BRUSHES_V = 1.0  # from memory
# Mean pressures that the crank has to overcome, in pascal: rubbing, oil at 20 °C and 22 rad/s, gas; our guess.
_RUBBING, _OILY, _GAS = 80e3, 90e3, 90e3
_AT_SPEED, _THICK = 22.0, 0.17  # rad/s, and Pa s at 20 °C
_FASTEST = 80.0  # rad/s: no starter turns an engine faster
_CABLE_OHM, _CABLE_SD = 0.003, 0.001  # both sides and the solenoid; our guess
_STARTER_OHM = 0.012
_FREE_AMPS = 45.0  # that a two-litre engine's starter draws turning nothing; common practice, no source: 40 to 80 A
_SERIES = StarterMotor("series", flux=7.3e-5, saturation_amps=300.0)  # as strong as the other at 140 A; our guess
_TURNS_RPM, _TURNS_SD = 70.0, 6.0  # slower than 60 to 80 rpm nobody calls cranking; common practice, no source
_BY_COMPUTER = 0.5  # of the makers let a computer have a say before the starter turns; our guess


@dataclass(frozen=True, slots=True)
class Cranking:
    """Steady cranking of n engines.

    Parameters
    ----------
    amps : ndarray, shape (n,) [A]
    rpm : ndarray, shape (n,) [rpm]
        0 where the starter is held.
    volts : ndarray, shape (n,) [V]
        At the battery's posts.
    """

    amps: NDArray[np.float64]
    rpm: NDArray[np.float64]
    volts: NDArray[np.float64]


def _gas_share(batch: Batch) -> NDArray[np.float64]:
    """What is left of the work that the gas takes: a cylinder that holds little, or is filled late, asks for little."""
    driven = np.ones(batch.rows)
    for cam in batch.model.engine.cams:
        driven = np.minimum(driven, np.asarray(batch.model.connected(cam.id, batch.state)))
    return np.asarray((0.4 + 0.6 * held(batch).mean(axis=1) * kept_by_late_cams(batch)) * (0.3 + 0.7 * driven))


def cranking(batch: Batch, condition: Condition = _CRANKS) -> Cranking:
    """Current, speed and voltage with the starter switched on.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    Cranking

    Notes
    -----
    Docs/physics.md, "cranking": the speed at which the motor's torque is the engine's, by halving; friction of the oil
    as the root of viscosity times speed (a journal's and a ring's law lie around it, from memory).
    """
    return batch.once(("cranking", condition.coolant_c), lambda: _cranking(batch, condition))


def _cranking(batch: Batch, condition: Condition) -> Cranking:
    litres = described(batch.model.engine).litres
    size = float(np.clip((litres / 2.0) ** 0.7, 0.3, 4.0))
    per_turn = np.maximum(batch.number("air:displacement_l", litres), 0.05) * 1e-3 / (4.0 * np.pi)
    thick = np.sqrt(in_the_engine(batch, oil_c(batch, Condition("cranking", coolant_c=condition.coolant_c))) / _THICK)
    effort = batch.number("heat:cranking_friction", 1.0)
    still = (_RUBBING * effort + _GAS * _gas_share(batch)) * per_turn
    still = still + np.maximum(batch.column("accessory_drag", "engine"), 0.0)
    oily = _OILY * effort * thick * per_turn
    emf, inside = battery_now(batch, condition)
    cable = np.maximum(batch.number("electric:cable_ohm", _CABLE_OHM), 0.0) / size + extra_ohm(batch, "starter")
    winding = np.clip(batch.column("winding", "starter"), 0.1, 1e9)
    cable = np.maximum(cable + _STARTER_OHM / size * (winding - 1.0), 0.0)
    drag = np.maximum(batch.column("starter_drag", "starter"), 0.0)
    free = np.maximum(batch.number("electric:starter_free_amps", _FREE_AMPS), 0.0) * size**0.5
    parts = [
        _meet(
            motor, still, oily, emf=emf - _BRUSHES_V, inside=inside, cable=cable,
            drag=drag + torque_of_current(free, motor),
        )
        for motor in (StarterMotor(ohm=_STARTER_OHM / size), _sized(_SERIES, size))
    ]  # fmt: skip
    series = np.clip(batch.number("electric:series_starter", 0.5), 0.0, 1.0)
    amps, rpm = (np.asarray((1.0 - series) * a + series * b, dtype=np.float64) for a, b in zip(*parts, strict=True))
    amps = amps + np.zeros(batch.rows)
    return Cranking(amps, rpm + np.zeros(batch.rows), np.asarray(emf - amps * inside))


def _sized(motor: StarterMotor, size: float) -> StarterMotor:
    """A bigger starter of the same kind: less resistance for the same torque of an ampere."""
    return StarterMotor(motor.kind, motor.ohm / size, motor.flux / size**0.5, motor.saturation_amps * size**0.5)


def _meet(
    motor: StarterMotor,
    still: Values,
    oily: Values,
    *,
    emf: Values,
    inside: Values,
    cable: Values,
    drag: Values,
) -> tuple[Values, Values]:
    """Current and speed where the motor gives what the engine asks, in A and rpm."""
    low, high = np.zeros(np.shape(emf)), np.full(np.shape(emf), _FASTEST)
    for _ in range(26):
        middle = 0.5 * (low + high)
        torque = still + oily * np.sqrt(middle / _AT_SPEED)
        point = cranking_point(torque, motor, emf=emf, battery_ohm=inside, cable_ohm=cable, starter_drag=drag)
        faster = np.asarray(point.crank_speed) > middle
        low, high = np.where(faster, middle, low), np.where(faster, high, middle)
    return point.amps, 0.5 * (low + high) * 30.0 / np.pi


def permitted(batch: Batch) -> NDArray[np.float64]:
    """Chance that nothing keeps the starter from being switched on.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    dead = 1.0 - np.clip(batch.column("driver_ok", modules(batch.model.engine)[0]), 0.0, 1.0)
    stopped = 1.0 - (1.0 - any_module(batch, "inhibit")) * (1.0 - any_module(batch, "module_silent")) * (1.0 - dead)
    return np.asarray(1.0 - np.clip(batch.number("electric:computer_starts", _BY_COMPUTER), 0.0, 1.0) * stopped)


def turns(batch: Batch, condition: Condition = _CRANKS) -> NDArray[np.float64]:
    """Chance that somebody says that it cranks.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    rpm = cranking(batch, condition).rpm
    return np.asarray(permitted(batch) * step((rpm - _TURNS_RPM) / _TURNS_SD))


def _where_on(batch: Batch, on: NDArray[np.float64], off: Values) -> Values:
    """What is read while the starter is on; where nothing can switch it on, what is read instead."""
    return np.where(permitted(batch) > 0.05, on, off)


def _current(batch: Batch, query: Query) -> Values:
    return _where_on(batch, cranking(batch, query.condition).amps, 0.0)


def _volts(batch: Batch, query: Query) -> Values:
    return _where_on(batch, cranking(batch, query.condition).volts, battery_now(batch, query.condition)[0])


def _speed(batch: Batch, query: Query) -> Values:
    return _where_on(batch, cranking(batch, query.condition).rpm, 0.0)


def _cranks(batch: Batch, query: Query) -> Values:
    return turns(batch, query.condition)


def _not_cranking(model: DriveModel, query: Query) -> str | None:
    if query.condition.state in (None, "cranking"):
        return None
    return f"the starter is read while it cranks, not under state {query.condition.state}"


def of_cranking(condition: Condition) -> Iterator[Nuisance]:
    """What sound engines differ in when cranked.

    Parameters
    ----------
    condition : Condition

    Yields
    ------
    Nuisance
    """
    yield from of_a_battery()
    yield Nuisance("starter_drag", "starter", *healthy_of("starter_drag", "starter"))
    yield Nuisance("accessory_drag", "engine", *healthy_of("accessory_drag", "engine"))
    for name in ("oil_viscosity", "oil_fuel"):
        yield Nuisance(name, "engine", *healthy_of(name, "engine"))
    yield Nuisance("electric:cable_ohm", "", _CABLE_OHM, _CABLE_SD)
    yield Nuisance("electric:series_starter", "", 0.5, 0.5)
    yield Nuisance("electric:starter_free_amps", "", _FREE_AMPS, 12.0)
    yield Nuisance("heat:cranking_friction", "", 1.0, 0.25)
    yield from own_warmth(Condition("cranking", coolant_c=condition.coolant_c))


def _of_cranking(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from of_cranking(query.condition)
    yield from open_numbers(model, ("air:displacement_l",))
    for place in cylinders_of(model.engine):
        yield Nuisance("ring_leak", place, *healthy_of("ring_leak", place))


# Tolerances: how far starters of one kind and size differ; our guess.
RULES: Mapping[str, Rule] = {
    "starter_current": Rule(_current, Tolerance(10.0, 0.2), _not_cranking, _of_cranking),
    "cranking_volts": Rule(_volts, Tolerance(0.25), _not_cranking, _of_cranking),
    "cranking_speed": Rule(_speed, Tolerance(15.0, 0.14), _not_cranking, _of_cranking),
    "cranks": Rule(_cranks, Tolerance(), nuisances=_of_cranking),
}
