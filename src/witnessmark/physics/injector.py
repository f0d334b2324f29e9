"""A port injector: flow by pressure, time lost by voltage."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["dead_time", "fuel_per_pulse", "injector_scale"]


def injector_scale(drop: Values, rated_drop: Values) -> Values:
    """Flow of an injector over its flow at the rated pressure.

    Parameters
    ----------
    drop : float or array, shape (n,) [Pa]
        Across it: rail pressure less plenum pressure; at least 0.
    rated_drop : float or array, shape (n,) [Pa]

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If a drop is negative or the rated one not above 0 (from the checks).

    Notes
    -----
    √(Δp/Δp₀): follows from Bernoulli's equation for a liquid through a hole. While the fuel neither boils nor crawls.

    Examples
    --------
    >>> f"{injector_scale(250e3, 300e3):.4f}"
    '0.9129'
    """
    within(0.0, np.inf, pressure_drop=drop)
    above_zero(rated_pressure_drop=rated_drop)
    return np.sqrt(drop / rated_drop)


def dead_time(volts: Values, *, pull_in_volts: Values = 6.0, tau: Values = 0.0016) -> Values:
    """Part of an injector's pulse in which no fuel flows.

    Parameters
    ----------
    volts : float or array, shape (n,) [V]
        At the injector.
    pull_in_volts : float or array, shape (n,) [V]
        At which its current would only just open it.
    tau : float or array, shape (n,) [s]
        Inductance over resistance of its circuit.

    Returns
    -------
    float or array, shape (n,) [s]
        Infinite where it does not open.

    Raises
    ------
    InputError
        If a number is not above 0 (from the check).

    Notes
    -----
    τ ln(V/(V - V₀)) follows from the rise of current in a coil up to the current that lifts the needle; the time it
    takes to shut is left out, so this is the shape of the dependence. V₀ and τ are our guess: 0.9 ms at 14 V, 1.5 ms
    at 10 V.

    Examples
    --------
    >>> f"{1000 * dead_time(14.0):.2f} ms {1000 * dead_time(10.0):.2f} ms"
    '0.90 ms 1.47 ms'
    """
    above_zero(volts=volts, pull_in_volts=pull_in_volts, tau=tau)
    over = np.maximum(np.asarray(volts, dtype=np.float64) - pull_in_volts, 0.0)
    with np.errstate(divide="ignore"):
        lost: Values = tau * np.log(volts / over)
    return lost


def fuel_per_pulse(pulse: Values, rated_flow: Values, *, drop: Values, rated_drop: Values, volts: Values) -> Values:
    """Fuel of one pulse.

    Parameters
    ----------
    pulse : float or array, shape (n,) [s]
        As driven.
    rated_flow : float or array, shape (n,) [kg/s]
        Held open, at the rated pressure.
    drop, rated_drop : float or array, shape (n,) [Pa]
    volts : float or array, shape (n,) [V]

    Returns
    -------
    float or array, shape (n,) [kg]

    Raises
    ------
    InputError
        If a number is negative, or one not above 0 that must be (from the checks).

    Notes
    -----
    Flow times the pulse less :func:`dead_time`, by definition of the latter; nothing from a pulse that is shorter.

    Examples
    --------
    >>> f"{1e6 * fuel_per_pulse(0.003, 0.003, drop=3e5, rated_drop=3e5, volts=14.0):.2f} mg"
    '6.31 mg'
    """
    within(0.0, np.inf, pulse=pulse)
    above_zero(rated_flow=rated_flow)
    return rated_flow * injector_scale(drop, rated_drop) * np.maximum(pulse - dead_time(volts), 0.0)
