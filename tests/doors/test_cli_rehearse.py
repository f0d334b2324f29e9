"""``witnessmark rehearse``: a recording that measures as the fault it holds, and its picture."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.doors.cli import run
from witnessmark.report.words import NBSP

JUMPED = "chain_jumped mesh=primary.crank pitch_slip=1"


def measured(path: Path) -> dict[str, tuple[float, float]]:
    told = json.loads(run("measure", str(path), "--engine", "made-up four", "--json").out)
    (recording,) = told["recordings"]
    return {
        f["place"]["cam"]: (f["value"], f["sd"]) for f in recording["findings"] if f["quantity"] == "cam_phase_error"
    }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rehearsal")
    for name, more in (("jumped", ("--fault", JUMPED)), ("sound", ()), ("sealed", ("--fault", JUMPED, "--sealed"))):
        ran = run("rehearse", "made-up four", *more, "--test", "scope_crank_cam", "--into", str(folder / name))
        assert ran.code == 0
        assert "teeth" in ran.out or "tooth" in ran.out
    return folder


def test_the_recording_measures_as_predict_says(folder: Path) -> None:
    """The same vehicle, sound and faulty: what measuring finds differs by what predicting says, within its doubt."""
    sound, jumped = (measured(folder / name / "scope_crank_cam.csv") for name in ("sound", "jumped"))
    told = json.loads(run("predict", "made-up four", "--fault", JUMPED, "--json").out)
    steps = {
        one["place"]["cam"]: one["faulty"] - one["sound"]
        for one in told["shown"]
        if one["quantity"] == "cam_phase_error"
    }
    assert set(sound) == set(jumped) == set(steps) == {"intake", "exhaust"}
    for cam, step in steps.items():
        doubt = 4.0 * max(sound[cam][1], jumped[cam][1])
        assert jumped[cam][0] - sound[cam][0] == pytest.approx(step, abs=doubt)
        assert abs(step) > 10.0


def test_the_page_says_that_it_was_computed_and_what_is_wrong(folder: Path) -> None:
    page = (folder / "jumped" / "scope_crank_cam.html").read_text(encoding="utf-8")
    assert "no vehicle was measured" in page
    assert "<svg" in page
    assert "pitch slip" in page
    assert "<script" not in page
    apart = [float(text) for text in re.findall(r"([\d.]+)° ± [\d.]+° (?:early|late)", page.replace(NBSP, " "))]
    assert apart
    assert all(
        15.0 < degrees < 25.0 for degrees in apart
    )  # one tooth of this chain is 18°, also across the cycle's end


def test_a_sealed_page_tells_nothing(folder: Path) -> None:
    page = (folder / "sealed" / "scope_crank_cam.html").read_text(encoding="utf-8")
    note = (folder / "sealed" / "scope_crank_cam.csv.toml").read_text(encoding="utf-8")
    for text in (page, note):
        assert "pitch" not in text
        assert "chain" not in text.lower()
        assert "jumped" not in text
    same = [(folder / name / "scope_crank_cam.csv").read_bytes() for name in ("sealed", "jumped")]
    assert same[0] == same[1]


def test_a_scope_while_cranking_and_json(tmp_path: Path) -> None:
    ran = run(
        "rehearse", "made-up V6 with second chains", "--fault", "phaser_stuck cam=b1.intake phaser_rest=20", "--test",
        "scope_crank_cam", "--running", "cranking", "--with", "scope", "--into", str(tmp_path / "new"), "--json",
    )  # fmt: skip
    told = json.loads(ran.out)
    assert told["schema"] == "witnessmark/rehearsal/1"
    assert told["findings"] > 4
    assert Path(told["recording"]).is_file()
    assert Path(told["page"]).is_file()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--test", "pin_count"), "scope_crank_cam"),
        (("--test", "scope_crank"), "scope_crank_cam"),
        (("--test", "scope_crank_cam", "--running", "idling"), "idle"),
        (("--test", "scope_crank_cam", "--with", "radio"), "logic"),
        (("--test", "scope_crank_cam", "--fault", "chain_jumpd"), "chain_jumped"),
    ],
)
def test_what_cannot_be_is_one_line_and_leaves_nothing(more: tuple[str, ...], words: str, tmp_path: Path) -> None:
    ran = run("rehearse", "made-up four", *more, "--into", str(tmp_path / "new"))
    assert ran.code == 2
    assert words in ran.told
    assert len(ran.told.strip().splitlines()) == 1
    assert not (tmp_path / "new").exists()


def test_nothing_is_written_over(folder: Path) -> None:
    ran = run("rehearse", "made-up four", "--test", "scope_crank_cam", "--into", str(folder / "sound"))
    assert ran.code == 2
    assert "there already" in ran.told
