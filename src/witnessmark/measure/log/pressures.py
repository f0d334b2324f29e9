"""Pressures of fuel and oil in each operating state, and what holding the rail takes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.measure.log.average import average
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.plain import averages
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import TURNING, grouped
from witnessmark.measure.log.words import WORDS
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Place

__all__ = ["pressures"]

_STANDING = ("key_on", "cranking")
_RAIL = Place.of(rail="rail")
# Parameter -> quantity, place, states, and what a mean cannot take away, in its unit: sensors' own short-term drift,
# our guess.
_PLAIN: tuple[tuple[str, str, Place, tuple[str, ...], float], ...] = (
    ("rail_pressure", "rail_reported", _RAIL, (*_STANDING, *TURNING), 1.0),
    ("rail_effort", "rail_effort", _RAIL, TURNING, 0.2),
    ("fuel_pressure", "fuel_pressure", _RAIL, (*_STANDING, *TURNING), 1.0),
    ("oil_pressure", "oil_pressure", Place(), TURNING, 1.0),
)
_OFF_SHARE, _OFF_SIGMA = 0.1, 3.0  # rail off its target: by a tenth, and beyond its error; common practice, no source


def pressures(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """Rail, fuel and oil pressure as logged, state by state.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Not needed: what a pressure should be is predicted, not measured.

    Returns
    -------
    LogPart
        Findings ``rail_reported``, ``rail_effort``, ``fuel_pressure``, ``oil_pressure``; a note where the rail is off
        its target.
    """
    findings: list[Finding] = []
    for parameter, quantity, place, among, floor in _PLAIN:
        series = log.get(parameter)
        if series is not None:
            findings += averages(log, series, states, among, quantity, place, floor=floor)
    rail, target = log.get("rail_pressure"), log.get("rail_target")
    notes = tuple(_off_target(rail, target, states)) if rail is not None and target is not None else ()
    return LogPart(tuple(findings), notes=notes)


def _off_target(rail: Series, target: Series, states: Sequence[StateSpan]) -> Iterator[str]:
    """The two are read one after the other: the target is drawn straight between its own samples."""
    apart = 4.0 * max(target.period_s, rail.period_s) if len(target) > 1 and len(rail) > 1 else 0.0
    for group in grouped(states, TURNING):
        off = [_less(rail.inside(s.from_s, s.to_s), target, apart) for s in group.steady.spans]
        found = average([one for one in off if len(one)])
        if found is None:
            continue
        wanted = np.concatenate([target.inside(s.from_s, s.to_s).values for s in group.steady.spans])
        usual = float(np.mean(wanted)) if wanted.size else 0.0
        if abs(found.value) > max(_OFF_SHARE * usual, _OFF_SIGMA * found.sd):
            side = "below" if found.value < 0.0 else "above"
            yield (
                f"Rail pressure stands {abs(found.value):.0f} ± {found.sd:.0f} kPa {side} its target of {usual:.0f} "
                f"kPa {WORDS[group.state]}."
            )


def _less(one: Series, other: Series, apart_s: float) -> Series:
    off = one.values - other.between(one.times_s, apart_s=apart_s)
    whole = np.isfinite(off)
    return Series(Signal(one.signal.id), one.times_s[whole], off[whole], max(one.step, other.step), one.stamp_s)
