"""Instruments and disturbances: what they do to a signal is what they say."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.simulate.disturb import disturbed, faded, spark_ringing
from witnessmark.simulate.draws import stream
from witnessmark.simulate.instruments import Scope, edge_rows, hall_volts, sampled, set_range
from witnessmark.simulate.scenario import RUNNING, Disturbances, draw_scenario
from witnessmark.simulate.sensors import Level

SQUARE = Level(False, np.arange(1, 41) * 0.01)


def test_level_at_its_own_changes() -> None:
    assert list(SQUARE.at(np.array([0.0, 0.01, 0.0199, 0.02]))) == [False, True, True, False]
    assert list(SQUARE.rises[:3]) == [True, False, True]


@given(st.lists(st.integers(1, 10**6), min_size=1, max_size=60, unique=True), st.booleans())
def test_rows_hold_the_state_at_every_tick(moments: list[int], high: bool) -> None:
    """One row wherever the state differs from the tick before: nothing more, nothing less."""
    level = Level(high, np.sort(np.array(moments)) * 1e-6 + 3e-7)
    other = Level(False, np.array([0.25, 0.5]))
    times, states = edge_rows([level, other], 1e-5, 0.0, 1.0)
    assert (np.diff(times) > 0.0).all()
    assert (np.diff(states.astype(int), axis=0) != 0).any(axis=1).all()
    ticks = np.arange(100_001) * 1e-5
    held = states[np.searchsorted(times, ticks + 5e-6, side="right") - 1]
    for column, signal in enumerate((level, other)):
        assert list(held[:, column]) == list(signal.at(ticks + 1e-8).astype(int))


def test_a_pulse_between_two_looks_is_not_seen() -> None:
    quick = SQUARE.with_pulses(np.array([0.01501]), np.array([2e-6]))
    for tick, extra in ((1e-3, 0), (1e-7, 2)):
        _, states = edge_rows([quick], tick, 0.0, 0.5)
        assert len(states) == 41 + extra


def test_a_pull_up_is_slow_up_and_fast_down() -> None:
    times = np.arange(0.0, 0.05, 1e-6)
    volts = hall_volts(SQUARE, times, high_v=5.0, low_v=0.2, rise_s=50e-6, fall_s=5e-6)
    half = 2.6
    up = times[np.flatnonzero((volts[:-1] < half) & (volts[1:] >= half))[0]]
    down = times[np.flatnonzero((volts[:-1] > half) & (volts[1:] <= half))[0]]
    # An exponential passes its middle after tau ln 2.
    assert up - 0.01 == pytest.approx(50e-6 * np.log(2.0), abs=2e-6)
    assert down - 0.02 == pytest.approx(5e-6 * np.log(2.0), abs=2e-6)


@pytest.mark.parametrize("bits", [8, 12, 16])
def test_converter_error_is_a_third_of_a_count(bits: int) -> None:
    scope = Scope(bits=bits, low_v=-5.0, high_v=5.0, noise_v=0.0)
    volts = np.random.default_rng(1).uniform(-4.9, 4.9, 20_000)
    counts, per_count, zero = sampled(volts, scope, np.random.default_rng(2))
    error = counts * per_count + zero - volts
    assert per_count == pytest.approx(10.0 / (2**bits - 1))
    # An even spread over one count has 1/sqrt(12) of it as standard deviation (textbook).
    assert error.std() == pytest.approx(per_count / np.sqrt(12.0), rel=0.03)


@pytest.mark.parametrize(("height", "reach"), [(0.15, 0.2), (3.0, 5.0), (12.6, 20.0), (400.0, 50.0)])
def test_range_is_set_to_the_signal(height: float, reach: float) -> None:
    scope = set_range(Scope(bits=8), height * np.sin(np.linspace(0.0, 60.0, 5_000)))
    assert (scope.low_v, scope.high_v) == (-reach, reach)
    assert scope.bits == 8


def test_lost_teeth_leave_the_rest_as_it_was() -> None:
    level, lost = faded(SQUARE, gap_mm=2.9, gain=1.0, rng=np.random.default_rng(3))
    assert 0 < lost.size < SQUARE.times_s.size
    assert lost.size % 2 == 0
    kept = np.isin(SQUARE.times_s, level.times_s)
    assert list(level.rises) == list(SQUARE.rises[kept])
    same, none = faded(SQUARE, gap_mm=1.0, gain=1.0, rng=np.random.default_rng(3))
    assert none.size == 0
    assert same.times_s.size == 40


def test_every_disturbance_is_told_and_undone_by_what_was_told() -> None:
    what = Disturbances(glitches_hz=20.0, lost_hz=10.0)
    shown, lost, added = disturbed(SQUARE, what, 0.0, 0.41, np.random.default_rng(5))
    assert shown.times_s.size == 40 - lost.size + 2 * added.size
    assert set(lost) <= set(SQUARE.times_s)
    loose, gone, _ = disturbed(SQUARE, Disturbances(dropouts_hz=10.0), 0.0, 0.41, np.random.default_rng(6))
    assert gone.size > 0
    late = np.array([0.45])
    assert list(loose.at(late)) == list(SQUARE.at(late))


def test_sparks_ring_and_die_away() -> None:
    times = np.arange(0.0, 0.01, 1e-6)
    rings = spark_ringing(times, np.array([0.002]), 0.5, np.random.default_rng(1))
    assert (rings[times < 0.002] == 0.0).all()
    assert np.abs(rings).max() > 0.2
    assert np.abs(rings[times > 0.005]).max() < 1e-3


def test_scenarios_by_seed() -> None:
    assert draw_scenario(5) == draw_scenario(5)
    assert {draw_scenario(seed).running for seed in range(60)} <= set(RUNNING)
    assert len({draw_scenario(seed).running for seed in range(60)}) > 5


def test_streams_do_not_disturb_one_another() -> None:
    one = stream(1, "a").random(4)
    assert list(stream(1, "a").random(4)) == list(one)
    assert not np.array_equal(stream(1, "b").random(4), one)
    assert not np.array_equal(stream(2, "a").random(4), one)
