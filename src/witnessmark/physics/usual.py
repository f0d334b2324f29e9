"""What healthy engines usually have where nobody described it, and how far they differ: one table, for all who guess.

``AirPath`` takes its defaults from here, ``idleband`` its spreads too; ``predict`` may take both as numbers not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from witnessmark.engine.number import Number

__all__ = ["USUAL", "Usual", "described"]


@dataclass(frozen=True, slots=True)
class Usual:
    """A number of healthy engines.

    Parameters
    ----------
    value, sd : float [unit]
        Mean and standard deviation over engines.
    unit : str
    source : str
    """

    value: float
    sd: float
    unit: str
    source: str


USUAL: Mapping[str, Usual] = MappingProxyType({
    "friction": Usual(
        1.0, 0.12, "-",
        "multiple of friction_pressure; the published forms differ by a tenth at idle, build by as much: from memory",
    ),
    "work_per_air": Usual(
        1.05e6, 0.06e6, "J/kg",
        "0.35 of the fuel's heat at best spark: our cycle's 0.40 less a tenth for what does not burn and what "
        "dissociates ([heywood] ch. 3, from memory)",
    ),
    "idle_work_share": Usual(
        0.90, 0.05, "-",
        "half burnt 25 to 35° after TDC, where idle spark puts it (from memory): 0.94 to 0.84 by our cycle",
    ),
    "alternator_efficiency": Usual(
        0.62, 0.04, "-", "67 % as the baseline of [eu2017_785], 55 % in a maker's paper [alternator_paper]; both read"
    ),
    "electric_bare": Usual(
        350.0, 60.0, "W", "[eu2017_785]: 350 W with consumers off, as in type approval (read); the spread our guess"
    ),
    "electric_in_use": Usual(
        750.0, 120.0, "W", "[eu2017_785]: 750 W in real use (read); the spread our guess"
    ),
    "compressor": Usual(
        1200.0, 300.0, "W", "air conditioning at idle, at the crank: from memory"
    ),
    "idle_filling": Usual(
        0.88, 0.045, "-",
        "against plenum density at equal pressures, idle speed; 0.89 after [hendricks1990], 0.86 to 0.91 by our cycle",
    ),
    "idle_peak_filling": Usual(
        0.78, 0.06, "-",
        "throttle open at idle speed, as a computer's table of most flow has it: [heywood] fig. 6-9, from memory",
    ),
    "charge_warming": Usual(
        15.0, 8.0, "K", "from where the computer reads the air's temperature, in the duct or the plenum: our guess"
    ),
    "compression_ratio": Usual(
        10.5, 0.87, "-", "9 to 12, as in usual_breathing: common practice, no source"
    ),
})  # fmt: skip
"""By name; values and spreads are of engines without a fault, warm."""


def described(number: Number, usual: Usual, scale: float = 1.0) -> Usual:
    """A number of a description where it says anything, else what is usual.

    Parameters
    ----------
    number : Number
    usual : Usual
        Also says the unit.
    scale : float [-]
        From the description's unit to that one.

    Returns
    -------
    Usual
        Spread 0 where the description is exact.

    Notes
    -----
    By definition; candidates and ranges give their mean and standard deviation.

    Examples
    --------
    >>> described(Number.between(9.0, 12.0), USUAL["compression_ratio"]).sd > 0.8
    True
    """
    mean, sd = number.mean, number.sd
    if mean is None or sd is None:
        return usual
    return Usual(scale * mean, scale * sd, usual.unit, "described")
