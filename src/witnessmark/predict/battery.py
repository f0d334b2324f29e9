"""The battery as it is now: voltage at rest and resistance (docs/physics.md, "battery and starter")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.physics.battery import battery_ohm, open_circuit_volts
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import ambient_c, weather
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "battery_now", "of_a_battery"]


def battery_now(batch: Batch, condition: Condition) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Voltage at rest and resistance of the battery, as warm as the air or as the cold engine.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    volts : ndarray, shape (n,) [V]
    ohm : ndarray, shape (n,) [ohm]
    """
    celsius = ambient_c(batch)
    if condition.coolant_c is not None:
        celsius = np.minimum(celsius, condition.coolant_c)
    charge = np.clip(batch.column("battery_charge", "battery"), 0.0, 1.0)
    own = np.maximum(batch.column("battery_resistance", "battery"), 0.1)
    volts = open_circuit_volts(charge, celsius)
    ohm = battery_ohm(own, charge=charge, celsius=celsius)
    return np.broadcast_to(volts, (batch.rows,)), np.broadcast_to(ohm, (batch.rows,))


def of_a_battery() -> Iterator[Nuisance]:
    """What sound batteries differ in.

    Yields
    ------
    Nuisance
    """
    for name in ("battery_resistance", "battery_charge"):
        yield Nuisance(name, "battery", *healthy_of(name, "battery"))
    yield weather()


def _ohm(batch: Batch, query: Query) -> Values:
    return 1e3 * battery_now(batch, query.condition)[1]


def _of_battery(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from of_a_battery()


# What testers of one kind make of one battery: our guess.
RULES: Mapping[str, Rule] = {"battery_ohm": Rule(_ohm, Tolerance(0.0, 0.1), nuisances=_of_battery)}
