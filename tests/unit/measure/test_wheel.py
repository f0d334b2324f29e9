"""What the crank wheel shows of itself: places of teeth, run-out, lost and added teeth, another wheel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Motion, Sensor, read_wheel, turning
from tests.unit.measure.bench import Setup, described, found, record, value
from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.cam import read_cam
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.measure import measure
from witnessmark.measure.footing import Footing, footing_of
from witnessmark.measure.indexing import counts_of, embeddings
from witnessmark.measure.runout import NO_RUN_OUT, corrected_edge, find_run_out
from witnessmark.measure.spread import spread_behind
from witnessmark.measure.wheelhealth import measure_wheel, pitch_error
from witnessmark.vocabulary import Condition


def off_centre(pattern: WheelPattern, cos_deg: float, sin_deg: float) -> WheelPattern:
    """The wheel as it is made, every edge moved by what comes once a turn."""
    at = np.array(pattern.edges_deg)
    moved = at + cos_deg * np.cos(np.radians(at)) + sin_deg * np.sin(np.radians(at))
    return WheelPattern(pattern.name, tuple(float(a) for a in moved - moved[0]))


def read(wheel: WheelPattern, motion: Motion, described_as: WheelPattern | None = None, **more: object) -> AngleMap:
    edges = read_wheel(wheel, motion, Sensor(**more))  # type: ignore[arg-type]
    return angle_map(lock_wheel(edges.even(), described_as or wheel, others_s=edges.others()))


@pytest.mark.parametrize("wheel", ["60-2", "36-1", "36-2-2-2", "24-1"])
@pytest.mark.parametrize(("cos", "sin"), [(0.4, 0.0), (0.0, -0.3), (0.2, 0.2), (0.0, 0.0)])
def test_run_out_is_found_where_the_crank_turns_fast(wheel: str, cos: float, sin: float) -> None:
    pattern = parse_wheel(wheel)
    motion = turning(3000.0, 30.0, ripple=0.004)
    amap = read(off_centre(pattern, cos, sin), motion, pattern, jitter_deg=0.02)
    found_out = find_run_out(amap)
    assert found_out.cos_deg == pytest.approx(cos, abs=0.06)
    assert found_out.sin_deg == pytest.approx(sin, abs=0.06)
    assert found_out.sd_deg < 0.1


def test_run_out_is_not_taken_from_an_uneven_engine_at_cranking_speed() -> None:
    """A swing of the speed once a turn is no run-out while the crank turns slowly: then it stays in doubt."""
    pattern = parse_wheel("60-2")
    amap = read(pattern, turning(200.0, 16.0, ripple=0.1, per_turn=1.0))
    found_out = find_run_out(amap)
    assert np.hypot(found_out.cos_deg, found_out.sin_deg) < 2.0 * found_out.sd_deg
    assert find_run_out(read(pattern, turning(200.0, 3.0))) == NO_RUN_OUT
    assert find_run_out(read(parse_wheel("4 uneven"), turning(2000.0, 30.0))) == NO_RUN_OUT


def test_a_run_out_wheel_does_not_bend_the_cams() -> None:
    """Taken off, a cam edge stands where it does on a true wheel."""
    pattern = parse_wheel("60-2")
    motion = turning(3000.0, 30.0)
    amap = read(off_centre(pattern, 0.8, 0.5), motion, pattern)
    run_out = find_run_out(amap)
    for at in (50.0, 170.0, 290.0, 500.0):
        places = np.arange(at, motion.deg[-1], 720.0)
        times = np.interp(places, motion.deg, motion.times_s)
        reading = read_cam(amap, np.sort(np.concatenate([times, times + 1e-3])), np.tile([True, False], times.size))
        (edge,) = [e for e in reading.edges if e.rising]
        zero = 0.8  # the index edge itself stands so far beyond its place
        corrected = corrected_edge(edge, amap, run_out).angle_deg
        mean = float(np.mean(run_out.at(np.array(pattern.edges_deg))))
        assert corrected - zero + mean == pytest.approx(at, abs=0.12)


@pytest.mark.parametrize(("sd", "cos"), [(0.02, 0.0), (0.1, 0.0), (0.3, 0.0), (0.05, 0.5)])
def test_pitch_error_is_what_an_ideal_instrument_shows(sd: float, cos: float) -> None:
    """Root mean square of the places of all even edges, run-out included; never below nothing, as sure as it says."""
    off = []
    for seed in range(8):
        pattern = parse_wheel("36-1")
        made = off_centre(pattern, cos, 0.0)
        edges = read_wheel(
            made, turning(2500.0, 30.0, ripple=0.005), Sensor(pitch_sd_deg=sd, jitter_deg=0.02, seed=seed)
        )
        amap = angle_map(lock_wheel(edges.even(), pattern, others_s=edges.others()))
        at = np.array(pattern.edges_deg)
        true = np.std(edges.pitch_error_deg + cos * np.cos(np.radians(at)))
        told = pitch_error(amap, find_run_out(amap))
        assert told is not None
        assert told[0] > 0.0
        off.append((told[0] - true) / told[1])
    assert np.mean(np.abs(off) < 1.645) >= 0.6
    assert abs(np.mean(off)) < 1.3


def test_a_spread_is_never_called_nothing_for_sure() -> None:
    """Against many draws: a spread of up to 0.3 behind noise of 0.1 is within its interval nine times in ten."""
    rng = np.random.default_rng(7)
    held = []
    for _ in range(600):
        true, n = rng.uniform(0.0, 0.3), 40
        seen = rng.normal(0.0, np.hypot(true, 0.1), n).var(ddof=1)
        sampling = np.sqrt(2.0 / (n - 1)) * seen
        mean, sd = spread_behind(float(seen), 0.01, float(sampling))
        assert mean > 0.0
        assert sd > 0.0
        held.append(abs(mean - true) < 1.645 * sd)
    assert 0.85 < np.mean(held) < 0.96


def test_footing_adds_up_and_cancels() -> None:
    amap = read(parse_wheel("36-1"), turning(800.0, 20.0))
    times = np.interp(np.arange(43.0, 6000.0, 720.0), amap.knots_deg, amap.knots_s)
    one = footing_of(amap, times)
    assert one.teeth.sum() == pytest.approx(1.0)
    assert np.flatnonzero(one.teeth).tolist() == [4, 5]  # between the teeth at 40 and 50
    assert np.hypot(*one.once) == pytest.approx(1.0, abs=0.01)
    again = footing_of(amap, times[::2])
    assert (one - again).sd_deg(amap, NO_RUN_OUT) < 0.02 * one.sd_deg(amap, NO_RUN_OUT)
    far = footing_of(amap, np.interp(np.arange(223.0, 6000.0, 720.0), amap.knots_deg, amap.knots_s))
    assert (one - far).sd_deg(amap, NO_RUN_OUT) > one.sd_deg(amap, NO_RUN_OUT)
    both = Footing.mean([one, far])
    assert both.sd_deg(amap, NO_RUN_OUT) < one.sd_deg(amap, NO_RUN_OUT)
    assert footing_of(amap, np.array([-5.0])).teeth.sum() == 0.0


def test_which_gap_is_the_index() -> None:
    whole = parse_wheel("60-2")
    assert counts_of(read(whole, turning(800.0, 10.0)).lock) == (0.0,)
    assert counts_of(read(whole, turning(800.0, 2.5)).lock) == (0.0,)
    there = np.array(parse_wheel("36-1").edges_deg)
    assert embeddings(np.delete(there, 12), parse_wheel("36-1")) == (0.0, 230.0)  # either of two gaps of 20°
    assert embeddings(np.delete(there, [12, 13]), parse_wheel("36-1")) == (0.0, 220.0, 230.0)  # any of three places
    assert embeddings(there, whole) == ()
    assert embeddings(np.array(whole.edges_deg), whole) == (0.0,)
    assert embeddings(np.delete(np.array(whole.edges_deg), 0), whole) == (0.0, 354.0)  # a gap of 24°: either end


def test_teeth_seen_missing_and_extra() -> None:
    one = measure(record(turning(800.0, 16.0)), described())
    assert value(one, "wheel_teeth_seen") == 58
    assert value(one, "edges_missing") == value(one, "edges_extra") == 0.0
    (missing,) = found(one, "edges_missing")
    assert missing.sd == pytest.approx(1.0 / 15.0, rel=0.1)  # one event where none was seen


@pytest.mark.parametrize(("step_s", "surer"), [(0.0, 1.0), (1e-7, 1.0), (2e-5, 2.0), (1e-4, 3.0)])
def test_what_slips_between_the_samples_is_not_said_to_be_absent(step_s: float, surer: float) -> None:
    """Stray pulses shorter than a sample leave no trace: none seen says less the coarser the samples."""
    one = measure(record(turning(800.0, 16.0)), described())
    assert one.roles is not None
    assert one.roles.map is not None
    source = found(one, "edges_extra")[0].source
    fine, coarse = (
        next(
            f
            for f in measure_wheel(one.roles.map, NO_RUN_OUT, Condition(), source, step_s=step)[0]
            if f.quantity == "edges_extra"
        )
        for step in (0.0, step_s)
    )
    assert coarse.value == fine.value == 0.0
    assert coarse.sd >= surer * fine.sd


def test_another_wheel_than_described_is_named_and_gives_nothing_absolute() -> None:
    recording = record(turning(800.0, 30.0), Setup("36-1"))
    one = measure(recording, described(Setup("60-2")))
    assert "The crank wheel is not the described 60-2: its edges follow 36-1, with odds of over 99 %." in one.notes
    assert value(one, "wheel_teeth_seen") == 35
    assert not found(one, "cam_phase_error")
    assert all("not the one described" in n.reason for n in one.not_measured if n.quantity == "cam_phase_error")


def test_no_wheel_at_all_is_no_speed() -> None:
    rng = np.random.default_rng(5)
    places = np.concatenate([[0.0], np.sort(rng.uniform(0.0, 360.0, 18)), [360.0]])
    pattern = WheelPattern.from_gaps(np.diff(places).tolist())
    recording = record(turning(800.0, 12.0), Setup("60-2", made=pattern, cams={}))
    one = measure(recording, described(Setup("60-2")))
    assert not one.findings
    (why,) = [n for n in one.not_measured if n.quantity == "speed_measured"]
    assert "follow" in why.reason
    assert not measure(recording).findings


def test_the_even_edge_nobody_named_must_show() -> None:
    """Both kinds of edges sit alike: which one the description counts from is not known; nothing absolute is said."""
    motion, engine = turning(800.0, 24.0), described()
    unsaid = replace(engine, wheels=tuple(replace(w, even_edge=None) for w in engine.wheels))
    alike = record(motion, Setup(uneven_deg=0.0))
    one = measure(alike, unsaid)
    for quantity in ("cam_phase_error", "cam_edge_angle"):
        assert not found(one, quantity)
        reasons = [n.reason for n in one.not_measured if n.quantity == quantity]
        assert reasons
        assert all("which edge of its teeth the crank wheel counts from" in reason for reason in reasons)
    assert not one.edges
    assert found(measure(alike, engine), "cam_phase_error")
    # Where the other edges sit unevenly it shows.
    assert found(measure(record(motion, Setup(uneven_deg=0.3)), unsaid), "cam_phase_error")
