"""Wheel lock on simulated wheels: every edge that is believed is the tooth it is said to be, every speed is right."""

import itertools

import numpy as np
import pytest

from tests.unit.decode.wheelsim import (
    Edges,
    Motion,
    Sensor,
    coast_down,
    joined,
    read_wheel,
    turning,
    with_pulses,
    without,
    wrong_teeth,
)
from witnessmark.decode.law import Law
from witnessmark.decode.lock import WheelLock
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import WheelPattern, candidates, parse_wheel, plain
from witnessmark.errors import DecodeError

WHEELS = (
    "60-2",
    "36-1",
    "36-2",
    "36-2-1",
    "36-2-2",
    "36-2-2-2",
    "24-1",
    "24 uneven",
    "12-1",
    "12+1",
    "4 uneven",
    "4-1",
)
FINE = ("60-2", "36-1", "36-2", "36-2-1", "36-2-2", "36-2-2-2", "24-1", "24 uneven")
# Speed, share by which it swings, swings in a turn: by hand, cranking with four and with three cylinders, idle, fast.
SPEEDS = (
    (60.0, 0.10, 2.0),
    (180.0, 0.45, 1.5),
    (800.0, 0.04, 2.0),
    (3000.0, 0.01, 2.0),
    (8000.0, 0.002, 4.0),
)


def locked(edges: Edges) -> WheelLock:
    return lock_wheel(edges.even(), edges.pattern, others_s=edges.others())


def poor_sensor(pattern: WheelPattern, **more: object) -> Sensor:
    """Teeth a tenth of a degree off, edges that scatter, the other edges uneven."""
    values = {"pitch_sd_deg": 0.1, "jitter_deg": 0.03, "uneven_deg": 0.1 * min(pattern.gaps_deg), **more}
    return Sensor(**values)  # type: ignore[arg-type]


def assert_speeds_true(lock: WheelLock, motion: Motion, *, within: float = 0.01) -> None:
    for turn in lock.turns():
        begin, end = motion.at(np.array([turn.from_s, turn.to_s]))
        true = (end - begin) / (turn.to_s - turn.from_s)
        said = 360.0 * lock.crank_per_turn / (turn.to_s - turn.from_s)
        assert said == pytest.approx(true, rel=within), f"turn from {turn.from_s:.3f} s"


@pytest.mark.parametrize("even_rising", [False, True])
@pytest.mark.parametrize("speed", SPEEDS, ids=lambda s: f"{s[0]:.0f}rpm-{s[2]}")
@pytest.mark.parametrize("name", WHEELS)
def test_every_wheel_at_every_speed(name: str, speed: tuple[float, float, float], even_rising: bool) -> None:
    pattern = parse_wheel(name)
    motion = turning(speed[0], 8, start_deg=137.0, ripple=speed[1], per_turn=speed[2])
    edges = read_wheel(pattern, motion, poor_sensor(pattern, even_rising=even_rising, seed=int(speed[0])))
    lock = locked(edges)
    assert wrong_teeth(edges, lock.count, lock.part) == 0
    assert lock.good.all()
    assert not lock.missing.any()
    assert not lock.extra.any()
    assert lock.void == ()
    assert len(lock.turns()) >= 7
    assert_speeds_true(lock, motion)


@pytest.mark.parametrize("rpm", [200.0, 900.0, 6000.0])
@pytest.mark.parametrize("name", WHEELS)
def test_narrow_pulses_are_extra_and_change_nothing(name: str, rpm: float, rng: np.random.Generator) -> None:
    pattern = parse_wheel(name)
    motion = turning(rpm, 20, start_deg=77.0, ripple=50.0 / rpm)
    edges = read_wheel(pattern, motion, poor_sensor(pattern, uneven_deg=0.0))
    # In the middle between two edges: one that bounces off an edge is that edge, give or take the width.
    middles = 0.5 * (edges.times_s[1:] + edges.times_s[:-1])
    at = np.sort(rng.choice(middles[10:-10], 6, replace=False))
    spoilt = with_pulses(edges, at, np.full(6, 0.25e-6))
    lock = locked(spoilt)
    assert int(lock.extra.sum()) == 6
    assert np.isnan(spoilt.even_truth()[lock.extra]).all()
    assert wrong_teeth(spoilt, lock.count, lock.part) == 0
    assert len(lock.turns()) >= 19


@pytest.mark.parametrize("name", ["60-2", "36-1", "36-2", "36-2-1", "24-1"])
def test_wide_extra_pulses_are_told_from_teeth(name: str, rng: np.random.Generator) -> None:
    pattern = parse_wheel(name)
    motion = turning(900.0, 30, start_deg=77.0, ripple=0.03)
    edges = read_wheel(pattern, motion, poor_sensor(pattern, uneven_deg=0.0))
    evens = np.flatnonzero(edges.rising == edges.even_rising)
    chosen = evens[np.arange(2, 26, 4) * pattern.n_edges + rng.integers(0, pattern.n_edges, 6)]
    at = edges.times_s[chosen] + 0.2 * (edges.times_s[chosen + 1] - edges.times_s[chosen])
    spoilt = with_pulses(edges, at, 0.3 * (edges.times_s[chosen + 1] - edges.times_s[chosen]))
    lock = locked(spoilt)
    assert int(lock.extra.sum()) == 6
    assert lock.void == ()
    assert len(lock.turns()) >= 29
    assert_speeds_true(lock, motion)


@pytest.mark.parametrize("rpm", [200.0, 900.0, 6000.0])
@pytest.mark.parametrize("name", ["60-2", "36-1", "36-2", "36-2-1", "24-1", "24 uneven", "12+1"])
def test_missing_teeth_are_counted(name: str, rpm: float, rng: np.random.Generator) -> None:
    pattern = parse_wheel(name)
    motion = turning(rpm, 24, start_deg=77.0, ripple=50.0 / rpm)
    edges = read_wheel(pattern, motion, poor_sensor(pattern))
    gone = np.arange(2, 20, 4) * pattern.n_edges + rng.integers(0, pattern.n_edges, 5)
    spoilt = without(edges, gone.tolist())
    lock = locked(spoilt)
    assert int(lock.missing.sum()) == 5
    assert wrong_teeth(spoilt, lock.count, lock.part) == 0
    teeth = [turn.teeth + turn.missing for turn in lock.turns()]
    assert set(teeth) == {pattern.n_edges}


@pytest.mark.parametrize("name", FINE)
def test_spin_up_from_rest(name: str) -> None:
    pattern = parse_wheel(name)
    motion = turning(lambda done: 30.0 + 170.0 * np.sqrt(np.minimum(done, 1.0)), 9, start_deg=20.0, ripple=0.2)
    edges = read_wheel(pattern, motion, poor_sensor(pattern))
    lock = locked(edges)
    assert wrong_teeth(edges, lock.count, lock.part) == 0
    assert_speeds_true(lock, motion)
    assert lock.good.sum() > 6 * pattern.n_edges


@pytest.mark.parametrize("acceleration", [120.0, 400.0])
@pytest.mark.parametrize("throw", [25.0, 70.0, 130.0])
@pytest.mark.parametrize("name", WHEELS)
def test_a_stop_with_roll_back_is_void_and_gives_no_speed(name: str, throw: float, acceleration: float) -> None:
    pattern = parse_wheel(name)
    motion = joined(
        turning(190.0, 6.3, start_deg=20.0, ripple=0.25),
        coast_down(190.0, throw_back_deg=throw, accel=acceleration),
        1.2,
        turning(190.0, 6, ripple=0.25),
    )
    edges = read_wheel(pattern, motion, poor_sensor(pattern, uneven_deg=0.0, seed=3))
    lock = locked(edges)
    assert_speeds_true(lock, motion)
    # The rest lies in a void stretch named for what it is, and there are turns on both sides of it.
    rest = float(motion.times_s[np.argmax(np.diff(motion.times_s))]) + 0.6
    around = [v for v in lock.void if v.from_s < rest < v.to_s]
    assert len(around) == 1
    assert around[0].reason in ("stop", "lost")
    assert any(turn.to_s < rest for turn in lock.turns())
    assert any(turn.from_s > rest for turn in lock.turns())


@pytest.mark.parametrize("throw", [25.0, 70.0])
@pytest.mark.parametrize("name", ["60-2", "36-1", "36-2", "24-1", "12-1"])
def test_a_crank_rocked_without_a_rest_gives_no_wrong_speed(name: str, throw: float) -> None:
    pattern = parse_wheel(name)
    motion = joined(
        turning(190.0, 6.3, start_deg=20.0, ripple=0.25),
        coast_down(190.0, throw_back_deg=throw, accel=400.0, swings=1),
        turning(190.0, 6, ripple=0.25),
    )
    edges = read_wheel(pattern, motion, poor_sensor(pattern, uneven_deg=0.0, seed=3))
    lock = locked(edges)
    assert lock.void
    assert_speeds_true(lock, motion)


@pytest.mark.parametrize("name", WHEELS)
def test_a_burst_of_noise_is_void_and_the_wheel_is_found_again(name: str, rng: np.random.Generator) -> None:
    pattern = parse_wheel(name)
    motion = turning(900.0, 24, ripple=0.03)
    edges = read_wheel(pattern, motion, poor_sensor(pattern, uneven_deg=0.0))
    begin = edges.times_s[edges.times_s.size // 2]
    at = np.sort(rng.uniform(begin, begin + 0.12, 36 * pattern.n_edges))
    spoilt = with_pulses(edges, at, np.full(at.size, 30e-6))
    lock = locked(spoilt)
    assert any(v.from_s < begin + 0.06 < v.to_s and v.reason in ("noise", "lost") for v in lock.void)
    assert_speeds_true(lock, motion)
    assert any(turn.to_s < begin for turn in lock.turns())
    assert any(turn.from_s > begin + 0.12 for turn in lock.turns())


@pytest.mark.parametrize("name", WHEELS)
def test_pulses_at_random_are_no_wheel(name: str, rng: np.random.Generator) -> None:
    times = np.sort(rng.uniform(0.0, 2.0, 600))
    lock = lock_wheel(times[::2], parse_wheel(name), others_s=times[1::2])
    assert lock.turns() == ()
    assert lock.good.sum() < 0.15 * 300
    assert lock.void


def test_a_wheel_on_the_camshaft_counts_two_crank_turns() -> None:
    pattern = plain(4)
    motion = turning(300.0, 12, ripple=0.1)
    edges = read_wheel(pattern, motion, Sensor(crank_per_turn=2.0))
    lock = lock_wheel(edges.even(), pattern, others_s=edges.others(), crank_per_turn=2.0)
    assert lock.good.all()
    assert_speeds_true(lock, motion)


def test_void_stretches_and_parts_cover_the_train() -> None:
    pattern = parse_wheel("60-2")
    motion = joined(turning(190.0, 4.3, ripple=0.25), coast_down(190.0), 1.0, turning(190.0, 4, ripple=0.25))
    edges = read_wheel(pattern, motion, Sensor(jitter_deg=0.03))
    lock = locked(edges)
    stretches = sorted([*lock.spans(), *((v.from_s, v.to_s) for v in lock.void)])
    assert stretches[0][0] == edges.even()[0]
    assert stretches[-1][1] == edges.even()[-1]
    assert all(a[1] == b[0] for a, b in itertools.pairwise(stretches))


def test_the_order_of_the_gaps_is_found_among_the_candidates() -> None:
    truth = candidates("36-2-1")[9]
    edges = read_wheel(truth, turning(900.0, 10, ripple=0.03), Sensor(pitch_sd_deg=0.1, jitter_deg=0.03))
    evidence = {p: lock_wheel(edges.even(), p, law=Law(0.1, 100.0)).evidence for p in candidates("36-2-1")}
    assert max(evidence, key=lambda p: evidence[p]) == truth


def test_too_few_edges_are_a_result_and_no_error() -> None:
    for times in ([], [0.1], [0.1, 0.2]):
        lock = lock_wheel(times, parse_wheel("60-2"))
        assert lock.turns() == ()
        assert not lock.good.any()


@pytest.mark.parametrize("times", [[0.0, 0.0, 1.0], [0.0, 2.0, 1.0], [0.0, np.nan]])
def test_times_that_do_not_increase_are_refused(times: list[float]) -> None:
    with pytest.raises(DecodeError, match="finite and increase"):
        lock_wheel(times, parse_wheel("60-2"))


def test_a_coded_wheel_needs_its_other_edges() -> None:
    with pytest.raises(DecodeError, match="other edges"):
        lock_wheel(np.arange(10.0), parse_wheel("24 uneven"))
