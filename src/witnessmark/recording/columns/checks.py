"""Whether a stated unit can be true: air against speed and pressure, road speed against gear, a thermostat."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

__all__ = ["CHECKS", "unit_doubt"]

FloatArray = NDArray[np.float64]
_R_AIR = 287.05  # J/(kg K)
_LEAST_ROWS = 20
# Litres of air that a cycle draws through plausible engines, and km/h at 1000 rpm in each gear of any car; common
# practice, no source: from half a litre to nine, and final drives within a factor of 1.4 of the middle.
_LITRES = (0.55, 9.0)
_KMH_PER_1000 = {1: 7.5, 2: 13.5, 3: 20.0, 4: 27.0, 5: 34.5, 6: 41.0}
_FAR_GEAR = 0.34
_LONGEST_STEP_S = 90.0
# A running engine whose coolant stands still has come to its thermostat.
_THERMOSTAT_C = (65.0, 120.0)


def unit_doubt(parameter: str, values: FloatArray, sure: Mapping[str, FloatArray]) -> str | None:
    """Why a column's numbers cannot be in the unit taken for them, beside the columns that are sure.

    Parameters
    ----------
    parameter : str
    values : array, shape (n,)
        Thinned rows, in the parameter's unit.
    sure : mapping of str to array, shape (n,)
        Other columns by parameter, in their parameters' units.

    Returns
    -------
    str or None
        A clause for a question.
    """
    check = CHECKS.get(parameter)
    return check(values, sure) if check is not None else None


def _air(maf: FloatArray, sure: Mapping[str, FloatArray]) -> str | None:
    if "engine_speed" not in sure or "map" not in sure:
        return None
    speed, pressure = sure["engine_speed"], sure["map"]
    running = (speed > 500.0) & (maf > 0.0) & (pressure > 15.0)
    if running.sum() < _LEAST_ROWS:
        return None
    density = pressure[running] / (_R_AIR * 1e-3 * 305.0)  # g/L at some 32 °C
    litres = float(np.median(maf[running] * 120.0 / (speed[running] * density)))
    if _LITRES[0] <= litres <= _LITRES[1]:
        return None
    return f"beside speed and manifold pressure it would be the air of an engine of about {litres:.2g} litres"


def _speed(speed: FloatArray, sure: Mapping[str, FloatArray]) -> str | None:
    other = sure.get("other speed")
    if other is not None:
        moving = (speed > 5.0) & (other > 5.0)
        if moving.sum() >= _LEAST_ROWS:
            ratio = float(np.median(speed[moving] / other[moving]))
            if abs(np.log(ratio)) > 0.25:
                return f"it is {ratio:.2f} times another column of speed"
    gear, turns = sure.get("gear"), sure.get("engine_speed")
    if gear is None or turns is None:
        return None
    misses = []
    for number, usual in _KMH_PER_1000.items():
        engaged = (gear == number) & (speed > 5.0) & (turns > 600.0)
        if engaged.sum() >= 5:
            misses.append(float(np.log(np.median(1000.0 * speed[engaged] / turns[engaged]) / usual)))
    if len(misses) < 2 or abs(np.mean(misses)) <= _FAR_GEAR:
        return None
    return f"for the gears engaged it is {np.exp(np.mean(misses)):.2f} times what cars usually do"


def _coolant(coolant: FloatArray, sure: Mapping[str, FloatArray]) -> str | None:
    speed = sure.get("engine_speed")
    there = coolant[np.isfinite(coolant)]
    if speed is None or there.size < 40 or float(np.nanmedian(speed)) < 500.0:
        return None
    late = there[there.size // 2 :]
    level = float(np.median(late))
    if np.ptp(late) > 6.0 or np.unique(late).size < 2 or _THERMOSTAT_C[0] <= level <= _THERMOSTAT_C[1]:
        return None
    if _rises(there) or np.ptp(there) > 6.0:
        return None
    return f"the engine runs and its coolant stays near {level:.0f} °C, which no thermostat does"


def _rises(there: FloatArray) -> bool:
    """Whether the last third is warmer than the first: an engine on its way to its thermostat."""
    third = there.size // 3
    return float(np.median(there[-third:]) - np.median(there[:third])) > 1.5


def _time(time: FloatArray, sure: Mapping[str, FloatArray]) -> str | None:
    steps = np.diff(time[np.isfinite(time)])
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    return f"from row to row would pass {step:.0f} s" if step > _LONGEST_STEP_S else None


CHECKS = {"time": _time, "run_time": _time, "maf": _air, "vehicle_speed": _speed, "coolant": _coolant}
"""By parameter: numbers in its unit, and the columns that are sure."""
