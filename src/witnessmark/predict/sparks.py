"""What a scope shows of the secondary side: firing voltage and how long the spark burns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.errors import one_of
from witnessmark.physics.firing import Firing
from witnessmark.predict.airplaces import sound_air
from witnessmark.predict.batch import Batch
from witnessmark.predict.mixing import lambda_of, plenum_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sparking import spark
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Condition, Query

__all__ = ["FIRES", "RULES", "fired", "no_cylinder", "sound_ignition"]

FIRES = (*RUNNING, "cranking")
"""States in which sparks come."""


def fired(batch: Batch, cylinder: int, condition: Condition) -> Firing:
    """A firing of one cylinder.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition
        One in which the engine turns.

    Returns
    -------
    Firing
        n rows.
    """
    gas = plenum_of(batch, condition), lambda_of(batch, condition)[:, cylinder - 1]
    return batch.once(("fired", cylinder, condition), lambda: spark(batch, cylinder, condition, *gas))


def _firing_kv(batch: Batch, query: Query) -> Values:
    return np.asarray(_shown(batch, query, "firing_kv"))


def _duration(batch: Batch, query: Query) -> Values:
    return 1000.0 * np.asarray(_shown(batch, query, "spark_seconds"))


def _shown(batch: Batch, query: Query, what: str) -> Values:
    """No trace where nothing turns, and none to be read where the coil never charges."""
    if (query.condition.state or "idle") not in FIRES:
        return np.nan
    cylinder = int(query.place.get("cylinder") or 1)
    return np.asarray(getattr(fired(batch, cylinder, query.condition), what))


def no_cylinder(model: DriveModel, query: Query) -> str | None:
    """Why a cylinder cannot be asked for: this engine has it not.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    str or None
    """
    known = [str(k) for k in range(1, model.engine.cylinders + 1)]
    asked = str(query.place.get("cylinder"))
    return None if asked in known else one_of("cylinder of this engine", asked, known).message


def sound_ignition(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """What sound ignitions differ in at one cylinder.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    iterable of Nuisance
    """
    k, state = query.place.get("cylinder"), query.condition.state or "idle"
    if state not in FIRES:
        return
    places = [("spark_gap", f"plug_{k}"), ("injector_flow", f"cylinder_{k}")]
    if query.quantity != "firing_voltage":
        places += [("coil_energy", f"coil_{k}"), ("winding", f"coil_{k}")]
    if state == "cranking":
        places += [("ring_leak", f"cylinder_{k}"), ("battery_charge", "battery"), ("battery_resistance", "battery")]
    for variable, place in places:
        yield Nuisance(variable, place, *healthy_of(variable, place))
    yield Nuisance("electric:electrodes", "", 0.85, 0.1)
    yield from sound_air("numbers")(model, query)


# Probe and pattern differ by a fifth from car to car, and burning voltage by flow; our guess.
RULES: Mapping[str, Rule] = {
    "firing_voltage": Rule(_firing_kv, Tolerance(0.5, 0.2), no_cylinder, sound_ignition),
    "spark_duration": Rule(_duration, Tolerance(0.15, 0.2), no_cylinder, sound_ignition),
}
