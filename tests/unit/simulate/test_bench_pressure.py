"""Pressure recordings: in the cylinder, in the intake, at the tail pipe."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.unit.simulate.benches import QUIET, bench, four
from witnessmark.errors import InputError
from witnessmark.measure.run import measure
from witnessmark.recording.read import read_recording
from witnessmark.simulate.bench import BenchCapture, Setup
from witnessmark.simulate.cylinderpressure import cylinder_pressure
from witnessmark.simulate.instruments import Scope
from witnessmark.simulate.pulsation import pipes_of, pulses
from witnessmark.simulate.scenario import Disturbances
from witnessmark.simulate.transducer import draw_transducer
from witnessmark.simulate.unmodelled import UNMODELLED
from witnessmark.simulate.write import write_recording

CRANKING = Setup("cranking", 1.4, QUIET)


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("once", "again"):
        write_recording(cylinder_pressure(bench(), CRANKING, 5).recording, tmp_path / name)
    files = [(tmp_path / name / "incylinder_crank.csv").read_bytes() for name in ("once", "again")]
    assert files[0] == files[1]
    assert (
        cylinder_pressure(bench(), CRANKING, 6).recording.digest
        != cylinder_pressure(bench(), CRANKING, 5).recording.digest
    )


def test_the_file_reads_back_with_what_its_note_says(tmp_path: Path) -> None:
    capture = cylinder_pressure(bench(), CRANKING, 5)
    read = read_recording(write_recording(capture.recording, tmp_path))
    for made, found in zip(capture.recording, read, strict=True):
        assert np.allclose(found.values, made.values, atol=0.51 * made.scale)
        assert (found.role, found.unit, found.name) == (made.role, made.unit, made.name)
    assert read.condition.state == "cranking"


@pytest.mark.parametrize(("running", "seconds"), [("cranking", 1.4), ("idle", 0.6)])
def test_an_ideal_transducer_shows_the_true_pressure(running: str, seconds: float) -> None:
    """Without a tube's ring or its own errors a transducer gives what the gas does, but for converter and noise."""
    ideal = replace(
        draw_transducer(np.random.default_rng(1)), tube_m=0.01, volume_cm3=0.01, gain=1.0, offset_kpa=0.0,
        warming_kpa=0.0, shock_kpa_per_mpa=0.0,
    )  # fmt: skip
    ideal = replace(ideal, probe=replace(ideal.probe, noise=1.0))
    capture = cylinder_pressure(bench(), Setup(running, seconds, QUIET), 5, transducer=ideal)
    shown, true = capture.recording.traces[0].values, capture.truth["pressure"]
    assert float(np.std(shown - true)) < 3.0
    assert abs(float(np.mean(shown - true))) < 3.0


def test_a_drawn_transducer_is_wrong_by_what_it_says() -> None:
    capture = cylinder_pressure(bench(), CRANKING, 5)
    shown, true = capture.recording.traces[0].values, capture.truth["pressure"]
    assert 0.5 < float(np.max(np.abs(shown - true))) < 250.0
    assert {"adaptor_volume", "tube_ringing", "transducer_drift", "valve_train", "cutting"} <= set(capture.unmodelled)
    assert set(capture.unmodelled) <= set(UNMODELLED)


def test_the_adaptor_lowers_the_compression_it_measures() -> None:
    small, large = (
        cylinder_pressure(
            bench(), CRANKING, 5, transducer=replace(draw_transducer(np.random.default_rng(1)), volume_cm3=v)
        )
        for v in (0.2, 6.0)
    )
    assert large.truth["pressure"].max() < 0.95 * small.truth["pressure"].max()


def test_the_crank_beside_it_is_the_one_that_turns(tmp_path: Path) -> None:
    """Measuring finds the wheel in the file, the pressure beside it, and the speed that the truth has."""
    capture = cylinder_pressure(bench(), replace(CRANKING, seconds=2.4), 5)
    read = read_recording(write_recording(capture.recording, tmp_path))
    found = [f.estimate.value for f in measure(read, four()).findings if f.quantity == "speed_measured"]
    turned = float(capture.truth["crank"][-1] - capture.truth["crank"][0])
    assert found
    assert np.mean(found) == pytest.approx(turned / 2.4 / 6.0, rel=0.08)  # the stretches measured are not the whole


def test_running_unfired_shows_the_four_strokes() -> None:
    """Handbook §3: expansion goes below exhaust pressure at part throttle; exhaust plateau near ambient; intake near
    the plenum's pressure."""
    capture = cylinder_pressure(bench(), Setup("idle", 0.9, QUIET), 5)
    angle, true = capture.truth["crank"] % 720.0, capture.truth["pressure"]
    run = capture.run
    assert run is not None
    assert not any(s.cylinder == 1 for s in run.sparks)
    outside, plenum = run.of("air")[0] / 1e3, float(np.mean(run.of("plenum"))) / 1e3
    plateau = float(np.median(true[(angle > 240.0) & (angle < 320.0)]))
    intake = float(np.median(true[(angle > 430.0) & (angle < 520.0)]))
    lowest = float(np.min(true[(angle > 90.0) & (angle < 180.0)]))
    assert plateau == pytest.approx(outside, abs=4.0)
    assert intake == pytest.approx(plenum, abs=4.0)
    assert lowest < 0.7 * plateau
    assert 400.0 < true.max() < 1100.0


def test_a_fired_cylinder_does_work_and_an_unfired_one_costs_some() -> None:
    def mean_pressure(capture: BenchCapture) -> float:
        run = capture.run
        assert run is not None
        geometry = run.breather.skeleton.cylinders[0].geometry
        angle = capture.truth["crank"]
        whole = (angle > 720.0 * np.ceil(angle[0] / 720.0)) & (angle < 720.0 * np.floor(angle[-1] / 720.0))
        volume = np.asarray(geometry.volume_m3(angle[whole]))
        cycles = np.floor(angle[-1] / 720.0) - np.ceil(angle[0] / 720.0)
        work = float(
            np.sum(
                0.5 * (capture.truth["pressure"][whole][1:] + capture.truth["pressure"][whole][:-1]) * np.diff(volume)
            )
        )
        return work / cycles / (geometry.area_m2 * geometry.stroke_m)

    setup = Setup("idle", 0.9, QUIET)
    # 100 to 250 kPa at idle with pumping taken off is common practice, no source.
    assert 40.0 < mean_pressure(cylinder_pressure(bench(), setup, 5, fired=True)) < 300.0
    assert -120.0 < mean_pressure(cylinder_pressure(bench(), setup, 5)) < -10.0


def test_sparks_ring_in_the_lead_only_where_they_are_meant_to() -> None:
    quiet = Setup("idle", 0.5, QUIET)
    ringing = replace(quiet, disturbances=Disturbances(sparks_v=2.0))
    plain, noisy = (cylinder_pressure(bench(), s, 5).recording.traces[0].values for s in (quiet, ringing))
    assert float(np.max(np.abs(plain - noisy))) > 8.0
    assert float(np.median(np.abs(plain - noisy))) < 3.0


@pytest.mark.parametrize("step", [1e-4, 5e-7])
def test_from_ten_thousand_to_two_million_samples_a_second(step: float) -> None:
    scope = replace(QUIET, step_s=step)
    capture = cylinder_pressure(bench(), Setup("cranking", 0.12, scope), 5)
    assert len(capture.recording.traces[0]) == round(0.12 / step)


def test_other_rates_are_refused() -> None:
    for step in (2e-4, 1e-7):
        with pytest.raises(InputError, match="10 kS/s to 2 MS/s"):
            Setup("cranking", 1.0, Scope(step_s=step))


def test_recordings_begin_anywhere_in_the_cycle() -> None:
    starts = [
        float(cylinder_pressure(bench(), Setup("cranking", 0.2, QUIET), k).truth["crank"][0] % 720.0) for k in range(12)
    ]
    assert np.ptp(starts) > 300.0


@pytest.mark.parametrize("bits", [8, 12, 16])
def test_the_converter_has_so_many_steps(bits: int) -> None:
    capture = cylinder_pressure(bench(), replace(CRANKING, scope=replace(QUIET, bits=bits)), 5)
    trace = capture.recording.traces[0]
    assert trace.scale == pytest.approx(875.0 * 10.0 / (2**bits - 1))  # ±5 V at 875 kPa for each volt
    assert np.allclose(trace.values, trace.raw * trace.scale + trace.offset)


@pytest.mark.parametrize("running", ["cranking", "idle"])
def test_pulses_come_once_for_each_cylinder(running: str) -> None:
    """The strongest line of the intake's pressure is the order of firing: cylinders/2 times a turn."""
    setup = Setup(running, 1.2, QUIET)
    capture = pulses(bench(), setup, 5)
    run = capture.run
    assert run is not None
    for name in ("plenum", "tail"):
        values = capture.truth[name] - capture.truth[name].mean()
        spectrum = np.abs(np.fft.rfft(values * np.hanning(values.size)))
        line = np.fft.rfftfreq(values.size, setup.scope.step_s)[np.argmax(spectrum)]
        inside = (run.motion.times_s > 0.8) & (run.motion.times_s < 2.0)
        rpm = float(np.polyfit(run.motion.times_s[inside], run.motion.crank_deg[inside], 1)[0]) / 6.0
        assert line == pytest.approx(2.0 * rpm / 60.0, rel=0.12)
    shown = capture.recording.traces[0].values
    assert float(np.corrcoef(shown, capture.truth["plenum"])[0, 1]) > 0.8


def test_a_leaking_exhaust_valve_disturbs_its_own_pulse() -> None:
    """While its neighbour's pulse stays, the cylinder whose compression escapes into the exhaust stands out."""
    sound, wrong = (
        pulses(bench(*change), Setup("cranking", 2.0, QUIET), 5)
        for change in ((), (("valve_leak", "cylinder_3.exhaust", "set", 6.0),))
    )

    def half_order(capture: BenchCapture) -> float:
        run = capture.run
        assert run is not None
        assert capture.window is not None
        times = np.linspace(capture.window.from_s, capture.window.to_s, capture.truth["tail"].size)
        angle = np.radians(np.interp(times, run.motion.times_s, run.motion.crank_deg))
        tail = capture.truth["tail"] - capture.truth["tail"].mean()
        low, firing = (abs(np.mean(tail * np.exp(-1j * order * angle))) for order in (0.5, 2.0))
        return float(low / firing)

    assert half_order(wrong) > 2.0 * half_order(sound)


def test_pipes_are_this_vehicles_own() -> None:
    assert pipes_of(1) == pipes_of(1) != pipes_of(2)
    assert 120.0 < pipes_of(1).runner_hz < 320.0
