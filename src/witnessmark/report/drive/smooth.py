"""Rollers and guides that are described to the millimetre, drawn where they press on the chain or belt."""

from __future__ import annotations

import math

from witnessmark.engine.drive import Stage
from witnessmark.report.drive.frame import Frame
from witnessmark.report.drive.labels import Board, Box, around, size_of
from witnessmark.report.drive.layout import Smooth
from witnessmark.report.drive.outline import dot
from witnessmark.report.drive.pen import Pen

__all__ = ["draw_smooth", "name_smooth"]

_BEYOND = 9.0  # pixels that a rail reaches beyond the chain on it, at each end


def draw_smooth(frame: Frame, stage: Stage, one: Smooth, board: Board) -> tuple[str, tuple[float, float]]:
    """A roller as two circles, a rail as a bow, a tensioner's rail with its plunger; and the middle of it."""
    x, y = frame.xy(one.circle.x, one.circle.y)
    thick = (0.21 if stage.kind == "belt" else 0.3) * frame.scale + 1.0
    r = one.circle.r * frame.scale - thick
    if not one.is_rail:
        board.circle(x, y, 0.5 * r, 0.5 * r)
        at = f'cx="{dot(x)}" cy="{dot(y)}"'
        return f'<circle class="body" {at} r="{dot(r)}"/><circle class="fil ln" {at} r="2.5"/>', (x, y)
    loop = frame.layout.loops[one.stage]
    begin, sweep = loop.arcs[frame.layout.orders[one.stage].index(one.name)]
    r -= 3.0
    more = math.copysign(_BEYOND / r, sweep)
    ends = [(x + r * math.cos(a), y - r * math.sin(a)) for a in (begin - more, begin + sweep + more)]
    (x0, y0), (x1, y1) = ends
    middle = begin + 0.5 * sweep
    mx, my = x + r * math.cos(middle), y - r * math.sin(middle)
    for part in range(9):
        a = begin - more + (sweep + 2.0 * more) * part / 8.0
        board.draw([(x + r * math.cos(a), y - r * math.sin(a))], 7.0)
    bow = f"M{dot(x0)} {dot(y0)}A{dot(r)} {dot(r)} 0 0 {int(sweep < 0.0)} {dot(x1)} {dot(y1)}"
    svg = f'<path class="guide" d="{bow}"/>'
    ux, uy = -math.cos(middle), math.sin(middle)  # away from the chain
    if one.kind != "tensioner" or not board.is_free(_box(mx + 36.0 * ux, my + 36.0 * uy)):
        return svg, (mx + 4.0 * ux, my + 4.0 * uy)
    turn = math.degrees(math.atan2(uy, ux))
    board.segment(mx, my, mx + ux * 56.0, my + uy * 56.0, 13.0)
    return (
        f'{svg}<g transform="translate({dot(mx)} {dot(my)}) rotate({dot(turn)})">'
        '<path class="plg" d="M2 0H22"/><rect class="body" x="22" y="-12" width="34" height="24"/></g>',
        (mx + 40.0 * ux, my + 40.0 * uy),
    )


def _box(x: float, y: float) -> Box:
    return Box(x - 12.0, y - 12.0, x + 12.0, y + 12.0)


def name_smooth(pen: Pen, frame: Frame, one: Smooth, at: tuple[float, float]) -> None:
    """What it is called, beside it."""
    words = one.name.replace("_", " ")
    r = 6.0 if one.is_rail else one.circle.r * frame.scale
    first = 180.0 if at[0] < frame.ox else 0.0
    pen.write([(words, "q")], around(*at, r, size_of([words]), first))
