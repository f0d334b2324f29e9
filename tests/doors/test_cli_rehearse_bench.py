"""``witnessmark rehearse`` beyond crank and cam: every test gives a file that reads, a note, a picture with scales."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from tests.doors.cli import run
from witnessmark.app.benchtests import BENCH_TESTS
from witnessmark.app.rehearse import RECORDED
from witnessmark.recording.read import read_recording

JUMPED = "chain_jumped mesh=primary.crank pitch_slip=-1"


class Texts(HTMLParser):
    """All words that stand in the drawings."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag == "text"

    def handle_data(self, data: str) -> None:
        if self.inside and data.strip():
            self.found.append(data.strip())


@pytest.mark.parametrize("test", BENCH_TESTS)
def test_every_test_gives_a_recording_a_note_and_a_picture(test: str, tmp_path: Path) -> None:
    ran = run("rehearse", "made-up four", "--test", test, "--into", str(tmp_path), "--json")
    told = json.loads(ran.out)
    assert told["test"] == test
    assert told["left_out"]
    assert told["running"] in BENCH_TESTS[test].running
    recording = read_recording(Path(told["recording"]))
    assert len(recording) >= 2
    assert all(trace.role for trace in recording)
    assert all(np.ptp(trace.values) > 0.0 for trace in recording.traces[:2])
    page = Path(told["page"]).read_text(encoding="utf-8")
    assert "no vehicle was measured" in page
    assert "<script" not in page
    texts = Texts()
    texts.feed(page)
    assert any(text.startswith("time, ") for text in texts.found)
    units = {trace.unit for trace in recording if trace.unit}
    named = [text for text in texts.found if ", " in text and not text.startswith("time")]
    assert len(named) >= min(len(recording), 2)
    assert any(text.endswith(f", {unit}") for text in named for unit in units)
    assert (
        sum(
            bool(re.fullmatch(r"[−-]?[\d\N{NARROW NO-BREAK SPACE}\N{NO-BREAK SPACE}.,]+", text)) for text in texts.found
        )
        > 8
    )


def test_the_list_of_tests_in_the_help_is_the_list() -> None:
    told = run("rehearse", "--help").out
    assert all(test in told for test in RECORDED)


def test_a_jumped_chain_shows_in_compression_and_a_sealed_page_tells_nothing(tmp_path: Path) -> None:
    """A late intake cam lowers the cranking peak (handbook §2: -13 % for 21.8°, here 18° and both cams)."""
    for name, more in (("sound", ()), ("late", ("--fault", JUMPED)), ("sealed", ("--fault", JUMPED, "--sealed"))):
        ran = run("rehearse", "made-up four", *more, "--test", "incylinder_crank", "--into", str(tmp_path / name))
        assert ran.code == 0
    sound, late, sealed = (read_recording(tmp_path / n / "incylinder_crank.csv") for n in ("sound", "late", "sealed"))
    peak = [float(np.percentile(r.traces[0].values, 99.9)) for r in (sound, late)]
    assert 0.75 < peak[1] / peak[0] < 0.97
    assert sealed.digest == late.digest
    page = (tmp_path / "sealed" / "incylinder_crank.html").read_text(encoding="utf-8")
    assert "pitch" not in page
    assert "chain" not in page.lower()


def test_the_cylinder_and_the_rate_are_as_asked(tmp_path: Path) -> None:
    ran = run(
        "rehearse", "made-up V6 with second chains", "--test", "incylinder_crank", "--cylinder", "5", "--rate", "20000",
        "--into", str(tmp_path), "--json",
    )  # fmt: skip
    recording = read_recording(Path(json.loads(ran.out)["recording"]))
    assert recording.traces[0].name == "cylinder 5 pressure"
    assert np.median(np.diff(recording.traces[0].times_s)) == pytest.approx(5e-5)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--test", "incylinder_crank", "--with", "logic"), "needs a scope"),
        (("--test", "incylinder_crank", "--running", "idle"), "cranking"),
        (("--test", "incylinder_crank", "--cylinder", "5"), "1 to 4"),
        (("--test", "incylinder_crank", "--rate", "100"), "10 kS/s"),
        (("--test", "cold_to_hot", "--rate", "20000"), "no sampling rate"),
        (("--test", "scope_crank_cam", "--rate", "20000"), "--with scope"),
        (("--test", "scope_secundary"), "scope_secondary"),
    ],
)
def test_what_cannot_be_is_one_line_and_leaves_nothing(more: tuple[str, ...], words: str, tmp_path: Path) -> None:
    ran = run("rehearse", "made-up four", *more, "--into", str(tmp_path / "new"))
    assert ran.code == 2
    assert words in ran.told
    assert len(ran.told.strip().splitlines()) == 1
    assert not (tmp_path / "new").exists()
