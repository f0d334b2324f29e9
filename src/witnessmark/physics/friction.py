"""Friction of a warm engine as a mean pressure: rubbing, and the pumps it cannot do without; accessories unloaded."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero
from witnessmark.physics.chain import Values

__all__ = ["friction_pressure", "power_pressure"]


def friction_pressure(speed_rpm: Values, displacement: Values, cylinders: int = 4) -> Values:
    """Mean pressure of friction of a warm engine whose bore is its stroke.

    Parameters
    ----------
    speed_rpm : float or array, shape (n,) [rpm]
    displacement : float or array, shape (n,) [m3]
        Of the whole engine.
    cylinders : int

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If a number is not above 0 (from the check).

    Notes
    -----
    144 kPa · (0.46 + 9.1·10⁻⁴ (S ω)²) · √(0.075/B), S and B in m: [guzzella2010]_ section 2.5, from memory. Oil, water
    and fuel pumps and an alternator without load are in it; pumping of gas and all that is drawn from the accessories
    is not. At 800 rpm and two litres the sum over parts of [patton1989]_, from memory, makes 61 to 75 kPa, with and
    without rollers in the valve train; at 3,000 rpm only two thirds of this.

    Examples
    --------
    >>> f"{friction_pressure(800.0, 0.002) / 1000:.0f} kPa"
    '68 kPa'
    """
    above_zero(engine_speed=speed_rpm, displacement=displacement, cylinders=float(cylinders))
    bore = (4.0 * np.asarray(displacement, dtype=np.float64) / (np.pi * cylinders)) ** (1.0 / 3.0)
    found: Values = 144e3 * (0.46 + 9.1e-4 * (bore * speed_rpm * np.pi / 30.0) ** 2) * np.sqrt(0.075 / bore)
    return found


def power_pressure(power: Values, speed_rpm: Values, displacement: Values) -> Values:
    """Mean pressure that a power taken from the crank amounts to.

    Parameters
    ----------
    power : float or array, shape (n,) [W]
    speed_rpm : float or array, shape (n,) [rpm]
    displacement : float or array, shape (n,) [m3]

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If speed or displacement is not above 0 (from the check).

    Notes
    -----
    120 P/(V n), by definition of mean pressure in a four-stroke engine.

    Examples
    --------
    >>> f"{power_pressure(560.0, 800.0, 0.002) / 1000:.0f} kPa"
    '42 kPa'
    """
    above_zero(engine_speed=speed_rpm, displacement=displacement)
    return power * 120.0 / (displacement * speed_rpm)
