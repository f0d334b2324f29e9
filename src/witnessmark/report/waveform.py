"""A recording drawn as a scope shows it: strips one above the other over one time axis, each with its own scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from witnessmark.report.drive.outline import dot
from witnessmark.report.words import listed, number

__all__ = ["Strip", "WaveformFigure", "waveform_figure"]

FloatArray = NDArray[np.float64]

_LEFT, _RIGHT = 78.0, 728.0
_GAP, _NAME = 12.0, 30.0
_COLUMNS = 900


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
    """

    name: str
    unit: str
    times_s: FloatArray
    values: FloatArray
    kind: str = "cr"
    height: float = 110.0
    dotted: bool = False
    span: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class WaveformFigure:
    """A drawing and its words."""

    svg: str
    caption: str


def waveform_figure(
    strips: Sequence[Strip], *, caption: str, from_s: float | None = None, to_s: float | None = None
) -> WaveformFigure | None:
    """The drawing of a recording, or of a stretch of it; None where nothing was recorded.

    Parameters
    ----------
    strips : sequence of Strip
    caption : str
    from_s, to_s : float, optional [s]
        The stretch; all of it where left out.

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
    least, most = strip.span or (float(values.min()), float(values.max()))
    ticks = _ticks(least, most, 4 if strip.height > 80.0 else 3)
    floor, ceiling = min(ticks[0], least), max(ticks[-1], most)
    span = max(ceiling - floor, 1e-12)

    def at(value: float) -> float:
        return bottom - (value - floor) / span * strip.height

    step = ticks[1] - ticks[0]
    rules = "".join(f"M{dot(_LEFT)} {dot(at(v))}H{dot(_RIGHT)}" for v in ticks)
    places = _places(step)
    labels = "".join(
        f'<text class="q end" x="{dot(_LEFT - 8)}" y="{dot(at(v) + 5)}">{number(v, places)}</text>' for v in ticks
    )
    x = _LEFT + (_RIGHT - _LEFT) * (times - low) / max(high - low, 1e-12)
    line = _path(x, bottom - (values - floor) / span * strip.height)
    dots = ""
    if strip.dotted and times.size <= 250:
        dots = "".join(
            f'<circle class="fil {strip.kind}" cx="{dot(float(a))}" cy="{dot(at(float(v)))}" r="1.6"/>'
            for a, v in zip(x, values, strict=True)
        )
    return f'{title}<path class="grid" d="{rules}"/>{labels}<path class="wave {strip.kind}" d="{line}"/>{dots}'


def _titled(strip: Strip) -> str:
    name = strip.name[:1].upper() + strip.name[1:]
    return f"{name}, {strip.unit}" if strip.unit else name


def _path(x: FloatArray, y: FloatArray) -> str:
    """A line through all samples; where they are closer than the eye sees, from least to greatest of each column."""
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


def _ticks(low: float, high: float, most: int) -> list[float]:
    """Round numbers over a range."""
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


def _places(step: float) -> int:
    return max(0, -math.floor(math.log10(step) + 1e-9))


def _time_axis(low: float, high: float, y: float) -> str:
    span = high - low
    per, unit = (1.0, "s") if span > 0.6 else (1e3, "ms")
    if span > 300.0:
        per, unit = 1.0 / 60.0, "min"
    near = 1e-3 * span * per  # the last sample of a second stands just before its end
    ticks = [v for v in _ticks(low * per, high * per, 8) if low * per - near <= v <= high * per + near]
    places = _places(ticks[1] - ticks[0]) if len(ticks) > 1 else 2
    marks = f"M{dot(_LEFT)} {dot(y)}H{dot(_RIGHT)}"
    labels = []
    for value in ticks:
        x = min(max(_LEFT + (_RIGHT - _LEFT) * (value / per - low) / span, _LEFT), _RIGHT)
        marks += f"M{dot(x)} {dot(y)}v6"
        css = "end" if x > _RIGHT - 16.0 else "mid"  # the drawing ends there
        labels.append(f'<text class="{css}" x="{dot(x)}" y="{dot(y + 23)}">{number(value, places)}</text>')
    labels.append(f'<text class="q end" x="{dot(_RIGHT)}" y="{dot(y + 44)}">time, {unit}</text>')
    return f'<path class="ax" d="{marks}"/>{"".join(labels)}'
