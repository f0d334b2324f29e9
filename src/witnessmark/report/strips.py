"""Strips: what is expected as an open box, what was measured as a solid one, on one shared axis."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.report.drive.outline import dot
from witnessmark.report.words import number

__all__ = ["Axis", "axis_of"]

WIDTH = 220.0
_LEFT, _RIGHT = 8.0, 212.0
_MIDDLE_Y = 14.0


@dataclass(frozen=True, slots=True)
class Axis:
    """A shared axis of strips, in degrees: late on the left, early on the right; or in another unit.

    Parameters
    ----------
    low, high, step : float [deg]
    unit : str
        Behind the last number.
    """

    low: float
    high: float
    step: float
    unit: str = "°"

    def x(self, value: float) -> float:
        """Where a value stands, in pixels; beyond the ends it stays at the end."""
        share = (value - self.low) / (self.high - self.low)
        return _LEFT + (_RIGHT - _LEFT) * min(1.0, max(0.0, share))

    def strip(self, at: tuple[float, float] | None, expects: tuple[float, float] | None) -> str:
        """One strip as SVG: zero as a tick, expected open, measured solid, both two deviations each way."""
        zero = dot(self.x(0.0))
        parts = [f'<path class="lead" d="M{dot(_LEFT)} {dot(_MIDDLE_Y)}H{dot(_RIGHT)}M{zero} 9v10"/>']
        if expects is not None:
            value, sd = expects
            a, b = self.x(value - 2 * sd), self.x(value + 2 * sd)
            a, b = min(a, self.x(value) - 2.0), max(b, self.x(value) + 2.0)
            parts.append(f'<rect class="band" x="{dot(a)}" y="5" width="{dot(b - a)}" height="18"/>')
            parts.append(f'<path class="exp" d="M{dot(self.x(value))} 5v18"/>')
        if at is not None:
            value, sd = at
            a, b = self.x(value - 2 * sd), self.x(value + 2 * sd)
            a, b = min(a, self.x(value) - 2.0), max(b, self.x(value) + 2.0)
            parts.append(f'<rect class="fil" x="{dot(a)}" y="10" width="{dot(b - a)}" height="8"/>')
        return f'<svg viewBox="0 0 220 28" aria-hidden="true">{"".join(parts)}</svg>'

    def scale(self) -> str:
        """The axis itself as SVG, with its numbers."""
        first, last = math.ceil(self.low / self.step - 1e-9), math.floor(self.high / self.step + 1e-9)
        marks = [k * self.step for k in range(first, last + 1)]
        ticks = "".join(f"M{dot(self.x(m))} 0v5" for m in marks)
        parts = [f'<path class="ax" d="M{dot(_LEFT)} 0H{dot(_RIGHT)}{ticks}"/>']
        for i, m in enumerate(marks):
            end = self.unit if i == len(marks) - 1 else ""
            x = min(max(self.x(m), 14.0), WIDTH - 12.0)
            parts.append(f'<text class="mid q" x="{dot(x)}" y="20">{number(m)}{end}</text>')
        return f'<svg viewBox="0 0 220 24" aria-hidden="true">{"".join(parts)}</svg>'


def axis_of(values: Iterable[tuple[float, float] | None]) -> Axis | None:
    """The axis that holds all these values with two deviations each way, and zero; None where there is none.

    Parameters
    ----------
    values : iterable of (value, sd) or None [deg]

    Returns
    -------
    Axis or None
    """
    known = [pair for pair in values if pair is not None]
    if not known:
        return None
    # A spread wider than the readings are far from zero would squeeze them: it then runs off the axis.
    reach = max(max(abs(v) for v, _ in known), 1.5)
    low = min(0.0, *(v - 2 * min(sd, reach) for v, sd in known))
    high = max(0.0, *(v + 2 * min(sd, reach) for v, sd in known))
    step = next((s for s in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0) if (high - low) / s <= 4.0), 200.0)
    step = max(step, 1.0)
    return Axis(math.floor(low / step) * step, math.ceil(high / step) * step, step)
