"""Heat from a cylinder's gas to its walls: two usual formulas, which disagree at cranking speed.

Both have the form h = c · Vᵃ · p^0.8 · Tᵇ with c fixed by engine and speed, so one kernel serves both. Which of them
is nearer at 200 rpm is not known: their difference is an uncertainty, not a choice of taste (docs/physics.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["HOHENBERG", "WOSCHNI", "WallHeat"]

Values = float | NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class WallHeat:
    """One law of heat transfer.

    Parameters
    ----------
    name : str
        "hohenberg" or "woschni".
    scale : float [-]
        Multiplies it: what a fit to a trace finds, or what is not known of it.
    """

    name: str
    scale: float = 1.0

    @property
    def volume_power(self) -> float:
        """The power a of the volume [-]."""
        return -0.06 if self.name == "hohenberg" else 0.0

    @property
    def temperature_power(self) -> float:
        """The power b of the temperature [-]."""
        return -0.4 if self.name == "hohenberg" else -0.55

    def factor(self, bore_m: float, piston_speed_m_s: Values) -> Values:
        """c, for volumes in m³ and pressures in Pa.

        Parameters
        ----------
        bore_m : float [m]
        piston_speed_m_s : float or array [m/s]
            Mean.

        Returns
        -------
        float or array [W/(m2 K)]
            At 1 m³, 1 Pa and 1 K.

        Notes
        -----
        The two formulas of :meth:`coefficient`, from memory [heywood].

        Examples
        --------
        >>> WOSCHNI.factor(0.086, 0.0)
        0.0
        """
        if self.name == "hohenberg":
            return self.scale * 130.0 * 1e-4 * (piston_speed_m_s + 1.4) ** 0.8
        front = self.scale * 3.26 * bore_m**-0.2 * float(np.power(1e-3, 0.8))
        found: Values = front * (2.28 * piston_speed_m_s) ** 0.8
        return found

    def coefficient(
        self, bore_m: float, piston_speed_m_s: Values, volume_m3: Values, pressure_pa: Values, temperature_k: Values
    ) -> Values:
        """Heat transfer coefficient.

        Parameters
        ----------
        bore_m : float [m]
        piston_speed_m_s : float or array [m/s]
            Mean.
        volume_m3, pressure_pa, temperature_k : float or array, shape (n,) [m3], [Pa], [K]

        Returns
        -------
        float or array, shape (n,) [W/(m2 K)]

        Notes
        -----
        Hohenberg: 130 V^−0.06 p^0.8 T^−0.4 (c̄ + 1.4)^0.8 [m³, bar]; made for running diesel engines, its 1.4 m/s keeps
        a floor at low speed. Woschni, motored: 3.26 B^−0.2 p^0.8 T^−0.55 (2.28 c̄)^0.8 [m, kPa]. Both from memory
        [heywood].

        Examples
        --------
        >>> f"{HOHENBERG.coefficient(0.086, 2.29, 53e-6, 20e5, 600.0):.0f}"
        '567'
        """
        c = self.factor(bore_m, piston_speed_m_s)
        return c * volume_m3**self.volume_power * pressure_pa**0.8 * temperature_k**self.temperature_power


HOHENBERG = WallHeat("hohenberg")
WOSCHNI = WallHeat("woschni")
