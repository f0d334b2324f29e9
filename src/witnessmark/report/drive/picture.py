"""The whole picture of a timing drive: what is drawn in which order, and what each cause moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from witnessmark.case.assessment import DrawnCause
from witnessmark.catalogue.places import shaft_words, stage_words
from witnessmark.engine.drive import CRANK, TimingDrive
from witnessmark.engine.types import Engine
from witnessmark.report.drive.aside import (
    asides,
    draw_aside,
    moved_cam_wheels,
    moved_wheel_words,
    name_aside,
    name_sensor,
)
from witnessmark.report.drive.chain import chain, drives_cams, pin_runs, pins, sprocket_outline, tensioner
from witnessmark.report.drive.frame import SMALL_WHEEL, WHEEL_RADIUS, WIDTH, Frame, fit
from witnessmark.report.drive.labels import Board
from witnessmark.report.drive.layout import Smooth
from witnessmark.report.drive.marks import draw_marks
from witnessmark.report.drive.outline import dot
from witnessmark.report.drive.pen import Pen, css_name
from witnessmark.report.drive.smooth import draw_smooth, name_smooth
from witnessmark.report.drive.wording import counting_rule, name_pins, name_shaft, name_sides, name_view, show_turning

__all__ = ["Picture", "draw"]


@dataclass(frozen=True, slots=True)
class Picture:
    """A finished picture.

    Parameters
    ----------
    svg, css : str
        The drawing, and the rules that turn its filled marks for each cause.
    is_true : bool
        Whether its distances are true too.
    counts : str
        How pins were counted, in words; empty where none are drawn.
    """

    svg: str
    css: str
    is_true: bool
    counts: str


def draw(engine: Engine, drive: TimingDrive, causes: Sequence[DrawnCause]) -> Picture:
    """Draw a drive with its marks as described, and as each cause would leave them.

    Parameters
    ----------
    engine : Engine
    drive : TimingDrive
    causes : sequence of DrawnCause
        The n-th is shown while the control ``d<n>`` is chosen.

    Returns
    -------
    Picture
    """
    frame = fit(drive)
    cam_wheels = moved_cam_wheels(causes)
    height = frame.height + (2.0 * SMALL_WHEEL + 88.0 if cam_wheels else 0.0)
    pen = Pen(Board(WIDTH, height))
    name_view(pen, frame)
    _axis(pen, frame)
    pen.back += [sprocket_outline(frame, d, pen.board) for d in sorted(frame.layout.discs, key=lambda d: -d.circle.r)]
    stands: dict[str, tuple[float, float] | None] = {}
    for stage in drive.stages:
        if stage.id in frame.layout.loops:
            pen.back.append(chain(frame, stage, frame.layout.loops[stage.id], pen.board))
            svg, stands[stage.id] = tensioner(frame, drive, stage, pen.board)
            pen.back.append(svg)
    smooth: list[tuple[Smooth, tuple[float, float]]] = []
    for one in frame.layout.smooth:
        svg, at = draw_smooth(frame, drive.stage(one.stage), one, pen.board)
        pen.back.append(svg)
        smooth.append((one, at))
        if one.kind == "tensioner":
            stands[one.stage] = at
    for shaft in frame.layout.shafts:
        draw_marks(pen, frame, drive, shaft, causes)
    wheels = asides(frame, engine, cam_wheels)
    for wheel in wheels:
        draw_aside(pen, wheel, causes)
    runs = pin_runs(frame, drive)
    pen.front.append(pins(frame, runs, pen.board))
    for wheel in wheels:
        name_sensor(pen, wheel)  # one word that must stand beside what it names: before those that may stand off
    # The outermost first: they have the least room.
    for shaft in sorted(frame.layout.shafts, key=lambda one: -abs(frame.layout.on(one)[0].circle.x)):
        name_shaft(pen, frame, engine, drive, shaft, causes)
    for wheel in wheels:
        name_aside(pen, engine, wheel)
    for run in runs:
        name_pins(pen, frame, run)
    named = [t for t in drive.stages if t.driver.shaft == CRANK and t.id in stands and drives_cams(drive, t)]
    for stage in named:
        name_sides(pen, frame, stage, stands[stage.id])
    for one, at in smooth:
        if one.kind != "tensioner" or drive.stage(one.stage) not in named:
            name_smooth(pen, frame, one, at)
    show_turning(pen, frame)
    for i, cause in enumerate(causes, start=1):
        words = moved_wheel_words(pen.board.copy(), wheels, cause)
        if words:
            pen.text.append(f'<g class="c c{i}">{words}</g>')
    label = escape(_told(engine, drive))
    svg = f'<svg viewBox="0 0 {dot(WIDTH)} {dot(height)}" role="img" aria-label="{label}">{pen.svg()}</svg>'
    return Picture(svg, _css(frame, causes), frame.layout.is_true, counting_rule(engine, runs))


def _axis(pen: Pen, frame: Frame) -> None:
    """The dash-dot axis from the crank to its wheel drawn aside or beneath."""
    x, y = frame.xy(0.0, 0.0)
    wx, wy = frame.wheel
    if wx == x:
        pen.back.append(f'<path class="cl" d="M{dot(x)} {dot(y - 30)}V{dot(wy + 30)}"/>')
        pen.board.segment(x, y, x, wy - WHEEL_RADIUS, 3.0)
        return
    pen.back.append(f'<path class="cl" d="M{dot(x - 30)} {dot(y)}H{dot(wx + 30)}"/>')
    pen.board.segment(x, y, wx - WHEEL_RADIUS, wy, 3.0)


def _css(frame: Frame, causes: Sequence[DrawnCause]) -> str:
    """The rules that turn the filled marks while a control is chosen; nothing else moves."""
    rules = []
    for i, cause in enumerate(causes, start=1):
        rules.append(f".drv:has(#d{i}:checked) .c{i}{{display:revert}}")
        for kind, moved in (("m", cause.marks), ("w", cause.wheels)):
            for name, deg, _ in moved:
                if abs(deg) >= 0.005:
                    turn = f"rotate({deg * frame.layout.turning.get(name, 1):.2f}deg)"
                    rules.append(f".drv:has(#d{i}:checked) .{kind}-{css_name(name)}{{transform:{turn}}}")
    return "".join(rules)


def _told(engine: Engine, drive: TimingDrive) -> str:
    """The picture for those who cannot see it."""
    said = []
    for stage in drive.stages:
        driven = ", then ".join(shaft_words(engine, sprocket.shaft) for sprocket in stage.driven)
        said.append(f"{stage_words(engine, stage)} from {shaft_words(engine, stage.driver.shaft)} to {driven}")
    marks = "Marks hollow where they belong, filled where the chosen cause leaves them."
    return f"Timing drive from the front: {'; '.join(said)}. Crank wheel drawn aside. {marks}"
