"""Sampled signals: how large they are, which way a coil is wired."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.measure.bench import described, found, value
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.measure import measure
from witnessmark.measure.sensors import amplitude
from witnessmark.recording.types import RegularTime, Trace
from witnessmark.signal.edges import find_edges
from witnessmark.simulate import LogicAnalyser, Scenario, Scope, layout, simulate_capture
from witnessmark.vocabulary import Condition

HERE = Provenance("recording", "sha256:test", "a")
ALWAYS = [(-np.inf, np.inf)]


def wave(half_v: float, noise_v: float, *, middle_v: float = 0.0, clip_v: float = np.inf, count: int = 20_000) -> Trace:
    """A coil's signal: 200 Hz at 20 kS/s."""
    rng = np.random.default_rng(3)
    volts = half_v * np.sin(2.0 * np.pi * 0.01 * np.arange(count)) + rng.normal(0.0, noise_v, count)
    return Trace("a", 0, np.clip(volts, -clip_v, clip_v) + middle_v, RegularTime(0.0, 5e-5, count), unit="V")


def sized(trace: Trace) -> Finding:
    told = amplitude(trace, find_edges(trace).only("falling").times_s, ALWAYS, "crank", Condition(), HERE)
    assert isinstance(told, Finding)
    return told


@pytest.mark.parametrize("half_v", [0.3, 1.0, 8.0])
@pytest.mark.parametrize("noise", [0.0, 0.02, 0.08])
@pytest.mark.parametrize("middle_v", [0.0, 2.5])
def test_amplitude_is_half_of_the_swing(half_v: float, noise: float, middle_v: float) -> None:
    told = sized(wave(half_v, noise * half_v, middle_v=middle_v))
    assert told.value == pytest.approx(half_v, rel=0.06)
    assert abs(told.value - half_v) < 2.5 * told.sd
    assert told.unit == "V"
    assert not told.assumptions


def test_what_the_range_cuts_is_told() -> None:
    told = sized(wave(2.0, 0.0, clip_v=1.5))
    assert told.value == pytest.approx(1.5, rel=0.05)
    assert told.assumptions == ("the instrument's range cuts the signal: it is at least this large",)


def test_a_signal_that_is_none_has_no_amplitude() -> None:
    quiet = wave(0.0, 0.01)
    told = amplitude(quiet, find_edges(quiet).times_s, ALWAYS, "crank", Condition(), HERE)
    assert not isinstance(told, Finding)
    assert "Too few changes" in told.reason
    in_kpa = replace(wave(1.0, 0.0), unit="kPa")
    told = amplitude(in_kpa, find_edges(in_kpa).times_s, ALWAYS, "crank", Condition(), HERE)
    assert not isinstance(told, Finding)
    assert "in kPa, not in volts" in told.reason


@pytest.fixture(scope="module")
def coil() -> Engine:
    return layout("five_one_chain")  # a reluctance sensor on the crank, invented for rehearsal


@pytest.mark.parametrize("instrument", [Scope(step_s=1e-5), LogicAnalyser(1e-6)])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_leads_of_a_coil(coil: Engine, instrument: Scope | LogicAnalyser, sign: float) -> None:
    state = HEALTHY if sign > 0.0 else State({("sensor_polarity", "crank"): -1.0})
    capture = simulate_capture(coil, state, Scenario("raised", 2500.0, 1.0, instrument), seed=4)
    one = measure(capture.recording, coil)
    assert value(one, "signal_polarity", position="crank") == sign == capture.truth.wheels["crank"].polarity
    if sign > 0.0:
        assert len(found(one, "cam_phase_error")) == 2
    else:
        assert not found(one, "cam_phase_error")
        why = {n.reason for n in one.not_measured if n.quantity == "cam_phase_error"}
        assert why == {"The leads of the crank sensor are the wrong way round, which moves its zero by part of a tooth"}
        assert len(found(one, "cam_separation")) == 1  # one cam against another does not care


def test_amplitude_grows_with_speed(coil: Engine) -> None:
    sizes = []
    for rpm in (700.0, 2100.0):
        scenario = Scenario("raised", rpm, 1.0, Scope(step_s=1e-5, low_v=-20.0, high_v=20.0))
        capture = simulate_capture(coil, HEALTHY, scenario, seed=4)
        (finding,) = found(measure(capture.recording, coil), "signal_amplitude", position="crank")
        assert finding.condition.speed_rpm == pytest.approx(rpm, rel=0.03)
        sizes.append(finding.value)
    assert sizes[1] / sizes[0] == pytest.approx(3.0, rel=0.1)


def test_a_switching_sensor_has_no_leads_to_exchange() -> None:
    capture = simulate_capture(layout("four_one_cam"), HEALTHY, Scenario("idle", 800.0, 1.0, Scope()), seed=2)
    one = measure(capture.recording, layout("four_one_cam"))
    assert not found(one, "signal_polarity")
    assert not [n for n in one.not_measured if n.quantity == "signal_polarity"]
    assert {f.place.get("position") for f in found(one, "signal_amplitude")} == {"crank", "b1.single"}
    assert described().wheels[0].sensor_kind is None
