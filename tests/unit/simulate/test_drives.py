"""Logs of whole drives: what stands in them, under which signal, and what has gone wrong with it."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.unit.simulate.benches import bench
from witnessmark.errors import InputError
from witnessmark.measure.log.series import Log, log_of
from witnessmark.recording.parameters import parameters, signal_of
from witnessmark.recording.read import read_recording
from witnessmark.simulate import UNMODELLED, Mishap, ScanSetup, scan_log
from witnessmark.simulate.bench import BenchCapture
from witnessmark.simulate.itinerary import phases_of
from witnessmark.simulate.write import write_recording


@cache
def drive(rows: str = "rounds", course: str = "cold_drive", **more: object) -> BenchCapture:
    return scan_log(bench(), ScanSetup(course, answer_s=0.02, rows=rows, minutes=4.0, beyond=True, **more), 7)  # type: ignore[arg-type]


def test_every_trace_is_a_signal_of_the_closed_list_within_its_range() -> None:
    capture = drive()
    for trace in capture.recording:
        row = signal_of(str(trace.role)).parameter
        assert trace.unit == (row.unit or None)
        low, high = np.percentile(trace.values, (1.0, 99.0))
        assert row.low is None or low >= row.low
        assert row.high is None or high <= row.high
        assert str(trace.role) in capture.truth
    assert len(log_of(capture.recording).series) == len(capture.recording)
    assert set(capture.unmodelled) <= set(UNMODELLED)
    named = {str(trace.role).split()[0] for trace in capture.recording}
    assert {"cam_actual", "misfire_count", "o2_voltage", "oil_temperature"} <= named <= set(parameters())


def test_a_drive_goes_from_halt_to_halt() -> None:
    """Gears join on to one another: no road speed jumps by more than a gear change explains (12 km/h a second)."""
    truth = drive().truth
    assert np.abs(np.diff(truth["speed"])).max() < 1.2 * 12.0 * 0.1 + 1.5
    assert truth["speed"].max() > 40.0
    assert truth["speed"][-1] < 1.0
    assert (truth["rpm"][truth["speed"] > 1.0] > 500.0).all()


@pytest.mark.parametrize("course", ["cold_drive", "warm_drive", "start"])
def test_phases_are_drawn_by_the_seed(course: str) -> None:
    once, again, other = (phases_of(course, np.random.default_rng(k), minutes=5.0)[0] for k in (1, 1, 2))
    assert once == again
    assert once != other
    for one, following in pairwise(once):
        assert (one.state, following.state) != ("key_on", "idle")


def test_an_engine_without_fuel_has_no_trim_and_a_lean_sensor() -> None:
    """Overrun: fuel cut. Wide-band sensors end at 2, narrow ones fall to about 0.1 V (common practice, no source)."""
    truth = drive(course="warm_drive").truth
    cut = (truth["closed"] < 0.5) & (truth["rpm"] > 1300.0) & (truth["load"] < 15.0)
    assert cut.sum() > 20
    assert np.median(truth["lambda_1"][cut]) > 1.5
    assert np.abs(truth["trim_1"][cut]).max() == 0.0


def test_the_truth_is_what_the_log_shows_on_the_whole() -> None:
    """Noise, lag and rounding do not move a mean by more than they are large."""
    capture = drive("answers")
    times = capture.truth["times"]
    for role, most in (("map", 0.5), ("engine_speed", 15.0), ("volts", 0.05), ("maf", 0.4)):
        series = log_of(capture.recording).series[signal_of(role)]
        true = np.interp(series.times_s, times, capture.truth[role])
        assert abs(float(np.mean(series.values - true))) < most


def test_held_rows_repeat_the_last_answer() -> None:
    log = log_of(drive("held", row_s=0.2).recording)
    lengths = {len(series) for series in log}
    assert max(lengths) - min(lengths) < 0.1 * max(lengths)
    speed = log.series[signal_of("engine_speed")]
    again = float(np.mean(speed.values[1:] == speed.values[:-1]))
    assert 0.2 < again < 0.9
    assert "held" in drive("held", row_s=0.2).unmodelled


# ---------------------------------------------------------------- what goes wrong


def values_of(capture: BenchCapture, role: str, begin: float, end: float) -> np.ndarray:
    return log_of(capture.recording).series[signal_of(role)].inside(begin, end).values


def test_mishaps_stand_where_they_are_put() -> None:
    mishaps = (
        Mishap("frozen", ("map",), 60.0, 30.0),
        Mishap("missing", ("throttle", "load"), 120.0, 10.0),
        Mishap("step", ("coolant",), 150.0, 1e4, -20.0),
        Mishap("lost", ("maf",), 200.0, 3.0),
    )
    sound, struck = drive(), drive(mishaps=mishaps)
    assert np.ptp(values_of(struck, "map", 60.5, 89.5)) == 0.0
    assert np.ptp(values_of(sound, "map", 60.5, 89.5)) > 0.0
    assert values_of(struck, "throttle", 121.0, 129.0).size == values_of(struck, "load", 121.0, 129.0).size == 0
    assert np.all(values_of(struck, "maf", 200.5, 202.5) == 0.0)
    drop = np.median(values_of(struck, "coolant", 152.0, 260.0)) - np.median(values_of(sound, "coolant", 152.0, 260.0))
    assert drop == pytest.approx(-20.0, abs=1.5)
    assert np.array_equal(struck.truth["map"], sound.truth["map"])  # the truth is of the vehicle, not of the log
    assert "mishaps" in struck.unmodelled


def test_sensors_of_one_supply_are_lost_together() -> None:
    """Pressure, throttle and crank hang on one 5 V source of the usual graph; the air meter does not."""
    vehicle = bench(("dropout_rate", "ref_a", "set", 2.0))
    setup = ScanSetup("warm_drive", answer_s=0.01, minutes=4.0, alike=True, lasting_s=3.0)
    log = log_of(scan_log(vehicle, setup, 7).recording)

    def lost(log: Log, role: str, value: float) -> float:
        return float(np.mean(log.series[signal_of(role)].values == value))

    assert lost(log, "throttle", 0.0) > 0.01
    assert lost(log, "engine_speed", 0.0) == pytest.approx(lost(log, "throttle", 0.0), abs=0.05)
    assert lost(log, "maf", 0.0) == 0.0


def test_a_cam_follows_its_target_no_faster_than_its_phaser() -> None:
    truth = drive(course="warm_drive").truth
    where = "bank=1 cam=intake"
    moved, rate = np.abs(np.diff(truth[f"cam_actual {where}"])) / 0.1, truth[f"cam_rate {where}"]
    assert np.abs(np.diff(truth[f"cam_target {where}"])).max() > 8.0
    assert moved.max() < rate.max() + 12.0  # hunting comes on top
    settled = np.abs(truth[f"cam_actual {where}"] - truth[f"cam_target {where}"])
    assert np.median(settled) < 3.0


def test_misfires_are_counted_at_their_rate() -> None:
    setup = ScanSetup("warm_drive", minutes=8.0, beyond=True, misfires={2: 30.0})
    truth = scan_log(bench(), setup, 7).truth
    firings = float(np.sum(truth["rpm"] / 120.0 * 0.1))
    expected = 0.030 * firings
    assert truth["misfire_count cylinder=2"][-1] == pytest.approx(expected, abs=4.0 * np.sqrt(expected))
    assert truth["misfire_count cylinder=1"][-1] == 0.0


# ---------------------------------------------------------------- roles, refusals


def test_a_note_may_say_which_parameter_a_column_is(tmp_path: Path) -> None:
    """Beside a log the note names a column's parameter, and which one of its kind; a wrong name is one line."""
    capture = scan_log(bench(), ScanSetup("start", answer_s=0.05), 7)
    path = write_recording(capture.recording, tmp_path)
    note = tmp_path / f"{path.name}.toml"
    note.write_text('[[channel]]\nname = "intake manifold pressure"\nrole = "map"\n', encoding="utf-8")
    assert read_recording(path)["intake manifold pressure"].role == "map"
    note.write_text('[[channel]]\nindex = 0\nrole = "mapp"\n', encoding="utf-8")
    with pytest.raises(InputError, match="mapp"):
        read_recording(path)


def test_what_is_asked_wrongly_is_one_line() -> None:
    with pytest.raises(InputError, match="mishap"):
        Mishap("bent", ("map",), 0.0, 1.0)
    with pytest.raises(InputError, match="row to row"):
        ScanSetup(row_s=0.0)
