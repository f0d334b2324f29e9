"""The starter: torque, current and speed together with battery and cables.

One law of the field serves all: flux φ(I) = c I/(1 + I/I_s), straight for an unsaturated series winding (I_s endless),
constant for permanent magnets (docs/physics.md, "battery and starter").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = [
    "CrankingPoint",
    "StarterMotor",
    "cranking_point",
    "current_for_torque",
    "flux",
    "torque_of_current",
]


@dataclass(frozen=True, slots=True)
class StarterMotor:
    """A starter motor with its gearing down to the crankshaft.

    Parameters
    ----------
    kind : str
        "permanent_magnet" or "series".
    ohm : float [ohm]
        Armature, field winding and brushes.
    flux : float [N m/A or N m/A^2]
        Of the motor's own shaft: torque for each ampere with permanent magnets, else torque over current squared while
        the field is not saturated.
    saturation_amps : float [A]
        Current at which a series field has half of the flux it would have unsaturated; infinite: it never saturates.
    ratio : float [-]
        Turns of the motor for one of the crank.
    efficiency : float [-]
        Of the gearing.
    """

    kind: str = "permanent_magnet"
    ohm: float = 0.012
    flux: float = 0.007
    saturation_amps: float = np.inf
    ratio: float = 55.0
    efficiency: float = 0.85

    def __post_init__(self) -> None:
        if self.kind not in ("permanent_magnet", "series"):
            raise EngineDefinitionError(
                f"no kind of starter is called “{self.kind}”", expected="permanent_magnet or series"
            )
        for name in ("ohm", "flux", "saturation_amps", "ratio", "efficiency"):
            if not getattr(self, name) > 0.0:
                raise EngineDefinitionError(f"a starter whose {name} is {getattr(self, name):g}", expected="above 0")


@dataclass(frozen=True, slots=True)
class CrankingPoint:
    """Where starter, battery and engine meet.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
        Mean current of the starter.
    crank_speed : float or array, shape (n,) [rad/s]
        0 where the torque is more than it can turn.
    battery_volts : float or array, shape (n,) [V]
        At the battery's posts.
    starter_volts : float or array, shape (n,) [V]
        At the starter's terminals.
    """

    amps: Values
    crank_speed: Values
    battery_volts: Values
    starter_volts: Values


def flux(amps: Values, motor: StarterMotor) -> Values:
    """Torque of the motor's own shaft for each ampere, which is also volts for each rad/s.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
    motor : StarterMotor

    Returns
    -------
    float or array, shape (n,) [N m/A]

    Notes
    -----
    k, or c I/(1 + I/I_s): motor laws from memory, the saturating form our interpolation. That torque and EMF share one
    factor follows from the balance of power.

    Examples
    --------
    >>> float(flux(100.0, StarterMotor("series", flux=1e-4, saturation_amps=100.0)))
    0.005
    """
    if motor.kind == "permanent_magnet":
        return np.full(np.shape(amps), motor.flux)
    return np.divide(np.multiply(motor.flux, amps), 1.0 + np.divide(amps, motor.saturation_amps))


def torque_of_current(amps: Values, motor: StarterMotor, *, starter_drag: Values = 0.0) -> Values:
    """Torque at the crank that a current gives.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
    motor : StarterMotor
    starter_drag : float or array, shape (n,) [N m]
        Lost in a dragging starter, told at the crank.

    Returns
    -------
    float or array, shape (n,) [N m]

    Notes
    -----
    T = φ(I) I: ∝ I with permanent magnets, ∝ I² in a series motor whose field is not saturated (motor laws from memory;
    series torque ∝ I² also read in two textbooks). The saturating form c I²/(1 + I/I_s) is our interpolation.

    Examples
    --------
    >>> f"{torque_of_current(150.0, StarterMotor()):.0f} N m"
    '49 N m'
    """
    shaft = np.multiply(flux(amps, motor), amps)
    return shaft * motor.ratio * motor.efficiency - starter_drag


def current_for_torque(torque: Values, motor: StarterMotor, *, starter_drag: Values = 0.0) -> Values:
    """Current that a torque at the crank asks for.

    Parameters
    ----------
    torque : float or array, shape (n,) [N m]
    motor : StarterMotor
    starter_drag : float or array, shape (n,) [N m]

    Returns
    -------
    float or array, shape (n,) [A]
        0 where nothing is asked.

    Notes
    -----
    Follows from :func:`torque_of_current`, solved for the current: T/k, √(T/c), or the root of
    c I² - (T/I_s) I - T = 0. Steady; how the engine's inertia softens a ripple:
    :mod:`witnessmark.physics.crankcurrent`.

    Examples
    --------
    A torque that dips by a fifth, permanent magnets and series field:

    >>> series = StarterMotor("series", flux=1e-4)
    >>> [f"{1 - current_for_torque(80.0, m) / current_for_torque(100.0, m):.3f}" for m in (StarterMotor(), series)]
    ['0.200', '0.106']
    """
    shaft = np.maximum(np.add(torque, starter_drag), 0.0) / (motor.ratio * motor.efficiency)
    if motor.kind == "permanent_magnet":
        return np.divide(shaft, motor.flux)
    bend = shaft / motor.saturation_amps
    return (bend + np.sqrt(bend**2 + 4.0 * motor.flux * shaft)) / (2.0 * motor.flux)


def cranking_point(
    torque: Values,
    motor: StarterMotor,
    *,
    emf: Values,
    battery_ohm: Values,
    cable_ohm: Values = 0.002,
    starter_drag: Values = 0.0,
) -> CrankingPoint:
    """Current, cranking speed and voltages under a mean torque.

    Parameters
    ----------
    torque : float or array, shape (n,) [N m]
        Mean, at the crank: friction, pumping and what compression does not give back.
    motor : StarterMotor
    emf : float or array, shape (n,) [V]
        Of the battery at rest (:func:`witnessmark.physics.battery.open_circuit_volts`).
    battery_ohm : float or array, shape (n,) [ohm]
    cable_ohm : float or array, shape (n,) [ohm]
        Supply and ground side together, solenoid contact included.
    starter_drag : float or array, shape (n,) [N m]

    Returns
    -------
    CrankingPoint

    Raises
    ------
    EngineDefinitionError
        For a resistance below zero.

    Notes
    -----
    E - I (R_b + R_c + R_m) = φ(I) ω, motor law from memory; the current follows from the torque alone, the speed from
    what voltage is left. Where the stall current gives less than the torque it stands, and draws the stall current.
    Holds for steady cranking, not for the first half second of inrush. Brushes' own drop (about 1 V, from memory) is
    left out: take it off ``emf``.

    Examples
    --------
    >>> point = cranking_point(60.0, StarterMotor(), emf=12.5, battery_ohm=0.006)
    >>> f"{point.amps:.0f} A, {point.crank_speed * 30 / 3.14159:.0f} rpm, {point.battery_volts:.2f} V"
    '183 A, 219 rpm, 11.40 V'
    """
    whole = np.asarray(np.add(np.add(battery_ohm, cable_ohm), motor.ohm), dtype=np.float64)
    if np.any(~(np.asarray(battery_ohm) >= 0.0)) or np.any(~(np.asarray(cable_ohm) >= 0.0)):
        raise EngineDefinitionError("a resistance below zero in the starter's circuit", expected="0 ohm or more")
    asked, stall = current_for_torque(torque, motor, starter_drag=starter_drag), np.divide(emf, whole)
    amps = np.minimum(asked, stall)
    strength = flux(amps, motor)
    left = np.maximum(np.subtract(emf, np.multiply(amps, whole)), 0.0)
    # Without any load an unsaturated series motor runs away; it is told as endless, not hidden.
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.where(left > 0.0, np.divide(left, strength), 0.0) / motor.ratio
    posts = np.subtract(emf, np.multiply(amps, battery_ohm))
    return CrankingPoint(amps, speed, posts, posts - np.multiply(amps, cable_ohm))
