"""Real recordings of cranks and cams, measured as they lie, against the values that stand beside them.

Source of the numbers: ``crank-cam/expected.csv`` and ``README.md`` in the folder of recordings; speeds there were
asserted by an engine computer's own tests over the last 90° of crank (180° on wheels of two to four teeth), the
others recomputed from the files. The recordings belong to others and are no part of the project: the tests find them
where ``WITNESSMARK_RECORDINGS`` points, else in ``../shared/data``, and are skipped where neither exists. Beside this
file lie only our own descriptions of the wheels (``tests/data/crank-cam``): gaps, no angle to a piston.
"""

from __future__ import annotations

import csv
import functools
import re
from pathlib import Path

import numpy as np
import pytest

from witnessmark.decode.cam import wrapped
from witnessmark.engine.file import engine_from_toml, read_engine
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.measure.measurement import Measurement
from witnessmark.measure.run import measure
from witnessmark.recording.read import read_recording
from witnessmark.recording.sidecar import ChannelNote, Sidecar

pytestmark = pytest.mark.recordings

DESCRIPTIONS = Path(__file__).parents[1] / "data" / "crank-cam"
# Which description belongs to which file; without one the wheel is found from the edges alone.
WHEELS = {
    "w36-2-1_halfmoon_running.csv": "w36-2-1",
    "w36-2-1_halfmoon_running_extra-edge.csv": "w36-2-1",
    "w60-2_cranking-to-running.csv": "w60-2",
    "w24-uneven_cranking.csv": "w24-uneven",
    "w12plus1_cranking_no-plugs.csv": "w12plus1",
    "w4-uneven_cam_cranking.csv": "w4-uneven",
    "w60-2_analog_a.csv": "w60-2",
    "w60-2_analog_b.csv": "w60-2",
    "w36-2_noisy.csv": "w36-2",
}


@functools.cache
def engine(name: str) -> Engine:
    return read_engine(DESCRIPTIONS / f"{name}.engine.toml")


@functools.cache
def measured(
    folder: Path, name: str, *, edge: str = "find", described: bool = False, crank: int | None = None
) -> Measurement:
    """The measurement of an untouched file, with what a note beside it would say."""
    note = Sidecar()
    if edge != "find" or crank is not None:
        note = Sidecar(channel=(ChannelNote(index=crank or 0, role="crank", edge=edge),))  # type: ignore[arg-type]
    recording = read_recording(folder / name, sidecar=note)
    return measure(recording, engine(WHEELS[Path(name).name]) if described else None)


def speeds(found: Measurement, words: str) -> list[Finding]:
    return [f for f in found.findings if f.quantity == "speed_measured" and words in f.method]


def one(found: Measurement, quantity: str) -> Finding:
    (finding,) = [f for f in found.findings if f.quantity == quantity]
    return finding


def cam_edge(found: Measurement, kind: str) -> Finding:
    (finding,) = [f for f in found.findings if f.quantity == "cam_edge_angle" and f.method.startswith(kind)]
    return finding


@pytest.fixture(scope="module")
def crank_cam(recordings: Path) -> Path:
    return recordings / "crank-cam"


@pytest.fixture(scope="module")
def expected(crank_cam: Path) -> dict[tuple[str, str], tuple[str, str]]:
    with (crank_cam / "expected.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    return {
        (row["file"], row["quantity"].split(" (")[0].split(":")[0]): (row["expected"], row["tolerance"]) for row in rows
    }


def value_of(expected: dict[tuple[str, str], tuple[str, str]], file: str, quantity: str) -> tuple[float, float]:
    """Value and absolute tolerance of a row."""
    text, tolerance = expected[file, quantity]
    value = float(text)
    share = re.fullmatch(r"([\d.]+) ?%", tolerance)
    return value, value * float(share[1]) / 100.0 if share else float(tolerance)


def test_every_row_is_looked_at_here(expected: dict[tuple[str, str], tuple[str, str]]) -> None:
    assert len(expected) == 14, "expected.csv has rows that no test here looks at"


# ---------------------------------------------------------------- 36-2-1, half-moon cam, running

HALF_MOON = "w36-2-1_halfmoon_running.csv"


@pytest.mark.parametrize("described", [False, True])
@pytest.mark.parametrize("edge", ["rising", "falling"])
def test_teeth_in_every_revolution(crank_cam: Path, expected: dict, edge: str, described: bool) -> None:
    found = measured(crank_cam, HALF_MOON, edge=edge, described=described)
    teeth = one(found, "wheel_teeth_seen")
    assert teeth.value == value_of(expected, HALF_MOON, "teeth in every revolution")[0]
    assert "in 30 of 30 whole turns" in teeth.method
    assert one(found, "edges_extra").value == one(found, "edges_missing").value == 0.0
    # The two pulses of 0.25 us on the cam's channel are rejected, both edges of each.
    assert found.roles is not None
    reading = found.roles.channels[1].reading
    assert reading is not None
    assert np.unique(np.round(reading.rejected_s, 5)).tolist() == pytest.approx([5.89961, 6.15230], abs=1e-5)


@pytest.mark.parametrize("described", [False, True])
def test_speed_at_first_lock(crank_cam: Path, expected: dict, described: bool) -> None:
    value, tolerance = value_of(expected, HALF_MOON, "speed at first lock")
    rising = measured(crank_cam, HALF_MOON, edge="rising", described=described)
    (first,) = speeds(rising, "at the first index edge read")
    assert first.value == pytest.approx(value, abs=tolerance)
    # The grid tooth behind the gap comes 1.5° early on this edge: the doubt says so; the falling edges give 1414.
    (falling,) = speeds(measured(crank_cam, HALF_MOON, edge="falling", described=described), "at the first index edge")
    assert falling.value == pytest.approx(1414.0, rel=1e-3)
    assert abs(first.value - falling.value) < 2.0 * np.hypot(first.sd, falling.sd)


@pytest.mark.parametrize("described", [False, True])
@pytest.mark.parametrize(("edge", "offset"), [("rising", 0.0), ("falling", -4.75)])
def test_cam_edges_behind_the_index(crank_cam: Path, expected: dict, edge: str, offset: float, described: bool) -> None:
    found = measured(crank_cam, HALF_MOON, edge=edge, described=described)
    fall, rise = cam_edge(found, "falling"), cam_edge(found, "rising")
    for finding, quantity in ((fall, "cam fall"), (rise, "cam rise")):
        value, tolerance = value_of(expected, HALF_MOON, quantity)
        assert finding.value == pytest.approx(value + offset, abs=tolerance)
        assert finding.sd < 0.5
    scatter = one(found, "phase_scatter")
    assert scatter.value == pytest.approx(0.03, abs=0.03)


@pytest.mark.parametrize("edge", ["rising", "falling"])
def test_an_added_pulse_is_one_extra_edge_and_the_count_goes_on(crank_cam: Path, expected: dict, edge: str) -> None:
    name = "w36-2-1_halfmoon_running_extra-edge.csv"
    found = measured(crank_cam, name, edge=edge)
    assert found.roles is not None
    assert found.roles.map is not None
    lock = found.roles.map.lock
    assert int(lock.extra.sum()) == value_of(expected, name, "extra edges reported")[0]
    assert lock.times_s[lock.extra] == pytest.approx([5.3937815], abs=2e-6)
    assert any("1 extra edge on the crank" in note for note in found.notes)
    assert "in 30 of 30 whole turns" in one(found, "wheel_teeth_seen").method
    assert found.void == ()


# ---------------------------------------------------------------- speed at the end, wheel by wheel


@pytest.mark.parametrize("described", [False, True])
@pytest.mark.parametrize(
    ("name", "edge"),
    [
        ("w60-2_cranking-to-running.csv", "rising"),
        ("w60-2_cranking-to-running.csv", "falling"),
        ("w24-uneven_cranking.csv", "falling"),
        ("w12plus1_cranking_no-plugs.csv", "rising"),
        ("w12plus1_cranking_no-plugs.csv", "falling"),
        ("w4-uneven_cam_cranking.csv", "rising"),
        ("w4-uneven_cam_cranking.csv", "falling"),
    ],
)
def test_speed_at_the_end(crank_cam: Path, expected: dict, name: str, edge: str, described: bool) -> None:
    found = measured(crank_cam, name, edge=edge, described=described, crank=0)
    (end,) = speeds(found, "at the end")
    value, tolerance = value_of(expected, name, "speed at end rpm")
    assert end.value == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize("name", [n for n in WHEELS if "noisy" not in n])
def test_the_wheel_and_its_even_edge_are_found_without_a_word(crank_cam: Path, name: str) -> None:
    found = measured(crank_cam, name)
    assert found.roles is not None
    assert found.roles.guess is not None
    described = engine(WHEELS[name]).wheel("crank")
    assert described is not None
    assert described.pattern is not None
    assert found.roles.guess.pattern.name == described.pattern.split(" (")[0]
    # README's table of even edges.
    even = {"w36-2-1": False, "w60-2": False, "w24-uneven": False, "w12plus1": True, "w4-uneven": None}[WHEELS[name]]
    assert even is None or found.roles.guess.rising == even


def test_revolutions_with_58_teeth(crank_cam: Path, expected: dict) -> None:
    name = "w60-2_cranking-to-running.csv"
    found = measured(crank_cam, name, edge="falling")
    assert expected[name, "revolutions with 58 teeth"][0] == "43 of 44"
    assert found.roles is not None
    assert found.roles.map is not None
    turns = found.roles.map.lock.turns()
    # The turn before the first gap is spin-up and void.
    assert [turn.teeth for turn in turns] == [58] * 43
    assert [stretch.reason for stretch in found.void] == ["spin-up"]


def test_a_cam_wheel_alone_gives_speed_only_as_it_is_described(crank_cam: Path, expected: dict) -> None:
    name = "cam4_cam2_cranking.csv"
    value, tolerance = value_of(expected, name, "speed at end rpm")
    note = Sidecar(channel=(ChannelNote(index=0, role="cam", wheel="intake", edge="falling"),))
    found = measure(read_recording(crank_cam / name, sidecar=note), engine("cam-wheels"))
    (end,) = speeds(found, "at the end")
    assert end.value == pytest.approx(value, abs=tolerance)
    bare = measure(read_recording(crank_cam / name))
    assert not bare.findings
    assert {n.quantity for n in bare.not_measured} >= {"speed_measured"}
    assert sum("edges" in text for text in bare.notes) >= 4


# ---------------------------------------------------------------- analogue, noisy


def test_analogue_a(crank_cam: Path, expected: dict) -> None:
    name = "w60-2_analog_a.csv"
    found = measured(crank_cam, name)
    assert one(found, "wheel_teeth_seen").value == value_of(expected, name, "teeth in a revolution")[0]
    assert found.turns is not None
    assert found.turns.rpm.min() == pytest.approx(160.1, rel=0.005)
    assert found.turns.rpm.max() == pytest.approx(161.5, rel=0.005)


def test_analogue_b(crank_cam: Path, expected: dict) -> None:
    name = "w60-2_analog_b.csv"
    found = measured(crank_cam, name)
    assert found.turns is not None
    value, tolerance = value_of(expected, name, "speed rises from rpm")
    assert found.turns.rpm[0] == pytest.approx(value, abs=tolerance)
    # The bench only speeds up; clipping spoils some edges further on, no turn's speed.
    assert (np.diff(found.turns.rpm) > 0).all()


@pytest.mark.parametrize("described", [False, True])
@pytest.mark.parametrize("edge", ["rising", "falling", "find"])
def test_only_clean_revolutions_of_the_noisy_file_give_speeds(
    crank_cam: Path, expected: dict, edge: str, described: bool
) -> None:
    name = "w36-2_noisy.csv"
    found = measured(crank_cam, name, edge=edge, described=described)
    low, high = map(float, expected[name, "speed of the clean revolutions rpm"][0].split("-"))
    assert found.turns is not None
    assert found.turns.rpm.size >= 6
    assert found.turns.rpm.min() > low * 0.98
    assert found.turns.rpm.max() < high * 1.02
    for finding in (f for f in found.findings if f.quantity == "speed_measured"):
        assert low * 0.98 - 2 * finding.sd < finding.value < high * 1.02 + 2 * finding.sd
    # Less than a turn of such edges is doubtful, and says so.
    assert all(f.sd > 2.0 for f in speeds(found, "over 90°"))


# ---------------------------------------------------------------- compression


def test_without_plugs_the_speed_is_even(recordings: Path) -> None:
    found = measured(recordings / "compression", "cranking_all-plugs-out.csv")
    assert found.roles is not None
    assert found.roles.guess is not None
    assert (found.roles.guess.pattern.name, found.roles.guess.rising) == ("12+1", False)
    assert found.course is not None
    # README: 165 to 169 rpm in every 30° between falling edges, the extra tooth left out.
    assert found.course.lowest_rpm > 164.0
    assert found.course.highest_rpm < 170.0
    assert found.course.dips == 0


def test_with_plugs_four_dips_and_two_attempts(recordings: Path) -> None:
    found = measured(recordings / "compression", "cranking_all-plugs-in.csv")
    assert found.course is not None
    # One dip for each of four cylinders, 180° apart.
    assert found.course.dips == 4
    assert found.course.depth > 0.3
    # Two attempts with a stop and a roll-back between: what lies between gives neither angle nor speed.
    assert [stretch.reason for stretch in found.void] == ["stop"]
    (stop,) = found.void
    assert stop.from_s < 9.92, "the crank turned back about here: the cam's edges show it"
    assert stop.to_s > 11.775, "the second attempt begins here"
    assert found.turns is not None
    assert not ((found.turns.to_s > stop.from_s) & (found.turns.from_s < stop.to_s)).any()
    assert found.turns.rpm.size == 7


def test_the_same_cam_reads_alike_with_and_without_compression(recordings: Path) -> None:
    """One engine, two recordings: what differs between them lies within what they say of their own doubt."""
    folder = recordings / "compression"
    both = [measured(folder, f"cranking_all-plugs-{which}.csv") for which in ("in", "out")]
    assert all(found.roles is not None for found in both)
    readings = [found.roles.channels[1].reading for found in both if found.roles is not None]
    edges = [reading.edges for reading in readings if reading is not None]
    assert len(edges[0]) == len(edges[1]) == 10
    misses = []
    for first in edges[0]:
        # The wheel alone leaves open which of two turns is which, and not both files settle it alike.
        offs = [
            wrapped(first.angle_deg - e.angle_deg - turn)
            for e in edges[1]
            for turn in (0, 360)
            if e.rising == first.rising
        ]
        misses.append(float(min(offs, key=abs)))
    assert np.sqrt(np.mean(np.square(misses))) < 0.8


# ---------------------------------------------------------------- headings lie; nothing absolute without a reference


@pytest.mark.parametrize(("name", "crank"), [("w4-uneven_cam_coils_a.csv", 0), ("w4-uneven_cam_coils_b.csv", 0)])
def test_coils_are_no_cams_once_the_crank_is_named(crank_cam: Path, name: str, crank: int) -> None:
    note = Sidecar(channel=(ChannelNote(index=crank, role="crank", edge="rising"),))
    found = measure(read_recording(crank_cam / name, sidecar=note), engine("w4-uneven"))
    assert found.is_locked
    roles = [role for _, role, _ in found.channels]
    assert roles[0] == "crank"
    assert roles[1] == "cam"
    assert "crank" not in roles[1:]
    assert roles[3] != "cam"
    assert found.turns is not None
    assert found.turns.rpm.min() > 120.0
    assert found.turns.rpm.max() < 700.0


def test_a_heading_does_not_make_a_crank(crank_cam: Path) -> None:
    """Over a coil of this file stands “crank”."""
    found = measure(read_recording(crank_cam / "w4-uneven_cam_coils_b.csv"))
    assert ("crank", "crank") not in [(name, role) for name, role, _ in found.channels]


ABSOLUTE = ("cam_phase_error", "tdc_offset")


def test_with_every_reference_deleted_nothing_absolute_is_claimed_and_the_rest_stays(crank_cam: Path) -> None:
    known = engine_from_toml(
        """
        cylinders = 4
        cams = ["intake"]

        [[wheel]]
        shaft = "crank"
        pattern = "36-2-1 (17,16)"
        reference_deg = 90

        [[wheel]]
        shaft = "intake"
        edges = [{edge = "falling", after_tdc_deg = 325}, {edge = "rising", after_tdc_deg = 692}]
        """
    )
    bare = engine_from_toml(
        """
        cylinders = 4
        cams = ["intake"]

        [[wheel]]
        shaft = "crank"
        pattern = "36-2-1 (17,16)"

        [[wheel]]
        shaft = "intake"
        """
    )
    note = Sidecar(
        channel=(
            ChannelNote(index=0, role="crank", edge="falling"),
            ChannelNote(index=1, role="cam", wheel="intake"),
        )
    )
    recording = read_recording(crank_cam / HALF_MOON, sidecar=note)
    full, without = measure(recording, known), measure(recording, bare)
    assert one(full, "cam_phase_error").value == pytest.approx(-1.6, abs=1.0)  # 326.6 and 693.9 against 325 and 692
    assert not [f for f in without.findings if f.quantity in ABSOLUTE]
    (reason,) = [n for n in without.not_measured if n.quantity == "cam_phase_error"]
    assert "piston" in reason.reason
    assert reason.settled_by
    relative = [
        {(f.quantity, f.place, f.method): (f.value, f.sd) for f in found.findings if f.quantity not in ABSOLUTE}
        for found in (full, without)
    ]
    assert set(relative[0]) == set(relative[1])
    for key, (value, sd) in relative[0].items():
        assert relative[1][key] == pytest.approx((value, sd), rel=1e-9), key


@pytest.mark.parametrize("name", [*WHEELS, "cam4_cam2_cranking.csv", "w4-uneven_cam_coils_a.csv", "w60-2_analog_c.csv"])
def test_a_bare_recording_claims_nothing_absolute(crank_cam: Path, name: str) -> None:
    assert not [f for f in measured(crank_cam, name).findings if f.quantity in ABSOLUTE]
