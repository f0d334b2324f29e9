"""Where each shaft of a timing drive stands in the picture.

Lengths in pitches of the chain, y upward, the crank at the origin. Where every sprocket's
centre, pitch and teeth are described the picture keeps them; else the drive is laid out as a
tree: the crank below, what it drives above it, and what a cam drives beside that cam.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.report.drive.loop import Circle, Loop

__all__ = ["Disc", "Layout", "lay_out"]

# Sizes where teeth are not known: only the picture's proportions rest on them, and it says so.
_SIZE = {"crank": 20.0, "cam": 40.0, "cam behind": 36.0, "link": 28.0, "idler": 34.0}
_BAND = 0.35  # half the width of the chain, in pitches
_GAP = 3.0
_CLEAR = 6.6


@dataclass(frozen=True, slots=True)
class Disc:
    """One sprocket in the picture.

    Parameters
    ----------
    stage, shaft : str
    circle : Circle
        In pitches.
    teeth : int, optional
        None where the number is not known exactly.
    mark : float
        Angle at which its mark belongs, in radians, counter-clockwise from the right.
    """

    stage: str
    shaft: str
    circle: Circle
    teeth: int | None
    mark: float = math.pi / 2.0


@dataclass(frozen=True, slots=True)
class Layout:
    """A drive laid out.

    Parameters
    ----------
    discs : tuple of Disc
    loops : mapping of str to Loop
        By stage; gears have none. Circles in counter-clockwise order.
    orders : mapping of str to tuple of str
        The shafts in the order of the loop's circles.
    toward : mapping of str to int
        +1 where the tight side is walked counter-clockwise from the driver, -1 where clockwise.
    turning : mapping of str to int
        How each shaft turns, seen from the front: +1 clockwise, -1 counter-clockwise.
    is_true : bool
        Whether distances are true too.
    matched : frozenset of (str, str)
        (stage, shaft) whose described pins come out right along the drawn path.
    """

    discs: tuple[Disc, ...]
    loops: Mapping[str, Loop]
    orders: Mapping[str, tuple[str, ...]]
    toward: Mapping[str, int]
    turning: Mapping[str, int]
    is_true: bool = False
    matched: frozenset[tuple[str, str]] = frozenset()

    def disc(self, stage: str, shaft: str) -> Disc:
        """The disc of a stage on a shaft."""
        return next(disc for disc in self.discs if disc.stage == stage and disc.shaft == shaft)

    def on(self, shaft: str) -> tuple[Disc, ...]:
        """All discs of a shaft, the largest first."""
        return tuple(sorted((d for d in self.discs if d.shaft == shaft), key=lambda d: -d.circle.r))

    @property
    def shafts(self) -> tuple[str, ...]:
        """All shafts, the crank first."""
        return tuple(dict.fromkeys(disc.shaft for disc in self.discs))

    def tight_path(self, stage: str, near: str, far: str) -> tuple[float, float]:
        """Station of a mark, and the path from it along the tight side to the next mark, + = counter-clockwise."""
        loop, order, toward = self.loops[stage], self.orders[stage], self.toward[stage]
        a, b = (loop.station(order.index(shaft), self.disc(stage, shaft).mark) for shaft in (near, far))
        return a, toward * ((toward * (b - a)) % loop.length)

    def bounds(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of everything, chains included."""
        circles = [disc.circle for disc in self.discs]
        return (
            min(c.x - c.r for c in circles) - _BAND,
            min(c.y - c.r for c in circles) - _BAND,
            max(c.x + c.r for c in circles) + _BAND,
            max(c.y + c.r for c in circles) + _BAND,
        )


@dataclass(slots=True)
class _Spacing:
    """What may be stretched so that described pins come out right: heights of stages, gaps before sprockets."""

    rise: dict[str, float] = field(default_factory=dict)
    gap: dict[tuple[str, str], float] = field(default_factory=dict)
    arch: float = 0.25


def lay_out(drive: TimingDrive, *, rise: float = 1.0) -> Layout:
    """The drive laid out.

    Parameters
    ----------
    drive : TimingDrive
    rise : float
        Stretches the height of what the crank drives, to make room beside the crank.

    Returns
    -------
    Layout
    """
    described = _as_described(drive)
    if described is not None:
        return described
    spacing = _Spacing()
    for stage in drive.stages:
        spacing.rise[stage.id] = _CLEAR * rise if stage.driver.shaft == CRANK else 2.2
    for _ in range(5):  # a row of many needs an arch before a chain can lie on all of them
        if all(loop.is_sound for loop in _schematic(drive, spacing).loops.values()):
            break
        spacing.arch *= 1.7
    matched = frozenset(_match_pins(drive, spacing))
    return replace(_schematic(drive, spacing), matched=matched)


# ---------------------------------------------------------------- as described


def _as_described(drive: TimingDrive) -> Layout | None:
    """Distances as described, where all are; None where one is missing or the chains cannot lie so."""
    sprockets = [(stage, sprocket) for stage in drive.stages for sprocket in stage.sprockets]
    if any(
        s.at_mm is None or s.teeth.exact is None or t.pitch_mm.exact is None or t.kind == "gear" for t, s in sprockets
    ):
        return None
    scale = max(stage.pitch_mm.exact or 1.0 for stage in drive.stages)
    origin = drive.stages[0].driver.at_mm or (0.0, 0.0)
    discs = []
    for stage, sprocket in sprockets:
        assert sprocket.at_mm is not None
        r = (sprocket.teeth.exact or 0.0) * (stage.pitch_mm.exact or 0.0) / (2.0 * math.pi * scale)
        x, y = ((a - b) / scale for a, b in zip(sprocket.at_mm, origin, strict=True))
        discs.append(Disc(stage.id, sprocket.shaft, Circle(x, y, r), _exact_teeth(sprocket)))
    loops, orders, toward = {}, {}, {}
    for stage in drive.stages:
        names = [sprocket.shaft for sprocket in stage.sprockets]
        circles = {d.shaft: d.circle for d in discs if d.stage == stage.id}
        for order, way in ((names, 1), ([names[0], *reversed(names[1:])], -1)):
            loop = Loop.round([circles[name] for name in order])
            if loop.is_sound and not _overlap(list(circles.values())):
                loops[stage.id], orders[stage.id], toward[stage.id] = loop, tuple(order), way
                break
        else:
            return None
    if len({way for name, way in toward.items() if len(orders[name]) > 2}) > 1:
        return None  # two stages that turn opposite ways: a mistake in the description
    way = next((w for n, w in toward.items() if len(orders[n]) > 2), 1)
    for name in toward:
        if len(orders[name]) == 2:
            toward[name] = way
    turning = dict.fromkeys((d.shaft for d in discs), way)
    return _with_marks(drive, Layout(tuple(discs), loops, orders, toward, turning, is_true=True))


def _overlap(circles: list[Circle]) -> bool:
    return any(math.hypot(a.x - b.x, a.y - b.y) < a.r + b.r for i, a in enumerate(circles) for b in circles[i + 1 :])


# ---------------------------------------------------------------- as a tree


def _schematic(drive: TimingDrive, spacing: _Spacing) -> Layout:
    at = {CRANK: (0.0, 0.0)}
    for shaft, x, y in _Tree(drive, spacing).below(CRANK, -1).items:
        at[shaft] = (x, y)
    turning = {CRANK: 1}
    discs = []
    for stage in drive.stages:
        way = turning[stage.driver.shaft]
        for sprocket in stage.sprockets:
            turning.setdefault(sprocket.shaft, -way if stage.kind == "gear" else way)
            x, y = at[sprocket.shaft]
            discs.append(
                Disc(stage.id, sprocket.shaft, Circle(x, y, _radius(drive, stage, sprocket)), _exact_teeth(sprocket))
            )
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
    return _with_marks(drive, Layout(tuple(discs), loops, orders, toward, turning))


def _exact_teeth(sprocket: Sprocket) -> int | None:
    return int(sprocket.teeth.exact) if sprocket.teeth.exact is not None else None


def _radius(drive: TimingDrive, stage: Stage, sprocket: Sprocket) -> float:
    teeth = sprocket.teeth.mean
    if teeth is None:
        if sprocket.shaft == CRANK:
            teeth = _SIZE["crank"]
        elif _is_cam(stage.driver.shaft):
            teeth = _SIZE["link"]
        elif _is_cam(sprocket.shaft):
            teeth = _SIZE["cam" if stage.driver.shaft == CRANK else "cam behind"]
        else:
            teeth = _SIZE["idler"] if stage.driver.shaft == CRANK else 24.0
    return max(4.0, teeth) / (2.0 * math.pi)


def _is_cam(shaft: str) -> bool:
    return shaft.startswith("b") and "." in shaft


@dataclass(slots=True)
class _Block:
    """A shaft with all that hangs on it, relative to it."""

    left: float
    right: float
    items: list[tuple[str, float, float]]


class _Tree:
    def __init__(self, drive: TimingDrive, spacing: _Spacing) -> None:
        self.drive, self.spacing = drive, spacing

    def below(self, shaft: str, side: int) -> _Block:
        """The shaft's block; ``side`` is where a partner goes: -1 left, +1 right."""
        own = self._largest(shaft)
        block = _Block(own, own, [])
        for stage in self.drive.stages:
            if stage.driver.shaft == shaft and self._is_beside(stage):
                self._add_beside(block, stage, side)
        self._add_above(block, shaft)
        return block

    def _largest(self, shaft: str) -> float:
        radii = [_radius(self.drive, t, s) for t in self.drive.stages for s in t.sprockets if s.shaft == shaft]
        return max(radii, default=0.0) + _BAND

    def _is_beside(self, stage: Stage) -> bool:
        if len(stage.driven) > 1 or stage.kind == "gear":
            return False
        driven = stage.driven[0].shaft
        goes_on = any(other.driver.shaft == driven for other in self.drive.stages)
        return _is_cam(stage.driver.shaft) or (stage.driver.shaft == CRANK and not _is_cam(driven) and not goes_on)

    def _add_beside(self, block: _Block, stage: Stage, side: int) -> None:
        driven = stage.driven[0].shaft
        inner = self.below(driven, side)
        gap = self.spacing.gap.get((stage.id, driven), _GAP)
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
            if stage.driver.shaft == shaft and not self._is_beside(stage)
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
                gap = self.spacing.gap.get((stage.id, name), _GAP) if before[0] is stage else 2.0 * _GAP
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
        radii = [_radius(self.drive, stage, sprocket) for sprocket in stage.driven]
        if stage.kind == "gear":
            return _radius(self.drive, stage, stage.driver) + radii[0]
        largest = max(self._largest(sprocket.shaft) for sprocket in stage.driven)
        return self._largest(shaft) + largest + self.spacing.rise[stage.id]


# ---------------------------------------------------------------- marks and pins


def _with_marks(drive: TimingDrive, layout: Layout) -> Layout:
    """Marks where the chain lies on the sprocket: upward (downward on a driver) if it may be, else in the middle."""
    discs = []
    for disc in layout.discs:
        stage = drive.stage(disc.stage)
        is_driver = disc.shaft == stage.driver.shaft
        loop = layout.loops.get(disc.stage)
        if loop is None:
            discs.append(replace(disc, mark=math.pi / 2.0 if is_driver else -math.pi / 2.0))
            continue
        i = layout.orders[disc.stage].index(disc.shaft)
        wanted = (-math.pi / 2.0, math.pi / 2.0) if is_driver else (math.pi / 2.0, -math.pi / 2.0)
        # A mark may stand a little beside the wrap, but not where pins are counted from it.
        counted = any(sprocket.pins_before.is_known for sprocket in stage.driven)
        margin = 0.0 if counted else -math.radians(8.0)
        mark = next((angle for angle in wanted if loop.wraps(i, angle, margin)), loop.middle(i))
        discs.append(replace(disc, mark=mark))
    return replace(layout, discs=tuple(discs))


def _match_pins(drive: TimingDrive, spacing: _Spacing) -> Iterator[tuple[str, str]]:
    """Stretch the layout until each described count of pins is the drawn one; yields what came out right."""
    wanted = []
    for stage in drive.stages:
        if stage.kind == "gear":
            continue
        names = [sprocket.shaft for sprocket in stage.sprockets]
        for i in range(len(names) - 1, 0, -1):  # gaps first: a row's width moves what its height must be
            pins = stage.driven[i - 1].pins_before.exact
            if pins is not None:
                wanted.append((stage, names[i - 1], names[i], pins + 1.0))
    for stage, near, far, pitches in wanted:
        by_gap = near != stage.driver.shaft or _Tree(drive, spacing)._is_beside(stage)
        _stretch(drive, spacing, stage, near, far, pitches, by_gap=by_gap)
    layout = _schematic(drive, spacing)
    for stage, near, far, pitches in wanted:
        if layout.loops[stage.id].is_sound and abs(abs(layout.tight_path(stage.id, near, far)[1]) - pitches) < 0.05:
            yield stage.id, far


def _stretch(
    drive: TimingDrive, spacing: _Spacing, stage: Stage, near: str, far: str, pitches: float, *, by_gap: bool
) -> None:
    """Secant steps on one height or gap; left as it was where no fair one does it."""

    def put(value: float) -> None:
        if by_gap:
            spacing.gap[(stage.id, far)] = value
        else:
            spacing.rise[stage.id] = value

    def missing(value: float) -> float:
        put(value)
        layout = _schematic(drive, spacing)
        return pitches - abs(layout.tight_path(stage.id, near, far)[1])

    low, high = (1.0, 14.0) if by_gap else (3.0, 45.0)
    old = spacing.gap.get((stage.id, far), _GAP) if by_gap else spacing.rise[stage.id]
    a, b = old, old + 1.0
    fa, fb = missing(a), missing(b)
    for _ in range(8):
        if abs(fb) < 1e-4 or abs(fb - fa) < 1e-12:
            break
        a, b, fa = b, min(high, max(low, b - fb * (b - a) / (fb - fa))), fb
        fb = missing(b)
    put(b if abs(fb) < 0.02 else old)
