"""The steady operating point: where air, exhaust, idle control and fuel of an engine settle; many states at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._breathing import Breathing, Flows, cylinder_flow
from witnessmark.physics._fuel import settled_fuelling
from witnessmark.physics._root import falling_root
from witnessmark.physics.airmeter import meter_reading
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.atmosphere import air_density
from witnessmark.physics.chain import Values
from witnessmark.physics.demand import Demand
from witnessmark.physics.filling import absolute_load, volumetric_efficiency
from witnessmark.physics.friction import friction_pressure, power_pressure
from witnessmark.physics.fuelling import Fuelling
from witnessmark.physics.nozzle import signed_flow

__all__ = ["OperatingPoint", "operating_point"]

Array = NDArray[np.float64]

_NONE = 1.0  # m2: an area that no throttle has
_SLOWEST, _FASTEST = 0.3, 4.0  # of the speed wanted, between which idle is looked for


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
    speed, plenum, area, stalls = _settle(breath)
    found = breath.flows(plenum, speed)
    passed = _throttle_flow(area, found)
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
        load=_load(breath, found, speed),
        back_pressure=np.asarray(found.levels.port) - ambient[:, None],
        front_sensor_pressure=np.asarray(found.levels.front_sensor) - ambient[:, None],
        rear_sensor_pressure=np.asarray(found.levels.rear_sensor) - ambient[:, None],
        imbalance=(passed - found.throttle) / np.maximum(whole, 1e-9),
        fuelling=settled_fuelling(breath, found, speed, believed, _map_reading(breath, plenum)),
    )


# ---------------------------------------------------------------- where it settles


def _settle(breath: Breathing) -> tuple[Array, Array, Array, Array]:
    """Speed, plenum pressure, throttle area with its error, and whether it stalls."""
    speed = breath.d["speed_rpm"]
    plenum, needed = _area_for_load(breath, speed)
    error = breath.hole("area_error_throttle")
    area = np.clip(
        needed, np.maximum(breath.d["area_low"] + error, 0.0), np.maximum(breath.d["area_high"] + error, 0.0)
    )
    stopped, stalls = area != needed, np.zeros(breath.n)
    adrift = stopped & (breath.d["governed"] > 0.0)
    if np.any(adrift):
        speed = speed.copy()
        speed[adrift], stalls[adrift] = _speed_for_area(breath.of(adrift), area[adrift])
    if np.any(stopped):
        plenum[stopped] = _plenum_for_area(breath.of(stopped), area[stopped], speed[stopped])
    return speed, plenum, area, stalls


def _ends(breath: Breathing) -> tuple[Array, Array]:
    """Plenum pressures between which everything happens."""
    ambient = breath.d["ambient_pressure"]
    return 0.02 * ambient, (1.0 if breath.path.boost is None else 4.0) * ambient


def _area_for_load(breath: Breathing, speed: Array) -> tuple[Array, Array]:
    """Plenum pressure and throttle area for the load (below 0: with none at all it is too much)."""

    def short(found: Flows) -> Array:
        return breath.d["load"] - _load(breath, found, speed)

    plenum = np.asarray(falling_root(lambda p: short(breath.flows(np.asarray(p), speed)), *_ends(breath)))
    found = breath.flows(plenum, speed)
    flux = np.maximum(_throttle_flow(np.ones(breath.n), found), 1e-9)
    # Where the load is out of reach even the widest throttle would not do.
    beyond = short(found) > 1.0
    return plenum, np.where(beyond, _NONE, np.clip(found.throttle / flux, -_NONE, _NONE))


def _plenum_for_area(breath: Breathing, area: Array, speed: Array) -> Array:
    """Plenum pressure at which a throttle of that area feeds the engine."""

    def surplus(plenum: Array) -> Array:
        found = breath.flows(plenum, speed)
        return _throttle_flow(area, found) - found.throttle

    return np.asarray(falling_root(lambda p: surplus(np.asarray(p)), *_ends(breath)))


def _speed_for_area(breath: Breathing, area: Array) -> tuple[Array, Array]:
    """Speed at which just that area carries the load, and whether there is none so low."""
    low, high = _SLOWEST * breath.d["speed_rpm"], _FASTEST * breath.d["speed_rpm"]

    def left(speed: Array) -> Array:
        return area - _area_for_load(breath, speed)[1]

    at_ends: list[Array] = []

    def watched(speed: Array) -> Array:
        found = left(speed)
        if len(at_ends) < 2:  # the two ends are looked at first, the high one before the low one
            at_ends.append(found)
        return found

    speed = np.asarray(falling_root(lambda v: watched(np.asarray(v)), low, high, precision=1e-7))
    return speed, np.where(at_ends[1] < 0.0, 1.0, 0.0)


def _throttle_flow(area: Array, found: Flows) -> Array:
    return np.asarray(signed_flow(area, found.upstream, found.plenum, found.ahead_temperature, found.warm))


def _load_shown(path: AirPath, flow: Array, speed: Array) -> Array:
    return np.asarray(absolute_load(flow, displacement=path.displacement, speed_rpm=speed))


def _efficiency(path: AirPath, flow: Array, density: Values, speed: Array) -> Array:
    return np.asarray(volumetric_efficiency(flow, density, displacement=path.displacement, speed_rpm=speed))


def _load(breath: Breathing, found: Flows, speed: Array) -> Array:
    """Brake mean effective pressure."""
    path = breath.path
    filled, given = breath.s["filling"], breath.s["work"]
    burnt = found.air * np.sum(filled * given, axis=1) / np.maximum(filled.sum(axis=1), 1e-9)
    worked = path.work_per_air * breath.d["work_share"] * burnt * 120.0 / (speed * path.displacement)
    dragged = breath.s["accessory_drag"] * 4.0 * np.pi / path.displacement
    taken = breath.d["electric_watts"] / path.alternator_efficiency + breath.d["compressor_watts"]
    rubbed = path.friction * friction_pressure(speed, path.displacement, path.n_cylinders)
    driven = power_pressure(taken, speed, path.displacement)
    return np.asarray(worked - rubbed - driven - dragged - (found.port - found.plenum))


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
        shown = cylinder_flow(sound, _map_reading(breath, found.plenum), speed, warm)[0].sum(axis=1)
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
