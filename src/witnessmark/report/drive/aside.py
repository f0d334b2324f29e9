"""Tone wheels drawn aside on their shaft's axis: teeth, gap, sensor, and how far a cause turns them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.case.assessment import DrawnCause
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.report.drive.frame import SMALL_WHEEL, WHEEL_RADIUS, WIDTH, Frame
from witnessmark.report.drive.labels import Board, around, size_of
from witnessmark.report.drive.marks import SMALLEST_SHOWN_DEG, hub, turned
from witnessmark.report.drive.outline import dot, tone_wheel, wedge
from witnessmark.report.drive.pen import Pen, css_name, placed
from witnessmark.report.drive.wheel import WheelPicture, cam_wheel_picture, crank_wheel_picture, direction
from witnessmark.report.naming import wheel_words
from witnessmark.report.words import angle

__all__ = ["Aside", "asides", "draw_aside", "moved_cam_wheels", "moved_wheel_words", "name_aside", "name_sensor"]


@dataclass(frozen=True, slots=True)
class Aside:
    """A tone wheel in the picture."""

    name: str
    x: float
    y: float
    r: float
    face: WheelPicture
    turning: int
    keyed: bool | None

    @property
    def mark(self) -> float:
        """Angle of its mark where it belongs, in radians, counter-clockwise from the right."""
        return direction(self.face, self.turning) + self.turning * math.radians(self.face.mark)

    @property
    def out(self) -> float:
        """How far out the hollow mark stands."""
        return self.r + 20.0


def moved_cam_wheels(causes: Sequence[DrawnCause]) -> list[str]:
    """Those cam wheels that some cause turns; three at most find room."""
    pairs = [(name, deg) for cause in causes for name, deg, _ in cause.wheels]
    return list(dict.fromkeys(n for n, deg in pairs if n != CRANK and abs(deg) >= SMALLEST_SHOWN_DEG))[:3]


def asides(frame: Frame, engine: Engine, cam_wheels: Sequence[str]) -> list[Aside]:
    """The crank wheel beside the crank, and cam wheels in a row beneath."""
    found = []
    for k, name in enumerate((CRANK, *cam_wheels)):
        described = engine.wheel(name)
        keyed = described.keyed if described is not None else None
        turning = frame.layout.turning.get(name, 1)
        if name == CRANK:
            found.append(Aside(name, *frame.wheel, WHEEL_RADIUS, crank_wheel_picture(described), turning, keyed))
        else:
            x = WIDTH * (k - 0.5) / len(cam_wheels)
            y = frame.height + SMALL_WHEEL + 26.0
            found.append(Aside(name, x, y, SMALL_WHEEL, cam_wheel_picture(described), turning, keyed))
    return found


def draw_aside(pen: Pen, wheel: Aside, causes: Sequence[DrawnCause]) -> None:
    """One wheel: its face turns with a cause, its hollow mark stays."""
    x, y, r, face = wheel.x, wheel.y, wheel.r, wheel.face
    c, s = math.cos(wheel.mark), -math.sin(wheel.mark)
    small, near, size = 0.24 * r, 0.72 * r, dot(min(6.0, 0.08 * r + 1.0))
    moving = _bands(wheel, causes, small)
    if face.teeth:
        teeth = face.teeth if wheel.turning > 0 else tuple((-b, -a) for a, b in face.teeth)
        moving += f'<circle class="thin" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r)}"/>'
        moving += f'<path class="thin" d="{tone_wheel(x, y, r, teeth, direction(face, wheel.turning))}"/>'
    else:
        moving += f'<circle class="thin unk" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r + 4)}"/>'
    x0, y0, x1, y1 = (dot(v) for v in (x + c * small, y + s * small, x + c * near, y + s * near))
    moving += f'<path class="ray2" d="M{x0} {y0}L{x1} {y1}"/><circle class="fil" cx="{x1}" cy="{y1}" r="{size}"/>'
    pen.front.append(turned(f"w-{css_name(wheel.name)}", x, y, moving))
    end, out = wheel.out - 5.0, wheel.out
    pen.front.append(
        f'<path class="ray" d="M{x0} {y0}L{dot(x + c * end)} {dot(y + s * end)}"/>'
        f'<circle class="hol" cx="{dot(x + c * out)}" cy="{dot(y + s * out)}" r="{size}"/>'
    )
    pen.front.append(hub(x, y, small, wheel.keyed, -1.0))
    if face.at_tdc is not None:
        top = y - r - 14.0
        pen.front.append(f'<path class="body" d="M{dot(x - 7)} {dot(top)}V{dot(top - 24)}H{dot(x + 7)}V{dot(top)}Z"/>')
        pen.board.segment(x, top, x, top - 24.0, 8.0)
    for radius in (r + 6.0, 0.75 * r, 0.45 * r, 0.15 * r):
        pen.board.circle(x, y, radius, 0.16 * r)
    pen.board.segment(x, y, x + c * out, y + s * out, 7.0)


def _bands(wheel: Aside, causes: Sequence[DrawnCause], inner: float) -> str:
    return "".join(
        f'<path class="band c c{i}" d="{wedge(wheel.x, wheel.y, inner, wheel.out, wheel.mark, 2 * sd)}"/>'
        for i, cause in enumerate(causes, start=1)
        for name, _, sd in cause.wheels
        if name == wheel.name and sd > 0.05
    )


def name_aside(pen: Pen, engine: Engine, wheel: Aside) -> None:
    """What the wheel is, and what its mark is."""
    key = {True: ", keyed", False: ", no key", None: ""}[wheel.keyed]
    lines = [(f"{wheel_words(engine, wheel.name)}, drawn aside", ""), (f"{wheel.face.words}{key}", "q")]
    size = size_of([text for text, _ in lines])
    pen.write(lines, around(wheel.x, wheel.y, wheel.r + 16.0, size, 90.0))
    hx, hy = wheel.x + wheel.out * math.cos(wheel.mark), wheel.y - wheel.out * math.sin(wheel.mark)
    words = wheel.face.mark_words
    pen.write([(words, "")], around(hx, hy, 8.0, size_of([words]), math.degrees(-wheel.mark) - 60.0))


def name_sensor(pen: Pen, wheel: Aside) -> None:
    """The word beside the wheel's sensor, if it is known where it sits."""
    if wheel.face.at_tdc is not None:
        pen.write([("sensor", "q")], around(wheel.x, wheel.y - wheel.r - 26.0, 11.0, size_of(["sensor"]), 0.0))


def moved_wheel_words(board: Board, wheels: Sequence[Aside], cause: DrawnCause) -> str:
    """How far each turned wheel stands off, with an arc from where it belongs, as SVG for while this cause is shown."""
    parts = []
    for name, deg, sd in cause.wheels:
        wheel = next((w for w in wheels if w.name == name), None)
        if wheel is None or abs(deg) < SMALLEST_SHOWN_DEG:
            continue
        mark = wheel.mark - wheel.turning * math.radians(deg)
        radius = wheel.out + 12.0
        (x0, y0), (x1, y1) = (
            (wheel.x + radius * math.cos(a), wheel.y - radius * math.sin(a)) for a in (wheel.mark, mark)
        )
        clockwise = int(deg * wheel.turning > 0)
        arc = f"A{dot(radius)} {dot(radius)} 0 0 {clockwise} {dot(x1)} {dot(y1)}"
        parts.append(f'<path class="dim" d="M{dot(x0)} {dot(y0)}{arc}"/>')
        words = angle(deg, sd)
        middle = 0.5 * (wheel.mark + mark)
        mx, my = wheel.x + radius * math.cos(middle), wheel.y - radius * math.sin(middle)
        spots = around(mx, my, 4.0, size_of([words]), math.degrees(-middle))
        parts.append(placed(board, [(words, "")], spots)[0])
    return "".join(parts)
