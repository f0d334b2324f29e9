"""Where the marks stand on their sprockets, and how described counts of pins come out right in the drawing."""

from __future__ import annotations

import math
from dataclasses import replace

from witnessmark.engine.drive import Stage, TimingDrive
from witnessmark.report.drive.layout import Layout
from witnessmark.report.drive.loop import Loop

__all__ = ["with_counted_marks", "with_marks"]

_UP, _DOWN = math.pi / 2.0, -math.pi / 2.0


def with_marks(drive: TimingDrive, layout: Layout) -> Layout:
    """Marks where the chain lies on the sprocket: upward (downward on a driver) if it may be, else in the middle.

    Parameters
    ----------
    drive : TimingDrive
    layout : Layout

    Returns
    -------
    Layout
    """
    discs = []
    for disc in layout.discs:
        stage = drive.stage(disc.stage)
        is_driver = disc.shaft == stage.driver.shaft
        loop = layout.loops.get(disc.stage)
        if loop is None:
            discs.append(replace(disc, mark=_UP if is_driver else _DOWN))
            continue
        i = layout.orders[disc.stage].index(disc.shaft)
        wanted = (_DOWN, _UP) if is_driver else (_UP, _DOWN)
        # A mark may stand a little beside the wrap, but not where pins are counted from it.
        counted = any(sprocket.pins_before.is_known for sprocket in stage.driven)
        margin = 0.0 if counted else -math.radians(8.0)
        mark = next((angle for angle in wanted if loop.wraps(i, angle, margin)), loop.middle(i))
        discs.append(replace(disc, mark=mark))
    return replace(layout, discs=tuple(discs))


def with_counted_marks(drive: TimingDrive, layout: Layout, unit_mm: float) -> Layout:
    """Marks of a drive drawn true to scale, turned so that every described count of pins lies between them.

    Where the marks point is not described, but how many pins lie between them may be: that leaves one
    angle open for each chain, and it is chosen so that the marks come nearest to pointing straight up.

    Parameters
    ----------
    drive : TimingDrive
    layout : Layout
        With its distances true.
    unit_mm : float
        Millimetres of one unit of the layout.

    Returns
    -------
    Layout
        ``matched`` names the runs of pins that came out right.
    """
    discs, matched = list(layout.discs), set(layout.matched)
    for stage in drive.stages:
        loop = layout.loops.get(stage.id)
        if loop is None or stage.pitch_mm.exact is None:
            continue
        marks = _counted(stage, layout, loop, stage.pitch_mm.exact / unit_mm)
        if marks:
            discs = [replace(d, mark=marks.get(d.shaft, d.mark)) if d.stage == stage.id else d for d in discs]
            matched |= {(stage.id, shaft) for shaft in marks if shaft != stage.driver.shaft}
    return replace(layout, discs=tuple(discs), matched=frozenset(matched))


def _counted(stage: Stage, layout: Layout, loop: Loop, pitch: float) -> dict[str, float]:
    """Angle of each mark for which all pins from the driver on are counted; empty where no choice fits."""
    order, toward = layout.orders[stage.id], layout.toward[stage.id]
    driver = order.index(stage.driver.shaft)
    begin, sweep = loop.arcs[driver]
    best: tuple[float, dict[str, float]] | None = None
    steps = max(8, int(math.degrees(sweep)))
    for k in range(steps + 1):
        angle = begin + sweep * k / steps
        marks = {stage.driver.shaft: angle}
        cost = 0.5 * _off(angle, _DOWN)
        station = loop.station(driver, angle)
        for sprocket in stage.driven:
            pins = sprocket.pins_before.exact
            if pins is None:
                break
            station += toward * (pins + 1.0) * pitch
            i = order.index(sprocket.shaft)
            at = loop.angle_at(i, station)
            if at is None:
                cost = math.inf
                break
            marks[sprocket.shaft] = at
            cost += _off(at, _UP)
        if len(marks) > 1 and cost < math.inf and (best is None or cost < best[0]):
            best = (cost, marks)
    return best[1] if best else {}


def _off(angle: float, wanted: float) -> float:
    return abs((angle - wanted + math.pi) % (2.0 * math.pi) - math.pi)
