"""Engine oil: viscosity by temperature and dilution, and the pressure that a pump makes with it.

(docs/physics.md, "oil")
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values
from witnessmark.physics.sensorcircuit import ZERO_CELSIUS

__all__ = ["Oil", "OilCircuit", "diluted", "dynamic_viscosity", "kinematic_viscosity", "oil_pressure"]

_FUEL_MM2_S = 0.5  # petrol at any temperature of an oil pan, from memory


@dataclass(frozen=True, slots=True)
class Oil:
    """An oil by its two kinematic viscosities.

    Parameters
    ----------
    at_40 : float [mm^2/s]
    at_100 : float [mm^2/s]
    density : float [kg/m^3]
        At 15 °C.
    """

    at_40: float = 70.0
    at_100: float = 12.0
    density: float = 855.0


@dataclass(frozen=True, slots=True)
class OilCircuit:
    """Pump, leaks and relief valve.

    Parameters
    ----------
    litres_per_turn : float [L]
        What the pump delivers for a turn of the crank, its own ratio included.
    leak : float [m^3]
        Flow through all bearings for each Pa, times viscosity: grows with the cube of their clearance.
    pump_slip : float [m^3]
        The same through the pump's own clearances.
    relief_pa : float [Pa]
        Where the relief valve starts to open.
    relief_slope : float [m^3/(s Pa)]
        Flow through it for each Pa beyond.
    """

    litres_per_turn: float = 0.013
    leak: float = 8.0e-12
    pump_slip: float = 2.0e-12
    relief_pa: float = 420e3
    relief_slope: float = 8.0e-9


def kinematic_viscosity(celsius: Values, oil: Oil) -> Values:
    """Kinematic viscosity of an oil.

    Parameters
    ----------
    celsius : float or array, shape (n,) [C]
    oil : Oil

    Returns
    -------
    float or array, shape (n,) [mm^2/s]

    Raises
    ------
    EngineDefinitionError
        For an oil that does not thin with heat, or thinner than 2 mm²/s.

    Notes
    -----
    log log(ν + 0.7) = A - B log T through both points, ASTM D341 (Walther); a published example, where 32 and 5.4 mm²/s
    give 8.5 at 80 °C, agrees (docs/references.md, [d341_example]_). Above 2 mm²/s; near its pour point an oil is
    thicker than this.

    Examples
    --------
    >>> [f"{kinematic_viscosity(t, Oil()):.1f}" for t in (-10.0, 40.0, 90.0, 120.0)]
    ['1219.7', '70.0', '15.0', '8.1']
    """
    if not oil.at_40 > oil.at_100 >= 2.0:
        given = f"an oil of {oil.at_40:g} mm²/s at 40 °C and {oil.at_100:g} at 100 °C"
        raise EngineDefinitionError(given, expected="less at 100 °C, and 2 or more there")
    cold, hot = (np.log10(np.log10(v + 0.7)) for v in (oil.at_40, oil.at_100))
    t_cold, t_hot = np.log10(40.0 + ZERO_CELSIUS), np.log10(100.0 + ZERO_CELSIUS)
    steep = (cold - hot) / (t_hot - t_cold)
    at = np.log10(np.asarray(celsius, dtype=np.float64) + ZERO_CELSIUS)
    found: Values = 10.0**10.0 ** (cold - steep * (at - t_cold)) - 0.7
    return found


def diluted(viscosity: Values, fuel_share: Values) -> Values:
    """Viscosity of an oil with fuel in it.

    Parameters
    ----------
    viscosity : float or array, shape (n,) [mm^2/s]
        Of the pure oil at the temperature wanted.
    fuel_share : float or array, shape (n,) [-]
        By mass (state variable oil_fuel).

    Returns
    -------
    float or array, shape (n,) [mm^2/s]

    Raises
    ------
    EngineDefinitionError
        For a share outside 0 to 1.

    Notes
    -----
    log log(ν + 0.8) mixes by mass (the blending index of Refutas, from memory), fuel 0.5 mm²/s. To a tenth of fuel or
    so; light ends boil off a hot oil, which is left out.

    Examples
    --------
    >>> f"{diluted(14.9, 0.05):.1f}"
    '10.8'
    """
    share = np.asarray(fuel_share, dtype=np.float64)
    if np.any(~((share >= 0.0) & (share <= 1.0))):
        raise EngineDefinitionError("fuel in the oil that is no share", expected="0 to 1")
    oil, fuel = (np.log(np.log(np.asarray(v, dtype=np.float64) + 0.8)) for v in (viscosity, _FUEL_MM2_S))
    found: Values = np.exp(np.exp((1.0 - share) * oil + share * fuel)) - 0.8
    return found


def dynamic_viscosity(celsius: Values, oil: Oil, *, oil_viscosity: Values = 1.0, oil_fuel: Values = 0.0) -> Values:
    """Dynamic viscosity of the oil that is in the engine.

    Parameters
    ----------
    celsius : float or array, shape (n,) [C]
    oil : Oil
        The right one.
    oil_viscosity : float or array, shape (n,) [-]
        Of the oil that is in it, over the right one's.
    oil_fuel : float or array, shape (n,) [-]
        Share of fuel by mass.

    Returns
    -------
    float or array, shape (n,) [Pa s]

    Notes
    -----
    ν ρ, by definition; ρ falls by 0.65 kg/m³ for each kelvin (from memory). Thinning by shear in bearings, a tenth to a
    third for multigrade oils (from memory), is left out.

    Examples
    --------
    >>> f"{1000 * dynamic_viscosity(90.0, Oil()):.1f} mPa s"
    '12.1 mPa s'
    """
    own = kinematic_viscosity(celsius, oil) * np.asarray(oil_viscosity, dtype=np.float64)
    density = oil.density - 0.65 * (np.asarray(celsius, dtype=np.float64) - 15.0)
    found: Values = 1e-6 * diluted(own, oil_fuel) * density
    return found


def oil_pressure(
    engine_rpm: Values, viscosity: Values, circuit: OilCircuit, *, oil_supply: Values = 1.0, clearance: Values = 1.0
) -> Values:
    """Gauge pressure in the main gallery.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,) [rpm]
    viscosity : float or array, shape (n,) [Pa s]
        From :func:`dynamic_viscosity`.
    circuit : OilCircuit
    oil_supply : float or array, shape (n,) [-]
        Share of a sound pump's flow that arrives: pump, pickup, level.
    clearance : float or array, shape (n,) [-]
        Of the bearings, over a sound engine's.

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    EngineDefinitionError
        For a viscosity or clearance that is not above 0, or a supply below 0.

    Notes
    -----
    A pump's flow leaves through laminar gaps, p K/μ, with K as the cube of the clearance (Reynolds, from memory; a
    Poiseuille flow), and beyond its opening through the relief valve, in proportion: p = Q/g, or
    (Q + s p_r)/(g + s). Follows from the sum of flows. Cold oil at high speed also resists in pickup and filter, left
    out; sizes of a circuit are our guess, so a described pressure at one point should scale them.

    Examples
    --------
    Hot idle, hot at 3000 rpm, cold idle:

    >>> oil = Oil()
    >>> cases = ((800.0, 100.0), (3000.0, 100.0), (1100.0, 0.0))
    >>> [f"{oil_pressure(n, dynamic_viscosity(t, oil), OilCircuit()) / 1000:.0f} kPa" for n, t in cases]
    ['166 kPa', '443 kPa', '449 kPa']
    """
    mu, gap = np.asarray(viscosity, dtype=np.float64), np.asarray(clearance, dtype=np.float64)
    supply = np.asarray(oil_supply, dtype=np.float64)
    if np.any(~(mu > 0.0)) or np.any(~(gap > 0.0)) or np.any(~(supply >= 0.0)):
        raise EngineDefinitionError("an oil circuit without viscosity, clearance or supply", expected="above 0")
    flow = np.asarray(engine_rpm, dtype=np.float64) / 60.0 * circuit.litres_per_turn * 1e-3 * supply
    leak = (circuit.leak * gap**3 + circuit.pump_slip) / mu
    shut = flow / leak
    opened = (flow + circuit.relief_slope * circuit.relief_pa) / (leak + circuit.relief_slope)
    pressure: Values = np.where(shut <= circuit.relief_pa, shut, opened)
    return pressure
