"""Where codes set: makers' limits, seldom known, each as a handful of values with their odds.

All odds are our guess. Where a limit has a source it stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.logistic import step

__all__ = [
    "ABOVE_EVEN",
    "LIMITS",
    "LIMITS_DEG",
    "LIMIT_ODDS",
    "MISFIRES",
    "NAMES_EACH",
    "OF_THE_DRIVE",
    "ONE_CYLINDER",
    "STORAGE_LOST",
    "Limits",
]

# Where crank-cam codes set, in crank degrees. Of the order of 5° to 10°: common practice, no source;
# shape and odds our guess.
LIMITS_DEG = np.array([4.0, 6.0, 8.0, 10.0, 13.0, 17.0])
LIMIT_ODDS = np.array([0.12, 0.22, 0.24, 0.2, 0.14, 0.08])


@dataclass(frozen=True, slots=True)
class Limits:
    """An uncertain threshold.

    Parameters
    ----------
    values : tuple of float, shape (m,)
        In the quantity's unit.
    odds : tuple of float, shape (m,) [-]
        Summing to 1.
    blur : float, shape ()
        What a monitor's own noise adds, a standard deviation in the quantity's unit.
    """

    values: tuple[float, ...]
    odds: tuple[float, ...]
    blur: float

    def crossed(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Chance that a quantity is beyond the limit.

        Parameters
        ----------
        x : ndarray
            In the quantity's unit, of any shape; NaN: no such quantity, so no monitor.

        Returns
        -------
        ndarray
            Of the same shape [-].
        """
        known = np.nan_to_num(np.asarray(x, dtype=np.float64), nan=-1e9, posinf=1e9, neginf=-1e9)
        beyond = step((known[..., None] - np.asarray(self.values)) / self.blur)
        return np.asarray(beyond @ np.asarray(self.odds))

    def undercut(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Chance that a quantity is short of the limit.

        Parameters
        ----------
        x : ndarray
            In the quantity's unit, of any shape; NaN: no such quantity, so no monitor.

        Returns
        -------
        ndarray
            Of the same shape [-].
        """
        known = np.nan_to_num(np.asarray(x, dtype=np.float64), nan=1e9, posinf=1e9, neginf=-1e9)
        below = step((np.asarray(self.values) - known[..., None]) / self.blur)
        return np.asarray(below @ np.asarray(self.odds))


MISFIRES = Limits(tuple(np.log((10.0, 20.0, 30.0, 50.0))), (0.2, 0.3, 0.3, 0.2), 0.3)
"""Logarithm of misfires in a thousand firings of the whole engine: a few percent, from memory."""

ONE_CYLINDER = Limits((0.6, 0.75, 0.9), (0.25, 0.25, 0.5), 0.05)
"""Share of all misfires in one cylinder that names it. Above 0.9: 13 CCR 1968.2; lower ones our guess."""

NAMES_EACH = 0.5
"""Share of computers that name every cylinder that misfires by itself, where several do: the rule asks for the code of
several and leaves it to them to name the cylinders too (13 CCR 1968.2, from memory); the share is our guess."""

ABOVE_EVEN = Limits((1.15, 1.25, 1.35), (0.3, 0.4, 0.3), 0.03)
"""A cylinder's misfires over the mean of all, from which on it is named beside others; our guess."""

STORAGE_LOST = Limits((0.6, 0.7, 0.8), (0.3, 0.4, 0.3), 0.05)
"""Share of its oxygen storage that a catalyst has lost."""

OF_THE_DRIVE = ("correlation", "slew")
"""Limits that the timing drive's codes share; :data:`LIMITS_DEG` is the first."""

_USUAL = (0.3, 0.4, 0.3)


def _three(low: float, middle: float, high: float, blur: float) -> Limits:
    return Limits((low, middle, high), _USUAL, blur)


LIMITS: Mapping[str, Limits] = {
    # Short and long term trim together, percent: 20 to 25 either way, common practice, no source.
    "trim": Limits((18.0, 20.0, 22.0, 25.0), (0.15, 0.35, 0.25, 0.25), 1.2),
    "rail_low": _three(0.12, 0.2, 0.3, 0.03),  # share of the target that is missing
    "rail_high": _three(0.12, 0.2, 0.3, 0.03),
    "rail_kpa": _three(150.0, 300.0, 600.0, 30.0),
    "air_ratio": _three(0.22, 0.3, 0.4, 0.04),  # logarithm of air reported over what speed and pressure say
    "map_kpa": _three(8.0, 12.0, 18.0, 1.5),
    "throttle_air": _three(12.0, 18.0, 26.0, 2.0),
    "temperature_k": _three(15.0, 20.0, 30.0, 3.0),
    "air_too_hot": _three(80.0, 95.0, 110.0, 3.0),
    "coolant_too_hot": _three(115.0, 120.0, 125.0, 2.0),
    "warm_up": _three(0.7, 1.0, 1.5, 0.1),  # share by which it takes longer than a sound engine
    "warm_up_closed_loop": _three(1.5, 2.5, 4.0, 0.2),
    "misfires": MISFIRES,
    "crank_variation": _three(0.1, 0.2, 0.4, 0.03),  # percent
    "throttle_zero": _three(1.5, 2.5, 4.0, 0.3),  # percent
    "track_gap": _three(3.0, 5.0, 8.0, 0.5),  # percent between two tracks
    "rear": _three(0.45, 0.6, 0.75, 0.06),  # swing of the rear oxygen sensor over the front one's
    "o2_slow": _three(0.25, 0.5, 0.9, 0.08),  # seconds more than a sound sensor takes to 63 % of a step
    "lambda_stuck": _three(0.05, 0.08, 0.14, 0.008),
    "lambda_rear": _three(0.02, 0.03, 0.05, 0.005),
    "heater_ohm": _three(0.3, 0.5, 0.8, 0.04),
    # Rpm off the target: about 100 below, 100 to 200 above, common practice, no source.
    "speed_below": _three(80.0, 100.0, 150.0, 15.0),
    "speed_above": Limits((100.0, 150.0, 200.0), (0.3, 0.3, 0.4), 15.0),
    "idle_air": _three(8.0, 12.0, 18.0, 1.5),  # percent points
    "load_lost": _three(0.2, 0.3, 0.4, 0.03),
    "boost_off": _three(0.15, 0.22, 0.3, 0.03),
    "boost_none": _three(0.6, 0.75, 0.9, 0.05),
    "knock_deg": _three(5.0, 7.0, 9.0, 0.7),
    "oil_kpa": _three(20.0, 35.0, 50.0, 6.0),  # kilopascal at warm idle
    # Volts: a board holds 13.5 to 14.8 running and about 12 at rest; common practice, no source.
    "volts_off": _three(2.5, 3.0, 3.5, 0.3),
    "volts_low": _three(9.0, 10.0, 11.0, 0.3),
    "volts_high": _three(15.6, 16.0, 16.5, 0.2),
    "charging_low": _three(12.0, 12.5, 13.0, 0.2),
    "reference_low": _three(4.4, 4.6, 4.75, 0.04),
    "reference_high": _three(5.2, 5.3, 5.5, 0.04),
    "reference_off": _three(0.25, 0.4, 0.6, 0.04),
    "bus_errors": _three(50.0, 120.0, 300.0, 15.0),  # lost frames in a second
    "half": Limits((0.5,), (1.0,), 0.1),
}
"""Every other limit, by the name that the codes' files give it, in the unit of what it is held against."""
