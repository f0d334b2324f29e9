"""A timing drive as a tree: the crank below, what it drives above it, and what a cam drives beside that cam."""

from __future__ import annotations

from dataclasses import dataclass, field

from witnessmark.engine.drive import CRANK, Stage, TimingDrive
from witnessmark.report.drive.layout import BAND, Disc, Layout, exact_teeth, is_cam, radius
from witnessmark.report.drive.loop import Circle, Loop
from witnessmark.report.drive.marking import with_marks

__all__ = ["CLEAR", "GAP", "Spacing", "Tree", "schematic"]

GAP = 3.0  # between neighbours in a row, in pitches
CLEAR = 6.6  # between the crank and what it drives


@dataclass(slots=True)
class Spacing:
    """What may be stretched so that described pins come out right: heights of stages, gaps before sprockets."""

    rise: dict[str, float] = field(default_factory=dict)
    gap: dict[tuple[str, str], float] = field(default_factory=dict)
    arch: float = 0.25


def schematic(drive: TimingDrive, spacing: Spacing) -> Layout:
    """The drive laid out with these spacings."""
    at = {CRANK: (0.0, 0.0)}
    for shaft, x, y in Tree(drive, spacing).below(CRANK, -1).items:
        at[shaft] = (x, y)
    turning = {CRANK: 1}
    discs = []
    for stage in drive.stages:
        way = turning[stage.driver.shaft]
        for sprocket in stage.sprockets:
            turning.setdefault(sprocket.shaft, -way if stage.kind == "gear" else way)
            x, y = at[sprocket.shaft]
            discs.append(Disc(stage.id, sprocket.shaft, Circle(x, y, radius(stage, sprocket)), exact_teeth(sprocket)))
    loops, orders, toward = {}, {}, {}
    for stage in drive.stages:
        if stage.kind == "gear":
            continue
        order = tuple(sprocket.shaft for sprocket in stage.sprockets)
        circles = {d.shaft: d.circle for d in discs if d.stage == stage.id}
        way = turning[stage.driver.shaft]
        if way < 0:
            order = (order[0], *reversed(order[1:]))
        loops[stage.id], orders[stage.id], toward[stage.id] = Loop.round([circles[s] for s in order]), order, way
    return with_marks(drive, Layout(tuple(discs), loops, orders, toward, turning))


@dataclass(slots=True)
class _Block:
    """A shaft with all that hangs on it, relative to it."""

    left: float
    right: float
    items: list[tuple[str, float, float]]


class Tree:
    """Places every shaft relative to the one that drives it.

    Parameters
    ----------
    drive : TimingDrive
    spacing : Spacing
    """

    def __init__(self, drive: TimingDrive, spacing: Spacing) -> None:
        self.drive, self.spacing = drive, spacing

    def below(self, shaft: str, side: int) -> _Block:
        """The shaft's block; ``side`` is where a partner goes: -1 left, +1 right."""
        own = self._largest(shaft)
        block = _Block(own, own, [])
        for stage in self.drive.stages:
            if stage.driver.shaft == shaft and self.is_beside(stage):
                self._add_beside(block, stage, side)
        self._add_above(block, shaft)
        return block

    def _largest(self, shaft: str) -> float:
        radii = [radius(t, s) for t in self.drive.stages for s in t.sprockets if s.shaft == shaft]
        return max(radii, default=0.0) + BAND

    def is_beside(self, stage: Stage) -> bool:
        """Whether what a stage drives stands beside its driver: a cam driven by a cam, a pump by the crank."""
        if len(stage.driven) > 1 or stage.kind == "gear":
            return False
        driven = stage.driven[0].shaft
        goes_on = any(other.driver.shaft == driven for other in self.drive.stages)
        return is_cam(stage.driver.shaft) or (stage.driver.shaft == CRANK and not is_cam(driven) and not goes_on)

    def _add_beside(self, block: _Block, stage: Stage, side: int) -> None:
        driven = stage.driven[0].shaft
        inner = self.below(driven, side)
        gap = self.spacing.gap.get((stage.id, driven), GAP)
        reach = (block.right if side > 0 else block.left) + gap + (inner.left if side > 0 else inner.right)
        block.items.append((driven, side * reach, 0.0))
        block.items += [(name, side * reach + x, y) for name, x, y in inner.items]
        if side > 0:
            block.right = reach + inner.right
        else:
            block.left = reach + inner.left

    def _add_above(self, block: _Block, shaft: str) -> None:
        """What this shaft drives upward, from right to left in the order of the tight side."""
        row = [
            (stage, sprocket.shaft)
            for stage in self.drive.stages
            if stage.driver.shaft == shaft and not self.is_beside(stage)
            for sprocket in stage.driven
        ]
        if not row:
            return
        blocks: list[tuple[Stage, str, _Block, float]] = []
        x = 0.0
        for i, (stage, name) in enumerate(row):
            side = 1 if len(row) > 1 and i < len(row) / 2 else -1
            inner = self.below(name, side)
            if blocks:
                before = blocks[-1]
                gap = self.spacing.gap.get((stage.id, name), GAP) if before[0] is stage else 2.0 * GAP
                x -= before[2].left + gap + inner.right
            blocks.append((stage, name, inner, x))
        middle = 0.5 * (blocks[0][3] + blocks[-1][3])
        half = max(0.5 * (blocks[0][3] - blocks[-1][3]), 1e-9)
        step = 2.0 * half / max(1, len(row) - 1)
        for stage, name, inner, x in blocks:
            dx = x - middle
            dy = self._height(stage, shaft)
            if len(stage.driven) > 2:
                dy += self.spacing.arch * step * (len(row) - 1) * (1.0 - (dx / half) ** 2) / 2.0
            block.items.append((name, dx, dy))
            block.items += [(n, dx + ix, dy + iy) for n, ix, iy in inner.items]
            block.left, block.right = max(block.left, inner.left - dx), max(block.right, inner.right + dx)

    def _height(self, stage: Stage, shaft: str) -> float:
        radii = [radius(stage, sprocket) for sprocket in stage.driven]
        if stage.kind == "gear":
            return radius(stage, stage.driver) + radii[0]
        largest = max(self._largest(sprocket.shaft) for sprocket in stage.driven)
        return self._largest(shaft) + largest + self.spacing.rise[stage.id]
