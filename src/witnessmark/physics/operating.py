"""The steady operating point: where air, exhaust, idle control and fuel of an engine settle; many states at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._balance import mean_pressure
from witnessmark.physics._breathing import Breathing
from witnessmark.physics._flows import Flows, cylinder_flow, flows_at
from witnessmark.physics._fuel import settled_fuelling
from witnessmark.physics._settling import settled, throttle_flow
from witnessmark.physics.airmeter import meter_reading
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.atmosphere import air_density
from witnessmark.physics.chain import Values
from witnessmark.physics.demand import Demand
from witnessmark.physics.filling import absolute_load, volumetric_efficiency
from witnessmark.physics.fuelling import Fuelling

__all__ = ["OperatingPoint", "operating_point"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where an engine settles.

    Parameters
    ----------
    speed_rpm : array, shape (n,) [rpm]
        The one asked for, or at idle out of its control's reach the one that results.
    stalls : array, shape (n,) [0/1]
        1 where idle control, wide open, cannot hold three tenths of the speed wanted.
    plenum_pressure, map_reported : array, shape (n,) [Pa]
        Absolute; true, and by the sensor.
    boost_pressure, cooler_drop : array, shape (n,) [Pa]
        Gauge, ahead of the throttle; lost in the charge-air cooler. Of an engine without a turbocharger the first is
        the depression behind its air filter, the second 0.
    air_flow, metered_flow, unmetered_flow : array, shape (n,) [kg/s]
        Air that the cylinders burn; what passes the air meter; what enters anywhere behind it, less what a charge pipe
        loses.
    airflow_reported : array, shape (n,) [kg/s]
        The meter's reading, or a speed-density computer's reckoning.
    absolute_load : array, shape (n,) [%]
        From the flow reported.
    volumetric_efficiency : array, shape (n,) [-]
        Of the true air, against outside density.
    dilution : array, shape (n,) [-]
        Share of exhaust in what the cylinders draw, recirculated or come back through the valves' overlap, more than
        with the cams at rest.
    throttle_area : array, shape (n,) [m2]
        Effective, with its error.
    idle_air_demand : array, shape (n,) [%]
        Area that the computer sets, over ``idle_area``; of use at idle only.
    load : array, shape (n,) [Pa]
        Brake mean effective pressure.
    back_pressure, front_sensor_pressure, rear_sensor_pressure : array, shape (n, banks) [Pa]
        Gauge: at the cylinders, at the front oxygen sensor's port, at the rear one's.
    imbalance : array, shape (n,) [-]
        What is left of the mass balance of the plenum, over the flow through the cylinders.
    fuelling : Fuelling
        Trims, λ, rail pressure.
    """

    speed_rpm: Array
    stalls: Array
    plenum_pressure: Array
    map_reported: Array
    boost_pressure: Array
    cooler_drop: Array
    air_flow: Array
    metered_flow: Array
    unmetered_flow: Array
    airflow_reported: Array
    absolute_load: Array
    volumetric_efficiency: Array
    dilution: Array
    throttle_area: Array
    idle_air_demand: Array
    load: Array
    back_pressure: Array
    front_sensor_pressure: Array
    rear_sensor_pressure: Array
    imbalance: Array
    fuelling: Fuelling


def operating_point(path: AirPath, state: AirState, demand: Demand) -> OperatingPoint:
    """Where an engine settles under a demand, for n states at once.

    Parameters
    ----------
    path : AirPath
    state : AirState
    demand : Demand

    Returns
    -------
    OperatingPoint

    Raises
    ------
    InputError
        If fields do not fit each other in shape, or hold what cannot be (from the checks).

    Notes
    -----
    Follows from four balances, docs/physics.md, "operating point": mass in the plenum; mean pressures (work of the air
    burnt = load + pumping + friction + accessories); the controller that sets the area which meets both, or the limit
    it stops at; fuel for the air that the computer believes in, trimmed until the sensor reads its target. Each is one
    root of a falling function, bracketed. Steady means only: no waves, no transients; what a cylinder fails to burn or
    to give is for ``AirState.work`` to say.

    Examples
    --------
    >>> from witnessmark.physics.demand import idling
    >>> states = AirState(leak_area_plenum=np.array([0.0, 3.0]))
    >>> found = operating_point(AirPath(), states, idling(AirPath()))
    >>> [f"{demand:.1f} %" for demand in found.idle_air_demand]
    ['17.7 %', '13.0 %']
    >>> [f"{trim:.1f} %" for trim in found.fuelling.trim[:, 0]]
    ['0.0 %', '25.0 %']
    """
    breath = Breathing(path, state, demand)
    where, area, stalls = settled(breath)
    speed, plenum = where.speed, where.plenum
    found = flows_at(breath, plenum, breath.turning(speed), where.leaving)
    passed = throttle_flow(area, found)
    whole = found.cylinders.sum(axis=1)
    believed = _believed(breath, found, speed)
    ambient = breath.d["ambient_pressure"]
    outside = air_density(ambient, breath.d["ambient_temperature"])
    commanded = area - breath.hole("area_error_throttle")
    return OperatingPoint(
        speed_rpm=speed,
        stalls=stalls,
        plenum_pressure=plenum,
        map_reported=_map_reading(breath, plenum),
        boost_pressure=found.upstream - ambient,
        cooler_drop=found.charge - found.upstream,
        air_flow=found.air,
        metered_flow=found.metered,
        unmetered_flow=found.air - found.metered,
        airflow_reported=believed,
        absolute_load=_load_shown(path, believed, speed),
        volumetric_efficiency=_efficiency(path, found.air, outside, speed),
        dilution=np.clip((found.egr + found.returned) / np.maximum(whole + found.returned, 1e-9), 0.0, 1.0),
        throttle_area=area,
        idle_air_demand=100.0 * np.clip(commanded, breath.d["area_low"], breath.d["area_high"]) / path.idle_area,
        load=mean_pressure(breath, found.air, found.port, plenum, speed),
        back_pressure=np.asarray(found.levels.port) - ambient[:, None],
        front_sensor_pressure=np.asarray(found.levels.front_sensor) - ambient[:, None],
        rear_sensor_pressure=np.asarray(found.levels.rear_sensor) - ambient[:, None],
        imbalance=(passed - found.throttle) / np.maximum(whole, 1e-9),
        fuelling=settled_fuelling(breath, found, speed, believed, _map_reading(breath, plenum)),
    )


def _load_shown(path: AirPath, flow: Array, speed: Array) -> Array:
    return np.asarray(absolute_load(flow, displacement=path.displacement, speed_rpm=speed))


def _efficiency(path: AirPath, flow: Array, density: Values, speed: Array) -> Array:
    return np.asarray(volumetric_efficiency(flow, density, displacement=path.displacement, speed_rpm=speed))


# ---------------------------------------------------------------- what the computer believes


def _map_reading(breath: Breathing, plenum: Array) -> Array:
    shown = meter_reading(plenum, gain=breath.s["sensor_gain_map"], offset=1000.0 * breath.s["sensor_offset_map"])
    above: Array = np.maximum(np.asarray(shown), 1000.0)
    return above


def _believed(breath: Breathing, found: Flows, speed: Array) -> Array:
    """Air flow by the meter; or by pressure, temperature and the filling of a sound engine."""
    if breath.path.metering == "air_meter":
        shown = np.asarray(
            meter_reading(found.metered, gain=breath.s["sensor_gain_maf"], offset=1e-3 * breath.s["sensor_offset_maf"])
        )
    else:
        warm = found.warm + breath.s["sensor_offset_iat"]
        sound = Breathing(breath.path, AirState(), _spread(breath))
        shown = cylinder_flow(sound, _map_reading(breath, found.plenum), speed, warm, found.leaving)[0].sum(axis=1)
    flow: Array = np.maximum(shown, 1e-5)
    return flow


def _spread(breath: Breathing) -> Demand:
    """The demand with as many rows as there are states."""
    d = breath.d
    return Demand(
        d["speed_rpm"],
        d["load"],
        d["area_low"],
        d["area_high"],
        boost_wanted=d["boost_wanted"],
        intake_early=d["intake_early"],
        exhaust_early=d["exhaust_early"],
        ambient_pressure=d["ambient_pressure"],
        ambient_temperature=d["ambient_temperature"],
    )
