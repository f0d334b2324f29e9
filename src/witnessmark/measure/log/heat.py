"""Temperatures against each other, warming up, and where the thermostat holds the coolant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.measured import Event, LogPart
from witnessmark.measure.log.plain import averages
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import TURNING, condition_of, source_of
from witnessmark.measure.log.warming import plateau_of, running_of, warming
from witnessmark.measure.log.words import figure
from witnessmark.vocabulary import Place

__all__ = ["SENSORS", "heat"]

SENSORS = {"coolant": "ect", "intake_air": "iat", "outside_air": "outside_air", "oil_temperature": "oil"}
"""Which sensor a logged temperature comes from."""

_NAMES = {"ect": "coolant", "iat": "intake air", "outside_air": "outside air", "oil": "oil"}

_COLD_C = 50.0  # above it no engine has stood for long; common practice, no source
_ALIKE_K, _ODD_K = 5.0, 9.0  # after a night's stand; common practice, no source: each sensor within 2 to 3 K
_DRIFT_K = 0.3


def heat(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """What a log says of temperatures.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Says the displacement, where only air flow is logged.

    Returns
    -------
    LogPart
        Findings ``temperature_reported`` at key-on and, of a warm engine, by state; ``warm_up_time`` and
        ``warming_rate``.
    """
    parts = [_soaked(log, states), _by_state(log, states), warming(log, states, engine)]
    return LogPart(
        tuple(f for part in parts for f in part.findings),
        tuple(m for part in parts for m in part.not_measured),
        tuple(e for part in parts for e in part.events),
        tuple(n for part in parts for n in part.notes),
    )


# ---------------------------------------------------------------- after a stand


def _soaked(log: Log, states: Sequence[StateSpan]) -> LogPart:
    """Every sensor before the start; what they say of one another where the engine was cold."""
    spans = [span for span in states if span.state == "key_on"]
    found: dict[str, tuple[float, float, Series]] = {}
    for parameter, sensor in SENSORS.items():
        series = log.get(parameter)
        pieces = pieces_of(series, spans[:1]) if series is not None else []
        if series is None or not pieces:
            continue
        values = pieces[0].values
        spread = float(np.std(values) / np.sqrt(len(values)))
        found[sensor] = (float(np.median(values)), float(np.hypot(max(series.step, 0.1) / 12.0**0.5, spread)), series)
    if not found:
        words = (
            "the log has no stretch with the key on before a start" if not spans else "no temperature is logged there"
        )
        return LogPart(not_measured=(NotMeasured(
            "temperature_reported", Place.of(sensor="ect"), f"after a stand: {words}",
            "a log that begins with the key on, some seconds before the start",
        ),))  # fmt: skip
    span = spans[0]
    findings = tuple(
        Finding(
            "temperature_reported", Place.of(sensor=sensor), value, float(np.hypot(sd, _DRIFT_K)),
            condition_of(log, [span], state="key_on", coolant=False), source_of(log, [series], span.from_s, span.to_s),
            "median with the key on, before the start",
        )
        for sensor, (value, sd, series) in found.items()
    )  # fmt: skip
    notes, odd = _compared({sensor: value for sensor, (value, _, _) in found.items()})
    events = tuple(
        Event("implausible", (str(found[sensor][2].signal),), span.from_s, span.to_s, text) for sensor, text in odd
    )
    return LogPart(findings, events=events, notes=notes)


def _compared(celsius: dict[str, float]) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """What the temperatures before a start say of one another: notes, and sensors that stand apart."""
    listed = ", ".join(f"{_NAMES[sensor]} {figure(value)} °C" for sensor, value in celsius.items())
    warm = max(celsius.get("ect", -273.0), celsius.get("oil", -273.0))
    if len(celsius) < 2:
        return (), ()
    if warm > _COLD_C:
        return (f"Before the start ({listed}) the engine was still warm: the sensors cannot be compared.",), ()
    values = np.array(list(celsius.values()))
    if float(np.ptp(values)) <= _ALIKE_K:
        return (f"Before the start all temperatures agree within {np.ptp(values):.0f} K ({listed}).",), ()
    odd = []
    for sensor, value in celsius.items():
        others = np.array([v for s, v in celsius.items() if s != sensor])
        if others.size >= 2 and float(np.ptp(others)) <= _ALIKE_K and abs(value - float(np.mean(others))) > _ODD_K:
            odd.append((sensor, (
                f"Before the start {_NAMES[sensor]} reads {figure(value)} °C, the others "
                f"{figure(float(np.mean(others)))} °C ({listed}): it stands apart, or the engine had not stood "
                "for long."
            )))  # fmt: skip
    if odd:
        return (), tuple(odd)
    if float(np.ptp(values)) > _ODD_K:
        return (
            f"Before the start temperatures differ by {np.ptp(values):.0f} K ({listed}): the engine had not stood "
            "for long, or one of them reads wrongly.",
        ), ()
    return (), ()


# ---------------------------------------------------------------- warm


def _by_state(log: Log, states: Sequence[StateSpan]) -> LogPart:
    """Once the coolant no longer rises, whatever it has come to; the others in every state."""
    findings: list[Finding] = []
    for parameter, sensor in SENSORS.items():
        series = log.get(parameter)
        if series is None:
            continue
        spans = states
        if sensor == "ect":
            held = plateau_of(series, running_of(log, states))
            spans = _cut(states, *held) if held is not None else []
        place = Place.of(sensor=sensor)
        findings += averages(
            log, series, spans, TURNING, "temperature_reported", place, floor=_DRIFT_K, coolant=False, steady=False,
            assumptions=("no longer rising",) if sensor == "ect" else (),
        )  # fmt: skip
    return LogPart(tuple(findings))


def _cut(states: Sequence[StateSpan], from_s: float, to_s: float) -> list[StateSpan]:
    """What rests too cold is called warming up by its warmth, but it idles: the coolant rises no more."""
    return [
        StateSpan(
            "idle" if span.state == "warm_up" else span.state,
            max(span.from_s, from_s),
            min(span.to_s, to_s),
            span.steady,
            span.warm,
        )
        for span in states
        if span.to_s > from_s and span.from_s < to_s
    ]
