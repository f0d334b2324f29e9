"""What a scope shows of the secondary side: firing voltage and how long the spark burns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.errors import one_of
from witnessmark.physics.firing import Firing, FiringState, GasAtSpark, fire
from witnessmark.predict.batch import Batch
from witnessmark.predict.charge import charge_of
from witnessmark.predict.currents import coil_circuit, coil_of, dwell
from witnessmark.predict.mixing import PLENUM_KPA
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Condition, Query

__all__ = ["FIRES", "RULES", "fired", "no_cylinder", "plenum_spread", "sound_ignition"]

FIRES = (*RUNNING, "cranking")
"""States in which sparks come."""

_LEAN_DEMAND = 0.25  # more demand for one of λ more; our guess


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
    key = ("fired", cylinder, condition.state, condition.speed_rpm)
    return batch.once(key, lambda: _fired(batch, cylinder, condition))


def _fired(batch: Batch, cylinder: int, condition: Condition) -> Firing:
    gas = charge_of(batch, cylinder, condition)
    volts, way = coil_circuit(batch, cylinder, condition)
    coil, plug, boot = f"coil_{cylinder}", f"plug_{cylinder}", f"boot_{cylinder}"
    state = FiringState(
        coil_energy=np.maximum(batch.column("coil_energy", coil), 0.0),
        winding=np.maximum(batch.column("winding", coil) * np.asarray(batch.number("electric:coil_ohm", 1.0)), 0.0),
        spark_gap=np.maximum(batch.column("spark_gap", plug), 0.0),
        plug_shunt=np.maximum(batch.column("plug_shunt", plug), 0.0),
        boot_kv=np.maximum(batch.column("breakdown_kv", boot), 0.1),
        plug_kv=np.maximum(batch.column("breakdown_kv", plug), 0.1),
        boot_ohm=np.maximum(batch.column("resistance", boot) - healthy_of("resistance", boot)[0], 0.0),
    )
    mixture = 1.0 + _LEAN_DEMAND * np.clip(gas.air_ratio - 1.0, -0.3, 1.0)
    return fire(
        state,
        GasAtSpark(np.maximum(gas.pressure, 1000.0), gas.kelvin, mixture),
        coil_of(batch, cylinder),
        volts=volts,
        dwell=dwell(batch, cylinder, condition),
        wiring_ohm=way,
        electrodes=np.asarray(batch.number("electric:electrodes", 0.85)),
    )


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


def plenum_spread(state: str) -> tuple[str, float, float]:
    """The number under which a state's plenum pressure may be assumed, its mean and spread.

    Parameters
    ----------
    state : str

    Returns
    -------
    key : str
    mean, sd : float [kPa]
    """
    return f"air:plenum_kpa:{state}", PLENUM_KPA[state], {"full_load": 5.0, "idle": 5.0}.get(state, 10.0)


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
    key, mean, sd = plenum_spread(state)
    yield Nuisance(key, "", mean, sd)


# Probe and pattern differ by a fifth from car to car, and burning voltage by flow; our guess.
RULES: Mapping[str, Rule] = {
    "firing_voltage": Rule(_firing_kv, Tolerance(0.5, 0.2), no_cylinder, sound_ignition),
    "spark_duration": Rule(_duration, Tolerance(0.15, 0.2), no_cylinder, sound_ignition),
}
