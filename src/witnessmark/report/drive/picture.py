"""The whole picture of a timing drive: what is drawn, where each word goes, and what each cause moves."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from html import escape

from witnessmark.case.assessment import DrawnCause
from witnessmark.catalogue.places import shaft_words, stage_words
from witnessmark.engine.drive import CRANK, Sprocket, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine
from witnessmark.report.drive.chain import chain, pin_runs, pins, side_labels, sprocket_outline, tensioner
from witnessmark.report.drive.frame import WHEEL_RADIUS, WIDTH, Frame, fit
from witnessmark.report.drive.labels import LINE_HEIGHT, Board, Box, around, size_of, text_width
from witnessmark.report.drive.layout import Disc
from witnessmark.report.drive.outline import dot, tone_wheel, wedge
from witnessmark.report.drive.wheel import WheelPicture, cam_wheel_picture, crank_wheel_picture, direction
from witnessmark.report.naming import wheel_words
from witnessmark.report.words import NBSP, angle, number

__all__ = ["Picture", "draw"]

_SMALL_WHEEL = 46.0
_SMALLEST_SHOWN_DEG = 0.3  # what moves less is in its place, to the eye


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


@dataclass(slots=True)
class _Pen:
    """What is drawn so far: layers from back to front, and the board that knows what is where."""

    board: Board
    back: list[str] = field(default_factory=list)
    front: list[str] = field(default_factory=list)
    text: list[str] = field(default_factory=list)


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
    moved = _moved_cam_wheels(causes)
    height = frame.height + (2 * _SMALL_WHEEL + 76.0 if moved else 0.0)
    pen = _Pen(Board(WIDTH, height))
    _frame_words(pen, frame)
    wheel = crank_wheel_picture(engine.wheel(CRANK))
    _axis(pen, frame)
    for disc in sorted(frame.layout.discs, key=lambda d: -d.circle.r):
        pen.back.append(sprocket_outline(frame, disc, pen.board))
    for stage in drive.stages:
        if stage.id in frame.layout.loops:
            pen.back.append(chain(frame, stage, frame.layout.loops[stage.id], pen.board))
    runs = pin_runs(frame, drive)
    blocks = [(stage, *tensioner(frame, stage, pen.board)) for stage in drive.stages]
    pen.back += [svg for _, svg, _ in blocks]
    for shaft in frame.layout.shafts:
        _marks(pen, frame, drive, shaft, causes)
    _crank_wheel(pen, frame, engine, wheel, causes)
    small = _cam_wheels(pen, frame, engine, moved, causes)
    pen.front.append(pins(frame, runs, pen.board))
    _words(pen, frame, engine, drive, runs, [(stage, at) for stage, _, at in blocks])
    _wheel_words(pen, frame, engine, wheel, small)
    for i, cause in enumerate(causes, start=1):
        _cause_words(pen, frame, i, cause, wheel, small)
    label = escape(_told(engine, drive, frame))
    body = "".join((*pen.back, *pen.front, *pen.text))
    svg = f'<svg viewBox="0 0 {dot(WIDTH)} {dot(height)}" role="img" aria-label="{label}">{body}</svg>'
    return Picture(svg, _css(frame, causes), frame.layout.is_true, _counting(engine, runs))


def css_name(shaft: str) -> str:
    """A shaft's id as a class name."""
    return re.sub(r"[^a-z0-9]+", "-", shaft.lower())


# ---------------------------------------------------------------- words


def _write(pen: _Pen, lines: Sequence[tuple[str, str]], box: Box) -> str:
    """Lines of (text, class) centred in a box."""
    x, scale = dot(box.middle[0]), (box.y1 - box.y0) / (LINE_HEIGHT * len(lines))
    rows = []
    for i, (text, css) in enumerate(lines):
        y = dot(box.y0 + LINE_HEIGHT * scale * (i + 0.76))
        rows.append(f'<text class="{f"mid {css}".strip()}" x="{x}" y="{y}">{escape(text)}</text>')
    return "".join(rows)


def _put(
    pen: _Pen, lines: Sequence[tuple[str, str]], candidates: Iterable[tuple[float, float]], board: Board | None = None
) -> tuple[str, Box]:
    size = size_of([text for text, _ in lines])
    box = (board or pen.board).place(size, candidates)
    return _write(pen, lines, box), box


def _frame_words(pen: _Pen, frame: Frame) -> None:
    scale = "to scale" if frame.layout.is_true else "not to scale; angles true"
    view = "from the front, at TDC of cylinder 1"
    pen.text.append(f'<text class="q" x="8" y="22">{view}</text><text class="q end" x="728" y="22">{scale}</text>')
    pen.board.words.append(Box(0.0, 4.0, 12.0 + text_width(view), 28.0))
    pen.board.words.append(Box(724.0 - text_width(scale), 4.0, WIDTH, 28.0))


def teeth_words(teeth: Number) -> str:
    """How many teeth, as far as it is known: "40 teeth", "36 or 38 teeth", "teeth not known"."""
    if teeth.exact is not None:
        return f"{number(teeth.exact)} teeth"
    if teeth.values and len(teeth.values) <= 3:
        return f"{' or '.join(number(v) for v in teeth.values)} teeth"
    if teeth.values:
        return f"{number(min(teeth.values))} to {number(max(teeth.values))} teeth"
    if teeth.low is not None and teeth.high is not None:
        return f"{number(teeth.low)} to {number(teeth.high)} teeth"
    return "teeth not known"


def _key_words(sprocket: Sprocket) -> str:
    return {True: ", keyed", False: ", no key", None: ""}[sprocket.keyed]


def _shaft_lines(engine: Engine, drive: TimingDrive, frame: Frame, shaft: str) -> list[tuple[str, str]]:
    name = "crank sprocket" if shaft == CRANK else shaft_words(engine, shaft)
    discs = frame.layout.on(shaft)
    lines = [(name, "")]
    for disc in discs:
        stage = drive.stage(disc.stage)
        sprocket = stage.sprocket_on(shaft)
        words = teeth_words(sprocket.teeth) + _key_words(sprocket)
        if len(discs) > 1:
            words += f", {stage.id.replace('_', ' ')}"
        lines.append((words, "q"))
    return lines


def _words(
    pen: _Pen,
    frame: Frame,
    engine: Engine,
    drive: TimingDrive,
    runs: Sequence,
    blocks: Sequence,  # type: ignore[type-arg]
) -> None:
    for shaft in frame.layout.shafts:
        lines = _shaft_lines(engine, drive, frame, shaft)
        svg, box = _put(pen, lines, _shaft_places(frame, shaft, size_of([t for t, _ in lines])))
        pen.text.append(svg)
        pen.text.append(_leader(frame, shaft, box))
    for run in runs:
        what = "belt teeth" if run.stage.kind == "belt" else "pins"
        x, y, nx, ny = run.middle
        away = 0.3 * frame.scale + 26.0
        line = [(f"{run.count} {what} between", "q")]
        size = size_of([line[0][0]])
        spots = [
            (x + nx * d + abs(nx) * size[0] / 2 * (1 if nx > 0 else -1), y + ny * d)
            for d in (away, away + 14, away + 30)
        ]
        pen.text.append(_put(pen, line, [*spots, *around(x, y, 14.0, size, 0.0)])[0])
    for stage, at in blocks:
        if stage.driver.shaft == CRANK and stage.id in frame.layout.loops:
            _sides(pen, frame, stage, at)
    _turning(pen, frame)


def _shaft_places(frame: Frame, shaft: str, size: tuple[float, float]) -> Iterator[tuple[float, float]]:
    """Inside the sprocket beneath its hub if there is room, above it, else around it."""
    disc = frame.layout.on(shaft)[0]
    x, y = frame.xy(disc.circle.x, disc.circle.y)
    r = disc.circle.r * frame.scale
    hub = _hub(frame, shaft)
    inner = r - 0.45 * frame.scale - 4.0
    if len(frame.layout.on(shaft)) == 1:
        down = hub + 10.0 + size[1] / 2
        for side in (1.0, -1.0):
            far = down + size[1] / 2
            if math.hypot(size[0] / 2, far) < inner or (
                math.hypot(size[0] / 2, down) < inner and math.hypot(size[0] / 2.6, far) < inner
            ):
                yield x, y + side * down
    first = 90.0 if shaft == CRANK else -90.0
    yield from around(x, y, r + 0.3 * frame.scale, size, first)


def _leader(frame: Frame, shaft: str, box: Box) -> str:
    """A thin line to the sprocket where its words stand off from it."""
    disc = frame.layout.on(shaft)[0]
    x, y = frame.xy(disc.circle.x, disc.circle.y)
    r = disc.circle.r * frame.scale
    bx, by = min(max(x, box.x0), box.x1), min(max(y, box.y0), box.y1)
    gap = math.hypot(bx - x, by - y)
    if gap < r + 0.3 * frame.scale + 20.0:
        return ""
    ux, uy = (x - bx) / gap, (y - by) / gap
    return (
        f'<path class="lead" d="M{dot(bx + 3 * ux)} {dot(by + 3 * uy)}'
        f'L{dot(x - ux * (r + 0.3 * frame.scale + 3))} {dot(y - uy * (r + 0.3 * frame.scale + 3))}"/>'
    )


def _sides(pen: _Pen, frame: Frame, stage, block: tuple[float, float] | None) -> None:  # type: ignore[no-untyped-def]
    for words, places in side_labels(frame, stage):
        lines = [(words, "")]
        if words == "slack side" and block is not None:
            lines = [("tensioner,", ""), ("slack side", "")]
        size = size_of([text for text, _ in lines])
        spots: list[tuple[float, float]] = []
        if len(lines) == 2 and block is not None:
            spots += list(around(*block, 24.0, size, 90.0))[:12]
        for x, y, nx, ny in places:
            for away in (14.0, 22.0):
                reach = away + abs(nx) * size[0] / 2 + abs(ny) * size[1] / 2
                spots += [(x + nx * reach, y + ny * reach), (x - nx * reach, y - ny * reach)]
        pen.text.append(_put(pen, lines, spots)[0])


def _turning(pen: _Pen, frame: Frame) -> None:
    """An arc with an arrow: which way the crank is drawn turning; left out where there is no free place for it."""
    turning = frame.layout.turning[CRANK]
    words = "drawn turning this way"
    size = (text_width(words), 62.0)
    cx, cy = frame.xy(0.0, 0.0)
    spots = [(cx + dx, cy + dy) for dy in range(-60, -300, -12) for dx in (0, -20, 20, -45, 45, -80, 80)]
    spots += [(0.5 * size[0] + 10 + dx, cy + dy) for dy in (0, -40, 40, -90) for dx in (0, 40, 80)]
    spots = sorted(spots, key=lambda p: pen.board.cost(_box(p, size)))[:1] + spots
    if pen.board.cost(_box(spots[0], size)) > 0.0:
        return
    box = pen.board.place(size, spots[:1])
    x, y = box.middle[0], box.y0 + 34.0
    sweep, end = (1, 1.0) if turning > 0 else (0, -1.0)
    pen.text.append(
        f'<path class="ax" d="M{dot(x - 30 * end)} {dot(y - 6)}A34 34 0 0 {sweep} {dot(x + 30 * end)} {dot(y - 6)}"/>'
        f'<path class="fil" d="M{dot(x + 32.5 * end)} {dot(y + 2)}l{dot(-9 * end)} -4.5l{dot(9.5 * end)} -4.5z"/>'
        f'<text class="mid q" x="{dot(x)}" y="{dot(y + 22)}">{words}</text>'
    )


def _box(at: tuple[float, float], size: tuple[float, float]) -> Box:
    return Box(at[0] - size[0] / 2, at[1] - size[1] / 2, at[0] + size[0] / 2, at[1] + size[1] / 2)


# ---------------------------------------------------------------- marks


def _hub(frame: Frame, shaft: str) -> float:
    smallest = min(d.circle.r for d in frame.layout.on(shaft)) * frame.scale
    return max(7.0, min(19.0, 0.3 * smallest))


def _mark_radii(frame: Frame, disc: Disc) -> tuple[float, float, float, float]:
    """Where a ray begins, the filled mark, the hollow mark, and where the ray ends, in pixels from the centre."""
    r = disc.circle.r * frame.scale
    smaller = [d.circle.r * frame.scale for d in frame.layout.on(disc.shaft) if d.circle.r < disc.circle.r]
    inner = max(smaller) + 0.45 * frame.scale if smaller else _hub(frame, disc.shaft)
    root = r - 0.34 * frame.scale
    return inner, inner + 0.36 * (root - inner), inner + 0.76 * (root - inner), root


def _marks(pen: _Pen, frame: Frame, drive: TimingDrive, shaft: str, causes: Sequence[DrawnCause]) -> None:
    discs = frame.layout.on(shaft)
    x, y = frame.xy(discs[0].circle.x, discs[0].circle.y)
    filled: list[str] = []
    for disc in discs:
        inner, near, far, root = _mark_radii(frame, disc)
        c, s = math.cos(disc.mark), -math.sin(disc.mark)
        size = min(6.0, max(3.2, 0.16 * (root - inner)))
        pen.front.append(
            f'<path class="ray" d="M{dot(x + c * inner)} {dot(y + s * inner)}L{dot(x + c * root)} {dot(y + s * root)}"/>'
            f'<circle class="hol" cx="{dot(x + c * far)}" cy="{dot(y + s * far)}" r="{dot(size)}"/>'
        )
        bands = "".join(
            f'<path class="band c c{i}" d="{wedge(x, y, inner, root, disc.mark, 2 * sd)}"/>'
            for i, cause in enumerate(causes, start=1)
            for name, _, sd in cause.marks
            if name == shaft and sd > 0.05
        )
        filled.append(
            f'{bands}<path class="ray2" d="M{dot(x + c * inner)} {dot(y + s * inner)}L{dot(x + c * near)} {dot(y + s * near)}"/>'
            f'<circle class="fil" cx="{dot(x + c * near)}" cy="{dot(y + s * near)}" r="{dot(size)}"/>'
        )
        pen.board.segment(x, y, x + c * root, y + s * root, 6.0)
        pen.board.circle(x + c * near, y + s * near, 4.0, 5.0)
    pen.front.append(_turned(f"m-{css_name(shaft)}", x, y, "".join(filled)))
    pen.front.append(_hub_svg(frame, drive, shaft, x, y))
    pen.board.draw([(x, y)], _hub(frame, shaft) + 2.0)


def _turned(name: str, x: float, y: float, inner: str) -> str:
    return f'<g class="mv {name}" style="transform-origin:{dot(x)}px {dot(y)}px">{inner}</g>'


def _hub_svg(frame: Frame, drive: TimingDrive, shaft: str, x: float, y: float) -> str:
    """A plain hub; with a key where one is described, six-sided where a bolt alone holds it."""
    r = _hub(frame, shaft)
    known = {s.keyed for _, s in drive.meshes() if s.shaft == shaft}
    mark = frame.layout.on(shaft)[0].mark
    return hub(x, y, r, True if True in known else (False if False in known else None), mark)


def hub(x: float, y: float, r: float, keyed: bool | None, mark: float) -> str:
    """The end of a shaft as SVG; the key stands opposite the mark."""
    if keyed is False:
        points = [(x + r * math.cos(math.radians(60 * k)), y + r * math.sin(math.radians(60 * k))) for k in range(6)]
        return f'<path class="hub" d="M{"L".join(f"{dot(a)} {dot(b)}" for a, b in points)}Z"/>'
    circle = f'<circle class="hub" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r)}"/>'
    if keyed is None:
        return circle
    w, h = max(5.0, 0.45 * r), max(6.0, 0.5 * r)
    turn = math.degrees(-mark) - 90.0
    return circle + (
        f'<rect class="key" x="{dot(-w / 2)}" y="{dot(r - h / 2)}" width="{dot(w)}" height="{dot(h)}" '
        f'transform="translate({dot(x)} {dot(y)}) rotate({dot(turn + 180.0)})"/>'
    )


# ---------------------------------------------------------------- wheels drawn aside


def _axis(pen: _Pen, frame: Frame) -> None:
    x, y = frame.xy(0.0, 0.0)
    wx, wy = frame.wheel
    pen.back.append(f'<path class="cl" d="M{dot(x - 30)} {dot(y)}H{dot(wx + 30)}"/>')
    pen.board.segment(x, y, wx - WHEEL_RADIUS, wy, 3.0)


def _wheel_svg(
    pen: _Pen,
    at: tuple[float, float],
    r: float,
    picture: WheelPicture,
    turning: int,
    name: str,
    keyed: bool | None,
    bands: Sequence[tuple[int, float]],
) -> None:
    x, y = at
    index = direction(picture, turning)
    mark = index + turning * math.radians(picture.mark)
    if picture.teeth:
        teeth = picture.teeth if turning > 0 else tuple((-b, -a) for a, b in picture.teeth)
        face = f'<circle class="thin" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r)}"/>'
        face += f'<path class="thin" d="{tone_wheel(x, y, r, teeth, index)}"/>'
    else:
        face = f'<circle class="thin unk" cx="{dot(x)}" cy="{dot(y)}" r="{dot(r + 4)}"/>'
    c, s = math.cos(mark), -math.sin(mark)
    small = 0.24 * r
    near, out = 0.72 * r, r + 20.0
    moving = "".join(
        f'<path class="band c c{i}" d="{wedge(x, y, small, out, mark, 2 * sd)}"/>' for i, sd in bands if sd > 0.05
    )
    moving += face
    moving += (
        f'<path class="ray2" d="M{dot(x + c * small)} {dot(y + s * small)}L{dot(x + c * near)} {dot(y + s * near)}"/>'
    )
    moving += (
        f'<circle class="fil" cx="{dot(x + c * near)}" cy="{dot(y + s * near)}" r="{dot(min(6.0, 0.08 * r + 1))}"/>'
    )
    pen.front.append(_turned(f"w-{css_name(name)}", x, y, moving))
    pen.front.append(
        f'<path class="ray" d="M{dot(x + c * small)} {dot(y + s * small)}L{dot(x + c * (out - 5))} {dot(y + s * (out - 5))}"/>'
        f'<circle class="hol" cx="{dot(x + c * out)}" cy="{dot(y + s * out)}" r="{dot(min(6.0, 0.08 * r + 1))}"/>'
    )
    pen.front.append(hub(x, y, small, keyed, mark))
    if picture.at_tdc is not None:
        top = y - r - 14.0
        pen.front.append(f'<path class="body" d="M{dot(x - 7)} {dot(top)}V{dot(top - 24)}H{dot(x + 7)}V{dot(top)}Z"/>')
        pen.board.segment(x, top, x, top - 24.0, 8.0)
    for radius in (r + 9.0, 0.7 * r, 0.35 * r):
        pen.board.circle(x, y, radius, 9.0)
    pen.board.segment(x, y, x + c * out, y + s * out, 7.0)


def _crank_wheel(pen: _Pen, frame: Frame, engine: Engine, picture: WheelPicture, causes: Sequence[DrawnCause]) -> None:
    described = engine.wheel(CRANK)
    keyed = described.keyed if described is not None else None
    bands = [(i, sd) for i, cause in enumerate(causes, start=1) for name, _, sd in cause.wheels if name == CRANK]
    _wheel_svg(pen, frame.wheel, WHEEL_RADIUS, picture, frame.layout.turning[CRANK], CRANK, keyed, bands)


def _moved_cam_wheels(causes: Sequence[DrawnCause]) -> list[str]:
    moved = [
        name for cause in causes for name, deg, _ in cause.wheels if name != CRANK and abs(deg) >= _SMALLEST_SHOWN_DEG
    ]
    return list(dict.fromkeys(moved))[:3]


def _cam_wheels(
    pen: _Pen, frame: Frame, engine: Engine, moved: list[str], causes: Sequence[DrawnCause]
) -> list[tuple[str, tuple[float, float], WheelPicture]]:
    """The wheels of those cams that some cause moves, in a row beneath."""
    found = []
    for k, name in enumerate(moved):
        at = (WIDTH * (k + 0.5) / len(moved), frame.height + _SMALL_WHEEL + 22.0)
        described = engine.wheel(name)
        picture = cam_wheel_picture(described)
        keyed = described.keyed if described is not None else None
        bands = [(i, sd) for i, cause in enumerate(causes, start=1) for n, _, sd in cause.wheels if n == name]
        _wheel_svg(pen, at, _SMALL_WHEEL, picture, frame.layout.turning.get(name, 1), name, keyed, bands)
        found.append((name, at, picture))
    return found


def _wheel_words(
    pen: _Pen,
    frame: Frame,
    engine: Engine,
    picture: WheelPicture,
    small: Sequence[tuple[str, tuple[float, float], WheelPicture]],
) -> None:
    rows = [(CRANK, frame.wheel, picture, WHEEL_RADIUS), *((n, at, p, _SMALL_WHEEL) for n, at, p in small)]
    for name, (x, y), face, r in rows:
        described = engine.wheel(name)
        key = {True: ", keyed", False: ", no key", None: ""}[described.keyed if described is not None else None]
        lines = [(f"{wheel_words(engine, name)}, drawn aside", ""), (f"{face.words}{key}", "q")]
        pen.text.append(_put(pen, lines, around(x, y, r + 9.0, size_of([t for t, _ in lines]), 90.0))[0])
        turning = frame.layout.turning.get(name, 1)
        mark = direction(face, turning) + turning * math.radians(face.mark)
        hx, hy = x + (r + 20.0) * math.cos(mark), y - (r + 20.0) * math.sin(mark)
        outward = math.degrees(-mark)
        pen.text.append(
            _put(pen, [(face.mark_words, "")], around(hx, hy, 7.0, size_of([face.mark_words]), outward - 60.0))[0]
        )
        if face.at_tdc is not None:
            spots = around(x, y - r - 26.0, 9.0, size_of(["sensor"]), 0.0)
            pen.text.append(_put(pen, [("sensor", "q")], spots)[0])


# ---------------------------------------------------------------- what a cause moves


def _cause_words(
    pen: _Pen,
    frame: Frame,
    i: int,
    cause: DrawnCause,
    picture: WheelPicture,
    small: Sequence[tuple[str, tuple[float, float], WheelPicture]],
) -> None:
    """How far each moved mark stands off, written while this cause is shown."""
    board = pen.board.copy()
    parts: list[str] = []
    for shaft, deg, sd in cause.marks:
        if abs(deg) >= _SMALLEST_SHOWN_DEG and shaft in frame.layout.shafts:
            disc = frame.layout.on(shaft)[0]
            x, y = frame.xy(disc.circle.x, disc.circle.y)
            _, near, _, _ = _mark_radii(frame, disc)
            turned = disc.mark - frame.layout.turning[shaft] * math.radians(deg)
            words = angle(deg, sd, ahead=True)
            size = size_of([words])
            spots = [*around(x + near * math.cos(turned), y - near * math.sin(turned), 8.0, size, 0.0)]
            spots += around(x, y, disc.circle.r * frame.scale + 0.3 * frame.scale, size, -90.0)
            parts.append(_put(pen, [(words, "")], spots, board)[0])
    places = {CRANK: (frame.wheel, WHEEL_RADIUS, picture)} | {n: (at, _SMALL_WHEEL, p) for n, at, p in small}
    for name, deg, sd in cause.wheels:
        if abs(deg) >= _SMALLEST_SHOWN_DEG and name in places:
            (x, y), r, face = places[name]
            turning = frame.layout.turning.get(name, 1)
            mark = direction(face, turning) + turning * (math.radians(face.mark) - math.radians(deg))
            words = angle(deg, sd)
            hx, hy = x + (r + 20.0) * math.cos(mark), y - (r + 20.0) * math.sin(mark)
            spots = around(hx, hy, 8.0, size_of([words]), math.degrees(-mark))
            parts.append(_put(pen, [(words, "")], spots, board)[0])
    if parts:
        pen.text.append(f'<g class="c c{i}">{"".join(parts)}</g>')


def _css(frame: Frame, causes: Sequence[DrawnCause]) -> str:
    """The rules that turn the filled marks while a control is chosen; nothing else moves."""
    rules = []
    for i, cause in enumerate(causes, start=1):
        rules.append(f".drv:has(#d{i}:checked) .c{i}{{display:revert}}")
        for kind, moved in (("m", cause.marks), ("w", cause.wheels)):
            for name, deg, _ in moved:
                if abs(deg) >= 0.005:
                    turn = deg * frame.layout.turning.get(name, 1)
                    rules.append(f".drv:has(#d{i}:checked) .{kind}-{css_name(name)}{{transform:rotate({turn:.2f}deg)}}")
    return "".join(rules)


def _counting(engine: Engine, runs: Sequence) -> str:  # type: ignore[type-arg]
    said = []
    for run in runs:
        what = "belt teeth" if run.stage.kind == "belt" else "pins"
        said.append(
            f"{run.count}{NBSP}{what} between the marks of {shaft_words(engine, run.near)} and {shaft_words(engine, run.far)}"
        )
    if not said:
        return ""
    return f"{'; '.join(said)}: along the tight side, neither marked one counted. One more or fewer is a tooth."


def _told(engine: Engine, drive: TimingDrive, frame: Frame) -> str:
    """The picture for those who cannot see it."""
    said = []
    for stage in drive.stages:
        driven = ", then ".join(shaft_words(engine, s.shaft) for s in stage.driven)
        said.append(f"{stage_words(engine, stage)} from {shaft_words(engine, stage.driver.shaft)} to {driven}")
    return f"Timing drive from the front: {'; '.join(said)}. Crank wheel drawn aside. Marks hollow as described, filled as the chosen cause leaves them."
