"""Where codes set: makers' limits, seldom known, each as a handful of values with their odds.

All odds are our guess. Where a limit has a source it stands beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.logistic import step

__all__ = [
    "AIR_RATIO",
    "CRANK_VARIATION",
    "IDLE_AIR",
    "LIMITS_DEG",
    "LIMIT_ODDS",
    "MAP_KPA",
    "MISFIRES",
    "ONE_CYLINDER",
    "RAIL_HIGH",
    "RAIL_LOW",
    "REAR",
    "SPEED_ABOVE",
    "SPEED_BELOW",
    "STORAGE_LOST",
    "TEMPERATURE_K",
    "TRIM",
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


TRIM = Limits((18.0, 20.0, 22.0, 25.0), (0.15, 0.35, 0.25, 0.25), 1.2)
"""Short and long term trim together, in percent: ±20 to 25 % set codes, common practice, no source."""

RAIL_LOW = Limits((0.12, 0.2, 0.3), (0.3, 0.4, 0.3), 0.03)
"""Share of its target that a rail is short of."""

RAIL_HIGH = Limits((0.12, 0.2, 0.3), (0.3, 0.4, 0.3), 0.03)
"""Share of its target that a rail is above it."""

AIR_RATIO = Limits((0.22, 0.3, 0.4), (0.3, 0.4, 0.3), 0.04)
"""Logarithm of the air that is reported over what speed and pressure say."""

MAP_KPA = Limits((8.0, 12.0, 18.0), (0.3, 0.4, 0.3), 1.5)
"""Pressure reported less what it is, in kilopascal."""

TEMPERATURE_K = Limits((15.0, 20.0, 30.0), (0.3, 0.4, 0.3), 3.0)
"""Temperature reported less what it is, in kelvin."""

MISFIRES = Limits(tuple(np.log((10.0, 20.0, 30.0, 50.0))), (0.2, 0.3, 0.3, 0.2), 0.3)
"""Logarithm of misfires in a thousand firings of the whole engine: a few percent, from memory."""

ONE_CYLINDER = Limits((0.6, 0.75, 0.9), (0.25, 0.25, 0.5), 0.05)
"""Share of all misfires in one cylinder that names it. Above 0.9: 13 CCR 1968.2; lower ones our guess."""

CRANK_VARIATION = Limits((0.1, 0.2, 0.4), (0.3, 0.4, 0.3), 0.03)
"""Learnt wheel correction that is wrong by so much, in percent."""

REAR = Limits((0.45, 0.6, 0.75), (0.3, 0.4, 0.3), 0.06)
"""Swing of the rear oxygen sensor over the front one's."""

STORAGE_LOST = Limits((0.6, 0.7, 0.8), (0.3, 0.4, 0.3), 0.05)
"""Share of its oxygen storage that a catalyst has lost."""

SPEED_BELOW = Limits((80.0, 100.0, 150.0), (0.3, 0.4, 0.3), 15.0)
"""Idle speed under its target, in rpm: about 100, common practice, no source."""

SPEED_ABOVE = Limits((100.0, 150.0, 200.0), (0.3, 0.3, 0.4), 15.0)
"""Idle speed above its target, in rpm: 100 to 200, common practice, no source."""

IDLE_AIR = Limits((8.0, 12.0, 18.0), (0.3, 0.4, 0.3), 1.5)
"""Idle air that the control asks for, off a sound engine's, in percent points."""
