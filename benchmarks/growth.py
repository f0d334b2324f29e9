"""How a time grows with a size: a power, what each more adds, and a picture on two logarithmic axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

__all__ = ["Growth", "Line", "drawn"]

_WIDE, _HIGH, _EDGE = 640, 400, 60
_INKS = ("#1b6ca8", "#b3541e", "#3c7d3c", "#6b4c9a")


@dataclass(frozen=True, slots=True)
class Line:
    """Sizes, rising, and the time at each [ms]."""

    sizes: tuple[int, ...]
    ms: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Growth:
    """One thing that grows, in words, with its line."""

    words: str
    line: Line

    @property
    def power(self) -> float:
        """Slope of the straight line through the logarithms: 1 is in proportion."""
        return float(np.polyfit(np.log(self.line.sizes), np.log(self.line.ms), 1)[0])

    @property
    def each(self) -> float:
        """What one more adds between the last two sizes [ms]."""
        (a, b), (x, y) = self.line.sizes[-2:], self.line.ms[-2:]
        return (y - x) / (b - a)

    def row(self) -> str:
        """A row of a table in Markdown."""
        sizes, ms = self.line.sizes, self.line.ms
        ends = f"{sizes[0]:,}: {ms[0]:.1f} ms | {sizes[-1]:,}: {ms[-1]:.1f} ms"
        return f"| {self.words} | {ends} | {self.power:.2f} | {self.each:.3f} |"


def drawn(growths: Sequence[Growth]) -> str:
    """All lines in one picture with its two logarithmic axes, SVG.

    Parameters
    ----------
    growths : sequence of Growth
    """
    sizes = _reach([size for growth in growths for size in growth.line.sizes])
    times = _reach([ms for growth in growths for ms in growth.line.ms])

    def across(size: float) -> float:
        return float(_EDGE + (_WIDE - 2 * _EDGE) * (np.log10(size) - sizes[0]) / (sizes[1] - sizes[0]))

    def up(ms: float) -> float:
        return float(_HIGH - _EDGE - (_HIGH - 2 * _EDGE) * (np.log10(ms) - times[0]) / (times[1] - times[0]))

    face = 'font-family="sans-serif" font-size="12"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {_HIGH}" {face}>',
        f'<rect width="{_WIDE}" height="{_HIGH}" fill="#fff"/>',
    ]
    left, foot = _EDGE, _HIGH - _EDGE
    for size in _marks(sizes):
        x = across(size)
        parts.append(f'<path d="M{x:.1f} {_EDGE}V{foot}" stroke="#ddd"/>')
        parts.append(f'<text x="{x:.1f}" y="{foot + 18}" text-anchor="middle">{size:,.0f}</text>')
    for ms in _marks(times):
        y = up(ms)
        parts.append(f'<path d="M{left} {y:.1f}H{_WIDE - _EDGE}" stroke="#ddd"/>')
        parts.append(f'<text x="{left - 6}" y="{y + 4:.1f}" text-anchor="end">{ms:,.0f}</text>')
    for k, (ink, growth) in enumerate(zip(_INKS, growths, strict=False)):
        line = growth.line
        spots = [(across(size), up(ms)) for size, ms in zip(line.sizes, line.ms, strict=True)]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
        parts.append(f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="2"/>')
        parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{ink}"/>' for x, y in spots]
        words = f"{growth.words}, power {growth.power:.2f}"
        parts.append(f'<text x="{left}" y="{18 + 15 * k}" fill="{ink}">{words}</text>')
    parts.append(f'<text x="{_WIDE - _EDGE}" y="{_HIGH - 10}" text-anchor="end">how many, logarithmic</text>')
    parts.append(f'<text x="{_WIDE - _EDGE}" y="18" text-anchor="end">up: ms, logarithmic</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"


def _reach(values: Sequence[float]) -> tuple[float, float]:
    """Ends of an axis, as powers of ten: a little beyond what lies on it."""
    logs = np.log10(values)
    return float(logs.min()) - 0.08, float(logs.max()) + 0.08


def _marks(reach: tuple[float, float]) -> list[float]:
    """Round numbers on an axis: 1, 2 and 5 of every power of ten."""
    powers = range(int(np.floor(reach[0])), int(np.ceil(reach[1])) + 1)
    every = [step * 10.0**power for power in powers for step in (1, 2, 5)]
    return [one for one in every if reach[0] <= np.log10(one) <= reach[1]]
