"""The coolant along a drive: hot from the beginning, or warming by the fuel that is burnt."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.warmup import CoolingSystem, Thermostat, warm_up
from witnessmark.simulate.bench import Bench
from witnessmark.simulate.parts import edit_of

__all__ = ["Cooling", "build_cooling", "heat_edges", "hot_coolant", "warming_coolant"]

FloatArray = NDArray[np.float64]

Cooling = tuple[CoolingSystem, Thermostat]

_ROAD_W_PER_M3 = 5.5e6  # 11 kW for two litres; common practice, no source: 10 to 20 kW
_STEADY_S = 30.0  # for so long the heat of a warming engine is taken as steady


def build_cooling(bench: Bench, swept_m3: float, rng: np.random.Generator) -> Cooling:
    """What takes the heat of a vehicle's engine.

    Parameters
    ----------
    bench : Bench
    swept_m3 : float [m3]
    rng : numpy.random.Generator

    Returns
    -------
    tuple of (CoolingSystem, Thermostat)
    """
    usual = CoolingSystem()
    size = float(rng.uniform(0.85, 1.15)) * swept_m3 / 2e-3
    system = replace(
        usual, coolant_capacity=usual.coolant_capacity * size, radiator=usual.radiator * size,
        oil_capacity=usual.oil_capacity * size,
    )  # fmt: skip
    return system, Thermostat(edit_of(bench.state, "thermostat_temp", "engine"))


def hot_coolant(
    cooling: Cooling, times_s: FloatArray, swept_m3: float, outside_c: float, rng: np.random.Generator
) -> FloatArray:
    """As warm as the engine gets in half an hour on the road.

    Parameters
    ----------
    cooling : tuple of (CoolingSystem, Thermostat)
    times_s : array, shape (n,) [s]
    swept_m3 : float [m3]
    outside_c : float [C]
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [C]
    """
    before = warm_up(_ROAD_W_PER_M3 * swept_m3, *cooling, ambient_c=outside_c, seconds=1800.0)
    swing = 1.2 * np.sin(2.0 * np.pi * (times_s / float(rng.uniform(50.0, 110.0)) + rng.random()))
    return np.asarray(float(before.coolant_c[-1, 0]) + swing)


def heat_edges(changes: Sequence[int], n_steps: int, *, step_s: float) -> list[int]:
    """Steps between which the heat of a warming engine is taken as steady, the first and the end among them.

    Parameters
    ----------
    changes : sequence of int
        Steps at which the engine is run otherwise.
    n_steps : int
    step_s : float [s]

    Returns
    -------
    list of int
    """
    return sorted({0, *changes, *range(0, n_steps, round(_STEADY_S / step_s)), n_steps})


def warming_coolant(
    cooling: Cooling, heat: Callable[[int, float], float], edges: Sequence[int], *, step_s: float, outside_c: float,
    start_c: float,
) -> FloatArray:  # fmt: skip
    """After a cold start, by what the engine gives to block and oil in each stretch.

    Parameters
    ----------
    cooling : tuple of (CoolingSystem, Thermostat)
    heat : callable (int, float) -> float [W]
        Of a step and the coolant's temperature then [C].
    edges : sequence of int
        As :func:`heat_edges` gives them.
    step_s : float [s]
    outside_c, start_c : float [C]

    Returns
    -------
    array, shape (edges[-1],) [C]
    """
    found, now, oil = np.full(edges[-1], start_c), start_c, start_c
    for first, last in itertools.pairwise(edges):
        went = warm_up(
            heat(first, now), *cooling, ambient_c=outside_c, start_c=now, oil_start_c=oil,
            seconds=step_s * (last - first),
        )  # fmt: skip
        found[first:last] = np.interp(step_s * np.arange(last - first), went.seconds, went.coolant_c[:, 0])
        now, oil = float(went.coolant_c[-1, 0]), float(went.oil_c[-1, 0])
    return found
