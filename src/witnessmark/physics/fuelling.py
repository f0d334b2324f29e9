"""Fuel of an operating point: what is injected for the air believed in, and the trims that bring λ to its target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Fuelling"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fuelling:
    """What an engine burns, and what its computer does about it.

    Parameters
    ----------
    trim : array, shape (n, banks) [%]
        Short and long term together, at its stop where that is reached.
    trim_wanted : array, shape (n, banks) [%]
        What would bring the sensor to its target.
    lambda_bank : array, shape (n, banks) [-]
        Of the gas that the bank's cylinders burn, at the oxygen sensor but without air that leaks in there.
    lambda_reported : array, shape (n, banks) [-]
        As the front sensor shows it.
    lambda_cylinder : array, shape (n, cylinders) [-]
    rail_pressure : array, shape (n,) [Pa]
        Gauge, or above the plenum where the regulator is piped to it.
    fuel_flow : array, shape (n,) [kg/s]
        Out of the rail.
    """

    trim: Array
    trim_wanted: Array
    lambda_bank: Array
    lambda_reported: Array
    lambda_cylinder: Array
    rail_pressure: Array
    fuel_flow: Array
