"""A recording drawn as a scope shows it: strips one above the other over one time axis, each with its own scale."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from witnessmark.report.drive.outline import dot
from witnessmark.report.words import listed, number

__all__ = ["Band", "Span", "Strip", "WaveformFigure", "axis_ticks", "tick_places", "waveform_figure"]

FloatArray = NDArray[np.float64]

_LEFT, _RIGHT = 78.0, 728.0
_GAP, _NAME = 12.0, 30.0
_COLUMNS = 900
_LANE = 17.0


@dataclass(frozen=True, slots=True)
class Band:
    """What is expected over a stretch of time: from one value to another, in the strip's unit."""

    from_s: float
    to_s: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Span:
    """A named stretch of time, for the lanes above the strips."""

    from_s: float
    to_s: float
    name: str


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """One channel.

    Parameters
    ----------
    name, unit : str
    times_s : array, shape (n,) [s]
    values : array, shape (n,)
        In ``unit``.
    kind : str
        Which ink: "cr", "in", "ex" or "si".
    height : float
        Of the strip, in the drawing's own units.
    dotted : bool
        Values that stand alone, as a log has them: a dot each beside the line.
    span : (float, float), optional
        Of the scale, for strips that are to be compared; else each has the scale that fits it.
    bands : tuple of Band
        What is expected, as open boxes behind the line.
    joined_s : float [s]
        Samples further apart than this are not joined by a line.
    """

    name: str
    unit: str
    times_s: FloatArray
    values: FloatArray
    kind: str = "cr"
    height: float = 110.0
    dotted: bool = False
    span: tuple[float, float] | None = None
    bands: tuple[Band, ...] = ()
    joined_s: float = math.inf


@dataclass(frozen=True, slots=True)
class WaveformFigure:
    """A drawing and its words."""

    svg: str
    caption: str


def waveform_figure(
    strips: Sequence[Strip],
    *,
    caption: str,
    from_s: float | None = None,
    to_s: float | None = None,
    spans: Sequence[Span] = (),
) -> WaveformFigure | None:
    """The drawing of a recording, or of a stretch of it; None where nothing was recorded.

    Parameters
    ----------
    strips : sequence of Strip
    caption : str
    from_s, to_s : float, optional [s]
        The stretch; all of it where left out.
    spans : sequence of Span
        Above the strips, a lane for each name.

    Returns
    -------
    WaveformFigure or None
    """
    full = [strip for strip in strips if strip.times_s.size > 1]
    if not full:
        return None
    low = min(float(s.times_s[0]) for s in full) if from_s is None else from_s
    high = max(float(s.times_s[-1]) for s in full) if to_s is None else to_s
    parts, y = [], 4.0
    if spans:
        lanes, tall = _lanes(spans, low, high, y)
        parts.append(lanes)
        y += tall
    for strip in full:
        parts.append(_strip(strip, low, high, y))
        y += _NAME + strip.height + _GAP
    parts.append(_time_axis(low, high, y))
    label = escape(f"{listed([s.name for s in full])} over {number(high - low, 3)} s.")
    svg = f'<svg viewBox="0 0 736 {dot(y + 50.0)}" role="img" aria-label="{label}">{"".join(parts)}</svg>'
    return WaveformFigure(svg, caption)


def _strip(strip: Strip, low: float, high: float, y: float) -> str:
    inside = (strip.times_s >= low) & (strip.times_s <= high)
    times, values = strip.times_s[inside], strip.values[inside]
    top, bottom = y + _NAME, y + _NAME + strip.height
    title = f'<text x="8" y="{dot(y + 15)}">{escape(_titled(strip))}</text>'
    if times.size == 0:
        return f'{title}<text class="q" x="{dot(_LEFT)}" y="{dot(top + 20)}">nothing in this stretch</text>'
    bands = [band for band in strip.bands if band.to_s > low and band.from_s < high]
    least, most = strip.span or (
        min(float(values.min()), *(band.low for band in bands), math.inf),
        max(float(values.max()), *(band.high for band in bands), -math.inf),
    )
    ticks = axis_ticks(least, most, 4 if strip.height > 80.0 else 3)
    floor, ceiling = min(ticks[0], least), max(ticks[-1], most)
    span = max(ceiling - floor, 1e-12)

    def at(value: float) -> float:
        return bottom - (value - floor) / span * strip.height

    step = ticks[1] - ticks[0]
    rules = "".join(f"M{dot(_LEFT)} {dot(at(v))}H{dot(_RIGHT)}" for v in ticks)
    places = tick_places(step)
    labels = "".join(
        f'<text class="q end" x="{dot(_LEFT - 8)}" y="{dot(at(v) + 5)}">{number(v, places)}</text>' for v in ticks
    )
    x = _LEFT + (_RIGHT - _LEFT) * (times - low) / max(high - low, 1e-12)
    line = _path(x, bottom - (values - floor) / span * strip.height, np.flatnonzero(np.diff(times) > strip.joined_s))
    dots = ""
    if strip.dotted and times.size <= 250:
        dots = "".join(
            f'<circle class="fil {strip.kind}" cx="{dot(float(a))}" cy="{dot(at(float(v)))}" r="1.6"/>'
            for a, v in zip(x, values, strict=True)
        )
    boxes = "".join(_box(band, low, high, at) for band in bands)
    return f'{title}<path class="grid" d="{rules}"/>{labels}{boxes}<path class="wave {strip.kind}" d="{line}"/>{dots}'


def _box(band: Band, low: float, high: float, at: Callable[[float], float]) -> str:
    a, b = (_time_x(t, low, high) for t in (band.from_s, band.to_s))
    return (
        f'<rect class="band" x="{dot(a)}" y="{dot(at(band.high))}" width="{dot(max(b - a, 1.0))}" '
        f'height="{dot(max(at(band.low) - at(band.high), 1.0))}"/>'
    )


def _lanes(spans: Sequence[Span], low: float, high: float, y: float) -> tuple[str, float]:
    """A lane for each name, with a bar wherever it holds; and how high they are together."""
    names = list(dict.fromkeys(span.name for span in spans))
    parts = []
    for lane, name in enumerate(names):
        middle = y + _LANE * (lane + 0.5)
        bars = []
        for span in spans:
            if span.name != name or span.to_s < low or span.from_s > high:
                continue
            a, b = (_time_x(t, low, high) for t in (span.from_s, span.to_s))
            bars.append(f"M{dot(a)} {dot(middle)}H{dot(max(b, a + 1.0))}")
        parts.append(f'<text class="lane" x="{dot(_LEFT - 6)}" y="{dot(middle + 4.5)}">{escape(name)}</text>')
        parts.append(f'<path class="grid" d="M{dot(_LEFT)} {dot(middle)}H{dot(_RIGHT)}"/>')
        parts.append(f'<path class="lanebar" d="{"".join(bars)}"/>' if bars else "")
    return "".join(parts), _LANE * len(names) + 6.0


def _time_x(time_s: float, low: float, high: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * (min(max(time_s, low), high) - low) / max(high - low, 1e-12)


def _titled(strip: Strip) -> str:
    name = strip.name[:1].upper() + strip.name[1:]
    return f"{name}, {strip.unit}" if strip.unit else name


def _path(x: FloatArray, y: FloatArray, breaks: NDArray[np.int64]) -> str:
    """A line through all samples, broken behind those named; see :func:`_run` for many."""
    pieces = np.split(np.arange(x.size), breaks + 1)
    return "".join(_run(x[piece], y[piece]) for piece in pieces if piece.size)


def _run(x: FloatArray, y: FloatArray) -> str:
    """A line through samples; where they are closer than the eye sees, from least to greatest of each column."""
    if x.size > 2 * _COLUMNS:
        column = np.minimum((_COLUMNS * (x - x[0]) / max(x[-1] - x[0], 1e-12)).astype(np.int64), _COLUMNS - 1)
        first = np.flatnonzero(np.diff(column, prepend=-1))
        pairs = np.empty(2 * first.size)
        # What comes first in time is drawn first, so that neighbouring columns join as the signal ran.
        lowest, highest = np.minimum.reduceat(y, first), np.maximum.reduceat(y, first)
        rising = y[first] <= 0.5 * (lowest + highest)
        pairs[0::2], pairs[1::2] = np.where(rising, lowest, highest), np.where(rising, highest, lowest)
        x, y = np.repeat(x[first], 2), pairs
    points = [f"{a:.1f} {b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True)]
    return "M" + "L".join(points)


def axis_ticks(low: float, high: float, most: int) -> list[float]:
    """Round numbers over a range.

    Parameters
    ----------
    low, high : float
        The range.
    most : int
        About how many steps.

    Returns
    -------
    list of float
        Two at least.
    """
    if high - low < 1e-9 * max(abs(high), 1.0):
        low, high = low - 0.5, high + 0.5
    raw = (high - low) / most
    size = 10.0 ** math.floor(math.log10(raw))
    # A little too fine is better than two lines only.
    step = next(size * k for k in (1.0, 2.0, 5.0, 10.0) if size * k >= 0.8 * raw)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    # A margin of less than half a step is not worth a whole one.
    if low / step - first > 0.5:
        first += 1
    if last - high / step > 0.5:
        last -= 1
    if last <= first:
        first, last = math.floor(low / step), math.ceil(high / step)
    return [round(k * step, 12) for k in range(first, last + 1)]


def tick_places(step: float) -> int:
    """Decimal places that numbers this far apart need.

    Parameters
    ----------
    step : float

    Returns
    -------
    int
    """
    return max(0, -math.floor(math.log10(step) + 1e-9))


def _time_axis(low: float, high: float, y: float) -> str:
    span = high - low
    per, unit = (1.0, "s") if span > 0.6 else (1e3, "ms")
    if span > 300.0:
        per, unit = 1.0 / 60.0, "min"
    near = 1e-3 * span * per  # the last sample of a second stands just before its end
    ticks = [v for v in axis_ticks(low * per, high * per, 8) if low * per - near <= v <= high * per + near]
    places = tick_places(ticks[1] - ticks[0]) if len(ticks) > 1 else 2
    marks = f"M{dot(_LEFT)} {dot(y)}H{dot(_RIGHT)}"
    labels = []
    for value in ticks:
        x = min(max(_LEFT + (_RIGHT - _LEFT) * (value / per - low) / span, _LEFT), _RIGHT)
        marks += f"M{dot(x)} {dot(y)}v6"
        css = "end" if x > _RIGHT - 16.0 else "mid"  # the drawing ends there
        labels.append(f'<text class="{css}" x="{dot(x)}" y="{dot(y + 23)}">{number(value, places)}</text>')
    labels.append(f'<text class="q end" x="{dot(_RIGHT)}" y="{dot(y + 44)}">time, {unit}</text>')
    return f'<path class="ax" d="{marks}"/>{"".join(labels)}'
