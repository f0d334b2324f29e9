"""Outside air without its water: pressure and density by altitude."""

from __future__ import annotations

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import R_AIR

__all__ = [
    "air_density",
    "geopotential_altitude",
    "standard_density",
    "standard_pressure",
    "standard_temperature",
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
