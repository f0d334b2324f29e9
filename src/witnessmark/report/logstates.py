"""A log by operating state: for each parameter how its values lay in each state, beside what a sound engine shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.series import Series
from witnessmark.report.drive.outline import dot
from witnessmark.report.logcurves import Expected, curves_of, named, signal_shown
from witnessmark.report.naming import state_words
from witnessmark.report.waveform import WaveformFigure, axis_ticks, tick_places
from witnessmark.report.words import number
from witnessmark.vocabulary import STATES

__all__ = ["state_figure"]

FloatArray = NDArray[np.float64]

_LEFT, _RIGHT = 78.0, 728.0
_NAME, _HEIGHT, _GAP, _HEAD = 30.0, 84.0, 14.0, 26.0
_LEAST = 4  # samples that make a bar
_MOST_STATES = 7
_BOX = 16.0


@dataclass(frozen=True, slots=True)
class _Lay:
    """How a parameter's values lay in one state: 5, 25, 50, 75 and 95 of 100 below."""

    low: float
    quarter: float
    middle: float
    three: float
    high: float


def state_figure(measured: LogMeasurement, expected: Sequence[Expected] = ()) -> WaveformFigure | None:
    """The drawing; None where no state holds enough samples.

    Parameters
    ----------
    measured : LogMeasurement
    expected : sequence of Expected

    Returns
    -------
    WaveformFigure or None
    """
    curves = curves_of(measured, expected)
    lays = {text: _lays(series, measured) for text, series in curves.items()}
    states = [s for s in STATES if any(s in lay for lay in lays.values())]
    # Where there are too many, those stay that something is expected of, then the longest.
    lasting = {s: sum(span.seconds for span in measured.states if span.state == s) for s in states}
    wanted = {one.state for one in expected}
    kept = sorted(states, key=lambda s: (s not in wanted, -lasting[s]))[:_MOST_STATES]
    states = [s for s in states if s in kept]
    if not states:
        return None
    parts, y = [_heads(states)], _HEAD
    for text, series in curves.items():
        if not any(s in lays[text] for s in states):
            continue
        parts.append(_row(text, series, lays[text], states, expected, y))
        y += _NAME + _HEIGHT + _GAP
    svg = f'<svg viewBox="0 0 736 {dot(y)}" role="img" aria-label="Values by operating state.">{"".join(parts)}</svg>'
    told = "How the values lay in each state: thin, 90 of 100 samples; thick, half of them; the tick, their middle."
    if expected:
        told += " Open boxes beside them: what 90 of 100 sound engines would show on average."
    return WaveformFigure(svg, told)


def _lays(series: Series, measured: LogMeasurement) -> dict[str, _Lay]:
    pooled: dict[str, list[FloatArray]] = {}
    for span in measured.states:
        pooled.setdefault(span.state, []).append(series.inside(span.from_s, span.to_s).values)
    found = {}
    for state, pieces in pooled.items():
        values = np.concatenate(pieces)
        if values.size >= _LEAST:
            found[state] = _Lay(*(float(v) for v in np.quantile(values, (0.05, 0.25, 0.5, 0.75, 0.95))))
    return found


def _x(at: int, of: int) -> float:
    return _LEFT + (_RIGHT - _LEFT) * (at + 0.5) / of


def _heads(states: Sequence[str]) -> str:
    return "".join(
        f'<text class="mid q" x="{dot(_x(i, len(states)))}" y="16">{escape(state_words(s))}</text>'
        for i, s in enumerate(states)
    )


def _row(
    text: str, series: Series, lays: dict[str, _Lay], states: Sequence[str], expected: Sequence[Expected], y: float
) -> str:
    bands = {one.state: one.band for one in expected if signal_shown(one.quantity, one.place) == text}
    shown = [s for s in states if s in lays]
    ends = [v for s in shown for v in (lays[s].low, lays[s].high)] + [v for s in shown for v in bands.get(s, ())]
    ticks = axis_ticks(min(ends), max(ends), 4)
    floor, ceiling = min(ticks[0], *ends), max(ticks[-1], *ends)
    top, bottom = y + _NAME, y + _NAME + _HEIGHT

    def at(value: float) -> float:
        return bottom - (value - floor) / max(ceiling - floor, 1e-12) * (bottom - top)

    places = tick_places(ticks[1] - ticks[0])
    rules = "".join(f"M{dot(_LEFT)} {dot(at(v))}H{dot(_RIGHT)}" for v in ticks)
    labels = "".join(
        f'<text class="q end" x="{dot(_LEFT - 8)}" y="{dot(at(v) + 5)}">{number(v, places)}</text>' for v in ticks
    )
    marks = []
    for i, state in enumerate(states):
        if state not in lays:
            continue
        x, lay = _x(i, len(states)), lays[state]
        if state in bands:
            low, high = bands[state]
            marks.append(
                f'<rect class="band" x="{dot(x - _BOX - 6)}" y="{dot(at(high))}" width="{dot(_BOX)}" '
                f'height="{dot(max(at(low) - at(high), 1.0))}"/>'
            )
        marks.append(f'<path class="whisk" d="M{dot(x + 4)} {dot(at(lay.low))}V{dot(at(lay.high))}"/>')
        marks.append(f'<path class="whisk w2" d="M{dot(x + 4)} {dot(at(lay.quarter))}V{dot(at(lay.three))}"/>')
        marks.append(f'<path class="tr cr" d="M{dot(x - 4)} {dot(at(lay.middle))}h16"/>')
    title = f'<text x="8" y="{dot(y + 18)}">{escape(named(text, series))}</text>'
    return f'{title}<path class="grid" d="{rules}"/>{labels}{"".join(marks)}'
