"""Speed: of whole turns, over a short window, and its course within a cycle."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Motion, Sensor, coast_down, joined, read_wheel, turning
from tests.unit.measure.bench import Setup, described, found, record
from witnessmark.decode.anglemap import AngleMap, TurnSpeeds, angle_map
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.finding import Provenance
from witnessmark.measure import measure
from witnessmark.measure.course import speed_course
from witnessmark.measure.speed import measure_speed, speed_at_once, state_of, state_runs
from witnessmark.vocabulary import Condition

HERE = Provenance("recording", "sha256:test", "crank")


def read(wheel: str, motion: Motion, **more: object) -> AngleMap:
    edges = read_wheel(parse_wheel(wheel), motion, Sensor(**more))  # type: ignore[arg-type]
    return angle_map(lock_wheel(edges.even(), edges.pattern, others_s=edges.others()))


def turns_of(rpm: list[float]) -> TurnSpeeds:
    ends = np.cumsum(60.0 / np.array(rpm))
    begins = np.concatenate(([0.0], ends[:-1]))
    return TurnSpeeds(begins, ends, np.array(rpm), np.full(len(rpm), 0.1))


@pytest.mark.parametrize(
    ("rpm", "state"), [(180.0, "cranking"), (419.0, "cranking"), (700.0, "idle"), (2500.0, "raised")]
)
def test_state_by_speed(rpm: float, state: str) -> None:
    assert state_of(rpm, None) == state
    assert state_of(rpm, "overrun") == "overrun"


def test_a_speed_about_a_limit_keeps_its_state() -> None:
    runs = state_runs(turns_of([700.0, 1150.0, 1230.0, 1180.0, 1240.0, 1160.0]), None)
    assert [(run.state, run.turns) for run in runs] == [("idle", 6)]
    runs = state_runs(turns_of([200.0, 250.0, 900.0, 950.0, 930.0, 210.0]), None)
    assert [(run.state, run.turns, len(run.members)) for run in runs] == [("cranking", 3, 2), ("idle", 3, 3)]


def test_mean_of_whole_turns_and_its_doubt() -> None:
    """Many seeds: the mean over turns is right, and as sure as it says (jitter 0.05°, clock exact)."""
    off, motion = [], turning(1000.0, 8.0, ripple=0.02)
    for seed in range(40):
        amap = read("36-1", motion, jitter_deg=0.05, seed=seed)
        (finding,) = [f for f in measure_speed(amap, Condition(), HERE) if "whole turns" in f.method]
        turns = amap.turn_speeds()
        true = np.diff(motion.at(np.append(turns.from_s, turns.to_s[-1]))) / (turns.to_s - turns.from_s) / 6.0
        off.append((finding.value - true.mean()) / np.hypot(finding.sd, 1e-9))
        assert finding.condition.state == "idle"
    assert 0.4 < np.std(off) < 1.3
    assert abs(np.mean(off)) < 0.6


@pytest.mark.parametrize(
    ("wheel", "window"), [("60-2", 90.0), ("24 uneven", 90.0), ("12+1", 90.0), ("4 uneven", 180.0), ("4-1", 180.0)]
)
def test_speed_at_once_is_over_ninety_degrees_or_half_a_turn(wheel: str, window: float) -> None:
    motion = turning(lambda turns: 200.0 + 40.0 * turns, 9.0, start_deg=30.0)
    first, last = speed_at_once(read(wheel, motion), Condition(), HERE)
    assert first.method.startswith(f"over {window:g}° at the first index edge read")
    assert last.method.startswith(f"over {window:g}° at the end")
    for finding in (first, last):
        assert finding.source.from_s is not None
        assert finding.source.to_s is not None
        turned = np.diff(motion.at(np.array([finding.source.from_s, finding.source.to_s])))[0]
        true = turned / (finding.source.to_s - finding.source.from_s) / 6.0
        assert finding.value == pytest.approx(true, rel=1e-4)
        assert abs(finding.value - true) < 3.0 * finding.sd


def test_no_window_reaches_over_a_stop() -> None:
    motion = joined(turning(250.0, 6.0), coast_down(250.0), 0.5, turning(240.0, 6.0))
    amap = read("36-1", motion)
    assert amap.n_parts == 2
    for finding in speed_at_once(amap, Condition(), HERE):
        assert 200.0 < finding.value < 270.0
    one = measure(record(motion, Setup("36-1", cams={})), None)
    assert any("(stop): the crank stood or turned back" in note for note in one.notes)
    assert all(150.0 < f.value < 300.0 for f in found(one, "speed_measured"))


@pytest.mark.parametrize(("per_turn", "dips"), [(2.0, 4), (1.5, 3), (3.0, 6), (0.5, 1), (4.0, 8)])
@pytest.mark.parametrize("wheel", ["60-2", "36-2-1", "24 uneven", "12+1"])
def test_dips_of_compression(wheel: str, per_turn: float, dips: int) -> None:
    course = speed_course(read(wheel, turning(200.0, 12.0, ripple=0.25, per_turn=per_turn), jitter_deg=0.05))
    assert course is not None
    assert course.dips == dips
    assert 0.1 < course.depth < 0.7
    assert ("once" if dips == 1 else f"{dips} times") in course.words()


def test_an_even_course_has_no_dips() -> None:
    course = speed_course(read("12+1", turning(170.0, 10.0), jitter_deg=0.1))
    assert course is not None
    assert course.dips == 0
    assert course.segment_deg == 30.0
    assert 168.0 < course.lowest_rpm < course.highest_rpm < 172.0
    assert (
        course.words()
        == f"Within a cycle the speed is even: {course.lowest_rpm:.0f} to {course.highest_rpm:.0f} rpm over every 30°."
    )


def test_a_noisy_course_is_not_called_dips() -> None:
    course = speed_course(read("36-2", turning(300.0, 12.0), jitter_deg=1.2, seed=3))
    assert course is not None
    assert course.dips == 0


def test_too_short_for_a_course() -> None:
    assert speed_course(read("60-2", turning(200.0, 3.0))) is None
    assert speed_course(read("4 uneven", turning(200.0, 12.0))) is None


def test_speed_from_a_wheel_on_a_camshaft() -> None:
    """Four teeth and two on camshafts, no crank wheel: a tooth of the first is half a turn of the crank."""
    motion = turning(lambda turns: 200.0 + 10.0 * turns, 20.0)
    four = [(180.0 * k + 90.0 * half, half == 0) for k in range(4) for half in (0, 1)]
    two = [(360.0 * k + 180.0 * half, half == 0) for k in range(2) for half in (0, 1)]
    setup = Setup(cams={"b1.intake": four, "b1.exhaust": two}, order=("b1.intake", "b1.exhaust"))
    text = described(setup, edges=False)
    from dataclasses import replace

    wheels = tuple(
        replace(w, pattern="4 a turn" if w.id == "b1.intake" else "2 a turn") for w in text.wheels if w.id != "crank"
    )
    one = measure(record(motion, setup), replace(text, wheels=wheels))
    speeds = found(one, "speed_measured", wheel="b1.intake")
    assert [f.method.split(",")[0] for f in speeds[-2:]] == [
        "over 180° at the first index edge read",
        "over 180° at the end",
    ]
    assert speeds[-1].value == pytest.approx(398.0, rel=0.02)
    assert {n.quantity for n in one.not_measured} == {"cam_edge_angle"}
    assert one.channels[0][1:] == ("cam", "described: 4 a turn of the camshaft")
    blind = measure(record(motion, Setup(cams=setup.cam_edges(), order=setup.order, noted=False)))
    assert not blind.findings
    assert all(f"{name}: " in " ".join(blind.notes) for name in ("channel 0", "channel 1"))
    assert any("rising ones usually" in note for note in blind.notes)
