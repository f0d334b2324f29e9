"""Rollers and guides of a stage: read, checked, written back, and reckoned into the length of the way around."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from witnessmark.app.engines import checked
from witnessmark.engine.drive import Roller, Stage
from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.library import find_engine
from witnessmark.engine.writer import write_engine
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.path import chain_path, loop_of_stage, path_complaints

BELT = """
cylinders = 4
cams = ["single"]

[[stage]]
id = "belt"
kind = "belt"
pitch_mm = 10
links = 100
driver = {shaft = "crank", teeth = 20, at_mm = [0, 0]}
driven = [{shaft = "single", teeth = 40, at_mm = [0, 340]}]
rollers = [
  {id = "idler", after = "crank", at_mm = [75, 140], diameter_mm = 60},
  {id = "rail", kind = "guide", after = "single", at_mm = [60, 150], back = false, diameter_mm = 220},
]
"""


def stage_of(text: str) -> Stage:
    engine = engine_from_toml(text)
    assert engine.drive is not None
    return engine.drive.stages[0]


def test_what_is_written_is_read_and_written_again() -> None:
    stage = stage_of(BELT)
    idler, rail = stage.rollers
    assert (idler.kind, idler.after, idler.at_mm, idler.back) == ("idler", "crank", (75.0, 140.0), True)
    assert (rail.kind, rail.back, rail.diameter_mm.exact) == ("guide", False, 220.0)
    assert [one.id if isinstance(one, Roller) else one.shaft for one in stage.way] == [
        "crank",
        "idler",
        "b1.single",
        "rail",
    ]
    engine = engine_from_toml(BELT)
    assert engine_from_toml(write_engine(engine)) == engine


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ('after = "single"', 'after = "intake"', "stage.belt.rollers.rail.after", "no sprocket of this stage"),
        ('id = "rail"', 'id = "idler"', "stage.belt.rollers.idler", "stands twice"),
        ('id = "rail"', 'id = "crank"', "stage.belt.rollers.crank", "stands twice"),
        ("diameter_mm = 60", "diameter_mm = 0", "stage.belt.rollers.idler.diameter_mm", "5 to 10000 mm"),
        ('kind = "guide"', 'kind = "gide"', "stage.belt.rollers.rail.kind", "Nearest: guide"),
        ("at_mm = [75, 140]", "at_mm = [75]", "stage.belt.rollers.idler.at_mm", "at least 2"),
    ],
)
def test_what_cannot_be_names_its_field_and_the_reason(old: str, new: str, place: str, words: str) -> None:
    assert old in BELT
    with pytest.raises(EngineDefinitionError) as caught:
        engine_from_toml(BELT.replace(old, new, 1), where="engine.toml")
    assert str(caught.value).startswith(f"engine.toml, {place}: ")
    assert words in str(caught.value)


def test_a_roller_that_just_touches_changes_no_length() -> None:
    """Own sums: a strand deflected by h at its middle grows by about 2 h²/L; one that is only touched not at all."""
    plain = replace(stage_of(BELT), rollers=())
    loop = loop_of_stage(plain)
    assert loop is not None
    bare = 1000.0 * chain_path(loop).length
    crank, cam = 200.0 / (2.0 * math.pi), 400.0 / (2.0 * math.pi)
    turn = math.asin((cam - crank) / 340.0)
    outward = (math.cos(turn), -math.sin(turn))  # the right strand leans outward to the larger pulley
    middle = (0.5 * (crank + cam) * outward[0], 170.0 + 0.5 * (crank + cam) * outward[1])
    strand = math.sqrt(340.0**2 - (cam - crank) ** 2)
    for pressed in (0.01, 4.0, 8.0):
        at = tuple(m + (30.0 - pressed) * n for m, n in zip(middle, outward, strict=True))
        roller = replace(stage_of(BELT).rollers[0], at_mm=at)
        found = loop_of_stage(replace(plain, rollers=(roller,)))
        assert found is not None
        grown = 1000.0 * chain_path(found).length - bare
        assert grown == pytest.approx(2.0 * pressed**2 / strand, rel=0.05, abs=1e-3)


def test_the_described_rails_of_a_shipped_engine_are_reckoned_in() -> None:
    """Without its rollers the belt would seem longer than it is by what they take up."""
    engine = find_engine("made-up four with belt")
    assert engine.drive is not None
    assert path_complaints(engine.drive) == ()
    stage = engine.drive.stages[0]
    loop, bare = loop_of_stage(stage), loop_of_stage(replace(stage, rollers=()))
    assert loop is not None
    assert bare is not None
    assert chain_path(loop).pitches(9.525e-3) > chain_path(bare).pitches(9.525e-3) + 1.0


def test_a_chain_shorter_than_its_way_round_the_rollers_is_refused() -> None:
    far = BELT.replace("links = 100", "links = 97")
    with pytest.raises(EngineDefinitionError, match=r"stage\.belt\.links: 97 links are described, the shortest way"):
        checked(engine_from_toml(far))
