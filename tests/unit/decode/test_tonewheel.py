"""Patterns of tone wheels: names, gaps, the index rule."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.engine.tonewheel import (
    USUAL_NAMES,
    WheelPattern,
    candidates,
    half_moon,
    missing,
    parse_wheel,
    plain,
    plus,
)
from witnessmark.errors import EngineDefinitionError

# Teeth, and gaps after the index edge's own place: docs/physics.md, table of tone wheels.
USUAL = {
    "60-2": (58, 6.0, 18.0),
    "36-1": (35, 10.0, 20.0),
    "36-2": (34, 10.0, 30.0),
    "36-2-2-2": (30, 10.0, 30.0),
    "24-1": (23, 15.0, 30.0),
    "12-1": (11, 30.0, 60.0),
    "4-1": (3, 90.0, 180.0),
    "12+1": (13, 30.0, 30.0),
}


@pytest.mark.parametrize(("name", "numbers"), USUAL.items())
def test_named_wheels_are_those_of_the_handbook(name: str, numbers: tuple[int, float, float]) -> None:
    pattern = parse_wheel(name)
    assert (pattern.n_edges, round(pattern.pitch_deg, 9), round(max(pattern.gaps_deg), 9)) == numbers


@pytest.mark.parametrize("name", USUAL_NAMES)
def test_every_usual_name_parses_and_adds_up(name: str) -> None:
    pattern = parse_wheel(name)
    assert sum(pattern.gaps_deg) == pytest.approx(360.0)
    assert pattern.edges_deg[0] == 0.0
    assert pattern in candidates(name)


def test_index_edge_follows_the_largest_gap() -> None:
    wheel = missing(36, [2, 1])
    assert wheel.gaps_deg[-1] == pytest.approx(30.0)
    # 16 pitches, the gap of one tooth, 15 pitches: as the recording of such a wheel shows it.
    assert [i for i, gap in enumerate(wheel.gaps_deg) if gap > 15] == [16, 32]


def test_index_edge_of_an_added_tooth_is_the_regular_tooth_before_it() -> None:
    assert parse_wheel("12+1").gaps_deg[:2] == pytest.approx((10.0, 20.0))


@given(st.lists(st.sampled_from([5.0, 10.0, 15.0, 30.0]), min_size=3, max_size=20), st.integers(0, 19))
def test_index_does_not_depend_on_where_the_list_of_gaps_begins(gaps: list[float], turn: int) -> None:
    gaps = [gap * 360.0 / sum(gaps) for gap in gaps]
    turn %= len(gaps)
    one, other = WheelPattern.from_gaps(gaps), WheelPattern.from_gaps(gaps[turn:] + gaps[:turn])
    assert one.edges_deg == pytest.approx(other.edges_deg)


@pytest.mark.parametrize(
    ("name", "symmetry", "sector"),
    [
        ("60-2", 1, 360.0),
        ("4 uneven", 2, 180.0),
        ("24 a turn", 24, 15.0),
        ("24 uneven", 1, 360.0),
        ("36-2-2", 2, 180.0),
    ],
)
def test_symmetry_tells_how_far_an_angle_is_known(name: str, symmetry: int, sector: float) -> None:
    pattern = parse_wheel(name)
    assert (pattern.symmetry, pattern.sector_deg) == (symmetry, sector)


def test_only_the_widths_tell_the_coded_wheel_apart() -> None:
    coded = parse_wheel("24 uneven")
    assert coded.is_coded
    assert set(coded.widths_deg) == {5.0, 10.0}
    assert not parse_wheel("60-2").is_coded
    # Every run of six widths is there only once: six teeth tell where one is.
    ring = coded.widths_deg * 2
    runs = [ring[i : i + 6] for i in range(24)]
    assert len(set(runs)) == 24


def test_candidates_hold_every_order_that_the_name_leaves_open() -> None:
    assert len(candidates("60-2")) == 1
    # 33 teeth in two groups behind gaps of 3 and 2 places: 32 ways.
    assert len(candidates("36-2-1")) == 32
    ways = {tuple(round(g) for g in p.gaps_deg) for p in candidates("36-2-2-2")}
    # 30 teeth in a ring of three groups, all gaps alike: (C(29, 2) − 1) / 3 turned ones and the even one; every group
    # of three counted once.
    assert len(ways) == (29 * 28 // 2 - 1) // 3 + 1
    assert len(candidates("36-2-1 (17,16)")) == 1


def test_groups_of_teeth_can_be_named() -> None:
    assert parse_wheel("36-2-1 (10, 23)").gaps_deg.index(pytest.approx(20.0)) == 9


def test_gaps_can_be_written_out() -> None:
    assert parse_wheel("70/110/70/110").edges_deg == parse_wheel("4 uneven").edges_deg


@pytest.mark.parametrize("text", ["60-60", "12+12", "0 a turn", "36-2-1 (1,2)", "70/110", "", "sixty minus two"])
def test_what_cannot_be_a_wheel_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(EngineDefinitionError) as caught:
        parse_wheel(text)
    assert "\n" not in str(caught.value)


def test_the_nearest_name_is_offered() -> None:
    with pytest.raises(EngineDefinitionError, match="half moon"):
        parse_wheel("halfmoon")


def test_widths_must_lie_inside_their_gaps() -> None:
    with pytest.raises(EngineDefinitionError):
        WheelPattern.from_gaps([180.0, 180.0], widths_deg=[90.0, 200.0])


def test_marks_are_the_gaps_unlike_the_others() -> None:
    assert sum(parse_wheel("60-2").marks) == 1
    assert sum(plain(36).marks) == 0
    assert sum(plus(12).marks) == 2
    assert half_moon().widths_deg == (180.0,)


def test_edges_rise_from_zero() -> None:
    for name in USUAL_NAMES:
        edges = parse_wheel(name).edges_deg
        assert all(b > a for a, b in itertools.pairwise(edges))
