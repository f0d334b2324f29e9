"""What each channel is, whatever the headings say."""

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Edges, Motion, Sensor, coast_down, joined, read_wheel, turning
from witnessmark.decode.roles import Channel, find_roles
from witnessmark.engine.tonewheel import half_moon, parse_wheel, plain, plus


def channel(edges: Edges) -> Channel:
    return Channel(edges.times_s, edges.rising, np.full(edges.times_s.size, 1e-7))


def coil(motion: Motion, *, every_deg: float, dwell_s: float, at_deg: float) -> Channel:
    """Pulses of a fixed duration that end at a crank angle."""
    fires = np.arange(np.ceil(motion.deg[0] / every_deg) + 1, motion.deg[-1] / every_deg) * every_deg + at_deg
    ends = np.interp(fires[fires < motion.deg[-1]], motion.deg, motion.times_s)
    times = np.ravel(np.column_stack([ends - dwell_s, ends]))
    keep = times > motion.times_s[0]
    return Channel(times[keep], np.tile([True, False], ends.size)[keep], np.full(int(keep.sum()), 1e-7))


def cam(wheel: object, motion: Motion, at_deg: float) -> Channel:
    shifted = Motion(motion.times_s, motion.deg - at_deg)
    return channel(read_wheel(wheel, shifted, Sensor(crank_per_turn=2.0)))  # type: ignore[arg-type]


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (3, 1, 0, 2), (2, 3, 1, 0)])
def test_crank_cams_and_coils_in_any_order(order: tuple[int, ...]) -> None:
    motion = turning(lambda done: 700.0 + 12.0 * done, 60, ripple=0.03)
    wheel = read_wheel(parse_wheel("36-2"), motion, Sensor(True, pitch_sd_deg=0.1, jitter_deg=0.02, uneven_deg=1.5))
    channels = [
        channel(wheel),
        cam(half_moon(), motion, 200.0),
        cam(plus(4), motion, 40.0),
        coil(motion, every_deg=720.0, dwell_s=3e-3, at_deg=100.0),
    ]
    names = ["crank", "cam", "cam", "unknown"]
    roles = find_roles([channels[i] for i in order])
    assert [role.role for role in roles.channels] == [names[i] for i in order]
    assert roles.crank == order.index(0)
    assert roles.guess is not None
    assert (roles.guess.pattern.name, roles.guess.rising) == ("36-2", True)


def test_a_silent_channel_is_silent() -> None:
    motion = turning(900.0, 20, ripple=0.03)
    wheel = channel(read_wheel(parse_wheel("60-2"), motion, Sensor(jitter_deg=0.02)))
    nothing = Channel(np.array([0.2]), np.array([True]), np.array([1e-7]))
    assert [r.role for r in find_roles([nothing, wheel]).channels] == ["silent", "crank"]


def test_a_described_wheel_is_taken_even_where_the_data_alone_would_not_name_it() -> None:
    motion = turning(300.0, 30, ripple=0.1)
    wheel = channel(read_wheel(plain(36), motion, Sensor(pitch_sd_deg=0.1, jitter_deg=0.02)))
    assert find_roles([wheel]).crank is None
    told = find_roles([wheel], crank=0, patterns=[plain(36)])
    assert told.crank == 0
    assert told.map is not None
    assert told.map.turn_speeds().rpm.mean() == pytest.approx(300.0, rel=0.05)


def test_no_crank_no_claims() -> None:
    motion = turning(200.0, 20, ripple=0.2)
    roles = find_roles([cam(plain(4), motion, 0.0), cam(plain(2), motion, 30.0)])
    assert roles.crank is None
    assert roles.map is None
    assert {role.role for role in roles.channels} == {"unknown"}


def test_parts_are_brought_into_step_by_the_cam() -> None:
    motion = joined(turning(190.0, 9.3, ripple=0.2), coast_down(190.0), 1.0, turning(190.0, 9, ripple=0.2))
    wheel = channel(read_wheel(parse_wheel("60-2"), motion, Sensor(pitch_sd_deg=0.1, jitter_deg=0.02)))
    roles = find_roles([wheel, cam(half_moon(), motion, 120.0)])
    reading = roles.channels[1].reading
    assert roles.channels[1].role == "cam"
    assert reading is not None
    assert len(reading.edges) == 2
