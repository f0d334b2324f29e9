"""What a crankshaft's speed tells of the work of its cylinders, and what inertia it turns with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.slidercrank import CylinderGeometry

__all__ = ["compression_torque_nm", "inertia_by_angle", "roughness", "segment_acceleration", "speed_drop_rpm"]

Values = float | NDArray[np.float64]


def inertia_by_angle(
    rotating_kgm2: float,
    cylinders: Sequence[tuple[CylinderGeometry, float]],
    reciprocating_kg: float,
    points: int,
) -> NDArray[np.float64]:
    """Inertia of the crank over one cycle, pistons included: J + Σ m s′².

    Parameters
    ----------
    rotating_kgm2 : float [kg m2]
    cylinders : sequence of (CylinderGeometry, float)
        Each with where in the cycle its firing top dead centre lies [deg].
    reciprocating_kg : float [kg]
        Of one cylinder: piston, pin, and the rod's upper share.
    points : int
        Of the cycle.

    Returns
    -------
    array, shape (points,) [kg m2]

    Notes
    -----
    Follows from the kinetic energy ½ J(θ) ω², which holds the torque −m s′ s″ ω² of the pistons: no torque of inertia
    is needed beside it.

    Examples
    --------
    >>> one = CylinderGeometry(0.086, 0.086, 0.143, 10.5)
    >>> float(inertia_by_angle(0.15, [(one, 0.0)], 0.5, 8)[0])
    0.15
    """
    angle = np.asarray(720.0 / points * np.arange(points), dtype=np.float64)
    total = np.full(points, rotating_kgm2, dtype=np.float64)
    for geometry, top in cylinders:
        total = total + reciprocating_kg * np.asarray(geometry.slope_m(angle - top)) ** 2
    return total


def speed_drop_rpm(energy_j: Values, inertia_kgm2: Values, speed_rpm: Values) -> Values:
    """By how much the speed falls when so much energy is missing, to first order.

    Parameters
    ----------
    energy_j : float or array [J]
        One lost power stroke: IMEP times swept volume.
    inertia_kgm2 : float or array [kg m2]
    speed_rpm : float or array [rpm]

    Returns
    -------
    float or array [rpm]

    Notes
    -----
    Follows from the energy of rotation: ΔE = J ω Δω; good to a tenth of the drop where the
    drop is a tenth of the speed.

    Examples
    --------
    >>> f"{speed_drop_rpm(124.9, 0.15, 800.0):.1f}"
    '94.9'
    """
    return energy_j / (inertia_kgm2 * speed_rpm * np.pi / 30.0) * 30.0 / np.pi


def segment_acceleration(angle_rad: float, first_s: Values, second_s: Values) -> Values:
    """Crank acceleration from the times of two segments that follow one another.

    Parameters
    ----------
    angle_rad : float [rad]
        Of one segment.
    first_s, second_s : float or array [s]

    Returns
    -------
    float or array [rad/s2]

    Notes
    -----
    φ (1/t₂ − 1/t₁) / mean(t₁, t₂), follows from mean speeds of the two segments (docs/physics.md, "crank speed").

    Examples
    --------
    >>> f"{segment_acceleration(3.141592653589793, 0.0375, 0.0385):.3f}"
    '-57.263'
    """
    return angle_rad * (1.0 / second_s - 1.0 / first_s) / (0.5 * (first_s + second_s))


def roughness(angle_rad: float, first_s: Values, second_s: Values) -> Values:
    """The same to first order in the difference of the times: −φ (t₂ − t₁) / t̄³.

    Parameters
    ----------
    angle_rad : float [rad]
    first_s, second_s : float or array [s]

    Returns
    -------
    float or array [rad/s2]

    Notes
    -----
    Follows from :func:`segment_acceleration`; definition from memory.

    Examples
    --------
    >>> f"{roughness(3.141592653589793, 0.0375, 0.0385):.3f}"
    '-57.253'
    """
    return -angle_rad * (second_s - first_s) / (0.5 * (first_s + second_s)) ** 3


def compression_torque_nm(
    geometry: CylinderGeometry,
    closing_deg: float,
    exponent: float,
    start_pa: float,
    angle_deg: Values,
    case_pa: float = 1e5,
) -> Values:
    """Torque that polytropic compression asks of the crank.

    Parameters
    ----------
    geometry : CylinderGeometry
    closing_deg : float [deg]
        Where the intake valve shuts, after bottom dead centre.
    exponent : float [-]
    start_pa : float [Pa]
        Pressure there.
    angle_deg : float or array, shape (n,) [deg]
        After firing TDC; from the closing to TDC, −(180 − closing) to 0.
    case_pa : float [Pa]
        Beneath the piston.

    Returns
    -------
    float or array, shape (n,) [N m]
        Positive where the crank has to be pushed.

    Notes
    -----
    −(p − p_case) A ds/dθ follows from p = p₁ (V₁/V)ⁿ.

    Examples
    --------
    >>> one = CylinderGeometry(0.086, 0.086, 0.143, 10.5)
    >>> f"{compression_torque_nm(one, 50.0, 1.3, 1e5, -22.9):.1f}"
    '121.4'
    """
    ratio = geometry.volume_m3(closing_deg - 180.0) / geometry.volume_m3(angle_deg)
    return (case_pa - start_pa * ratio**exponent) * geometry.area_m2 * geometry.slope_m(angle_deg)
