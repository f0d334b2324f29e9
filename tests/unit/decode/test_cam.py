"""Cam edges against a simulated crank: found, followed, averaged honestly; glitches go."""

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Edges, Motion, Sensor, coast_down, joined, read_wheel, turning, with_pulses
from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.cam import CamReading, join_parts, read_cam, settle_turn, wrapped
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import WheelPattern, half_moon, parse_wheel, plain, plus

CAMS = {
    "half moon": half_moon(),
    "one tooth": plain(1),
    "2": plain(2),
    "3": plain(3),
    "4+1": plus(4),
    "uneven": WheelPattern.from_gaps([70.0, 110.0, 50.0, 130.0], widths_deg=[30.0, 20.0, 15.0, 60.0]),
    "8": WheelPattern.from_gaps([30.0, 60.0, 30.0, 50.0, 40.0, 60.0, 45.0, 45.0]),
}


class Cam:
    """A cam wheel on a motion of the crank: where its edges pass, in crank degrees behind the index edge."""

    def __init__(
        self, wheel: WheelPattern, motion: Motion, *, at_deg: float = 100.0, moved: object = None, seed: int = 0
    ):
        shifted = Motion(motion.times_s, motion.deg - at_deg - (0.0 if moved is None else moved))  # type: ignore[operator]
        self.edges = read_wheel(wheel, shifted, Sensor(crank_per_turn=2.0, seed=seed))
        high = 0.45 * min(wheel.gaps_deg)
        others = wheel.others_deg or tuple(a + high for a in wheel.edges_deg)
        falls = {(at_deg + 2.0 * a) % 720.0 for a in wheel.edges_deg}
        rises = {(at_deg + 2.0 * a) % 720.0 for a in others}
        self.truth = sorted([(a, False) for a in falls] + [(a, True) for a in rises])

    def reading(self, amap: AngleMap, edges: Edges | None = None) -> CamReading:
        seen = edges or self.edges
        return read_cam(amap, seen.times_s, seen.rising)

    def assert_found(self, reading: CamReading, *, within: float) -> None:
        assert len(reading.edges) == len(self.truth)
        shifts = [
            wrapped(reading.edges[0].angle_deg - angle) for angle, kind in self.truth if kind == reading.edges[0].rising
        ]
        # The wheel alone leaves the turn open.
        fits = [s for s in (0.0, 360.0) if any(abs(wrapped(shift - s)) < within for shift in shifts)]
        for shift in fits:
            seen = sorted(((e.angle_deg - shift) % 720.0, e.rising) for e in reading.edges)
            offs = [abs(float(wrapped(a - b))) for (a, k), (b, m) in zip(seen, self.truth, strict=True) if k == m]
            if len(offs) == len(self.truth) and max(offs) < within:
                return
        pytest.fail(f"{[(e.angle_deg, e.rising) for e in reading.edges]} against {self.truth}")


def crank(motion: Motion, *, name: str = "60-2", pitch: float = 0.1, seed: int = 0) -> AngleMap:
    edges = read_wheel(parse_wheel(name), motion, Sensor(pitch_sd_deg=pitch, jitter_deg=0.02, seed=seed))
    return angle_map(lock_wheel(edges.even(), parse_wheel(name), others_s=edges.others()))


@pytest.mark.parametrize("rpm", [200.0, 900.0, 6000.0])
@pytest.mark.parametrize("cam", CAMS)
def test_every_kind_of_cam_wheel(cam: str, rpm: float) -> None:
    motion = turning(rpm, 24, start_deg=50.0, ripple=50.0 / rpm)
    wheel = Cam(CAMS[cam], motion)
    reading = wheel.reading(crank(motion))
    wheel.assert_found(reading, within=0.6)
    assert reading.rejected_s.size <= 2
    assert reading.every_turn == (cam == "2")


def test_crosstalk_of_a_quarter_microsecond_goes() -> None:
    motion = turning(1400.0, 30, ripple=0.01)
    amap, wheel = crank(motion, name="36-2-1"), Cam(half_moon(), motion)
    at = motion.times_s[-1] * np.array([0.31, 0.52, 0.77])
    spoilt = with_pulses(wheel.edges, at, np.full(3, 0.25e-6))
    reading = wheel.reading(amap, spoilt)
    wheel.assert_found(reading, within=0.4)
    assert np.isin(spoilt.times_s[np.isnan(spoilt.truth_deg)], reading.rejected_s).all()
    assert reading.rejected_s.size == 6


def test_wide_pulses_at_other_places_are_rejected(rng: np.random.Generator) -> None:
    motion = turning(900.0, 40, ripple=0.02)
    amap, wheel = crank(motion), Cam(plus(4), motion)
    at = np.sort(rng.uniform(0.5, motion.times_s[-1] - 0.5, 5))
    spoilt = with_pulses(wheel.edges, at, np.full(5, 1.2e-3))
    added = spoilt.times_s[np.isnan(spoilt.truth_deg)]
    reading = wheel.reading(amap, spoilt)
    wheel.assert_found(reading, within=0.4)
    assert np.isin(added, reading.rejected_s).mean() > 0.7


def test_a_phaser_is_followed_and_told_from_scatter() -> None:
    motion = turning(900.0, 80, ripple=0.02)
    amap = crank(motion)
    turns = motion.deg / 360.0
    moved = 20.0 * np.clip((turns - 30.0) / 15.0, 0.0, 1.0)
    reading = Cam(half_moon(), motion, moved=moved).reading(amap)
    assert len(reading.edges) == 2
    for edge in reading.edges:
        assert np.ptp(edge.angles_deg) == pytest.approx(20.0, abs=0.5)
        assert edge.count >= 38
        # Slow movement is in the spread, not in the scatter.
        assert edge.spread_deg > 8.0
        assert edge.scatter_deg < 1.5


def test_change_with_speed_is_measured() -> None:
    motion = turning(lambda done: 800.0 + 20.0 * done, 60, ripple=0.02)
    amap = crank(motion)
    rpm = 800.0 + 20.0 * motion.deg / 360.0
    reading = Cam(half_moon(), motion, moved=0.004 * (rpm - 800.0)).reading(amap)
    for edge in reading.edges:
        change = edge.against_speed()
        assert change is not None
        assert change[0] == pytest.approx(4.0, abs=max(4 * change[1], 0.1))
        assert edge.against_time() is not None


@pytest.mark.parametrize("jitter", [0.02, 0.4])
def test_the_mean_keeps_the_error_of_the_two_teeth_it_falls_between(jitter: float) -> None:
    z, sd = [], []
    for seed in range(8):
        motion = turning(900.0, 40, start_deg=11.0 * seed, ripple=0.02)
        edges = read_wheel(parse_wheel("36-1"), motion, Sensor(pitch_sd_deg=0.15, jitter_deg=jitter, seed=seed))
        amap = angle_map(lock_wheel(edges.even(), parse_wheel("36-1"), others_s=edges.others()), learn=False)
        wheel = Cam(half_moon(), motion, at_deg=33.0 + 29.0 * seed)
        for edge in wheel.reading(amap).edges:
            off = min(
                abs(float(wrapped(edge.angle_deg - a - s)))
                for a, k in wheel.truth
                for s in (0, 360)
                if k == edge.rising
            )
            z.append(off / edge.sd_deg)
            sd.append(edge.sd_deg)
    assert 0.4 < np.sqrt(np.mean(np.square(z))) < 1.3
    # Twenty cycles do not take it below what the places of the teeth leave.
    assert min(sd) > 0.1


def test_parts_on_both_sides_of_a_stop_come_into_step() -> None:
    motion = joined(turning(190.0, 9.3, ripple=0.2), coast_down(190.0), 1.0, turning(190.0, 9, ripple=0.2))
    amap, wheel = crank(motion), Cam(plus(4), motion)
    assert amap.n_parts == 2
    stepped, settled = join_parts(amap, wheel.edges.times_s, wheel.edges.rising)
    assert settled == (True, True)
    inside = [float(np.mean(span)) for span in stepped.lock.spans()]
    off = stepped.at(inside).deg - motion.at(np.array(inside))
    assert wrapped(off[1] - off[0]) == pytest.approx(0.0, abs=1.0)
    wheel.assert_found(wheel.reading(stepped), within=1.5)


def test_a_cam_alike_in_both_turns_cannot_bring_parts_into_step() -> None:
    motion = joined(turning(190.0, 9.3, ripple=0.2), coast_down(190.0), 1.0, turning(190.0, 9, ripple=0.2))
    wheel = Cam(plain(4), motion)
    _, settled = join_parts(crank(motion), wheel.edges.times_s, wheel.edges.rising)
    assert sorted(settled) == [False, True]


def test_the_turn_is_settled_by_a_named_edge() -> None:
    motion = turning(900.0, 20, start_deg=400.0)
    amap, wheel = crank(motion), Cam(half_moon(), motion, at_deg=500.0)
    falling = wheel.reading(amap).of_kind(False)[0].angle_deg
    settled = settle_turn(amap, falling)
    assert wheel.reading(settled).of_kind(False)[0].angle_deg == pytest.approx(140.0, abs=0.4)
    assert wheel.reading(settled).of_kind(True)[0].angle_deg == pytest.approx(500.0, abs=0.4)


def test_edges_in_void_stretches_are_not_placed() -> None:
    motion = joined(
        turning(190.0, 9.3, ripple=0.2), coast_down(190.0, throw_back_deg=130.0), 1.0, turning(190.0, 9, ripple=0.2)
    )
    amap, wheel = crank(motion), Cam(plus(4), motion)
    reading = wheel.reading(join_parts(amap, wheel.edges.times_s, wheel.edges.rising)[0])
    void = amap.void[0]
    assert reading.unplaced > 0
    for edge in reading.edges:
        assert not ((edge.times_s > void.from_s) & (edge.times_s < void.to_s)).any()


def test_a_channel_that_follows_its_own_clock_is_no_cam() -> None:
    motion = turning(900.0, 40, ripple=0.02)
    times = np.arange(0.1, motion.times_s[-1], 0.0371)
    reading = read_cam(crank(motion), times, np.arange(times.size) % 2 == 0)
    assert sum(edge.count for edge in reading.edges) < 0.3 * times.size
