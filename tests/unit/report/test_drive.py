"""The drawn drive: true teeth, true angles, chains that close, pins as described, marks that a cause moves."""

from __future__ import annotations

import itertools
import math
import re

import pytest

from tests.unit.report.engines import ENGINES, described_in_mm, drawn_for, exactly, in_line_four, sprocket, with_drive
from tests.unit.report.markup import read
from witnessmark.engine.drive import CRANK, Stage
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.types import CamEdge, Engine, ToneWheel
from witnessmark.report.drive.frame import fit
from witnessmark.report.drive.labels import Board, Box, text_width
from witnessmark.report.drive.layout import Layout
from witnessmark.report.drive.loop import Circle, Loop
from witnessmark.report.drive.outline import sprocket as sprocket_path
from witnessmark.report.drive.picture import draw
from witnessmark.report.drive.spacing import lay_out
from witnessmark.report.drive.wheel import cam_wheel_picture, crank_wheel_picture, direction

SHIPPED = [known.name for known in known_engines()]
ALL = [*ENGINES, *SHIPPED]


def engine_named(name: str) -> Engine:
    return ENGINES[name]() if name in ENGINES else find_engine(name)


def laid_out(name: str) -> tuple[Engine, Layout]:
    engine = engine_named(name)
    if engine.drive is None:
        pytest.skip("no drive is described")
    return engine, fit(engine.drive).layout


# ---------------------------------------------------------------- the loop, against the handbook


def pitch_radius(teeth: int, pitch: float) -> float:
    return pitch / (2 * math.sin(math.pi / teeth))


def test_a_loop_round_three_sprockets_has_the_length_of_the_handbook() -> None:
    """docs/physics.md, path length: 21 teeth at (0, 0), 42 at (±90, 350) mm, p 8: 1170.649 mm (convex hull agrees)."""
    small, large = pitch_radius(21, 8.0), pitch_radius(42, 8.0)
    loop = Loop.round([Circle(0, 0, small), Circle(90, 350, large), Circle(-90, 350, large)])
    assert loop.is_sound
    assert loop.length == pytest.approx(1170.649, abs=5e-4)


def test_a_loop_round_two_sprockets_has_the_length_of_the_handbook() -> None:
    """docs/physics.md: N 21/42, C = 25 pitches: exact 81.94749 pitches with roll-on radii."""
    loop = Loop.round([Circle(0, 0, 21 / (2 * math.pi)), Circle(0, 25, 42 / (2 * math.pi))])
    assert loop.length == pytest.approx(81.94749, abs=1e-5)


def test_a_point_of_the_loop_comes_back_after_once_round() -> None:
    loop = Loop.round([Circle(0, 0, 2), Circle(5, 9, 4), Circle(-6, 8, 3)])
    steps = [loop.point(loop.length * k / 400) for k in range(401)]
    assert steps[0] == pytest.approx(steps[-1])
    walked = sum(math.dist(a[:2], b[:2]) for a, b in itertools.pairwise(steps))
    assert walked == pytest.approx(loop.length, rel=1e-3)
    for x, y, nx, ny in steps:  # the normal points away from every circle
        assert all((x - c.x) * nx + (y - c.y) * ny >= c.r - 1e-6 for c in loop.circles)


def test_circles_in_the_wrong_order_are_no_loop() -> None:
    assert not Loop.round([Circle(0, 0, 2), Circle(-6, 8, 3), Circle(5, 9, 4)]).is_sound


# ---------------------------------------------------------------- the layout


@pytest.mark.parametrize("name", ALL)
def test_every_chain_lies_round_its_sprockets(name: str) -> None:
    engine, layout = laid_out(name)
    assert engine.drive is not None
    for stage in engine.drive.stages:
        if stage.kind != "gear":
            assert layout.loops[stage.id].is_sound, stage.id


@pytest.mark.parametrize("name", ALL)
def test_sprockets_of_a_stage_do_not_overlap_and_keep_their_ratio(name: str) -> None:
    engine, layout = laid_out(name)
    assert engine.drive is not None
    for stage in engine.drive.stages:
        discs = [layout.disc(stage.id, one.shaft) for one in stage.sprockets]
        for a, b in itertools.combinations(discs, 2):
            apart = math.hypot(a.circle.x - b.circle.x, a.circle.y - b.circle.y)
            assert apart >= a.circle.r + b.circle.r - 1e-9
        known = [disc for disc in discs if disc.teeth]
        for a, b in itertools.combinations(known, 2):
            assert a.circle.r / b.circle.r == pytest.approx(a.teeth / b.teeth)  # type: ignore[operator]


@pytest.mark.parametrize("name", ALL)
def test_the_tight_side_reaches_the_sprockets_in_their_described_order(name: str) -> None:
    engine, layout = laid_out(name)
    assert engine.drive is not None
    for stage in engine.drive.stages:
        if stage.id not in layout.loops:
            continue
        lengths = [abs(layout.tight_path(stage.id, stage.driver.shaft, one.shaft)[1]) for one in stage.driven]
        assert lengths == sorted(lengths)
        assert lengths[0] > 0


@pytest.mark.parametrize("name", SHIPPED)
def test_described_pins_come_out_right_in_every_shipped_description(name: str) -> None:
    engine, layout = laid_out(name)
    assert engine.drive is not None
    unit_mm = max(stage.pitch_mm.exact or 0.0 for stage in engine.drive.stages)
    for stage in engine.drive.stages:
        names = [one.shaft for one in stage.sprockets]
        for near, driven in zip(names, stage.driven, strict=False):
            pins = driven.pins_before.exact
            if pins is not None and layout.is_true and stage.pitch_mm.exact:
                assert (stage.id, driven.shaft) in layout.matched
                path = abs(layout.tight_path(stage.id, near, driven.shaft)[1])
                assert path * unit_mm / stage.pitch_mm.exact == pytest.approx(pins + 1.0, abs=1e-3)


def test_a_schematic_is_stretched_until_the_described_pins_lie_between_the_marks() -> None:
    engine = in_line_four(pins=(38, 14))
    assert engine.drive is not None
    layout = lay_out(engine.drive)
    assert layout.matched == {("primary", "b1.exhaust"), ("primary", "b1.intake")}
    assert abs(layout.tight_path("primary", "crank", "b1.exhaust")[1]) == pytest.approx(39.0, abs=0.01)
    assert abs(layout.tight_path("primary", "b1.exhaust", "b1.intake")[1]) == pytest.approx(15.0, abs=0.01)


def test_pins_that_no_layout_gives_are_not_drawn() -> None:
    engine = in_line_four(pins=(3, 14))
    assert engine.drive is not None
    picture = draw(engine, engine.drive, ())
    assert "3 pins between" not in picture.svg
    assert "14 pins between" in picture.svg


def test_a_description_in_millimetres_keeps_its_distances() -> None:
    engine = described_in_mm()
    assert engine.drive is not None
    layout = lay_out(engine.drive)
    assert layout.is_true
    intake = layout.disc("primary", "b1.intake").circle
    assert (intake.x * 8.0, intake.y * 8.0) == pytest.approx((-88.0, 350.0))
    assert intake.r == pytest.approx(42 / (2 * math.pi))


def test_gears_touch_and_turn_against_each_other() -> None:
    engine = ENGINES["gears"]()
    assert engine.drive is not None
    layout = lay_out(engine.drive)
    crank, cam = layout.disc("primary", CRANK).circle, layout.disc("primary", "b1.single").circle
    assert math.hypot(cam.x - crank.x, cam.y - crank.y) == pytest.approx(crank.r + cam.r)
    assert layout.turning["b1.single"] == -layout.turning[CRANK]


def test_a_marks_place_is_where_the_chain_lies() -> None:
    for name in ALL:
        engine = engine_named(name)
        if engine.drive is None:
            continue
        layout = fit(engine.drive).layout
        for disc in layout.discs:
            loop = layout.loops.get(disc.stage)
            if loop is not None:
                i = layout.orders[disc.stage].index(disc.shaft)
                assert loop.wraps(i, disc.mark, -math.radians(8.5)), (name, disc)


# ---------------------------------------------------------------- outlines


@pytest.mark.parametrize("teeth", [18, 21, 40, 48])
def test_a_sprocket_has_its_true_number_of_teeth(teeth: int) -> None:
    numbers = [float(v) for v in re.findall(r"-?[\d.]+", sprocket_path(0.0, 0.0, 100.0, teeth, 0.0))]
    radii = [math.hypot(x, y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    outside = [r > 100.0 for r in radii]
    assert sum(a and not b for a, b in zip(outside, outside[1:] + outside[:1], strict=True)) == teeth


def test_unknown_teeth_are_not_drawn() -> None:
    engine = in_line_four(pins=(None, None), teeth=False)
    assert engine.drive is not None
    svg = draw(engine, engine.drive, ()).svg
    assert svg.count('<circle class="thin unk"') == 3
    assert svg.count("teeth not known") == 3


def test_a_range_and_candidates_are_said() -> None:
    stage = Stage("primary", "chain", sprocket(CRANK, None), (sprocket("b1.single", None),))
    assert stage.driver.teeth.exact is None
    svg = draw(ENGINES["single cam each bank"](), ENGINES["single cam each bank"]().drive, ()).svg  # type: ignore[arg-type]
    assert "38 or 40 teeth" in svg


# ---------------------------------------------------------------- tone wheels


@pytest.mark.parametrize(
    ("pattern", "teeth", "mark", "name"),
    [
        ("36-1", 35, -10.0, "gap"),
        ("60-2", 58, -9.0, "gap"),
        ("36-2-1", 33, -15.0, "widest gap"),
        ("24 a turn", 24, 0.0, "index edge"),
    ],
)
def test_the_crank_wheel_has_its_teeth_and_its_gap(pattern: str, teeth: int, mark: float, name: str) -> None:
    face = crank_wheel_picture(ToneWheel(CRANK, CRANK, pattern))
    assert len(face.teeth) == teeth
    assert face.mark == pytest.approx(mark)  # the middle of a gap of n + 1 pitches before the index edge
    assert face.mark_words == name


def test_an_unknown_wheel_is_drawn_as_unknown() -> None:
    for wheel in (None, ToneWheel(CRANK, CRANK), ToneWheel(CRANK, CRANK, "not a wheel")):
        face = crank_wheel_picture(wheel)
        assert face.teeth == ()
        assert face.words == "teeth not known"


def test_with_a_reference_the_wheel_stands_as_at_tdc() -> None:
    face = crank_wheel_picture(ToneWheel(CRANK, CRANK, "36-1", reference_deg=exactly(80.0)))
    # The index edge still has 80 degrees to go, clockwise, to the sensor at the top.
    assert math.degrees(direction(face, 1)) == pytest.approx(170.0)


def test_a_cam_wheel_is_raised_between_rising_and_falling_edges() -> None:
    edges = tuple(CamEdge(i % 2 == 0, after_tdc_deg=exactly(a)) for i, a in enumerate((100.0, 280.0, 460.0, 500.0)))
    face = cam_wheel_picture(ToneWheel("b1.intake", "b1.intake", edges=edges))
    assert [pytest.approx(pair) for pair in face.teeth] == [(0.0, 90.0), (180.0, 200.0)]  # cam degrees
    assert cam_wheel_picture(ToneWheel("b1.intake", "b1.intake")).teeth == ()


# ---------------------------------------------------------------- the picture


@pytest.mark.parametrize("name", ALL)
def test_a_cause_turns_filled_marks_and_nothing_else(name: str) -> None:
    engine = engine_named(name)
    if engine.drive is None:
        pytest.skip("no drive is described")
    causes = drawn_for(engine)
    picture = draw(engine, engine.drive, causes)
    reader = read(picture.svg)
    assert not reader.faults
    turned = dict(re.findall(r"#d2:checked\) \.m-([a-z0-9-]+)\{transform:rotate\((-?[\d.]+)deg\)\}", picture.css))
    turning = fit(engine.drive).layout.turning
    wanted = {shaft.replace(".", "-"): deg * turning[shaft] for shaft, deg, _ in causes[1].marks}
    assert {key: float(value) for key, value in turned.items()} == pytest.approx(wanted)
    groups = {
        str(attrs.get("class")).split()[-1]
        for tag, attrs in reader.tags
        if tag == "g" and "mv" in str(attrs.get("class"))
    }
    assert {f"m-{key}" for key in wanted} <= groups
    assert ".hol" not in picture.css


@pytest.mark.parametrize("name", ALL)
def test_hollow_and_filled_lie_on_one_ray(name: str) -> None:
    engine = engine_named(name)
    if engine.drive is None:
        pytest.skip("no drive is described")
    svg = draw(engine, engine.drive, ()).svg
    hollow = [(float(x), float(y)) for x, y in re.findall(r'<circle class="hol" cx="([\d.]+)" cy="([\d.]+)"', svg)]
    groups = re.findall(r'transform-origin:([\d.]+)px ([\d.]+)px">(.*?)</g>', svg)
    assert (
        len(groups) == len(engine.drive.stages[0].sprockets) + sum(len(s.driven) for s in engine.drive.stages[1:]) + 1
    )
    for cx, cy, inner in groups:
        for x, y in re.findall(r'<circle class="fil" cx="([\d.]+)" cy="([\d.]+)"', inner):
            direction_filled = math.atan2(float(y) - float(cy), float(x) - float(cx))
            nearest = min(
                abs((math.atan2(hy - float(cy), hx - float(cx)) - direction_filled + math.pi) % (2 * math.pi) - math.pi)
                for hx, hy in hollow
            )
            assert math.degrees(nearest) < 1.5  # a tenth of a pixel near the centre


@pytest.mark.parametrize("name", ALL)
def test_every_word_lies_in_the_picture_and_over_no_other(name: str) -> None:
    """By the program's own estimate of widths; tests/doors measures them in a browser."""
    engine = engine_named(name)
    if engine.drive is None:
        pytest.skip("no drive is described")
    causes = drawn_for(engine)
    svg = draw(engine, engine.drive, causes).svg
    assert 'viewBox="0 0 736 ' in svg
    assert "from the front, at TDC of cylinder 1" in svg
    assert ("not to scale; angles true" in svg) != ("distances and angles true" in svg)


def test_the_picture_says_what_is_keyed() -> None:
    engine = in_line_four()
    assert engine.drive is not None
    svg = draw(engine, engine.drive, ()).svg
    assert "20 teeth, keyed" in svg
    assert "35 teeth, one gap, no key" in svg


def test_many_shafts_still_find_room() -> None:
    stages = (
        Stage("primary", "chain", sprocket(CRANK, 20), tuple(sprocket(f"idler_{k}", 30) for k in (1, 2, 3))),
        Stage("secondary_1", "chain", sprocket("idler_1", 22), (sprocket("b1.exhaust", 36), sprocket("b1.intake", 36))),
        Stage("secondary_3", "chain", sprocket("idler_3", 22), (sprocket("b2.intake", 36), sprocket("b2.exhaust", 36))),
    )
    engine = with_drive(stages, banks=2, cylinders=8)
    assert engine.drive is not None
    assert all(loop.is_sound for loop in fit(engine.drive).layout.loops.values())


# ---------------------------------------------------------------- words find their place


def test_a_label_takes_the_first_free_place() -> None:
    board = Board(400.0, 300.0)
    board.circle(100.0, 100.0, 40.0)
    box = board.place((60.0, 20.0), [(100.0, 60.0), (300.0, 60.0)])
    assert box.middle == (300.0, 60.0)
    again = board.place((60.0, 20.0), [(300.0, 60.0), (300.0, 120.0)])
    assert again.middle == (300.0, 120.0)


def test_a_label_never_leaves_the_picture() -> None:
    box = Board(200.0, 100.0).place((80.0, 20.0), [(-50.0, 500.0)])
    assert Box(0.0, 0.0, 200.0, 100.0).covers(box)
    assert box.x0 >= 0.0
    assert box.y1 <= 100.0


def test_widths_are_estimated_on_the_wide_side() -> None:
    # Advance widths of Liberation Sans (metric-compatible with Arial), units per em 2048: digits 1139, i 455, m 1706.
    assert text_width("0000", 2048.0) >= 4 * 1139
    assert text_width("iiii", 2048.0) >= 4 * 455
    assert text_width("mmmm", 2048.0) >= 4 * 1706
