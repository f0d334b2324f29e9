"""A timing drive as it is described to the millimetre: distances and angles true."""

from __future__ import annotations

import math

from witnessmark.engine.drive import Roller, TimingDrive
from witnessmark.report.drive.layout import Disc, Layout, Smooth, exact_teeth
from witnessmark.report.drive.loop import Circle, Loop
from witnessmark.report.drive.marking import with_counted_marks, with_marks

__all__ = ["as_described"]

_RAIL_MM = 200.0  # what is bent to a larger circle is a rail, not a roller


def as_described(drive: TimingDrive) -> Layout | None:
    """Distances as described, where all are; None where one is missing or the chains cannot lie so."""
    sprockets = [(stage, sprocket) for stage in drive.stages for sprocket in stage.sprockets]
    if any(
        s.at_mm is None or s.teeth.exact is None or t.pitch_mm.exact is None or t.kind == "gear" for t, s in sprockets
    ):
        return None
    if any(r.at_mm is None or r.diameter_mm.exact is None for stage in drive.stages for r in stage.rollers):
        return None
    scale = max(stage.pitch_mm.exact or 1.0 for stage in drive.stages)
    origin = drive.stages[0].driver.at_mm or (0.0, 0.0)
    discs = []
    for stage, sprocket in sprockets:
        assert sprocket.at_mm is not None
        r = (sprocket.teeth.exact or 0.0) * (stage.pitch_mm.exact or 0.0) / (2.0 * math.pi * scale)
        x, y = ((a - b) / scale for a, b in zip(sprocket.at_mm, origin, strict=True))
        discs.append(Disc(stage.id, sprocket.shaft, Circle(x, y, r), exact_teeth(sprocket)))
    smooth = _smooth(drive, origin, scale)
    loops, orders, toward = {}, {}, {}
    for stage in drive.stages:
        names = [one.id if isinstance(one, Roller) else one.shaft for one in stage.way]
        toothed = {d.shaft: d.circle for d in discs if d.stage == stage.id}
        circles = {**toothed, **{one.name: one.circle for one in smooth if one.stage == stage.id}}
        for order, way in ((names, 1), ([names[0], *reversed(names[1:])], -1)):
            loop = Loop.round([circles[name] for name in order])
            if loop.is_sound and not _overlap(list(toothed.values())):
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
    layout = with_marks(
        drive, Layout(tuple(discs), loops, orders, toward, turning, is_true=True, smooth=smooth, unit_mm=scale)
    )
    return with_counted_marks(drive, layout, scale)


def _smooth(drive: TimingDrive, origin: tuple[float, float], scale: float) -> tuple[Smooth, ...]:
    found = []
    for stage in drive.stages:
        for roller in stage.rollers:
            assert roller.at_mm is not None
            across = roller.diameter_mm.exact or 0.0
            x, y = ((a - b) / scale for a, b in zip(roller.at_mm, origin, strict=True))
            circle = Circle(x, y, 0.5 * across / scale, -1 if roller.back else 1)
            found.append(Smooth(stage.id, roller.id, roller.kind, circle, is_rail=across > _RAIL_MM))
    return tuple(found)


def _overlap(circles: list[Circle]) -> bool:
    return any(math.hypot(a.x - b.x, a.y - b.y) < a.r + b.r for i, a in enumerate(circles) for b in circles[i + 1 :])
