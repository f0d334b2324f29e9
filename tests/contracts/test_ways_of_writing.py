"""One table, written in every way in which people and instruments write it, is read as one and the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given

from witnessmark.recording import ExplicitTime, RegularTime, read_recording
from witnessmark.testing.signals import edge_list, missing_tooth_wheel, turning
from witnessmark.testing.writing import Writing, writings, written

WHEEL = missing_tooth_wheel(12, 1)
TIMES, LEVELS = edge_list(
    [
        (turning((300.0, 360.0), 0.8, WHEEL.rising_deg), turning((300.0, 360.0), 0.8, WHEEL.falling_deg)),
        (turning((150.0, 180.0), 0.8, np.array([70.0])), turning((150.0, 180.0), 0.8, np.array([250.0]))),
    ]
)
TIMES = np.round(TIMES, 6)
SAMPLE_TIMES = 0.25 + np.arange(120) * 2e-4
VOLTS = np.round(np.column_stack([np.sin(SAMPLE_TIMES * 900.0), 4.0 + np.cos(SAMPLE_TIMES * 700.0)]), 3)


@given(writings())
@example(Writing(delimiter=";", decimal=",", headings="row", encoding="utf-8-sig", newline="\r\n", trailing=True))
@example(Writing(delimiter=",", decimal=",", quoted=True))
@example(Writing(headings="none", delimiter=" ", ends=False))
def test_a_list_of_changes(tmp_path_factory: pytest.TempPathFactory, way: Writing) -> None:
    path = tmp_path_factory.mktemp("ways") / "bench.csv"
    path.write_bytes(written(TIMES, LEVELS, way, names=["crank", "cam"]))
    recording = read_recording(path)
    assert recording.format == "edge_csv"
    assert [trace.name for trace in recording] == (
        ["channel 0", "channel 1"] if way.headings == "none" else ["crank", "cam"]
    )
    for trace, levels in zip(recording, LEVELS.T, strict=True):
        assert trace.kind == "levels"
        assert np.array_equal(trace.values, levels)
        assert np.abs(trace.times_s - TIMES).max() < 1e-12
        assert trace.unit == ("V" if way.headings in ("brackets", "row") else None)
        assert trace.stamp_s == pytest.approx(1e-6, rel=1e-9)


@given(writings())
@example(Writing(delimiter="\t", decimal=",", headings="row", encoding="utf-16", newline="\r\n"))
@example(Writing(headings="brackets", time_unit="us", delimiter="   ", preamble=3))
def test_samples(tmp_path_factory: pytest.TempPathFactory, way: Writing) -> None:
    path = tmp_path_factory.mktemp("ways") / "bench.csv"
    path.write_bytes(written(SAMPLE_TIMES, VOLTS, way, names=["crank", "cam"]))
    recording = read_recording(path)
    assert recording.format == "sampled_csv"
    assert len(recording) == 2
    for trace, volts in zip(recording, VOLTS.T, strict=True):
        assert trace.kind == "samples"
        assert np.array_equal(trace.values, volts)
        assert isinstance(trace.time, RegularTime)
        assert np.abs(trace.times_s - SAMPLE_TIMES).max() < 1e-12


@given(writings())
def test_samples_at_odd_times(tmp_path_factory: pytest.TempPathFactory, way: Writing) -> None:
    path = tmp_path_factory.mktemp("ways") / "bench.csv"
    times = np.round(np.cumsum(np.random.default_rng(5).uniform(0.5e-3, 2e-3, 60)), 6)
    path.write_bytes(written(times, VOLTS[:60], way, names=["crank", "cam"]))
    recording = read_recording(path)
    assert recording.format == "sampled_csv"
    for trace, volts in zip(recording, VOLTS[:60].T, strict=True):
        assert np.array_equal(trace.values, volts)
        assert isinstance(trace.time, ExplicitTime)
        assert np.abs(trace.times_s - times).max() < 1e-12


def test_remarks_above_the_table_are_kept(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("ways") / "bench.csv"
    path.write_bytes(written(TIMES, LEVELS, Writing(preamble=2), names=["crank", "cam"]))
    header = read_recording(path).header
    assert header == {"Bench recorder run 0": "µ-metal lead", "Bench recorder run 1": "µ-metal lead"}
