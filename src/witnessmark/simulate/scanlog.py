"""A log of values over the diagnostic port: one asked for after the other, some often, some seldom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError, one_of
from witnessmark.recording.types import ExplicitTime, Recording, Trace
from witnessmark.simulate.bench import Bench, BenchCapture
from witnessmark.simulate.camlog import FINER
from witnessmark.simulate.course import STEP_S, driven
from witnessmark.simulate.draws import stream
from witnessmark.simulate.ideal import ideal_values
from witnessmark.simulate.logged import PACES, Logged, logged_values
from witnessmark.simulate.mishaps import Mishap, contacts_lost, mishandled
from witnessmark.simulate.parts import edit_of
from witnessmark.simulate.wander import behind
from witnessmark.source import Step, digest_bytes
from witnessmark.vocabulary import Condition

__all__ = ["ScanSetup", "scan_log"]

FloatArray = NDArray[np.float64]

_SENSOR = {
    "map": "map",
    "maf": "maf",
    "coolant": "ect",
    "intake_air": "iat",
    "throttle": "throttle_sensor",
    "rail": "rail",
}
_NOISE = {"map": 0.35, "maf": 0.03, "rpm": 3.0, "throttle": 0.08, "volts": 0.02, "timing": 0.5, "load": 0.3,
          "coolant": 0.15, "intake_air": 0.15, "cam_actual": 0.3, "o2_voltage": 0.004, "lambda_1": 0.001,
          "lambda_2": 0.001}  # fmt: skip
_DRIFT = {"coolant": 0.3, "intake_air": 0.3, "outside_air": 0.3, "oil_temperature": 0.3, "rail": 1.0,
          "fuel_pressure": 1.0, "oil_pressure": 1.0, "volts": 0.003}  # fmt: skip
_WHILE_IT_RUNS = ("rpm", "maf", "timing", "load", "cam_actual")
_FILTERED_S = {"map": (0.02, 0.25), "maf": (0.02, 0.25), "load": (0.05, 0.6), "absolute_load": (0.05, 0.6),
               "volts": (0.02, 0.4), "rpm": (0.02, 0.2), "coolant": (0.5, 4.0), "intake_air": (0.5, 4.0)}  # fmt: skip
_STAMP_S = 0.001
_ROWS = ("answers", "rounds", "held")
_UNANSWERED = 0.003


@dataclass(frozen=True, slots=True)
class ScanSetup:
    """How values are logged.

    Parameters
    ----------
    course : str
        One of :data:`witnessmark.simulate.itinerary.COURSES` or :data:`witnessmark.simulate.itinerary.DRIVES`.
    answer_s : float, optional [s]
        From one answer to the next; drawn where left out: a bus answers within 15 ms, older lines within 150.
    rows : str
        "answers": a row for each answer, at its own time. "rounds": a row for each round of questions, all under the
        time of its first. "held": rows at a fixed spacing, each with the last answer of every value, fresh or not.
    minutes : float [min]
        Of a drive that the seed makes, at least.
    beyond : bool
        Whether oxygen sensors' voltages, cams, oil, pedal and misfires are logged too.
    alike : bool
        Whether every value is asked for in every round.
    mishaps : tuple of Mishap
        That happen to the values, beside the losses of contact that the state holds.
    lasting_s : float [s]
        Mean length of a loss of contact.
    misfires : mapping of int to float [1/1000]
        Of a cylinder's firings.
    row_s : float [s]
        Spacing of held rows.
    only : tuple of str
        Parameters asked for; all that there are where left out. Few come often.
    """

    course: str = "trims_at_speeds"
    answer_s: float | None = None
    rows: str = "rounds"
    minutes: float = 12.0
    beyond: bool = False
    alike: bool = False
    mishaps: tuple[Mishap, ...] = ()
    lasting_s: float = 1.0
    misfires: Mapping[int, float] = field(default_factory=dict)
    row_s: float = 0.5
    only: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.rows not in _ROWS:
            raise one_of("rows", self.rows, _ROWS)
        if self.answer_s is not None and not 0.005 <= self.answer_s <= 2.0:
            raise InputError(f"{self.answer_s:g} s from answer to answer", expected="0.005 to 2 s")
        if not 0.05 <= self.row_s <= 10.0:
            raise InputError(f"{self.row_s:g} s from row to row", expected="0.05 to 10 s")


def scan_log(bench: Bench, setup: ScanSetup, seed: int) -> BenchCapture:
    """Drive a vehicle and log it.

    Parameters
    ----------
    bench : Bench
    setup : ScanSetup
    seed : int

    Raises
    ------
    InputError
        For a course that is not there, or where nothing of ``setup.only`` is answered.

    Returns
    -------
    BenchCapture
        Truth: what the log would hold without noise, lag, rounding and asking, by the keys of
        :mod:`witnessmark.simulate.logged` and by the signals' text, with its "times" [s]; mishaps are not in it.

    Notes
    -----
    Where the engine settles is :func:`witnessmark.physics.operating.operating_point`'s, so every edit of the state that
    acts on air, fuel and sensors acts here.
    """
    course = driven(bench, setup.course, seed, minutes=setup.minutes)
    rng = stream(seed, "scan", setup.course)
    every = logged_values(bench, course.path.n_banks, beyond=setup.beyond)
    columns = tuple(one for one in every if not setup.only or one.signal.split()[0] in setup.only)
    if not columns:
        raise InputError(f"only {', '.join(setup.only)} asked for", expected="something that this vehicle answers")
    ideal = ideal_values(bench, course, seed, beyond=setup.beyond, misfires=setup.misfires)
    shown = _reported(ideal, bench, columns, rng)
    until = float(course.times_s[-1])
    lost = contacts_lost(bench, columns, until, setup.lasting_s, stream(seed, "contacts"))
    shown, silent = mishandled(shown, columns, (*setup.mishaps, *lost))
    answer = setup.answer_s if setup.answer_s is not None else float(np.exp(rng.uniform(np.log(0.03), np.log(0.15))))
    asked, stamps = _asked(columns, until, answer, rng, setup, silent)
    traces = tuple(
        _trace(column, at, asked[column.key], stamps[column.key], shown[column.key], ideal)
        for at, column in enumerate(columns)
    )
    content = b"".join(np.ascontiguousarray(t.raw).tobytes() + np.asarray(t.times_s).tobytes() for t in traces)
    recording = Recording(
        traces=traces,
        digest=digest_bytes(content),
        name=f"{setup.course}.csv",
        format="simulated",
        history=(Step("simulate", f"seed {seed}, vehicle {bench.seed}"),),
        condition=Condition(),
    )
    truth = ideal | {column.signal: ideal[column.key] for column in columns} | {"times": course.times_s}
    return BenchCapture(recording, None, None, truth, _effects(setup, lost), seed)


def _effects(setup: ScanSetup, lost: Sequence[Mishap]) -> tuple[str, ...]:
    found = ["poll", "coarse", "sensor_spread", "driver", "alive", "filtered"]
    found += ["held"] if setup.rows == "held" else []
    return (*found, *(["mishaps"] if setup.mishaps or lost else []))


def _reported(
    ideal: Mapping[str, FloatArray], bench: Bench, columns: Sequence[Logged], rng: np.random.Generator
) -> dict[str, FloatArray]:
    """What the computer would answer at every step, before its rounding: sensors lag and scatter, it filters."""
    alive = ideal["rpm"] > 400.0
    shown = {}
    for column in columns:
        key, kind = column.key, column.key.split()[0]
        values = np.array(ideal[key])
        if kind in _NOISE:
            gain = edit_of(bench.state, "sensor_noise", _SENSOR[key]) if key in _SENSOR else 1.0
            busy = np.where(alive, 1.0, 0.0 if kind in _WHILE_IT_RUNS else 0.3)
            values = values + rng.normal(0.0, _NOISE[kind], values.size) * gain * busy
        if kind in _DRIFT:  # a sensor is never twice quite the same
            values = values + rng.normal(0.0, _DRIFT[kind])
        lag = max(edit_of(bench.state, "sensor_lag", _SENSOR[key]), 0.0) if key in _SENSOR else 0.0
        lag += float(stream(bench.seed, "filter", key).uniform(*_FILTERED_S[key])) if key in _FILTERED_S else 0.0
        shown[key] = behind(values, STEP_S, lag) if lag > 0.5 * STEP_S else values
    if "maf" in shown:
        shown["maf"] = np.maximum(shown["maf"], 0.0)
    if "load" in shown:
        shown["load"] = np.clip(shown["load"], 0.0, 100.0)
    return shown


Times = dict[str, FloatArray]


def _asked(
    columns: Sequence[Logged], until_s: float, answer_s: float, rng: np.random.Generator, setup: ScanSetup,
    silent: Mapping[str, NDArray[np.bool_]],
) -> tuple[Times, Times]:  # fmt: skip
    """When each value was answered, and under which time it stands in the log.

    A round asks for all quick values, every third round for the middle ones, every other for one of the slow in turn.
    """
    groups = [[c.key for c in columns if setup.alike or c.pace == pace] for pace in PACES]
    fast, middle, slow = (groups[0], [], []) if setup.alike else groups
    answered: dict[str, list[float]] = {column.key: [] for column in columns}
    stamped: dict[str, list[float]] = {column.key: [] for column in columns}
    now, turn = float(rng.uniform(0.0, answer_s)), 0
    while now < until_s:
        begin = now
        questions = [*fast, *(middle if turn % 3 == 0 else ())]
        questions += slow[turn // 2 % len(slow) :][:1] if turn % 2 and slow else []
        scatter = np.exp(rng.normal(0.0, 0.15, len(questions))).tolist()
        for key, more, lost in zip(questions, scatter, rng.random(len(questions)).tolist(), strict=True):
            now += answer_s * more
            if lost < _UNANSWERED or (key in silent and silent[key][min(int(now / STEP_S), silent[key].size - 1)]):
                now += 3.0 * answer_s if lost < _UNANSWERED else 0.0  # no answer in time: the cell stays empty
                continue
            answered[key].append(now)
            stamped[key].append(now if setup.rows == "answers" else begin)
        turn += 1
    if setup.rows == "held":
        return _held(answered, until_s, setup.row_s)
    return _arrays(answered), {
        key: np.round(np.asarray(times) / _STAMP_S) * _STAMP_S for key, times in _arrays(stamped).items()
    }


def _arrays(times: Mapping[str, list[float]]) -> Times:
    return {key: np.asarray(found, dtype=np.float64) for key, found in times.items()}


def _held(answered: Mapping[str, list[float]], until_s: float, row_s: float) -> tuple[Times, Times]:
    """Rows at a fixed spacing: each repeats the last answer until there is another."""
    rows = np.round(np.arange(row_s, until_s, row_s) / _STAMP_S) * _STAMP_S
    asked, stamps = {}, {}
    for key, times in _arrays(answered).items():
        last = np.searchsorted(times, rows, side="right") - 1
        asked[key], stamps[key] = times[last[last >= 0]], rows[last >= 0]
    return asked, stamps


def _trace(
    column: Logged, place: int, answered_s: FloatArray, stamps_s: FloatArray, shown: FloatArray,
    ideal: Mapping[str, FloatArray],
) -> Trace:  # fmt: skip
    # What is answered was last computed a moment before.
    held = np.clip(np.floor(answered_s / STEP_S).astype(np.int64), 0, shown.size - 1)
    known = shown[held]
    if column.key.startswith("cam_actual"):  # is computed every turn
        between = ideal[column.key.replace("cam_actual", "cam_between")]
        known = np.interp(answered_s / STEP_S, np.arange(shown.size), shown)
        known += np.interp(answered_s / STEP_S, np.arange(between.size) / FINER, between)
    fresh = np.append(True, np.diff(stamps_s) > 0.0) if stamps_s.size else np.ones(0, dtype=bool)
    return Trace(
        name=column.name,
        channel=place,
        raw=column.counts(known[fresh]).astype(np.int32),
        time=ExplicitTime(stamps_s[fresh]),
        unit=column.unit or None,
        role=column.signal,
        scale=column.factor,
        offset=column.offset,
        stamp_s=_STAMP_S,
    )
