"""How a time grows with a size: a power, what each more adds, and a picture on two logarithmic axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

__all__ = ["Growth", "Line", "drawn"]

_WIDE, _HIGH, _EDGE = 640, 360, 56
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
    """All lines in one picture, SVG.

    Parameters
    ----------
    growths : sequence of Growth
    """
    sizes = np.log10([size for growth in growths for size in growth.line.sizes])
    times = np.log10([ms for growth in growths for ms in growth.line.ms])
    low, high = (sizes.min(), times.min()), (sizes.max(), times.max())

    def at(size: float, ms: float) -> str:
        x = _EDGE + (_WIDE - 2 * _EDGE) * (np.log10(size) - low[0]) / max(high[0] - low[0], 1e-9)
        y = _HIGH - _EDGE - (_HIGH - 2 * _EDGE) * (np.log10(ms) - low[1]) / max(high[1] - low[1], 1e-9)
        return f"{x:.1f},{y:.1f}"

    face = 'font-family="sans-serif" font-size="12"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {_HIGH}" {face}>',
        f'<rect width="{_WIDE}" height="{_HIGH}" fill="#fff"/>',
    ]
    for ink, growth in zip(_INKS, growths, strict=False):
        spots = [at(size, ms) for size, ms in zip(growth.line.sizes, growth.line.ms, strict=True)]
        parts.append(f'<polyline points="{" ".join(spots)}" fill="none" stroke="{ink}" stroke-width="2"/>')
        for spot, size, ms in zip(spots, growth.line.sizes, growth.line.ms, strict=True):
            x, y = spot.split(",")
            parts.append(f'<circle cx="{x}" cy="{y}" r="3" fill="{ink}"/>')
            parts.append(
                f'<text x="{x}" y="{float(y) - 7:.1f}" text-anchor="middle" fill="{ink}">{size:,}: {ms:.0f}</text>'
            )
    for k, (ink, growth) in enumerate(zip(_INKS, growths, strict=False)):
        words = f"{growth.words}, power {growth.power:.2f}"
        parts.append(f'<text x="{_EDGE}" y="{18 + 15 * k}" fill="{ink}">{words}</text>')
    parts.append(f'<text x="{_WIDE - _EDGE}" y="{_HIGH - 14}" text-anchor="end">size: ms, both axes logarithmic</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"
