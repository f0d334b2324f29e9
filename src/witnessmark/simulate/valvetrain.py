"""A vehicle's own valve train: lobes, play and flow as this one has them, not as a description takes them for granted.

The lift law and the flow coefficients are drawn by the vehicle's seed; what predicts engines uses one law for all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.breathing import Breathing, ValveTiming
from witnessmark.physics.gasengine import Choose
from witnessmark.physics.lift import Lobe
from witnessmark.physics.valveflow import Valves
from witnessmark.simulate.draws import stream

__all__ = ["ValveMake", "opening_mm", "valve_makes"]

FloatArray = NDArray[np.float64]

_POINTS = 2880
_COLD_PLAY_MM = 0.2  # that a train is set to; from memory: 0.1 to 0.3
_SHARES = np.linspace(0.0, 1.0, 181)


@dataclass(frozen=True, slots=True)
class ValveMake:
    """The intake or the exhaust side of every cylinder, as made.

    Parameters
    ----------
    kind : str
        "intake" or "exhaust".
    lobe : Lobe
        With its ramps; angles after firing top dead centre of its own cylinder.
    valves : Valves
        With this vehicle's own flow coefficients.
    """

    kind: str
    lobe: Lobe
    valves: Valves


def valve_makes(breathing: Breathing, value: Choose, seed: int) -> dict[str, ValveMake]:
    """Both sides of a vehicle's valve train.

    Parameters
    ----------
    breathing : Breathing
        Every number known or a range.
    value : callable
        One value of a number, given its path.
    seed : int
        Of the vehicle.

    Returns
    -------
    dict of str to ValveMake
    """
    return {timing.kind: _make(timing, value, stream(seed, "valves", timing.kind)) for timing in breathing.valves}


def _make(said: ValveTiming, value: Choose, rng: np.random.Generator) -> ValveMake:
    at = f"valves.{said.kind}."
    opens, shuts = (value(f"{at}{n}", getattr(said, n)) for n in ("opens_before_deg", "shuts_after_deg"))
    top = 360.0 if said.kind == "intake" else 180.0
    first, last = top - opens, top + 180.0 + shuts
    lift = value(f"{at}lift_mm", said.lift_mm)
    shares = _lobe_shares(rng)
    if said.at_lift_mm.is_known:
        first, last = _to_the_seat(first, last, value(f"{at}at_lift_mm", said.at_lift_mm) / lift, shares)
    lobe = Lobe(first, last, lift, "table", tuple(float(s) for s in shares))
    size, count = value(f"{at}diameter_mm", said.diameter_mm), round(value(f"{at}count", said.count))
    low, high = float(rng.uniform(0.60, 0.80)), float(rng.uniform(0.42, 0.58))
    return ValveMake(said.kind, lobe, Valves(size, count, low, high, float(rng.uniform(0.78, 0.92))))


def _lobe_shares(rng: np.random.Generator) -> FloatArray:
    """A lobe between two laws, one flank steeper than the other, ramps at both ends."""
    lean, fullness = float(rng.uniform(-0.04, 0.04)), float(rng.uniform(0.15, 0.85))
    u = _SHARES + lean * np.sin(np.pi * _SHARES) ** 2
    shares = fullness * 16.0 * (u * (1.0 - u)) ** 2 + (1.0 - fullness) * np.sin(np.pi * u) ** 2
    ramp = float(rng.uniform(0.004, 0.02)) * np.minimum(_SHARES, 1.0 - _SHARES) / 0.06
    shares = np.maximum(shares, np.minimum(ramp, shares.max()))
    shares[0] = shares[-1] = 0.0
    return np.asarray(shares / shares.max())


def _to_the_seat(first: float, last: float, share: float, shares: FloatArray) -> tuple[float, float]:
    """Events at the seat from events counted at a share of the lift: the same lobe, only longer."""
    middle = int(np.argmax(shares))
    up = float(np.interp(share, shares[: middle + 1], _SHARES[: middle + 1]))
    down = float(np.interp(share, shares[middle:][::-1], _SHARES[middle:][::-1]))
    whole = (last - first) / (down - up)
    return first - up * whole, first - up * whole + whole


def opening_mm(
    make: ValveMake, *, early_deg: float, scale: float, lash_mm: float, stands_at: float | None = None
) -> FloatArray:
    """Lift over the cylinder's own cycle from its firing top dead centre on, every quarter degree.

    Parameters
    ----------
    make : ValveMake
    early_deg : float [deg]
        By how much the cam is early.
    scale : float [-]
        Of the lobe's lift.
    lash_mm : float [mm]
        Play more than meant; where all the play that was meant is gone, the valve is held open.
    stands_at : float, optional [deg]
        The cam no longer turns: its lobe stays as it is there.

    Returns
    -------
    array, shape (2880,) [mm]
    """
    angle = np.arange(_POINTS, dtype=np.float64) * (720.0 / _POINTS)
    if stands_at is not None:
        angle = np.full(_POINTS, stands_at)
    lift = np.asarray(make.lobe.with_lash(lash_mm, scale).shifted(early_deg).at(angle))
    return np.asarray(np.maximum(lift, -(lash_mm + _COLD_PLAY_MM)))
