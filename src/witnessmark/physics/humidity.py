"""Water vapour in the air: how much, and how much dry air is left beside it."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.atmosphere import air_density
from witnessmark.physics.chain import Values

__all__ = ["dry_air_density", "humidity_ratio", "saturation_pressure", "vapour_pressure"]


def saturation_pressure(temperature: Values) -> Values:
    """Pressure of water vapour over water.

    Parameters
    ----------
    temperature : float or array, shape (n,) [K]

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        Outside 250 to 400 K (from the check).

    Notes
    -----
    Wagner and Pruß, J. Phys. Chem. Ref. Data 31 (2002), Eq. 2.5, from memory; below 273 K over supercooled water, not
    ice.

    Examples
    --------
    >>> f"{saturation_pressure(298.15) / 1000:.4f} kPa"
    '3.1698 kPa'
    """
    within(250.0, 400.0, temperature=temperature)
    t = np.asarray(temperature, dtype=np.float64)
    tau = 1.0 - t / 647.096
    series = -7.85951783 * tau + 1.84408259 * tau**1.5 - 11.7866497 * tau**3
    series = series + 22.6807411 * tau**3.5 - 15.9618719 * tau**4 + 1.80122502 * tau**7.5
    found: Values = 22.064e6 * np.exp(647.096 / t * series)
    return found


def vapour_pressure(temperature: Values, relative_humidity: Values, pressure: Values = 101_325.0) -> Values:
    """Share of the pressure that water vapour makes up in moist air.

    Parameters
    ----------
    temperature : float or array, shape (n,) [K]
    relative_humidity : float or array, shape (n,) [-]
        0 to 1.
    pressure : float or array, shape (n,) [Pa]
        Of the moist air.

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If the humidity is outside 0 to 1, the temperature outside 250 to 400 K, or the air would be all vapour.

    Notes
    -----
    Relative humidity times the saturation pressure times its enhancement by the air above it, Greenspan, J. Res. NBS
    80A (1976), from memory; fitted from 0 to 100 °C at 5 to 200 kPa.

    Examples
    --------
    >>> f"{vapour_pressure(298.15, 0.5) / 1000:.3f} kPa"
    '1.591 kPa'
    """
    within(0.0, 1.0, relative_humidity=relative_humidity)
    saturated = saturation_pressure(temperature)
    above_zero(pressure_of_the_dry_part=pressure - saturated)
    celsius = np.asarray(temperature, dtype=np.float64) - 273.15
    alpha = 3.53624e-4 + 2.93228e-5 * celsius + 2.61474e-7 * celsius**2 + 8.57538e-9 * celsius**3
    beta = np.exp(-10.7588 + 6.32529e-2 * celsius - 2.53591e-4 * celsius**2 + 6.33784e-7 * celsius**3)
    enhanced: Values = np.exp(alpha * (1.0 - saturated / pressure) + beta * (pressure / saturated - 1.0))
    return relative_humidity * saturated * enhanced


def humidity_ratio(temperature: Values, relative_humidity: Values, pressure: Values = 101_325.0) -> Values:
    """Water vapour for each kilogram of dry air.

    Parameters
    ----------
    temperature : float or array, shape (n,) [K]
    relative_humidity : float or array, shape (n,) [-]
    pressure : float or array, shape (n,) [Pa]

    Returns
    -------
    float or array, shape (n,) [kg/kg]

    Raises
    ------
    InputError
        As :func:`vapour_pressure`.

    Notes
    -----
    0.621945 p_w/(p - p_w), by definition, with the molar masses of water and dry air.

    Examples
    --------
    >>> f"{humidity_ratio(308.15, 0.8):.4f}"
    '0.0291'
    """
    vapour = vapour_pressure(temperature, relative_humidity, pressure)
    return 0.621945 * vapour / (pressure - vapour)


def dry_air_density(temperature: Values, relative_humidity: Values, pressure: Values = 101_325.0) -> Values:
    """Dry air in each cubic metre of moist air: what is left to burn with.

    Parameters
    ----------
    temperature : float or array, shape (n,) [K]
    relative_humidity : float or array, shape (n,) [-]
    pressure : float or array, shape (n,) [Pa]

    Returns
    -------
    float or array, shape (n,) [kg/m3]

    Raises
    ------
    InputError
        As :func:`vapour_pressure`.

    Notes
    -----
    (p - p_w)/(R T), Dalton's law, by definition of the partial pressure of an ideal gas.

    Examples
    --------
    >>> f"{dry_air_density(308.15, 0.8):.4f} kg/m3"
    '1.0944 kg/m3'
    """
    dry = pressure - vapour_pressure(temperature, relative_humidity, pressure)
    return air_density(dry, temperature)
