"""Voltages of oxygen sensors along a drive: the front one switches with the mixture, the rear one sees what is left."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.bench import Bench
from witnessmark.simulate.course import STEP_S
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import edit_of
from witnessmark.simulate.wander import behind, wander

__all__ = ["oxygen_values"]

FloatArray = NDArray[np.float64]

_COLD_V = 0.45  # of a sensor that is not yet hot; common practice, no source
_HOT_S = 25.0  # after the start; our guess
_DAMPING = 2.3  # a sound catalyst leaves a tenth of the swing; our guess
_TRAVEL_S = 0.15  # from the injectors to the front sensor; our guess


def oxygen_values(bench: Bench, values: Mapping[str, FloatArray], n_banks: int, seed: int) -> dict[str, FloatArray]:
    """Voltage of the front and the rear sensor of every bank, by signal.

    Parameters
    ----------
    bench : Bench
    values : mapping of str to array, shape (n,)
        Of the course, with "hunting_1" … [%] of the trims.
    n_banks : int
    seed : int

    Returns
    -------
    dict of str to array, shape (n,) [V]
        "o2_voltage bank=1 sensor=1" …, and under "swing bank=1 sensor=2" … the part of it that hunting causes.
    """
    found: dict[str, FloatArray] = {}
    hot = values["run_time"] > _HOT_S if values["run_time"][-1] > _HOT_S else values["run_time"] > 0.0
    closed = values["closed"] > 0.5
    for bank in range(1, n_banks + 1):
        rng = stream(seed, "oxygen", str(bank))
        rich = np.tanh((values[f"hunting_{bank}"] + rng.normal(0.0, 0.15, closed.size)) / 0.6)
        lags = {
            s: max(edit_of(bench.state, "sensor_lag", f"o2_{w}_{bank}"), 0.0) for s, w in ((1, "front"), (2, "rear"))
        }
        front = 0.38 * behind(rich, STEP_S, _TRAVEL_S + lags[1]) * closed
        storage = float(np.clip(edit_of(bench.state, "oxygen_storage", f"bank_{bank}"), 0.0, 1.5))
        left = float(np.exp(-_DAMPING * storage))
        rear = left * 0.38 * behind(rich, STEP_S, _TRAVEL_S + lags[2]) * closed
        slow = 0.68 + wander(closed.size, STEP_S, 0.03, 8.0, rng)
        lean = np.where(closed, 0.0, np.where(values[f"lambda_{bank}"] < 0.97, 0.4, -0.4))
        late = {1: _TRAVEL_S + lags[1], 2: _TRAVEL_S + lags[2] + 2.0 * storage}  # a full catalyst holds it up
        for sensor, swing, middle in ((1, front, 0.46), (2, rear, slow)):
            volts = np.clip(middle + swing + 0.9 * behind(lean, STEP_S, late[sensor]), 0.02, 0.95)
            found[f"o2_voltage bank={bank} sensor={sensor}"] = np.where(hot, volts, _COLD_V)
            found[f"swing bank={bank} sensor={sensor}"] = swing
    return found
