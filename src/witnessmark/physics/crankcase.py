"""Pressure in the crankcase: blow-by and fresh air in, the ventilation's valve out."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import signed_flow

__all__ = ["crankcase_gauge"]


def crankcase_gauge(
    blow_by: Values, plenum: Values, *, valve: Values, breather: Values, ambient: Values = 101_325.0
) -> Values:
    """Gauge pressure in a crankcase.

    Parameters
    ----------
    blow_by : float or array, shape (n,) [kg/s]
        Past the rings.
    plenum : float or array, shape (n,) [Pa]
        Absolute; where the valve leads.
    valve, breather : float or array, shape (n,) [m2]
        Effective areas: of the ventilation's valve, and of hose and leaks to outside air.
    ambient : float or array, shape (n,) [Pa]

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If a flow or the valve's area is negative, or another number not above 0 (from the checks).

    Notes
    -----
    Follows from the balance of mass: blow-by plus what the breather lets in equals what the valve draws off, or the
    breather lets out the rest. The valve passes what it does with the crankcase near ambient pressure, by the flow
    function; breather: Δp = ṁ²/(2 ρ A²), ρ 1.18 kg/m³ (Bernoulli). Holds to some 10 kPa; the answer stops at 20 kPa.

    Examples
    --------
    >>> f"{crankcase_gauge(0.0002, 35e3, valve=2.5e-6, breather=60e-6):.0f} Pa"
    '-16 Pa'
    >>> f"{crankcase_gauge(0.004, 35e3, valve=2.5e-6, breather=60e-6):.0f} Pa"
    '1383 Pa'
    """
    within(0.0, np.inf, blow_by=blow_by, valve_area=valve)
    above_zero(plenum_pressure=plenum, breather_area=breather, ambient_pressure=ambient)
    drawn = np.maximum(signed_flow(valve, ambient, plenum, 320.0, 320.0), 0.0)
    surplus = np.asarray(blow_by) - drawn
    gauge: Values = np.sign(surplus) * np.square(surplus / breather) / (2.0 * 1.18)
    return np.clip(gauge, -20e3, 20e3)
