"""Voltage on board with the engine running, and the ripple that the battery leaves (docs/physics.md, "charging")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.charging import Alternator, alternator_amps, charging_volts, expected_ripple_volts
from witnessmark.predict.batch import Batch
from witnessmark.predict.battery import battery_now, of_a_battery
from witnessmark.predict.cranking import cranking, permitted
from witnessmark.predict.feeds import extra_ohm
from witnessmark.predict.grid import between
from witnessmark.predict.logistic import expit
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import SHARED, STANDS, loads_a, own_speed, speed_rpm
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "alternator_volts", "of_charging"]

_KEY_ON_A = 5.0
# 13.5 to 14.8 V, and 12.2 to 15 V where the computer governs the alternator, as about a third do: common practice, no
# source; the share is our guess.
_HELD_V, _HELD_SD = 14.0, 0.45
_MOST_A, _MOST_SD = 120.0, 25.0  # of a sound alternator at speed; our guess
_TAKES_OHM = 0.2  # how a battery resists being charged, far more than being discharged; our guess
_ABOVE_REST_V = 0.2
_AMPS = np.array([0.0, 5.0, 15.0, 40.0, 80.0, 160.0])
_OHMS = np.geomspace(0.002, 0.8, 9)
_DIODES = np.arange(4.0)


def _excited(batch: Batch) -> NDArray[np.float64]:
    """Share of a sound alternator's current: its own wear, and a field winding that still carries current."""
    winding = np.maximum(batch.column("winding", "alternator"), 1e-3)
    field = np.where(winding > 1.0, 1.0 / winding, np.clip(winding / 0.5, 0.0, 1.0))
    return np.maximum(batch.column("alternator_output", "alternator"), 0.0) * field


def _available(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """Most current at this speed. Diodes that are open by part of one are taken between."""
    size = np.maximum(batch.number("electric:alternator_a", _MOST_A), 0.0) / _MOST_A
    rpm = speed_rpm(batch, condition)
    count = np.clip(batch.column("diodes_open", "alternator"), 0.0, 3.0)
    share = np.interp(count, _DIODES, _left_with_diodes_open())
    return np.asarray(alternator_amps(rpm, Alternator(), output=_excited(batch)) * size * share)


@cache
def _left_with_diodes_open() -> NDArray[np.float64]:
    """Share of its current that a usual alternator still gives, for each count of open diodes."""
    left = np.array([float(alternator_amps(6000.0, Alternator(), diodes_open=n)) for n in _DIODES])
    return np.asarray(left / left[0])


def alternator_volts(batch: Batch, condition: Condition) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Voltage at the battery and the alternator's current with the engine running.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    volts : ndarray, shape (n,) [V]
    amps : ndarray, shape (n,) [A]
    """
    key = ("charging", condition.state, condition.speed_rpm, condition.coolant_c)
    return batch.once(key, lambda: _solved(batch, condition))


def _solved(batch: Batch, condition: Condition) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    available = _available(batch, condition)
    rest, inside = battery_now(batch, condition)
    emf = rest + _ABOVE_REST_V
    siemens = loads_a(batch) / 13.5
    error = batch.column("voltage_error", "alternator")
    held = np.clip(batch.number("electric:regulated_v", _HELD_V) + error, 8.0, 20.0)
    endless = Alternator(regulated_volts=1e3)

    def at(ohm: Values) -> NDArray[np.float64]:
        found = charging_volts(available, endless, load_siemens=siemens, emf=emf, battery_ohm=ohm)
        return np.asarray(found)

    charging = at(_TAKES_OHM + inside)
    free = np.where(charging > emf, charging, at(inside))
    way = _way_ohm(batch)

    def through(own: Values) -> NDArray[np.float64]:
        return np.asarray((emf / own + held / way) / (1.0 / own + siemens + 1.0 / way))

    # What the regulator holds reaches the battery through the cable, and only as far as there is current to give.
    volts = np.minimum(free, through(_TAKES_OHM + inside))
    volts = np.where(volts > emf, volts, np.minimum(free, through(inside)))
    own = np.where(volts > emf, _TAKES_OHM + inside, inside)
    amps = np.maximum(volts * siemens + (volts - emf) / own, 0.0)
    return volts + np.zeros(batch.rows), np.minimum(amps, available) + np.zeros(batch.rows)


def _way_ohm(batch: Batch) -> NDArray[np.float64]:
    """Between alternator and battery; where no graph tells the way, its cable counts as its own node."""
    known = "alternator" if supply_of(batch.model.engine).has("alternator") else "engine_ground"
    more = np.maximum(batch.column("resistance", "alternator") - healthy_of("resistance", "alternator")[0], 0.0)
    return 1e-4 + (extra_ohm(batch, known) if known == "alternator" else more + extra_ohm(batch, known))


def _volts(batch: Batch, query: Query) -> Values:
    """At rest with the key off, sagging a little with it on, and while cranking what the starter leaves."""
    rest, inside = battery_now(batch, query.condition)
    if query.condition.state == "cranking":
        return np.where(permitted(batch) > 0.05, cranking(batch, query.condition).volts, rest)
    if query.condition.state in STANDS:
        return rest - inside * (_KEY_ON_A if query.condition.state == "key_on" else 0.0)
    return alternator_volts(batch, query.condition)[0]


@cache
def _ripples() -> NDArray[np.float64]:
    """Ripple at the battery by current, resistance and count of open diodes, peak to peak in volts."""
    amps, ohms, count = np.meshgrid(_AMPS, _OHMS, _DIODES, indexing="ij")
    found = expected_ripple_volts(
        np.maximum(amps, 1e-6).ravel(), Alternator(), diodes_open=count.ravel(), volts=_HELD_V, battery_ohm=ohms.ravel()
    )
    return np.asarray(found).reshape(amps.shape)


def _ripple(batch: Batch, query: Query) -> Values:
    if query.condition.state in (*STANDS, "cranking"):
        return 0.0
    _, amps = alternator_volts(batch, query.condition)
    _, inside = battery_now(batch, query.condition)
    count = np.clip(batch.column("diodes_open", "alternator"), 0.0, 3.0)
    places = (amps, np.log(inside), count)
    # Without any current there is no ripple, and on the first stretch it grows with the current.
    found = between((_AMPS, np.log(_OHMS), _DIODES), _ripples(), places)
    return np.asarray(found * expit((amps - 1.0) / 0.2))


def of_charging(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    """What sound charging systems differ in.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Yields
    ------
    Nuisance
    """
    yield from of_a_battery()
    yield Nuisance("alternator_output", "alternator", *healthy_of("alternator_output", "alternator"))
    yield Nuisance("electric:alternator_a", "", _MOST_A, _MOST_SD)
    yield Nuisance("electric:loads_a", "", *SHARED["electric:loads_a"])
    yield Nuisance("electric:regulated_v", "", _HELD_V, _HELD_SD)
    yield from own_speed(query.condition)


# Ripple is good to a factor of two (docs/physics.md, "charging"); the rest our guess.
RULES: Mapping[str, Rule] = {
    "charging_volts": Rule(_volts, Tolerance(0.1), nuisances=of_charging),
    "ripple": Rule(_ripple, Tolerance(0.02, 0.4), nuisances=of_charging),
}
