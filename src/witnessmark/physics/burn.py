"""How fast the charge burns: Wiebe's law."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError

__all__ = ["Burn"]

Values = float | NDArray[np.float64]

_COMPLETE = 5.0
"""The exponent's factor a: 1 − e⁻⁵ = 99.3 % burnt at the end [heywood] ch. 9, from memory."""


@dataclass(frozen=True, slots=True)
class Burn:
    """Share burnt x = 1 − exp(−a ((θ − θ₀)/Δθ)^(m+1)), a = 5.

    Parameters
    ----------
    starts_deg : float [deg]
        After firing TDC; negative before it.
    lasts_deg : float [deg]
    form : float [-]
        m; 2 for spark ignition.

    Raises
    ------
    EngineDefinitionError
        Where it lasts no time, or longer than the power stroke.

    Examples
    --------
    >>> f"{Burn(-20.0, 60.0).half_deg:.1f}"
    '11.0'
    """

    starts_deg: float
    lasts_deg: float
    form: float = 2.0

    def __post_init__(self) -> None:
        if not 0.0 < self.lasts_deg <= 180.0 or self.form <= 0.0:
            raise EngineDefinitionError(
                f"burn: lasts {self.lasts_deg:g}° with form {self.form:g}; 0 to 180° and a positive form expected"
            )

    def share(self, angle_deg: Values) -> Values:
        """Share burnt.

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]

        Returns
        -------
        float or array, shape (n,) [-]

        Notes
        -----
        Wiebe's law [heywood] ch. 9, from memory; divided by its end so that all is burnt at the end.

        Examples
        --------
        >>> Burn(-20.0, 60.0).share(40.0)
        1.0
        """
        u = np.clip((np.asarray(angle_deg, dtype=float) - self.starts_deg) / self.lasts_deg, 0.0, 1.0)
        done = -np.expm1(-_COMPLETE * u ** (self.form + 1.0)) / -np.expm1(-_COMPLETE)
        return done if np.ndim(angle_deg) else float(done)

    @property
    def half_deg(self) -> float:
        """Where half is burnt [deg after TDC]."""
        left = -np.log(1.0 + 0.5 * np.expm1(-_COMPLETE)) / _COMPLETE
        return float(self.starts_deg + self.lasts_deg * left ** (1.0 / (self.form + 1.0)))
