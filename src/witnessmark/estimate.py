"""A measured number with its doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["NORMAL_90", "Estimate"]

NORMAL_90 = 1.6448536269514722
"""Standard deviations on either side of the mean that hold 90 of 100 values of a normal distribution."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Value and standard deviation in one unit.

    Parameters
    ----------
    value : float
    sd : float
        Standard deviation, in the same unit; not negative.
    unit : str
    count : int
        How many samples stand behind it.
    method : str
        How it came about, in words.
    """

    value: float
    sd: float
    unit: str
    count: int = 1
    method: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value) or not self.sd >= 0.0:
            raise ValueError(f"an estimate needs a finite value and a spread, not {self.value!r} ± {self.sd!r}")

    def interval(self) -> tuple[float, float]:
        """The central 90 % interval.

        Returns
        -------
        tuple of float
            Lower and upper end, in ``unit``.
        """
        return self.value - NORMAL_90 * self.sd, self.value + NORMAL_90 * self.sd

    def __str__(self) -> str:
        return f"{self.value:.4g} ± {self.sd:.2g} {self.unit}"
