"""Real recordings, decoded without a word about them: channel, wheel, edge; and where nothing is known.

Source: the files in the folder of recordings and the README beside them (table of even edges; what the compression
recordings show). The recordings belong to others and lie outside the project; without them the tests are skipped.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from witnessmark.decode.anglemap import angle_map
from witnessmark.decode.cam import RepeatingEdge, wrapped
from witnessmark.decode.roles import Channel, Roles, find_roles
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.recording import read_recording
from witnessmark.signal import find_edges

pytestmark = pytest.mark.recordings

# File, wheel, whether its even edge rises (None: either, by the README).
WHEELS = [
    ("crank-cam/w36-2-1_halfmoon_running.csv", "36-2-1", False),
    ("crank-cam/w60-2_cranking-to-running.csv", "60-2", False),
    ("crank-cam/w60-2_analog_a.csv", "60-2", False),
    ("crank-cam/w60-2_analog_b.csv", "60-2", False),
    ("crank-cam/w60-2_analog_c.csv", "60-2", False),
    ("crank-cam/w24-uneven_cranking.csv", "24 uneven", False),
    ("crank-cam/w12plus1_cranking_no-plugs.csv", "12+1", True),
    ("crank-cam/w36-2_noisy.csv", "36-2", None),
    ("crank-cam/w4-uneven_cam_cranking.csv", "4 uneven", None),
    ("compression/cranking_all-plugs-in.csv", "12+1", False),
    ("compression/cranking_all-plugs-out.csv", "12+1", False),
]


def channels(path: Path) -> tuple[Channel, ...]:
    found = [find_edges(trace) for trace in read_recording(path).traces]
    return tuple(Channel(edges.times_s, edges.rising, edges.sd_s) for edges in found)


@cache
def roles(path: Path) -> Roles:
    return find_roles(channels(path))


@pytest.mark.parametrize(("name", "wheel", "rising"), WHEELS)
def test_crank_wheel_and_even_edge_are_found(recordings: Path, name: str, wheel: str, rising: bool | None) -> None:
    found = roles(recordings / name)
    assert found.crank == 0
    assert found.guess is not None
    assert found.guess.pattern.name == wheel
    assert found.guess.pattern.edges_deg == pytest.approx(parse_wheel(wheel).edges_deg)
    assert found.guess.odds > 0.95
    assert rising is None or found.guess.rising == rising


@pytest.mark.parametrize("rising", [False, True])
def test_the_pulse_added_to_the_crank_is_one_extra_edge_of_either_kind(recordings: Path, rising: bool) -> None:
    crank = channels(recordings / "crank-cam" / "w36-2-1_halfmoon_running_extra-edge.csv")[0]
    lock = crank.lock(parse_wheel("36-2-1"), rising)
    assert lock.times_s[lock.extra] == pytest.approx([5.3937815], abs=2e-6)
    assert lock.void == ()
    assert [turn.teeth for turn in lock.turns()] == [33] * 30


@pytest.mark.parametrize("rising", [False, True])
def test_crosstalk_on_the_cam_is_rejected(recordings: Path, rising: bool) -> None:
    crank, cam = channels(recordings / "crank-cam" / "w36-2-1_halfmoon_running.csv")
    found = find_roles([crank, cam], crank=0, patterns=[parse_wheel("36-2-1")], even=rising).channels[1].reading
    assert found is not None
    assert found.rejected_s == pytest.approx([5.899611, 5.899611, 6.152304, 6.152304], abs=1e-6)
    assert [(edge.rising, edge.count, edge.cycles) for edge in found.edges] == [(False, 16, 16), (True, 15, 15)]


def test_without_plugs_every_30_degrees_take_the_same_time(recordings: Path) -> None:
    crank = channels(recordings / "compression" / "cranking_all-plugs-out.csv")[0]
    # README: 165 to 169 rpm in every 30° between falling edges, the extra tooth left out.
    for rising, low, high in ((False, 164.5, 169.5), (True, 147.0, 196.0)):
        amap = angle_map(crank.lock(parse_wheel("12+1"), rising), learn=False)
        regular = amap.lock.tooth[amap.lock.good] != 1
        rpm = 30.0 / np.diff(amap.knots_s[regular]) / 6.0
        assert rpm.min() > low
        assert rpm.max() < high


def test_a_stop_with_roll_back_between_two_attempts(recordings: Path) -> None:
    found = roles(recordings / "compression" / "cranking_all-plugs-in.csv")
    assert found.map is not None
    (stop,) = found.map.void
    # The cam wheel of four teeth shows its falling edge at 9.897 s and the same edge again, passed backward, at 9.934.
    assert stop.reason == "stop"
    assert stop.from_s < 9.897
    assert stop.to_s > 11.775
    speeds = found.map.turn_speeds()
    assert ((speeds.to_s <= stop.from_s) | (speeds.from_s >= stop.to_s)).all()
    assert not found.map.at(np.linspace(stop.from_s + 1e-6, stop.to_s - 1e-6, 100)).known.any()


def test_one_engine_reads_alike_with_and_without_compression(recordings: Path) -> None:
    """What the compression does to the speed between the teeth moves the cam's edges by no more than they admit."""
    both: list[tuple[RepeatingEdge, ...]] = []
    for which in ("in", "out"):
        reading = roles(recordings / "compression" / f"cranking_all-plugs-{which}.csv").channels[1].reading
        assert reading is not None
        assert len(reading.edges) == 10
        both.append(reading.edges)
    # The wheel alone leaves open which of two turns is which.
    z = []
    for edge in both[0]:
        offs = [
            (float(wrapped(edge.angle_deg - other.angle_deg - turn)), other.sd_deg)
            for other in both[1]
            for turn in (0.0, 360.0)
            if other.rising == edge.rising
        ]
        off, sd = min(offs, key=lambda pair: abs(pair[0]))
        assert abs(off) < 2.0
        z.append(off / np.hypot(sd, edge.sd_deg))
    assert np.sqrt(np.mean(np.square(z))) < 1.5


@pytest.mark.parametrize("name", ["w4-uneven_cam_coils_a.csv", "w4-uneven_cam_coils_b.csv"])
def test_coils_are_no_cams_once_the_crank_is_named(recordings: Path, name: str) -> None:
    found = find_roles(
        channels(recordings / "crank-cam" / name), crank=0, patterns=[parse_wheel("4 uneven")], even=True
    )
    assert [role.role for role in found.channels] == ["crank", "cam", "unknown", "unknown"]
    assert found.map is not None
    assert found.map.lock.extra.any(), "pulses of 0.25 us where the coils fire"
    assert found.map.turn_speeds().rpm.min() > 120.0
    assert found.map.turn_speeds().rpm.max() < 700.0


@pytest.mark.parametrize("name", ["cam4_cam2_cranking.csv", "w4-uneven_cam_coils_b.csv"])
def test_where_no_wheel_can_be_named_none_is(recordings: Path, name: str) -> None:
    """Equal teeth of a cam; and a wheel at 70/110° read only while the compression makes its gaps nearly equal."""
    found = roles(recordings / "crank-cam" / name)
    assert found.crank is None
    assert found.map is None
