"""The state variables that act on air and fuel, laid out for many states at once."""

from __future__ import annotations

from dataclasses import dataclass, fields

from witnessmark.physics._refuse import within
from witnessmark.physics.chain import Values

__all__ = ["PER_BANK", "PER_CYLINDER", "AirState"]

PER_BANK = (
    "leak_area_exhaust_front",
    "restriction_exhaust_front",
    "restriction_catalyst",
    "restriction_tail",
    "sensor_offset_o2_front",
    "intake_early",
    "exhaust_early",
)
PER_CYLINDER = ("leak_area_runner", "inflow_fuel_runner", "injector_flow", "injector_leak", "filling", "work")


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
    inflow_fuel_purge, inflow_fuel_plenum : float or array, shape (n,) [-]
        Fuel share, by mass, of what the purge valve or the plenum's leak lets in; it burns as what is in the tank does.
    inflow_fuel_runner : float or array, shape (n, cylinders) [-]
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
        Below 0 where an engine has less of it than described.
    intake_early, exhaust_early : float or array, shape (n, banks) [deg]
        By how much a bank's cam is earlier than its computer has it: error only, no command.
    filling : float or array, shape (n, cylinders) [-]
        Share of its sound filling that a cylinder draws.
    work : float or array, shape (n, cylinders) [-]
        Share of the work of its air that a cylinder gives.
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
    inflow_fuel_plenum: Values = 0.0
    inflow_fuel_runner: Values = 0.0
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
    intake_early: Values = 0.0
    exhaust_early: Values = 0.0
    filling: Values = 1.0
    work: Values = 1.0

    def __post_init__(self) -> None:
        signed = ("area_error", "sensor_offset", "regulator_error", "accessory_drag", "intake_early", "exhaust_early")
        shares = ("inflow_fuel_purge", "inflow_fuel_plenum", "inflow_fuel_runner", "fuel_ethanol")
        for one in fields(self):
            low = -1e9 if one.name.startswith(signed) else 0.0
            within(low, 1.0 if one.name in shares else 1e9, **{one.name: getattr(self, one.name)})
