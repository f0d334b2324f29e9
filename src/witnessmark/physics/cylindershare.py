"""What a single cylinder's port, valves and leaks take from its share of the charge and of the work."""

from __future__ import annotations

from functools import cache

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.filling import swept_flow_rate
from witnessmark.physics.nozzle import GAMMA_AIR, R_AIR
from witnessmark.physics.valvetiming import swept_share

__all__ = ["leak_loss", "leak_rate", "port_share"]

_OPEN_SHARE = 1.0 / 3.0  # of the cycle that an intake valve stands open: some 240° of 720°
_EXPONENT = 1.3
_FIRED = 3.3  # by which combustion lifts pressure and temperature; from memory, part load


def port_share(area: Values, displacement: Values, speed_rpm: Values, *, left: Values, temperature: Values) -> Values:
    """Share of its sound charge that a cylinder still draws through a narrowed way in.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
        Effective, of port and valve of one sound cylinder.
    displacement : float or array, shape (n,) [m3]
        Of one cylinder.
    speed_rpm : float or array, shape (n,) [rpm]
    left : float or array, shape (n,) [-]
        Share of the area that is left, 0 to 1 and somewhat more.
    temperature : float or array, shape (n,) [K]
        Of what is drawn.

    Returns
    -------
    float or array, shape (n,) [-]
        1 where all of the area is left, 0 where none is; smaller the faster the engine runs.

    Raises
    ------
    InputError
        If an area, a volume, a speed or a temperature is not above 0, or the share is negative (from the checks).

    Notes
    -----
    Follows from Bernoulli's equation, Δp = ṁ²/(2 ρ A²), with a flow in proportion to what pressure is left behind:
    s² q + s = 1, q = R T k²/(2 A²), k flow over pressure while the valve is open, a third of the cycle. What it gives
    for the sound area is divided out, because the engine's filling holds that already.

    Examples
    --------
    >>> [f"{port_share(6e-4, 0.5e-3, n, left=0.3, temperature=320.0):.2f}" for n in (800.0, 3000.0, 6000.0)]
    ['0.99', '0.85', '0.68']
    """
    above_zero(area=area, displacement=displacement, engine_speed=speed_rpm, temperature=temperature)
    within(0.0, np.inf, area_left=left)
    k = swept_flow_rate(displacement, speed_rpm) / (_OPEN_SHARE * R_AIR * temperature)

    def passed(free: Values) -> Values:
        q = R_AIR * temperature * np.square(k / (area * np.maximum(free, 1e-6))) / 2.0
        drawn: Values = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * q))
        return drawn

    return passed(left) / passed(1.0)


@cache
def _mean_flux(ratio: float) -> float:
    """Leak flow over area and pressure at the intake's closing, times √(R T there), as a mean over the cycle."""
    angle = np.linspace(0.5, 179.5, 180)
    squeezed = ratio / (1.0 + (ratio - 1.0) * np.asarray(swept_share(angle, 0.3)))
    choked = np.sqrt(GAMMA_AIR * (2.0 / (GAMMA_AIR + 1.0)) ** ((GAMMA_AIR + 1.0) / (GAMMA_AIR - 1.0)))
    # p/√T over its start: squeezed^n / squeezed^((n-1)/2); burnt, times 3.3/√3.3. Only what is well above atmosphere.
    shape = squeezed ** (0.5 * (_EXPONENT + 1.0))
    return float(choked * np.mean(shape) * (1.0 + np.sqrt(_FIRED)) / 4.0)


def leak_rate(area: Values, pressure: Values, *, compression_ratio: float, temperature: Values = 340.0) -> Values:
    """Gas that a leak takes out of a firing cylinder, as a mean over the cycle.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
        Effective.
    pressure : float or array, shape (n,) [Pa]
        Absolute, when compression starts.
    compression_ratio : float [-]
    temperature : float or array, shape (n,) [K]
        When compression starts.

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        If an area is negative, or a pressure or temperature not above 0 (from the checks).

    Notes
    -----
    Follows from choked flow, p Ψ*/√(R T), averaged over a polytropic compression and expansion (exponent 1.3) of which
    combustion lifts the second by 3.3, from memory for part load. The strokes of gas exchange count for nothing, and
    what the leak takes is not taken off the pressure.

    Examples
    --------
    >>> f"{60000 * leak_rate(4 * 0.4e-6, 35e3, compression_ratio=10.5):.0f} g/min"
    '20 g/min'
    """
    within(0.0, np.inf, leak_area=area)
    above_zero(pressure=pressure, temperature=temperature)
    return area * pressure / np.sqrt(R_AIR * temperature) * _mean_flux(compression_ratio)


def leak_loss(
    area: Values, displacement: Values, speed_rpm: Values, *, compression_ratio: float, temperature: Values = 340.0
) -> Values:
    """Share of a cylinder's charge that a leak takes in a cycle.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
        Effective, of all leaks out of the cylinder.
    displacement : float or array, shape (n,) [m3]
        Of one cylinder.
    speed_rpm : float or array, shape (n,) [rpm]
    compression_ratio : float [-]
    temperature : float or array, shape (n,) [K]
        When compression starts.

    Returns
    -------
    float or array, shape (n,) [-]
        0 to 1; whatever the pressure, for charge and leak grow with it alike.

    Raises
    ------
    InputError
        If an area is negative, or a volume or speed not above 0 (from the checks).

    Notes
    -----
    1 - e^-x: follows from a leak in proportion to what is left; x is :func:`leak_rate` over the charge of a cycle. So a
    leak costs most at low speed.

    Examples
    --------
    >>> [f"{leak_loss(5e-6, 0.5e-3, n, compression_ratio=10.5):.2f}" for n in (200.0, 800.0, 3000.0)]
    ['0.97', '0.57', '0.20']
    """
    above_zero(displacement=displacement, engine_speed=speed_rpm)
    charge = displacement / (R_AIR * temperature) * speed_rpm / 120.0
    lost: Values = -np.expm1(
        -leak_rate(area, 1.0, compression_ratio=compression_ratio, temperature=temperature) / charge
    )
    return lost
