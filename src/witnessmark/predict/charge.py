"""One cylinder's charge when it is lit: how much of it is left, and how dense it is at the spark.

How much the plenum offers is for others to say (:mod:`witnessmark.predict.mixing`), or what is usual of a state.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import pairs_of
from witnessmark.physics.gasengine import usual_breathing
from witnessmark.physics.normal import ndtr
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import cam_of_cylinder, true_phase
from witnessmark.predict.model import Values
from witnessmark.predict.supplies import speed_of
from witnessmark.vocabulary import Condition

__all__ = ["ADVANCE_DEG", "PLENUM_KPA", "Charge", "charge_of", "compression", "usual_plenum"]

_Array = NDArray[np.float64]

ADVANCE_DEG: Mapping[str, float] = {
    "cranking": 5.0, "warm_up": 5.0, "idle": 12.0, "raised": 25.0, "cruise": 30.0, "acceleration": 25.0,
    "full_load": 20.0, "snap": 20.0, "overrun": 20.0,
}  # fmt: skip
"""Usual spark before firing TDC: common practice, no source."""

PLENUM_KPA: Mapping[str, float] = {
    "off": 101.0, "key_on": 101.0, "cranking": 92.0, "warm_up": 42.0, "idle": 35.0, "raised": 33.0, "cruise": 50.0,
    "acceleration": 80.0, "full_load": 98.0, "snap": 92.0, "overrun": 25.0,
}  # fmt: skip
"""Usual plenum pressure: HANDBOOK §6's idle, 2500, cruise and full load; the rest common practice, no source."""

_LOST_PER_MM2 = 0.15  # at 200 rpm and half a litre: HANDBOOK §3, exponent 1.338 to 1.200 by 2 mm2


@dataclass(frozen=True, slots=True)
class Charge:
    """A cylinder's charge at the spark.

    Parameters
    ----------
    pressure : array, shape (n,) [Pa]
    kelvin : array, shape (n,) [K]
    compression : array, shape (n,) [-]
        What is left of a sound cylinder's compressed charge.
    """

    pressure: _Array
    kelvin: _Array
    compression: _Array


def _early(batch: Batch, cylinder: int, kind: str) -> _Array:
    """Crank degrees by which a cylinder's cam is early, at rest; a cam that stands counts as 180 off."""
    cam = cam_of_cylinder(batch.model.engine, cylinder, kind)
    if cam is None:
        return np.zeros(batch.rows)
    phase = true_phase(batch.model, cam, batch.state, batch.numbers, 0.0)
    turning = np.asarray(batch.model.connected(cam, batch.state)) > 0.5
    return np.broadcast_to(np.where(turning, phase, -180.0), (batch.rows,))


def usual_plenum(batch: Batch, condition: Condition) -> float:
    """Plenum pressure that is usual of a state.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    float, shape () [Pa]
    """
    state = condition.state or "idle"
    boosted = batch.model.engine.breathing.air.boost in ("turbo", "mechanical")
    return 1000.0 * PLENUM_KPA[state] * (1.5 if boosted and state in ("full_load", "acceleration") else 1.0)


def charge_of(batch: Batch, cylinder: int, condition: Condition, plenum: Values) -> Charge:
    """The charge of one cylinder when its spark comes.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition
        One in which the engine turns.
    plenum : float or array, shape (n,) [Pa]
        Pressure in the plenum.

    Returns
    -------
    Charge
    """
    kept = compression(batch, cylinder, condition)
    sizes, intake = usual_breathing(batch.model.engine).cylinder, usual_breathing(batch.model.engine).valve("intake")
    ratio = 1.0 + (_mean(sizes.compression_ratio) - 1.0) / np.maximum(
        batch.column("clearance_scale", f"cylinder_{cylinder}"), 0.1
    )
    shuts = np.clip(_mean(intake.shuts_after_deg) - _early(batch, cylinder, "intake"), -90.0, 150.0)
    before = ADVANCE_DEG.get(condition.state or "idle", 10.0) + batch.column("wheel_slip", CRANK)  # it times the spark
    squeezed = _volume(180.0 - shuts, ratio) / _volume(np.clip(before, -170.0, 170.0), ratio)
    squeezed = np.maximum(squeezed, 0.2)
    return Charge(plenum * kept * squeezed**1.3, 345.0 * squeezed**0.3, kept)


def _mean(number: object) -> float:
    return float(getattr(number, "mean", None) or 10.0)


def _volume(before_tdc_deg: Values, ratio: Values) -> _Array:
    """Volume over the clearance's: HANDBOOK §2 with a rod of 3.3 cranks."""
    a = np.deg2rad(before_tdc_deg)
    piston = 1.0 - np.cos(a) + 3.3 - np.sqrt(3.3**2 - np.sin(a) ** 2)
    return np.asarray(1.0 + (ratio - 1.0) * piston / 2.0)


# ---------------------------------------------------------------- how much


def compression(batch: Batch, cylinder: int, condition: Condition) -> _Array:
    """What is left of a sound cylinder's compressed charge: valves that let too little in, leaks that let it out.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition

    Returns
    -------
    array, shape (n,) [-]
        A leak costs by the time it has: the more the slower the engine turns.
    """
    place = f"cylinder_{cylinder}"
    rpm = max(speed_of(condition.state, condition.speed_rpm), 100.0)
    leak = batch.column("ring_leak", place) - healthy_of("ring_leak", place)[0] + batch.column("gasket_leak", place)
    leak = leak + sum(batch.column("valve_leak", f"{place}.{kind}") for kind in ("intake", "exhaust"))
    for pair in pairs_of(batch.model.engine, cylinder):
        leak = leak + batch.column("gasket_leak", pair)
    open_late = ndtr((batch.column("stem_drag", f"{place}.exhaust") - _spring(batch, f"{place}.exhaust")) / 60.0)
    open_late = np.maximum(
        open_late, ndtr((batch.column("stem_drag", f"{place}.intake") - _spring(batch, f"{place}.intake")) / 60.0)
    )
    lost = np.exp(-_LOST_PER_MM2 * np.maximum(leak, -0.4) * 200.0 / rpm)
    lifted = np.minimum(_lifted(batch, f"{place}.intake"), _lifted(batch, f"{place}.exhaust"))
    narrow = np.maximum(
        batch.column("restriction", f"runner_{cylinder}"), batch.column("restriction", f"port_{cylinder}")
    )
    port = 1.0 - np.clip(narrow, 0.0, 1.0) ** 4
    cut = 1.0 - 0.5 * np.clip(batch.column("valve_mode_error", place), 0.0, 1.0)
    return np.asarray(np.minimum(lost, 1.2) * lifted * port * cut * (1.0 - 0.8 * open_late))


def _spring(batch: Batch, valve: str) -> _Array:
    return 250.0 * batch.column("spring_scale", valve)  # newtons of a shut valve's spring; our guess


def _lifted(batch: Batch, valve: str) -> _Array:
    """A valve that opens by half still lets most of a part-throttle charge through."""
    share = batch.column("lift_scale", valve) - np.maximum(batch.column("lash_error", valve), 0.0) / 9.5
    return np.asarray(np.minimum(1.0, 2.5 * np.clip(share, 0.0, 1.0)))
