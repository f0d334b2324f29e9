"""How fast a front oxygen sensor answers, where a log is quick enough to tell: by the fuel cut of an overrun."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan

__all__ = ["Response", "response_of"]

_SLOWEST_S = 0.2  # between samples; beyond it a sound sensor's 0.1 to 0.3 s is lost
_AWAY_V = 0.3
_WITHIN_S = 3.0
_BEGINS_SD = 0.15  # how well a log tells when the fuel is cut; our guess
_SHARE = 0.63


@dataclass(frozen=True, slots=True)
class Response:
    """How fast a sensor answers.

    Parameters
    ----------
    seconds, sd : float [s]
        From the cut to 63 % of the way.
    spans : tuple of StateSpan
        The overruns it was read from.
    """

    seconds: float
    sd: float
    spans: tuple[StateSpan, ...]


def response_of(sensor: Series, states: Sequence[StateSpan]) -> Response | str:
    """Time to 63 % of the way to lean after each fuel cut.

    Parameters
    ----------
    sensor : Series
        Volts of a narrow-band sensor.
    states : sequence of StateSpan

    Returns
    -------
    Response or str
        Else why it cannot be told.
    """
    if not sensor.period_s <= _SLOWEST_S:
        return f"a sample every {sensor.period_s:.2g} s is too seldom for an answer of a few tenths of a second"
    found = [
        (span, seconds) for span in states if span.state == "overrun" and (seconds := _of(sensor, span)) is not None
    ]
    if len(found) < 2:
        return "fewer than two fuel cuts that began with the sensor rich"
    every = np.array([each for _, each in found])
    own = np.hypot(sensor.period_s / 12.0**0.5, _BEGINS_SD)
    sd = max(float(np.std(every, ddof=1)), float(own)) / np.sqrt(len(found))
    return Response(float(np.mean(every)), float(sd), tuple(span for span, _ in found))


def _of(sensor: Series, span: StateSpan) -> float | None:
    """None where the sensor was not rich before, or not lean after."""
    before = sensor.inside(span.from_s - 0.3, span.from_s + 0.05)
    after = sensor.inside(span.from_s, min(span.to_s, span.from_s + _WITHIN_S))
    if not len(before) or len(after) < 4:
        return None
    start, end = float(np.median(before.values)), float(after.values[-2:].mean())
    if start - end < _AWAY_V:
        return None
    level = start - _SHARE * (start - end)
    k = int(np.argmax(after.values <= level))
    if after.values[k] > level:
        return None
    if k == 0:
        return 0.0
    low, high = after.values[k], after.values[k - 1]
    part = (high - level) / max(high - low, 1e-9)
    return float(after.times_s[k - 1] + part * (after.times_s[k] - after.times_s[k - 1]) - span.from_s)
