"""Whether a cylinder's spark comes, hot and long enough, and finds a charge: all but what that charge consists of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.dropout import lost_share
from witnessmark.physics.firing import Firing, FiringState, GasAtSpark, fire
from witnessmark.physics.normal import ndtr
from witnessmark.predict.batch import Batch
from witnessmark.predict.charge import charge_of, usual_plenum
from witnessmark.predict.currents import coil_circuit, coil_of, dwell
from witnessmark.predict.model import Values
from witnessmark.predict.setting import coolant_c
from witnessmark.predict.wires import behind
from witnessmark.vocabulary import Condition

__all__ = ["own_failure", "spark", "usual_failure"]

_Array = NDArray[np.float64]

_LEAN_DEMAND = 0.25  # more demand for one of λ more; our guess
_WEAK, _WEAK_WIDTH = 0.45, 0.09  # of a sound charge compressed, below which it fails to light; our guess
_SHORT_MS, _SHORT_WIDTH = 0.2, 0.06  # spark too short to light; our guess
_NARROW_MM, _NARROW_WIDTH = 0.3, 0.06  # gap that quenches; our guess
# Firings that fail on a plug wet with coolant; our guess. Half a bar drives a millilitre in some seconds through
# 0.05 mm2 (Bernoulli), so that any leak much larger has wet its plug by the next start.
_WET_FAILS, _WETS_MM2 = 0.3, 0.05
_STOOD_C, _DRY_C = 20.0, 60.0  # warmth of an engine that has stood, and of one that has burnt it away; our guess
_WATER, _WATER_WIDTH = 0.15, 0.04  # share of the fuel; our guess


def spark(batch: Batch, cylinder: int, condition: Condition, plenum: Values, air_ratio: Values) -> Firing:
    """A firing of one cylinder.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition
        One in which the engine turns.
    plenum : float or array, shape (n,) [Pa]
    air_ratio : float or array, shape (n,) [-]
        λ of this cylinder.

    Returns
    -------
    Firing
        n rows.
    """
    gas = charge_of(batch, cylinder, condition, plenum)
    volts, way = coil_circuit(batch, cylinder, condition)
    coil, plug, boot = f"coil_{cylinder}", f"plug_{cylinder}", f"boot_{cylinder}"
    state = FiringState(
        coil_energy=np.maximum(batch.column("coil_energy", coil), 0.0),
        winding=np.maximum(
            batch.column("winding", coil) * np.maximum(batch.number("electric:coil_ohm", 1.0), 0.1), 0.0
        ),
        spark_gap=np.maximum(batch.column("spark_gap", plug), 0.0),
        plug_shunt=np.maximum(batch.column("plug_shunt", plug), 0.0),
        boot_kv=np.maximum(batch.column("breakdown_kv", boot), 0.1),
        plug_kv=np.maximum(batch.column("breakdown_kv", plug), 0.1),
        boot_ohm=np.maximum(batch.column("resistance", boot) - healthy_of("resistance", boot)[0], 0.0),
    )
    mixture = 1.0 + _LEAN_DEMAND * np.clip(np.asarray(air_ratio) - 1.0, -0.3, 1.0)
    return fire(
        state,
        GasAtSpark(np.maximum(gas.pressure, 1000.0), gas.kelvin, mixture),
        coil_of(batch, cylinder),
        volts=volts,
        dwell=dwell(batch, cylinder, condition),
        wiring_ohm=way,
        electrodes=np.asarray(batch.number("electric:electrodes", 0.85)),
    )


def own_failure(batch: Batch, cylinder: int, condition: Condition, fired: Firing) -> _Array:
    """Chance that a firing fails for what its cylinder has of its own, were the mixture good to light.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition
    fired : Firing
        Its spark.

    Returns
    -------
    array, shape (n,) [-]
    """
    kept = charge_of(batch, cylinder, condition, 1.0).compression
    lit = np.ones(batch.rows)
    for chance in (
        fired.misfire_share,
        ndtr((_SHORT_MS - 1000.0 * np.asarray(fired.spark_seconds)) / _SHORT_WIDTH),
        ndtr((_NARROW_MM - batch.column("spark_gap", f"plug_{cylinder}")) / _NARROW_WIDTH),
        ndtr((_WEAK - kept) / _WEAK_WIDTH),
        ndtr((batch.column("fuel_water", "fuel") - _WATER) / _WATER_WIDTH),
        _contacts(batch, cylinder),
        _wetted(batch, cylinder, condition),
        np.clip(batch.column("circuit_map", f"coil_{cylinder}"), 0.0, 1.0),
        0.5 * np.clip(batch.column("circuit_map", f"injector_{cylinder}"), 0.0, 1.0),
    ):
        lit = lit * (1.0 - np.asarray(chance))
    return 1.0 - lit


def usual_failure(batch: Batch, cylinder: int, condition: Condition) -> _Array:
    """The same with the gas that is usual of a state: what the operating point has to know before it settles.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition

    Returns
    -------
    array, shape (n,) [-]
    """
    fired = spark(batch, cylinder, condition, usual_plenum(batch, condition), 1.0)
    return own_failure(batch, cylinder, condition, fired)


def _wetted(batch: Batch, cylinder: int, condition: Condition) -> _Array:
    """Coolant that came into a cylinder while the engine stood, until it has run itself dry."""
    area = np.maximum(batch.column("gasket_leak", f"cylinder_{cylinder}"), 0.0)
    cold = np.clip((_DRY_C - np.asarray(coolant_c(batch, condition))) / (_DRY_C - _STOOD_C), 0.0, 1.0)
    return np.asarray(_WET_FAILS * -np.expm1(-area / _WETS_MM2) * cold)


def _contacts(batch: Batch, cylinder: int) -> _Array:
    """Share of the time that coil or injector have no contact, wherever on their way."""
    graph, held = supply_of(batch.model.engine), np.ones(batch.rows)
    names = {name for load in ("coil", "injector") for name in behind(graph, f"{load}_{cylinder}")}
    for name in names:
        held = held * (1.0 - np.asarray(lost_share(np.maximum(batch.column("dropout_rate", name), 0.0))))
    return 1.0 - held
