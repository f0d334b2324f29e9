"""Cam phase: its sign, its zero, and what is said where it cannot be known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.decode.wheelsim import turning
from tests.unit.measure.bench import EXHAUST, INTAKE, Setup, described, found, record, seen, value
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import Engine
from witnessmark.measure import change_between, measure
from witnessmark.predict import DriveModel, expect
from witnessmark.vocabulary import Condition, Place, Query

MOTION = turning(800.0, 24.0, start_deg=250.0, ripple=0.02)
EARLY = {"b1.intake": 7.0, "b1.exhaust": -3.0}


@pytest.mark.parametrize("wheel", ["60-2", "36-1", "36-2-1", "36-2-2-2", "24-1", "24 uneven", "12+1"])
@pytest.mark.parametrize("even_rising", [False, True])
def test_an_early_cam_is_positive_on_every_wheel(wheel: str, even_rising: bool) -> None:
    setup = Setup(wheel, even_rising=even_rising)
    one = measure(record(MOTION, setup, EARLY), described(setup))
    for cam, early in EARLY.items():
        (error,) = found(one, "cam_phase_error", cam=cam.split(".")[1])
        assert error.value == pytest.approx(early, abs=0.2)
        assert error.sd < 0.5
        assert error.condition.state == "idle"
    assert value(one, "cam_separation", cam="exhaust", other_cam="intake") == pytest.approx(-10.0, abs=0.2)
    # An early cam has smaller angles behind the index.
    angles = sorted(f.value for f in found(one, "cam_edge_angle", cam="intake"))
    assert angles == pytest.approx(sorted((at - 7.0) % 720.0 for at, _ in INTAKE), abs=0.3) or angles == pytest.approx(
        sorted((at - 7.0 + 360.0) % 720.0 for at, _ in INTAKE), abs=0.3
    )


@pytest.fixture
def shop_engine() -> Engine:
    return find_engine("made-up four")


def test_measuring_and_predicting_mean_the_same(shop_engine: Engine) -> None:
    """The reasoner's prediction for a state, and the measurement of that state, have the same sign and size."""
    model = DriveModel.of(shop_engine)
    at_idle = Condition(state="idle", phaser="parked")
    queries = [
        Query("cam_phase_error", Place.of(bank=1, cam="intake"), at_idle),
        Query("cam_separation", Place.of(bank=1, cam="exhaust", other_cam="intake"), at_idle),
    ]
    slipped = State({("wheel_slip", "b1.intake"): 6.0, ("wheel_slip", "crank"): 4.0})
    said = expect(model, queries, slipped).mean[0] - expect(model, queries, State({})).mean[0]
    # The intake cam's wheel 6 forward, the crank's 4 forward: all its edges, and so its zero, come 4 earlier.
    early = {"b1.intake": 6.0 - 4.0, "b1.exhaust": -4.0}
    one = measure(record(MOTION, early_deg=early), described())
    measured = [value(one, "cam_phase_error", cam="intake"), value(one, "cam_separation")]
    assert measured == pytest.approx(said.tolist(), abs=0.2)


def test_without_a_reference_nothing_absolute_and_the_rest_the_same() -> None:
    recording = record(MOTION, early_deg=EARLY)
    full, bare = measure(recording, described()), measure(recording, described(reference_deg=None, edges=False))
    assert len(found(full, "cam_phase_error")) == 2
    assert not found(bare, "cam_phase_error")
    for item in (n for n in bare.not_measured if n.quantity == "cam_phase_error"):
        assert item.reason == "Nothing recorded here knows where the piston is"
        assert "TDC" in item.settled_by
    for quantity in ("cam_edge_angle", "phase_scatter", "cam_phase_change", "speed_measured", "wheel_pitch_error"):
        assert [(f.place, f.value, f.sd) for f in found(full, quantity)] == [
            (f.place, f.value, f.sd) for f in found(bare, quantity)
        ]


def test_described_edges_without_a_reference_still_part_the_cams() -> None:
    one = measure(record(MOTION, early_deg=EARLY), described(reference_deg=None))
    assert not found(one, "cam_phase_error")
    assert value(one, "cam_separation") == pytest.approx(-10.0, abs=0.2)


def test_an_inverted_channel_and_another_order_change_nothing() -> None:
    plain = measure(record(MOTION, early_deg=EARLY), described())
    setup = Setup(inverted=("b1.exhaust",), order=("b1.exhaust", "crank", "b1.intake"))
    other = measure(record(MOTION, setup, EARLY), described())
    for cam in ("intake", "exhaust"):
        assert value(other, "cam_phase_error", cam=cam) == pytest.approx(
            value(plain, "cam_phase_error", cam=cam), abs=0.05
        )
    (error,) = found(other, "cam_phase_error", cam="exhaust")
    assert "high and low are exchanged against the description" in error.assumptions


def test_cams_are_told_apart_without_a_note() -> None:
    one = measure(record(MOTION, Setup(noted=False), EARLY), described())
    assert value(one, "cam_phase_error", cam="intake") == pytest.approx(7.0, abs=0.2)
    assert value(one, "cam_phase_error", cam="exhaust") == pytest.approx(-3.0, abs=0.2)


def test_a_wheel_alike_all_round_is_read_only_where_one_reading_is_clearly_likelier() -> None:
    alike = [(90.0 * k + half * 45.0, half == 0) for k in range(8) for half in (0, 1)]  # the same every 90°
    setup = Setup(cams={"b1.intake": alike, "b1.exhaust": EXHAUST})
    near = measure(record(MOTION, setup, {"b1.intake": 6.0}), described(setup))
    assert value(near, "cam_phase_error", cam="intake") == pytest.approx(6.0, abs=0.2)
    far = measure(record(MOTION, setup, {"b1.intake": 40.0}), described(setup))
    assert not found(far, "cam_phase_error", cam="intake")
    (why,) = [n for n in far.not_measured if n.quantity == "cam_phase_error"]
    assert why.reason == "Its edges fit the description +40° off and -50° off alike"
    assert value(far, "cam_phase_error", cam="exhaust") == pytest.approx(0.0, abs=0.2)


def test_another_cam_wheel_is_not_forced_on_the_description() -> None:
    other = [(15.0, False), (200.0, True), (260.0, False), (640.0, True)]
    setup = Setup(cams={"b1.intake": other, "b1.exhaust": EXHAUST})
    one = measure(record(MOTION, setup), described())
    assert not found(one, "cam_phase_error", cam="intake")
    (why,) = [n for n in one.not_measured if n.quantity == "cam_phase_error" and n.place.get("cam") == "intake"]
    assert "do not follow the described cam wheel" in why.reason
    assert len(found(one, "cam_edge_angle", cam="intake")) == 4


def test_change_between_recordings_is_positive_when_the_second_is_earlier() -> None:
    pitch = {"pitch_sd_deg": 0.3}
    before = measure(record(MOTION, Setup(**pitch, seed=5), {"b1.intake": 2.0}), described())
    after = measure(
        record(turning(820.0, 21.0, start_deg=600.0), Setup(**pitch, seed=5), {"b1.intake": 12.0}), described()
    )
    changes, missing = change_between(before, after)
    assert not missing
    by_cam = {str(f.place.get("cam")): f for f in changes}
    assert by_cam["intake"].value == pytest.approx(10.0, abs=0.15)
    assert by_cam["exhaust"].value == pytest.approx(0.0, abs=0.1)
    # Teeth 0.3° off their places cancel where the cam stands between the same teeth both times.
    assert by_cam["exhaust"].sd < 0.1


def test_change_between_needs_the_same_wheel_and_edge() -> None:
    before = measure(record(MOTION), described())
    rising = Setup(even_rising=True)
    left = change_between(before, measure(record(MOTION, rising), described(rising)))
    assert not left[0]
    assert all("rising" in item.reason for item in left[1])
    other = Setup("36-1")
    _, missing = change_between(before, measure(record(MOTION, other), described(other)))
    assert all("different crank wheels" in item.reason for item in missing)
    assert {item.quantity for item in missing} == {"cam_phase_change"}


def test_change_within_a_recording_from_slow_to_fast() -> None:
    motion = turning(lambda turns: np.where(turns < 20.0, 250.0, 900.0), 60.0)
    one = measure(record(motion), described())
    changes = found(one, "cam_phase_change", "from cranking (250 rpm) to idle (900 rpm)")
    assert len(changes) == 2
    assert all(abs(f.value) < 0.1 and f.condition.state == "idle" for f in changes)


def test_findings_speak_of_one_state() -> None:
    motion = turning(lambda turns: np.where(turns < 10.0, 250.0, 900.0), 60.0)
    one = measure(record(motion), described())
    for finding in found(one, "cam_edge_angle"):
        assert finding.condition.state == "idle"
        assert finding.source.from_s is not None
        assert finding.source.from_s > 2.0  # cranking took 2.4 s
    assert {f.condition.state for f in found(one, "speed_measured", "whole turns")} == {"cranking", "idle"}


@pytest.mark.parametrize("gone", [3, 9, 17])
def test_a_lost_tooth_that_leaves_two_gaps_alike_is_settled_by_the_cams_or_not_at_all(gone: int) -> None:
    """24-1 with one more tooth gone: either gap may be the index, as far as the crank can tell."""
    whole = parse_wheel("24-1")
    gaps = list(whole.gaps_deg)
    gaps[gone - 1 : gone + 1] = [gaps[gone - 1] + gaps[gone]]
    broken = WheelPattern.from_gaps(gaps)
    # Where the whole wheel's index edge lies on the broken one, which counts from the first of its two gaps.
    places = np.concatenate([[0.0], np.cumsum(gaps)[:-1]])
    first = next(at for at in places if np.allclose(np.sort((places - at) % 360.0), broken.edges_deg, atol=1e-6))
    setup = Setup("24-1", made=broken)
    moved = {cam: [((at - first) % 720.0, up) for at, up in edges] for cam, edges in setup.cam_edges().items()}
    recording = record(MOTION, Setup("24-1", made=broken, cams=moved))
    known = measure(recording, described(setup))
    assert value(known, "wheel_teeth_seen") == 22
    assert value(known, "edges_missing") == pytest.approx(1.0)
    for cam in ("intake", "exhaust"):
        assert value(known, "cam_phase_error", cam=cam) == pytest.approx(0.0, abs=0.3)
    blind = measure(recording, described(setup, reference_deg=None, edges=False))
    assert not found(blind, "cam_edge_angle")
    assert all("which gap is its index" in n.reason for n in blind.not_measured if n.quantity == "cam_edge_angle")


def test_the_picture_shows_the_edges_where_the_findings_have_them() -> None:
    one = measure(record(MOTION, early_deg=EARLY), described())
    assert {d.role for d in one.drawn} == {"crank", "b1.intake", "b1.exhaust"}
    for edge in one.edges:
        assert edge.expected_deg is not None
        early = edge.expected_deg - edge.measured_deg  # also across the cycle's end: it is drawn as it stands
        assert early == pytest.approx(EARLY[edge.cam], abs=0.4)
        assert one.findings[edge.finding].quantity == "cam_edge_angle"
        (drawn,) = [d for d in one.drawn if d.role == edge.cam]
        near = np.abs((np.array(drawn.changes_deg) - edge.measured_deg + 360.0) % 720.0 - 360.0).min()
        assert near < 0.4


def test_the_count_of_turns_is_the_same_for_any_start() -> None:
    angles = []
    for start in (0.0, 200.0, 500.0, 777.0):
        one = measure(record(turning(700.0, 14.0, start_deg=start)), described(reference_deg=None, edges=False))
        angles.append([f.value for f in found(one, "cam_edge_angle", cam="intake")])
        assert [f.place.get("edge") for f in found(one, "cam_edge_angle", cam="exhaust")][:1] == ["first_falling"]
    assert np.allclose(angles, angles[0], atol=0.2)
    assert seen(one, "b1.intake").zero_known
