"""Starter and battery of one vehicle: torque over speed for the crank, current and voltage back from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.physics.battery import battery_ohm, open_circuit_volts
from witnessmark.physics.starter import StarterMotor, torque_of_current
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import edit_of

__all__ = ["Starting", "build_starting"]

FloatArray = NDArray[np.float64]

_BRUSH_V = (0.6, 1.4)  # from memory: about 1 V over both brushes
_LITRES = 2.0  # that the starter of the physics' defaults turns


@dataclass(frozen=True, slots=True)
class Starting:
    """One vehicle's starting circuit.

    Parameters
    ----------
    motor : StarterMotor
    emf_v : float [V]
        Of the battery at rest.
    battery_ohm, cable_ohm : float [ohm]
    brush_v : float [V]
        Lost at the brushes, whatever the current.
    idle_amps : float [A]
        That the motor takes spinning freely, when the crank runs ahead of it.
    drag_nm : float [N m]
        Of a dragging starter, at the crank.
    other_amps : float [A]
        Of ignition, fuel pump and computers meanwhile.
    """

    motor: StarterMotor
    emf_v: float
    battery_ohm: float
    cable_ohm: float
    brush_v: float
    idle_amps: float
    drag_nm: float
    other_amps: float

    def amps(self, speed_rad_s: FloatArray) -> FloatArray:
        """The starter's current at crank speeds, shape (n,) [A].

        Notes
        -----
        E - brushes - I R = φ(I) n ω; with a series field φ = c I/(1 + I/I_s) that is a quadratic in I.
        """
        whole = self.battery_ohm + self.cable_ohm + self.motor.ohm
        volts = max(self.emf_v - self.brush_v, 0.1)
        turning = self.motor.ratio * np.maximum(speed_rad_s, 0.0)
        if self.motor.kind == "permanent_magnet":
            found = (volts - self.motor.flux * turning) / whole
        else:
            bend = 1.0 / self.motor.saturation_amps
            a, b = whole * bend, whole + self.motor.flux * turning - volts * bend
            found = (np.sqrt(b**2 + 4.0 * a * volts) - b) / (2.0 * a)
        return np.asarray(np.maximum(found, self.idle_amps))

    def torque_nm(self, speed_rad_s: FloatArray) -> FloatArray:
        """Torque at the crank at its speeds, behind a one-way clutch, shape (n,) [N m]."""
        amps = self.amps(speed_rad_s)
        free = np.asarray(torque_of_current(self.idle_amps, self.motor))
        pushed = np.asarray(torque_of_current(amps, self.motor, starter_drag=self.drag_nm)) - free
        return np.asarray(np.maximum(pushed, 0.0))


def build_starting(
    state: State, swept_m3: float, seed: int, *, celsius: float = 20.0, more_ohm: float = 0.0
) -> Starting:
    """The starting circuit of a vehicle.

    Parameters
    ----------
    state : State
    swept_m3 : float [m3]
        Of all cylinders: larger engines have stronger starters.
    seed : int
        Of the vehicle.
    celsius : float [C]
        Of battery and engine.
    more_ohm : float [ohm]
        In the starter's way beyond a sound vehicle's.

    Returns
    -------
    Starting
    """
    rng = stream(seed, "starter")
    size = max(1000.0 * swept_m3 / _LITRES, 0.25)
    vary = rng.uniform(0.88, 1.12, 3)
    usual = StarterMotor()
    ohm = usual.ohm * float(vary[0]) / size
    flux = usual.flux * float(vary[1]) * size**0.15
    motor = StarterMotor(ohm=ohm, flux=flux, ratio=usual.ratio * float(vary[2]))
    if rng.random() < 0.35:
        bend = 350.0 * size
        # Same flux as the other kind at the usual cranking current.
        motor = StarterMotor(
            "series", ohm, flux / (180.0 * size**0.7) * (1.0 + 180.0 * size**0.7 / bend), bend, motor.ratio
        )
    charge = float(np.clip(edit_of(state, "battery_charge", "battery"), 0.0, 1.0))
    resistance = edit_of(state, "battery_resistance", "battery")
    return Starting(
        motor=motor,
        emf_v=float(np.asarray(open_circuit_volts(charge, celsius))),
        battery_ohm=float(np.asarray(battery_ohm(resistance, charge=charge, celsius=celsius))),
        cable_ohm=float(rng.uniform(0.0015, 0.003)) + more_ohm,
        brush_v=float(rng.uniform(*_BRUSH_V)),
        idle_amps=float(rng.uniform(45.0, 80.0)) * size**0.5,
        drag_nm=max(edit_of(state, "starter_drag", "starter"), 0.0),
        other_amps=float(rng.uniform(6.0, 14.0)),
    )
