"""Each shipped engine's drawing against its description: lengths in proportion, teeth, pins between marks, words apart.

What the picture says is read back from its SVG alone; what it should say is reckoned from the description alone. A
sprocket's pitch radius is its teeth times the pitch over 2 pi (the roll-on radius; docs/physics.md, "sprockets and
belts").
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from xml.etree import ElementTree

import pytest

from tests.unit.report.builders import seal_case
from tests.unit.report.engines import drawn_for
from witnessmark.engine.drive import Stage
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.types import Engine
from witnessmark.report.drawing import drive_drawing
from witnessmark.report.drive.labels import text_width
from witnessmark.report.drive.picture import draw

SHIPPED = [known.name for known in known_engines() if known.shipped]
TO_SCALE = [name for name in SHIPPED if "less known" not in name]


@dataclass(frozen=True)
class Outline:
    """A sprocket read back from its polygon."""

    x: float
    y: float
    r: float
    teeth: int


class Read:
    """What a picture shows, read back from its SVG."""

    def __init__(self, engine: Engine) -> None:
        assert engine.drive is not None
        self.engine, self.stages = engine, engine.drive.stages
        self.svg = draw(engine, engine.drive, drawn_for(engine)).svg
        self.root = ElementTree.fromstring(self.svg)
        bar = re.search(r'<path class="bar" d="M([\d.]+) 11v12m0 -6H[\d.]+M[\d.]+ 17H([\d.]+)m0 -6v12"', self.svg)
        self.px_per_mm = (float(bar[2]) - float(bar[1])) / 100.0 if bar else 0.0

    def outlines(self) -> Iterator[Outline]:
        """Closed polygons of four corners a tooth."""
        for path in self.root.iter("path"):
            points = [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d", ""))]
            closed = path.get("class") == "thin" and "A" not in path.get("d", "") and path.get("d", "").count("M") == 1
            if closed and len(points) % 4 == 0:
                teeth = len(points) // 4
                x, y = (sum(values) / len(points) for values in zip(*points, strict=True))
                tip = max(math.hypot(a - x, b - y) for a, b in points)
                yield Outline(x, y, tip / (1.0 + 0.26 * 2.0 * math.pi / teeth), teeth)

    def chains(self) -> dict[str, list[tuple[float, int]]]:
        """Radius and sweep flag of every arc of every chain or belt, stages in order."""
        drawn = [path.get("d", "") for path in self.root.iter("path") if path.get("class") in ("ch1", "belt")]
        arcs = [[(float(r), int(flag)) for r, flag in re.findall(r"A([\d.]+) [\d.]+ 0 \d (\d)", d)] for d in drawn]
        return dict(zip([stage.id for stage in self.stages], arcs, strict=True))

    def pins(self) -> list[list[tuple[float, float]]]:
        """The pins drawn between two marks, run after run."""
        drawn = [path.get("d", "") for path in self.root.iter("path") if path.get("class") == "pins"]
        return [[(float(x), float(y)) for x, y in re.findall(r"M(-?[\d.]+) (-?[\d.]+)h0", d)] for d in drawn]

    def counted(self) -> list[tuple[Stage, str, int]]:
        """Every described run of pins: stage, the sprocket it leads to, how many."""
        return [
            (stage, driven.shaft, int(driven.pins_before.exact))
            for stage in self.stages
            for driven in stage.driven
            if driven.pins_before.exact is not None
        ]


@pytest.fixture(scope="module")
def pictures() -> dict[str, Read]:
    return {name: Read(find_engine(name)) for name in SHIPPED}


def test_ten_engines_are_drawn_to_scale() -> None:
    assert len(TO_SCALE) >= 10


@pytest.mark.parametrize("name", TO_SCALE)
def test_centres_and_radii_are_in_proportion_to_the_description(name: str, pictures: dict[str, Read]) -> None:
    """All stages to one scale, the one that the bar of 100 mm shows; a tenth of a pixel is what coordinates hold."""
    picture = pictures[name]
    scale, outlines = picture.px_per_mm, list(picture.outlines())
    assert scale > 0.5
    described = [(stage, one) for stage in picture.stages for one in stage.sprockets]
    assert sorted(one.teeth for one in outlines) == sorted(int(s.teeth.exact or 0) for _, s in described)
    crank = picture.stages[0].driver
    origin = next(one for one in outlines if one.teeth == crank.teeth.exact)
    for stage, sprocket in described:
        assert sprocket.at_mm is not None
        assert stage.pitch_mm.exact is not None
        x, y = origin.x + scale * sprocket.at_mm[0], origin.y - scale * sprocket.at_mm[1]
        r = scale * stage.pitch_mm.exact * (sprocket.teeth.exact or 0.0) / (2.0 * math.pi)
        same = [one for one in outlines if one.teeth == sprocket.teeth.exact and math.hypot(one.x - x, one.y - y) < 0.6]
        assert same, (stage.id, sprocket.shaft)
        assert min(abs(one.r / r - 1.0) for one in same) < 0.01, (stage.id, sprocket.shaft)
    for (s, a), (t, b) in itertools.combinations(described, 2):  # and so are the distances of any two
        assert a.at_mm is not None
        assert b.at_mm is not None
        ends = [
            min(
                outlines,
                key=lambda o, at=one.at_mm, n=one.teeth.exact: (
                    o.teeth != n, math.hypot(o.x - origin.x - scale * at[0], o.y - origin.y + scale * at[1])
                ),
            )
            for one in (a, b)
        ]  # fmt: skip
        apart = math.hypot(ends[0].x - ends[1].x, ends[0].y - ends[1].y)
        assert apart == pytest.approx(scale * math.dist(a.at_mm, b.at_mm), abs=0.5), (s.id, t.id)


@pytest.mark.parametrize("name", TO_SCALE)
def test_the_chain_lies_on_its_sprockets_and_its_back_on_rollers(name: str, pictures: dict[str, Read]) -> None:
    """One arc for each wheel with the wheel's radius; those of rollers behind the belt bend the other way."""
    picture = pictures[name]
    for stage in picture.stages:
        round_one = (stage.pitch_mm.exact or 0.0) / (2.0 * math.pi)
        wanted = [(round_one * (one.teeth.exact or 0.0), 0) for one in stage.sprockets]
        wanted += [(0.5 * (roller.diameter_mm.exact or 0.0), int(roller.back)) for roller in stage.rollers]
        drawn = picture.chains()[stage.id]
        assert len(drawn) == len(wanted)
        for (r, flag), (mm, bent) in zip(sorted(drawn), sorted(wanted), strict=True):
            assert r == pytest.approx(mm * picture.px_per_mm, abs=0.2, rel=2e-3)
            assert flag == bent


@pytest.mark.parametrize("name", TO_SCALE)
def test_as_many_pins_lie_between_two_marks_as_are_described(name: str, pictures: dict[str, Read]) -> None:
    """Evenly, a pitch apart where the chain is straight; marked pins lie at both ends, one more pitch away."""
    picture = pictures[name]
    runs, counted = picture.pins(), picture.counted()
    assert [len(run) for run in runs] == [count for _, _, count in counted]
    marked = re.findall(r'<circle class="fil" cx="([\d.]+)" cy="([\d.]+)" r="[\d.]+"/>', picture.svg)
    ends = [(float(x), float(y)) for x, y in marked]
    for run, (stage, shaft, _) in zip(runs, counted, strict=True):
        pitch = (stage.pitch_mm.exact or 0.0) * picture.px_per_mm
        steps = [math.dist(a, b) for a, b in itertools.pairwise(run)]
        assert max(steps) <= pitch + 0.25, (stage.id, shaft)
        straight = [step for step in steps if step > pitch - 0.25]
        assert len(straight) > len(steps) / 4
        assert min(steps) > 0.9 * pitch  # a chord of the arc on the smallest sprocket is little shorter
        for first in (run[0], run[-1]):
            assert min(abs(math.dist(first, end) - pitch) for end in ends) < 0.05 * pitch + 0.3


@pytest.mark.parametrize("name", TO_SCALE)
def test_pins_are_numbered_first_every_fifth_and_last(name: str, pictures: dict[str, Read]) -> None:
    """Each number stands beside the pin it counts. One in ten may be left out where there is no room."""
    picture = pictures[name]
    texts = [
        (float(t.get("x", 0)), float(t.get("y", 0)) - 4.6, t.text or "")
        for t in picture.root.iter("text")
        if "pn" in (t.get("class") or "").split()
    ]
    wanted = there = 0
    for run, (stage, shaft, count) in zip(picture.pins(), picture.counted(), strict=True):
        numbers = {1, count, *(k for k in range(5, count - 1, 5))}
        pitch = (stage.pitch_mm.exact or 0.0) * picture.px_per_mm
        for k in numbers:
            x, y = run[k - 1]
            near = [math.hypot(tx - x, ty - y) for tx, ty, text in texts if text == str(k)]
            found = bool(near) and min(near) < 0.3 * max(pitch, 8.0) + 24.0
            wanted, there = wanted + 1, there + found
            assert found or k not in (5, count), (stage.id, shaft, k)
    assert there >= 0.9 * wanted


@pytest.mark.parametrize("name", TO_SCALE)
def test_rollers_and_rails_stand_where_they_are_described(name: str, pictures: dict[str, Read]) -> None:
    picture = pictures[name]
    scale = picture.px_per_mm
    origin = next(one for one in picture.outlines() if one.teeth == picture.stages[0].driver.teeth.exact)
    circles = [
        (float(x), float(y), float(r))
        for x, y, r in re.findall(r'<circle class="body" cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"/>', picture.svg)
    ]
    bows = re.findall(
        r'<path class="guide" d="M([\d.]+) ([\d.]+)A([\d.]+) [\d.]+ 0 0 \d ([\d.]+) ([\d.]+)"', picture.svg
    )
    rollers = [(stage, roller) for stage in picture.stages for roller in stage.rollers]
    assert len(circles) + len(bows) == len(rollers)
    for _, roller in rollers:
        assert roller.at_mm is not None
        x, y = origin.x + scale * roller.at_mm[0], origin.y - scale * roller.at_mm[1]
        r = 0.5 * scale * (roller.diameter_mm.exact or 0.0)
        if (
            roller.diameter_mm.exact and roller.diameter_mm.exact <= 200.0
        ):  # a roller: the middle of the belt less half of it
            assert any(math.hypot(a - x, b - y) < 0.6 and r - 8.0 < c < r for a, b, c in circles), roller.id
        else:  # a rail: both its ends lie on its circle
            ends = [[(float(b[0]), float(b[1])), (float(b[3]), float(b[4]))] for b in bows]
            assert any(all(r - 12.0 < math.dist((x, y), end) < r for end in pair) for pair in ends), roller.id


@pytest.mark.parametrize("name", SHIPPED)
def test_the_word_sensor_stands_beside_the_sensor(name: str, pictures: dict[str, Read]) -> None:
    picture = pictures[name]
    drawn = re.findall(r'<path class="body" d="M([\d.]+) ([\d.]+)V[\d.]+H[\d.]+V[\d.]+Z"', picture.svg)
    words = re.findall(r'<text class="mid q" x="([\d.]+)" y="([\d.]+)">sensor</text>', picture.svg)
    assert len(drawn) == len(words)
    for (x, foot), (at_x, at_y) in zip(drawn, words, strict=True):
        # From the middle of its box, 24 high; nothing else fits between.
        assert math.hypot(float(at_x) - float(x) - 7.0, float(at_y) - float(foot) + 12.0) < 50.0


@pytest.mark.parametrize("name", SHIPPED)
def test_no_words_stand_over_others_while_any_cause_is_shown(name: str, pictures: dict[str, Read]) -> None:
    """By the program's own estimate of widths, on the wide side; tests/doors measures them in a browser."""
    picture = pictures[name]
    shown: list[tuple[set[str], tuple[float, float, float, float], str]] = []
    width = float(picture.root.get("viewBox", "").split()[2])

    def walk(node: ElementTree.Element, causes: set[str]) -> None:
        names = set((node.get("class") or "").split())
        causes = causes | {one for one in names if re.fullmatch(r"c\d", one)}
        if node.tag == "text":
            size = 13.0 if "pn" in names else 15.0
            text, x, y = node.text or "", float(node.get("x", 0)), float(node.get("y", 0))
            wide = 0.94 * text_width(text, size)  # the estimate is some 6 % wide
            left = x - wide / 2 if names & {"mid", "pn"} else x - wide if "end" in names else x
            shown.append((causes, (left, y - 0.66 * size, left + wide, y + 0.1 * size), text))
        for inner in node:
            walk(inner, causes)

    walk(picture.root, set())
    over = [
        (a[2], b[2])
        for a, b in itertools.combinations(shown, 2)
        if (not a[0] or not b[0] or a[0] & b[0])
        and min(a[1][2], b[1][2]) - max(a[1][0], b[1][0]) > 1.0
        and min(a[1][3], b[1][3]) - max(a[1][1], b[1][1]) > 1.0
    ]
    assert not over
    assert all(box[0] > -2.0 and box[2] < width + 2.0 for _, box, _ in shown)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_drawing_says_whether_it_is_to_scale(name: str, pictures: dict[str, Read]) -> None:
    """A length to compare stands in those that are, and in no sketch."""
    svg = pictures[name].svg
    is_true = name in TO_SCALE
    assert ("distances and angles true" in svg) == ("100 mm" in svg) == is_true
    assert ("not to scale" in svg) != is_true


def test_the_caption_says_what_is_true_and_what_was_placed_by_eye() -> None:
    """The tensioner of the five is described; that of the four stands out 6 mm, but nobody said where."""

    def caption(name: str) -> str:
        drawing = drive_drawing(replace(seal_case(), engine=find_engine(name), drawn=()))
        assert drawing is not None
        return drawing.caption

    assert "to scale" in caption("made-up five")
    assert "Where a tensioner stands is not described" not in caption("made-up five")
    assert "Where a tensioner stands is not described" in caption("made-up four")
    assert "Not to scale" in caption("made-up four, less known")


def test_what_is_not_described_is_not_drawn_to_scale(pictures: dict[str, Read]) -> None:
    """The short chain of the V8 has no tensioner; nobody described one, and none is drawn."""
    assert 'class="guide"' not in pictures["made-up V8 with pushrods"].svg
    assert "tensioner" not in pictures["made-up V8 with pushrods"].svg
    assert "slack side" in pictures["made-up V8 with pushrods"].svg
