"""Air meter against manifold pressure: two ways to the same flow, held against each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.average import average
from witnessmark.measure.log.conditions import chosen, pieces_of
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import condition_of, source_of
from witnessmark.measure.log.tellings import ends, method_of
from witnessmark.measure.log.words import WORDS
from witnessmark.physics.filling import absolute_load
from witnessmark.physics.idleband import displacement_told
from witnessmark.physics.pressureflow import pressure_flow
from witnessmark.physics.usual import Usual
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Place

__all__ = ["displacement_in", "meter_against_pressure"]

FloatArray = NDArray[np.float64]

_NEEDS = ("maf", "map", "engine_speed", "intake_air")
_STATES = ("idle", "raised", "cruise", "full_load")
_USUAL_KPA = 101.325
_DRIVEN = ("cruise", "acceleration", "full_load", "raised")


@dataclass(frozen=True, slots=True)
class _Told:
    """Displacement by which the flow read and the other values agree, over stretches of one state [L]."""

    spans: tuple[StateSpan, ...]
    litres: float
    sd: float
    method: str


@dataclass(frozen=True, slots=True)
class _Both:
    """Flow read and flow that the other values tell for a litre, at the meter's own times."""

    times_s: FloatArray
    flow: FloatArray
    per_litre: FloatArray
    used: tuple[Series, ...]

    def ratio(self, spans: Sequence[StateSpan]) -> _Told | None:
        """Litres that the two come to together.

        The ratio of the means; its spread is that of what is left of the flow at that ratio. A ratio of samples would
        be read too high, for the values beside each other were read at different moments.
        """
        inside = np.zeros(self.times_s.size, dtype=bool)
        for span in spans:
            inside |= (self.times_s >= span.from_s) & (self.times_s <= span.to_s)
        inside &= np.isfinite(self.per_litre)
        if inside.sum() < 3 or not self.per_litre[inside].mean() > 0.0:
            return None
        litres = float(self.flow[inside].mean() / self.per_litre[inside].mean())
        times = self.times_s[np.isfinite(self.per_litre)]
        off = (self.flow - litres * self.per_litre)[np.isfinite(self.per_litre)]
        left = average(pieces_of(Series(Signal("maf"), times, off), spans))
        if left is None:
            return None
        sd = left.sd / float(self.per_litre[inside].mean())
        return _Told(tuple(spans), litres, sd, method_of(left, spans, what="ratio of means"))


def meter_against_pressure(log: Log, states: tuple[StateSpan, ...], engine: Engine | None = None) -> LogPart:
    """The air meter's reading over the flow that manifold pressure, speed and temperature give, by state.

    Parameters
    ----------
    log : Log
    states : tuple of StateSpan
    engine : Engine, optional
        For its displacement.

    Returns
    -------
    LogPart
        ``meter_over_density`` where the displacement is described; else the displacement that both tell together, in a
        note, and by how much the states differ in it. Volumetric efficiency at full load in a note.

    Notes
    -----
    Only steady stretches are compared: flow and pressure are read at different moments, and while the driver opens and
    shuts the throttle the one belongs to a flow that the other has left behind.
    """
    both = _both(log)
    if both is None:
        return LogPart()
    litres = engine.breathing.cylinder.displacement_l.mean if engine is not None else None
    still = tuple(span for span in states if span.steady)
    found = {state: both.ratio(spans) for state in _STATES if (spans := chosen(still, state, warm=True))}
    told = {state: one for state, one in found.items() if one is not None}
    notes = [*_by_state(told), *_full_load(log, states, litres)]
    if litres is None:
        usual = displacement_in(log, states)
        if usual is not None:
            notes.insert(0, _displacement(usual))
        return LogPart((), (_undescribed(),) if told else (), (), tuple(notes))
    findings = tuple(_finding(log, both, one, litres) for one in told.values())
    return LogPart(findings, (), (), tuple(notes))


def displacement_in(log: Log, states: Sequence[StateSpan]) -> Usual | None:
    """Displacement that air flow and manifold pressure tell together, of a warm engine while driving [m3].

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan

    Returns
    -------
    Usual or None [m3]
        None where the log has no air meter beside manifold pressure, or too little driving with the throttle open.
    """
    if any(log.get(id) is None for id in _NEEDS):
        return None
    flow, (pressure, speed, air), ambient = _values(log)
    times = log.get("maf").times_s  # type: ignore[union-attr]
    use = np.zeros(times.size, dtype=bool)
    for span in states:
        if span.state in _DRIVEN and span.warm is not False:
            use |= (times >= span.from_s) & (times <= span.to_s)
    use &= (pressure > 0.5 * ambient) & (speed > 1000.0) & (speed < 3000.0)
    use &= np.isfinite(flow + pressure + speed + air) & (flow > 0.0)
    if use.sum() < 10:
        return None
    return displacement_told(
        1e-3 * flow[use], 1e3 * pressure[use], 273.15 + air[use], speed[use],
        ambient_pressure=1e3 * float(np.median(ambient)),
    )  # fmt: skip


def _values(log: Log) -> tuple[FloatArray, tuple[FloatArray, FloatArray, FloatArray], FloatArray]:
    """Flow [g/s] and, at its times, pressure [kPa], speed [rpm], intake air [C]; ambient [kPa]."""
    flow = log.get("maf")
    assert flow is not None

    def at(id: str) -> FloatArray:
        series = log.get(id)
        assert series is not None
        apart = 6.0 * max(series.period_s if len(series) > 1 else 0.0, flow.period_s if len(flow) > 1 else 0.0)
        return series.between(flow.times_s, apart_s=max(apart, 30.0 if id == "intake_air" else 0.0))

    barometer = log.get("barometer")
    around = _USUAL_KPA if barometer is None else float(np.median(barometer.values))
    return flow.values, (at("map"), at("engine_speed"), at("intake_air")), np.full(len(flow), around)


def _both(log: Log) -> _Both | None:
    if any(log.get(id) is None for id in _NEEDS):
        return None
    flow, (pressure, speed, air), ambient = _values(log)
    good = (pressure > 5.0) & (speed > 100.0) & np.isfinite(air)
    per_litre = np.full(flow.size, np.nan)
    per_litre[good] = 1e3 * np.asarray(
        pressure_flow(
            1e3 * pressure[good], 273.15 + air[good], speed[good], displacement=1e-3,
            ambient_pressure=1e3 * ambient[good],
        )
    )  # fmt: skip
    used = tuple(series for id in _NEEDS if (series := log.get(id)) is not None)
    return _Both(used[0].times_s, flow, per_litre, used)


def _finding(log: Log, both: _Both, told: _Told, litres: float) -> Finding:
    assumptions = [f"displacement {litres:g} L, as described"]
    if log.get("barometer") is None:
        assumptions.append(f"ambient pressure {_USUAL_KPA:g} kPa: it is not in the log")
    return Finding(
        "meter_over_density",
        Place(),
        100.0 * told.litres / litres,
        100.0 * told.sd / litres,
        condition_of(log, told.spans, state=told.spans[0].state),
        source_of(log, both.used, *ends(told.spans)),
        told.method,
        tuple(assumptions),
    )


def _displacement(usual: Usual) -> str:
    low, high = (1e3 * (usual.value + z * usual.sd) for z in (-1.645, 1.645))
    return (
        f"while driving, air meter and manifold pressure together are those of a sound engine of "
        f"{1e3 * usual.value:.2f} L ({low:.2f} to {high:.2f}): hold that against the displacement on the badge"
    )


def _by_state(told: Mapping[str, _Told]) -> Iterator[str]:
    """Whether meter and pressure keep their ratio as the flow grows: idle against what has more of it."""
    base = next((state for state in ("cruise", "raised", "full_load") if state in told), None)
    if base is None or len(told) < 2:
        return
    whole = told[base].litres
    parts = [
        f"{100.0 * one.litres / whole:.0f} ± {100.0 * one.sd / whole:.0f} % {WORDS[state]}"
        for state, one in told.items()
        if state != base
    ]
    yield (
        f"air flow read over the flow that manifold pressure, speed and temperature give, "
        f"its ratio {WORDS[base]} taken as 100 %: {', '.join(parts)}"
    )


def _full_load(log: Log, states: Sequence[StateSpan], litres: float | None) -> Iterator[str]:
    """Filling at full load, where a restriction shows, from the meter's flow."""
    spans, flow, speed = chosen(states, "full_load", warm=True), log.get("maf"), log.get("engine_speed")
    if litres is None or not spans or flow is None or speed is None:
        return
    grams, turns = average(pieces_of(flow, spans)), average(pieces_of(speed, spans))
    if grams is None or turns is None:
        return
    share = absolute_load(1e-3 * grams.value, displacement=1e-3 * litres, speed_rpm=turns.value)
    yield (
        f"at full load, {turns.value:.0f} rpm, the air meter reads {grams.value:.1f} g/s: "
        f"{share:.0f} % of the air that {litres:g} litres hold at 25 °C and 101.3 kPa (absolute load)"
    )


def _undescribed() -> NotMeasured:
    reason = "air meter and manifold pressure are logged, but the engine's displacement is not described"
    return NotMeasured("meter_over_density", Place(), reason, "the displacement, as on the badge")
