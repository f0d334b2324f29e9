"""Low-pressure fuel: pump, filter, regulator, and the pressure that stays when the pump stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["FuelSupply", "pressure_held", "pump_delivery", "supply_pressure"]


@dataclass(frozen=True, slots=True)
class FuelSupply:
    """A sound supply of fuel, as described.

    Parameters
    ----------
    set_pressure : float or array, shape (n,) [Pa]
        What the regulator holds, gauge: above ambient, or above the plenum where it is piped to it.
    pump_flow : float or array, shape (n,) [kg/s]
        Of a sound pump against no pressure.
    pump_stall : float or array, shape (n,) [Pa]
        Gauge pressure at which a sound pump delivers nothing.
    filter_drop : float or array, shape (n,) [Pa]
        Lost in a sound filter at ``pump_flow``.
    follows_plenum : bool
        Whether the regulator is piped to the plenum.
    """

    set_pressure: Values = 300e3
    pump_flow: Values = 0.035
    pump_stall: Values = 700e3
    filter_drop: Values = 40e3
    follows_plenum: bool = False


def supply_pressure(
    supply: FuelSupply,
    flow: Values,
    *,
    pump: Values = 1.0,
    filter_restriction: Values = 0.0,
    regulator_error: Values = 0.0,
) -> Values:
    """Pressure in the rail while so much fuel is taken out of it.

    Parameters
    ----------
    supply : FuelSupply
    flow : float or array, shape (n,) [kg/s]
    pump : float or array, shape (n,) [-]
        State variable lift_pump_flow.
    filter_restriction : float or array, shape (n,) [-]
        Share of the filter's area lost, below 1.
    regulator_error : float or array, shape (n,) [%]
        Of the pressure set.

    Returns
    -------
    float or array, shape (n,) [Pa]
        Gauge; not below 0.

    Raises
    ------
    InputError
        If a flow is negative, the pump not above 0, the restriction not within 0 to below 1 (from the checks).

    Notes
    -----
    The regulator's pressure, or what pump and filter leave if that is less. Pump: a straight line from free flow to
    stall, free flow scaled by its state, stall with its square root (common practice, no source: a worn pump leaks
    inside). Filter: a drop with the square of flow over area, which follows from Bernoulli's equation. A regulator that
    returns fuel passes pump_flow; one on the pump, as here, only what the engine takes.

    Examples
    --------
    >>> f"{supply_pressure(FuelSupply(), 0.004) / 1000:.0f} kPa"
    '300 kPa'
    >>> f"{supply_pressure(FuelSupply(), 0.004, filter_restriction=0.95) / 1000:.0f} kPa"
    '300 kPa'
    >>> f"{supply_pressure(FuelSupply(), 0.006, pump=0.3) / 1000:.0f} kPa"
    '163 kPa'
    """
    within(0.0, np.inf, fuel_flow=flow)
    above_zero(lift_pump_flow=pump)
    within(0.0, 1.0 - 1e-9, filter_restriction=filter_restriction)
    lost = supply.filter_drop * np.square(flow / supply.pump_flow / (1.0 - filter_restriction))
    most = supply.pump_stall * np.sqrt(pump) * (1.0 - flow / (supply.pump_flow * pump)) - lost
    wanted = supply.set_pressure * (1.0 + regulator_error / 100.0)
    return np.maximum(np.minimum(wanted, most), 0.0)


def pump_delivery(supply: FuelSupply, pressure: Values, *, pump: Values = 1.0) -> Values:
    """Fuel that the pump gives against a pressure at its outlet.

    Parameters
    ----------
    supply : FuelSupply
    pressure : float or array, shape (n,) [Pa]
        Gauge.
    pump : float or array, shape (n,) [-]
        State variable lift_pump_flow.

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        If the pump is not above 0 (from the check).

    Notes
    -----
    The line of :func:`supply_pressure`, common practice, no source, solved for the flow.

    Examples
    --------
    >>> f"{1000 * pump_delivery(FuelSupply(), 300e3):.1f} g/s"
    '20.0 g/s'
    """
    above_zero(lift_pump_flow=pump)
    left = 1.0 - pressure / (supply.pump_stall * np.sqrt(pump))
    return supply.pump_flow * pump * np.clip(left, 0.0, 1.0)


def pressure_held(start: Values, bleed: Values, time: Values) -> Values:
    """Rail pressure some time after the pump has stopped.

    Parameters
    ----------
    start : float or array, shape (n,) [Pa]
        Gauge.
    bleed : float or array, shape (n,) [kPa/min]
        State variable rail_bleed: how fast it falls at first.
    time : float or array, shape (n,) [s]

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If a pressure is not above 0, or bleed or time negative (from the checks).

    Notes
    -----
    p = p₀ (1 - r t/(2 p₀))² follows from a leak ∝ √p out of a volume whose pressure falls in proportion to what it
    loses; then 0. Warming and boiling of the fuel, which hold a hot rail up, are left out.

    Examples
    --------
    >>> f"{pressure_held(300e3, 60.0, 60.0) / 1000:.0f} kPa"
    '243 kPa'
    """
    above_zero(starting_pressure=start)
    within(0.0, np.inf, rail_bleed=bleed, time=time)
    left = np.maximum(1.0 - bleed * 1000.0 / 60.0 * time / (2.0 * start), 0.0)
    return start * np.square(left)
