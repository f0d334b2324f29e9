"""Finding a free place for words in a picture.

Everything drawn is kept as small boxes; a label takes the first of its candidate places that
covers no word and the fewest lines.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

__all__ = ["LINE_HEIGHT", "Board", "Box", "around", "size_of", "text_width"]

LINE_HEIGHT = 19.0
_CELL = 4.0
_TURNS = (0, 24, -24, 48, -48, 75, -75, 105, -105, 140, -140, 180)
# Distances and directions to try, least far and least turned away first.
_RING = sorted(
    itertools.product((6.0, 14.0, 24.0, 38.0, 58.0, 84.0, 115.0), _TURNS), key=lambda p: p[0] + 0.4 * abs(p[1])
)
_NARROW, _MIDDLE, _WIDE = set("iljtf.,;:'|!()[] I·’‘"), set("r-°/"), set("mwMWOQGD%")


def text_width(text: str, size: float = 15.0) -> float:
    """How wide a line of the page's sans will be at most, in pixels.

    Notes
    -----
    Widths of the usual grotesques in ems, on the wide side: narrow letters 0.30, r - ° / 0.42,
    m w and round capitals 0.86, other capitals 0.70, the rest 0.57.
    """
    total = 0.0
    for c in text:
        if c in _NARROW or c == "\N{NO-BREAK SPACE}":
            total += 0.30
        elif c in _MIDDLE:
            total += 0.42
        elif c in _WIDE:
            total += 0.86
        else:
            total += 0.70 if c.isupper() else 0.57
    return total * size


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, y downward."""

    x0: float
    y0: float
    x1: float
    y1: float

    def grown(self, by: float) -> Box:
        """The same with a margin."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def covers(self, other: Box) -> bool:
        """Whether the two share any area."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    @property
    def middle(self) -> tuple[float, float]:
        """Its centre."""
        return 0.5 * (self.x0 + self.x1), 0.5 * (self.y0 + self.y1)


class Board:
    """What is drawn so far, and where words may go.

    Lines are kept on a grid of cells, so that asking what a box would cover costs next to nothing.

    Parameters
    ----------
    width, height : float
    """

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.words: list[Box] = []
        columns, rows = int(width / _CELL) + 2, int(height / _CELL) + 2
        self._rows = [bytearray(columns) for _ in range(rows)]

    def copy(self) -> Board:
        """A board that starts as this one stands."""
        other = Board(self.width, self.height)
        other.words, other._rows = list(self.words), [bytearray(row) for row in self._rows]
        return other

    def draw(self, points: Iterable[tuple[float, float]], half: float = 4.0) -> None:
        """Keep points of a line, with half its width."""
        for x, y in points:
            begin, end = self._cells(x - half, x + half, len(self._rows[0]))
            first, last = self._cells(y - half, y + half, len(self._rows))
            for row in self._rows[first:last]:
                row[begin:end] = b"\1" * (end - begin)

    @staticmethod
    def _cells(low: float, high: float, count: int) -> tuple[int, int]:
        begin = min(max(0, int(low / _CELL)), count)
        return begin, min(max(begin, int(high / _CELL) + 1), count)

    def segment(self, x0: float, y0: float, x1: float, y1: float, half: float = 4.0) -> None:
        """Keep a straight line."""
        n = max(2, int(math.hypot(x1 - x0, y1 - y0) / (2.0 * half)) + 2)
        self.draw(((x0 + (x1 - x0) * k / (n - 1), y0 + (y1 - y0) * k / (n - 1)) for k in range(n)), half)

    def circle(self, x: float, y: float, r: float, half: float = 4.0) -> None:
        """Keep a rim."""
        n = max(8, int(math.pi * r / half) + 1)
        turns = [2.0 * math.pi * k / n for k in range(n)]
        self.draw([(x + r * math.cos(a), y + r * math.sin(a)) for a in turns], half)

    def place(self, size: tuple[float, float], candidates: Iterable[tuple[float, float]]) -> Box:
        """The best place for a box of this size among candidate centres, in order of preference; it is then taken.

        Parameters
        ----------
        size : tuple of float
            Width and height.
        candidates : iterable of tuple of float
            Centres.

        Returns
        -------
        Box
            Inside the picture always; over no words if any candidate allows it.
        """
        best: tuple[float, Box] | None = None
        for rank, (x, y) in enumerate(candidates):
            box = self._inside(Box(x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2))
            cost = self.cost(box) + 0.01 * rank + 0.02 * math.hypot(box.middle[0] - x, box.middle[1] - y)
            if best is None or cost < best[0]:
                best = (cost, box)
            if cost < 0.9:  # nothing covered: an earlier candidate is a better one
                break
        assert best is not None
        self.words.append(best[1])
        return best[1]

    def is_free(self, box: Box) -> bool:
        """Whether a box lies in the picture and covers nothing."""
        inside = box.x0 >= 6.0 and box.y0 >= 4.0 and box.x1 <= self.width - 6.0 and box.y1 <= self.height - 4.0
        return inside and self.cost(box) == 0.0

    def cost(self, box: Box) -> float:
        """How much a box here would cover: words count a hundred each, cells with lines one."""
        begin, end = self._cells(box.x0, box.x1, len(self._rows[0]))
        first, last = self._cells(box.y0, box.y1, len(self._rows))
        near = box.grown(3.0)
        covered = sum(sum(row[begin:end]) for row in self._rows[first:last])
        return 100.0 * sum(near.covers(word) for word in self.words) + float(covered)

    def _inside(self, box: Box) -> Box:
        dx = max(0.0, 6.0 - box.x0) - max(0.0, box.x1 - self.width + 6.0)
        dy = max(0.0, 4.0 - box.y0) - max(0.0, box.y1 - self.height + 4.0)
        return Box(box.x0 + dx, box.y0 + dy, box.x1 + dx, box.y1 + dy)


def size_of(lines: Sequence[str], size: float = 15.0) -> tuple[float, float]:
    """Width and height of lines of words."""
    return max(text_width(line, size) for line in lines), LINE_HEIGHT * len(lines) * size / 15.0


def around(
    x: float, y: float, r: float, size: tuple[float, float], first_deg: float = 90.0
) -> Iterator[tuple[float, float]]:
    """Places round a circle, nearest first, beginning in one direction (90 is downward in the picture)."""
    for extra, turn in _RING:
        a = math.radians(first_deg + turn)
        ux, uy = math.cos(a), math.sin(a)
        # so far out that the box just clears the circle in this direction
        reach = r + extra + abs(ux) * size[0] / 2 + abs(uy) * size[1] / 2
        yield x + ux * reach, y + uy * reach
