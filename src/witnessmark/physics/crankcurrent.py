"""What the starter's current tells of each cylinder's compression, and what the flywheel takes away of it.

(docs/physics.md, "battery and starter")
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values
from witnessmark.physics.starter import CrankingPoint, StarterMotor, flux, torque_of_current

__all__ = ["CrankingCircuit", "cranking_current", "relative_torque", "ripple_gain"]


@dataclass(frozen=True, slots=True)
class CrankingCircuit:
    """What decides how a ripple of torque arrives in the current.

    Parameters
    ----------
    circuit_ohm : float or array, shape (n,) [ohm]
        Battery, cables and motor.
    inertia : float [kg m^2]
        At the crank, the geared-up armature included.
    """

    circuit_ohm: Values
    inertia: float = 0.3


def _steepness(amps: NDArray[np.float64], motor: StarterMotor) -> Values:
    """How the flux grows with the current."""
    if motor.kind == "permanent_magnet":
        return 0.0
    return motor.flux / np.square(1.0 + amps / motor.saturation_amps)


def _stiffness(point: CrankingPoint, motor: StarterMotor, circuit: CrankingCircuit) -> NDArray[np.float64]:
    """By how much the torque at the crank falls for each rad/s that it turns faster."""
    i, w = np.asarray(point.amps, dtype=np.float64), np.asarray(point.crank_speed, dtype=np.float64) * motor.ratio
    strength, steeper = flux(i, motor), _steepness(i, motor)
    found: NDArray[np.float64] = (
        (strength + steeper * i) * strength / (circuit.circuit_ohm + steeper * w) * motor.ratio**2 * motor.efficiency
    )
    return found


def ripple_gain(
    angular_frequency: Values, motor: StarterMotor, *, point: CrankingPoint, circuit: CrankingCircuit
) -> NDArray[np.complex128]:
    """How much of a small torque ripple arrives at the motor, and with which lag.

    Parameters
    ----------
    angular_frequency : float or array, shape (n,) [rad/s]
        Of the ripple; compression comes cylinders/2 times a turn.
    motor : StarterMotor
    point : CrankingPoint
        The mean.
    circuit : CrankingCircuit

    Returns
    -------
    array of complex, shape (n,) [-]
        Ripple of the motor's torque over ripple of the engine's: modulus 1 when slow, less when inertia carries it.

    Notes
    -----
    1/(1 + i Ω J/B) follows from J dω/dt = T_motor - T_engine and the motor's law made linear at its mean: torque falls
    with speed by B = (φ + φ'I) φ/(R + φ' ω) n² η at the crank. The lower orders, by which cylinders differ, pass better
    than the firing order itself: ranks stay, ratios of the dips do not, and so each capture has to be calibrated. For
    small ripples; current follows at once, without the motor's own inductance.

    Examples
    --------
    >>> from witnessmark.physics.starter import cranking_point
    >>> motor = StarterMotor()
    >>> point = cranking_point(60.0, motor, emf=12.5, battery_ohm=0.006)
    >>> f"{abs(ripple_gain(46.0, motor, point=point, circuit=CrankingCircuit(0.02))):.2f}"
    '0.42'
    """
    lag = np.multiply(angular_frequency, circuit.inertia) / _stiffness(point, motor, circuit)
    return np.asarray(1.0 / (1.0 + 1j * lag), dtype=np.complex128)


def cranking_current(
    torque: NDArray[np.float64], motor: StarterMotor, *, point: CrankingPoint, circuit: CrankingCircuit
) -> NDArray[np.float64]:
    """Current over one engine cycle, from the torque that the engine asks for over it.

    Parameters
    ----------
    torque : array, shape (..., samples) [N m]
        At the crank, evenly over two turns, periodic. Its mean must be that of ``point``.
    motor : StarterMotor
    point : CrankingPoint
        The mean, of shape () or (...).
    circuit : CrankingCircuit

    Returns
    -------
    array, shape (..., samples) [A]

    Raises
    ------
    EngineDefinitionError
        Where the engine stands: without turning there is no cycle.

    Notes
    -----
    Each order of the torque times :func:`ripple_gain`, over the motor's torque per ampere at the mean; follows from the
    equations made linear there. Time and angle are taken as proportional over the cycle, and the speed ripple as
    small: at 20 % of it the shape is off by about as much.

    Examples
    --------
    >>> from witnessmark.physics.starter import cranking_point
    >>> motor = StarterMotor()
    >>> point = cranking_point(60.0, motor, emf=12.5, battery_ohm=0.006)
    >>> torque = 60.0 + 40.0 * np.cos(4 * 2 * np.pi * np.arange(720) / 720)
    >>> amps = cranking_current(torque, motor, point=point, circuit=CrankingCircuit(0.02))
    >>> f"{amps.mean():.0f} A, {np.ptp(amps):.0f} A"
    '183 A, 102 A'
    """
    speed = np.asarray(point.crank_speed, dtype=np.float64)[..., None]
    if np.any(~((speed > 0.0) & np.isfinite(speed))):
        raise EngineDefinitionError("an engine that stands", expected="a cranking speed above 0")
    mean = CrankingPoint(
        np.asarray(point.amps, dtype=np.float64)[..., None], speed, point.battery_volts, point.starter_volts
    )
    n = torque.shape[-1]
    # The cycle takes two turns, so its first order comes at half the crank's speed.
    gain = ripple_gain(0.5 * speed * np.arange(n // 2 + 1), motor, point=mean, circuit=circuit)
    arriving = np.fft.irfft(np.fft.rfft(torque - torque.mean(axis=-1, keepdims=True)) * gain, n)
    amps = np.asarray(mean.amps)
    per_amp = (flux(amps, motor) + _steepness(amps, motor) * amps) * motor.ratio * motor.efficiency
    found: NDArray[np.float64] = amps + arriving / per_amp
    return found


def relative_torque(peak_amps: Values, motor: StarterMotor, *, starter_drag: Values = 0.0) -> Values:
    """Compression torque of each cylinder relative to the best, from the current's peaks.

    Parameters
    ----------
    peak_amps : array, shape (..., cylinders) [A]
        Mean current peak of each cylinder.
    motor : StarterMotor
        Its kind decides: the same ratio of peaks means losses nearly twice as great in a series motor.
    starter_drag : float or array, shape () [N m]

    Returns
    -------
    array, shape (..., cylinders) [-]

    Raises
    ------
    EngineDefinitionError
        If no cylinder asks for any torque.

    Notes
    -----
    Follows from :func:`torque_of_current`, cylinder by cylinder. Friction is in every peak alike, so ratios understate
    the loss of a leaking cylinder; inertia (:func:`ripple_gain`) distorts
    them as well: without a calibration for the capture only ranks hold.

    Examples
    --------
    >>> import numpy as np
    >>> peaks = np.array([200.0, 160.0])
    >>> [relative_torque(peaks, m).round(2).tolist() for m in (StarterMotor(), StarterMotor("series", flux=1e-4))]
    [[1.0, 0.8], [1.0, 0.64]]
    """
    torque = np.asarray(torque_of_current(peak_amps, motor, starter_drag=starter_drag))
    best = torque.max(axis=-1, keepdims=True)
    if np.any(best <= 0.0):
        raise EngineDefinitionError("no cylinder asks for any torque", expected="current peaks above the drag")
    share: Values = torque / best
    return share
