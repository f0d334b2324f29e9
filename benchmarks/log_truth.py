"""What a finding of a simulated log should have been: the ideal value over the finding's own stretches.

Ideal is what the log would hold without noise, lag, rounding and asking, on the same imperfect vehicle. The stretches
are those that the measuring found: whether it found the right ones is another question.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.log_cases import LogCase
from witnessmark.engine.supply_usual import supply_of
from witnessmark.finding import Finding
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.phasing import parked_or_moved
from witnessmark.measure.log.spans import StateSpan
from witnessmark.predict.wires import behind
from witnessmark.simulate.course import STEP_S

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Truth = Callable[[Finding, LogCase, LogMeasurement], float | None]

_SENSORS = {"ect": "coolant", "iat": "intake_air", "ambient": "outside_air", "outside": "outside_air",
            "outside_air": "outside_air", "oil": "oil_temperature", "oil_temperature": "oil_temperature"}  # fmt: skip


def truth_of(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    """The true value; None where the simulation has none of the kind, or not in such a stretch."""
    rule = TRUTHS.get(finding.quantity)
    value = rule(finding, case, measured) if rule is not None else None
    return value if value is not None and np.isfinite(value) else None


# ---------------------------------------------------------------- stretches


def stretches(finding: Finding, measured: LogMeasurement, *, steady: bool | None = None) -> list[StateSpan]:
    """The stretches that a finding was taken over, cut to its own begin and end.

    A finding tells its state, its first and its last moment. Of the sets of stretches it may have been taken over
    (steady ones or all, of a warm engine, a cold one or either) the one whose ends fit best is meant.
    """
    begin, end = float(finding.source.from_s or 0.0), float(finding.source.to_s or 0.0)
    # A thermostat that opens early: what rests too cold is called warming up by its warmth, but told as idle.
    rests = "no longer rising" in finding.assumptions
    every = [replace(s, state="idle") if rests and s.state == "warm_up" else s for s in measured.states]
    mine = [s for s in every if finding.condition.state in (None, s.state)]
    inside = [s for s in mine if s.to_s >= begin - 1e-6 and s.from_s <= end + 1e-6]
    best: tuple[float, list[StateSpan]] = (float("inf"), [])
    for still in (True, False) if steady is None else (steady,):
        for warm in (True, False, None, "any"):
            found = [s for s in inside if (s.steady or not still) and (warm == "any" or s.warm is warm)]
            if found:
                off = abs(found[0].from_s - begin) + abs(found[-1].to_s - end)
                off += 0.0 if ("not steady" in finding.method) != still else 0.01
                best = min(best, (off, found), key=lambda one: one[0])
    return [
        StateSpan(s.state, max(s.from_s, begin), min(s.to_s, end), s.steady, s.warm)
        for s in best[1]
        if min(s.to_s, end) >= max(s.from_s, begin)
    ]


def _within(case: LogCase, spans: Iterable[StateSpan]) -> BoolArray:
    times = case.capture.truth["times"]
    found = np.zeros(times.size, dtype=bool)
    for span in spans:
        found |= (times >= span.from_s - 0.5 * STEP_S) & (times <= span.to_s + 0.5 * STEP_S)
    return found


def _mean(values: FloatArray, where: BoolArray) -> float | None:
    return float(values[where].mean()) if where.any() else None


# ---------------------------------------------------------------- means


def _with_steps(case: LogCase, key: str) -> FloatArray | None:
    """The ideal value, with the step that a mishap put into the sensor: it is what is reported from then on."""
    values = case.capture.truth.get(key)
    for one in case.mishaps:
        if values is not None and one.kind == "step" and key in one.signals:
            values = values + one.amount * (case.capture.truth["times"] >= one.at_s)
    return values


def _of(key: str, *, steady: bool | None = None) -> Truth:
    def rule(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
        values = _with_steps(case, key)
        return None if values is None else _mean(values, _within(case, stretches(finding, measured, steady=steady)))

    return rule


def _keyed(key: Callable[[Finding], str], *, steady: bool | None = None) -> Truth:
    return lambda finding, case, measured: _of(key(finding), steady=steady)(finding, case, measured)


def _trim(finding: Finding) -> str:
    return f"trim_{finding.place.get('bank') or 1}"


def _trim_where_it_works(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    """Of the closed loop only: an engine that is too cold for it has no trim."""
    where = _within(case, stretches(finding, measured)) & (case.capture.truth["closed"] > 0.5)
    return _mean(case.capture.truth[_trim(finding)], where)


def _lambda(finding: Finding) -> str:
    which, bank = str(finding.place.get("sensor")).removeprefix("o2_").split("_")
    return f"lambda_{bank}" if which == "front" else ""


def _temperature(finding: Finding) -> str:
    return _SENSORS.get(str(finding.place.get("sensor")), "")


def _charging(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    where = _within(case, stretches(finding, measured, steady=False))
    return _mean(case.capture.truth["volts"] + case.capture.truth["lost_volts"], where)


def _whole_log(key: str) -> Truth:
    return lambda finding, case, measured: float(np.mean(case.capture.truth[key]))


# ---------------------------------------------------------------- starts


def _start(case: LogCase, values: FloatArray) -> float | None:
    """The middle of the start, without the first and last fifth of it."""
    speed, run = case.capture.truth["rpm"], case.capture.truth["run_time"]
    turning = np.flatnonzero((speed > 60.0) & (run <= 0.0))
    if turning.size < 5:
        return None
    cut = max(turning.size // 5, 2)
    return float(np.median(values[turning[cut:-cut]]))


def _cranking_speed(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    return _start(case, case.capture.truth["rpm"])


def _cranking_volts(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    return _start(case, case.capture.truth["volts"] + case.capture.truth["lost_volts"])


# ---------------------------------------------------------------- cams


def _where(finding: Finding) -> str:
    return f"bank={finding.place.get('bank') or 1} cam={finding.place.get('cam')}"


def _cam_moments(finding: Finding, case: LogCase, measured: LogMeasurement) -> BoolArray:
    where = _within(case, stretches(finding, measured, steady=False))
    target = measured.log.get("cam_target", bank=int(finding.place.get("bank") or 1), cam=str(finding.place.get("cam")))
    if target is None:
        return where
    kinds = parked_or_moved(target, case.capture.truth["times"], 0.0)
    return np.asarray(where & (kinds == (finding.condition.phaser or "")))


def _cam_actual(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    values = case.capture.truth.get(f"cam_actual {_where(finding)}")
    return None if values is None else _mean(values, _cam_moments(finding, case, measured))


def _cam_deviation(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    values = case.capture.truth.get(f"cam_actual {_where(finding)}")
    if values is None:
        return None
    off = values - case.capture.truth[f"cam_target {_where(finding)}"]
    return _mean(off, _cam_moments(finding, case, measured))


def _slew(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    """The phaser's pace wherever its target leaves a place by eight degrees or more."""
    target, rate = (case.capture.truth.get(f"cam_{name} {_where(finding)}") for name in ("target", "rate"))
    if target is None or rate is None:
        return None
    times = case.capture.truth["times"]
    steps = np.flatnonzero(np.abs(np.diff(target)) >= 8.0) + 1
    inside = steps[
        (times[steps] >= (finding.source.from_s or 0.0) - 1.0) & (times[steps] <= (finding.source.to_s or 0.0))
    ]
    return float(np.mean(rate[inside])) if inside.size else None


# ---------------------------------------------------------------- oxygen, misfires, warmth


def _swing_of(values: FloatArray) -> float:
    low, high = np.percentile(values, (5.0, 95.0))
    return float(high - low)


def _volts(finding: Finding) -> str:
    which, bank = str(finding.place.get("sensor")).removeprefix("o2_").split("_")
    return f"o2_voltage bank={bank} sensor={1 if which == 'front' else 2}"


def _o2_swing(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    where = _within(case, stretches(finding, measured, steady=False))
    values = case.capture.truth.get(_volts(finding))
    return _swing_of(values[where]) if values is not None and where.any() else None


def _crossings(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    """Both ways, each past 0.35 and 0.55 V, in a minute; from one stretch to the next nothing is crossed."""
    values = case.capture.truth.get(_volts(finding))
    where = [_within(case, [span]) for span in stretches(finding, measured, steady=False)]
    steps = sum(int(one.sum()) for one in where)
    if values is None or not steps:
        return None
    count = 0
    for one in where:
        inside = values[one]
        rich = inside[(inside < 0.35) | (inside > 0.55)] > 0.55
        count += int(np.count_nonzero(rich[1:] != rich[:-1]))
    return count / (steps * STEP_S / 60.0)


def _rear(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    where = _within(case, stretches(finding, measured, steady=False))
    bank = finding.place.get("bank") or 1
    front, rear = (case.capture.truth.get(f"o2_voltage bank={bank} sensor={s}") for s in (1, 2))
    if front is None or rear is None or not where.any():
        return None
    return _swing_of(rear[where]) / max(_swing_of(front[where]), 1e-6)


def _misfires(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    return case.setup.misfires.get(int(finding.place.get("cylinder") or 0))


def _warm_up(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    """Minutes from the start until the coolant sensor should show 80 °C."""
    times, coolant, run = (case.capture.truth[name] for name in ("times", "coolant", "run_time"))
    begin = np.flatnonzero(run > 0.0)
    warm = np.flatnonzero(coolant >= 80.0)
    if not begin.size or begin[0] == 0:
        return None
    return float(times[warm[0]] - times[begin[0]]) / 60.0 if warm.size else None


# ---------------------------------------------------------------- losses of contact


def lost_per_minute(case: LogCase, *nodes: str) -> float:
    """True losses in a minute that all of these sensors suffer."""
    graph = supply_of(case.engine)
    shared = set.intersection(*(set(behind(graph, node)) for node in nodes))
    return sum(rate for where, rate in case.lost_at.items() if where in shared)


def _dropouts(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    return lost_per_minute(case, str(finding.place.get("node")))


def _dropouts_together(finding: Finding, case: LogCase, measured: LogMeasurement) -> float | None:
    return lost_per_minute(case, str(finding.place.get("node")), str(finding.place.get("other_node")))


def expected_of(finding: Finding, true: float) -> float:
    """How many a true rate lets expect in the time or the firings that were watched."""
    if finding.quantity == "misfire_count":
        firings = re.search(r"in (\d+) firings", finding.method)
        return true * float(firings[1]) / 1000.0 if firings else 0.0
    return true * (float(finding.source.to_s or 0.0) - float(finding.source.from_s or 0.0)) / 60.0


TRUTHS: dict[str, Truth] = {
    "fuel_trim": _trim_where_it_works,
    "map_reported": _of("map"),
    "airflow_reported": _of("maf"),
    "load_reported": _of("load"),
    "absolute_load": _of("absolute_load"),
    "engine_speed": _of("rpm"),
    "idle_air_demand": _of("idle_air"),
    "ambient_pressure": _whole_log("barometer"),
    "lambda_reported": _keyed(_lambda, steady=True),
    "temperature_reported": _keyed(_temperature, steady=False),
    "rail_reported": _of("rail", steady=True),
    "fuel_pressure": _of("fuel_pressure", steady=True),
    "oil_pressure": _of("oil_pressure", steady=True),
    "knock_retard": _keyed(lambda f: f"knock_retard cylinder={f.place.get('cylinder')}", steady=False),
    "supply_reported": _of("volts", steady=False),
    "charging_volts": _charging,
    "cranking_speed": _cranking_speed,
    "cranking_volts": _cranking_volts,
    "cam_phase_reported": _cam_actual,
    "cam_deviation": _cam_deviation,
    "phaser_slew": _slew,
    "o2_swing": _o2_swing,
    "o2_crossings": _crossings,
    "rear_activity": _rear,
    "misfire_count": _misfires,
    "warm_up_time": _warm_up,
    "signal_dropouts": _dropouts,
    "dropouts_together": _dropouts_together,
}
"""By quantity. What a log yields and has no rule here is named in the report."""
