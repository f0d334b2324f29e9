"""The demonstration's recordings: small, the same everywhere, and what the cases say of them is in them."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.recording.read import read_recording
from witnessmark.simulate import DEMO_CASES, demo_captures, write_demo_recordings


@pytest.fixture(scope="module")
def engine() -> Engine:
    return engine_from_toml(files("witnessmark").joinpath("data/engines/made-up-four.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", DEMO_CASES)
def test_recordings_are_small_and_readable(case: str, engine: Engine, tmp_path: Path) -> None:
    paths = write_demo_recordings(engine, case, tmp_path)
    assert [path.name for path in paths] == ["idle.csv", "cranking.csv"]
    for path in paths:
        assert 5_000 < path.stat().st_size < 200_000
        recording = read_recording(path)
        assert recording.condition.state == path.stem
        assert {trace.wheel for trace in recording} == {"crank", "b1.intake", "b1.exhaust"}
    again = write_demo_recordings(engine, case, tmp_path / "again")
    assert [a.read_bytes() for a in again] == [p.read_bytes() for p in paths]


def test_both_cams_late_together_and_clean(engine: Engine) -> None:
    for capture in demo_captures(engine, "crank_wheel_slipped"):
        phases = [capture.truth.mean_phase(cam) for cam in capture.truth.cams]
        assert all(-12.0 < phase < -10.0 for phase in phases)
        assert abs(phases[0] - phases[1]) < 1.0
    for capture in demo_captures(engine, "clean"):
        assert all(abs(capture.truth.mean_phase(cam)) < 2.0 for cam in capture.truth.cams)


def test_another_name(engine: Engine) -> None:
    with pytest.raises(InputError, match="clean"):
        demo_captures(engine, "clear")
