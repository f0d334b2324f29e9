"""A chain or belt laid round its sprockets: tangents, wrapped arcs, and where on it a point lies.

Here y points upward and angles grow counter-clockwise; the picture turns y over at the very end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

__all__ = ["Circle", "Loop"]

_TURN = 2.0 * math.pi
_HAIR = 1e-6  # radians: a mark at the very end of a wrap is still on it


@dataclass(frozen=True, slots=True)
class Circle:
    """A pitch circle; ``side`` is -1 where the back of the chain or belt runs over it."""

    x: float
    y: float
    r: float
    side: int = 1

    def at(self, angle: float) -> tuple[float, float]:
        """The point of its rim at an angle."""
        return self.x + self.r * math.cos(angle), self.y + self.r * math.sin(angle)


@dataclass(frozen=True)
class Loop:
    """A closed path round circles, counter-clockwise; those of side -1 stand outside it and press it inward.

    Parameters
    ----------
    circles : sequence of Circle
        In counter-clockwise order; two at least.

    Notes
    -----
    docs/physics.md, path length of any loop: the span from i to j runs in direction β − asin((s_j r_j − s_i r_i)/d)
    with s the side, and the wrap at a circle is the angle between the spans that meet there.
    """

    circles: tuple[Circle, ...]

    @classmethod
    def round(cls, circles: Sequence[Circle]) -> Loop:
        """The loop round these circles."""
        return cls(tuple(circles))

    @cached_property
    def _directions(self) -> tuple[float, ...]:
        """Direction of the span that leaves each circle."""
        found = []
        for i, a in enumerate(self.circles):
            b = self.circles[(i + 1) % len(self.circles)]
            d = math.hypot(b.x - a.x, b.y - a.y)
            ratio = max(-1.0, min(1.0, (b.side * b.r - a.side * a.r) / d)) if d else 0.0
            found.append(math.atan2(b.y - a.y, b.x - a.x) - math.asin(ratio))
        return tuple(found)

    @cached_property
    def arcs(self) -> tuple[tuple[float, float], ...]:
        """For each circle the angle at which the path comes onto it, and how far it follows it: backward on side -1."""
        found = []
        for i, circle in enumerate(self.circles):
            arrives, leaves, side = self._directions[i - 1], self._directions[i], circle.side
            found.append((arrives - side * math.pi / 2.0, side * ((side * (leaves - arrives)) % _TURN)))
        return tuple(found)

    @property
    def is_sound(self) -> bool:
        """Whether the path truly goes once round all circles: every wrap between 2° and 350°, and 360° in all."""
        wraps = [sweep for _, sweep in self.arcs]
        once = abs(sum(wraps) - _TURN) < 1e-6
        return once and all(math.radians(2.0) < abs(sweep) < math.radians(350.0) for sweep in wraps)

    @cached_property
    def _starts(self) -> tuple[float, ...]:
        """Path length at which each circle's arc begins; the last entry is the whole length."""
        total, found = 0.0, []
        for i, (circle, (begin, sweep)) in enumerate(zip(self.circles, self.arcs, strict=True)):
            found.append(total)
            total += circle.r * abs(sweep)
            after = self.circles[(i + 1) % len(self.circles)]
            x0, y0 = circle.at(begin + sweep)
            x1, y1 = after.at(self.arcs[(i + 1) % len(self.circles)][0])
            total += math.hypot(x1 - x0, y1 - y0)
        return (*found, total)

    @property
    def length(self) -> float:
        """Once round."""
        return self._starts[-1]

    def wraps(self, i: int, angle: float, margin: float = 0.0) -> bool:
        """Whether the path follows circle ``i`` at an angle, with a margin on both sides."""
        _, sweep = self.arcs[i]
        beside = max(-margin, 0.0)
        along = (angle - self.arcs[i][0] + _HAIR + beside) % _TURN - _HAIR - beside
        return margin - _HAIR <= along <= sweep - margin + _HAIR

    def _along(self, i: int, angle: float) -> float:
        """How far along the wrap an angle is; one beside the wrap counts as its nearer end."""
        begin, sweep = self.arcs[i]
        along = max(0.0, (angle - begin + _HAIR) % _TURN - _HAIR)
        if along <= sweep + _HAIR:
            return along
        return sweep if along - sweep < _TURN - along else 0.0

    def middle(self, i: int) -> float:
        """The angle in the middle of the wrap at circle ``i``."""
        begin, sweep = self.arcs[i]
        return begin + 0.5 * sweep

    def station(self, i: int, angle: float) -> float:
        """Path length at an angle of circle ``i`` that the path follows."""
        return self._starts[i] + self.circles[i].r * self._along(i, angle)

    def angle_at(self, i: int, s: float) -> float | None:
        """The angle of circle ``i`` that the path has reached at a length, or None where it is not on that circle."""
        circle, (begin, sweep) = self.circles[i], self.arcs[i]
        along = ((s - self._starts[i] + _HAIR) % self.length - _HAIR) / circle.r
        return begin + along if along <= sweep + _HAIR else None

    def point(self, s: float) -> tuple[float, float, float, float]:
        """A point of the path and its outward normal: (x, y, nx, ny)."""
        s %= self.length
        i = max(k for k in range(len(self.circles)) if self._starts[k] <= s + 1e-9)
        circle, (begin, sweep) = self.circles[i], self.arcs[i]
        along = s - self._starts[i]
        if along <= circle.r * abs(sweep):
            angle = begin + circle.side * along / circle.r
            x, y = circle.at(angle)
            return x, y, circle.side * math.cos(angle), circle.side * math.sin(angle)
        x, y = circle.at(begin + sweep)
        rest, direction = along - circle.r * abs(sweep), self._directions[i]
        x, y = x + rest * math.cos(direction), y + rest * math.sin(direction)
        return x, y, math.sin(direction), -math.cos(direction)

    def span_middle(self, i: int) -> tuple[float, float, float, float]:
        """Middle of the straight piece that leaves circle ``i``, with its outward normal."""
        circle, (_, sweep) = self.circles[i], self.arcs[i]
        begin = self._starts[i] + circle.r * abs(sweep)
        return self.point(0.5 * (begin + self._starts[i + 1]))

    def span_length(self, i: int) -> float:
        """Length of the straight piece that leaves circle ``i``."""
        circle, (_, sweep) = self.circles[i], self.arcs[i]
        return self._starts[i + 1] - self._starts[i] - circle.r * abs(sweep)
