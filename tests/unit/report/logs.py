"""A log of a made-up drive, measured by hand: for the page's tests."""

from __future__ import annotations

import numpy as np

from witnessmark.engine.file import engine_from_toml
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.measured import Event, LogMeasurement
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.recording.parameters import Signal
from witnessmark.report.logcurves import Expected
from witnessmark.report.logpage import ColumnSeen
from witnessmark.vocabulary import Condition, Place

__all__ = ["COLUMNS", "EXPECTED", "FOUR", "SPANS", "made_up_log"]

FOUR = engine_from_toml('name = "a made-up four"\ncylinders = 4\n[cylinder]\ndisplacement_l = 1.5\n')
SPANS = (
    StateSpan("key_on", 0.0, 6.0),
    StateSpan("cranking", 6.0, 7.2),
    StateSpan("idle", 10.0, 200.0, steady=True, warm=True),
    StateSpan("acceleration", 205.0, 212.0),
    StateSpan("cruise", 215.0, 420.0, steady=True, warm=True),
    StateSpan("overrun", 425.0, 431.0),
    StateSpan("idle", 440.0, 600.0, steady=True, warm=True),
)
EXPECTED = (
    Expected("map_reported", Place(), "idle", 34.0, 2.5),
    Expected("engine_speed", Place(), "idle", 760.0, 45.0),
    Expected("fuel_trim", Place.of(bank=1), "idle", 0.0, 3.0),
    Expected("temperature_reported", Place.of(sensor="ect"), "idle", 90.0, 4.0),
)
COLUMNS = (
    ColumnSeen("drehzahl", "engine speed", "rpm"),
    ColumnSeen(
        "λ soll",
        "λ aimed at",
        "%",
        "Its values stand at 1.00 %. Is it a plain ratio?",
        ("λ aimed at, plain",),
        "lambda_target scale=0.0078125 offset=-0.0000305",
    ),
    ColumnSeen("Notiz", ""),
)


def _series(text: str, period_s: float, of_state: dict[str, float], noise: float, seed: int) -> Series:
    name, *rest = text.split()
    where = {key: int(value) for key, value in (word.split("=") for word in rest)}
    times = np.arange(0.0, 600.0, period_s)
    level = np.full(times.size, np.nan)
    for span in SPANS:
        level[(times >= span.from_s) & (times <= span.to_s)] = of_state.get(span.state, of_state["idle"])
    level = np.where(np.isfinite(level), level, of_state["idle"])
    values = level + np.random.default_rng(seed).normal(0.0, noise, times.size)
    return Series(Signal(name, **where), times, values, name=text)  # type: ignore[arg-type]


def made_up_log(*, events: bool = True) -> LogMeasurement:
    """Ten minutes with a manifold pressure that is too high at idle."""
    every = (
        _series("engine_speed", 0.5, {"key_on": 0.0, "cranking": 180.0, "idle": 762.0, "cruise": 2100.0}, 8.0, 1),
        _series("map", 0.5, {"key_on": 99.0, "idle": 46.0, "cruise": 55.0, "overrun": 24.0}, 0.8, 2),
        _series("coolant", 4.0, {"idle": 88.0}, 0.4, 3),
        _series("short_trim bank=1", 0.5, {"idle": 1.0, "cruise": 2.0}, 1.5, 4),
        _series("long_trim bank=1", 5.0, {"idle": -1.6}, 0.0, 5),
    )
    idle = Condition("idle", 762.0, 88.0)
    findings = (
        Finding("engine_speed", Place(), 762.0, 1.5, condition=idle, id="f1"),
        Finding("map_reported", Place(), 46.0, 0.3, condition=idle, id="f2"),
        Finding("fuel_trim", Place.of(bank=1), -0.6, 0.4, condition=idle, id="f3"),
        Finding("temperature_reported", Place.of(sensor="ect"), 88.0, 0.5, condition=idle, id="f4"),
        Finding("map_reported", Place(), 55.0, 0.4, condition=Condition("cruise", 2100.0, 88.0), id="f5"),
    )
    missing = (
        NotMeasured("misfire_count", Place.of(cylinder=1), "the log counts no misfires", "a log with the counters"),
    )
    happened = (Event("freeze", ("map",), 300.0, 360.0, "It stood at 55 kPa for 60 s while the throttle moved."),)
    log = Log({one.signal: one for one in every}, "made-up drive.csv", "sha256:0")
    return LogMeasurement(
        log, SPANS, findings, missing, happened if events else (), ("One row was cut short: line 812.",)
    )
