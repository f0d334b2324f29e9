"""An engine's way of the air: what it is (AirPath), what state it is in (AirState), what is asked of it (Demand)."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Literal

import numpy as np

from witnessmark.errors import InputError
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.boost import Boost
from witnessmark.physics.chain import Values
from witnessmark.physics.exhaust import Exhaust
from witnessmark.physics.fuelsupply import FuelSupply

__all__ = [
    "METERINGS",
    "PER_BANK",
    "PER_CYLINDER",
    "AirPath",
    "AirState",
    "Demand",
    "Metering",
    "full_load",
    "idling",
    "running",
    "sized",
]

Metering = Literal["air_meter", "speed_density"]
METERINGS: tuple[Metering, ...] = ("air_meter", "speed_density")


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
    filling : float [-]
        Volumetric efficiency against plenum density at equal plenum and exhaust pressure, at its best speed.
    filling_speed_rpm, filling_width_rpm : float [rpm]
        Best speed, and how far from it a parabola has lost a tenth.
    metering : {"air_meter", "speed_density"}
        How the computer learns the air flow.
    filter_area, wide_open_area : float [m2]
        Effective areas of air filter with duct, and of the throttle wide open.
    idle_area : float [m2]
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
    work_per_air : float [J/kg]
        Indicated work of the high-pressure part of the cycle for each kilogram of air at λ 1.
    friction, friction_slope : float [Pa], [Pa/rpm]
        Mean pressure of friction and auxiliaries at rest, and how it grows.
    runner_share : float [-]
        Share of a runner's leak that its own cylinder keeps; the rest spreads through the plenum.
    """

    displacement: float = 0.002
    bank_of: tuple[int, ...] = (0, 0, 0, 0)
    compression_ratio: float = 10.5
    filling: float = 0.92
    filling_speed_rpm: float = 4000.0
    filling_width_rpm: float = 3000.0
    metering: Metering = "air_meter"
    filter_area: float = 1500e-6
    wide_open_area: float = 1700e-6
    idle_area: float = 45e-6
    pcv_area: float = 2.5e-6
    breather_area: float = 60e-6
    exhaust: Exhaust = field(default_factory=Exhaust)
    boost: Boost | None = None
    supply: FuelSupply = field(default_factory=FuelSupply)
    injector_flow: float = 0.0035
    assumed_ethanol: float = 0.07
    trim_limit: float = 25.0
    charge_warming: float = 20.0
    work_per_air: float = 1.05e6
    friction: float = 110e3
    friction_slope: float = 14.0
    runner_share: float = 0.3

    def __post_init__(self) -> None:
        if self.metering not in METERINGS:
            raise InputError(f"“{self.metering}” given", expected=" or ".join(METERINGS), where="metering")
        if sorted(set(self.bank_of)) != list(range(self.n_banks)) or not self.bank_of:
            raise InputError(f"{self.bank_of} given", expected="banks counted from 0 without a gap", where="bank of")
        lengths = ("displacement", "filling", "filter_area", "wide_open_area", "idle_area", "breather_area")
        above_zero(**{name: getattr(self, name) for name in (*lengths, "injector_flow", "trim_limit", "work_per_air")})
        within(1.0 + 1e-9, 100.0, compression_ratio=self.compression_ratio)
        within(0.0, 1.0, runner_share=self.runner_share, assumed_ethanol=self.assumed_ethanol)

    @property
    def n_banks(self) -> int:
        """How many banks."""
        return max(self.bank_of, default=-1) + 1

    @property
    def n_cylinders(self) -> int:
        """How many cylinders."""
        return len(self.bank_of)


@dataclass(frozen=True, slots=True)
class AirState:
    """State variables that act on air and fuel, each for n states at once; the defaults are a sound engine.

    A field for the whole engine is a number or an array of shape (n,); one for each bank broadcasts to (n, banks), one
    for each cylinder to (n, cylinders). The name is that of the state variable and then of its place. Areas of leaks
    and errors are geometric and count with 0.7. What cannot be is refused with an InputError that names the field.

    Parameters
    ----------
    leak_area_intake_duct, leak_area_charge_pipe : float or array, shape (n,) [mm2]
    leak_area_plenum, leak_area_crankcase : float or array, shape (n,) [mm2]
        The plenum's with those of the servo and the branches.
    leak_area_runner : float or array, shape (n, cylinders) [mm2]
    leak_area_exhaust_front : float or array, shape (n, banks) [mm2]
    restriction_air_filter, restriction_charge_cooler, restriction_fuel_filter : float or array, shape (n,) [-]
    restriction_exhaust_front, restriction_catalyst, restriction_tail : float or array, shape (n, banks) [-]
    area_error_throttle, area_error_purge, area_error_pcv : float or array, shape (n,) [mm2]
    area_error_egr, area_error_wastegate : float or array, shape (n,) [mm2]
    inflow_fuel_purge : float or array, shape (n,) [-]
        Fuel share, by mass, of what the purge valve lets in.
    turbo_efficiency : float or array, shape (n,) [-]
    sensor_gain_maf, sensor_gain_map : float or array, shape (n,) [-]
    sensor_offset_maf : float or array, shape (n,) [g/s]
    sensor_offset_map : float or array, shape (n,) [kPa]
    sensor_offset_iat : float or array, shape (n,) [K]
        A speed-density computer reads the plenum's temperature off by this.
    sensor_offset_o2_front : float or array, shape (n, banks) [-]
        Of λ.
    injector_flow : float or array, shape (n, cylinders) [-]
    injector_leak : float or array, shape (n, cylinders) [mg/s]
    lift_pump_flow : float or array, shape (n,) [-]
    regulator_error : float or array, shape (n,) [%]
    fuel_ethanol : float or array, shape (n,) [-]
        Volume share.
    accessory_drag : float or array, shape (n,) [N m]
    """

    leak_area_intake_duct: Values = 0.0
    leak_area_charge_pipe: Values = 0.0
    leak_area_plenum: Values = 0.0
    leak_area_crankcase: Values = 0.0
    leak_area_runner: Values = 0.0
    leak_area_exhaust_front: Values = 0.0
    restriction_air_filter: Values = 0.0
    restriction_charge_cooler: Values = 0.0
    restriction_fuel_filter: Values = 0.0
    restriction_exhaust_front: Values = 0.0
    restriction_catalyst: Values = 0.0
    restriction_tail: Values = 0.0
    area_error_throttle: Values = 0.0
    area_error_purge: Values = 0.0
    area_error_pcv: Values = 0.0
    area_error_egr: Values = 0.0
    area_error_wastegate: Values = 0.0
    inflow_fuel_purge: Values = 0.0
    turbo_efficiency: Values = 1.0
    sensor_gain_maf: Values = 1.0
    sensor_gain_map: Values = 1.0
    sensor_offset_maf: Values = 0.0
    sensor_offset_map: Values = 0.0
    sensor_offset_iat: Values = 0.0
    sensor_offset_o2_front: Values = 0.0
    injector_flow: Values = 1.0
    injector_leak: Values = 0.0
    lift_pump_flow: Values = 1.0
    regulator_error: Values = 0.0
    fuel_ethanol: Values = 0.07
    accessory_drag: Values = 0.0

    def __post_init__(self) -> None:
        signed = ("area_error", "sensor_offset", "regulator_error")
        shares = ("inflow_fuel_purge", "fuel_ethanol")
        for one in fields(self):
            low = -1e9 if one.name.startswith(signed) else 0.0
            within(low, 1.0 if one.name in shares else 1e9, **{one.name: getattr(self, one.name)})


PER_BANK = (
    "leak_area_exhaust_front",
    "restriction_exhaust_front",
    "restriction_catalyst",
    "restriction_tail",
    "sensor_offset_o2_front",
)
PER_CYLINDER = ("leak_area_runner", "injector_flow", "injector_leak")


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of an engine; :func:`idling`, :func:`running` and :func:`full_load` fill it in.

    Parameters
    ----------
    speed_rpm : float or array, shape (n,) [rpm]
        Held, or at idle wanted.
    load : float or array, shape (n,) [Pa]
        Brake mean effective pressure wanted.
    area_low, area_high : float or array, shape (n,) [m2]
        Between which the computer may set the throttle's effective area, errors apart.
    governed : bool
        At idle: where the area is at its limit, the speed gives way and not the load.
    closed_loop : bool
        Whether trims hold λ; else they stay at ``held_trim``.
    held_trim : float or array, shape (n,) [%]
    lambda_wanted : float or array, shape (n,) [-]
    boost_wanted : float or array, shape (n,) [Pa]
        Gauge, ahead of the throttle.
    purge_mm2 : float or array, shape (n,) [mm2]
        Area of the purge valve that is commanded.
    ambient_pressure : float or array, shape (n,) [Pa]
        Of dry air: less the vapour in it.
    ambient_temperature : float or array, shape (n,) [K]
    injector_volts : float or array, shape (n,) [V]
        At the injectors.
    computer_volts : float or array, shape (n,) [V]
        For which the computer corrects the injectors' dead time.
    """

    speed_rpm: Values
    load: Values
    area_low: Values
    area_high: Values
    governed: bool = False
    closed_loop: bool = True
    held_trim: Values = 0.0
    lambda_wanted: Values = 1.0
    boost_wanted: Values = 0.0
    purge_mm2: Values = 0.0
    ambient_pressure: Values = 101_325.0
    ambient_temperature: Values = 298.15
    injector_volts: Values = 14.0
    computer_volts: Values = 14.0

    def __post_init__(self) -> None:
        above_zero(engine_speed=self.speed_rpm, ambient_pressure=self.ambient_pressure)
        above_zero(ambient_temperature=self.ambient_temperature, lambda_wanted=self.lambda_wanted)
        above_zero(injector_volts=self.injector_volts, computer_volts=self.computer_volts)
        within(-1e9, 1e9, load=self.load, held_trim=self.held_trim)
        within(0.0, np.inf, area_low=self.area_low, purge_area=self.purge_mm2, boost_wanted=self.boost_wanted)
        within(0.0, np.inf, area_high_less_area_low=np.asarray(self.area_high) - self.area_low)


def idling(path: AirPath, speed_rpm: Values = 750.0) -> Demand:
    """Idle under control: no load, and the computer sets the area that holds the speed.

    Parameters
    ----------
    path : AirPath
    speed_rpm : float or array, shape (n,) [rpm]
        Wanted.

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        If the speed is not above 0.

    Notes
    -----
    By definition: brake mean effective pressure 0, area between 0 and ``idle_area``.

    Examples
    --------
    >>> idling(AirPath()).load
    0.0
    """
    return Demand(speed_rpm, 0.0, 0.0, path.idle_area, governed=True)


def running(path: AirPath, speed_rpm: Values, load: Values = 0.0) -> Demand:
    """A speed and a load that are held by the pedal, as on the road or raised with no load.

    Parameters
    ----------
    path : AirPath
    speed_rpm : float or array, shape (n,) [rpm]
    load : float or array, shape (n,) [Pa]
        Brake mean effective pressure.

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        If the speed is not above 0.

    Notes
    -----
    By definition: area between 0 and wide open; where that is not enough the load is not reached.

    Examples
    --------
    >>> running(AirPath(), 2500.0).area_high
    0.0017
    """
    return Demand(speed_rpm, load, 0.0, path.wide_open_area)


def full_load(path: AirPath, speed_rpm: Values, *, lambda_wanted: Values = 0.88, boost_wanted: Values = 0.0) -> Demand:
    """Throttle wide open, enriched, trims left as they were.

    Parameters
    ----------
    path : AirPath
    speed_rpm : float or array, shape (n,) [rpm]
    lambda_wanted : float or array, shape (n,) [-]
        Rich of 1; 0.88 from memory.
    boost_wanted : float or array, shape (n,) [Pa]
        Gauge.

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        If speed or λ is not above 0.

    Notes
    -----
    By definition: area fixed at ``wide_open_area``.

    Examples
    --------
    >>> full_load(AirPath(), 5000.0).closed_loop
    False
    """
    wide = path.wide_open_area
    return Demand(speed_rpm, 0.0, wide, wide, closed_loop=False, lambda_wanted=lambda_wanted, boost_wanted=boost_wanted)


def sized(path: AirPath, state: AirState, demand: Demand) -> int:
    """How many states are looked at together, after a check that every field fits.

    Parameters
    ----------
    path : AirPath
    state : AirState
    demand : Demand

    Returns
    -------
    int

    Raises
    ------
    InputError
        Naming the field that has another shape.

    Notes
    -----
    By definition of the fields' shapes.

    Examples
    --------
    >>> sized(AirPath(), AirState(leak_area_plenum=np.zeros(5)), idling(AirPath()))
    5
    """
    n, named = 1, "one number"
    for owner in (state, demand):
        for one in fields(owner):
            value = np.asarray(getattr(owner, one.name))
            columns = {**dict.fromkeys(PER_BANK, path.n_banks), **dict.fromkeys(PER_CYLINDER, path.n_cylinders)}
            wide = columns.get(one.name) if owner is state else None
            words = one.name.replace("_", " ")
            if wide and value.ndim and value.shape[-1] not in (1, wide):
                raise InputError(f"shape {value.shape}", expected=f"{wide} in the last place", where=words)
            rows = value.shape[0] if value.ndim == (2 if wide else 1) else 1
            if value.ndim > (2 if wide else 1) or (rows != n and 1 not in (rows, n)):
                raise InputError(f"shape {value.shape}", expected=f"as many states as {named}", where=words)
            if rows > n:
                n, named = rows, words
    return n
