"""Currents of coils and motors that a clamp can show: a winding's ramp, an injector's kink, a pump's commutation.

(docs/physics.md, "actuators")
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = [
    "Injector",
    "PumpMotor",
    "commutation_frequency",
    "commutation_ripple",
    "injector_current",
    "injector_opening_time",
    "pump_current",
    "pump_speed",
    "ramp_current",
    "ramp_time",
]


def ramp_current(seconds: Values, volts: Values, ohm: Values, henry: Values, *, limit_amps: float = np.inf) -> Values:
    """Current of a winding so long after it was switched on.

    Parameters
    ----------
    seconds : float or array, shape (n,) [s]
        0 and below: not on yet.
    volts : float or array, shape (n,) [V]
        Across winding, wiring and driver together.
    ohm : float or array, shape (n,) [ohm]
        Of all three.
    henry : float or array, shape (n,) [H]
        Of the winding, below saturation.
    limit_amps : float [A]
        Where the driver holds the current.

    Returns
    -------
    float or array, shape (n,) [A]

    Raises
    ------
    EngineDefinitionError
        For a resistance below 0, or an inductance that is not above it.

    Notes
    -----
    i = V/R (1 - exp(-tR/L)), from memory, any textbook. Holds while the iron is not saturated; above that the ramp
    bends upward.

    Examples
    --------
    >>> f"{ramp_current(0.003, 13.5, 0.6, 0.004, limit_amps=8.0):.2f} A"
    '8.00 A'
    """
    _refuse_negative(ohm, henry)
    since = np.maximum(seconds, 0.0)
    # V t/L, times what resistance leaves of it: so a winding without resistance is no special case.
    straight, decades = since * np.divide(volts, henry), since * np.divide(ohm, henry)
    left = np.where(decades > 0.0, -np.expm1(-decades) / np.where(decades > 0.0, decades, 1.0), 1.0)
    amps: Values = np.minimum(straight * left, limit_amps)
    return amps


def ramp_time(amps: Values, volts: Values, ohm: Values, henry: Values) -> Values:
    """Time that a winding needs to reach a current.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
    volts : float or array, shape (n,) [V]
    ohm : float or array, shape (n,) [ohm]
    henry : float or array, shape (n,) [H]

    Returns
    -------
    float or array, shape (n,) [s]
        Infinite where it never gets there.

    Raises
    ------
    EngineDefinitionError
        For a resistance below 0, or an inductance that is not above it.

    Notes
    -----
    Follows from :func:`ramp_current`, solved for the time.

    Examples
    --------
    >>> f"{1000 * ramp_time(7.0, 14.0, 0.6, 0.004):.2f} ms, {1000 * ramp_time(7.0, 8.0, 0.6, 0.004):.2f} ms"
    '2.38 ms, 4.96 ms'
    """
    _refuse_negative(ohm, henry)
    fed = np.asarray(volts, dtype=np.float64)
    alive = np.where(fed > 0.0, fed, 1.0)
    share = np.multiply(amps, ohm) / alive
    within = (share < 1.0) & (fed > 0.0)
    inside = np.where(within & (share > 0.0), share, 0.5)  # keeps the logarithm quiet where it is not asked for
    longer = np.where(share > 0.0, -np.log1p(-inside) / inside, 1.0)
    seconds: Values = np.where(within, np.multiply(amps, henry) / alive * longer, np.inf)
    return seconds


@dataclass(frozen=True, slots=True)
class Injector:
    """A solenoid whose inductance grows as its armature closes the gap.

    Parameters
    ----------
    ohm : float [ohm]
    rest_henry : float [H]
        Armature at rest.
    open_henry : float [H]
        Armature drawn in.
    pull_amps : float [A]
        At which it starts to move.
    travel_seconds : float [s]
        How long it moves.
    """

    ohm: float = 12.0
    rest_henry: float = 0.010
    open_henry: float = 0.018
    pull_amps: float = 0.55
    travel_seconds: float = 0.0004


def injector_opening_time(volts: Values, injector: Injector, *, wiring_ohm: Values = 0.0) -> Values:
    """Time from switching on until the armature has been drawn in: the kink's end.

    Parameters
    ----------
    volts : float or array, shape (n,) [V]
    injector : Injector
    wiring_ohm : float or array, shape (n,) [ohm]

    Returns
    -------
    float or array, shape (n,) [s]
        Infinite where the current never suffices.

    Notes
    -----
    Follows from :func:`ramp_time` to the pulling current, plus the travel. A travel that does not depend on the
    current is our simplification.

    Examples
    --------
    >>> f"{1000 * injector_opening_time(14.0, Injector()):.2f} ms"
    '0.93 ms'
    """
    start = ramp_time(injector.pull_amps, volts, np.add(injector.ohm, wiring_ohm), injector.rest_henry)
    return start + injector.travel_seconds


def injector_current(seconds: Values, volts: Values, injector: Injector, *, wiring_ohm: Values = 0.0) -> Values:
    """Current of an injector that opens, with the dip that its moving armature makes.

    Parameters
    ----------
    seconds : float or array, shape (n,) [s]
        Since it was switched on.
    volts : float or array, shape (n,) [V]
    injector : Injector
        One that sticks has ``open_henry`` equal to ``rest_henry``: no dip.
    wiring_ohm : float or array, shape (n,) [ohm]

    Returns
    -------
    float or array, shape (n,) [A]

    Raises
    ------
    EngineDefinitionError
        For a resistance or inductance that is not above 0, and for an inductance that shrinks as it opens.

    Notes
    -----
    Follows from d(L i)/dt = V - R i. While the armature moves L grows evenly, by s henry a second, and then
    i = V/(R+s) + (i₀ - V/(R+s)) (L/L₀)^-(1+R/s). Holds for a saturating driver; hysteresis and eddy currents, which
    round the kink, are left out.

    Examples
    --------
    >>> import numpy as np
    >>> amps = injector_current(np.array([0.0003, 0.0009, 0.005]), 14.0, Injector())
    >>> amps.round(3).tolist()
    [0.353, 0.484, 1.121]
    """
    ohm = np.add(injector.ohm, wiring_ohm)
    _refuse_empty(ohm, min(injector.rest_henry, injector.open_henry))
    t = np.maximum(np.asarray(seconds, dtype=np.float64), 0.0)
    start = ramp_time(injector.pull_amps, volts, ohm, injector.rest_henry)
    first = ramp_current(t, volts, ohm, injector.rest_henry)
    rate = (injector.open_henry - injector.rest_henry) / injector.travel_seconds
    moving = np.clip(t - start, 0.0, injector.travel_seconds)
    if rate < 0.0:
        raise EngineDefinitionError("an injector whose inductance shrinks as it opens", expected="it grows, or stays")
    if rate == 0.0:
        return first
    towards = np.divide(volts, ohm + rate)
    grown = (injector.rest_henry + rate * moving) / injector.rest_henry
    during = towards + (injector.pull_amps - towards) * grown ** -(1.0 + ohm / rate)
    # Drawn in, it is a plain winding again, on its way from what the motion left to V/R.
    since = np.maximum(t - start - injector.travel_seconds, 0.0)
    since = np.where(np.isfinite(since), since, 0.0)
    final = np.divide(volts, ohm)
    after = final + (during - final) * np.exp(-since * ohm / injector.open_henry)
    return np.where(t <= start, first, after)


@dataclass(frozen=True, slots=True)
class PumpMotor:
    """A small permanent-magnet motor with a commutator.

    Parameters
    ----------
    ohm : float [ohm]
        Armature and brushes.
    torque_per_amp : float [N m/A]
        And volts per rad/s.
    bars : int
        Of the commutator.
    """

    ohm: float = 0.5
    torque_per_amp: float = 0.012
    bars: int = 8


def pump_current(torque: Values, motor: PumpMotor) -> Values:
    """Mean current of a motor under a torque.

    Parameters
    ----------
    torque : float or array, shape (n,) [N m]
        Of pump and friction.
    motor : PumpMotor

    Returns
    -------
    float or array, shape (n,) [A]

    Notes
    -----
    T = k I, permanent magnets, from memory. Below stall.

    Examples
    --------
    >>> f"{pump_current(0.06, PumpMotor()):.1f} A"
    '5.0 A'
    """
    return np.divide(torque, motor.torque_per_amp)


def pump_speed(torque: Values, volts: Values, motor: PumpMotor, *, wiring_ohm: Values = 0.0) -> Values:
    """Speed of a motor under a torque.

    Parameters
    ----------
    torque : float or array, shape (n,) [N m]
    volts : float or array, shape (n,) [V]
    motor : PumpMotor
    wiring_ohm : float or array, shape (n,) [ohm]

    Returns
    -------
    float or array, shape (n,) [rad/s]
        0 where it stalls.

    Notes
    -----
    ω = (V - R I)/k with I = T/k, permanent magnets, from memory. Brushes' own drop is left out.

    Examples
    --------
    >>> f"{pump_speed(0.06, 13.0, PumpMotor()) * 30 / 3.14159:.0f} rpm"
    '8356 rpm'
    """
    amps = pump_current(torque, motor)
    return np.maximum((volts - amps * np.add(motor.ohm, wiring_ohm)) / motor.torque_per_amp, 0.0)


def commutation_frequency(speed: Values, motor: PumpMotor) -> Values:
    """How often the current of a commutator motor dips.

    Parameters
    ----------
    speed : float or array, shape (n,) [rad/s]
    motor : PumpMotor

    Returns
    -------
    float or array, shape (n,) [Hz]

    Notes
    -----
    Once for each bar under each brush. Follows from two brushes that stand half a turn apart: an even count of bars
    passes both at once, an odd one in turn, twice as often.

    Examples
    --------
    >>> import math
    >>> round(float(commutation_frequency(2 * math.pi * 100, PumpMotor(bars=8))), 6)
    800.0
    """
    dips = motor.bars if motor.bars % 2 == 0 else 2 * motor.bars
    return np.multiply(speed, dips) / (2.0 * np.pi)


def commutation_ripple(motor: PumpMotor) -> float:
    """By how much the EMF of a sound commutator dips between two bars, as a share of its peak.

    Parameters
    ----------
    motor : PumpMotor

    Returns
    -------
    float, shape () [-]

    Raises
    ------
    EngineDefinitionError
        For fewer than 3 bars.

    Notes
    -----
    1 - cos(π/dips in a turn) follows from coils whose EMFs are sines, the foremost of which is in contact. A burnt bar
    shows as one dip in a turn that is deeper.

    Examples
    --------
    >>> f"{commutation_ripple(PumpMotor(bars=8)):.3f}"
    '0.076'
    """
    if motor.bars < 3:
        raise EngineDefinitionError(f"a commutator of {motor.bars} bars", expected="3 or more")
    dips = motor.bars if motor.bars % 2 == 0 else 2 * motor.bars
    return float(1.0 - np.cos(np.pi / dips))


def _refuse_empty(ohm: Values, henry: Values) -> None:
    if np.any(~(np.asarray(ohm) > 0.0)) or np.any(~(np.asarray(henry) > 0.0)):
        raise EngineDefinitionError("a winding without resistance or inductance", expected="both above 0")


def _refuse_negative(ohm: Values, henry: Values) -> None:
    if np.any(~(np.asarray(ohm) >= 0.0)) or np.any(~(np.asarray(henry) > 0.0)):
        raise EngineDefinitionError("a winding with less than no resistance, or without inductance", expected="above 0")
