"""Sprockets, chains and their pins, as pieces of SVG, each kept on the board of what is drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.engine.drive import CRANK, Stage, TimingDrive
from witnessmark.report.drive.frame import Frame
from witnessmark.report.drive.labels import Board, Box, text_width
from witnessmark.report.drive.layout import Disc
from witnessmark.report.drive.loop import Loop
from witnessmark.report.drive.outline import dot, sprocket

__all__ = ["PinRun", "chain", "drives_cams", "pin_runs", "pins", "side_labels", "sprocket_outline", "tensioner"]


# Where a pin's number may stand: pixels off the chain, + = outward, and how many covered cells it takes to prefer it.
_NUMBER_AWAY = ((9.0, 0.0), (-9.0, 7.0), (17.0, 10.0), (-17.0, 16.0))


@dataclass(frozen=True, slots=True)
class PinRun:
    """Pins between two neighbouring marks, drawn: where they lie and which way is outward."""

    stage: Stage
    near: str
    far: str
    count: int
    places: tuple[tuple[float, float, float, float], ...]  # x, y, outward normal (y downward), ends included

    @property
    def middle(self) -> tuple[float, float, float, float]:
        """The place half-way."""
        return self.places[len(self.places) // 2]


def sprocket_outline(frame: Frame, disc: Disc, board: Board) -> str:
    """A sprocket: its teeth where their number is known, else a dashed circle."""
    x, y = frame.xy(disc.circle.x, disc.circle.y)
    r = disc.circle.r * frame.scale
    board.circle(x, y, r, 5.0)
    if disc.teeth is None:
        return f'<circle class="thin unk" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r)}"/>'
    # The marks of two gears meet: a tooth of the one in a gap of the other.
    turned = math.pi / disc.teeth if disc.stage not in frame.layout.loops and disc.mark < 0 else 0.0
    return f'<path class="thin" d="{sprocket(x, y, r, disc.teeth, disc.mark + turned)}"/>'


def chain(frame: Frame, stage: Stage, loop: Loop, board: Board) -> str:
    """A chain as two parallel lines, a belt as one broad band."""
    d = _path(frame, loop)
    half = 0.3 * frame.scale
    board.draw(frame.points(loop, 6.0), half + 2.0)
    if stage.kind == "belt":
        return f'<path class="belt" style="stroke-width:{dot(0.42 * frame.scale)}px" d="{d}"/>'
    outer, inner = 2.0 * half, 2.0 * half - 2.4
    return (
        f'<path class="ch1" style="stroke-width:{dot(outer)}px" d="{d}"/>'
        f'<path class="ch2" style="stroke-width:{dot(inner)}px" d="{d}"/>'
    )


def _path(frame: Frame, loop: Loop) -> str:
    """The loop as path data: counter-clockwise on the screen as well."""
    pieces = []
    for i, (circle, (begin, sweep)) in enumerate(zip(loop.circles, loop.arcs, strict=True)):
        x0, y0 = frame.xy(*circle.at(begin))
        x1, y1 = frame.xy(*circle.at(begin + sweep))
        r = dot(circle.r * frame.scale)
        bent = f"A{r} {r} 0 {int(abs(sweep) > math.pi)} {int(sweep < 0.0)} {dot(x1)} {dot(y1)}"
        pieces.append(f"{'L' if i else 'M'}{dot(x0)} {dot(y0)}{bent}")
    return "".join(pieces) + "Z"


def pin_runs(frame: Frame, drive: TimingDrive) -> list[PinRun]:
    """Every run of pins whose number is described and comes out right in the drawing."""
    found = []
    for stage in drive.stages:
        names = [sprocket.shaft for sprocket in stage.sprockets]
        for near, driven in zip(names, stage.driven, strict=False):
            count = driven.pins_before.exact
            if count is None or (stage.id, driven.shaft) not in frame.layout.matched:
                continue
            loop = frame.layout.loops[stage.id]
            start, path = frame.layout.tight_path(stage.id, near, driven.shaft)
            n = int(count) + 1
            places = []
            for k in range(n + 1):
                px, py, nx, ny = loop.point(start + path * k / n)
                places.append((*frame.xy(px, py), nx, -ny))
            found.append(PinRun(stage, near, driven.shaft, int(count), tuple(places)))
    return found


def pins(frame: Frame, runs: list[PinRun], board: Board) -> str:
    """The pins between marks as dots, the marked ones large; the first, every fifth and the last carry their number."""
    parts = []
    width = max(2.6, 0.22 * frame.scale)
    ends: dict[tuple[float, float], None] = {}
    for run in runs:
        dots = "".join(f"M{dot(x)} {dot(y)}h0" for x, y, _, _ in run.places[1:-1])
        parts.append(f'<path class="pins" style="stroke-width:{dot(width)}px" d="{dots}"/>')
        for x, y, _, _ in (run.places[0], run.places[-1]):
            ends[(round(x, 1), round(y, 1))] = None
    for x, y in ends:
        parts.append(f'<circle class="fil" cx="{dot(x)}" cy="{dot(y)}" r="{dot(max(3.6, 0.29 * frame.scale))}"/>')
        board.draw([(x, y)], 6.0)
    for run in runs:
        for k in range(1, run.count + 1):
            bold = k % 5 == 0 or k == run.count
            if (k == 1 and run.count > 3) or (bold and (k == run.count or run.count - k > 1)):
                box = _beside(frame, run.places[k], text_width(str(k), 13.0) / 2.0, board)
                if board.cost(box) < 100.0:
                    board.words.append(box)
                    css = "pn b" if bold else "pn"
                    tx, ty = box.middle
                    parts.append(f'<text class="{css}" x="{dot(tx)}" y="{dot(ty + 4.6)}">{k}</text>')
    return "".join(parts)


def _beside(frame: Frame, place: tuple[float, float, float, float], half: float, board: Board) -> Box:
    """Where a pin's number stands: outside the chain, or inside it or further out where a rail or chain is in the way.

    Numbers follow one another closely along the chain, so each keeps as near to it as it can.
    """
    x, y, nx, ny = place
    found: list[tuple[float, Box]] = []
    for away, reluctance in _NUMBER_AWAY:
        reach = math.copysign(0.3 * frame.scale, away) + away
        tx, ty = x + nx * reach, y + ny * reach
        box = Box(tx - half, ty - 7.0, tx + half, ty + 7.0)
        found.append((board.cost(box) + reluctance, box))
    return min(found, key=lambda one: one[0])[1]


def _spans(frame: Frame, stage: Stage) -> tuple[int, int]:
    """Numbers of the tight and the slack span at the driver."""
    order = frame.layout.orders[stage.id]
    driver, n = order.index(stage.driver.shaft), len(order)
    leaving, arriving = driver, (driver - 1) % n
    return (leaving, arriving) if frame.layout.toward[stage.id] > 0 else (arriving, leaving)


def tensioner(frame: Frame, drive: TimingDrive, stage: Stage, board: Board) -> tuple[str, tuple[float, float] | None]:
    """The tensioner on the slack side of what drives the cams: a blade, or a roller on a belt; with where it stands."""
    if any(one.stage == stage.id and one.kind == "tensioner" for one in frame.layout.smooth):
        return "", None  # it is described, and drawn where it stands
    # In a sketch the usual one may stand in; what is drawn to scale is what is described.
    main = stage.driver.shaft == CRANK and drives_cams(drive, stage) and not frame.layout.is_true
    if stage.kind == "gear" or not (stage.tensioner_rest_mm.is_known or main):
        return "", None
    loop = frame.layout.loops[stage.id]
    _, slack = _spans(frame, stage)
    length = loop.span_length(slack) * frame.scale
    if length < 90.0:
        return "", None
    x, y, nx, ny = loop.span_middle(slack)
    (px, py), ny = frame.xy(x, y), -ny
    if stage.kind == "belt":
        cx, cy = px + nx * (0.25 * frame.scale + 13.0), py + ny * (0.25 * frame.scale + 13.0)
        fx, fy = cx + nx * 6.0, cy + ny * 6.0
        if not board.is_free(Box(fx - 5.0, fy - 5.0, fx + 5.0, fy + 5.0)):
            return "", None
        board.circle(cx, cy, 6.0, 7.0)
        at = f'cx="{dot(cx)}" cy="{dot(cy)}"'
        return f'<circle class="body" {at} r="12"/><circle class="fil ln" {at} r="2.5"/>', (cx, cy)
    away, half = 0.3 * frame.scale + 6.0, 0.32 * length
    tx, ty = -ny, nx
    bx, by = px + nx * away, py + ny * away
    blade = f"M{dot(bx - tx * half)} {dot(by - ty * half)}L{dot(bx + tx * half)} {dot(by + ty * half)}"
    turn = math.degrees(math.atan2(ny, nx))
    if not board.is_free(
        Box(bx + nx * 38.0 - 12.0, by + ny * 38.0 - 12.0, bx + nx * 38.0 + 12.0, by + ny * 38.0 + 12.0)
    ):
        return "", None  # another chain runs there: the words alone say which side is slack
    board.segment(bx - tx * half, by - ty * half, bx + tx * half, by + ty * half, 6.0)
    board.segment(bx, by, bx + nx * 56.0, by + ny * 56.0, 13.0)
    return (
        f'<path class="guide" d="{blade}"/><g transform="translate({dot(bx)} {dot(by)}) rotate({dot(turn)})">'
        '<path class="plg" d="M2 0H22"/><rect class="body" x="22" y="-12" width="34" height="24"/></g>',
        (bx + nx * 40.0, by + ny * 40.0),
    )


def drives_cams(drive: TimingDrive, stage: Stage) -> bool:
    """Whether any cam hangs on a stage."""
    return any("." in sprocket.shaft or _goes_on(drive, sprocket.shaft) for sprocket in stage.driven)


def _goes_on(drive: TimingDrive, shaft: str) -> bool:
    return any(stage.driver.shaft == shaft and drives_cams(drive, stage) for stage in drive.stages)


def side_labels(frame: Frame, stage: Stage) -> list[tuple[str, list[tuple[float, float, float, float]]]]:
    """Words for the tight and the slack side, with points of the span (and normals) beside which they may stand."""
    loop = frame.layout.loops[stage.id]
    found = []
    for words, i in zip(("tight side", "slack side"), _spans(frame, stage), strict=True):
        if loop.span_length(i) * frame.scale < 70.0:
            continue
        x0, y0, nx, ny = loop.span_middle(i)
        places = []
        for share in (0.0, 0.14, -0.14, 0.26, -0.26, 0.36, -0.36):
            s = share * loop.span_length(i)
            places.append((*frame.xy(x0 - ny * s, y0 + nx * s), nx, -ny))
        found.append((words, places))
    return found
