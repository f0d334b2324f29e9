"""How a four-stroke engine fills: speed-density flow, volumetric efficiency, load, what back pressure costs."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import GAMMA_AIR, R_AIR

__all__ = [
    "LOAD_DENSITY",
    "absolute_load",
    "calculated_load",
    "filling_factor",
    "speed_density_flow",
    "swept_flow_rate",
    "volumetric_efficiency",
]

LOAD_DENSITY = 1.184
"""Air density that absolute load is counted in, kg/m3 (25 °C, 101.325 kPa; SAE J1979, from memory)."""
_STANDARD_PA, _STANDARD_K = 101_325.0, 298.15


def swept_flow_rate(displacement: Values, speed_rpm: Values) -> Values:
    """Volume that the pistons sweep in their intake strokes.

    Parameters
    ----------
    displacement : float or array, shape (n,) [m3]
        Of the whole engine.
    speed_rpm : float or array, shape (n,) [rpm]

    Returns
    -------
    float or array, shape (n,) [m3/s]

    Raises
    ------
    InputError
        If either is not above 0 (from the check).

    Notes
    -----
    V n/120, by definition of the four-stroke cycle: one intake stroke in two turns.

    Examples
    --------
    >>> f"{1000 * swept_flow_rate(0.002, 3000.0):.0f} L/s"
    '50 L/s'
    """
    above_zero(displacement=displacement, engine_speed=speed_rpm)
    return displacement * speed_rpm / 120.0


def speed_density_flow(
    efficiency: Values, pressure: Values, temperature: Values, *, displacement: Values, speed_rpm: Values
) -> Values:
    """Air flow of an engine from the state of the gas in its plenum.

    Parameters
    ----------
    efficiency : float or array, shape (n,) [-]
        Volumetric, against the density in the plenum.
    pressure : float or array, shape (n,) [Pa]
        In the plenum, absolute.
    temperature : float or array, shape (n,) [K]
        In the plenum.
    displacement : float or array, shape (n,) [m3]
    speed_rpm : float or array, shape (n,) [rpm]

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        If a number is not above 0 (from the check).

    Notes
    -----
    η p V n/(120 R T), by definition of volumetric efficiency and the ideal gas (docs/physics.md, "filling").

    Examples
    --------
    >>> f"{1000 * speed_density_flow(0.78, 35e3, 320.0, displacement=1.998e-3, speed_rpm=800.0):.3f} g/s"
    '3.959 g/s'
    """
    above_zero(volumetric_efficiency=efficiency, pressure=pressure, temperature=temperature)
    return efficiency * pressure * swept_flow_rate(displacement, speed_rpm) / (R_AIR * temperature)


def volumetric_efficiency(flow: Values, density: Values, *, displacement: Values, speed_rpm: Values) -> Values:
    """Volumetric efficiency that an air flow amounts to.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
    density : float or array, shape (n,) [kg/m3]
        Of the air it is counted in: outside air for a whole engine, plenum air for its cylinders.
    displacement : float or array, shape (n,) [m3]
    speed_rpm : float or array, shape (n,) [rpm]

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If density, displacement or speed is not above 0 (from the check).

    Notes
    -----
    120 ṁ/(ρ V n), by definition.

    Examples
    --------
    >>> f"{volumetric_efficiency(0.090, 1.184, displacement=1.998e-3, speed_rpm=5500.0):.3f}"
    '0.830'
    """
    above_zero(density=density)
    return flow / (density * swept_flow_rate(displacement, speed_rpm))


def absolute_load(flow: Values, *, displacement: Values, speed_rpm: Values) -> Values:
    """Load as the computer's standard data count it: air of an intake stroke against a full cylinder of cold air.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
    displacement : float or array, shape (n,) [m3]
    speed_rpm : float or array, shape (n,) [rpm]

    Returns
    -------
    float or array, shape (n,) [%]

    Raises
    ------
    InputError
        If displacement or speed is not above 0 (from the check).

    Notes
    -----
    SAE J1979, from memory: air mass of an intake stroke over 1.184 g/L times the displacement of a cylinder. The number
    of cylinders cancels.

    Examples
    --------
    >>> f"{absolute_load(0.3e-3 * 4 * 800 / 120, displacement=4 * 0.4995e-3, speed_rpm=800.0):.1f} %"
    '50.7 %'
    """
    return 100.0 * flow / (LOAD_DENSITY * swept_flow_rate(displacement, speed_rpm))


def calculated_load(
    flow: Values,
    peak_filling: Values,
    *,
    displacement: Values,
    speed_rpm: Values,
    ambient_pressure: Values = 101_325.0,
    intake_temperature: Values = 298.15,
) -> Values:
    """Calculated load: air flow over the most that the computer reckons with at that speed and weather.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
    peak_filling : float or array, shape (n,) [-]
        Volumetric efficiency of its table, throttle open.
    displacement : float or array, shape (n,) [m3]
    speed_rpm : float or array, shape (n,) [rpm]
    ambient_pressure : float or array, shape (n,) [Pa]
    intake_temperature : float or array, shape (n,) [K]

    Returns
    -------
    float or array, shape (n,) [%]

    Raises
    ------
    InputError
        If a number is not above 0 (from the checks).

    Notes
    -----
    [j1979]_, from memory: flow over peak flow at that speed, that times pressure over 29.92 inches of mercury and
    √(298/T).

    Examples
    --------
    >>> f"{calculated_load(0.004, 0.78, displacement=0.002, speed_rpm=800.0):.0f} %"
    '32 %'
    """
    above_zero(ambient_pressure=ambient_pressure, intake_temperature=intake_temperature, peak_filling=peak_filling)
    weather = ambient_pressure / _STANDARD_PA * np.sqrt(_STANDARD_K / np.asarray(intake_temperature))
    found: Values = 100.0 * flow / (peak_filling * LOAD_DENSITY * swept_flow_rate(displacement, speed_rpm) * weather)
    return found


def filling_factor(pressure_ratio: Values, compression_ratio: Values, gamma: Values = GAMMA_AIR) -> Values:
    """By how much exhaust left in the clearance volume lowers the charge, against equal pressures.

    Parameters
    ----------
    pressure_ratio : float or array, shape (n,) [-]
        Exhaust pressure over plenum pressure.
    compression_ratio : float or array, shape (n,) [-]
        Above 1.
    gamma : float or array, shape (n,) [-]

    Returns
    -------
    float or array, shape (n,) [-]
        1 where the pressures are equal, negative where nothing fresh comes in.

    Raises
    ------
    InputError
        If the compression ratio is not above 1 or the pressure ratio negative (from the checks).

    Notes
    -----
    1 - (p_e/p_i - 1)/(γ (r-1)), [heywood]_ Eq. 6.2, from memory: what is left of exhaust at p_e, let into the intake
    at p_i and mixed without loss of heat. Valves shut at the dead centres; no overlap, no waves. Linear in both
    pressures, so ṁ = k (a p_i - b p_e).

    Examples
    --------
    >>> f"{filling_factor(101.3 / 35, 10.5):.3f}"
    '0.858'
    """
    within(1.0 + 1e-9, 100.0, compression_ratio=compression_ratio)
    within(0.0, 1e6, pressure_ratio=pressure_ratio)
    return 1.0 - (pressure_ratio - 1.0) / (gamma * (compression_ratio - 1.0))
