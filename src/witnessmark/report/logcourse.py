"""A log over its time: one strip a parameter, the operating states above them, what is expected behind the line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.report.logcurves import TRIM, Expected, curves_of, named, signal_shown
from witnessmark.report.naming import state_words
from witnessmark.report.waveform import Band, Span, Strip, WaveformFigure, waveform_figure

__all__ = ["course_figure"]

_GAP_PERIODS = 6.0
_HEIGHT = 84.0
_KINDS = ("cr", "cr", "in", "ex", "si")  # by bank


def course_figure(measured: LogMeasurement, expected: Sequence[Expected] = ()) -> WaveformFigure | None:
    """The drawing of a log; None where nothing in it has two samples.

    Parameters
    ----------
    measured : LogMeasurement
    expected : sequence of Expected
        What is open behind the line, over the steady stretches of the state that it is of.

    Returns
    -------
    WaveformFigure or None
    """
    curves = curves_of(measured, expected)
    strips = [_strip(text, series, measured.states, expected) for text, series in curves.items()]
    spans = [Span(s.from_s, s.to_s, state_words(s.state)) for s in measured.states]
    told = "Above, the operating states as found from the values. A line is broken where samples are missing."
    if expected:
        told += " Open boxes: where 90 of 100 sound engines would lie, over steady stretches."
    return waveform_figure(strips, caption=told, spans=spans)


def _strip(text: str, series: Series, states: Sequence[StateSpan], expected: Sequence[Expected]) -> Strip:
    bank = series.signal.bank or 1
    return Strip(
        name=named(text, series),
        unit="",
        times_s=series.times_s,
        values=series.values,
        kind=_KINDS[bank] if text.startswith(TRIM) and bank < len(_KINDS) else "cr",
        height=_HEIGHT,
        dotted=True,
        bands=tuple(_bands(text, states, expected)),
        joined_s=_GAP_PERIODS * max(series.period_s, 1e-3),
    )


def _bands(text: str, states: Sequence[StateSpan], expected: Sequence[Expected]) -> Iterator[Band]:
    for one in expected:
        if signal_shown(one.quantity, one.place) != text:
            continue
        low, high = one.band
        for span in states:
            if span.state == one.state and span.steady and span.warm is not False:
                yield Band(span.from_s, span.to_s, low, high)
