"""The 90 % bands of warm idle over healthy engines, and the displacement that a log tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics.chain import Values
from witnessmark.physics.idle import IdleEngine, idle_point
from witnessmark.physics.pressureflow import pressure_flow
from witnessmark.physics.usual import USUAL, Usual

__all__ = ["CONSUMERS", "Band", "IdleBand", "displacement_told", "idle_band", "usual_idle_engines"]

Array = NDArray[np.float64]

CONSUMERS = ("bare", "in_use", "not_said")
"""What is switched on. "bare": nothing that can be off, as a test procedure asks for. "in_use": lights, blower and air
conditioning. "not_said": anywhere between in electric load, the compressor running in one engine of two."""


@dataclass(frozen=True, slots=True)
class Band:
    """Central 90 % of what healthy engines show.

    Parameters
    ----------
    low, mid, high : float [unit of what it is of]
        5th, 50th and 95th percentile.
    """

    low: float
    mid: float
    high: float

    @property
    def half_width(self) -> float:
        """Half the band over its middle [-]."""
        return (self.high - self.low) / (self.high + self.low)

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class IdleBand:
    """Bands of warm idle.

    Parameters
    ----------
    manifold_pressure : Band [Pa]
    air_flow : Band [kg/s]
    load : Band [%]
    """

    manifold_pressure: Band
    air_flow: Band
    load: Band


def usual_idle_engines(
    displacement: Usual,
    rng: np.random.Generator,
    *,
    cylinders: int = 4,
    compression_ratio: Usual = USUAL["compression_ratio"],
    consumers: str = "bare",
    n: int = 4000,
) -> IdleEngine:
    """Healthy engines of that displacement, drawn from what is usual.

    Parameters
    ----------
    displacement : Usual [m3]
        Spread 0 where it is known.
    rng : Generator
    cylinders : int
    compression_ratio : Usual [-]
    consumers : str
        One of ``CONSUMERS``.
    n : int

    Returns
    -------
    IdleEngine
        Arrays of shape (n,).

    Raises
    ------
    InputError
        For a word that is not one of ``CONSUMERS``.

    Notes
    -----
    Follows from ``USUAL``; numbers taken as independent and normal, cut off three spreads from their means.

    Examples
    --------
    >>> drawn = usual_idle_engines(Usual(0.002, 0.0, "m3", "said"), np.random.default_rng(1), n=1000)
    >>> f"{np.std(drawn.friction):.2f}"
    '0.12'
    """

    def draw(number: Usual) -> Array:
        return number.value + number.sd * np.clip(rng.standard_normal(n), -3.0, 3.0)

    def of(name: str) -> Array:
        return draw(USUAL[name])

    if consumers not in CONSUMERS:
        raise InputError(f"“{consumers}” given", expected=" or ".join(CONSUMERS), where="consumers")
    bare, used = of("electric_bare"), of("electric_in_use")
    on = {"bare": np.zeros(n), "in_use": np.ones(n), "not_said": rng.random(n)}[consumers]
    runs: Array = rng.integers(0, 2, n).astype(np.float64) if consumers == "not_said" else on
    watts = (bare + on * (used - bare)) / of("alternator_efficiency") + runs * of("compressor")
    return IdleEngine(
        draw(displacement),
        cylinders,
        friction=of("friction"),
        work_per_air=of("work_per_air") * of("idle_work_share"),
        accessory_watts=watts,
        filling=of("idle_filling"),
        compression_ratio=draw(compression_ratio),
        charge_warming=of("charge_warming"),
        peak_filling=of("idle_peak_filling"),
    )


def idle_band(
    engines: IdleEngine, speed_rpm: float, *, ambient_pressure: float = 101_325.0, intake_temperature: float = 298.15
) -> IdleBand:
    """Between what healthy engines idle.

    Parameters
    ----------
    engines : IdleEngine
        Many, as of :func:`usual_idle_engines`.
    speed_rpm : float [rpm]
    ambient_pressure : float [Pa]
    intake_temperature : float [K]

    Returns
    -------
    IdleBand

    Raises
    ------
    InputError
        If a number is not above 0 (from the checks).

    Notes
    -----
    Percentiles of :func:`idle_point` over the engines; by definition.

    Examples
    --------
    >>> drawn = usual_idle_engines(Usual(0.002, 0.0, "m3", "said"), np.random.default_rng(1))
    >>> f"±{100 * idle_band(drawn, 800.0).manifold_pressure.half_width:.0f} %"
    '±13 %'
    """
    found = idle_point(engines, speed_rpm, ambient_pressure=ambient_pressure, intake_temperature=intake_temperature)

    def middle(values: Values) -> Band:
        low, mid, high = (float(v) for v in np.percentile(np.asarray(values), [5.0, 50.0, 95.0]))
        return Band(low, mid, high)

    return IdleBand(middle(found.manifold_pressure), middle(found.air_flow), middle(found.load))


def displacement_told(
    flow: Array, pressure: Array, temperature: Array, speed_rpm: Array, *, ambient_pressure: float = 101_325.0
) -> Usual:
    """Displacement as air flow, manifold pressure, temperature and speed tell it together.

    Parameters
    ----------
    flow : array, shape (n,) [kg/s]
    pressure : array, shape (n,) [Pa]
        In the manifold.
    temperature : array, shape (n,) [K]
        Of the air as the computer reads it.
    speed_rpm : array, shape (n,) [rpm]
    ambient_pressure : float [Pa]

    Returns
    -------
    Usual [m3]
        Median over the rows; its spread is that of the filling and of the air's warming, which all rows share.

    Raises
    ------
    InputError
        If a number is not above 0 (from the checks).

    Notes
    -----
    Follows from ``pressure_flow``, the usual filling and what left exhaust takes of it. Rows while driving
    tell more than idle: there the exhaust that stays takes least, and between idle speed and 3,000 rpm filling changes
    little [hendricks1990]_.

    Examples
    --------
    >>> rows = np.ones(20)
    >>> told = displacement_told(0.0196 * rows, 70e3 * rows, 310.0 * rows, 2000.0 * rows)
    >>> f"{1000 * told.value:.1f} ± {1000 * told.sd:.2f} L"
    '1.8 ± 0.10 L'
    """
    filling, warming = USUAL["idle_filling"], USUAL["charge_warming"]
    of_a_litre = pressure_flow(pressure, temperature, speed_rpm, displacement=1e-3, ambient_pressure=ambient_pressure)
    value = 1e-3 * float(np.median(flow / np.asarray(of_a_litre)))
    warm = float(np.median(temperature)) + warming.value
    share = float(np.hypot(filling.sd / filling.value, warming.sd / warm))
    return Usual(value, value * share, "m3", f"{np.size(flow)} rows of air flow and manifold pressure")
