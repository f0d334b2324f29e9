"""Intervals of means hold what an ideal instrument shows over the same stretches: nine in ten, give or take chance.

Chance alone leaves 0.90 ± 0.064 (90 %) with 60 draws; ``covered`` takes more by hand. Where a movement is sampled well
or rounded more coarsely than it moves, the intervals hold more.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.measure.log.processes import covered, drifting, dying, fresh, hunting
from witnessmark.measure.log.average import average
from witnessmark.measure.log.series import Series
from witnessmark.recording.parameters import Signal


@pytest.mark.parametrize(("count", "hertz"), [(3, 0.25), (6, 0.25), (30, 1.0), (300, 10.0)])
def test_independent_samples(rng: np.random.Generator, count: int, hertz: float) -> None:
    """The mean's spread is 1/sqrt(n) (any text); not knowing that they are independent costs little."""
    share, sd = covered(rng, fresh, count, hertz, noise=1.0)
    assert share >= 0.80
    assert sd < 1.6 / np.sqrt(count)


@pytest.mark.parametrize(
    ("seconds", "count", "hertz", "pieces"),
    [
        (5.0, 30, 1.0, 1),
        (5.0, 60, 2.0, 4),
        (5.0, 200, 2.0, 1),
        (20.0, 30, 0.3, 1),
        (10.0, 30, 0.25, 5),
        (5.0, 600, 10.0, 1),
    ],
)
def test_samples_that_go_on(rng: np.random.Generator, seconds: float, count: int, hertz: float, pieces: int) -> None:
    """First-order movements, in one stretch and in several, under noise of three tenths of them."""
    share, _ = covered(rng, dying(seconds), count, hertz, pieces=pieces)
    assert share >= 0.82


@pytest.mark.parametrize(("count", "hertz"), [(60, 1.0), (8, 0.25)])
def test_what_drifts_is_followed(rng: np.random.Generator, count: int, hertz: float) -> None:
    """A coolant that warms, a load that grows: its mean over the stretch is known far better than its spread."""
    share, sd = covered(rng, drifting, count, hertz)
    assert share >= 0.80
    assert sd < 0.3


def test_a_smooth_movement_is_known_better_than_independent_samples(rng: np.random.Generator) -> None:
    """Ten a second of a movement of five seconds: what lies between the samples is as good as seen."""
    share, sd = covered(rng, dying(5.0), 300, 10.0)
    assert share >= 0.85
    assert sd < 0.8 / np.sqrt(300)


def test_a_loop_read_as_seldom_as_it_turns(rng: np.random.Generator) -> None:
    """Falls short: it shows as a slow swing that was followed. 60 to 80 in 100 hold; trims allow for it, see there."""
    share, _ = covered(rng, hunting(4.0), 30, 0.25, noise=0.2)
    assert 0.4 <= share <= 0.95


def test_hunting_sampled_well(rng: np.random.Generator) -> None:
    """Whole swings cancel: no interval is wider than that of independent samples, and none too narrow."""
    share, sd = covered(rng, hunting(3.0), 200, 2.0, noise=0.2)
    assert share >= 0.82
    assert sd < 1.0 / np.sqrt(200)


@pytest.mark.parametrize(("size", "count", "hertz"), [(0.05, 60, 1.0), (0.3, 60, 1.0), (0.6, 60, 1.0), (0.6, 8, 0.25)])
def test_rounded_values(rng: np.random.Generator, size: float, count: int, hertz: float) -> None:
    """Steps up to twenty times the noise: what is hidden inside a step is owned up to."""
    share, sd = covered(rng, fresh, count, hertz, step=1.0, noise=size)
    assert share >= 0.82
    assert sd < 0.45


def test_trims_that_toggle(rng: np.random.Generator) -> None:
    """A loop that swings by two steps of 100/128 %, read twice a second."""
    share, _ = covered(rng, hunting(3.0), 120, 2.0, step=100 / 128, size=0.8, noise=0.1)
    assert share >= 0.82


def test_repeated_values_are_no_new_ones(rng: np.random.Generator) -> None:
    """A file that writes each reading four times."""
    share, _ = covered(rng, dying(5.0), 40, 0.5, repeats=4)
    assert share >= 0.82


def test_a_constant_is_known_to_its_step() -> None:
    """Half a step either way at most, evenly: 90 % within 0.45 of it."""
    times = np.arange(20.0)
    found = average([Series(Signal("map"), times, np.full(20, 34.0), step=1.0)], floor=0.2)
    assert found is not None
    assert found.value == 34.0
    assert found.sd == pytest.approx(np.hypot(0.45 / 1.645, 0.2), rel=1e-3)


def test_too_few() -> None:
    assert average([]) is None
    assert average([Series(Signal("map"), np.array([0.0, 1.0]), np.array([30.0, 31.0]))]) is None


def test_what_creeps_stands_for_as_long_as_the_rows_say() -> None:
    """A trim that is learnt: half a minute at one number, then step by step to the next. No step's time is cut."""
    shown = np.concatenate([np.full(300, 5.0), np.repeat(np.arange(6.0, 16.0), 5), np.full(50, 16.0)])
    found = average([Series(Signal("long_trim", bank=1), 0.1 * np.arange(shown.size), shown, 1.0)])
    assert found is not None
    assert found.value == pytest.approx(float(shown.mean()), abs=0.05)


def test_lost_values_leave_time_behind() -> None:
    """A ramp of which a third was lost: its mean is that of all of it; of what was left out on purpose it is not."""
    times = np.arange(0.0, 60.0, 0.1)
    there = (times < 30.0) | (times > 50.0)
    piece = Series(Signal("map"), times[there], 30.0 + times[there], 0.0, within_s=(0.0, 60.0))
    whole, seen = average([piece]), average([piece], gaps=False)
    assert whole is not None
    assert seen is not None
    assert abs(whole.value - 60.0) < 1.645 * whole.sd + 0.05
    assert seen.value == pytest.approx(30.0 + float(times[there].mean()), abs=0.6)
    assert whole.sd > seen.sd


def test_a_long_way_hides_no_small_noise(rng: np.random.Generator) -> None:
    """An idle that sinks by 400 rpm as the engine warms, under 3 rpm of noise: the way is followed, noise is left."""
    times = np.arange(0.0, 300.0, 0.5)
    errors, spreads = [], []
    for _ in range(40):
        found = average([Series(Signal("idle_air"), times, 1200.0 - 400.0 * times / 300.0 + rng.normal(0.0, 3.0, 600))])
        assert found is not None
        errors.append(found.value - 1000.0 - 400.0 * 0.25 / 300.0)
        spreads.append(found.sd)
    assert np.mean(spreads) < 4.0 * 3.0 / np.sqrt(600)  # the unknown age of values along the way is in it
    assert np.mean(np.abs(errors) < 1.645 * np.array(spreads)) > 0.85
