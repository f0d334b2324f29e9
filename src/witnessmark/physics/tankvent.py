"""A tank that cannot breathe: the depression that fuel leaves behind, and what vapour does to the pump."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import within
from witnessmark.physics.chain import Values
from witnessmark.physics.exhaust import remaining_area

__all__ = ["PUMP_NEEDS", "VENT_AREA", "pump_in_vapour", "tank_depression"]

VENT_AREA = 0.6e-6
"""Effective area of a sound vent, m2; our guess."""
_MOST = 25e3  # Pa at which a tank draws air by other ways or gives way; our guess
PUMP_NEEDS = 15e3
"""Pressure above that of its vapour which fuel needs at the pump's inlet, Pa; our guess."""


def tank_depression(flow: Values, *, restriction: Values, density: float = 745.0) -> Values:
    """Depression in a tank whose vent is narrowed, once it has settled.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
        Fuel taken out.
    restriction : float or array, shape (n,) [-]
        Share of the vent's area lost.
    density : float [kg/m3]
        Of the fuel.

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If a flow or restriction is negative (from the checks).

    Notes
    -----
    Follows from Bernoulli's equation, Δp = ρ (V̇/A)²/2: air of the volume of the fuel comes in by the vent. The area,
    that of a hole of 1 mm, and the limit of 25 kPa are our guess.

    Examples
    --------
    >>> [f"{tank_depression(0.004, restriction=r):.0f} Pa" for r in (0.0, 0.9, 0.99)]
    ['47 Pa', '4725 Pa', '25000 Pa']
    """
    within(0.0, np.inf, fuel_flow=flow)
    area = remaining_area(VENT_AREA, restriction)
    return np.minimum(1.18 / 2.0 * np.square(flow / density / area), _MOST)


def pump_in_vapour(depression: Values, *, volatility: Values, hot: Values, ambient: Values = 101_325.0) -> Values:
    """Share of its flow that a pump in the tank keeps when fuel is near boiling at its inlet.

    Parameters
    ----------
    depression : float or array, shape (n,) [Pa]
        In the tank.
    volatility : float or array, shape (n,) [kPa]
        Vapour pressure of the fuel at 37.8 °C.
    hot : float or array, shape (n,) [K]
        Temperature of the fuel above 37.8 °C.
    ambient : float or array, shape (n,) [Pa]

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If a depression or volatility is negative (from the check).

    Notes
    -----
    Vapour pressure grows by 3.5 % a kelvin (Clausius and Clapeyron with 30 kJ/mol, from memory). From 15 kPa of reserve
    down the flow falls in proportion; our guess.

    Examples
    --------
    >>> [round(float(pump_in_vapour(d, volatility=65.0, hot=0.0)), 2) for d in (0.0, 25e3, 30e3)]
    [1.0, 0.76, 0.42]
    """
    within(0.0, np.inf, depression=depression, volatility=volatility)
    boiling = 1000.0 * np.asarray(volatility) * np.exp(0.035 * np.asarray(hot))
    reserve = np.asarray(ambient) - depression - boiling
    kept: Values = np.clip(reserve / PUMP_NEEDS, 0.02, 1.0)
    return kept
