"""What a log would hold if nothing stood between the computer and the paper: no noise, no lag, no rounding, no asking.

The steady points of a course come alive here: idle hunts, air pulses from one second to the next, consumers switch,
trims hunt about what they have learnt. Means of this are the truth that findings from logs are held against.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.bench import Bench
from witnessmark.simulate.camlog import cam_values
from witnessmark.simulate.course import STEP_S, Course
from witnessmark.simulate.draws import stream
from witnessmark.simulate.oxygen import oxygen_values
from witnessmark.simulate.parts import edit_of
from witnessmark.simulate.wander import behind, followed, wander

__all__ = ["ideal_values"]

FloatArray = NDArray[np.float64]

_LEARN_S = 40.0  # our guess
_SHAPED = ("map", "maf", "load", "absolute_load")
_OIL_S = 150.0  # by which the oil lags the coolant; our guess


def ideal_values(
    bench: Bench, course: Course, seed: int, *, beyond: bool, misfires: Mapping[int, float]
) -> dict[str, FloatArray]:
    """Every value at every step of a course, by the keys of :mod:`witnessmark.simulate.logged`.

    Parameters
    ----------
    bench : Bench
    course : Course
    seed : int
    beyond : bool
        Also what a usual log does not hold.
    misfires : mapping of int to float [1/1000]
        Of firings, by cylinder.

    Returns
    -------
    dict of str to array, shape (n,)
    """
    rng = stream(seed, "alive")
    found = {name: np.array(value) for name, value in course.values.items()}
    alive = course.values["rpm"] > 400.0
    _breathe(found, alive, rng)
    _compress(found, bench, np.array(course.state) == "cranking", stream(seed, "compressions"))
    _switch(found, alive, rng)
    for key, sensor in (("coolant", "ect"), ("intake_air", "iat")):
        gain, offset = (edit_of(bench.state, v, sensor) for v in ("sensor_gain", "sensor_offset"))
        found[key] = 25.0 + gain * (found[key] - 25.0) + offset
    for bank in range(1, course.path.n_banks + 1):
        _trims(found, bank, rng)
    if beyond:
        found |= cam_values(bench, course, seed) | oxygen_values(bench, found, course.path.n_banks, seed)
        load_c = 0.08 * found["load"] * alive
        found["oil_temperature"] = behind(course.values["coolant"], STEP_S, _OIL_S) + behind(load_c, STEP_S, 60.0)
        found["pedal track=1"] = 15.0 + 0.8 * np.maximum(found["throttle"] - 17.5, 0.0)
        found["idle_air"] = found["idle_air"] + wander(alive.size, STEP_S, 0.4, 2.0, rng) * alive
        found["oil_pressure"] = (80.0 + 0.11 * np.maximum(found["rpm"] - 700.0, 0.0)) * alive
        found["oil_pressure"] += wander(alive.size, STEP_S, 5.0, 1.0, rng) * alive
        found["fuel_pressure"] = 380.0 + wander(alive.size, STEP_S, 3.0, 1.5, rng)
        found |= _misfires(bench, course, misfires, rng) | _knock(bench, found["load"], rng)
    return found


def _breathe(found: dict[str, FloatArray], alive: NDArray[np.bool_], rng: np.random.Generator) -> None:
    """Charge and speed are never quite those of the steady point."""
    count = alive.size
    room = np.clip(1.0 - found["map"] / np.maximum(found["barometer"], 1.0), 0.0, 1.0)  # at full load nothing is left
    charge = (wander(count, STEP_S, 0.012, 1.2, rng) + wander(count, STEP_S, 0.010, 12.0, rng)) * alive * room
    for name in _SHAPED:
        found[name] = found[name] * (1.0 + charge)
    found["load"] = np.clip(found["load"], 0.0, 100.0)
    found["rpm"] = found["rpm"] + (wander(count, STEP_S, 4.0, 0.6, rng) + wander(count, STEP_S, 4.0, 6.0, rng)) * alive
    found["timing"] = found["timing"] + wander(count, STEP_S, 1.0, 0.5, rng) * alive
    found["throttle"] = found["throttle"] + wander(count, STEP_S, 0.12, 2.0, rng) * alive


def _compress(
    found: dict[str, FloatArray], bench: Bench, cranking: NDArray[np.bool_], rng: np.random.Generator
) -> None:
    """A starter is held up by every compression, by 3 to 10 % of its speed; common practice, no source."""
    often = bench.engine.cylinders / 120.0 * found["rpm"]
    turned = np.cumsum(often * STEP_S) + rng.random()
    deep = float(rng.uniform(0.03, 0.10))
    found["rpm"] = found["rpm"] * np.where(cranking, 1.0 + deep * np.sin(2.0 * np.pi * turned), 1.0)


def _switch(found: dict[str, FloatArray], alive: NDArray[np.bool_], rng: np.random.Generator) -> None:
    """Fan, lamps and rear window come on and go off again."""
    count = alive.size
    drawn = np.zeros(count)
    for _ in range(rng.poisson(count * STEP_S / 90.0)):
        first = int(rng.integers(count))
        drawn[first : first + round(float(rng.uniform(8.0, 60.0)) / STEP_S)] += float(rng.uniform(0.02, 0.10))
    found["volts"] = found["volts"] + (wander(count, STEP_S, 0.02, 5.0, rng) - drawn) * alive


def _trims(found: dict[str, FloatArray], bank: int, rng: np.random.Generator) -> None:
    """A total that drifts a little, as a learnt share that follows slowly and a quick one that hunts about the rest."""
    closed = found["closed"] > 0.5
    total = found[f"trim_{bank}"] + wander(closed.size, STEP_S, 0.7, 25.0, rng) * closed
    learnt = _learnt(0.8 * total, closed)
    period = float(rng.uniform(0.9, 2.2))
    turns = np.cumsum(STEP_S / period * (1.0 + wander(closed.size, STEP_S, 0.15, 3.0, rng)))
    saw = 2.0 * np.abs(2.0 * np.mod(turns + rng.random(), 1.0) - 1.0) - 1.0
    hunting = float(rng.uniform(1.0, 2.5)) * saw + rng.normal(0.0, 0.3, total.size)
    found[f"short_trim_{bank}"] = np.where(closed, np.clip(total - learnt + hunting, -30.0, 30.0), 0.0)
    found[f"long_trim_{bank}"] = learnt
    found[f"trim_{bank}"] = np.where(closed, found[f"short_trim_{bank}"] + learnt, 0.0)
    mixture = found[f"lambda_{bank}"]
    found[f"hunting_{bank}"] = np.where(closed, hunting, 0.0)
    found[f"lambda_{bank}"] = np.clip(mixture + np.where(closed, -0.006 * hunting, 0.0), 0.0, 1.999)


def _learnt(wanted: FloatArray, closed: NDArray[np.bool_]) -> FloatArray:
    """What the computer has learnt: from the last drive at the beginning, then slowly on wherever trims work."""
    share = 1.0 - np.exp(-STEP_S / _LEARN_S)
    start = float(np.median(wanted[closed])) if closed.any() else 0.0
    return followed(wanted, np.where(closed, share, 0.0), start)


def _knock(bench: Bench, load: FloatArray, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Spark taken back now and then, more under load."""
    busy = np.clip((load - 40.0) / 40.0, 0.0, 1.0)
    return {
        f"knock_retard cylinder={n}": np.maximum(wander(load.size, STEP_S, 1.0, 3.0, rng) * (0.4 + busy) - 0.3, 0.0)
        for n in range(1, bench.engine.cylinders + 1)
    }


def _misfires(
    bench: Bench, course: Course, misfires: Mapping[int, float], rng: np.random.Generator
) -> dict[str, FloatArray]:
    """Counters that only go up: a firing every second turn, each failing by chance."""
    firings = np.where(course.values["rpm"] > 400.0, course.values["rpm"] / 120.0 * STEP_S, 0.0)
    return {
        f"misfire_count cylinder={n}": np.cumsum(rng.poisson(firings * misfires.get(n, 0.0) / 1e3)).astype(np.float64)
        for n in range(1, bench.engine.cylinders + 1)
    }
