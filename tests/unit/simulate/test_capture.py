"""Captures: the same seed gives the same, the truth is in the recording, files read back as they were."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Engine
from witnessmark.errors import EngineDefinitionError, InputError
from witnessmark.recording.read import read_recording
from witnessmark.recording.types import Trace
from witnessmark.simulate import (
    LAYOUTS,
    RUNNING,
    UNMODELLED,
    Capture,
    Command,
    Disturbances,
    LogicAnalyser,
    Scenario,
    Scope,
    build_vehicle,
    capture_from_seed,
    layout,
    simulate_capture,
    write_recording,
)

QUIET = Scenario(running="idle", seconds=2.0, instrument=LogicAnalyser(1e-7))


def changes(trace: Trace) -> tuple[np.ndarray, np.ndarray]:
    """Times of the changes of a list of levels, and whether each goes up."""
    step = np.diff(trace.raw.astype(int))
    at = np.flatnonzero(step) + 1
    return trace.times_s[at], step[at - 1] > 0


def crank_of(capture: Capture) -> Trace:
    return capture.recording.with_role("crank")[0]


@pytest.mark.parametrize("name", LAYOUTS)
def test_same_seed_same_capture(name: str) -> None:
    once, again = (capture_from_seed(layout(name), 77) for _ in range(2))
    assert once.recording == again.recording
    assert once.recording.digest == again.recording.digest
    assert capture_from_seed(layout(name), 78).recording.digest != once.recording.digest


@pytest.mark.parametrize("running", RUNNING)
def test_every_way_of_running_gives_a_recording(running: str) -> None:
    capture = capture_from_seed(layout("four_one_chain"), 9, running=running)
    assert len(capture.recording) == 3
    assert {t.wheel for t in capture.recording} == {CRANK, "b1.intake", "b1.exhaust"}
    assert set(capture.unmodelled) <= set(UNMODELLED)
    assert capture.truth.times_s[0] == pytest.approx(capture.scenario.time_zero_s, abs=1e-3)


def test_each_turn_has_its_teeth() -> None:
    capture = simulate_capture(layout("four_one_chain"), HEALTHY, QUIET, seed=3)
    times, rises = changes(crank_of(capture))
    even = times[rises == (capture.truth.wheels[CRANK].even_edge == "rising")]
    turns = (capture.truth.crank_at(even) - capture.truth.index_deg + 3.0) // 360.0
    counts = np.unique(turns, return_counts=True)[1][1:-1]
    assert set(counts) == {58}


@pytest.mark.parametrize("slip", [0.0, 11.0, -25.0, 95.0])
def test_crank_wheel_slip_moves_every_cam_edge_the_other_way(slip: float) -> None:
    """docs/conventions.md: its edges earlier by 11, all cams seem 11 later; a later cam has a larger edge angle."""
    vehicle = build_vehicle(layout("four_one_chain"), 11)
    before = simulate_capture(vehicle, HEALTHY, QUIET, seed=1).truth
    after = simulate_capture(vehicle, State({("wheel_slip", CRANK): slip}), QUIET, seed=2).truth
    for cam in ("b1.intake", "b1.exhaust"):
        moved = (after.cams[cam].edges_deg - before.cams[cam].edges_deg + 360.0) % 720.0 - 360.0
        assert moved == pytest.approx(slip, abs=0.08)
        assert after.mean_phase(cam) - before.mean_phase(cam) == pytest.approx(-slip, abs=1e-6)
        # What the edges show is the mean phase and the swing, up to a quarter degree, that they happen to stand in.
        for truth in (before, after):
            assert truth.cams[cam].phase_at_edges_deg == pytest.approx(truth.mean_phase(cam), abs=0.3)


def test_truth_of_the_edges_is_in_the_recording() -> None:
    capture = simulate_capture(layout("four_one_chain"), HEALTHY, QUIET, seed=5)
    truth = capture.truth
    for trace in capture.recording.with_role("cam"):
        times, rises = changes(trace)
        behind = truth.behind_index(times)
        cam = truth.cams[str(trace.wheel)]
        for place, rising in zip(cam.edges_deg, cam.edges_rising, strict=True):
            off = (behind[rises == rising] - place + 360.0) % 720.0 - 360.0
            near = np.abs(off) < 5.0
            assert near.sum() >= 10
            # What is left is the sensor's lag and scatter: 14 us at 800 rpm are 0.07 degrees.
            assert abs(off[near].mean()) < 0.12


def test_a_commanded_phaser_moves_at_its_own_rate() -> None:
    commands = (Command(0.5, "b1.intake", 20.0),)
    state = State({("phaser_rate", "b1.intake"): 100.0})
    truth = simulate_capture(layout("four_one_chain"), state, replace(QUIET, commands=commands), seed=5).truth
    assert truth.mean_phase("b1.intake", 0.1, 0.45) == pytest.approx(truth.cams["b1.intake"].rest_deg, abs=0.3)
    moved = truth.mean_phase("b1.intake", 1.0, 2.0) - truth.mean_phase("b1.intake", 0.1, 0.45)
    assert moved == pytest.approx(20.0, abs=0.4)
    # 20 degrees at 100 degrees a second: half way after a tenth of a second.
    half = truth.mean_phase("b1.intake", 0.59, 0.61) - truth.mean_phase("b1.intake", 0.1, 0.45)
    assert half == pytest.approx(10.0, abs=1.0)


def test_broken_drive_leaves_the_cams_still() -> None:
    capture = simulate_capture(layout("four_one_chain"), State({("drive_connected", "primary"): 0.0}), QUIET, seed=5)
    for trace in capture.recording.with_role("cam"):
        assert changes(trace)[0].size == 0
    assert changes(crank_of(capture))[0].size > 1000


def test_disturbances_are_told() -> None:
    rough = replace(QUIET, disturbances=Disturbances(glitches_hz=5.0, lost_hz=5.0, dropouts_hz=1.0))
    wheel = simulate_capture(layout("four_one_chain"), HEALTHY, rough, seed=5).truth.wheels[CRANK]
    clean = simulate_capture(layout("four_one_chain"), HEALTHY, QUIET, seed=5).truth.wheels[CRANK]
    assert wheel.lost_s.size > 0
    assert wheel.added_s.size > 0
    assert clean.lost_s.size == clean.added_s.size == 0


def test_converter_clips_and_counts_whole() -> None:
    scope = Scope(step_s=2e-5, bits=8, low_v=-1.0, high_v=3.0, noise_v=0.01)
    capture = simulate_capture(layout("four_one_chain"), HEALTHY, replace(QUIET, instrument=scope), seed=5)
    trace = crank_of(capture)
    assert trace.raw.dtype == np.int32
    assert int(trace.raw.max()) == 255  # five volts into a range that ends at three
    assert trace.values.max() == pytest.approx(3.0)
    assert "clipping" in capture.unmodelled


def test_leads_reversed_turn_the_signal_over() -> None:
    scope = Scope(step_s=2e-5, noise_v=0.0)
    vehicle = build_vehicle(layout("four_two_chains"), 4)
    at = replace(QUIET, instrument=scope, disturbances=Disturbances())
    straight = simulate_capture(vehicle, HEALTHY, at, seed=1)
    turned = simulate_capture(vehicle, State({("sensor_polarity", CRANK): -1.0}), at, seed=1)
    a, b = crank_of(straight).values, crank_of(turned).values
    assert np.corrcoef(a, b)[0, 1] < -0.99
    assert (straight.truth.wheels[CRANK].polarity, turned.truth.wheels[CRANK].polarity) == (1, -1)
    assert turned.truth.wheels[CRANK].even_edge == "rising"


@pytest.mark.parametrize("seed", range(6))
def test_files_read_back_as_they_were(seed: int, tmp_path: Path) -> None:
    capture = capture_from_seed(layout(list(LAYOUTS)[seed]), 40 + seed)
    recording = capture.recording
    path = write_recording(recording, tmp_path)
    back = read_recording(path)
    assert [(t.role, t.wheel) for t in back] == [(t.role, t.wheel) for t in recording]
    assert back.condition == recording.condition
    for theirs, ours in zip(back, recording, strict=True):
        assert theirs.kind == ours.kind
        assert theirs.times_s == pytest.approx(ours.times_s, abs=1e-8)
        assert theirs.values == pytest.approx(ours.values, abs=abs(ours.scale) / 2)


def test_what_cannot_be_simulated_says_so() -> None:
    with pytest.raises(EngineDefinitionError, match="described drive"):
        build_vehicle(Engine("bare", 4), 1)
    with pytest.raises(InputError, match="idle"):
        Scenario(running="idling")
    with pytest.raises(InputError, match="four_link"):
        layout("four_lnk")
