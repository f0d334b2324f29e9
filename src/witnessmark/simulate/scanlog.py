"""A log of the standard's values over the diagnostic port: one asked for after the other, some often, some seldom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError, one_of
from witnessmark.recording.types import ExplicitTime, Recording, Trace
from witnessmark.simulate.bench import Bench, BenchCapture
from witnessmark.simulate.course import STEP_S, Course, driven
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import edit_of
from witnessmark.simulate.pids import PIDS, Pid
from witnessmark.source import Step, digest_bytes
from witnessmark.vocabulary import Condition

__all__ = ["ScanSetup", "scan_log"]

FloatArray = NDArray[np.float64]

_FAST = ("rpm", "map", "maf", "short_trim_1", "short_trim_2", "load", "throttle")
_MIDDLE = ("speed", "timing", "absolute_load", "lambda_1", "lambda_2", "long_trim_1", "long_trim_2", "volts")
_SLOW = ("coolant", "intake_air", "run_time", "rail", "barometer", "outside_air")
_SENSOR = {
    "map": "map",
    "maf": "maf",
    "coolant": "ect",
    "intake_air": "iat",
    "throttle": "throttle_sensor",
    "rail": "rail",
}
_NOISE = {"map": 0.35, "maf": 0.03, "rpm": 6.0, "throttle": 0.12, "volts": 0.03, "timing": 1.2, "load": 0.3}
_STAMP_S = 0.001
_LEARN_S = 40.0  # our guess


@dataclass(frozen=True, slots=True)
class ScanSetup:
    """How values are logged.

    Parameters
    ----------
    course : str
        One of :data:`witnessmark.simulate.itinerary.COURSES`.
    answer_s : float, optional [s]
        From one answer to the next; drawn where left out: a bus answers within 15 ms, older lines within 150.
    rows : str
        "answers": a row for each answer, at its own time. "rounds": a row for each round of questions, all under the
        time of its first.
    """

    course: str = "trims_at_speeds"
    answer_s: float | None = None
    rows: str = "rounds"

    def __post_init__(self) -> None:
        if self.rows not in ("answers", "rounds"):
            raise one_of("rows", self.rows, ("answers", "rounds"))
        if self.answer_s is not None and not 0.005 <= self.answer_s <= 2.0:
            raise InputError(f"{self.answer_s:g} s from answer to answer", expected="0.005 to 2 s")


def scan_log(bench: Bench, setup: ScanSetup, seed: int) -> BenchCapture:
    """Drive a vehicle and log it.

    Parameters
    ----------
    bench : Bench
    setup : ScanSetup
    seed : int

    Returns
    -------
    BenchCapture
        Truth: the course by name, with its "times" [s].

    Notes
    -----
    Where the engine settles is :func:`witnessmark.physics.operating.operating_point`'s, so every edit of the state that
    acts on air, fuel and sensors acts here.
    """
    course = driven(bench, setup.course, seed)
    rng = stream(seed, "scan", setup.course)
    shown = _reported(course, bench, rng)
    keys = _supported(bench, course)
    answer = setup.answer_s if setup.answer_s is not None else float(np.exp(rng.uniform(np.log(0.03), np.log(0.15))))
    asked, stamps = _asked(keys, float(course.times_s[-1]), answer, rng, rounds=setup.rows == "rounds")
    traces = tuple(
        _trace(PIDS[key], column, asked[key], stamps[key], course.times_s, shown[key])
        for column, key in enumerate(keys)
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
    truth = dict(course.values) | {"times": course.times_s}
    return BenchCapture(recording, None, None, truth, ("poll", "coarse", "sensor_spread", "driver"), seed)


def _supported(bench: Bench, course: Course) -> tuple[str, ...]:
    """What this vehicle's computer answers, quick ones first."""
    air = bench.engine.breathing.air
    missing = set()
    if air.metering == "speed_density":
        missing |= {"maf"}
    elif air.metering == "air_meter" and air.boost in (None, "none"):
        missing |= {"map"} if stream(bench.seed, "supports").random() < 0.3 else set()
    if course.path.n_banks < 2:
        missing |= {"short_trim_2", "long_trim_2", "lambda_2"}
    if air.injection != "direct":
        missing |= {"rail"}
    return tuple(key for key in (*_FAST, *_MIDDLE, *_SLOW) if key not in missing)


def _reported(course: Course, bench: Bench, rng: np.random.Generator) -> Mapping[str, FloatArray]:
    """What the computer would answer at every step, before its rounding."""
    values, count = course.values, course.times_s.size
    shown = {key: np.array(values[key]) for key in PIDS if key in values}
    alive = values["rpm"] > 400.0
    idle_hunt = rng.normal(0.0, 4.0, count)
    shown["rpm"] = values["rpm"] + np.where(alive, _smoothed(idle_hunt, 6), 0.0)
    pulse = np.where(alive, 1.0, 0.0)
    for key, size in _NOISE.items():
        gain = edit_of(bench.state, "sensor_noise", _SENSOR[key]) if key in _SENSOR else 1.0
        busy = pulse if key in ("rpm", "maf", "timing", "load") else 0.3 + 0.7 * pulse
        shown[key] = shown[key] + rng.normal(0.0, size, count) * gain * busy
    for key, sensor in _SENSOR.items():
        lag = max(edit_of(bench.state, "sensor_lag", sensor), 0.0)
        if key in shown and lag > STEP_S:
            shown[key] = _lagging(shown[key], lag)
    for key, sensor in (("coolant", "ect"), ("intake_air", "iat")):
        gain, offset = (edit_of(bench.state, v, sensor) for v in ("sensor_gain", "sensor_offset"))
        shown[key] = 25.0 + gain * (shown[key] - 25.0) + offset
    for bank in range(1, course.path.n_banks + 1):
        _trims(shown, course, bank, rng)
    shown["maf"] = np.maximum(shown["maf"], 0.0)
    shown["load"] = np.clip(shown["load"], 0.0, 100.0)
    return shown


def _trims(shown: dict[str, FloatArray], course: Course, bank: int, rng: np.random.Generator) -> None:
    """A total that is steady, as a learnt share that follows slowly and a quick one that hunts about the rest."""
    total, closed = course.values[f"trim_{bank}"], course.values["closed"] > 0.5
    learnt = _learnt(0.8 * total, closed)
    period = float(rng.uniform(0.9, 2.2))
    saw = 2.0 * np.abs(2.0 * np.mod(course.times_s / period + rng.random(), 1.0) - 1.0) - 1.0
    hunting = float(rng.uniform(1.0, 2.5)) * saw + rng.normal(0.0, 0.3, total.size)
    shown[f"short_trim_{bank}"] = np.where(closed, np.clip(total - learnt + hunting, -30.0, 30.0), 0.0)
    shown[f"long_trim_{bank}"] = learnt
    mixture = course.values[f"lambda_{bank}"]
    shown[f"lambda_{bank}"] = np.clip(mixture + np.where(closed, -0.006 * hunting, 0.0), 0.0, 1.999)


def _learnt(wanted: FloatArray, closed: NDArray[np.bool_]) -> FloatArray:
    """What the computer has learnt: from the last drive at the beginning, then slowly on wherever trims work."""
    share = 1.0 - np.exp(-STEP_S / _LEARN_S)
    now = float(np.median(wanted[closed])) if closed.any() else 0.0
    found = np.empty(wanted.size)
    for k, (value, works) in enumerate(zip(wanted.tolist(), closed.tolist(), strict=True)):
        now += share * (value - now) if works else 0.0
        found[k] = now
    return found


def _smoothed(noise: FloatArray, width: int) -> FloatArray:
    window = np.hanning(2 * width + 1)
    return np.convolve(noise, window / np.sqrt((window**2).sum()), mode="same")


def _lagging(value: FloatArray, seconds: float) -> FloatArray:
    share, now = 1.0 - np.exp(-STEP_S / seconds), float(value[0])
    found = np.empty(value.size)
    for k, wanted in enumerate(value.tolist()):
        now += share * (wanted - now)
        found[k] = now
    return found


def _asked(
    keys: tuple[str, ...], until_s: float, answer_s: float, rng: np.random.Generator, *, rounds: bool
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """When each value was answered, and under which time it stands in the log.

    A round asks for all quick values, every third round for the middle ones, every other for one of the slow in turn.
    """
    fast, middle, slow = ([k for k in keys if k in group] for group in (_FAST, _MIDDLE, _SLOW))
    answered: dict[str, list[float]] = {key: [] for key in keys}
    stamped: dict[str, list[float]] = {key: [] for key in keys}
    now, turn = float(rng.uniform(0.0, answer_s)), 0
    while now < until_s:
        begin = now
        questions = [
            *fast,
            *(middle if turn % 3 == 0 else ()),
            *(slow[turn // 2 % len(slow) :][:1] if turn % 2 else ()),
        ]
        for key in questions:
            now += answer_s * float(np.exp(rng.normal(0.0, 0.15)))
            if rng.random() < 0.003:
                now += 3.0 * answer_s  # no answer in time: the cell stays empty
                continue
            answered[key].append(now)
            stamped[key].append(begin if rounds else now)
        turn += 1
    return (
        {key: np.asarray(times, dtype=np.float64) for key, times in answered.items()},
        {key: np.round(np.asarray(times, dtype=np.float64) / _STAMP_S) * _STAMP_S for key, times in stamped.items()},
    )


def _trace(
    pid: Pid, column: int, answered_s: FloatArray, stamps_s: FloatArray, times_s: FloatArray, shown: FloatArray
) -> Trace:
    # What is answered was last computed a moment before.
    held = np.clip(np.floor(answered_s / STEP_S).astype(np.int64), 0, times_s.size - 1)
    return Trace(
        name=pid.name,
        channel=column,
        raw=pid.counts(shown[held]).astype(np.int32),
        time=ExplicitTime(stamps_s),
        unit=pid.unit or None,
        role="other",
        scale=pid.factor,
        offset=pid.offset,
        stamp_s=_STAMP_S,
    )
