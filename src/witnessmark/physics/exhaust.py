"""The exhaust as three restrictions in a row: front pipe, catalyst, tail; and air that a leak ahead of them lets in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.physics._pressures import ahead
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import GAMMA_EXHAUST, HOLE, R_EXHAUST, signed_flow

__all__ = ["BackPressure", "Exhaust", "back_pressure", "front_leak_air", "remaining_area"]

_NEARLY_SHUT = 1e-3


@dataclass(frozen=True, slots=True)
class Exhaust:
    """The exhaust of one bank, sound and as described; common pipes are shared out between the banks.

    Parameters
    ----------
    front_area, catalyst_area, tail_area : float [m2]
        Effective areas ahead of the front sensor, between the sensors, and behind the rear one.
    temperature : float [K]
        Of the gas in it: hot, as at the load that matters.
    pulse : float [Pa]
        By how much the pressure ahead of the front sensor swings about its mean.
    """

    front_area: float = 1600e-6
    catalyst_area: float = 1000e-6
    tail_area: float = 1250e-6
    temperature: float = 850.0
    pulse: float = 3000.0


@dataclass(frozen=True, slots=True)
class BackPressure:
    """Pressures along an exhaust.

    Parameters
    ----------
    port : float or array, shape (n,) [Pa]
        Absolute, at the cylinders: ahead of everything.
    front_sensor, rear_sensor : float or array, shape (n,) [Pa]
        Absolute, where the oxygen sensors sit: ahead of the catalyst, and behind it.
    """

    port: Values
    front_sensor: Values
    rear_sensor: Values


def remaining_area(area: Values, restriction: Values) -> Values:
    """Area that a restriction leaves.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
    restriction : float or array, shape (n,) [-]
        Share of the area lost, at least 0; from 0.999 up it counts as 0.999, so that flow stays finite.

    Returns
    -------
    float or array, shape (n,) [m2]

    Raises
    ------
    InputError
        If a restriction is negative (from the check).

    Notes
    -----
    A (1 - r), by definition of the state variable.

    Examples
    --------
    >>> f"{1e6 * remaining_area(1000e-6, 0.9):.0f} mm2"
    '100 mm2'
    """
    within(0.0, np.inf, restriction=restriction)
    return area * np.maximum(1.0 - np.asarray(restriction), _NEARLY_SHUT)


def back_pressure(
    exhaust: Exhaust,
    flow: Values,
    ambient: Values,
    *,
    front: Values = 0.0,
    catalyst: Values = 0.0,
    tail: Values = 0.0,
) -> BackPressure:
    """Pressures that a flow of exhaust builds up.

    Parameters
    ----------
    exhaust : Exhaust
    flow : float or array, shape (n,) [kg/s]
        Air and fuel of the bank; at least 0.
    ambient : float or array, shape (n,) [Pa]
    front, catalyst, tail : float or array, shape (n,) [-]
        Shares of area lost.

    Returns
    -------
    BackPressure

    Raises
    ------
    InputError
        If a flow or restriction is negative or the ambient pressure not above 0 (from the checks).

    Notes
    -----
    Follows from the flow function taken backwards through each restriction, [heywood]_ appendix C: with the square of
    the flow, Δp = ṁ² R T/(2 p A²), until it chokes, then with the flow itself. Steady means; one temperature all
    along it.

    Examples
    --------
    >>> found = back_pressure(Exhaust(), 0.100, 101325.0)
    >>> f"{(found.port - 101325.0) / 1000:.1f} {(found.front_sensor - 101325.0) / 1000:.1f} kPa"
    '23.0 19.0 kPa'
    >>> blocked = back_pressure(Exhaust(), 0.020, 101325.0, catalyst=0.9)
    >>> f"{(blocked.front_sensor - 101325.0) / 1000:.1f} kPa"
    '51.0 kPa'
    """
    within(0.0, np.inf, exhaust_flow=flow)
    above_zero(ambient_pressure=ambient)
    areas = [remaining_area(exhaust.tail_area, tail), remaining_area(exhaust.catalyst_area, catalyst)]
    areas.append(remaining_area(exhaust.front_area, front))
    levels, pressure = [], ambient
    for area in areas:
        pressure = ahead(flow, area, pressure, exhaust.temperature, GAMMA_EXHAUST, R_EXHAUST)
        levels.append(pressure)
    return BackPressure(port=levels[2], front_sensor=levels[1], rear_sensor=levels[0])


def front_leak_air(exhaust: Exhaust, leak_area_mm2: Values, mean: Values, ambient: Values, air: Values) -> Values:
    """Outside air that a leak ahead of the front sensor draws in while the pulses are below ambient.

    Parameters
    ----------
    exhaust : Exhaust
    leak_area_mm2 : float or array, shape (n,) [mm2]
        Geometric.
    mean : float or array, shape (n,) [Pa]
        Mean pressure there, absolute.
    ambient : float or array, shape (n,) [Pa]
    air : float or array, shape (n,) [K]
        Temperature outside.

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        If an area is negative or a pressure or temperature not above 0 (from the checks).

    Notes
    -----
    Follows from :func:`nozzle.mass_flow` through 0.7 of the area, averaged over a sine of amplitude ``exhaust.pulse``
    about the mean, inward flow only. The amplitude, alike at all speeds, is our guess (3 kPa): what holds is the
    direction, much at idle and nothing once back pressure is higher than the pulses.

    Examples
    --------
    >>> [f"{1e6 * front_leak_air(Exhaust(), 10.0, 101325.0 + p, 101325.0, 298.15):.0f}" for p in (0.0, 1500.0, 3000.0)]
    ['225', '110', '0']
    """
    within(0.0, np.inf, leak_area=leak_area_mm2)
    above_zero(mean_pressure=mean, ambient_pressure=ambient, air_temperature=air)
    area = HOLE * 1e-6 * np.asarray(leak_area_mm2, dtype=np.float64)
    total: Values = np.zeros(())
    for k in range(16):
        inside = mean + exhaust.pulse * np.sin(np.pi * (k + 0.5) / 8.0)
        total = total + np.maximum(signed_flow(area, ambient, inside, air, exhaust.temperature), 0.0)
    return total / 16.0
