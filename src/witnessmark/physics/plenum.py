"""A volume of gas between what flows in and what an engine draws out: where it settles, and how fast."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics._root import falling_root
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import R_AIR, signed_flow

__all__ = ["filling_time", "pressure_rate", "settled_pressure", "step_response"]


def pressure_rate(inflow: Values, outflow: Values, volume: Values, temperature: Values) -> Values:
    """How fast the pressure in a plenum rises.

    Parameters
    ----------
    inflow, outflow : float or array, shape (n,) [kg/s]
    volume : float or array, shape (n,) [m3]
    temperature : float or array, shape (n,) [K]

    Returns
    -------
    float or array, shape (n,) [Pa/s]

    Raises
    ------
    InputError
        If volume or temperature is not above 0 (from the check).

    Notes
    -----
    dp/dt = R T/V (ṁ_in - ṁ_out), follows from conservation of mass at constant temperature (the walls hold it);
    without any heat from the walls it would be γ times as fast.

    Examples
    --------
    >>> f"{pressure_rate(0.005, 0.004, 0.004, 320.0) / 1000:.2f} kPa/s"
    '22.96 kPa/s'
    """
    above_zero(volume=volume, temperature=temperature)
    return R_AIR * temperature / volume * (inflow - outflow)


def filling_time(volume: Values, displacement: Values, speed_rpm: Values, efficiency: Values) -> Values:
    """Time constant with which a plenum follows a choked throttle.

    Parameters
    ----------
    volume : float or array, shape (n,) [m3]
        Of the plenum.
    displacement : float or array, shape (n,) [m3]
    speed_rpm : float or array, shape (n,) [rpm]
    efficiency : float or array, shape (n,) [-]
        Volumetric.

    Returns
    -------
    float or array, shape (n,) [s]

    Raises
    ------
    InputError
        If a number is not above 0 (from the check).

    Notes
    -----
    120 V/(η V_d n): follows from the mass balance with a flow in that does not depend on the pressure and a flow out in
    proportion to it. An unchoked throttle makes it shorter.

    Examples
    --------
    >>> f"{filling_time(0.004, 0.002, 800.0, 0.8):.3f} s"
    '0.375 s'
    """
    above_zero(volume=volume, displacement=displacement, engine_speed=speed_rpm, volumetric_efficiency=efficiency)
    return 120.0 * volume / (efficiency * displacement * speed_rpm)


def settled_pressure(area: Values, upstream: Values, temperature: Values, *, pumping: Values) -> Values:
    """Pressure at which what an effective area lets into a plenum equals what the engine draws.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
        Effective: throttle, idle passage and leaks together.
    upstream : float or array, shape (n,) [Pa]
        Ahead of it.
    temperature : float or array, shape (n,) [K]
        Ahead of it and in the plenum.
    pumping : float or array, shape (n,) [m3/s]
        Volume of plenum gas that the engine draws: volumetric efficiency times :func:`filling.swept_flow_rate`.

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If a number is not above 0 (from the check).

    Notes
    -----
    Follows from the mass balance A p₀/√(R T) Ψ(p/p₀) = p V̇/(R T), whose left side falls and whose right side rises
    with p: one root, bracketed. Here the efficiency is given; ``operating`` lets the back pressure change it.

    Examples
    --------
    >>> f"{settled_pressure(20e-6, 101325.0, 298.15, pumping=0.78 * 0.01332) / 1000:.1f} kPa"
    '39.1 kPa'
    """
    above_zero(area=area, upstream_pressure=upstream, temperature=temperature, pumping_volume=pumping)
    a, p0, t, v = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (area, upstream, temperature, pumping))
    )

    def surplus(p: Values) -> Values:
        return signed_flow(a, p0, p, t, t) - p * v / (R_AIR * t)

    return falling_root(surplus, 1e-4 * p0, p0 * (1.0 + 1e-9))


def step_response(
    start: Values, time: Values, *, area: Values, upstream: Values, temperature: Values, pumping: Values, volume: Values
) -> Values:
    """Pressure in a plenum some time after its throttle, leak or engine speed has changed at once.

    Parameters
    ----------
    start : float or array, shape (n,) [Pa]
        Pressure at the moment of the change.
    time : array, shape (k,) [s]
        Since the change, rising from 0 or later.
    area, upstream, temperature, pumping : float or array, shape (n,) [m2], [Pa], [K], [m3/s]
        After the change, as :func:`settled_pressure`.
    volume : float or array, shape (n,) [m3]
        Of the plenum.

    Returns
    -------
    array, shape (k, n) or (k,) [Pa]

    Raises
    ------
    InputError
        If a time is negative or falls, or another number is not above 0 (from the checks).

    Notes
    -----
    :func:`pressure_rate` integrated by the classical Runge-Kutta rule of fourth order, from memory, in steps of a
    fiftieth of :func:`filling_time` or shorter.

    Examples
    --------
    >>> p = step_response(
    ...     30e3, [0.0, 3.0], area=20e-6, upstream=101325.0, temperature=298.15, pumping=0.01039, volume=0.003
    ... )
    >>> f"{p[0] / 1000:.1f} {p[1] / 1000:.1f} kPa"
    '30.0 39.1 kPa'
    """
    above_zero(starting_pressure=start, area=area, upstream_pressure=upstream, temperature=temperature)
    above_zero(pumping_volume=pumping, volume=volume)
    times = np.atleast_1d(np.asarray(time, dtype=np.float64))
    within(0.0, np.inf, time=times, time_from_one_to_the_next=np.diff(times, prepend=times[0]))

    def rate(p: Values) -> Values:
        inflow = signed_flow(area, upstream, p, temperature, temperature)
        return R_AIR * temperature / volume * inflow - p * pumping / volume

    p = np.broadcast_arrays(np.asarray(start, dtype=np.float64), area, upstream, temperature, pumping, volume)[0] * 1.0
    longest = 0.02 * float(np.min(volume / np.asarray(pumping)))
    found, now = [], 0.0
    for until in times:
        steps = int(np.ceil((until - now) / longest))
        for _ in range(steps):
            h = (until - now) / steps
            k1 = rate(p)
            k2 = rate(p + 0.5 * h * k1)
            k3 = rate(p + 0.5 * h * k2)
            p = p + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + rate(p + h * k3))
        found.append(p)
        now = float(until)
    return np.stack(found)
