"""Logs of the standard's values: scalings, rates, and what a state's edits do to them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.unit.simulate.benches import bench, four
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.state import HEALTHY
from witnessmark.errors import InputError
from witnessmark.recording.read import read_recording
from witnessmark.simulate.bench import BenchCapture, build_bench
from witnessmark.simulate.course import driven
from witnessmark.simulate.itinerary import COURSES
from witnessmark.simulate.pids import PIDS
from witnessmark.simulate.scanlog import ScanSetup, scan_log
from witnessmark.simulate.write import write_recording

Change = tuple[str, str, str, float]


@cache
def logged(course: str, *changes: Change, rows: str = "rounds", seed: int = 5) -> BenchCapture:
    return scan_log(bench(*changes, seed=seed), ScanSetup(course, rows=rows), seed)


def total_trim(capture: BenchCapture, state: str) -> float:
    """Short and long term together, as logged, over the settled part of each stretch [%]."""
    course = driven(bench(), "trims_at_speeds", 5)  # the same drive: its timetable hangs on the seed alone
    names = np.array(course.state)
    changed = np.flatnonzero(names[1:] != names[:-1]) * 0.1
    found = []
    short, long = (capture.recording[f"{kind} term fuel trim bank 1"] for kind in ("short", "long"))
    for time, value in zip(short.times_s, short.values, strict=True):
        k = min(int(time / 0.1), names.size - 1)
        since = time - changed[changed <= time].max(initial=-99.0)
        if names[k] == state and since > 6.0:
            found.append(value + np.interp(time, long.times_s, long.values))
    return float(np.mean(found))


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("once", "again"):
        write_recording(scan_log(bench(), ScanSetup("air_readings"), 5).recording, tmp_path / name)
    files = [(tmp_path / name / "air_readings.csv").read_bytes() for name in ("once", "again")]
    assert files[0] == files[1]
    assert logged("air_readings", seed=6).recording.digest != logged("air_readings").recording.digest


@pytest.mark.parametrize("course", COURSES)
@pytest.mark.parametrize("rows", ["rounds", "answers"])
def test_every_value_stands_on_a_step_of_its_scaling_and_within_its_bytes(course: str, rows: str) -> None:
    """SAE J1979 scalings (handbook §7): a whole number of bytes times a factor, plus an offset."""
    capture = logged(course, rows=rows)
    by_name = {pid.name: pid for pid in PIDS.values()}
    for trace in capture.recording:
        pid = by_name[trace.name]
        counts = (trace.values - pid.offset) / pid.factor
        assert np.allclose(counts, np.round(counts), atol=1e-6)
        assert counts.min() >= 0
        assert counts.max() <= 256**pid.bytes - 1


def test_rates_differ_in_one_file() -> None:
    capture = logged("trims_at_speeds", rows="answers")
    every = {trace.name: float(np.median(np.diff(trace.times_s))) for trace in capture.recording}
    assert every["engine speed"] < 0.5 * every["ignition timing"]
    assert every["ignition timing"] < every["coolant temperature"]
    together = np.concatenate([trace.times_s for trace in capture.recording])
    assert np.unique(together).size == together.size  # one answer after the other
    rounds = logged("trims_at_speeds")
    assert (
        np.isin(rounds.recording["coolant temperature"].times_s, rounds.recording["engine speed"].times_s).mean() > 0.95
    )


@pytest.mark.parametrize("rows", ["rounds", "answers"])
def test_a_log_reads_back_as_it_was(rows: str, tmp_path: Path) -> None:
    made = logged("air_readings", rows=rows).recording
    read = read_recording(write_recording(made, tmp_path))
    assert [t.name for t in read] == [t.name for t in made]
    for one, other in zip(made, read, strict=True):
        assert np.allclose(one.times_s, other.times_s, atol=1e-6)
        assert np.allclose(one.values, other.values, atol=0.5 * abs(one.scale))
        assert one.unit == other.unit


def test_key_on_start_and_run() -> None:
    """Key on: no speed, manifold near the surroundings (2 to 3 kPa: common practice, handbook §6), battery at rest; the
    dip of the starter; then charging (13.5 to 14.8 V, common practice)."""
    capture = scan_log(bench(), ScanSetup("cold_to_hot", answer_s=0.04), 5)  # quick enough to see the starter
    speed, volts, coolant = (
        capture.recording[n] for n in ("engine speed", "control module voltage", "coolant temperature")
    )
    assert speed.values[speed.times_s < 5.0].max() == 0.0
    assert 11.5 < volts.values[volts.times_s < 5.0].mean() < 12.8
    assert volts.values.min() < 11.4
    assert 13.4 < np.median(volts.values) < 14.8
    assert np.abs(capture.truth["map"][0] - capture.truth["barometer"][0]) < 4.0
    assert coolant.values[0] == pytest.approx(capture.truth["outside_air"][0], abs=3.0)
    assert coolant.values[-1] > 70.0
    assert np.all(np.diff(coolant.values) > -2.0)


def test_an_unmetered_leak_raises_the_trim_most_at_idle() -> None:
    """Handbook §6, air meter: the share of unmetered air falls with the flow, and a meter that reads low is flat."""
    leak = logged("trims_at_speeds", ("leak_area", "plenum", "set", 3.0))
    sound, low = logged("trims_at_speeds"), logged("trims_at_speeds", ("sensor_gain", "maf", "set", 0.85))
    moved = {s: total_trim(leak, s) - total_trim(sound, s) for s in ("idle", "raised", "cruise")}
    assert moved["idle"] > 10.0
    assert moved["idle"] > 2.0 * moved["raised"] > 2.0 * moved["cruise"] > 0.0
    flat = {s: total_trim(low, s) - total_trim(sound, s) for s in ("idle", "raised", "cruise")}
    assert all(value == pytest.approx(100.0 * (1.0 / 0.85 - 1.0), abs=4.5) for value in flat.values())


def test_a_speed_density_engine_hides_the_leak_in_its_pressure() -> None:
    """Handbook §6: trims near zero, manifold pressure up; such an engine has no air flow to log."""
    names = [k.name for k in known_engines()]
    engines = [max(candidate_engines(find_engine(n)), key=lambda o: o.weight).engine for n in names]
    engine = next(e for e in engines if e.breathing.air.metering == "speed_density")
    sound, leak = (
        scan_log(build_bench(engine, HEALTHY.edited(c), 5), ScanSetup("trims_at_speeds"), 5)
        for c in ((), (("leak_area", "plenum", "set", 6.0),))
    )
    assert "air flow" not in [t.name for t in sound.recording]
    trims = [np.median(c.recording["long term fuel trim bank 1"].values) for c in (sound, leak)]
    assert abs(trims[1] - trims[0]) < 4.0


def test_a_thermostat_that_opens_too_soon_keeps_it_cold() -> None:
    sound, cold = logged("cold_to_hot"), logged("cold_to_hot", ("thermostat_temp", "engine", "set", 45.0))
    last = [c.recording["coolant temperature"].values[-1] for c in (sound, cold)]
    assert last[1] < last[0] - 10.0


def test_the_coolant_warms_by_the_fuel_that_is_burnt() -> None:
    """Heat balance: over the minutes about the change from idle to 2,500 rpm losses are alike, and the slope goes as
    the fuel, which goes as the air; what the oil takes and what is lost make the agreement a rough one."""
    course = driven(bench(), "cold_to_hot", 5)
    change = course.state.index("raised")
    rise, burnt = [], []
    for first in (change - 1200, change):  # two minutes each
        minutes = slice(first, first + 1200)
        rise.append(np.ptp(course.values["coolant"][minutes]))
        burnt.append(course.values["maf"][minutes].mean())
    assert burnt[1] > 2.0 * burnt[0]
    assert rise[1] / rise[0] == pytest.approx(burnt[1] / burnt[0], rel=0.35)
    assert np.ptp(course.values["coolant"][: course.state.index("idle")]) < 0.1  # nothing burns yet


def test_a_wrong_sensor_is_wrong_by_as_much_as_it_is() -> None:
    sound, off = logged("air_readings"), logged("air_readings", ("sensor_offset", "ect", "set", -25.0))
    medians = [np.median(c.recording["coolant temperature"].values) for c in (sound, off)]
    assert medians[1] - medians[0] == pytest.approx(-25.0, abs=1.0)
    sound, off = (logged("air_readings", *c) for c in ((), (("sensor_offset", "map", "set", 12.0),)))
    assert np.median(off.truth["map"] - sound.truth["map"]) == pytest.approx(12.0, abs=1.0)


def test_what_is_asked_wrongly_is_one_line() -> None:
    with pytest.raises(InputError, match="rows"):
        ScanSetup(rows="columns")
    with pytest.raises(InputError, match="answer to answer"):
        ScanSetup(answer_s=0.0)
    with pytest.raises(InputError, match="drive"):
        driven(bench(), "to_the_shops", 1)
    assert four().cylinders == 4
