"""The way of a chain around its wheels, against another geometry library and against itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.number import Number
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.path import (
    PathWheel,
    centre_distance_for,
    chain_path,
    links_approximately,
    links_exactly,
    loop_of_stage,
    path_complaints,
    tight_span,
)


def hull_length(wheels: list[PathWheel]) -> float:
    """Perimeter of the convex hull of all circles (scipy): a rubber band around them."""
    turn = np.linspace(0.0, 2.0 * np.pi, 4001)
    rim = [np.stack([w.x + w.radius * np.cos(turn), w.y + w.radius * np.sin(turn)], axis=1) for w in wheels]
    return float(ConvexHull(np.concatenate(rim)).area)  # in two dimensions "area" is the perimeter


@given(st.lists(st.floats(0.02, 0.06), min_size=3, max_size=5), st.floats(0.15, 0.4), st.floats(0.0, 6.0))
def test_a_convex_loop_is_as_long_as_a_rubber_band(radii: list[float], spread: float, turn: float) -> None:
    angles = turn + 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    wheels = [
        PathWheel(float(spread * np.cos(a)), float(spread * np.sin(a)), r) for a, r in zip(angles, radii, strict=True)
    ]
    path = chain_path(wheels)
    assert path.length == pytest.approx(hull_length(wheels), rel=2e-6)
    assert path.wraps_deg.sum() == pytest.approx(360.0)


@given(st.integers(12, 40), st.integers(12, 60), st.floats(22.0, 60.0))
def test_two_sprockets_agree_three_ways(n_1: int, n_2: int, centre: float) -> None:
    loop = chain_path([PathWheel.sprocket(n_1, 1.0, 0, 0), PathWheel.sprocket(n_2, 1.0, 0, centre)])
    exact = links_exactly(n_1, n_2, centre)
    assert loop.pitches(1.0) == pytest.approx(exact, rel=1e-12)
    assert loop.spans == pytest.approx(tight_span(n_1, n_2, centre, 1.0))
    if n_2 <= 3 * n_1:  # the handbook's "good to 0.01 pitch" holds for usual proportions
        assert links_approximately(n_1, n_2, centre) == pytest.approx(exact, abs=0.01)
    assert centre_distance_for(n_1, n_2, links_approximately(n_1, n_2, centre)) == pytest.approx(centre)


def test_a_reverse_wrap_turns_the_other_way() -> None:
    """An open band with a roller pressed in from outside: turns add up to one whole turn, the roller's counted back."""
    wheels = [PathWheel(0, 0, 0.03), PathWheel(0.1, 0.3, 0.05), PathWheel(-0.1, 0.3, 0.05)]
    pressed = chain_path([*wheels, PathWheel(-0.08, 0.15, 0.02, side=-1)])
    assert pressed.wraps_deg[:3].sum() - pressed.wraps_deg[3] == pytest.approx(360.0)
    assert pressed.length > chain_path(wheels).length


def test_a_crossed_belt_has_the_crossed_tangent() -> None:
    """Opposite sides: √(d² - (R₁+R₂)²) by Pythagoras."""
    path = chain_path([PathWheel(0, 0, 0.03), PathWheel(0.2, 0, 0.05, side=-1)])
    assert path.spans == pytest.approx(np.sqrt(0.2**2 - 0.08**2))


@pytest.mark.parametrize("wheels", [[PathWheel(0, 0, 0.05)], [PathWheel(0, 0, 0.05), PathWheel(0.01, 0, 0.1)]])
def test_wheels_no_chain_can_run_over(wheels: list[PathWheel]) -> None:
    with pytest.raises(EngineDefinitionError, match=r"at least two|are 10.0 mm apart\. Expected more than 50.0 mm"):
        chain_path(wheels)


def test_a_chain_too_short_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="longer chain"):
        centre_distance_for(20, 63, 40)


def test_every_shipped_engine_closes() -> None:
    for known in known_engines():
        drive = known.load().drive
        assert drive is not None
        assert path_complaints(drive) == (), known.name
        looked_at = [loop_of_stage(stage) for stage in drive.stages]
        assert all(looked_at) or known.name == "made-up four, less known"


def changed(**numbers: float) -> TimingDrive:
    """The demonstration's chain with some numbers wrong."""
    drive = find_engine("made-up four").drive
    assert drive is not None
    stage = drive.stages[0]
    if "tight_mm" in numbers:
        first = replace(stage.driven[0], tight_mm=Number.exactly(numbers["tight_mm"]))
        stage = replace(stage, driven=(first, *stage.driven[1:]))
    if "links" in numbers:
        stage = replace(stage, links=Number.exactly(numbers["links"]))
    if "x" in numbers:
        near = replace(stage.driven[0], at_mm=(numbers["x"], 10.0))
        stage = replace(stage, driven=(near, *stage.driven[1:]))
    return TimingDrive((stage,))


@pytest.mark.parametrize(
    ("numbers", "place", "words"),
    [
        ({"tight_mm": 300}, "stage.primary.driven.b1.exhaust.tight_mm", "300 mm is described, the centres leave 334.8"),
        ({"tight_mm": 360}, "stage.primary.driven.b1.exhaust.tight_mm", "360 mm is described"),
        ({"links": 130}, "stage.primary.links", "130 links are described, the shortest way around takes 130.9"),
        ({"links": 142}, "stage.primary.links", "142 links are described"),
        ({"x": 5.0}, "stage.primary", "no straight run touches both"),
    ],
)
def test_lengths_that_do_not_fit_are_named(numbers: dict[str, float], place: str, words: str) -> None:
    found = path_complaints(changed(**numbers))
    assert [where for where, _ in found] == [place]
    assert words in found[0][1]


def test_a_mirrored_engine_has_the_same_chain() -> None:
    """Turning the other way round, the tight side is the left one."""
    stage = changed().stages[0]
    mirrored = replace(
        stage, driven=tuple(replace(s, at_mm=(-s.at_mm[0], s.at_mm[1])) for s in stage.driven if s.at_mm is not None)
    )
    loops = loop_of_stage(stage), loop_of_stage(mirrored)
    assert loops[0] is not None and loops[1] is not None  # noqa: PT018
    assert chain_path(loops[0]).length == pytest.approx(chain_path(loops[1]).length, rel=1e-12)


def test_a_loop_with_something_unknown_is_none() -> None:
    known = Sprocket(CRANK, Number.exactly(20), at_mm=(0, 0))
    for other in (Sprocket("a", Number.exactly(40)), Sprocket("a", at_mm=(0, 100))):
        assert loop_of_stage(Stage("s", "chain", known, (other,), Number.exactly(8))) is None
    both = Sprocket("a", Number.exactly(40), at_mm=(0, 200))
    assert loop_of_stage(Stage("s", "chain", known, (both,))) is None
    assert loop_of_stage(Stage("s", "gear", known, (both,), Number.exactly(8))) is None
    assert loop_of_stage(Stage("s", "chain", known, (both,), Number.exactly(8))) is not None
