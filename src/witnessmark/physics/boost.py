"""Turbocharger: power from the exhaust, pressure from power, and the wastegate that holds a target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics._turbo import compressed, compressing, driving, expansion, warmed
from witnessmark.physics.chain import Values

__all__ = [
    "Boost",
    "charge_temperature",
    "compressor_power",
    "compressor_ratio",
    "turbine_power",
    "turbine_ratio",
]


@dataclass(frozen=True, slots=True)
class Boost:
    """A turbocharger with its cooler, sound and as described.

    Parameters
    ----------
    turbine_area : float [m2]
        Effective: a nozzle that passes what the turbine passes.
    wastegate_area : float [m2]
        Effective, wide open.
    efficiency : float [-]
        Compressor times turbine times bearings; ``turbo_efficiency`` scales it.
    compressor_efficiency : float [-]
        Of the compressor alone: how warm the air gets.
    cooler_area : float [m2]
        Effective, of the charge-air cooler.
    cooling : float [-]
        Share of the compressor's warming that the cooler takes out again.
    """

    turbine_area: float = 300e-6
    wastegate_area: float = 450e-6
    efficiency: float = 0.5
    compressor_efficiency: float = 0.7
    cooler_area: float = 1200e-6
    cooling: float = 0.7


def turbine_power(ratio: Values, area: Values, behind: Values, temperature: Values) -> Values:
    """Power of an ideal turbine that passes gas like a nozzle.

    Parameters
    ----------
    ratio : float or array, shape (n,) [-]
        Pressure behind over ahead, above 0 and up to 1.
    area : float or array, shape (n,) [m2]
        Effective.
    behind : float or array, shape (n,) [Pa]
    temperature : float or array, shape (n,) [K]
        Ahead.

    Returns
    -------
    float or array, shape (n,) [W]

    Raises
    ------
    InputError
        If the ratio is outside 0 to 1 or another number not above 0 (from the checks).

    Notes
    -----
    ṁ c_p T (1 - π^((γ-1)/γ)) by the energy balance of an isentropic expansion, ṁ by the flow function; [heywood]_ §6.8,
    from memory. Efficiency and speed of the wheel are left to the description.

    Examples
    --------
    >>> f"{turbine_power(0.7, 450e-6, 110e3, 1000.0) / 1000:.1f} kW"
    '8.2 kW'
    """
    within(1e-6, 1.0, turbine_pressure_ratio=ratio)
    above_zero(turbine_area=area, pressure=behind, temperature=temperature)
    return driving(ratio, area, behind, temperature)


def turbine_ratio(
    boost: Boost, flow: Values, behind: Values, temperature: Values, *, power: Values, wastegate_error_mm2: Values = 0.0
) -> Values:
    """Pressure ratio that settles over the turbine when the wastegate lets it make just the power wanted.

    Parameters
    ----------
    boost : Boost
    flow : float or array, shape (n,) [kg/s]
        All exhaust.
    behind : float or array, shape (n,) [Pa]
    temperature : float or array, shape (n,) [K]
    power : float or array, shape (n,) [W]
        Wanted of an ideal turbine.
    wastegate_error_mm2 : float or array, shape (n,) [mm2]
        Effective: below 0 the wastegate cannot open so far, above 0 it cannot shut.

    Returns
    -------
    float or array, shape (n,) [-]
        Behind over ahead: the ratio of the power wanted, or where the wastegate cannot make it, that of the wastegate
        at its stop. From it follow turbine power and the pressure ahead.

    Raises
    ------
    InputError
        If a flow or power is negative or another number not above 0 (from the checks).

    Notes
    -----
    Follows from turbine and wastegate passing all exhaust side by side: shut, the turbine has the whole flow and the
    most power; open, the least. The inverse of :func:`turbine_power` is read from a table, to 10⁻⁶.

    Examples
    --------
    >>> turbo = Boost()
    >>> ratio = turbine_ratio(turbo, 0.08, 110e3, 1000.0, power=5000.0)
    >>> f"{ratio:.3f} {turbine_power(ratio, turbo.turbine_area, 110e3, 1000.0):.0f} W"
    '0.714 5000 W'
    """
    within(0.0, np.inf, exhaust_flow=flow, turbine_power=power)
    above_zero(pressure=behind, temperature=temperature)
    error = 1e-6 * np.asarray(wastegate_error_mm2, dtype=np.float64)
    return expansion((boost.turbine_area, boost.wastegate_area), flow, behind, temperature, power, error)


def compressor_power(flow: Values, ratio: Values, temperature: Values) -> Values:
    """Power that an ideal compressor takes.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
    ratio : float or array, shape (n,) [-]
        Pressure behind over ahead; under 1 none is taken.
    temperature : float or array, shape (n,) [K]
        Ahead.

    Returns
    -------
    float or array, shape (n,) [W]

    Raises
    ------
    InputError
        If a number is not above 0, or the flow negative (from the checks).

    Notes
    -----
    ṁ c_p T (Π^((γ-1)/γ) - 1), energy balance of an isentropic compression; [heywood]_ §6.8, from memory.

    Examples
    --------
    >>> f"{compressor_power(0.1, 1.6, 300.0) / 1000:.2f} kW"
    '4.33 kW'
    """
    within(0.0, np.inf, compressor_flow=flow)
    above_zero(compressor_pressure_ratio=ratio, temperature=temperature)
    return compressing(flow, ratio, temperature)


def compressor_ratio(power: Values, flow: Values, temperature: Values) -> Values:
    """Pressure ratio that a power makes.

    Parameters
    ----------
    power : float or array, shape (n,) [W]
        At an ideal compressor; at least 0.
    flow : float or array, shape (n,) [kg/s]
        Above 0.
    temperature : float or array, shape (n,) [K]
        Ahead.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If the power is negative or another number not above 0 (from the checks).

    Notes
    -----
    Follows from :func:`compressor_power`, solved for the ratio. No surge, no choke, no map: near both it promises too
    much.

    Examples
    --------
    >>> f"{compressor_ratio(4330.0, 0.1, 300.0):.2f}"
    '1.60'
    """
    within(0.0, np.inf, compressor_power=power)
    above_zero(compressor_flow=flow, temperature=temperature)
    return compressed(power, flow, temperature)


def charge_temperature(boost: Boost, ratio: Values, temperature: Values) -> Values:
    """Temperature of the charge behind compressor and cooler.

    Parameters
    ----------
    boost : Boost
    ratio : float or array, shape (n,) [-]
        Of the compressor; under 1 it warms nothing.
    temperature : float or array, shape (n,) [K]
        Ahead of the compressor, which is also the cooler's outside air.

    Returns
    -------
    float or array, shape (n,) [K]

    Raises
    ------
    InputError
        If a number is not above 0 (from the check).

    Notes
    -----
    T (1 + (1 - cooling) (Π^((γ-1)/γ) - 1)/η), by definition of both efficiencies; [heywood]_ §6.8, from memory.

    Examples
    --------
    >>> f"{charge_temperature(Boost(), 1.8, 298.15):.0f} K"
    '322 K'
    """
    above_zero(compressor_pressure_ratio=ratio, temperature=temperature)
    return warmed(boost.compressor_efficiency, boost.cooling, ratio, temperature)
