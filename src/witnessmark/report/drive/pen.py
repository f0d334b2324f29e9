"""The sheet that a picture is drawn on: layers of SVG from back to front, and the board that knows what is where."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape

from witnessmark.report.drive.labels import Board, Box, size_of
from witnessmark.report.drive.outline import dot

__all__ = ["Lines", "Pen", "css_name", "placed", "written"]

Lines = Sequence[tuple[str, str]]  # text and class of each line


def css_name(shaft: str) -> str:
    """A shaft's id as a class name."""
    return re.sub(r"[^a-z0-9]+", "-", shaft.lower())


@dataclass(slots=True)
class Pen:
    """What is drawn so far."""

    board: Board
    back: list[str] = field(default_factory=list)
    front: list[str] = field(default_factory=list)
    text: list[str] = field(default_factory=list)

    def write(self, lines: Lines, candidates: Iterable[tuple[float, float]]) -> Box:
        """Put lines of words at the best of some places."""
        svg, box = placed(self.board, lines, candidates)
        self.text.append(svg)
        return box

    def svg(self) -> str:
        """Everything, back to front."""
        return "".join((*self.back, *self.front, *self.text))


def placed(board: Board, lines: Lines, candidates: Iterable[tuple[float, float]]) -> tuple[str, Box]:
    """Lines of words as SVG at the best of some places on a board, and the box they take."""
    box = board.place(size_of([text for text, _ in lines]), candidates)
    return written(lines, box), box


def written(lines: Lines, box: Box) -> str:
    """Lines of words as SVG, centred in a box."""
    x, height = dot(box.middle[0]), (box.y1 - box.y0) / len(lines)
    rows = []
    for i, (text, css) in enumerate(lines):
        y = dot(box.y0 + height * (i + 0.76))
        rows.append(f'<text class="{f"mid {css}".strip()}" x="{x}" y="{y}">{escape(text)}</text>')
    return "".join(rows)
