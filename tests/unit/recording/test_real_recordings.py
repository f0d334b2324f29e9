"""Real recordings are read as their description says: counts, spans, units, edges.

The facts stand in the README beside the recordings; they are skipped where there are none.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from witnessmark.errors import InputError
from witnessmark.recording import RegularTime, read_recording
from witnessmark.signal import find_edges
from witnessmark.signal.pulses import short_pulses

pytestmark = pytest.mark.recordings

# file, channels, rows, first and last time [s]; counted in the files.
EDGE_LISTS = [
    ("crank-cam/cam4_cam2_cranking.csv", 4, 217, 0.0, 4.88014475),
    ("crank-cam/w12plus1_cranking_no-plugs.csv", 1, 250, 55.880562, 59.001523),
    ("crank-cam/w24-uneven_cranking.csv", 1, 134, 47.597971, 49.042665),
    ("crank-cam/w36-2-1_halfmoon_running.csv", 2, 2047, 5.21757975, 6.5062925),
    ("crank-cam/w36-2-1_halfmoon_running_extra-edge.csv", 2, 2049, 5.21757975, 6.5062925),
    ("crank-cam/w36-2_noisy.csv", 1, 538, 0.0, 1.49819),
    ("crank-cam/w4-uneven_cam_coils_a.csv", 4, 130, 0.0, 3.42254475),
    ("crank-cam/w4-uneven_cam_coils_b.csv", 4, 118, 0.0, 4.99229625),
    ("crank-cam/w4-uneven_cam_cranking.csv", 2, 977, 0.0, 9.829947667),
    ("crank-cam/w60-2_cranking-to-running.csv", 8, 5196, 0.0, 7.01217),
    ("compression/cranking_all-plugs-in.csv", 3, 352, 8.2730545, 13.4439335),
    ("compression/cranking_all-plugs-out.csv", 3, 295, 0.0, 3.0162955),
]
PRESSURE = [
    "coasting_spark-off",
    "fired_a_full-load",
    "fired_a_no-load",
    "fired_b_full-load",
    "fired_b_no-load",
    "fired_b_no-load_15-percent-ethanol",
]


@pytest.mark.parametrize(("name", "channels", "rows", "first_s", "last_s"), EDGE_LISTS)
def test_lists_of_changes(recordings: Path, name: str, channels: int, rows: int, first_s: float, last_s: float) -> None:
    recording = read_recording(recordings / name)
    assert recording.format == "edge_csv"
    assert len(recording) == channels
    assert recording.span_s == pytest.approx((first_s, last_s), abs=1e-9)
    for trace in recording:
        assert len(trace) == rows
        assert trace.kind == "levels"
        assert set(np.unique(trace.values)) <= {0.0, 1.0}
        assert 0.0 < trace.stamp_s <= 2e-6
    # Every row flips a channel, so all edges together are the rows but the first (a few rows flip two).
    edges = sum(len(find_edges(trace)) for trace in recording)
    assert rows - 1 <= edges <= rows + 3
    assert not any("left out" in note or "without any change" in note for note in recording.notes)


@pytest.mark.parametrize(
    ("name", "start_s", "low_v", "high_v"),
    [("a", 9.85e-5, 2.14, 4.98), ("b", 9.85e-5, -1.54, 8.66), ("c", 9.7e-5, -1.54, 8.66)],
)
def test_sampled_reluctance_sensor(recordings: Path, name: str, start_s: float, low_v: float, high_v: float) -> None:
    (trace,) = read_recording(recordings / f"crank-cam/w60-2_analog_{name}.csv")
    assert isinstance(trace.time, RegularTime)
    assert trace.time.step_s == pytest.approx(1e-4, rel=1e-9)
    assert len(trace) == 60_000
    assert trace.time.start_s == pytest.approx(start_s)
    assert (trace.values.min(), trace.values.max()) == (low_v, high_v)


@pytest.mark.parametrize("name", ["a", "b", "c"])
def test_every_whole_turn_of_the_reluctance_sensor_has_58_falling_edges(recordings: Path, name: str) -> None:
    (trace,) = read_recording(recordings / f"crank-cam/w60-2_analog_{name}.csv")
    gaps = np.diff(find_edges(trace).only("falling").times_s)
    behind_gap = np.flatnonzero(gaps[1:] > 2.0 * gaps[:-1]) + 1
    assert behind_gap.size > 10
    assert set(np.diff(behind_gap)) == {58}


def test_speed_of_the_sampled_wheels(recordings: Path) -> None:
    def turns_rpm(name: str) -> np.ndarray:
        times = find_edges(read_recording(recordings / f"crank-cam/w60-2_analog_{name}.csv")[0]).only("falling").times_s
        gaps = np.diff(times)
        return 60.0 / np.diff(times[np.flatnonzero(gaps[1:] > 2.0 * gaps[:-1]) + 2])

    steady, rising = turns_rpm("a"), turns_rpm("b")
    assert 160.0 < steady.min() < steady.max() < 161.6
    assert rising[0] == pytest.approx(174.9, rel=0.02)
    assert rising.max() > 430.0


@pytest.mark.parametrize("name", PRESSURE)
def test_cylinder_pressure_beside_an_encoder(recordings: Path, name: str) -> None:
    recording = read_recording(recordings / f"pressure/{name}.txt")
    assert recording.format == "sampled_csv"
    assert len(recording) == 2
    for trace in recording:
        assert isinstance(trace.time, RegularTime)
        assert trace.time.step_s == pytest.approx(1e-5, rel=1e-9)
        assert trace.span_s == pytest.approx((0.0, 0.49999), abs=1e-9)
        assert len(trace) == 50_000


@pytest.mark.parametrize("name", PRESSURE)
def test_pulses_of_the_encoder(recordings: Path, name: str) -> None:
    encoder = read_recording(recordings / f"pressure/{name}.txt")[1 if name.startswith("fired_a") else 0]
    edges = find_edges(encoder)
    rising, falling = edges.only("rising").times_s, edges.only("falling").times_s
    falling = falling[falling > rising[0]]
    width = falling - rising[: falling.size]
    wide = np.flatnonzero(width > 2.5 * np.median(width))
    expected = 57 if name.startswith("fired_b") else 58
    assert wide.size > 15
    counts = np.diff(wide)
    assert np.mean(counts == expected) > 0.9
    if name == "coasting_spark-off":
        rpm = 60.0 / np.diff(rising[wide])
        assert rpm[0] == pytest.approx(2629.0, rel=0.005)
        assert rpm[-1] == pytest.approx(2184.0, rel=0.005)


def test_crosstalk_pulses_are_seen(recordings: Path) -> None:
    cam = read_recording(recordings / "crank-cam/w36-2-1_halfmoon_running.csv")["Channel 1"]
    found = short_pulses(find_edges(cam))
    assert found.start_s == pytest.approx([5.899611, 6.152304], abs=1e-6)
    assert found.width_s == pytest.approx(0.25e-6, abs=1e-9)
    crank = read_recording(recordings / "crank-cam/w36-2-1_halfmoon_running_extra-edge.csv")["Channel 0"]
    added = short_pulses(find_edges(crank))
    # It stands one microsecond behind a true edge: which of the two stretches is the intruder, width alone cannot say.
    assert added.start_s == pytest.approx([5.393780, 5.393781], abs=1e-9)
    assert added.width_s == pytest.approx(1e-6, abs=1e-8)
    assert added.high.tolist() == [True, False]


def test_headings_that_lie_stand_as_they_are(recordings: Path) -> None:
    recording = read_recording(recordings / "crank-cam/w4-uneven_cam_coils_b.csv")
    assert [trace.name for trace in recording] == ["0", "1", "crank", "coil"]
    assert {trace.role for trace in recording} == {None}
    with pytest.raises(InputError, match="several columns"):
        read_recording(recordings / "crank-cam/w4-uneven_cam_coils_a.csv")["coil"]


def test_what_is_no_table_of_numbers_over_time_is_refused_in_one_line(recordings: Path) -> None:
    for path in sorted((recordings / "can").glob("*.dbc")):
        with pytest.raises(InputError) as caught:
            read_recording(path)
        assert "\n" not in str(caught.value)
        assert str(caught.value).startswith(path.name)
