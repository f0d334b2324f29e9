"""Where the layout lies in the picture, in pixels, and where what is drawn aside finds room."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.engine.drive import CRANK, TimingDrive
from witnessmark.report.drive.layout import Layout
from witnessmark.report.drive.loop import Loop
from witnessmark.report.drive.spacing import lay_out

__all__ = ["SMALL_WHEEL", "WHEEL_RADIUS", "WIDTH", "Frame", "fit"]

WIDTH = 736.0
WHEEL_RADIUS = 72.0
SMALL_WHEEL = 46.0
_SIDE = 24.0
_TOP = 106.0
_BELOW = 64.0
_TALLEST = 630.0
_LARGEST = 17.0
_WIDE = 1.6  # a drive so much wider than tall has no room beside it
_NUMBERS = 40.0  # room at each side for the numbers of pins
_BENEATH = 210.0  # from the lowest sprocket to the centre of a crank wheel beneath, words between them
_ASIDE = 232.0  # what the crank wheel drawn aside takes of the width, with its words


@dataclass(frozen=True, slots=True)
class Frame:
    """A layout in its picture.

    Parameters
    ----------
    layout : Layout
    scale : float
        Pixels for one pitch.
    ox, oy : float
        Where the crank's centre lies.
    height : float
        Of the picture, before anything is added beneath.
    wheel : tuple of float
        Centre of the crank wheel drawn aside.
    """

    layout: Layout
    scale: float
    ox: float
    oy: float
    height: float
    wheel: tuple[float, float]

    def xy(self, x: float, y: float) -> tuple[float, float]:
        """A point of the layout in the picture, y downward."""
        return self.ox + x * self.scale, self.oy - y * self.scale

    def points(self, loop: Loop, step: float = 8.0) -> list[tuple[float, float]]:
        """Points along a loop, about ``step`` pixels apart."""
        n = max(8, int(loop.length * self.scale / step))
        return [self.xy(*loop.point(loop.length * k / n)[:2]) for k in range(n)]


def fit(drive: TimingDrive) -> Frame:
    """The layout that leaves room beside the crank for its wheel, as large as it can be.

    Parameters
    ----------
    drive : TimingDrive

    Returns
    -------
    Frame
    """
    for rise in (1.0, 1.35, 1.8, 2.4, 3.0, 3.7):
        layout = lay_out(drive, rise=rise)
        frame = _framed(layout, beside=False)
        if _is_clear(frame):
            return frame
        if layout.is_true:
            break
    layout = lay_out(drive)
    left, bottom, right, top = layout.bounds()
    return _wheel_below(layout) if right - left > _WIDE * (top - bottom) else _framed(layout, beside=True)


def _wheel_below(layout: Layout) -> Frame:
    """A wide drive takes the whole width, and the crank wheel stands beneath the crank."""
    left, bottom, right, top = layout.bounds()
    scale = min(_LARGEST, (WIDTH - 2 * _NUMBERS) / (right - left))
    ox, oy = 0.5 * (WIDTH - (right - left) * scale) - left * scale, _TOP + top * scale
    y = oy - bottom * scale + _BENEATH
    return Frame(layout, scale, ox, oy, y + WHEEL_RADIUS + 78.0, (ox, y))


def _framed(layout: Layout, *, beside: bool) -> Frame:
    left, bottom, right, top = layout.bounds()
    wide, tall = right - left, top - bottom
    room = WIDTH - 2 * _SIDE - (_ASIDE if beside else 0.0)
    scale = min(_LARGEST, room / wide, (_TALLEST - _TOP - 20.0) / tall)
    used = wide * scale
    if used + _ASIDE <= WIDTH - 2 * _SIDE:  # side by side, the two together in the middle
        begin = 0.5 * (WIDTH - used - _ASIDE)
        wheel_x = begin + used + 0.5 * _ASIDE
    else:
        begin = 0.5 * (WIDTH - used)
        wheel_x = WIDTH - 94.0
    oy = _TOP + top * scale
    wheel = (wheel_x, oy)
    lowest = max(oy - bottom * scale + _BELOW, oy + WHEEL_RADIUS + 78.0)
    return Frame(layout, scale, begin - left * scale, oy, lowest, wheel)


def _is_clear(frame: Frame) -> bool:
    """Whether nothing of the drive reaches into the crank wheel drawn aside, with its mark and words above."""
    x, y = frame.wheel
    need = WHEEL_RADIUS + 22.0

    def hit(px: float, py: float, r: float = 0.0) -> bool:
        near = math.hypot(px - x, py - y) < need + r
        words = abs(px - x) < 84.0 + r and -WHEEL_RADIUS - 58.0 - r < py - y < 0.0
        return near or words

    for loop in frame.layout.loops.values():
        if any(hit(*point, 6.0) for point in frame.points(loop)):
            return False
    for disc in frame.layout.discs:
        if disc.shaft != CRANK:
            px, py = frame.xy(disc.circle.x, disc.circle.y)
            if hit(px, py, disc.circle.r * frame.scale):
                return False
    for one in frame.layout.smooth:
        px, py = frame.xy(one.circle.x, one.circle.y)
        if not one.is_rail and hit(px, py, one.circle.r * frame.scale):
            return False
    cx = frame.ox + max(d.circle.r for d in frame.layout.on(CRANK)) * frame.scale
    return x - WHEEL_RADIUS - 30.0 > cx
