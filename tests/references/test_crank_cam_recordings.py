"""Real recordings of crank and cam wheels, measured: every expected value, the noisy one, none described, no angles.

The recordings belong to others and lie outside the project (WITNESSMARK_RECORDINGS, else ../shared/data); without them
these tests are skipped, and say so. Source of the expected values: ``crank-cam/expected.csv`` and the ``README.md``
beside it, whose speeds were asserted by an engine control's own tests. What a note there says of channels and edges
stands in our own descriptions, ``tests/data/crank-cam``.
"""

from __future__ import annotations

import csv
import json
import shutil
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import ROOT
from tests.doors.cli import run
from witnessmark.engine.file import read_engine
from witnessmark.finding import Finding
from witnessmark.measure import Measurement, measure
from witnessmark.recording import read_recording

pytestmark = pytest.mark.recordings

OURS = ROOT / "tests" / "data" / "crank-cam"
SPLIT = "w36-2-1_halfmoon_running"
RELATIVE = ("speed_measured", "wheel_teeth_seen", "wheel_pitch_error", "cam_edge_angle", "phase_scatter")

# Name, description, note: what the expected values' notes say of channel and edge.
DESCRIBED = {
    f"crank-cam/{SPLIT}.csv": ("w36-2-1", "crank-rising"),
    f"crank-cam/{SPLIT}_extra-edge.csv": ("w36-2-1", "crank-falling"),
    "crank-cam/w60-2_cranking-to-running.csv": ("w60-2", "crank-falling"),
    "crank-cam/w24-uneven_cranking.csv": ("w24-uneven", "crank-falling"),
    "crank-cam/w12plus1_cranking_no-plugs.csv": ("w12plus1", "crank-rising"),
    "crank-cam/w4-uneven_cam_cranking.csv": ("w4-uneven", "crank-rising"),
    "crank-cam/cam4_cam2_cranking.csv": ("cam-wheels", "cams-falling"),
    "crank-cam/w60-2_analog_a.csv": ("w60-2", "crank-falling"),
    "crank-cam/w60-2_analog_b.csv": ("w60-2", "crank-falling"),
    "crank-cam/w36-2_noisy.csv": ("w36-2", "crank-rising"),
    "compression/cranking_all-plugs-in.csv": ("w12plus1", "crank-falling"),
    "compression/cranking_all-plugs-out.csv": ("w12plus1", "crank-falling"),
}


@cache
def measured(folder: Path, name: str, engine: str | None, note: str | None) -> Measurement:
    sidecar = OURS / f"{note}.toml" if note else None
    known = read_engine(OURS / f"engine_{engine}.toml") if engine else None
    return measure(read_recording(folder / name, sidecar=sidecar), known)


def described(folder: Path, name: str) -> Measurement:
    return measured(folder, name, *DESCRIBED[name])


def expected(folder: Path, file: str, quantity: str) -> float:
    """The expected value of a row of the table, by the beginning of its quantity."""
    with (folder / "crank-cam" / "expected.csv").open(encoding="utf-8") as stream:
        rows = [r for r in csv.DictReader(stream) if r["file"] == file and r["quantity"].startswith(quantity)]
    assert len(rows) == 1
    return float(rows[0]["expected"].split()[0].split("-")[0])


def found(one: Measurement, quantity: str, words: str = "", **place: str) -> list[Finding]:
    return [
        f
        for f in one.findings
        if f.quantity == quantity and words in f.method and place.items() <= f.place.as_dict().items()
    ]


def speed(one: Measurement, words: str) -> float:
    (finding,) = found(one, "speed_measured", words)
    return finding.value


# ---------------------------------------------------------------- row by row


@pytest.mark.parametrize("edge", ["rising", "falling"])
def test_teeth_of_the_wheel_with_two_gaps(recordings: Path, edge: str) -> None:
    one = measured(recordings, f"crank-cam/{SPLIT}.csv", "w36-2-1", f"crank-{edge}")
    (teeth,) = found(one, "wheel_teeth_seen")
    assert teeth.value == expected(recordings, f"{SPLIT}.csv", "teeth in every")
    assert teeth.method.endswith("so many in 30 of 30 whole turns")
    (note,) = [note for note in one.notes if "short pulse" in note]
    assert note == "Channel 1: 2 short pulses left out: at 5.899611, 6.152304 s."


def test_speed_at_first_lock(recordings: Path) -> None:
    one = described(recordings, f"crank-cam/{SPLIT}.csv")
    wanted = expected(recordings, f"{SPLIT}.csv", "speed at first lock")
    assert speed(one, "at the first index edge") == pytest.approx(wanted, rel=1e-3)
    # Rising edges behind the gap come early: what they say of the speed is doubted by as much.
    (finding,) = found(one, "speed_measured", "at the first index edge")
    falling = measured(recordings, f"crank-cam/{SPLIT}.csv", "w36-2-1", "crank-falling")
    assert abs(finding.value - speed(falling, "at the first index edge")) < 1.645 * finding.sd


def test_half_moon_behind_the_index(recordings: Path) -> None:
    one = described(recordings, f"crank-cam/{SPLIT}.csv")
    for name, quantity in (("first_falling", "cam fall"), ("first_rising", "cam rise")):
        (edge,) = found(one, "cam_edge_angle", edge=name)
        assert edge.value == pytest.approx(expected(recordings, f"{SPLIT}.csv", quantity), abs=0.2)
        assert edge.sd < 0.2
    (scatter,) = found(one, "phase_scatter")
    assert scatter.value == pytest.approx(0.03, abs=0.02)  # the table's notes: scatter 0.03
    other = measured(recordings, f"crank-cam/{SPLIT}.csv", "w36-2-1", "crank-falling")
    for name, wanted in (("first_falling", 236.63), ("first_rising", 603.97)):  # as well in the table's notes
        assert found(other, "cam_edge_angle", edge=name)[0].value == pytest.approx(wanted, abs=0.2)


@pytest.mark.parametrize("edge", ["rising", "falling"])
def test_one_extra_edge_is_told_once_and_costs_nothing(recordings: Path, edge: str) -> None:
    one = measured(recordings, f"crank-cam/{SPLIT}_extra-edge.csv", "w36-2-1", f"crank-{edge}")
    (extra,) = found(one, "edges_extra")
    wanted = expected(recordings, f"{SPLIT}_extra-edge.csv", "extra edges")
    assert extra.method == f"{wanted:.0f} in 30 whole turns"
    (note,) = [note for note in one.notes if "on the crank" in note]
    assert note.startswith("1 extra edge on the crank, left out: at 5.39378")
    assert not one.void
    clean = measured(recordings, f"crank-cam/{SPLIT}.csv", "w36-2-1", f"crank-{edge}")
    assert speed(one, "whole turns") == pytest.approx(speed(clean, "whole turns"), rel=1e-6)


@pytest.mark.parametrize(
    ("name", "words", "within"),
    [
        ("w60-2_cranking-to-running.csv", "over 90° at the end", 0.01),
        ("w24-uneven_cranking.csv", "over 90° at the end", 0.01),
        ("w12plus1_cranking_no-plugs.csv", "over 90° at the end", 0.01),
        ("w4-uneven_cam_cranking.csv", "over 180° at the end", 0.01),
        ("cam4_cam2_cranking.csv", "over 180° at the end", 0.05),
    ],
)
def test_speed_at_the_end(recordings: Path, name: str, words: str, within: float) -> None:
    one = described(recordings, f"crank-cam/{name}")
    assert speed(one, words) == pytest.approx(expected(recordings, name, "speed at end"), rel=within)


def test_turns_with_all_teeth(recordings: Path) -> None:
    one = described(recordings, "crank-cam/w60-2_cranking-to-running.csv")
    (teeth,) = found(one, "wheel_teeth_seen")
    wanted = expected(recordings, "w60-2_cranking-to-running.csv", "revolutions with 58 teeth")
    assert teeth.value == 58
    assert f"so many in {wanted:.0f} of " in teeth.method
    assert [stretch.reason for stretch in one.void] == ["spin-up"]


def test_reluctance_sensor_steady(recordings: Path) -> None:
    one = described(recordings, "crank-cam/w60-2_analog_a.csv")
    (teeth,) = found(one, "wheel_teeth_seen")
    assert teeth.value == expected(recordings, "w60-2_analog_a.csv", "teeth in a revolution")
    assert one.turns is not None
    assert 160.0 < one.turns.rpm.min() < one.turns.rpm.max() < 161.6  # the table's note: 160.1 to 161.5


def test_reluctance_sensor_running_up(recordings: Path) -> None:
    one = described(recordings, "crank-cam/w60-2_analog_b.csv")
    assert one.turns is not None
    assert one.turns.rpm[0] == pytest.approx(expected(recordings, "w60-2_analog_b.csv", "speed rises from"), rel=0.02)
    assert one.turns.rpm.max() > 430.0
    assert (np.diff(one.turns.rpm) > 0.0).mean() > 0.8


@pytest.mark.parametrize("edge", ["rising", "falling"])
def test_heavy_noise_makes_no_speed(recordings: Path, edge: str) -> None:
    one = measured(recordings, "crank-cam/w36-2_noisy.csv", "w36-2", f"crank-{edge}")
    assert one.turns is not None
    assert 6 <= len(one.turns.rpm) <= 8
    low, high = 0.98 * expected(recordings, "w36-2_noisy.csv", "speed of the clean"), 1.02 * 336.0
    assert low < one.turns.rpm.min() < one.turns.rpm.max() < high
    for finding in found(one, "speed_measured"):
        assert low < finding.value < high
    # Known and void stretches together are the recording: nothing is left unsaid.
    assert one.roles is not None
    assert one.roles.map is not None
    known = sum(high - low for low, high in one.roles.map.lock.spans()) + sum(s.to_s - s.from_s for s in one.void)
    assert known == pytest.approx(1.498, abs=0.02)


# ---------------------------------------------------------------- a labelled mechanical state


def test_no_compression_is_a_flat_speed(recordings: Path) -> None:
    one = described(recordings, "compression/cranking_all-plugs-out.csv")
    assert one.course is not None
    assert one.course.segment_deg == 30.0
    assert 164.5 < one.course.lowest_rpm < one.course.highest_rpm < 169.5  # beside the recordings: 165 to 169
    assert one.course.dips == 0
    assert any("the speed is even: 165 to 169 rpm over every 30°" in note for note in one.notes)


def test_compression_shows_as_four_dips_and_the_roll_back_as_none(recordings: Path) -> None:
    one = described(recordings, "compression/cranking_all-plugs-in.csv")
    assert one.course is not None
    assert one.course.dips == 4
    assert one.course.depth > 0.3
    assert any("dips 4 times, 180° apart" in note for note in one.notes)
    assert one.roles is not None
    assert one.roles.map is not None
    assert one.roles.map.n_parts == 2  # two attempts
    (between,) = one.void
    assert between.reason == "stop"
    assert 9.0 < between.from_s < 10.5
    assert 11.5 < between.to_s < 13.0


# ---------------------------------------------------------------- angles taken away


def test_without_angles_nothing_absolute_is_claimed_and_the_rest_stays(recordings: Path) -> None:
    name, note = f"crank-cam/{SPLIT}.csv", "crank-rising_cam"
    full = measured(recordings, name, "w36-2-1_with-angles", note)
    bare = measured(recordings, name, "w36-2-1_without-angles", note)
    (error,) = found(full, "cam_phase_error")
    # The description has the falling edge at 674 less 77 behind the index, the other turn: 237.0; it comes at 241.38.
    assert error.value == pytest.approx(237.0 - 241.38 + (-4.2 + 4.38) / 2.0, abs=0.25)
    assert not found(bare, "cam_phase_error")
    (why,) = [n for n in bare.not_measured if n.quantity == "cam_phase_error"]
    assert "piston" in why.reason
    assert why.settled_by
    for quantity in RELATIVE:
        with_angles = [(f.place, f.value, f.sd) for f in found(full, quantity)]
        assert with_angles == [(f.place, f.value, f.sd) for f in found(bare, quantity)]
        assert with_angles


# ---------------------------------------------------------------- nothing described

# What the wheel may be called, and between which speeds [rpm] every value must lie, from the recordings' README; None:
# it may be left unknown as well.
BLIND: dict[str, tuple[set[str | None], float, float]] = {
    "crank-cam/cam4_cam2_cranking.csv": ({None}, 0.0, 0.0),
    "crank-cam/w12plus1_cranking_no-plugs.csv": ({"12+1"}, 160.0, 195.0),
    "crank-cam/w24-uneven_cranking.csv": ({"24 uneven"}, 80.0, 150.0),
    f"crank-cam/{SPLIT}.csv": ({"36-2-1"}, 1380.0, 1450.0),
    f"crank-cam/{SPLIT}_extra-edge.csv": ({"36-2-1"}, 1380.0, 1450.0),
    "crank-cam/w36-2_noisy.csv": ({"36-2", None}, 290.0, 343.0),
    "crank-cam/w4-uneven_cam_coils_a.csv": ({"4 uneven", None}, 150.0, 400.0),
    "crank-cam/w4-uneven_cam_coils_b.csv": ({"4 uneven", None}, 150.0, 560.0),
    "crank-cam/w4-uneven_cam_cranking.csv": ({"4 uneven"}, 170.0, 1500.0),
    "crank-cam/w60-2_analog_a.csv": ({"60-2", None}, 158.0, 164.0),
    "crank-cam/w60-2_analog_b.csv": ({"60-2", None}, 145.0, 660.0),
    "crank-cam/w60-2_analog_c.csv": ({"60-2", None}, 105.0, 120.0),
    "crank-cam/w60-2_cranking-to-running.csv": ({"60-2"}, 240.0, 1710.0),
    "compression/cranking_all-plugs-in.csv": ({"12+1"}, 90.0, 300.0),
    "compression/cranking_all-plugs-out.csv": ({"12+1"}, 164.0, 170.0),
}


@pytest.mark.parametrize("name", BLIND)
def test_nothing_described_gives_a_right_wheel_or_an_honest_none(recordings: Path, name: str) -> None:
    wheels, low, high = BLIND[name]
    one = measured(recordings, name, None, None)
    guess = one.roles.guess if one.roles is not None else None
    assert (str(guess.pattern) if guess is not None else None) in wheels
    speeds = found(one, "speed_measured")
    assert all(low < finding.value < high for finding in speeds)
    assert not found(one, "cam_phase_error")
    if guess is None:
        assert not one.findings
        (why,) = [n for n in one.not_measured if n.quantity == "speed_measured"]
        assert "gaps" in why.settled_by
        for channel, role, _ in one.channels:
            if role != "silent":
                assert any(note.startswith(f"{channel}: ") and "ms apart" in note for note in one.notes)
    else:
        assert len(speeds) >= 3  # whole turns, at the first lock, at the end


# ---------------------------------------------------------------- as the command prints it


def test_the_command_gives_the_same_on_the_untouched_file(recordings: Path, tmp_path: Path) -> None:
    path = tmp_path / f"{SPLIT}.csv"
    shutil.copyfile(recordings / "crank-cam" / path.name, path)
    shutil.copyfile(OURS / "crank-rising.toml", tmp_path / f"{path.name}.toml")
    engine = str(OURS / "engine_w36-2-1.toml")
    answer = run("measure", str(path), "--engine", engine, "--json")
    assert answer.code == 0
    (told,) = json.loads(answer.out)["recordings"]
    values = {(f["quantity"], f["place"].get("edge")): f["value"] for f in told["findings"]}
    assert values["cam_edge_angle", "first_falling"] == pytest.approx(241.38, abs=0.2)
    at_once = [f["value"] for f in told["findings"] if "at the first index edge" in f["method"]]
    assert at_once == [pytest.approx(1436.23, rel=1e-3)]
    words = run("measure", str(path), "--engine", engine)
    assert words.code == 0
    assert "at the first index edge read" in words.out
    assert "1436.27 ± " in words.out
