"""How every cylinder burns its charge: share of cycles that fire, heat, and when half of it is burnt.

The one place where cylinders learn of fuel and spark.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import sensor_offset
from witnessmark.predict.cylinderstate import cylinders
from witnessmark.predict.cylindertables import parts_of, result
from witnessmark.predict.misfires import misfiring
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.running import regime_of
from witnessmark.predict.setting import STANDS
from witnessmark.predict.stroke import REGIMES
from witnessmark.vocabulary import Condition

__all__ = ["Burning", "burning", "half_burnt_key", "usual_half_burnt"]

Array = NDArray[np.float64]

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
    return batch.once(("burning", condition), lambda: _burning(batch, condition))


def _burning(batch: Batch, condition: Condition) -> Burning:
    found, regime = cylinders(batch, condition), regime_of(condition)
    swept, kelvin = parts_of(batch.model.engine).sizes.swept_m3, REGIMES[regime].intake_k
    fresh = np.exp(found.read("fresh")) * 1e3 * found.plenum * swept / (287.0 * kelvin)
    now = replace(condition, state="idle") if condition.state in STANDS else condition
    mixture, share = lambda_of(batch, now), 1.0 - misfiring(batch, now)
    residual = found.read("residual")
    usual = np.asarray(batch.number(half_burnt_key(condition), usual_half_burnt(condition)[0]))
    slip = np.asarray(batch.get("wheel_slip", CRANK) + sensor_offset(batch.state, CRANK))
    sound = float(found.tables.middle[result("residual")])
    half = np.broadcast_to(_column(usual) - _column(slip), found.shape)
    half = half + _SLOWER_DEG * (residual - sound) + _LEANER_DEG * np.maximum(mixture - 1.05, 0.0)
    efficiency = np.maximum(1.0 - _LATE * (half - _BEST_DEG) ** 2, 0.2)
    return Burning(share, np.minimum(1.0, 1.0 / np.maximum(mixture, 1e-3)), half, efficiency, fresh)


def _column(value: Array) -> Array:
    return value[:, None] if value.ndim == 1 else value
