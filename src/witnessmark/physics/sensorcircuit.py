"""What a control unit sees of a sensor through its wires: dividers, pull-ups, shorts, opens, and their limits.

A signal pin is one node where everything that leads to it meets. Volts are against the ground of the unit that reads
them (docs/physics.md, "sensor circuits").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = [
    "ZERO_CELSIUS",
    "CircuitLimits",
    "SignalInput",
    "Thermistor",
    "circuit_state",
    "hall_levels",
    "pin_volts",
    "ratiometric_reading",
    "ratiometric_volts",
    "reluctance_volts",
    "thermistor_celsius",
    "thermistor_ohm",
    "thermistor_reading",
]

ZERO_CELSIUS = 273.15


@dataclass(frozen=True, slots=True)
class SignalInput:
    """The input of a control unit.

    Parameters
    ----------
    pull_volts : float [V]
        Where its own resistor leads: its reference for a pull-up, 0 for a pull-down.
    pull_ohm : float [ohm]
    """

    pull_volts: float = 5.0
    pull_ohm: float = 2200.0


@dataclass(frozen=True, slots=True)
class Thermistor:
    """A resistor that falls with temperature.

    Parameters
    ----------
    ohm : float [ohm]
        At ``at_c``.
    at_c : float [C]
    beta : float [K]
        How steeply it falls.
    """

    ohm: float = 2500.0
    at_c: float = 20.0
    beta: float = 3500.0


@dataclass(frozen=True, slots=True)
class CircuitLimits:
    """Beyond which volts a unit takes a circuit for broken.

    Parameters
    ----------
    low : float [V]
    high : float [V]
    """

    low: float = 0.2
    high: float = 4.8


def pin_volts(
    source_volts: Values,
    source_ohm: Values,
    pin: SignalInput,
    *,
    wire_ohm: Values = 0.0,
    shorting: Values = 0.0,
    short_volts: Values = 0.0,
) -> Values:
    """Volts at the pin that reads a sensor.

    Parameters
    ----------
    source_volts : float or array, shape (n,) [V]
        What the sensor would show unloaded; of a bare resistor: its ground, 0.
    source_ohm : float or array, shape (n,) [ohm]
        Its own resistance.
    pin : SignalInput
    wire_ohm : float or array, shape (n,) [ohm]
        In the way from the sensor to the pin, and for a resistor in its ground; infinite for open.
    shorting : float or array, shape (n,) [S]
        From the signal wire to something else.
    short_volts : float or array, shape (n,) [V]
        What that something holds: 0 ground, 5 the reference, 12 the battery, a neighbour's own.

    Returns
    -------
    float or array, shape (n,) [V]

    Raises
    ------
    EngineDefinitionError
        For a resistance or conductance below zero.

    Notes
    -----
    Millman's theorem, from memory: v = Σ g V / Σ g over pull, sensor and short. Holds while the neighbour does not give
    way; where it does, solve the whole graph (:mod:`witnessmark.physics.supply`). Above its supply an input is usually
    clamped, which is left out.

    Examples
    --------
    2.2 kilohm up to 5 V and a thermistor of 2.2 kilohm; then open; then shorted to ground by 0.1 S:

    >>> pins = [pin_volts(0.0, 2200.0, SignalInput(), wire_ohm=w, shorting=s) for w, s in ((0, 0), (1e9, 0), (0, 0.1))]
    >>> [round(float(v), 2) for v in pins]
    [2.5, 5.0, 0.02]
    """
    way = np.asarray(source_ohm, dtype=np.float64) + np.asarray(wire_ohm, dtype=np.float64)
    if np.any(~(way >= 0.0)) or np.any(~(np.asarray(shorting) >= 0.0)):
        raise EngineDefinitionError("a sensor circuit with a resistance below zero", expected="0 or more")
    sensor = 1.0 / np.maximum(way, 1e-6)
    pull = 1.0 / pin.pull_ohm
    total = pull + sensor + shorting
    volts: Values = (pull * pin.pull_volts + sensor * source_volts + np.multiply(shorting, short_volts)) / total
    return volts


def thermistor_ohm(celsius: Values, thermistor: Thermistor) -> Values:
    """Resistance of a thermistor.

    Parameters
    ----------
    celsius : float or array, shape (n,) [C]
    thermistor : Thermistor

    Returns
    -------
    float or array, shape (n,) [ohm]

    Notes
    -----
    R = R₀ exp(β (1/T - 1/T₀)), by definition of β. A real one departs by a
    few percent 60 K away from T₀; -40 to 150 °C.

    Examples
    --------
    >>> f"{thermistor_ohm(80.0, Thermistor()):.0f} ohm"
    '329 ohm'
    """
    kelvin = np.asarray(celsius, dtype=np.float64) + ZERO_CELSIUS
    ohm: Values = thermistor.ohm * np.exp(thermistor.beta * (1.0 / kelvin - 1.0 / (thermistor.at_c + ZERO_CELSIUS)))
    return ohm


def thermistor_celsius(ohm: Values, thermistor: Thermistor) -> Values:
    """Temperature of a thermistor of so much resistance.

    Parameters
    ----------
    ohm : float or array, shape (n,) [ohm]
        Above 0.
    thermistor : Thermistor

    Returns
    -------
    float or array, shape (n,) [C]

    Notes
    -----
    Follows from :func:`thermistor_ohm`, solved for the temperature; same range.

    Examples
    --------
    >>> f"{thermistor_celsius(2500.0, Thermistor()):.1f}"
    '20.0'
    """
    inverse = 1.0 / (thermistor.at_c + ZERO_CELSIUS) + np.log(np.divide(ohm, thermistor.ohm)) / thermistor.beta
    celsius: Values = 1.0 / inverse - ZERO_CELSIUS
    return celsius


def thermistor_reading(volts: Values, pin: SignalInput, thermistor: Thermistor) -> Values:
    """The temperature that a unit takes from the volts at its pin.

    Parameters
    ----------
    volts : float or array, shape (n,) [V]
    pin : SignalInput
    thermistor : Thermistor
        The one the unit reckons with.

    Returns
    -------
    float or array, shape (n,) [C]
        -40 and below where the circuit is open, 150 and above where it is shorted: held at those ends, as
        units do (common practice, no source).

    Notes
    -----
    Follows from the divider: R = R_pull v/(V - v), then :func:`thermistor_celsius`.

    Examples
    --------
    0.5 kilohm of contact resistance makes 80 °C look cold:

    >>> volts = pin_volts(0.0, thermistor_ohm(80.0, Thermistor()), SignalInput(), wire_ohm=500.0)
    >>> f"{thermistor_reading(volts, SignalInput(), Thermistor()):.0f}"
    '50'
    """
    inside = np.clip(np.asarray(volts, dtype=np.float64), 1e-6, pin.pull_volts - 1e-6)
    ohm = pin.pull_ohm * inside / (pin.pull_volts - inside)
    return np.clip(thermistor_celsius(ohm, thermistor), -40.0, 150.0)


def ratiometric_volts(share: Values, supply_volts: Values, *, gain: Values = 1.0, offset_volts: Values = 0.0) -> Values:
    """What a sensor that divides its supply puts out, against its own ground.

    Parameters
    ----------
    share : float or array, shape (n,) [-]
        Of its supply, at the quantity it measures.
    supply_volts : float or array, shape (n,) [V]
        Across it.
    gain : float or array, shape (n,) [-]
        1 for a sound sensor, less for a weak one.
    offset_volts : float or array, shape (n,) [V]
        Its bias.

    Returns
    -------
    float or array, shape (n,) [V]
        Never outside its supply.

    Notes
    -----
    By definition of a ratiometric sensor. Below about 4.5 V many stop measuring, which is left out.

    Examples
    --------
    >>> float(ratiometric_volts(0.5, 4.0))
    2.0
    """
    return np.clip(np.multiply(np.multiply(share, gain), supply_volts) + offset_volts, 0.0, supply_volts)


def ratiometric_reading(volts: Values, reference_volts: Values) -> Values:
    """The share that a unit takes from the volts at its pin, its own reference taken as the whole.

    Parameters
    ----------
    volts : float or array, shape (n,) [V]
    reference_volts : float or array, shape (n,) [V]
        What the unit divides by: at its own end of the wire.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        For a reference of 0 V or less.

    Notes
    -----
    By definition. A reference that sags moves sensor and unit alike and nothing shows; what is lost in the wire between
    them shows in proportion.

    Examples
    --------
    >>> float(ratiometric_reading(2.0, 4.0))
    0.5
    """
    if np.any(~(np.asarray(reference_volts) > 0.0)):
        raise EngineDefinitionError("a reference without volts", expected="more than 0")
    return np.divide(volts, reference_volts)


def hall_levels(
    supply_volts: Values,
    pin: SignalInput,
    *,
    least_volts: float = 4.0,
    ground_volts: Values = 0.0,
    wire_ohm: Values = 0.0,
    sink_ohm: float = 30.0,
) -> tuple[Values, Values]:
    """Low and high level of a switching sensor with an open collector, and its pull-up in the unit.

    Parameters
    ----------
    supply_volts : float or array, shape (n,) [V]
        Across the sensor.
    pin : SignalInput
    least_volts : float [V]
        Below this it does not switch.
    ground_volts : float or array, shape (n,) [V]
        By how much its ground stands above the unit's.
    wire_ohm : float or array, shape (n,) [ohm]
        In the signal wire.
    sink_ohm : float [ohm]
        Of its output when on.

    Returns
    -------
    low, high : float or array, shape (n,) [V]
        Equal where it does not switch.

    Notes
    -----
    Follows from the divider of pull-up and output, lifted by the sensor's ground; levels of 4 V and 30 ohm are our
    guess. The high level does not depend on the sensor at all.

    Examples
    --------
    >>> low, high = hall_levels(12.0, SignalInput())
    >>> f"{low:.2f} {high:.1f}"
    '0.07 5.0'
    """
    on = pin_volts(ground_volts, sink_ohm, pin, wire_ohm=wire_ohm)
    high = np.full(np.shape(on), pin.pull_volts)
    works = np.asarray(supply_volts) >= least_volts
    return np.where(works, on, high), np.where(works, high, high)


def reluctance_volts(
    amplitude: Values, *, coil_ohm: Values, input_ohm: float = 10000.0, wire_ohm: Values = 0.0, shorting: Values = 0.0
) -> Values:
    """Amplitude that arrives from a coil sensor.

    Parameters
    ----------
    amplitude : float or array, shape (n,) [V]
        Of its open coil: it grows with speed and falls with the gap.
    coil_ohm : float or array, shape (n,) [ohm]
    input_ohm : float [ohm]
        Of the unit; our guess.
    wire_ohm : float or array, shape (n,) [ohm]
    shorting : float or array, shape (n,) [S]
        Between its two leads.

    Returns
    -------
    float or array, shape (n,) [V]

    Notes
    -----
    Follows from the divider of coil, wire and input. It needs no supply and knows none. Holds while the coil's
    inductance does not count, some hundreds of hertz for 1 H (from memory).

    Examples
    --------
    >>> f"{reluctance_volts(5.0, coil_ohm=1000.0):.2f}"
    '4.55'
    """
    load = 1.0 / input_ohm + np.asarray(shorting, dtype=np.float64)
    return amplitude / (1.0 + (np.asarray(coil_ohm) + wire_ohm) * load)


def circuit_state(volts: Values, limits: CircuitLimits) -> NDArray[np.int_]:
    """Whether a unit takes a circuit for broken.

    Parameters
    ----------
    volts : float or array, shape (n,) [V]
    limits : CircuitLimits

    Returns
    -------
    array of int, shape (n,) [-]
        -1 circuit low, +1 circuit high, 0 within.

    Notes
    -----
    By definition; limits of 0.2 and 4.8 V are common practice, no source.

    Examples
    --------
    >>> circuit_state(np.array([0.05, 2.5, 5.0]), CircuitLimits()).tolist()
    [-1, 0, 1]
    """
    given = np.asarray(volts, dtype=np.float64)
    return np.where(given < limits.low, -1, np.where(given > limits.high, 1, 0))
