"""Whether what is drawn in while cranking is a mixture that lights, neither flooded nor starved; all cylinders alike.

(docs/physics.md, "starting")
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics.fuelsupply import FuelSupply, pressure_held
from witnessmark.predict.airdescribed import described
from witnessmark.predict.airedits import lost_area
from witnessmark.predict.batch import Batch
from witnessmark.predict.logistic import step
from witnessmark.predict.setting import coolant_c
from witnessmark.vocabulary import Condition

__all__ = ["mixture_lights", "start_need"]

_Array = NDArray[np.float64]

_NEED_K, _NEED_FROM_C = 60.0, 90.0  # kelvin by which the fuel of a start grows e-fold, below warm; from memory
_RICH, _LEAN, _BLUR = 2.0, 0.5, 0.15  # of what a start needs; a sound computer gives about that; our guess
_STOOD_S = 600.0  # for which an engine that is cranked hot has stood; our guess
_RAIL_MG_PER_KPA = 2.0  # as in predict.fuelside
_MANIFOLD_MG_PER_L = 80.0  # fuel that makes the air of a litre of manifold right; 1.18 g of air over 14.7
_VOLUME = 1.5  # litres of manifold and ports for each litre swept; our guess
_EVAPORATES = 0.4  # of what has dripped, and spreads over all cylinders; our guess
_HOT_FROM_C, _HOT_C = 50.0, 80.0  # of a manifold in which it evaporates, and a rail in which it boils; our guess
_SHOWN_C = (-60.0, 200.0)
_AMBIENT_KPA = 100.0
# Clausius and Clapeyron, as in physics.tankvent; a rail beside the coolant.
_VAPOUR_AT_C, _PER_K, _COOLER_K = 37.8, 0.035, 20.0
_LOCKS, _LOCK_BLUR_KPA = 0.6, 25.0  # starts that vapour in the rail spoils or draws out; our guess
_CRANKED_MM2 = 30.0  # past which two litres draw while cranked: an open purge valve counts against it; our guess
_RIGHT_SHARE = 0.064  # fuel in a mixture that is right


def start_need(celsius: _Array | float) -> _Array:
    """Fuel that a start takes at a warmth, over a warm one's.

    Parameters
    ----------
    celsius : float or array, shape (n,)
        Of the coolant.

    Returns
    -------
    ndarray, shape (n,) or () [-]

    Notes
    -----
    Of cold fuel a part evaporates only: three times as much at 20 °C, six times at -20 °C (from memory).
    """
    return np.asarray(np.exp(np.maximum(_NEED_FROM_C - np.asarray(celsius, dtype=np.float64), 0.0) / _NEED_K))


def mixture_lights(batch: Batch, condition: Condition) -> _Array:
    """Chance that the mixture of a start lights.

    Parameters
    ----------
    batch : Batch
    condition : Condition
        Of the start: its warmth counts.

    Returns
    -------
    ndarray, shape (n,) [-]
        Close to 1 for a sound engine.
    """
    true = np.asarray(coolant_c(batch, condition), dtype=np.float64)
    hot = np.clip((true - _HOT_FROM_C) / (_HOT_C - _HOT_FROM_C), 0.0, 1.0)
    shown = np.clip(true + batch.column("sensor_offset", "ect"), *_SHOWN_C)
    asked = start_need(shown) / start_need(true)
    given = np.log(asked + hot * _dripped(batch) + _drawn_from_canister(batch) / start_need(true))
    flooded = step((given - np.log(_RICH)) / _BLUR)
    starved = step((np.log(_LEAN) - given) / _BLUR)
    return np.asarray((1.0 - flooded) * (1.0 - starved) * (1.0 - _LOCKS * hot * _boils(batch, true)))


def _drips(batch: Batch) -> _Array:
    """Of all injectors [mg/s]."""
    return np.asarray(np.sum(np.maximum(batch.table("injector_leak", cylinders_of(batch.model.engine)), 0.0), axis=1))


def _dripped(batch: Batch) -> _Array:
    """Vapour of what has dripped into the manifold while a hot engine stood, over what its air needs."""
    most = _RAIL_MG_PER_KPA * FuelSupply().set_pressure / 1000.0
    air = _MANIFOLD_MG_PER_L * _VOLUME * described(batch.model.engine).litres
    return np.asarray(_EVAPORATES * np.minimum(_drips(batch) * _STOOD_S, most) / air)


def _drawn_from_canister(batch: Batch) -> _Array:
    """What an open purge valve lets in while cranked, over what a start needs warm."""
    scale = described(batch.model.engine).litres / 2.0
    area = np.maximum(batch.column("area_error", "purge"), 0.0) * (1.0 - lost_area(batch, "purge"))
    share = area / (area + _CRANKED_MM2 * scale)
    return np.asarray(share * np.clip(batch.column("inflow_fuel", "purge"), 0.0, 1.0) / _RIGHT_SHARE)


def _boils(batch: Batch, warm_c: _Array) -> _Array:
    """Chance that the pressure left in the rail of an engine that has stood no longer keeps its fuel from boiling."""
    bleeds = np.maximum(batch.column("rail_bleed", "rail"), 0.0) + 60.0 * _drips(batch) / _RAIL_MG_PER_KPA
    left = np.asarray(pressure_held(FuelSupply().set_pressure, bleeds, _STOOD_S)) / 1000.0
    volatility = np.maximum(batch.column("fuel_volatility", "fuel"), 0.0)
    boiling = volatility * np.exp(_PER_K * (warm_c - _COOLER_K - _VAPOUR_AT_C)) - _AMBIENT_KPA
    return np.asarray(step((boiling - left) / _LOCK_BLUR_KPA))
