"""Reading a description: what it says is what the engine holds."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from witnessmark.engine.file import engine_from_mapping, engine_from_toml, read_engine
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.types import CamEdge, Camshaft
from witnessmark.errors import EngineDefinitionError, FormatError
from witnessmark.source import UNSTATED, Source

WHOLE = """
# every section once
name = "of all trades"
cylinders = 6
layout = "vee"
banks = [[1, 3, 5], [2, 4, 6]]
firing_order = [1, 2, 3, 4, 5, 6]
cams = ["intake", "b2.exhaust"]
drive = "in words"
source = "counted"
strokes = 4
ignition = "spark"
fuel = "petrol"

[[stage]]
id = "primary"
kind = "chain"
pitch_mm = {value = 9.525, source = "measured", note = "over ten links"}
links = {between = [120, 124]}
tensioner_rest_mm = 6
pins_counting = "both"
driver = {shaft = "crank", teeth = 20, keyed = true, at_mm = [0, 0.5]}
driven = [
  {shaft = "b1.intake", teeth = {among = [40, 42], odds = [3, 1]}, tight_mm = 300.5, pins = 40},
  {shaft = "b2.exhaust", tight_mm = 200, pins = {between = [20, 24]}},
  {shaft = "b2.intake"},
]

[[phaser]]
cam = "b1.intake"
range_deg = {between = [40, 60]}
fitted = 0.7

[[wheel]]
shaft = "crank"
gaps_deg = [110, 70, 110, 70]
even_edge = "rising"
reference_deg = 12
keyed = false
sensor_kind = "reluctance"
sensor_names = ["speed sensor"]

[[wheel]]
shaft = "b1.intake"
pattern = "half moon"
edges = [{edge = "falling", behind_index_deg = 10}, {after_tdc_deg = 400}]

[reporting]
sign = "retarded"
a_is = "exhaust"
value = "actual"
learns = false
correlation_limit_deg = {among = [5, 10]}
"""


def counted(value: float) -> Number:
    return Number.exactly(value, Source("counted"))


def test_cylinders_alone_are_a_whole_description() -> None:
    engine = engine_from_mapping({"cylinders": 4})
    assert engine.cylinders == 4
    assert engine.name == "engine of 4 cylinders"
    assert (engine.layout, engine.banks, engine.drive, engine.cams, engine.wheels) == (None, None, None, (), ())
    assert engine.reporting.sign == ABSENT
    assert engine.source == UNSTATED


def test_every_section() -> None:
    engine = engine_from_toml(WHOLE)
    assert (engine.name, engine.cylinders, engine.layout, engine.banks) == ("of all trades", 6, "vee", 2)
    assert engine.bank_cylinders == ((1, 3, 5), (2, 4, 6))
    assert engine.firing_order == (1, 2, 3, 4, 5, 6)
    assert engine.cams == (Camshaft(1, "intake"), Camshaft(2, "intake"), Camshaft(2, "exhaust"))
    assert engine.source == Source("counted")
    drive = engine.drive
    assert drive is not None
    assert drive.label == "in words"
    (stage,) = drive.stages
    assert stage.pitch_mm == Number.exactly(9.525, Source("measured", "over ten links"))
    assert stage.links == Number.between(120, 124, Source("counted"))
    assert stage.driver.teeth == counted(20)
    assert (stage.driver.keyed, stage.driver.at_mm) == (True, (0.0, 0.5))
    near, far, last = stage.driven
    assert near.teeth == Number.among([40, 42], [3, 1], Source("counted"))
    assert near.tight_mm == counted(300.5)
    assert near.pins_before == counted(38)  # 40 with both marked pins
    assert far.pins_before == Number.between(18, 22, Source("counted"))
    assert last.pins_before == ABSENT
    assert stage.pins == (("b1.intake", counted(38)),)
    phaser = drive.phaser("b1.intake")
    assert phaser is not None
    assert (phaser.range_deg, phaser.presence) == (Number.between(40, 60, Source("counted")), 0.7)
    crank, cam = engine.wheels
    assert crank.gaps_deg == (70.0, 110.0, 70.0, 110.0)  # from the index edge on
    assert (crank.even_edge, crank.keyed, crank.sensor_kind) == ("rising", False, "reluctance")
    assert crank.reference_deg == counted(12)
    assert crank.sensor_names == ("speed sensor",)
    assert (cam.id, cam.shaft, cam.pattern) == ("b1.intake", "b1.intake", "half moon")
    assert cam.edges == (CamEdge(False, counted(10), ABSENT), CamEdge(None, ABSENT, counted(400)))
    assert engine.reporting.sign == Number.exactly(-1, Source("counted"))
    assert (engine.reporting.a_is, engine.reporting.value, engine.reporting.learns) == ("exhaust", "actual", False)


def test_numbers_without_a_source_of_their_own_take_the_descriptions() -> None:
    stage = {"id": "p", "kind": "chain", "driver": {"shaft": "crank", "teeth": {"value": 20, "source": "unstated"}}}
    stage["driven"] = [{"shaft": "intake", "teeth": 40}]
    engine = engine_from_mapping({"cylinders": 4, "source": "maker's sheet 4", "stage": [stage]})
    assert engine.drive is not None
    assert engine.drive.stages[0].driven[0].teeth.source == Source("maker", "maker's sheet 4")
    assert engine.drive.stages[0].driver.teeth.source == UNSTATED
    assert engine.drive.stages[0].pitch_mm == ABSENT


@pytest.mark.parametrize(("layout", "banks"), [("inline", 1), ("vee", 2), ("flat", 2)])
def test_a_layout_says_how_many_banks(layout: str, banks: int) -> None:
    engine = engine_from_mapping({"cylinders": 4, "layout": layout, "cams": ["exhaust"]})
    assert engine.banks == banks
    assert engine.cams == tuple(Camshaft(bank, "exhaust") for bank in range(1, banks + 1))


def test_cams_follow_from_the_drive() -> None:
    stage = {"id": "p", "kind": "belt", "driver": {"shaft": "crank"}}
    engine = engine_from_mapping(
        {"cylinders": 8, "stage": [stage | {"driven": [{"shaft": "b2.single"}, {"shaft": "b1.single"}]}]}
    )
    assert engine.cams == (Camshaft(1, "single"), Camshaft(2, "single"))
    assert engine.drive is not None
    assert engine.drive.label == "belt from crank to cam of bank 2 and cam of bank 1"


def test_phasers_may_be_known_where_the_drive_is_not() -> None:
    engine = engine_from_mapping({"cylinders": 4, "phaser": [{"cam": "intake", "fitted": False}]})
    assert engine.drive is not None
    assert engine.drive.stages == ()
    phaser = engine.drive.phaser("b1.intake")
    assert phaser is not None
    assert phaser.presence == 0.0


def test_the_files_name_stands_in_for_a_name(tmp_path: Path) -> None:
    file = tmp_path / "the blue one.toml"
    file.write_bytes("﻿cylinders = 3  # three\r\n".encode())
    assert read_engine(file).name == "the blue one"
    assert read_engine(str(file)).cylinders == 3


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("cylinders = 4\npitch = 9,525", "engine.toml, line 2: not TOML.*Write decimals with a point: 9.525"),
        ("cylinders = 4\nlayout = inline", "line 2.*Put words in quotes"),
        ("cylinders 4", "line 1.*Write key = value"),
        ("cylinders = [4", "a bracket or a quotation mark that is not closed"),
        ("cylinders = 4\ncylinders = 5", "line 2.*That key is there already"),
        ("cylinders = 4\n[a]\n[a]", "line 3.*That key is there already"),
        ("\x00\x01", "not TOML"),
    ],
)
def test_what_is_not_toml_is_told_with_its_line(text: str, says: str) -> None:
    with pytest.raises(FormatError, match=says) as caught:
        engine_from_toml(text, where="engine.toml")
    assert "\n" not in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match=r"gone\.toml: cannot be read: No such file"):
        read_engine(tmp_path / "gone.toml")
    with pytest.raises(FormatError, match="cannot be read"):
        read_engine(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'cylinders = 4\nname = "M\xfcller"\n')
    with pytest.raises(FormatError, match=r"latin\.toml, line 2: not plain text"):
        read_engine(tmp_path / "latin.toml")
    (tmp_path / "huge.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(FormatError, match="too large"):
        read_engine(tmp_path / "huge.toml")
    (tmp_path / "empty.toml").write_bytes(b"")
    with pytest.raises(EngineDefinitionError, match=r"empty\.toml: “cylinders” is missing"):
        read_engine(tmp_path / "empty.toml")


def test_pydantic_stays_out_until_a_description_is_read() -> None:
    code = (
        "import sys, witnessmark.engine.file, witnessmark.engine.library, witnessmark.engine.writer\n"
        "witnessmark.engine.library.known_engines()\n"
        "assert 'pydantic' not in sys.modules\n"
        "witnessmark.engine.file.engine_from_mapping({'cylinders': 4})\n"
        "assert 'pydantic' in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
