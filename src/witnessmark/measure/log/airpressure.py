"""Whether a log's air pressures can be true: the manifold's, engine off and at full load, and the barometer's."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.measure.log.average import Average, average
from witnessmark.measure.log.conditions import chosen, pieces_of
from witnessmark.measure.log.habit import turning
from witnessmark.measure.log.measured import Event, LogPart
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.physics.atmosphere import standard_pressure

__all__ = ["air_pressures"]

_APART_KPA = 3.0  # manifold pressure against barometer, engine off: within 2 to 3 (common practice, HANDBOOK section 6)
_HIGHEST_M, _WEATHER_KPA = 4500.0, 4.0  # roads lie no higher; weather on top, either way (common practice, no source)


def air_pressures(log: Log, states: tuple[StateSpan, ...], engine: Engine | None = None) -> LogPart:
    """Manifold pressure against the barometer, engine off and at full load, and the barometer against the air itself.

    Parameters
    ----------
    log : Log
    states : tuple of StateSpan
    engine : Engine, optional
        One described as without a charger never passes ambient pressure.

    Returns
    -------
    LogPart
        Events of kind "implausible", and notes with the numbers.
    """
    boost = engine.breathing.air.boost if engine is not None else None
    above = _above(log)
    events, notes = [*_engine_off(log, states), *_weather(log)], [*_full_load(log, states)]
    if above is not None and boost == "none":
        events.append(replace(above, words=f"{above.words}, on an engine described as without a charger"))
    elif above is not None and boost is None:
        notes.append(f"{above.words}: this engine has a charger, or the sensor reads too much")
    return LogPart((), (), tuple(events), tuple(notes))


def _engine_off(log: Log, states: tuple[StateSpan, ...]) -> Iterator[Event]:
    pressure, barometer = log.get("map"), log.get("barometer")
    spans = chosen(states, "key_on")
    if pressure is None or not spans:
        return
    inside, around = average(pieces_of(pressure, spans)), _ambient(barometer)
    if inside is None:
        return
    low, high = _possible()
    if around is not None and abs(inside.value - around.value) > _APART_KPA + 1.645 * np.hypot(inside.sd, around.sd):
        off = inside.value - around.value
        words = (
            f"with the engine off, manifold pressure reads {inside.value:.1f} kPa, the barometer {around.value:.1f}: "
            f"{abs(off):.1f} kPa {'more' if off > 0 else 'less'}; they should agree within {_APART_KPA:.0f}"
        )
        yield Event("implausible", ("map", "barometer"), spans[0].from_s, spans[-1].to_s, words)
    elif around is None and not low <= inside.value <= high:
        words = f"with the engine off, manifold pressure reads {inside.value:.1f} kPa: {_nowhere(low, high)}"
        yield Event("implausible", ("map",), spans[0].from_s, spans[-1].to_s, words)


def _weather(log: Log) -> Iterator[Event]:
    barometer = log.get("barometer")
    found = _ambient(barometer)
    low, high = _possible()
    if barometer is not None and found is not None and not low <= found.value <= high:
        words = f"the barometer reads {found.value:.1f} kPa: {_nowhere(low, high)}"
        yield Event("implausible", ("barometer",), float(barometer.times_s[0]), float(barometer.times_s[-1]), words)


def _above(log: Log) -> Event | None:
    """A manifold above ambient pressure with the engine running, which one without a charger never has."""
    pressure, around = log.get("map"), _ambient(log.get("barometer"))
    if pressure is None or around is None:
        return None
    beyond = (pressure.values > around.value + 2.0 * _APART_KPA) & turning(log, pressure.times_s)
    if beyond.sum() < 3:
        return None
    at = pressure.times_s[beyond]
    words = (
        f"manifold pressure reads up to {pressure.values.max():.0f} kPa with {around.value:.0f} kPa outside, "
        f"in {int(beyond.sum())} of {len(pressure)} readings"
    )
    return Event("implausible", ("map", "barometer"), float(at[0]), float(at[-1]), words)


def _full_load(log: Log, states: tuple[StateSpan, ...]) -> Iterator[str]:
    pressure, around = log.get("map"), _ambient(log.get("barometer"))
    spans = chosen(states, "full_load")
    if pressure is None or around is None or not spans:
        return
    found = average(pieces_of(pressure, spans))
    if found is not None:
        share = 100.0 * found.value / around.value
        yield (
            f"at full load manifold pressure reads {found.value:.0f} ± {found.sd:.1f} kPa, {share:.0f} % of the "
            f"{around.value:.0f} kPa outside"
        )


def _ambient(barometer: Series | None) -> Average | None:
    return average([barometer]) if barometer is not None else None


def _possible() -> tuple[float, float]:
    """What the air of the inhabited earth can weigh on a barometer [kPa]."""
    return 1e-3 * float(standard_pressure(_HIGHEST_M)) - _WEATHER_KPA, 1e-3 * float(
        standard_pressure(0.0)
    ) + _WEATHER_KPA + 2.0


def _nowhere(low: float, high: float) -> str:
    return f"from the sea to {_HIGHEST_M:.0f} m the air weighs {low:.0f} to {high:.0f} kPa"
