"""Time to angle and back: true, with an honest doubt, and void where it must be."""

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Edges, Motion, Sensor, coast_down, joined, read_wheel, turning
from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.pitch import RUN_OUT_SD_DEG
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel, plain


def mapped(pattern: WheelPattern, motion: Motion, sensor: Sensor, *, learn: bool = True) -> tuple[AngleMap, Edges]:
    edges = read_wheel(pattern, motion, sensor)
    lock = lock_wheel(
        edges.even(),
        pattern,
        others_s=edges.others(),
        crank_per_turn=sensor.crank_per_turn,
        sd_s=sensor.clock_s / 12**0.5,
    )
    return angle_map(lock, learn=learn), edges


def misses(amap: AngleMap, motion: Motion, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    angles = amap.at(times)
    off = angles.deg - motion.at(times)
    off -= amap.sector_deg * np.round(np.median(off) / amap.sector_deg)
    return off, np.hypot(angles.place_sd_deg, angles.scatter_sd_deg)


@pytest.mark.parametrize("learn", [False, True])
@pytest.mark.parametrize(
    ("name", "rpm", "ripple"), [("60-2", 900.0, 0.03), ("36-1", 200.0, 0.25), ("36-2-1", 3000.0, 0.01)]
)
def test_angles_lie_within_their_doubt(
    name: str, rpm: float, ripple: float, learn: bool, rng: np.random.Generator
) -> None:
    z2 = []
    for seed in range(3):
        motion = turning(rpm, 30, start_deg=33.0, ripple=ripple)
        amap, _ = mapped(parse_wheel(name), motion, Sensor(pitch_sd_deg=0.15, jitter_deg=0.02, seed=seed), learn=learn)
        times = rng.uniform(amap.knots_s[0], amap.knots_s[-1], 300)
        off, sd = misses(amap, motion, times)
        z2.append(np.mean((off / sd) ** 2))
    assert 0.3 < np.sqrt(np.mean(z2)) < 1.2


@pytest.mark.parametrize("name", ["12+1", "4 uneven"])
def test_the_curve_between_coarse_teeth_follows_the_compression(name: str, rng: np.random.Generator) -> None:
    motion = turning(200.0, 12, ripple=0.3)
    amap, _ = mapped(parse_wheel(name), motion, Sensor())
    times = rng.uniform(amap.knots_s[2], amap.knots_s[-3], 500)
    off, sd = misses(amap, motion, times)
    straight = np.interp(times, amap.knots_s, amap.knots_deg) - motion.at(times)
    straight -= 360.0 * np.round(np.median(straight) / 360.0)
    assert np.std(off) < 0.7 * np.std(straight)
    assert np.mean(np.abs(off) < 2.0 * np.hypot(sd, RUN_OUT_SD_DEG)) > 0.85


def test_time_and_angle_are_each_others_inverse(rng: np.random.Generator) -> None:
    amap, _ = mapped(parse_wheel("36-1"), turning(200.0, 12, ripple=0.3), Sensor(pitch_sd_deg=0.1))
    for deg in rng.uniform(amap.knots_deg[0], amap.knots_deg[-1], 40):
        assert amap.at(amap.time_at(deg)).deg[0] == pytest.approx(deg, abs=1e-6)
    assert np.isnan(amap.time_at(amap.knots_deg[-1] + 1.0))


def test_nothing_is_known_in_a_void_stretch() -> None:
    motion = joined(turning(190.0, 6.3, ripple=0.2), coast_down(190.0), 1.0, turning(190.0, 6, ripple=0.2))
    amap, _ = mapped(parse_wheel("60-2"), motion, Sensor(pitch_sd_deg=0.1, jitter_deg=0.02))
    assert len(amap.void) == 1
    inside = np.linspace(amap.void[0].from_s, amap.void[0].to_s, 50)[1:-1]
    angles = amap.at(inside)
    assert not angles.known.any()
    assert np.isnan(angles.deg).all()
    assert all(amap.speed_over(90.0, float(t)) is None for t in inside)
    # No window reaches back across the stretch either.
    first = amap.knots_s[np.searchsorted(amap.knots_s, amap.void[0].to_s) + 3]
    assert amap.speed_over(90.0, float(first)) is None
    outside = amap.at([amap.knots_s[0] - 0.1, amap.knots_s[-1] + 0.1])
    assert not outside.known.any()


@pytest.mark.parametrize(("rpm", "ripple"), [(60.0, 0.1), (200.0, 0.25), (900.0, 0.03), (8000.0, 0.002)])
def test_speed_over_a_window_and_over_turns(rpm: float, ripple: float) -> None:
    motion = turning(rpm, 20, ripple=ripple)
    amap, _ = mapped(parse_wheel("36-2"), motion, Sensor(pitch_sd_deg=0.15, jitter_deg=0.02), learn=False)
    z = []
    for end in amap.knots_s[40::17]:
        speed = amap.speed_over(90.0, float(end))
        assert speed is not None
        begin = amap.knots_s[np.argmin(np.abs(amap.knots_deg - (amap.at(end).deg[0] - 90.0)))]
        true = np.diff(motion.at(np.array([begin, end])))[0] / (end - begin) / 6.0
        z.append((speed.value - true) / speed.sd)
        assert speed.value == pytest.approx(true, rel=0.01)
    assert 0.3 < np.sqrt(np.mean(np.square(z))) < 1.2
    turns = amap.turn_speeds()
    true = (
        np.diff(motion.at(np.column_stack([turns.from_s, turns.to_s])), axis=1)[:, 0]
        / (turns.to_s - turns.from_s)
        / 6.0
    )
    ratio = (turns.rpm - true) / turns.sd_rpm
    # The same edge begins and ends a turn: its place does not enter, so this is far sharper than a window.
    assert 0.5 < np.sqrt(np.mean(ratio**2)) < 1.5
    assert turns.sd_rpm.max() < 3e-4 * rpm


def test_the_clock_enters_the_doubt() -> None:
    motion = turning(6000.0, 40)
    fine, _ = mapped(plain(36), motion, Sensor())
    coarse, _ = mapped(plain(36), motion, Sensor(clock_s=5e-6))
    time = float(fine.knots_s[100]) + 1e-5
    assert coarse.at(time).scatter_sd_deg[0] > fine.at(time).scatter_sd_deg[0] + 0.03


def test_a_camshaft_wheel_gives_crank_degrees() -> None:
    motion = turning(300.0, 20, ripple=0.05)
    amap, _ = mapped(plain(4), motion, Sensor(crank_per_turn=2.0))
    assert np.diff(amap.knots_deg) == pytest.approx(180.0)
    assert amap.sector_deg == 180.0
    speed = amap.speed_over(180.0)
    assert speed is not None
    assert speed.value == pytest.approx(300.0, rel=0.05)
