"""Effective flow area of a valve over its lift."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError

__all__ = ["Valves"]

Values = float | NDArray[np.float64]

_FAR = 0.25
"""Lift over diameter at which the curtain is as large as the head's circle."""


@dataclass(frozen=True, slots=True)
class Valves:
    """The intake or the exhaust valves of one cylinder, all lifted alike.

    Parameters
    ----------
    diameter_mm : float [mm]
        Of one head.
    count : int
    low, high : float [-]
        Flow coefficient on the curtain area at small lift and at a lift of a quarter diameter; straight between.
    throat : float [-]
        Area of the port's throat over the head's circle; the effective area never passes ``throat`` times ``high``
        times the circle over which it is met.

    Raises
    ------
    EngineDefinitionError
        Where a size or coefficient is not positive.

    Notes
    -----
    Curtain area π D L; coefficients about 0.7 at small lift falling to about 0.5 at large lift, from memory
    [heywood] ch. 6. Curtain and throat are never mixed: up to a quarter diameter the curtain counts, beyond it the
    area stays.

    Examples
    --------
    >>> f"{1e6 * Valves(33.0, 2).area_m2(2.0):.0f} mm2"
    '270 mm2'
    """

    diameter_mm: float
    count: int = 1
    low: float = 0.7
    high: float = 0.5
    throat: float = 0.85

    def __post_init__(self) -> None:
        for name in ("diameter_mm", "count", "low", "high", "throat"):
            if not getattr(self, name) > 0:
                raise EngineDefinitionError(f"valves: {name} {getattr(self, name):g} given, more than 0 expected")

    def area_m2(self, lift_mm: Values) -> Values:
        """Effective area of all of them, flow coefficient included.

        Parameters
        ----------
        lift_mm : float or array, shape (n,) [mm]

        Returns
        -------
        float or array, shape (n,) [m2]

        Notes
        -----
        Curtain π D L times its coefficient [heywood] ch. 6, from memory.

        Examples
        --------
        >>> Valves(33.0).area_m2(0.0)
        0.0
        """
        size = 1e-3 * self.diameter_mm
        share = np.clip(np.asarray(lift_mm, dtype=float) / self.diameter_mm, 0.0, _FAR)
        curtain = np.pi * size**2 * share * (self.low + (self.high - self.low) * share / _FAR)
        area = self.count * np.minimum(curtain, self.throat * self.high * np.pi * size**2 * _FAR)
        return area if np.ndim(lift_mm) else float(area)
