"""An engine's way of the air and its fuel, as described; the numbers that ``operating`` needs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.boost import Boost
from witnessmark.physics.chain import Values
from witnessmark.physics.exhaust import Exhaust
from witnessmark.physics.fuelsupply import FuelSupply
from witnessmark.physics.usual import USUAL
from witnessmark.physics.valvetiming import Timing

__all__ = ["METERINGS", "VARIES", "AirPath", "Metering"]

Metering = Literal["air_meter", "speed_density"]
METERINGS: tuple[Metering, ...] = ("air_meter", "speed_density")
"""How a computer learns the air flow: from a meter ahead of it all, or from pressure and temperature in the plenum."""
VARIES = ("filling", "wide_open_area", "idle_area", "work_per_air", "friction")
"""Fields that may differ from state to state: numbers that a description leaves open."""


@dataclass(frozen=True, slots=True)
class AirPath:
    """A sound engine's air and fuel, as described. The defaults are an invented four-cylinder engine of 2 litres.

    Parameters
    ----------
    displacement : float [m3]
        Of the whole engine.
    bank_of : tuple of int
        For each cylinder its bank, counted from 0.
    compression_ratio : float [-]
    filling : float or array, shape (n,) [-]
        Volumetric efficiency against plenum density at equal plenum and exhaust pressure, at its best speed.
    filling_speed_rpm, filling_width_rpm : float [rpm]
        Best speed, and how far from it a parabola has lost a tenth.
    metering : {"air_meter", "speed_density"}
        How the computer learns the air flow.
    timing : Timing
        Of the valves, cams at rest.
    filter_area : float [m2]
        Effective area of air filter with duct.
    wide_open_area : float or array, shape (n,) [m2]
        Effective area of the throttle wide open.
    idle_area : float or array, shape (n,) [m2]
        Effective area that idle control opens at 100 %.
    pcv_area, breather_area : float [m2]
        Effective, of the crankcase ventilation's valve and of its fresh-air hose.
    exhaust : Exhaust
        Of each bank.
    boost : Boost, optional
        None for an engine that breathes by itself.
    supply : FuelSupply
    injector_flow : float [kg/s]
        Of each sound injector, held open at ``supply.set_pressure`` above the plenum.
    assumed_ethanol : float [-]
        Volume share that the computer's base fuelling takes for granted.
    trim_limit : float [%]
    charge_warming : float [K]
        Of plenum gas above the air that comes in.
    work_per_air : float or array, shape (n,) [J/kg]
        Indicated work of the high-pressure part of the cycle for each kilogram of air at λ 1 and best spark.
    friction : float or array, shape (n,) [-]
        Multiple of ``friction_pressure``.
    alternator_efficiency : float [-]
    runner_share : float [-]
        Share of a runner's leak that its own cylinder keeps; the rest spreads through the plenum.
    """

    displacement: float = 0.002
    bank_of: tuple[int, ...] = (0, 0, 0, 0)
    compression_ratio: float = 10.5
    filling: Values = 0.92
    filling_speed_rpm: float = 4000.0
    filling_width_rpm: float = 5000.0
    timing: Timing = field(default_factory=Timing)
    metering: Metering = "air_meter"
    filter_area: float = 1500e-6
    wide_open_area: Values = 1700e-6
    idle_area: Values = 45e-6
    pcv_area: float = 2.5e-6
    breather_area: float = 60e-6
    exhaust: Exhaust = field(default_factory=Exhaust)
    boost: Boost | None = None
    supply: FuelSupply = field(default_factory=FuelSupply)
    injector_flow: float = 0.0035
    assumed_ethanol: float = 0.07
    trim_limit: float = 25.0
    charge_warming: float = 20.0
    work_per_air: Values = USUAL["work_per_air"].value
    friction: Values = USUAL["friction"].value
    alternator_efficiency: float = USUAL["alternator_efficiency"].value
    runner_share: float = 0.3

    def __post_init__(self) -> None:
        if self.metering not in METERINGS:
            raise InputError(f"“{self.metering}” given", expected=" or ".join(METERINGS), where="metering")
        if sorted(set(self.bank_of)) != list(range(self.n_banks)) or not self.bank_of:
            raise InputError(f"{self.bank_of} given", expected="banks counted from 0 without a gap", where="bank of")
        lengths = ("displacement", "filling", "filter_area", "wide_open_area", "idle_area", "breather_area")
        others = ("injector_flow", "trim_limit", "work_per_air", "alternator_efficiency")
        above_zero(**{name: getattr(self, name) for name in (*lengths, *others)})
        within(1.0 + 1e-9, 100.0, compression_ratio=self.compression_ratio)
        within(0.0, 1.0, runner_share=self.runner_share, assumed_ethanol=self.assumed_ethanol)

    def of(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> AirPath:
        """The same engine for some of n states only, where numbers of it differ from state to state.

        Parameters
        ----------
        rows : array of bool, shape (n,), or of the rows' numbers

        Returns
        -------
        AirPath

        Notes
        -----
        By definition.

        Examples
        --------
        >>> AirPath(filling=np.array([0.9, 0.95])).of(np.array([False, True])).filling
        array([0.95])
        """
        many: dict[str, Any] = {name: np.asarray(getattr(self, name)) for name in VARIES}
        return replace(self, **{name: value[rows] for name, value in many.items() if value.ndim})

    @property
    def n_banks(self) -> int:
        """How many banks."""
        return max(self.bank_of, default=-1) + 1

    @property
    def n_cylinders(self) -> int:
        """How many cylinders."""
        return len(self.bank_of)
