"""Cylinders, valves and air in a description: read, checked, written back."""

from __future__ import annotations

import pytest

from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.writer import write_engine
from witnessmark.errors import EngineDefinitionError

FULL = """
name = "made up"
cylinders = 4
source = "invented"

[cylinder]
bore_mm = 86
stroke_mm = 86
rod_mm = {value = 143, source = "measured"}
compression_ratio = {between = [10, 11]}
displacement_l = 2.0

[valves.intake]
opens_before_deg = 10
shuts_after_deg = {among = [50, 55], odds = [2, 1]}
lift_mm = 9.5
at_lift_mm = 1
diameter_mm = 33
count = 2

[valves.exhaust]
opens_before_deg = 50
shuts_after_deg = -5

[air]
metering = "air_meter"
injection = "port"
boost = "none"
plenum_l = 4
"""


def test_what_is_written_is_read_and_written_again() -> None:
    engine = engine_from_toml(FULL)
    sizes = engine.breathing.cylinder
    assert sizes.bore_mm.exact == 86.0
    assert sizes.bore_mm.source.kind == "invented"
    assert sizes.rod_mm.source.kind == "measured"
    assert (sizes.compression_ratio.low, sizes.compression_ratio.high) == (10.0, 11.0)
    assert not sizes.pin_offset_mm.is_known
    intake, exhaust = engine.breathing.valve("intake"), engine.breathing.valve("exhaust")
    assert intake.shuts_after_deg.values == (50.0, 55.0)
    assert exhaust.shuts_after_deg.exact == -5.0
    assert not exhaust.lift_mm.is_known
    assert engine.breathing.air.metering == "air_meter"
    assert engine_from_toml(write_engine(engine)) == engine


def test_nothing_said_is_nothing_known() -> None:
    engine = engine_from_toml("cylinders = 4")
    assert not engine.breathing.cylinder.bore_mm.is_known
    assert not engine.breathing.valve("intake").opens_before_deg.is_known
    assert engine.breathing.air.metering is None
    assert "[cylinder]" not in write_engine(engine)


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("stroke_mm = 86", "stroke_mm = 0", "cylinder.stroke_mm", "10 to 250"),
        ("{value = 143, source = \"measured\"}", "40", "cylinder.rod_mm", "cannot turn"),
        ("displacement_l = 2.0", "displacement_l = 1.6", "cylinder.displacement_l", "do not go with"),
        ("opens_before_deg = 50", "opens_before_deg = 400", "valves.exhaust.opens_before_deg", "-60 to 120"),
        ("shuts_after_deg = -5", "shuts_after_deg = -60\nlift_mm = 9", "", ""),
        ("at_lift_mm = 1", "at_lift_mm = 9.5", "valves.intake.at_lift_mm", "counted at"),
        ("metering = \"air_meter\"", "metering = \"airmeter\"", "air.metering", "air_meter"),
        ("plenum_l = 4", "plenum = 4", "air", "plenum_l"),
    ],
)  # fmt: skip
def test_what_cannot_be_names_its_place(old: str, new: str, place: str, words: str) -> None:
    text = FULL.replace(old, new, 1)
    assert text != FULL
    if not place:
        engine_from_toml(text)
        return
    with pytest.raises(EngineDefinitionError) as caught:
        engine_from_toml(text)
    line = str(caught.value)
    assert place in line
    assert words in line


def test_a_valve_hardly_open_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="open for 60"):
        engine_from_toml("cylinders = 4\n[valves.intake]\nopens_before_deg = -60\nshuts_after_deg = -60\n")
