"""Tubes, filters and clamps, held against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from witnessmark.simulate.filters import high_pass, low_pass, resonance
from witnessmark.simulate.probes import Probe, clamp, kilovolt_pickup, lead, probed
from witnessmark.simulate.transducer import draw_transducer, sensed_kpa, tube_hz


def test_a_tube_alone_is_a_quarter_wave_and_with_much_room_a_helmholtz_resonator() -> None:
    """c/4L, and c/2π √(A/(V L)): any textbook of acoustics, from memory."""
    assert tube_hz(0.3, 4.0, 1e-6) == pytest.approx(360.0 / 1.2, rel=1e-4)
    area = np.pi / 4.0 * 4e-3**2
    assert tube_hz(0.05, 4.0, 200.0) == pytest.approx(360.0 / (2.0 * np.pi) * np.sqrt(area / (200e-6 * 0.05)), rel=2e-3)


def amplitude(values: np.ndarray) -> float:
    return float(np.ptp(values[values.size // 3 : 2 * values.size // 3]) / 2.0)


def test_filters_pass_what_they_should() -> None:
    """First order: 1/√2 at the corner. Second order: 1/(2 ζ) at its own frequency. Both by definition."""
    times = np.arange(0.0, 1.0, 1e-4)
    sine = np.sin(2.0 * np.pi * 50.0 * times)
    assert amplitude(low_pass(sine, 1e-4, 50.0)) == pytest.approx(1.0 / np.sqrt(2.0), rel=0.01)
    assert amplitude(high_pass(sine, 1e-4, 50.0)) == pytest.approx(1.0 / np.sqrt(2.0), rel=0.01)
    assert amplitude(resonance(sine, 1e-4, 50.0, 0.1)) == pytest.approx(5.0, rel=0.01)
    step = np.where(times > 0.5, 1.0, 0.0)
    after = low_pass(step, 1e-4, 1.0 / (2.0 * np.pi * 0.02))
    assert after[times < 0.499].max() < 0.02  # nothing comes before its cause
    assert after[np.searchsorted(times, 0.52)] == pytest.approx(1.0 - np.exp(-1.0), abs=0.01)


def test_a_transducer_reads_a_level_right_but_for_its_own_errors() -> None:
    one = draw_transducer(np.random.default_rng(4))
    ideal = replace(one, gain=1.0, offset_kpa=0.0, warming_kpa=0.0, shock_kpa_per_mpa=0.0)
    assert np.allclose(sensed_kpa(ideal, np.full(5000, 1.5e6), 2e-5), 1500.0, atol=0.1)
    off = sensed_kpa(replace(ideal, gain=1.01, offset_kpa=-7.0), np.full(5000, 1.5e6), 2e-5)
    assert np.allclose(off, 1508.0, atol=0.1)
    scale, zero = one.probe.shown
    assert scale * 0.5 + zero == pytest.approx(0.0)  # half a volt is no pressure
    assert one.added_m3 > 0.2e-6


def test_a_clamp_shows_the_current_within_its_class() -> None:
    rng = np.random.default_rng(8)
    for make, most in ((clamp(600.0, rng), 600.0), (clamp(30.0, rng), 30.0)):
        steady = probed(np.full(4000, 0.5 * most), 1e-4, make, rng) * make.per_volt
        assert steady.mean() == pytest.approx(0.5 * most, abs=0.06 * most)
        assert 0.0002 * most < steady.std() < 0.004 * most
    assert isinstance(lead(rng), Probe)
    rest = probed(np.full(20_000, 3.0), 1e-3, kilovolt_pickup(rng), rng)
    assert abs(rest[-1]) < 0.1  # a pick-up shows no level
