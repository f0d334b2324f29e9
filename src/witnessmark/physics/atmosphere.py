"""Outside air: pressure and density by altitude, and how much of it is water vapour."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import R_AIR

__all__ = [
    "air_density",
    "dry_air_density",
    "geopotential_altitude",
    "humidity_ratio",
    "saturation_pressure",
    "standard_density",
    "standard_pressure",
    "standard_temperature",
    "vapour_pressure",
]

_EARTH = 6_356_766.0
_SEA_LEVEL_PRESSURE, _SEA_LEVEL_TEMPERATURE = 101_325.0, 288.15
_LAPSE = 0.0065
_EXPONENT = 5.25588
_R_STANDARD = 287.05287


def geopotential_altitude(geometric: Values) -> Values:
    """Altitude in a field of constant gravity that has the same energy.

    Parameters
    ----------
    geometric : float or array, shape (n,) [m]
        Height above mean sea level.

    Returns
    -------
    float or array, shape (n,) [m]

    Raises
    ------
    InputError
        Outside -5,000 to 11,000 m (from the check).

    Notes
    -----
    H = r h/(r + h), r = 6,356,766 m, ISO 2533:1975, from memory.

    Examples
    --------
    >>> f"{geopotential_altitude(1000.0):.2f} m"
    '999.84 m'
    """
    within(-5_000.0, 11_000.0, geometric_altitude=geometric)
    return _EARTH * geometric / (_EARTH + geometric)


def standard_temperature(altitude: Values) -> Values:
    """Temperature of the standard atmosphere.

    Parameters
    ----------
    altitude : float or array, shape (n,) [m]
        Geopotential.

    Returns
    -------
    float or array, shape (n,) [K]

    Raises
    ------
    InputError
        Outside -5,000 to 11,000 m (from the check).

    Notes
    -----
    288.15 K less 6.5 K for each 1,000 m, ISO 2533:1975, from memory; the troposphere only.

    Examples
    --------
    >>> standard_temperature(2000.0)
    275.15
    """
    within(-5_000.0, 11_000.0, altitude=altitude)
    return _SEA_LEVEL_TEMPERATURE - _LAPSE * altitude


def standard_pressure(altitude: Values) -> Values:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float or array, shape (n,) [m]
        Geopotential; see :func:`geopotential_altitude`.

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        Outside -5,000 to 11,000 m (from the check).

    Notes
    -----
    101,325 (1 - 0.0065 H/288.15)^5.25588, ISO 2533:1975, from memory; the troposphere only. Weather moves the true
    pressure by ±3 % about it.

    Examples
    --------
    >>> f"{standard_pressure(1000.0) / 1000:.3f} kPa"
    '89.875 kPa'
    """
    return _SEA_LEVEL_PRESSURE * (standard_temperature(altitude) / _SEA_LEVEL_TEMPERATURE) ** _EXPONENT


def standard_density(altitude: Values) -> Values:
    """Density of the standard atmosphere, which is dry.

    Parameters
    ----------
    altitude : float or array, shape (n,) [m]
        Geopotential.

    Returns
    -------
    float or array, shape (n,) [kg/m3]

    Raises
    ------
    InputError
        Outside -5,000 to 11,000 m (from the check).

    Notes
    -----
    p/(R T) with R = 287.05287 J/(kg K), ISO 2533:1975, from memory.

    Examples
    --------
    >>> f"{standard_density(0.0):.4f} kg/m3"
    '1.2250 kg/m3'
    """
    return standard_pressure(altitude) / (_R_STANDARD * standard_temperature(altitude))


def air_density(pressure: Values, temperature: Values) -> Values:
    """Density of dry air.

    Parameters
    ----------
    pressure : float or array, shape (n,) [Pa]
    temperature : float or array, shape (n,) [K]

    Returns
    -------
    float or array, shape (n,) [kg/m3]

    Raises
    ------
    InputError
        If either is not above 0 (from the check).

    Notes
    -----
    p/(R T), identity of the ideal gas; 0.05 % below real air near ambient.

    Examples
    --------
    >>> f"{air_density(101325.0, 298.15):.4f} kg/m3"
    '1.1839 kg/m3'
    """
    above_zero(pressure=pressure, temperature=temperature)
    return pressure / (R_AIR * temperature)


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
