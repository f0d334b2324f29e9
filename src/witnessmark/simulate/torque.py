"""Torque of one cylinder over a cycle: what makes a crankshaft's speed ripple and dip.

Deliberately plain: polytropic compression and expansion, level pressures during gas exchange, heat released by a
Wiebe law. It has to give speed its true shape, not pressure its true value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CYCLE_STEPS", "CylinderTorque", "Mechanics", "cylinder_torque"]

FloatArray = NDArray[np.float64]

CYCLE_STEPS = 1440
"""Entries of a table over one cycle of 720 degrees."""

_COMPRESSION_EXPONENT = 1.32  # air with heat loss, docs/physics.md: 1.30 to 1.34 at cranking speed
_EXPANSION_SHARE = 0.94  # heat and leakage lost by the time the gas expands
_IVC_DEG, _EVO_DEG = -130.0, 130.0
_EXHAUST_BAR = 1.04
_BAR = 1e5


@dataclass(frozen=True, slots=True)
class Mechanics:
    """The moving parts, in SI: sizes of the handbook's invented reference engine unless given.

    Parameters
    ----------
    bore_m, stroke_m, rod_m : float [m]
    compression_ratio : float [-]
    reciprocating_kg : float [kg]
        Piston, pin and the rod's upper share, of one cylinder.
    inertia_kgm2 : float [kg m2]
        Crankshaft, flywheel and what turns with them.
    drag_nm, drag_nms : float [N m], [N m s]
        Friction at rest, and its growth with crank speed.
    """

    bore_m: float = 0.086
    stroke_m: float = 0.086
    rod_m: float = 0.143
    compression_ratio: float = 10.5
    reciprocating_kg: float = 0.5
    inertia_kgm2: float = 0.16
    drag_nm: float = 14.0
    drag_nms: float = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class CylinderTorque:
    """Tables over one cycle, 0 = firing top dead centre, every half degree, shape (CYCLE_STEPS,).

    Parameters
    ----------
    per_bar : array [N m / bar]
        By the gas drawn in, for each bar of manifold pressure.
    constant : array [N m]
        By the exhaust stroke and the air under the piston.
    burnt : array [-]
        By combustion, scaled to a mean of 1 over the cycle.
    inertia : array [kg m2]
        By the piston's mass, to be multiplied by the crank speed (rad/s) squared.
    """

    per_bar: FloatArray
    constant: FloatArray
    burnt: FloatArray
    inertia: FloatArray


def cylinder_torque(mechanics: Mechanics) -> CylinderTorque:
    """Torque tables of one cylinder.

    Parameters
    ----------
    mechanics : Mechanics

    Returns
    -------
    CylinderTorque

    Notes
    -----
    Slider-crank volume and its derivatives as in Heywood (docs/physics.md), torque = (p - p0) dV/dangle.
    """
    theta = np.arange(CYCLE_STEPS, dtype=np.float64) * (720.0 / CYCLE_STEPS)
    centred = np.asarray(
        (theta + 360.0) % 720.0 - 360.0, dtype=np.float64
    )  # -360 .. 360 around the firing top dead centre
    angle = np.radians(centred)
    r, rod = 0.5 * mechanics.stroke_m, mechanics.rod_m
    area = 0.25 * np.pi * mechanics.bore_m**2
    clearance = area * mechanics.stroke_m / (mechanics.compression_ratio - 1.0)
    root = np.sqrt(rod**2 - (r * np.sin(angle)) ** 2)
    volume = clearance + area * (r * (1.0 - np.cos(angle)) + rod - root)
    slope = area * r * (np.sin(angle) + r * np.sin(angle) * np.cos(angle) / root)

    at_ivc = np.interp(_IVC_DEG, centred, volume, period=720.0)
    closed = (centred >= _IVC_DEG) & (centred <= _EVO_DEG)
    exhaust = (centred > _EVO_DEG) & (centred < 355.0)
    squeezed = (at_ivc / volume) ** _COMPRESSION_EXPONENT
    loss = np.where(centred > 0.0, _EXPANSION_SHARE, 1.0)
    drawn = np.where(closed, squeezed * loss, np.where(exhaust, 0.0, 1.0))
    pushed = np.where(exhaust, _EXHAUST_BAR, 0.0)
    burnt = slope * np.where(closed, _wiebe(centred) * (clearance / volume) ** 1.28, 0.0)

    # Piston position over the crank radius, and its derivatives by angle, from the table itself.
    place = (volume - clearance) / area
    step = np.radians(720.0 / CYCLE_STEPS)
    first = (np.roll(place, -1) - np.roll(place, 1)) / (2.0 * step)
    second = (np.roll(place, -1) - 2.0 * place + np.roll(place, 1)) / step**2
    return CylinderTorque(
        per_bar=slope * drawn * _BAR,
        constant=slope * (pushed - 1.0) * _BAR,
        burnt=burnt / burnt.mean(),
        inertia=-mechanics.reciprocating_kg * first * second,
    )


def _wiebe(angle_deg: FloatArray) -> FloatArray:
    """Share of the fuel burnt: from 8 degrees before top dead centre, over 55 degrees."""
    x = np.clip((angle_deg + 8.0) / 55.0, 0.0, None)
    return np.asarray(1.0 - np.exp(-5.0 * x**3))
