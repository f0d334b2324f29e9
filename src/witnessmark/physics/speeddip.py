"""How far a cranked engine slows down over each compression: what the gas sees is not the mean speed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values
from witnessmark.physics.crankspeed import compression_torque_nm
from witnessmark.physics.slidercrank import CylinderGeometry

__all__ = ["speed_at_compression"]

Array = NDArray[np.float64]

_STEP_DEG = 2.0
_SLOWEST = 0.1  # of the mean: below, the crank as good as stands
_AROUND_DEG = (-30.0, 10.0)  # where leak and heat take from the tower what they take
_ROUNDS = 6


def speed_at_compression(
    geometry: CylinderGeometry,
    cylinders: int,
    mean_rpm: Values,
    inertia_kgm2: Values,
    *,
    closing_deg: float = 50.0,
    droop: float = 2.0,
    exponent: float = 1.32,
    pressure_pa: float = 1e5,
) -> Values:
    """Speed of a cranked engine about compression TDC over its mean speed.

    Parameters
    ----------
    geometry : CylinderGeometry
        Of each cylinder; they fire evenly.
    cylinders : int
    mean_rpm : float or array, shape (n,) [rpm]
        Turns over time.
    inertia_kgm2 : float or array, shape (n,) [kg m2]
        Of the crank, with the starter's armature through its gear.
    closing_deg : float [deg]
        Where the intake valve shuts in effect, after bottom dead centre.
    droop : float [-]
        Share by which the starter's torque rises where the speed falls by all of itself.
    exponent : float [-]
        Of compression.
    pressure_pa : float [Pa]
        Where the valve shuts; that beneath the piston is taken as the same.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        Where there is no cylinder, no speed or no inertia.

    Notes
    -----
    Docs/physics.md, "speed about compression". Kinetic energy over one firing interval, with the gas torque of all
    cylinders (polytropic, the same down as up, so without a mean) taken off: d(½ J ω²)/dθ = T (1 + droop (1 − ω/ω₀))
    − T − T_gas; follows from the work of all torques. Periodic, marched over the angle; mean speed is that over time.
    Friction, the pistons' inertia and what the gas loses are left out.

    Examples
    --------
    >>> one = CylinderGeometry(0.086, 0.086, 0.143, 10.5)
    >>> [f"{speed_at_compression(one, n, 200.0, 0.3):.2f}" for n in (3, 4, 6, 8)]
    ['0.58', '0.66', '0.80', '0.90']
    """
    speed, inertia = np.broadcast_arrays(np.asarray(mean_rpm, dtype=np.float64), np.asarray(inertia_kgm2))
    if cylinders < 1 or np.any(speed <= 0.0) or np.any(inertia <= 0.0):
        raise EngineDefinitionError(
            "no cylinder, no speed or no inertia", given=f"{cylinders}, {mean_rpm}, {inertia_kgm2}"
        )
    wanted = np.atleast_1d(speed) * np.pi / 30.0
    angle, torque = _gas_torque(geometry, cylinders, closing_deg, exponent, pressure_pa)
    share = _about_top(angle, _marched(torque, wanted, np.atleast_1d(inertia), droop))
    found: Values = share if speed.ndim else float(share[0])
    return found


def _gas_torque(
    geometry: CylinderGeometry, cylinders: int, closing_deg: float, exponent: float, pressure_pa: float
) -> tuple[Array, Array]:
    """Angle about one cylinder's TDC and the torque that all cylinders ask for together, over one firing interval."""
    interval = 720.0 / cylinders
    count = max(round(interval / _STEP_DEG), 8)
    angle = (np.arange(count) + 0.5) * interval / count - 0.5 * interval
    whole = np.zeros(count)
    for k in range(-cylinders, cylinders + 1):
        at = angle + k * interval
        shut = np.abs(at) < 180.0 - closing_deg
        own = np.asarray(compression_torque_nm(geometry, closing_deg, exponent, pressure_pa, -np.abs(at), pressure_pa))
        whole += np.where(shut, np.sign(-at) * own, 0.0)
    return angle, whole - whole.mean()


def _marched(torque: Array, wanted: Array, inertia: Array, droop: float) -> Array:
    """Speed over the interval over its mean in time, shape (n, steps)."""
    step = np.deg2rad(_STEP_DEG)
    level = np.abs(torque).mean()  # the starter's mean torque is of that order; it only sets how stiff it is
    reference = wanted.copy()
    square = wanted**2
    for _ in range(_ROUNDS):
        for _ in range(3):
            found = np.empty((len(wanted), len(torque)))
            for k, own in enumerate(torque):
                omega = np.sqrt(square)
                push = level * droop * (1.0 - omega / reference)
                square = np.maximum(square + 2.0 * step * (push - own) / inertia, (_SLOWEST * wanted) ** 2)
                found[:, k] = np.sqrt(square)
        mean = 1.0 / np.mean(1.0 / found, axis=1)
        reference = reference * wanted / mean
        square = square * (wanted / mean) ** 2
    return np.asarray(found / mean[:, None])


def _about_top(angle: Array, share: Array) -> Array:
    near = (angle >= _AROUND_DEG[0]) & (angle <= _AROUND_DEG[1])
    return np.asarray(1.0 / np.mean(1.0 / share[:, near], axis=1))
