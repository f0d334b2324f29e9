"""The words of the picture: what each shaft is, pins, tight and slack side, which way it turns."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from witnessmark.case.assessment import DrawnCause
from witnessmark.catalogue.places import shaft_words
from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine
from witnessmark.report.drive.chain import PinRun, side_labels
from witnessmark.report.drive.frame import WIDTH, Frame
from witnessmark.report.drive.labels import LINE_HEIGHT, Box, around, size_of, text_width
from witnessmark.report.drive.marks import SMALLEST_SHOWN_DEG, hub_radius
from witnessmark.report.drive.outline import dot
from witnessmark.report.drive.pen import Lines, Pen, written
from witnessmark.report.words import angle, number

__all__ = ["counting_rule", "name_pins", "name_shaft", "name_sides", "name_view", "show_turning", "teeth_words"]


_BAR_MM = 100.0
_BAR_AT = 396.0  # between the words on the left and those on the right


def name_view(pen: Pen, frame: Frame) -> None:
    """From where it is seen, and whether it is to scale: with a length to compare where it is."""
    scale = "distances and angles true" if frame.layout.is_true else "not to scale; angles true"
    view = "from the front, at TDC of cylinder 1"
    pen.text.append(f'<text class="q" x="8" y="22">{view}</text><text class="q end" x="728" y="22">{scale}</text>')
    if frame.layout.unit_mm is not None:
        half = 0.5 * _BAR_MM / frame.layout.unit_mm * frame.scale
        words = f"{_BAR_MM:g} mm"
        x0, x1, gap = dot(_BAR_AT - half), dot(_BAR_AT + half), 0.5 * text_width(words) + 3.0
        line = f"M{x0} 11v12m0 -6H{dot(_BAR_AT - gap)}M{dot(_BAR_AT + gap)} 17H{x1}m0 -6v12"
        pen.text.append(f'<path class="bar" d="{line}"/><text class="mid q" x="{dot(_BAR_AT)}" y="22">{words}</text>')
    pen.board.words.append(Box(0.0, 0.0, WIDTH, 28.0))  # the whole line: nothing else is to be read with it


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


def _shaft_lines(engine: Engine, drive: TimingDrive, frame: Frame, shaft: str) -> Lines:
    kind = {stage.kind for stage in drive.stages if stage.driver.shaft == CRANK}
    name = ("crank gear" if kind == {"gear"} else "crank sprocket") if shaft == CRANK else _short_name(engine, shaft)
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


def _short_name(engine: Engine, shaft: str) -> str:
    """ "intake cam"; with more than one bank "bank 2 intake"."""
    if "." not in shaft or (engine.banks or 1) == 1:
        return shaft_words(engine, shaft)
    bank, kind = shaft[1:].split(".", 1)
    return f"bank {bank} {'cam' if kind == 'single' else kind}"


def name_shaft(
    pen: Pen, frame: Frame, engine: Engine, drive: TimingDrive, shaft: str, causes: Sequence[DrawnCause]
) -> None:
    """A shaft's name with its teeth and key, and how far each cause moves its mark.

    What a cause moves has a line of its own, which only that cause fills. A thin line leads to the
    sprocket where the words stand off from it.
    """
    lines = list(_shaft_lines(engine, drive, frame, shaft))
    moved = {i: deg for i, c in enumerate(causes, start=1) for name, deg, _ in c.marks if name == shaft}
    words = {i: angle(deg, ahead=True) for i, deg in moved.items() if abs(deg) >= SMALLEST_SHOWN_DEG}
    if words:
        longest = max(words.values(), key=text_width)
        size = size_of([*(text for text, _ in lines), longest])
        box = pen.board.place((size[0], size[1]), _shaft_places(frame, drive, shaft, size))
        pen.text.append(written(lines, Box(box.x0, box.y0, box.x1, box.y1 - LINE_HEIGHT)))
        last = Box(box.x0, box.y1 - LINE_HEIGHT, box.x1, box.y1)
        pen.text += [written([(text, f"c c{i}")], last) for i, text in words.items()]
    else:
        box = pen.write(lines, _shaft_places(frame, drive, shaft, size_of([text for text, _ in lines])))
    disc = frame.layout.on(shaft)[0]
    x, y = frame.xy(disc.circle.x, disc.circle.y)
    rim = disc.circle.r * frame.scale + 0.3 * frame.scale
    bx, by = min(max(x, box.x0), box.x1), min(max(y, box.y0), box.y1)
    gap = math.hypot(bx - x, by - y)
    if gap > rim + 20.0:
        ux, uy = (x - bx) / gap, (y - by) / gap
        foot = f"{dot(x - ux * (rim + 3))} {dot(y - uy * (rim + 3))}"
        pen.text.append(f'<path class="lead" d="M{dot(bx + 3 * ux)} {dot(by + 3 * uy)}L{foot}"/>')


def _shaft_places(
    frame: Frame, drive: TimingDrive, shaft: str, size: tuple[float, float]
) -> Iterator[tuple[float, float]]:
    """Inside the sprocket beneath its hub if there is room, above it, else around it."""
    disc = frame.layout.on(shaft)[0]
    x, y = frame.xy(disc.circle.x, disc.circle.y)
    r = disc.circle.r * frame.scale
    inner = r - 0.45 * frame.scale - 6.0
    if len(frame.layout.on(shaft)) == 1:
        down = hub_radius(frame, shaft) + 8.0 + size[1] / 2
        # The last line is the shorter one: the corners that must fit are those of the first.
        if math.hypot(size[0] / 2, down) < inner and down + size[1] / 2 < inner:
            yield x, y + down
            yield x, y - down
    first = -90.0
    if shaft == CRANK:
        first = 90.0
    elif any(stage.driver.shaft == shaft and "." not in shaft for stage in drive.stages):
        first = 180.0 if disc.circle.x < -0.1 else 0.0  # something stands above an idler: its words go outward
    yield from around(x, y, r + 0.3 * frame.scale + 4.0, size, first)


def name_pins(pen: Pen, frame: Frame, run: PinRun) -> None:
    """How many pins lie between two marks, beside the middle of their run."""
    what = "belt teeth" if run.stage.kind == "belt" else "pins"
    words = f"{run.count} {what} between"
    width, _ = size_of([words])
    x, y, nx, ny = run.middle
    spots = []
    for side in (1.0, -1.0):  # outside the chain, else inside it
        for away in (28.0, 36.0, 46.0, 60.0):
            reach = side * (0.3 * frame.scale + away)
            spots.append((x + nx * (reach + side * abs(nx) * width / 2), y + ny * reach))
    box = pen.write([(words, "q")], [*spots, *around(x, y, 20.0, (width, 19.0), 0.0)])
    n = len(run.places)
    gap, x, y, bx, by = min(_reach(box, px, py) for px, py, _, _ in run.places[n // 4 : n - n // 4])
    if gap > 0.3 * frame.scale + 48.0:  # so far off that a line has to say whose they are
        ux, uy = (x - bx) / gap, (y - by) / gap
        end = gap - 0.3 * frame.scale - 4.0
        pen.back.append(
            f'<path class="lead" d="M{dot(bx + 3 * ux)} {dot(by + 3 * uy)}l{dot(end * ux)} {dot(end * uy)}"/>'
        )


def _reach(box: Box, x: float, y: float) -> tuple[float, float, float, float, float]:
    """How far a point is from a box; the point; and the nearest of the box."""
    bx, by = min(max(x, box.x0), box.x1), min(max(y, box.y0), box.y1)
    return math.hypot(bx - x, by - y), x, y, bx, by


def name_sides(pen: Pen, frame: Frame, stage: Stage, tensioner: tuple[float, float] | None) -> None:
    """Which side is tight and which slack, and what the tensioner is."""
    for words, places in side_labels(frame, stage):
        with_tensioner = words == "slack side" and tensioner is not None
        lines = [("tensioner,", ""), (words, "")] if with_tensioner else [(words, "")]
        size = size_of([text for text, _ in lines])
        spots: list[tuple[float, float]] = []
        if with_tensioner and tensioner is not None:
            spots += list(around(*tensioner, 26.0, size, 90.0))[:66]
        for away in (14.0, 22.0):
            for x, y, nx, ny in places:
                reach = 0.3 * frame.scale + away
                dx, dy = nx * (reach + abs(nx) * size[0] / 2), ny * (reach + abs(ny) * size[1] / 2)
                spots += [(x - dx, y - dy), (x + dx, y + dy)]
        pen.write(lines, spots)


def show_turning(pen: Pen, frame: Frame) -> None:
    """An arc with an arrow: which way the crank is drawn turning; left out where there is no free place."""
    words = "drawn turning this way"
    size = (text_width(words), 60.0)
    cx, cy = frame.xy(0.0, 0.0)
    spots = [(cx + dx, cy - dy) for dy in range(60, 330, 12) for dx in (0, -20, 20, -45, 45, -80, 80)]
    spots += [(x, cy + dy) for dy in (-20, -60, -100, 20) for x in (size[0] / 2 + 12, size[0] / 2 + 50)]
    spots += [(cx + dx, cy - dy) for dy in (200, 240, 280, 320) for dx in (200, 240, 280)]
    if frame.wheel[0] == cx:  # a wide drive: below it, beside the crank wheel
        spots += [(cx + dx, cy + dy) for dy in (150, 190, 230) for dx in (-200, 200, -260, 260)]
    free = next((spot for spot in spots if pen.board.is_free(_around(spot, size))), None)
    if free is None:
        return
    box = pen.board.place(size, [free])
    x, y = box.middle[0], box.y0 + 32.0
    end, sweep = (1, 1) if frame.layout.turning[CRANK] > 0 else (-1, 0)
    pen.text.append(
        f'<path class="ax" d="M{dot(x - 30 * end)} {dot(y - 6)}A34 34 0 0 {sweep} {dot(x + 30 * end)} {dot(y - 6)}"/>'
        f'<path class="fil" d="M{dot(x + 33.5 * end)} {dot(y + 2)}l{-10 * end} -5l{9 * end} -5z"/>'
        f'<text class="mid q" x="{dot(x)}" y="{dot(y + 22)}">{words}</text>'
    )


def _around(at: tuple[float, float], size: tuple[float, float]) -> Box:
    return Box(at[0] - size[0] / 2, at[1] - size[1] / 2, at[0] + size[0] / 2, at[1] + size[1] / 2)


def counting_rule(engine: Engine, runs: Sequence[PinRun]) -> str:
    """How the pins were counted, in words; empty where none are drawn."""
    if not runs:
        return ""
    said = [f"{shaft_words(engine, run.near)} to {shaft_words(engine, run.far)} {run.count}" for run in runs]
    what = "Belt teeth" if all(run.stage.kind == "belt" for run in runs) else "Pins"
    rule = "Counted along the tight side, neither marked one in the count; one more or fewer is a tooth."
    return f"{what} between marks: {'; '.join(said)}. {rule}"
