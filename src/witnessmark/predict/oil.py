"""Oil: its pressure by pump, viscosity and warmth, what reaches the pump, how high it stands, how long chains wait."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics.oil import Oil, OilCircuit, dynamic_viscosity
from witnessmark.physics.oil import oil_pressure as pressure_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.logistic import step
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS, oil_c, own_speed, own_warmth, speed_rpm
from witnessmark.vocabulary import Condition, Query

__all__ = [
    "RULES",
    "coolant_missing",
    "gallery_kpa",
    "in_the_engine",
    "pump_share",
    "sound_oil",
    "viscosity_pas",
]

_CRANKING_RPM = 220.0
_SUMP_L = 4.5  # oil in the engine at the upper mark; our guess
_BARE_L, _BARE_SD_L, _FOAM = 3.0, 0.4, 0.3  # missing litres at which the pickup draws air, and what flow is left then
_PICKUP_RPM = 7800.0  # speed up to which a free pickup lets the pump fill; our guess

_OF_OIL = ("oil_supply", "oil_viscosity", "oil_fuel", "fluid_deficit")
_LEVELS = ("oil", "coolant")


def in_the_engine(batch: Batch, celsius: Values) -> Values:
    """Viscosity of the oil that is in the engine, at a temperature.

    Parameters
    ----------
    batch : Batch
    celsius : float or array, shape (n,) [C]

    Returns
    -------
    float or array, shape (n,) [Pa s]
    """
    thickness = np.maximum(batch.column("oil_viscosity", "engine"), 0.05)
    fuel = np.clip(batch.column("oil_fuel", "engine"), 0.0, 0.5)
    return dynamic_viscosity(celsius, Oil(), oil_viscosity=thickness, oil_fuel=fuel)


def viscosity_pas(batch: Batch, condition: Condition) -> Values:
    """Viscosity of the oil under a condition.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [Pa s]
    """
    key = ("oil viscosity", condition.state, condition.coolant_c)
    return batch.once(key, lambda: in_the_engine(batch, oil_c(batch, condition)))


def pump_share(batch: Batch, rpm: Values) -> NDArray[np.float64]:
    """Flow of the oil pump over a sound one's: its own wear, the level, and a choked pickup.

    Parameters
    ----------
    batch : Batch
    rpm : float or array, shape (n,) [rpm]

    Returns
    -------
    ndarray, shape (n,) [-]

    Notes
    -----
    Docs/physics.md, "oil pressure". A pickup lets so much through, and no more: it starves the fast engine first. A
    level below the pickup draws air.
    """
    missing = batch.column("fluid_deficit", "engine")
    foaming = step((missing - _BARE_L) / _BARE_SD_L)
    free = 1.0 - np.clip(batch.column("restriction", "pickup"), 0.0, 0.999)
    most = _PICKUP_RPM * free / np.maximum(rpm, 1.0)
    pumped = np.maximum(batch.column("oil_supply", "engine"), 0.0) * (1.0 - (1.0 - _FOAM) * foaming)
    return np.asarray(np.minimum(pumped, most), dtype=np.float64)


def gallery_kpa(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """Gauge pressure in the main gallery.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [kPa]
    """

    def solved() -> NDArray[np.float64]:
        rpm = _CRANKING_RPM if condition.state == "cranking" else speed_rpm(batch, condition)
        supply = pump_share(batch, rpm)
        found = pressure_of(rpm, viscosity_pas(batch, condition), OilCircuit(), oil_supply=supply)
        return np.broadcast_to(np.asarray(found, dtype=np.float64) / 1e3, (batch.rows,))

    return batch.once(("oil pressure", condition.state, condition.speed_rpm, condition.coolant_c), solved)


def _pressure(batch: Batch, query: Query) -> Values:
    if query.condition.state in STANDS:
        return 0.0
    return gallery_kpa(batch, query.condition)


def _level(batch: Batch, query: Query) -> Values:
    """Over or under the mark: what is missing, and the fuel that has come to the oil."""
    if query.place.get("fluid") == "oil":
        fuel = np.clip(batch.column("oil_fuel", "engine"), 0.0, 0.5)
        return _SUMP_L * fuel / (1.0 - fuel) - batch.column("fluid_deficit", "engine")
    return -coolant_missing(batch)


def coolant_missing(batch: Batch) -> NDArray[np.float64]:
    """Coolant that is missing, whichever cylinder it has gone to.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n,) [L]
    """
    usual, _ = healthy_of("fluid_deficit", "cylinder_1")
    lost = batch.table("fluid_deficit", cylinders_of(batch.model.engine)) - usual
    return np.asarray(usual + lost.sum(axis=1))


def _no_such_fluid(model: DriveModel, query: Query) -> str | None:
    fluid = query.place.get("fluid")
    if fluid in _LEVELS:
        return None
    return f"nothing in the state of an engine holds how much {fluid} there is; only oil and coolant"


def sound_oil(condition: Condition) -> Iterator[Nuisance]:
    """What sound engines' oil differs in.

    Parameters
    ----------
    condition : Condition

    Yields
    ------
    Nuisance
        State variables, then what the condition leaves open.
    """
    for name in _OF_OIL:
        yield Nuisance(name, "engine", *healthy_of(name, "engine"))
    yield Nuisance("restriction", "pickup", *healthy_of("restriction", "pickup"))
    yield from own_speed(condition)
    yield from own_warmth(condition)


def _of_pressure(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from sound_oil(query.condition)


def _of_level(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    """Coolant's spread is the engine's, shared evenly among its cylinders."""
    if query.place.get("fluid") == "oil":
        for name in ("fluid_deficit", "oil_fuel"):
            yield Nuisance(name, "engine", *healthy_of(name, "engine"))
        return
    for place in cylinders_of(model.engine):
        mean, sd = healthy_of("fluid_deficit", place)
        yield Nuisance("fluid_deficit", place, mean, sd / model.engine.cylinders**0.5)


# Tolerances are our guess: a circuit's sizes are open by a fifth, and marks are read to a few tenths of a litre.
RULES: Mapping[str, Rule] = {
    "oil_pressure": Rule(_pressure, Tolerance(15.0, 0.2), nuisances=_of_pressure),
    "level_seen": Rule(_level, Tolerance(0.1), _no_such_fluid, _of_level),
}
