"""Air flow as manifold pressure, speed and temperature tell it, for an engine of which nothing else is described."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero
from witnessmark.physics.chain import Values
from witnessmark.physics.filling import filling_factor, speed_density_flow
from witnessmark.physics.idle import IDLE_BACK_PRESSURE
from witnessmark.physics.usual import USUAL

__all__ = ["PRESSURE_FLOW_SPREAD", "pressure_flow"]

PRESSURE_FLOW_SPREAD = float(
    np.hypot(USUAL["idle_filling"].sd / USUAL["idle_filling"].value, USUAL["charge_warming"].sd / 320.0)
)
"""Relative spread over sound engines of what :func:`pressure_flow` takes as usual: filling, warming of the charge."""


def pressure_flow(
    pressure: Values, temperature: Values, speed_rpm: Values, *, displacement: Values,
    ambient_pressure: Values = 101_325.0, compression_ratio: Values = USUAL["compression_ratio"].value,
) -> Values:  # fmt: skip
    """Air flow of a sound engine of usual filling, from the values that a computer reads.

    Parameters
    ----------
    pressure : float or array, shape (n,) [Pa]
        In the manifold, absolute.
    temperature : float or array, shape (n,) [K]
        Of the intake air, as the computer reads it.
    speed_rpm : float or array, shape (n,) [rpm]
    displacement : float or array, shape (n,) [m3]
    ambient_pressure : float or array, shape (n,) [Pa]
    compression_ratio : float or array, shape (n,) [-]

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        If a number is not above 0 (from the checks).

    Notes
    -----
    ``speed_density_flow`` with the usual filling, less what exhaust left over takes of it (``filling_factor``), the
    charge warmed as usual. Between idle speed and 3,000 rpm filling changes little [hendricks1990]_; beyond, and with
    cams moved, the engine's own filling is not this one.

    Examples
    --------
    >>> f"{1000 * pressure_flow(70e3, 310.0, 2000.0, displacement=0.0018):.1f} g/s"
    '19.1 g/s'
    """
    above_zero(pressure=pressure, ambient_pressure=ambient_pressure)
    left = filling_factor((np.asarray(ambient_pressure) + IDLE_BACK_PRESSURE) / pressure, compression_ratio)
    warm = temperature + USUAL["charge_warming"].value
    filling = USUAL["idle_filling"].value * np.maximum(np.asarray(left), 0.05)
    return speed_density_flow(filling, pressure, warm, displacement=displacement, speed_rpm=speed_rpm)
