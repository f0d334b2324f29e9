"""Invent an engine with a fault, record it, measure the recording: the fault's own size comes out again.

Tens of seeds, quick; the full coverage runs (2,000 cases and more a kind) live in ``benchmarks/capture_coverage.py``.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import pytest

from benchmarks.common_cases import without_angles
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure import Measurement, measure, phase_changes
from witnessmark.simulate import (
    LAYOUTS,
    Capture,
    Command,
    LogicAnalyser,
    Scenario,
    Scope,
    build_vehicle,
    capture_from_seed,
    healthy_state,
    layout,
    simulate_capture,
)

RUNNING = ("cranking", "idle", "raised")
CASES = [(name, running, 700 + 10 * i + j) for i, name in enumerate(LAYOUTS) for j, running in enumerate(RUNNING)]
IDLE = Scenario("idle", seconds=2.4, instrument=LogicAnalyser(1e-6))


def cam_of(finding: Finding | NotMeasured) -> str:
    return f"b{finding.place.get('bank') or 1}.{finding.place.get('cam')}"


def told_apart(name: str) -> set[str]:
    """Cams that a recording must always show: teeth alone, under a coil, may stay in doubt, and then say so."""
    wheels = layout(name).wheels
    return {wheel.id for wheel in wheels if wheel.id != CRANK and wheel.sensor_kind != "reluctance"}


def of(result: Measurement, quantity: str) -> dict[str, Finding]:
    return {cam_of(f): f for f in result.findings if f.quantity == quantity}


@cache
def healthy(name: str, running: str, seed: int) -> tuple[Capture, Measurement]:
    engine = layout(name)
    state = healthy_state(engine, np.random.default_rng(seed))
    capture = capture_from_seed(engine, seed, state=state, running=running)
    return capture, measure(capture.recording, engine)


def phases() -> Iterator[tuple[float, float]]:
    """Error and sd of every phase measured."""
    for case in CASES:
        capture, result = healthy(*case)
        for cam, finding in of(result, "cam_phase_error").items():
            yield finding.value - capture.truth.cams[cam].phase_at_edges_deg, finding.sd


@pytest.mark.parametrize(("name", "running", "seed"), CASES)
def test_phases_of_a_healthy_engine(name: str, running: str, seed: int) -> None:
    capture, result = healthy(name, running, seed)
    found = of(result, "cam_phase_error")
    missing = {cam_of(m) for m in result.not_measured if m.quantity == "cam_phase_error"}
    assert set(found) | missing >= told_apart(name)
    for cam, finding in found.items():
        error = finding.value - capture.truth.cams[cam].phase_at_edges_deg
        assert abs(error) < max(4.0 * finding.sd, 0.3), f"{cam}: {finding} is off by {error:+.2f}"
        assert finding.sd < 1.0


def test_their_intervals_hold_and_their_mean_is_right() -> None:
    error, sd = np.array(list(phases())).T
    assert error.size > 40  # of 48
    # Of fifty true 90 % intervals fewer than 78 % hold once in 150 runs (binomial); the seeds stand still.
    assert (np.abs(error) < 1.645 * sd).mean() > 0.78
    assert abs(error.mean()) < 0.1


@pytest.mark.parametrize(("name", "running", "seed"), CASES[::2])
def test_speed_and_teeth(name: str, running: str, seed: int) -> None:
    capture, result = healthy(name, running, seed)
    turns = next(f for f in result.findings if f.quantity == "speed_measured" and "whole turn" in f.method)
    assert turns.source.from_s is not None
    assert turns.source.to_s is not None
    true = capture.truth.mean_speed(turns.source.from_s, turns.source.to_s)
    # Mean over turns against mean over time: they part by the square of the speed's swing from turn to turn.
    assert turns.value == pytest.approx(true, rel=5e-3)
    teeth = next(f for f in result.findings if f.quantity == "wheel_teeth_seen")
    assert teeth.value == capture.truth.wheels[CRANK].teeth


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("slip", [11.0, -17.0])
def test_a_slipped_crank_wheel_moves_all_cams_the_other_way(name: str, slip: float) -> None:
    engine = layout(name)
    vehicle = build_vehicle(engine, 41)
    capture = simulate_capture(vehicle, State({("wheel_slip", CRANK): slip}), IDLE, seed=42)
    found = of(measure(capture.recording, engine), "cam_phase_error")
    assert set(found) >= told_apart(name)
    for cam, finding in found.items():
        rest = capture.truth.cams[cam].rest_deg
        # Healthy rests lie within 2 degrees in this state; the rest is the slip.
        assert abs(rest) < 2.0
        assert finding.value == pytest.approx(rest - slip, abs=0.8)


@pytest.mark.parametrize("name", ["four_one_chain", "six_vee_chains", "three_coded"])
def test_a_jumped_chain_moves_what_hangs_behind_it(name: str) -> None:
    engine = layout(name)
    assert engine.drive is not None
    stage = engine.drive.stages[-1]
    moved_cams = {sprocket.shaft for sprocket in stage.driven}
    vehicle = build_vehicle(engine, 5)
    before = simulate_capture(vehicle, State({}), IDLE, seed=6)
    after = simulate_capture(vehicle, State({("pitch_slip", stage.mesh(stage.driver.shaft)): -1.0}), IDLE, seed=7)
    changes = phase_changes(*(measure(c.recording, engine) for c in (before, after)))
    assert {cam_of(f) for f in changes} == {cam.id for cam in engine.cams}
    teeth = stage.driven[0].teeth.exact
    assert teeth is not None
    for finding in changes:
        step = 720.0 / teeth if cam_of(finding) in moved_cams else 0.0
        assert finding.value == pytest.approx(-step, abs=0.4)


def test_a_commanded_phaser_shows_its_command() -> None:
    engine = layout("four_one_chain")
    vehicle = build_vehicle(engine, 8)
    parked = simulate_capture(vehicle, State({}), IDLE, seed=9)
    commands = (Command(-1.0, "b1.intake", 24.0),)
    moved = simulate_capture(
        vehicle, State({}), Scenario("idle", seconds=2.4, instrument=LogicAnalyser(1e-6), commands=commands), seed=10
    )
    changes = {cam_of(f): f for f in phase_changes(*(measure(c.recording, engine) for c in (parked, moved)))}
    assert changes["b1.intake"].value == pytest.approx(24.0, abs=0.6)
    assert changes["b1.exhaust"].value == pytest.approx(0.0, abs=0.4)


@pytest.mark.parametrize("name", ["four_one_chain", "six_vee_belt"])
def test_without_angles_nothing_absolute_is_claimed(name: str) -> None:
    engine = layout(name)
    capture = simulate_capture(engine, State({}), IDLE, seed=12)
    full, bare = measure(capture.recording, engine), measure(capture.recording, without_angles(engine))
    assert of(full, "cam_phase_error")
    assert not of(bare, "cam_phase_error")
    assert {cam_of(m) for m in bare.not_measured if m.quantity == "cam_phase_error"} >= told_apart(name)
    for quantity in ("phase_scatter",):
        assert {c: (f.value, f.sd) for c, f in of(full, quantity).items()} == {
            c: (f.value, f.sd) for c, f in of(bare, quantity).items()
        }
    places = [sorted(f.value for f in result.findings if f.quantity == "cam_edge_angle") for result in (full, bare)]
    assert places[0] == pytest.approx(places[1])


@pytest.mark.parametrize("sign", [1, -1])
def test_leads_of_a_coil(sign: int) -> None:
    engine = layout("four_two_chains")
    scene = Scenario("idle", seconds=2.0, instrument=Scope(step_s=2e-5))
    state = State({("sensor_polarity", CRANK): float(sign)})
    result = measure(simulate_capture(engine, state, scene, seed=14).recording, engine)
    found = [f.value for f in result.findings if f.quantity == "signal_polarity" and f.place.get("position") == CRANK]
    assert found == [sign]


def test_a_loose_cam_scatters() -> None:
    engine = layout("four_one_chain")
    vehicle = build_vehicle(engine, 17)
    capture = simulate_capture(vehicle, State({}), IDLE, seed=18)
    for cam, finding in of(measure(capture.recording, engine), "phase_scatter").items():
        assert finding.value == pytest.approx(capture.truth.cams[cam].scatter_deg, abs=0.04)
