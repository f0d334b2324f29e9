"""Warm idle of an engine of which little is described: manifold pressure, air flow and load.

The same balance as ``operating`` at idle, in closed form and for thousands of guesses at once.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.filling import calculated_load, swept_flow_rate
from witnessmark.physics.friction import friction_pressure, power_pressure
from witnessmark.physics.nozzle import GAMMA_AIR, R_AIR
from witnessmark.physics.usual import USUAL

__all__ = ["IDLE_BACK_PRESSURE", "IdleEngine", "IdlePoint", "idle_point"]

IDLE_BACK_PRESSURE = 300.0
"""Above ambient at the exhaust valves of an open exhaust at idle, Pa: from memory."""


@dataclass(frozen=True, slots=True)
class IdleEngine:
    """An engine's numbers that matter at idle, or n guesses of them.

    Parameters
    ----------
    displacement : float or array, shape (n,) [m3]
    cylinders : int
    friction : float or array, shape (n,) [-]
        Multiple of ``friction_pressure``.
    work_per_air : float or array, shape (n,) [J/kg]
        With the spark that idle has.
    accessory_watts : float or array, shape (n,) [W]
        Taken from the crank: alternator's load over its efficiency, compressor.
    filling : float or array, shape (n,) [-]
        Against plenum density, at equal plenum and exhaust pressure.
    compression_ratio : float or array, shape (n,) [-]
    charge_warming : float or array, shape (n,) [K]
    peak_filling : float or array, shape (n,) [-]
        With the throttle open, as the computer's table has it.
    """

    displacement: Values
    cylinders: int = 4
    friction: Values = USUAL["friction"].value
    work_per_air: Values = USUAL["work_per_air"].value * USUAL["idle_work_share"].value
    accessory_watts: Values = USUAL["electric_bare"].value / USUAL["alternator_efficiency"].value
    filling: Values = USUAL["idle_filling"].value
    compression_ratio: Values = USUAL["compression_ratio"].value
    charge_warming: Values = USUAL["charge_warming"].value
    peak_filling: Values = USUAL["idle_peak_filling"].value


@dataclass(frozen=True, slots=True)
class IdlePoint:
    """Where an engine idles.

    Parameters
    ----------
    manifold_pressure : float or array, shape (n,) [Pa]
        Absolute.
    air_flow : float or array, shape (n,) [kg/s]
    load : float or array, shape (n,) [%]
        Calculated load.
    """

    manifold_pressure: Values
    air_flow: Values
    load: Values


def idle_point(
    engine: IdleEngine, speed_rpm: Values, *, ambient_pressure: Values = 101_325.0, intake_temperature: Values = 298.15
) -> IdlePoint:
    """Where an engine idles, warm and at a speed that its computer holds.

    Parameters
    ----------
    engine : IdleEngine
    speed_rpm : float or array, shape (n,) [rpm]
    ambient_pressure : float or array, shape (n,) [Pa]
    intake_temperature : float or array, shape (n,) [K]
        As the computer reads it.

    Returns
    -------
    IdlePoint

    Raises
    ------
    InputError
        If a number is not above 0 (from the checks).

    Notes
    -----
    Follows from two lines (docs/physics.md, "warm idle"): air drawn in m = k ((1+b) p - b p_e), k = η/(R T),
    b = 1/(γ(r-1)), and mean pressures W m = friction + accessories + p_e - p. Both are linear in p.

    Examples
    --------
    >>> found = idle_point(IdleEngine(0.002), 800.0)
    >>> f"{found.manifold_pressure / 1000:.1f} kPa, {1000 * found.air_flow:.2f} g/s, {found.load:.0f} %"
    '25.8 kPa, 2.63 g/s, 21 %'
    """
    above_zero(ambient_pressure=ambient_pressure, intake_temperature=intake_temperature, work=engine.work_per_air)
    within(1.0 + 1e-9, 100.0, compression_ratio=engine.compression_ratio)
    b = 1.0 / (GAMMA_AIR * (engine.compression_ratio - 1.0))
    k = engine.filling / (R_AIR * (intake_temperature + engine.charge_warming))
    behind = ambient_pressure + IDLE_BACK_PRESSURE
    lost = engine.friction * friction_pressure(speed_rpm, engine.displacement, engine.cylinders)
    lost = lost + power_pressure(engine.accessory_watts, speed_rpm, engine.displacement)
    worth = engine.work_per_air * k
    pressure = (lost + behind * (1.0 + worth * b)) / (1.0 + worth * (1.0 + b))
    flow = k * ((1.0 + b) * pressure - b * behind) * swept_flow_rate(engine.displacement, speed_rpm)
    load = calculated_load(
        flow,
        engine.peak_filling,
        displacement=engine.displacement,
        speed_rpm=speed_rpm,
        ambient_pressure=ambient_pressure,
        intake_temperature=intake_temperature,
    )
    return IdlePoint(pressure, flow, load)
