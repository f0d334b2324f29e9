"""Every described engine, both kinds of reference, clipped ranges: whatever is set up gives a recording."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.simulate.benches import QUIET, bench
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.state import HEALTHY
from witnessmark.errors import InputError
from witnessmark.simulate.bench import Setup, build_bench
from witnessmark.simulate.cylinderpressure import cylinder_pressure
from witnessmark.simulate.pulsation import pulses
from witnessmark.simulate.startercurrent import starter_current
from witnessmark.simulate.unmodelled import UNMODELLED


@pytest.mark.parametrize("name", [known.name for known in known_engines()])
def test_every_engine_of_the_library_cranks_on_all_its_cylinders(name: str) -> None:
    """Each cylinder's compression stands in the current once a cycle, in firing order."""
    engine = max(candidate_engines(find_engine(name)), key=lambda one: one.weight).engine
    capture = starter_current(build_bench(engine, HEALTHY, 5), Setup("cranking", 1.8, QUIET), 5)
    order = capture.truth["tops"][:, 1].astype(int).tolist()
    assert set(order) == set(range(1, engine.cylinders + 1))
    assert np.all(np.diff(capture.truth["tops"][:, 0]) > 0.0)
    assert capture.truth["rpm"].min() > 20.0
    assert set(capture.unmodelled) <= set(UNMODELLED)


@pytest.mark.parametrize("record", [starter_current, pulses])
def test_a_cam_may_be_the_reference(record: object) -> None:
    capture = record(bench(), Setup("cranking", 1.2, QUIET, reference="cam"), 5)  # type: ignore[operator]
    (cam,) = capture.recording.with_role("cam")
    assert cam.wheel == "b1.intake"
    assert np.ptp(cam.values) > 3.0
    assert {"cam_swing", "sensor_lag"} <= set(capture.unmodelled)


def test_a_range_set_too_small_cuts_the_peaks() -> None:
    """±2 V on a transducer of 0.5 V and 875 kPa for each volt: nothing above 1312.5 kPa is seen."""
    scope = replace(QUIET, ranged=False, low_v=-2.0, high_v=2.0)
    trace = cylinder_pressure(bench(), Setup("cranking", 1.2, scope), 5).recording.traces[0]
    assert trace.values.max() == pytest.approx((2.0 - 0.5) * 875.0, abs=0.2)
    assert np.sum(trace.raw == trace.raw.max()) > 50


def test_a_slow_converter_takes_its_channels_one_after_the_other() -> None:
    plain, skewed = (
        cylinder_pressure(bench(), Setup("cranking", 0.6, replace(QUIET, skew_s=s)), 5) for s in (0.0, 1e-5)
    )
    assert np.array_equal(plain.recording.traces[0].raw, skewed.recording.traces[0].raw)
    assert not np.array_equal(plain.recording.traces[1].raw, skewed.recording.traces[1].raw)
    assert "skew" in skewed.unmodelled


def test_a_fast_clock_stretches_the_file() -> None:
    honest, fast = (
        cylinder_pressure(bench(), Setup("cranking", 1.4, replace(QUIET, clock_ppm=ppm)), 5).truth["crank"]
        for ppm in (0.0, 5000.0)
    )
    turned = [float(c[-1] - c[0]) for c in (honest, fast)]
    assert turned[1] / turned[0] == pytest.approx(1.0 / 1.005, abs=5e-4)


def test_what_is_set_up_wrongly_is_one_line() -> None:
    for wrong in ({"running": "flying"}, {"reference": "valve"}):
        with pytest.raises(InputError):
            Setup(**wrong)  # type: ignore[arg-type]
