"""Where the engine of a vehicle truly stands while it is driven and its values are logged."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.demand import Demand, full_load, idling, running
from witnessmark.physics.operating import OperatingPoint, operating_point
from witnessmark.simulate.airway import air_path_of, air_state_of
from witnessmark.simulate.bench import Bench
from witnessmark.simulate.breathing import build_breather
from witnessmark.simulate.coolant import build_cooling, heat_edges, hot_coolant, warming_coolant
from witnessmark.simulate.cranking import build_starting
from witnessmark.simulate.draws import stream
from witnessmark.simulate.itinerary import Phase, phases_of
from witnessmark.simulate.onboard import Onboard, build_onboard
from witnessmark.simulate.parts import edit_of
from witnessmark.simulate.wander import followed

__all__ = ["STEP_S", "Course", "driven"]

FloatArray = NDArray[np.float64]

STEP_S = 0.1
_KNOT_S, _QUICK_KNOT_S = 10.0, 2.0
_HEAT_SHARE = 0.48  # of the fuel's heat that warms block and oil; from memory: near half at idle, a third at load
_FUEL_J_PER_KG = 42.8e6


_STANDING = ("key_on", "cranking")  # of an engine that does not run by itself
_BENDS_C = (-10.0, 10.0, 35.0, 60.0, 82.4, 130.0)  # idle's speed and the enrichment go straight between these
_TIMING_DEG = {"idle": 11.0, "overrun": 14.0, "snap": 18.0, "raised": 30.0, "cruise": 31.0, "acceleration": 24.0,
               "full_load": 17.0}  # fmt: skip
_QUICK = ("cruise", "snap", "acceleration", "full_load")  # whose points lie closer


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Where the engine truly stands, every :data:`STEP_S`.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    state : tuple of str
        At each time.
    values : mapping of str to array, shape (n,)
        "rpm", "plenum" [kPa], "map" [kPa] as reported, "maf" [g/s] as reported, "absolute_load" [%], "load" [%],
        "trim_1" … [%], "lambda_1" …, "throttle" [%], "timing" [deg], "coolant", "intake_air", "outside_air" [C],
        "volts" [V] at the module, "lost_volts" [V] between it and the battery, "speed" [km/h], "barometer" [kPa],
        "rail" [kPa], "idle_air" [%], "closed" (1: trims work), "run_time" [s].
    path : AirPath
    """

    times_s: FloatArray
    state: tuple[str, ...]
    values: Mapping[str, FloatArray]
    path: AirPath


def driven(bench: Bench, course: str, seed: int, *, minutes: float = 12.0) -> Course:
    """Drive a vehicle.

    Parameters
    ----------
    bench : Bench
    course : str
        One of :data:`witnessmark.simulate.itinerary.COURSES` or :data:`witnessmark.simulate.itinerary.DRIVES`.
    seed : int
    minutes : float [min]
        Of a drive of ``DRIVES``, at least.

    Returns
    -------
    Course

    Raises
    ------
    InputError
        For a course that is not there.
    """
    phases, hot = phases_of(course, stream(seed, "itinerary", course), minutes=minutes)
    rng = stream(seed, "course", course)
    breather = build_breather(bench.world, wall_k=380.0)
    ratio = breather.skeleton.cylinders[0].geometry.compression_ratio
    path = air_path_of(bench.engine, breather.swept_m3, ratio, bench.seed)
    air = air_state_of(bench.engine, bench.state)
    outside_c, ambient = float(rng.uniform(8.0, 26.0)), breather.skeleton.reservoirs[0].pressure_pa
    times, state, wanted, load, gear, free = _timetable(phases, rng)
    alive = _alive(state)
    cooling = build_cooling(bench, breather.swept_m3, rng)
    start_c = outside_c + float(rng.uniform(-0.5, 1.0))
    rough = _Points(path, air, ambient, outside_c + 273.15, _consumers(rng))

    if hot:
        coolant = hot_coolant(cooling, times, breather.swept_m3, outside_c, rng)
    else:
        edges = heat_edges(_changes(state), times.size, step_s=STEP_S)
        heat = rough.heat(state, wanted, load, edges[:-1])
        coolant = warming_coolant(cooling, heat, edges, step_s=STEP_S, outside_c=outside_c, start_c=start_c)
    target = _target(state, wanted, coolant)
    values = rough.along(times, state, target, load, coolant)
    values["coolant"], values["outside_air"] = coolant, np.full(times.size, outside_c)
    values["barometer"] = np.full(times.size, ambient / 1e3)
    values["intake_air"] = outside_c + 0.22 * (coolant - outside_c) * (1.2 - np.clip(values["maf"] / 40.0, 0.0, 1.0))
    starting = build_starting(bench.state, breather.swept_m3, bench.seed, celsius=outside_c)
    _standing(values, state, starting.emf_v, ambient / 1e3, bench, rng)
    values["speed"] = gear * values["rpm"] + free
    values["run_time"] = np.cumsum(alive * STEP_S)
    pace = np.where(np.array(state) == "cranking", _STARTER_S, 1.0)
    smooth = {name: _eased(value, name, pace) for name, value in values.items()}
    return Course(times, state, smooth, path)


def _consumers(rng: np.random.Generator) -> tuple[float, float]:
    """What is switched on: electric, and the compressor of the air conditioning in two cars of five [W]; our guess."""
    cooled = rng.random() < 0.4
    return float(rng.uniform(250.0, 850.0)), float(rng.uniform(500.0, 1500.0)) if cooled else 0.0


def _timetable(
    phases: Sequence[Phase], rng: np.random.Generator
) -> tuple[FloatArray, tuple[str, ...], FloatArray, FloatArray, FloatArray, FloatArray]:
    """Time, state, speed wanted, load, km/h for each rpm, and km/h without a gear; nobody's foot is still."""
    state: list[str] = []
    rpm, load, gear, free = [], [], [], []
    for phase in phases:
        count = max(round(phase.seconds * float(rng.uniform(0.92, 1.08)) / STEP_S), 2)
        state += [phase.state] * count
        foot = _wander(count, 0.012 if phase.state in ("raised", "cruise") else 0.0, rng)
        if phase.to_rpm is not None:
            rpm.append(np.linspace(phase.rpm, phase.to_rpm, count))
        else:
            rpm.append(phase.rpm * (1.0 + foot))
        road = _wander(count, 0.12 if phase.state in ("cruise", "acceleration") else 0.0, rng)
        load.append(phase.load_pa * (1.0 + road))
        gear.append(np.full(count, phase.kmh_per_rpm))
        free.append(np.linspace(*phase.kmh, count))
    times = np.asarray(STEP_S * np.arange(len(state)), dtype=np.float64)
    columns = (np.concatenate(column) for column in (rpm, load, gear, free))
    return times, tuple(state), *columns  # type: ignore[return-value]


def _wander(count: int, size: float, rng: np.random.Generator) -> FloatArray:
    """Slow noise of a given size: a hand, a road."""
    knots = max(count // 25, 2)
    return np.asarray(np.interp(np.linspace(0.0, knots - 1.0, count), np.arange(knots), rng.normal(0.0, size, knots)))


def _alive(state: Sequence[str]) -> NDArray[np.bool_]:
    return np.asarray(~np.isin(state, _STANDING))


def _changes(state: Sequence[str]) -> list[int]:
    """Where another phase begins."""
    return [k for k in range(1, len(state)) if state[k] != state[k - 1]]


def _target(state: Sequence[str], wanted: FloatArray, coolant: FloatArray | float) -> FloatArray:
    """Speed that is held [rpm]: the wanted one, and at idle the faster the colder."""
    return np.where(np.array(state) == "idle", np.clip(1250.0 - 6.5 * (coolant - 10.0), 780.0, 1250.0), wanted)


class _Points:
    """Steady points along a drive, computed at knots and laid between them."""

    def __init__(
        self, path: AirPath, air: AirState, ambient_pa: float, outside_k: float, watts: tuple[float, float]
    ) -> None:
        self.path, self.air, self.ambient, self.outside, self.watts = path, air, ambient_pa, outside_k, watts

    def along(
        self, times: FloatArray, state: Sequence[str], target: FloatArray, load: FloatArray, coolant: FloatArray
    ) -> dict[str, FloatArray]:
        """Values of the running engine at all times; where it does not run, of idle."""
        edges = [0, *_changes(state), len(state)]
        stretches = list(itertools.pairwise(edges))
        knots = [_knots(state[first], first, last) for first, last in stretches]
        whole = np.concatenate(knots)
        found = self._at([state[k] for k in whole], target[whole], load[whole], coolant[whole])
        ends = np.cumsum([one.size for one in knots])[:-1]
        values = {key: np.empty(times.size) for key in found}
        for key, column in found.items():
            for (first, last), at, part in zip(stretches, knots, np.split(column, ends), strict=True):
                values[key][first:last] = np.interp(np.arange(first, last), at, part)
        return values

    def heat(
        self, state: Sequence[str], wanted: FloatArray, load: FloatArray, steps: Sequence[int]
    ) -> Callable[[int, float], float]:
        """Into block and oil [W] at some steps, over the coolant's temperature, by the fuel burnt.

        A standing engine gives none. Tabulated at the temperatures at which the demand bends, straight in between: all
        points of a drive are settled at once.
        """
        runs = [step for step in steps if state[step] not in (*_STANDING, "overrun")]
        if not runs:
            return lambda step, coolant_c: 0.0
        many, warm = len(_BENDS_C), np.tile(_BENDS_C, len(runs))
        names = [state[step] for step in runs for _ in _BENDS_C]
        target = _target(names, np.repeat(wanted[runs], many), warm)
        demand, _ = self._demand(names, target, np.repeat(load[runs], many), warm)
        found = operating_point(self.path, self.air, demand)
        burnt = np.where(found.stalls > 0.5, 0.0, found.fuelling.fuel_flow).reshape(len(runs), many)
        rows = dict(zip(runs, _HEAT_SHARE * _FUEL_J_PER_KG * burnt, strict=True))
        return lambda step, coolant_c: float(np.interp(coolant_c, _BENDS_C, rows[step])) if step in rows else 0.0

    def _at(
        self, state: Sequence[str], target: FloatArray, load: FloatArray, coolant: FloatArray
    ) -> dict[str, FloatArray]:
        demand, closed = self._demand(state, target, load, coolant)
        found = operating_point(self.path, self.air, demand)
        best = operating_point(self.path, self.air, self._placed(full_load(self.path, found.speed_rpm), 1.0))
        rows = _values_of(found, best, self.path)
        rows["closed"] = closed * (coolant > 35.0)
        cut = np.array(state) == "overrun"  # the fuel is cut
        rows |= {name: np.where(cut, 1.999, rows[name]) for name in rows if name.startswith("lambda_")}
        cold = np.clip((60.0 - coolant) / 60.0, 0.0, 1.0)
        rows["timing"] = np.array([_TIMING_DEG.get(one, 8.0) for one in state]) - 8.0 * cold
        return rows

    def _demand(
        self, state: Sequence[str], target: FloatArray, load: FloatArray, coolant: FloatArray
    ) -> tuple[Demand, FloatArray]:
        """What is asked at points of several states, and where trims work."""
        rich = 1.0 - 0.12 * np.clip((35.0 - coolant) / 35.0, 0.0, 1.0)
        names, speed = np.array(state), np.where(target > 100.0, target, 780.0)
        idle, wide, shut = (
            np.isin(names, ("idle", *_STANDING)),
            np.isin(names, ("snap", "full_load")),
            names == "overrun",
        )
        asked = self._placed(running(self.path, speed, np.where(shut, -1.2e5, load)), np.where(shut, 1.0, rich))
        asked = _where(idle, self._placed(idling(self.path, speed), rich), asked)
        asked = _where(wide, self._placed(full_load(self.path, speed), 0.9), asked)
        return asked, np.where(wide | shut, 0.0, 1.0)

    def _placed(self, demand: Demand, rich: FloatArray | float) -> Demand:
        return replace(
            demand, ambient_pressure=self.ambient, ambient_temperature=self.outside + 8.0, lambda_wanted=rich,
            electric_watts=self.watts[0], compressor_watts=self.watts[1],
        )  # fmt: skip


def _where(here: NDArray[np.bool_], demand: Demand, other: Demand) -> Demand:
    """One demand at some points, another at the rest."""
    both = {one.name: (getattr(demand, one.name), getattr(other, one.name)) for one in fields(Demand)}
    return Demand(**{name: np.where(here, *values) for name, values in both.items()})


def _knots(state: str, first: int, last: int) -> NDArray[np.int64]:
    """Steps of a stretch at which a point is computed."""
    apart = round((_QUICK_KNOT_S if state in _QUICK else _KNOT_S) / STEP_S)
    return np.unique(np.append(np.arange(first, last, apart), last - 1))


def _values_of(found: OperatingPoint, best: OperatingPoint, path: AirPath) -> dict[str, FloatArray]:
    stalled = found.stalls > 0.5
    share = np.clip(found.throttle_area / path.wide_open_area, 0.0, 1.0)
    rows = {
        "rpm": np.where(stalled, 0.0, found.speed_rpm),
        "plenum": found.plenum_pressure / 1e3,
        "map": found.map_reported / 1e3,
        "maf": 1e3 * found.airflow_reported,
        "absolute_load": found.absolute_load,
        "load": np.clip(100.0 * found.absolute_load / np.maximum(best.absolute_load, 1.0), 0.0, 100.0),
        "throttle": 13.0 + 72.0 * share**0.6,
        "rail": found.fuelling.rail_pressure / 1e3,
        "idle_air": np.clip(found.idle_air_demand, 0.0, 100.0),
        "stalled": stalled.astype(np.float64),
    }
    for bank in range(path.n_banks):
        rows[f"trim_{bank + 1}"] = found.fuelling.trim[:, bank]
        rows[f"lambda_{bank + 1}"] = found.fuelling.lambda_reported[:, bank]
    return rows


def _standing(
    values: dict[str, FloatArray], state: Sequence[str], emf_v: float, baro_kpa: float, bench: Bench,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Voltage of the running engine; all of the one that does not run, or that has stalled."""
    board = build_onboard(bench.state, bench.seed)
    rpm = values["rpm"]
    lost = float(stream(bench.seed, "to the module").uniform(0.05, 0.35))  # on the way from the battery
    values["volts"] = np.interp(rpm, *_charging_curve(board)) - lost
    off, cranking = np.array(state) == "key_on", np.array(state) == "cranking"
    dead = off | (values.pop("stalled") > 0.5)
    still_map = baro_kpa * edit_of(bench.state, "sensor_gain", "map") + edit_of(bench.state, "sensor_offset", "map")
    zeros = {"rpm": 0.0, "load": 0.0, "absolute_load": 0.0, "timing": 5.0, "plenum": baro_kpa, "map": still_map}
    zeros |= {"maf": max(edit_of(bench.state, "sensor_offset", "maf"), 0.0), "volts": emf_v - 0.2 - lost, "closed": 0.0}
    zeros |= {name: 0.0 for name in values if name.startswith("trim_")}
    zeros |= {name: 1.999 for name in values if name.startswith("lambda_")}
    for name, value in zeros.items():
        values[name] = np.where(dead, value, values[name])
    turned = float(rng.uniform(170.0, 240.0))
    pulled = {
        "rpm": turned,
        "volts": emf_v - float(rng.uniform(1.7, 2.6)),
        "map": still_map - 4.0,
        "plenum": baro_kpa - 4.0,
    }
    pulled |= {"maf": values["maf"].max() * 0.06, "closed": 0.0, "load": 30.0, "absolute_load": 35.0}
    for name, value in pulled.items():
        values[name] = np.where(cranking & ~dead, value, values[name])
    for name in [one for one in values if one.startswith("trim_")]:
        values[name] = np.where(cranking, 0.0, values[name])
    values["lost_volts"] = np.full(rpm.size, lost)


def _charging_curve(board: Onboard) -> tuple[FloatArray, FloatArray]:
    speeds = np.array([1.0, 500.0, 650.0, 800.0, 1000.0, 1500.0, 2500.0, 5000.0])
    return speeds, np.array([board.volts(float(speed)) for speed in speeds])


_STARTER_S = 0.25  # of the usual time: a starter brings its engine up to speed within half a turn
_EASE_S = {"rpm": 0.5, "map": 0.25, "plenum": 0.25, "maf": 0.2, "throttle": 0.1, "volts": 0.12, "intake_air": 40.0}


def _eased(value: FloatArray, name: str, pace: FloatArray) -> FloatArray:
    """Nothing jumps from one steady point to the next."""
    seconds = _EASE_S.get(name, 0.4)
    if name in ("run_time", "coolant", "outside_air", "barometer", "closed", "lost_volts"):
        return value
    shares = 1.0 - np.exp(-STEP_S / (seconds * (pace if name == "rpm" else 1.0) + np.zeros(value.size)))
    return followed(np.asarray(value, dtype=np.float64), shares, float(value[0]))
