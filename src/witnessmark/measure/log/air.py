"""What a log says of the engine's air, by operating state: pressure, flow, loads, speed, what idle control asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.measure.log.conditions import chosen
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.series import Log
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import condition_of
from witnessmark.measure.log.tellings import mean_finding

__all__ = ["air"]

_RUNNING = ("idle", "warm_up", "raised", "cruise", "full_load", "overrun")
_HELD = ("raised", "cruise")
# Parameter, quantity, states in which its mean says something, and what no averaging takes off it.
_READINGS = (
    ("map", "map_reported", ("key_on", *_RUNNING), 0.0),
    ("maf", "airflow_reported", ("key_on", *_RUNNING), 0.0),
    ("load", "load_reported", _RUNNING, 0.0),
    ("absolute_load", "absolute_load", _RUNNING, 0.0),
    ("engine_speed", "engine_speed", ("idle", "warm_up"), 0.0),  # elsewhere the driver sets it
    ("idle_air", "idle_air_demand", ("idle", "warm_up"), 0.0),
)


def air(log: Log, states: tuple[StateSpan, ...], engine: Engine | None = None) -> LogPart:
    """Manifold pressure, air flow, loads, idle speed and idle air by state; ambient pressure once.

    Parameters
    ----------
    log : Log
    states : tuple of StateSpan
    engine : Engine, optional
        Not needed.

    Returns
    -------
    LogPart
        Of a warm engine, but for ``warm_up`` and ``key_on``: cold driving is left out.
    """
    return LogPart((*_readings(log, states), *_ambient(log)))


def _readings(log: Log, states: tuple[StateSpan, ...]) -> Iterator[Finding]:
    for id, quantity, where, floor in _READINGS:
        series = log.get(id)
        if series is None:
            continue
        for state in where:
            # A driven engine's mean between two throttle positions belongs to neither.
            among = [s for s in states if s.steady] if state in _HELD else states
            spans = chosen(among, state, warm=None if state in ("key_on", "warm_up") else True)
            finding = mean_finding(log, series, spans, quantity, floor=floor) if spans else None
            if finding is not None:
                yield finding


def _ambient(log: Log) -> Iterator[Finding]:
    """The barometer over the whole log: on a drive over hills it is a mean, and its spread says so."""
    series = log.get("barometer")
    if series is None or len(series) < 3:
        return
    whole = (StateSpan("key_on", *log.span_s, steady=True),)
    said = replace(condition_of(log, whole, state=None, coolant=False), speed_rpm=None)
    found = mean_finding(log, series, whole, "ambient_pressure", condition=said)
    if found is not None:
        yield found
