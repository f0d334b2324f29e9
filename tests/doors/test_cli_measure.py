"""``witnessmark measure``: recordings in, findings out; with and without a description; how it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.doors.cli import run
from witnessmark.engine.library import find_engine
from witnessmark.simulate.demo import write_demo_recordings


@pytest.fixture(scope="module")
def idle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("recordings")
    return next(p for p in write_demo_recordings(find_engine("made-up four"), "clean", folder) if p.stem == "idle")


def test_with_a_description(idle: Path) -> None:
    ran = run("measure", str(idle), "--engine", "made-up four", "--json")
    assert (ran.code, ran.told) == (0, "")
    told = json.loads(ran.out)
    assert (told["schema"], told["engine"]) == ("witnessmark/measurement/1", "made-up four")
    (recording,) = told["recordings"]
    assert recording["name"] == "idle.csv"
    assert recording["digest"].startswith("sha256:")
    errors = {f["place"]["cam"]: f["value"] for f in recording["findings"] if f["quantity"] == "cam_phase_error"}
    assert set(errors) == {"intake", "exhaust"}
    assert all(abs(value) < 2.0 for value in errors.values())
    assert [f["id"] for f in recording["findings"]] == [f"f{i + 1}" for i in range(len(recording["findings"]))]
    assert all(f["condition"]["state"] == "idle" for f in recording["findings"])


def test_without_a_description_nothing_absolute_is_claimed(idle: Path) -> None:
    told = json.loads(run("measure", str(idle), "--json").out)
    (recording,) = told["recordings"]
    assert told["engine"] is None
    assert "cam_phase_error" not in {f["quantity"] for f in recording["findings"]}
    assert "cam_edge_angle" in {f["quantity"] for f in recording["findings"]}
    missing = [item for item in recording["not_measured"] if item["quantity"] == "cam_phase_error"]
    assert missing
    assert all(item["reason"] and item["settled_by"] for item in missing)


def test_several_recordings_are_numbered_through(idle: Path) -> None:
    cranking = idle.with_name("cranking.csv")
    told = json.loads(run("measure", str(idle), str(cranking), "--engine", "made-up four", "--json").out)
    names = [f["id"] for recording in told["recordings"] for f in recording["findings"]]
    assert names == [f"f{i + 1}" for i in range(len(names))]
    assert [recording["name"] for recording in told["recordings"]] == ["idle.csv", "cranking.csv"]


def test_on_the_terminal(idle: Path, tmp_path: Path) -> None:
    ran = run("measure", str(idle), "--engine", "made-up four", "--into", str(tmp_path / "out"))
    assert ran.code == 0
    assert "crank" in ran.out
    written = tmp_path / "out" / "measurement.json"
    assert ran.told == f"witnessmark: written: {written}\n"
    assert json.loads(written.read_text(encoding="utf-8"))["schema"] == "witnessmark/measurement/1"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02\xff" * 400, ""),
        (b"nothing here is a number\nnot here either\n", ""),
    ],
)
def test_what_is_no_recording_is_one_line(content: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "broken.csv"
    path.write_bytes(content)
    ran = run("measure", str(path), "--json")
    assert (ran.code, ran.out) == (2, "")
    assert ran.told.startswith("witnessmark: broken.csv: ")
    assert ran.told.count("\n") == 1
    assert said in ran.told


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    ran = run("measure", str(tmp_path / "none.csv"))
    assert (ran.code, ran.out) == (2, "")
    assert ran.told == f"witnessmark: no such file: {tmp_path / 'none.csv'}.\n"


def test_nothing_to_measure() -> None:
    ran = run("measure")
    assert (ran.code, ran.out) == (2, "")
    assert "RECORDING" in ran.err


def test_help() -> None:
    ran = run("measure", "--help")
    assert ran.code == 0
    for word in ("--engine", "--json", "--into", "witnessmark measure cranking.csv"):
        assert word in ran.out
