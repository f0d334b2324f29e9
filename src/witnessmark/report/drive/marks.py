"""Marks of the sprockets: hollow on a dashed ray where each belongs, filled on a solid ray where a cause leaves it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from witnessmark.case.assessment import DrawnCause
from witnessmark.engine.drive import TimingDrive
from witnessmark.report.drive.frame import Frame
from witnessmark.report.drive.layout import Disc
from witnessmark.report.drive.outline import dot, wedge
from witnessmark.report.drive.pen import Pen, css_name

__all__ = ["SMALLEST_SHOWN_DEG", "draw_marks", "hub", "hub_radius", "turned"]

SMALLEST_SHOWN_DEG = 0.3  # what moves less is in its place, to the eye


def hub_radius(frame: Frame, shaft: str) -> float:
    """How large the end of a shaft is drawn, in pixels."""
    smallest = min(d.circle.r for d in frame.layout.on(shaft)) * frame.scale
    return max(7.0, min(19.0, 0.3 * smallest))


def _radii(frame: Frame, disc: Disc) -> tuple[float, float, float, float]:
    """Where a ray begins, the filled mark, the hollow mark, where the ray ends: pixels from the centre."""
    r = disc.circle.r * frame.scale
    smaller = [d.circle.r * frame.scale for d in frame.layout.on(disc.shaft) if d.circle.r < disc.circle.r]
    inner = max(smaller) + 0.45 * frame.scale if smaller else hub_radius(frame, disc.shaft)
    root = r - 0.34 * frame.scale
    if root - inner < 8.0:  # two sprockets of a size on one shaft: the rays share the same place
        inner = hub_radius(frame, disc.shaft)
    return inner, inner + 0.36 * (root - inner), inner + 0.76 * (root - inner), root


def draw_marks(pen: Pen, frame: Frame, drive: TimingDrive, shaft: str, causes: Sequence[DrawnCause]) -> None:
    """All marks of a shaft, its hub with key or bolt, and for each cause the band of what is not known."""
    discs = frame.layout.on(shaft)
    x, y = frame.xy(discs[0].circle.x, discs[0].circle.y)
    filled: list[str] = []
    for disc in discs:
        inner, near, far, root = _radii(frame, disc)
        c, s = math.cos(disc.mark), -math.sin(disc.mark)
        size = dot(min(6.0, max(3.2, 0.16 * (root - inner))))
        begin, end = (f"{dot(x + c * q)} {dot(y + s * q)}" for q in (inner, root))
        pen.front.append(
            f'<path class="ray" d="M{begin}L{end}"/>'
            f'<circle class="hol" cx="{dot(x + c * far)}" cy="{dot(y + s * far)}" r="{size}"/>'
        )
        bands = "".join(
            f'<path class="band c c{i}" d="{wedge(x, y, inner, root, disc.mark, 2 * sd)}"/>'
            for i, cause in enumerate(causes, start=1)
            for name, _, sd in cause.marks
            if name == shaft and sd > 0.05
        )
        x0, y0, x1, y1 = (dot(v) for v in (x + c * inner, y + s * inner, x + c * near, y + s * near))
        filled.append(
            f'{bands}<path class="ray2" d="M{x0} {y0}L{x1} {y1}"/><circle class="fil" cx="{x1}" cy="{y1}" r="{size}"/>'
        )
        pen.board.segment(x, y, x + c * root, y + s * root, 6.0)
    pen.front.append(turned(f"m-{css_name(shaft)}", x, y, "".join(filled)))
    known = {sprocket.keyed for _, sprocket in drive.meshes() if sprocket.shaft == shaft}
    keyed = True if True in known else (False if False in known else None)
    pen.front.append(hub(x, y, hub_radius(frame, shaft), keyed, discs[0].mark))
    pen.board.draw([(x, y)], hub_radius(frame, shaft) + 1.0)


def turned(name: str, x: float, y: float, inner: str) -> str:
    """A group that a cause turns about a centre."""
    return f'<g class="mv {name}" style="transform-origin:{dot(x)}px {dot(y)}px">{inner}</g>'


def hub(x: float, y: float, r: float, keyed: bool | None, mark: float) -> str:
    """The end of a shaft as SVG: with a key away from the mark, or six-sided where a bolt alone holds it."""
    if keyed is False:
        corners = [(x + r * math.cos(math.radians(60 * k)), y + r * math.sin(math.radians(60 * k))) for k in range(6)]
        return f'<path class="hub" d="M{"L".join(f"{dot(a)} {dot(b)}" for a, b in corners)}Z"/>'
    circle = f'<circle class="hub" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r)}"/>'
    if keyed is None:
        return circle
    w, h = max(5.0, 0.45 * r), max(6.0, 0.5 * r)
    turn = 0.0 if math.sin(mark) > 0.6 else 180.0  # the key is drawn downward and turned
    return circle + (
        f'<rect class="key" x="{dot(-w / 2)}" y="{dot(r - h / 2)}" width="{dot(w)}" height="{dot(h)}" '
        f'transform="translate({dot(x)} {dot(y)}) rotate({dot(turn)})"/>'
    )
