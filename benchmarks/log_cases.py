"""Cases for the benchmark of logs: a vehicle of one of the twelve described engines, an edit, a drive, and its logging.

Constants of the measuring are set on :data:`TUNING_SEEDS` only; everything printed comes from :data:`MEASURING_SEEDS`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.stateplaces import banks_of, phased_cams
from witnessmark.engine.types import Engine
from witnessmark.simulate import Mishap, ScanSetup, build_bench, healthy_engine, healthy_state, scan_log
from witnessmark.simulate.bench import Bench, BenchCapture
from witnessmark.simulate.logged import is_narrow

TUNING_SEEDS = range(40_000, 40_200)
MEASURING_SEEDS = range(51_000, 61_000)
"""From 51,000 on: tables of 50,000 to 50,287 were seen while constants of the measuring were still set."""

Change = tuple[str, str, str, float]


@dataclass(frozen=True)
class LogCase:
    """One log with all that is known of it.

    ``rates`` holds the losses of contact in a minute that each sensor suffers (through whatever it hangs on), ``at``
    the node that loses; ``mishaps`` what else was done to values.
    """

    seed: int
    plan: str
    engine: Engine
    edit: str
    style: str
    bench: Bench
    setup: ScanSetup
    capture: BenchCapture
    mishaps: tuple[Mishap, ...] = ()
    lost_at: dict[str, float] = field(default_factory=dict)


@cache
def engines() -> tuple[Engine, ...]:
    """The described engines, each with its open choices settled at the likeliest."""
    return tuple(
        max(candidate_engines(find_engine(k.name)), key=lambda one: one.weight).engine for k in known_engines()
    )


Draw = Callable[[Engine, np.random.Generator], list[Change]]


def _signed(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high) * rng.choice([-1.0, 1.0]))


def _phaser(engine: Engine, rng: np.random.Generator) -> list[Change]:
    cams = phased_cams(engine)
    return [("phaser_rest", str(rng.choice(cams)), "add", _signed(rng, 3.0, 12.0))] if cams else []


def _slow_phaser(engine: Engine, rng: np.random.Generator) -> list[Change]:
    cams = phased_cams(engine)
    return [("phaser_rate", str(rng.choice(cams)), "set", float(rng.uniform(15.0, 60.0)))] if cams else []


def _contact(engine: Engine, rng: np.random.Generator) -> list[Change]:
    node = str(rng.choice(["map", "ect", "throttle_sensor", "maf", "iat", "ref_a", "sensor_ground", "crank"]))
    return [("dropout_rate", node, "set", float(np.exp(rng.uniform(np.log(0.2), np.log(4.0)))))]


def _contact_often(engine: Engine, rng: np.random.Generator) -> list[Change]:
    shared = rng.random() < 0.6
    node = str(rng.choice(["ref_a", "sensor_ground"] if shared else ["map", "ect", "throttle_sensor", "maf", "iat"]))
    return [("dropout_rate", node, "set", float(np.exp(rng.uniform(np.log(0.5), np.log(6.0)))))]


def _catalyst(engine: Engine, rng: np.random.Generator) -> list[Change]:
    bank = int(rng.choice(banks_of(engine)))
    return [("oxygen_storage", f"bank_{bank}", "set", float(rng.uniform(0.1, 0.7)))]


EDITS: dict[str, Draw] = {
    "none": lambda engine, rng: [],
    "leak": lambda engine, rng: [("leak_area", "plenum", "add", float(rng.uniform(1.0, 6.0)))],
    "map_off": lambda engine, rng: [("sensor_offset", "map", "add", _signed(rng, 4.0, 14.0))],
    "meter_off": lambda engine, rng: [("sensor_gain", "maf", "set", float(rng.uniform(0.8, 1.15)))],
    "coolant_off": lambda engine, rng: [("sensor_offset", "ect", "add", _signed(rng, 5.0, 20.0))],
    "thermostat": lambda engine, rng: [("thermostat_temp", "engine", "set", float(rng.uniform(50.0, 75.0)))],
    "phaser": _phaser,
    "slow_phaser": _slow_phaser,
    "catalyst": _catalyst,
    "alternator": lambda engine, rng: [("alternator_output", "alternator", "set", float(rng.uniform(0.1, 0.5)))],
    "contact": _contact,
    "contact often": _contact_often,
    "misfire": lambda engine, rng: [],
    "mishap": lambda engine, rng: [],
}
_ODDS = {"none": 4.0, "contact": 2.0, "contact often": 0.0, "misfire": 2.0, "mishap": 3.0}


def draw_case(seed: int, made_for: str | None = None) -> LogCase:
    """The case of a seed.

    Parameters
    ----------
    seed : int
    made_for : str, optional
        One of :data:`PLANS`; the seed's own where left out. Constants are set on every plan of the tuning seeds.
    """
    rng = np.random.default_rng([seed, 41])
    name = made_for or plan_of(seed)
    plan = PLANS[name]
    engine, vehicle = _vehicle(seed, plan)
    names = list(EDITS)
    odds = np.array([_ODDS.get(name, 1.0) for name in names])
    edit = plan.edit or str(rng.choice(names, p=odds / odds.sum()))
    changes = EDITS[edit](engine, rng)
    state = healthy_engine(engine, healthy_state(engine, rng), rng).edited(changes)
    bench = build_bench(engine, state, vehicle)
    style, setup = _setup(rng, engine, edit, plan)
    capture = scan_log(bench, setup, seed)
    lost = {where: value for variable, where, _, value in changes if variable == "dropout_rate"}
    return LogCase(seed, name, engine, edit, style, bench, setup, capture, setup.mishaps, lost)


STYLES: dict[str, tuple[float, float, str, bool, bool]] = {
    "few, quick": (0.006, 0.012, "answers", False, False),
    "usual": (0.02, 0.08, "rounds", False, True),
    "many, slow": (0.10, 0.30, "rounds", True, True),
    "each at its time": (0.03, 0.15, "answers", True, True),
    "held rows": (0.02, 0.10, "held", False, True),
}
"""Ways of logging: shortest and longest time to an answer [s], rows, all values alike, more than the usual values."""


@dataclass(frozen=True)
class Plan:
    """What a log is made for.

    ``turns`` it has in a round of seeds; ``only`` these parameters are asked for (all where empty), ``answer`` is the
    shortest and the longest time to an answer [s] (by a style where left out), ``minutes`` the least and the most,
    ``edit`` one that it always has, ``vehicle`` what the vehicle must have: direct injection, switching sensors,
    phasers.
    """

    turns: int
    courses: tuple[str, ...]
    minutes: tuple[float, float] = (3.0, 3.0)
    only: tuple[str, ...] = ()
    answer: tuple[float, float] | None = None
    edit: str = ""
    vehicle: str = ""


PLANS: dict[str, Plan] = {
    "drive": Plan(5, ("warm_drive", "cold_drive", "cold_drive"), (6.0, 16.0)),
    "start": Plan(11, ("start",), only=("engine_speed", "volts", "map", "maf", "barometer"), answer=(0.006, 0.015)),
    "warm-up": Plan(
        9, ("cold_to_hot", "cold_drive"), (10.0, 14.0), answer=(0.05, 0.3),
        only=("engine_speed", "load", "coolant", "intake_air", "vehicle_speed", "run_time", "barometer"),
    ),
    "cams": Plan(
        6, ("warm_drive",), (6.0, 8.0), ("engine_speed", "vehicle_speed", "load", "coolant", "cam_actual",
        "cam_target"), (0.006, 0.02),
        vehicle="phasers",
    ),
    "oxygen": Plan(
        5, ("warm_drive",), (5.0, 7.0), ("engine_speed", "vehicle_speed", "load", "coolant", "short_trim",
        "long_trim", "o2_voltage"), (0.006, 0.03),
        vehicle="switching",
    ),
    "contacts": Plan(
        6, ("warm_drive",), (6.0, 9.0), ("engine_speed", "vehicle_speed", "load", "map", "maf", "throttle",
        "coolant", "intake_air", "pedal"), (0.01, 0.05), edit="contact often",
    ),
    "pressures": Plan(
        4, ("warm_drive",), (4.0, 6.0), ("engine_speed", "vehicle_speed", "load", "map", "maf", "coolant",
        "rail_pressure",
        "fuel_pressure", "oil_pressure", "idle_air"), (0.02, 0.15), vehicle="direct",
    ),
}  # fmt: skip
"""Whole drives, and short logs of few values for what a drive shows once at most or too slowly."""

_TURNS = tuple(name for name, plan in PLANS.items() for _ in range(plan.turns))


def plan_of(seed: int) -> str:
    """The plan of a seed: of every round of seeds each plan has its turns, in an order that is drawn."""
    order = np.random.default_rng([seed // len(_TURNS), 43]).permutation(len(_TURNS))
    return _TURNS[int(order[seed % len(_TURNS)])]


def _vehicle(seed: int, plan: Plan) -> tuple[Engine, int]:
    """An engine and the seed of its vehicle: the next that has what the plan needs."""
    able = [
        one for one in engines()
        if (plan.vehicle != "direct" or one.breathing.air.injection == "direct")
        and (plan.vehicle != "phasers" or phased_cams(one))
    ]  # fmt: skip
    engine = able[int(np.random.default_rng([seed, 47]).integers(len(able)))]
    others = (seed + 1_000_000 * k for k in range(1000))
    return engine, next(one for one in others if plan.vehicle != "switching" or is_narrow(one))


def _setup(rng: np.random.Generator, engine: Engine, edit: str, plan: Plan) -> tuple[str, ScanSetup]:
    style = str(rng.choice(list(STYLES))) if plan.answer is None else "few"
    low, high, rows, alike, beyond = STYLES.get(style, (*(plan.answer or (0.0, 0.0)), "answers", False, True))
    if plan.answer is not None:
        rows = str(rng.choice(["answers", "rounds"]))
    minutes = float(rng.uniform(*plan.minutes))
    setup = ScanSetup(
        course=str(rng.choice(plan.courses)),
        answer_s=float(np.exp(rng.uniform(np.log(low), np.log(high)))),
        rows=rows,
        minutes=minutes,
        beyond=beyond or bool(rng.random() < 0.5),
        alike=alike,
        mishaps=_mishaps(rng, engine, 60.0 * minutes) if edit == "mishap" and not plan.only else (),
        lasting_s=float(np.exp(rng.uniform(np.log(0.2), np.log(4.0)))),
        misfires={n: _misfires(rng, edit) for n in range(1, engine.cylinders + 1)},
        row_s=float(rng.choice([0.2, 0.5, 1.0])),
        only=plan.only,
    )
    return style, setup


def _misfires(rng: np.random.Generator, edit: str) -> float:
    """A sound cylinder misses a few in ten thousand, a bad one a few in a hundred."""
    if edit == "misfire" and rng.random() < 0.4:
        return float(np.exp(rng.uniform(np.log(2.0), np.log(80.0))))
    return float(np.exp(rng.uniform(np.log(0.05), np.log(1.0))))


_FREEZES = ("map", "maf", "engine_speed", "load", "throttle")
_STEPS = {"coolant": 15.0, "intake_air": 20.0, "map": 12.0}


def _mishaps(rng: np.random.Generator, engine: Engine, seconds: float) -> tuple[Mishap, ...]:
    """One kind in a log: a standstill of a minute, a step that stays, two values that stay away together."""
    kind, at = str(rng.choice(["frozen", "step", "missing"])), float(rng.uniform(0.2, 0.8) * seconds)
    if kind == "frozen":
        return (Mishap("frozen", (str(rng.choice(_FREEZES)),), at, 60.0),)
    if kind == "step":
        name = str(rng.choice(list(_STEPS)))
        return (Mishap("step", (name,), at, 1e5, _STEPS[name]),)
    moments = np.sort(rng.uniform(0.1, 0.9, 3)) * seconds
    return tuple(Mishap("missing", ("map", "throttle"), float(one), float(rng.uniform(8.0, 20.0))) for one in moments)
