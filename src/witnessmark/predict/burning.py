"""How every cylinder burns its charge: share of cycles that fire, heat, and when half of it is burnt.

The one place where cylinders learn of fuel and spark. Limits of firing and their widths are our guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.stateplaces import bank_of_cylinder, banks_of, state_places
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.firing import FiringState, GasAtSpark, fire
from witnessmark.physics.ignition import Coil
from witnessmark.physics.nozzle import HOLE, signed_flow
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import sensor_offset
from witnessmark.predict.cylinderstate import Cylinders, cylinders
from witnessmark.predict.cylindertables import parts_of, result
from witnessmark.predict.running import regime_of
from witnessmark.predict.stroke import REGIMES
from witnessmark.vocabulary import Condition

__all__ = ["Burning", "burning", "half_burnt_key", "usual_half_burnt"]

Array = NDArray[np.float64]

_STOICHIOMETRIC = 14.6
_RUNNER_SHARE, _OUTSIDE_K = AirPath().runner_share, 298.0
_MOST_TRIM = 0.25
_LEAN, _RICH = (1.4, 0.06), (0.55, 0.04)  # λ at which every second cycle fails, and how wide about it
_RESIDUAL = (0.42, 0.03)  # burnt share of the charge at which every second cycle fails
_LOW_KPA, _LOW_WIDTH = 230.0, 30.0  # peak without combustion at which the charge is too cold to light
_SPARK_SHARE, _SPARK_K = 0.6, 600.0  # pressure at the spark over the peak's; temperature
_OPEN_WINDING = 30.0  # times its resistance: no current to speak of
_SLOWER_DEG, _LEANER_DEG = 30.0, 25.0  # later half burnt for each unit of residual, of λ beyond 1.05
_LATE = 0.00034  # of the work lost for each square degree off the best phasing: by the kernel with combustion
_BEST_DEG = 8.0  # half burnt after TDC for most work [heywood], from memory
_HALF_DEG = {"idle": (14.0, 4.0), "raised": (11.0, 3.0), "open": (9.0, 3.0), "cranking": (15.0, 5.0)}


@dataclass(frozen=True, slots=True)
class Burning:
    """Combustion of every cylinder.

    Parameters
    ----------
    share : array, shape (n, cylinders) [-]
        Of cycles that fire.
    heat : array, shape (n, cylinders) [-]
        Heat of a cycle that fires, over that of its air burnt with just enough fuel.
    half_deg : array, shape (n, cylinders) [deg]
        Half burnt, after TDC.
    efficiency : array, shape (n, cylinders) [-]
        Work over what the best phasing would give.
    fresh_kg : array, shape (n, cylinders) [kg]
        Air of one charge.
    """

    share: Array
    heat: Array
    half_deg: Array
    efficiency: Array
    fresh_kg: Array


def half_burnt_key(condition: Condition) -> str:
    """Key of where half is burnt on a sound engine.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    str
    """
    return f"cylinder:half_burnt_deg:{regime_of(condition)}"


def usual_half_burnt(condition: Condition) -> tuple[float, float]:
    """Where half is burnt on a sound engine: mean and spread.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    tuple of (float, float) [deg]
        After TDC. Our guess: about 8 under load, later at idle, where spark is held in reserve.
    """
    return _HALF_DEG[regime_of(condition)]


def burning(batch: Batch, condition: Condition) -> Burning:
    """Combustion of every cylinder under a condition.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    Burning
    """
    key = ("burning", condition.state, condition.speed_rpm, condition.phaser)
    return batch.once(key, lambda: _burning(batch, condition))


def _burning(batch: Batch, condition: Condition) -> Burning:
    found, regime = cylinders(batch, condition), regime_of(condition)
    swept, kelvin = parts_of(batch.model.engine).sizes.swept_m3, REGIMES[regime].intake_k
    fresh = np.exp(found.read("fresh")) * 1e3 * found.plenum * swept / (287.0 * kelvin)
    mixture = _lambda(batch, found, fresh)
    residual, peak = found.read("residual"), found.plenum * np.exp(found.read("peak"))
    lights = _below(mixture, *_LEAN) * _below(-mixture, -_RICH[0], _RICH[1])
    lights = lights * _below(residual, *_RESIDUAL) * _below(-peak, -_LOW_KPA, _LOW_WIDTH)
    share = lights * _sparks(batch, peak, mixture)
    usual = np.asarray(batch.number(half_burnt_key(condition), usual_half_burnt(condition)[0]))
    slip = np.asarray(batch.get("wheel_slip", CRANK) + sensor_offset(batch.state, CRANK))
    sound = float(found.tables.middle[result("residual")])
    half = np.broadcast_to(_column(usual) - _column(slip), found.shape)
    half = half + _SLOWER_DEG * (residual - sound) + _LEANER_DEG * np.maximum(mixture - 1.05, 0.0)
    efficiency = np.maximum(1.0 - _LATE * (half - _BEST_DEG) ** 2, 0.2)
    return Burning(share, np.minimum(1.0, 1.0 / np.maximum(mixture, 1e-3)), half, efficiency, fresh)


def _column(value: Array) -> Array:
    return value[:, None] if value.ndim == 1 else value


def _below(x: Array, limit: float, width: float) -> Array:
    """1 well below a limit, ½ at it, 0 well above: a logistic curve."""
    return np.asarray(1.0 / (1.0 + np.exp(np.clip((x - limit) / width, -50.0, 50.0))))


def _lambda(batch: Batch, found: Cylinders, fresh: Array) -> Array:
    """λ of every cylinder: injectors of a bank share a trim that holds their mean, as far as it reaches."""
    engine = batch.model.engine
    flow = np.maximum(batch.table("injector_flow", state_places(engine, "cylinder")), 0.0)
    winding = batch.table("winding", state_places(engine, "injector"))
    fuel = flow * _below(winding, _OPEN_WINDING, 2.0)
    need = (np.maximum(fresh, 1e-9) + _let_in(batch, found)) / _STOICHIOMETRIC
    usual = need.mean(axis=1, keepdims=True)
    dripped = 1e-6 * batch.table("injector_leak", state_places(engine, "cylinder")) * 120.0 / found.speed
    given = fuel * usual + np.maximum(dripped, 0.0)
    mixture = np.empty(found.shape)
    for bank in banks_of(engine):
        own = [k for k in range(engine.cylinders) if bank_of_cylinder(engine, k + 1) == bank]
        ratio = need[:, own].sum(axis=1) / np.maximum(given[:, own].sum(axis=1), 1e-12)
        trim = np.clip(ratio, 1.0 - _MOST_TRIM, 1.0 + _MOST_TRIM)
        mixture[:, own] = need[:, own] / np.maximum(given[:, own] * trim[:, None], 1e-3 * usual)
    return mixture


def _let_in(batch: Batch, found: Cylinders) -> Array:
    """Air that a leak of its own runner adds to each charge [kg]; the plenum's share is everybody's, and trimmed."""
    holes = (
        HOLE * 1e-6 * np.maximum(batch.table("leak_area", tuple(f"runner_{k + 1}" for k in range(found.shape[1]))), 0.0)
    )
    flow = np.asarray(signed_flow(holes, 1e3 * found.outside, 1e3 * found.plenum, _OUTSIDE_K, _OUTSIDE_K))
    return np.asarray(_RUNNER_SHARE * np.maximum(flow, 0.0) * 120.0 / found.speed)


def _sparks(batch: Batch, peak: Array, mixture: Array) -> Array:
    """Share of cycles with a spark in the gap."""
    engine = batch.model.engine
    coil, plug, boot = (state_places(engine, kind) for kind in ("coil", "plug", "boot"))
    winding = np.maximum(batch.table("winding", coil), 1e-3)
    state = FiringState(
        coil_energy=np.maximum(batch.table("coil_energy", coil), 1e-3),
        winding=winding,
        spark_gap=np.maximum(batch.table("spark_gap", plug), 0.05),
        plug_shunt=np.maximum(batch.table("plug_shunt", plug), 0.0),
        boot_kv=batch.table("breakdown_kv", boot),
        plug_kv=batch.table("breakdown_kv", plug),
        boot_ohm=np.maximum(batch.table("resistance", boot), 0.0),
    )
    gas = GasAtSpark(1e3 * _SPARK_SHARE * peak, _SPARK_K, 1.0 + 0.3 * np.clip(mixture - 1.0, 0.0, 1.0))
    return np.asarray(1.0 - np.asarray(fire(state, gas, Coil()).misfire_share))
