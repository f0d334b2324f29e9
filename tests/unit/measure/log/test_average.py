"""Intervals of means hold their share on processes whose mean is known: nine in ten, give or take what 60 draws show.

Chance alone leaves 0.90 ± 0.064 (90 %) with 60 draws; ``covered`` takes more by hand. Where the noise hunts and is
sampled well, or is rounded more coarsely than it swings, the intervals hold more; where a stretch is no longer than
what it drifts with, less can be known.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.measure.log.processes import covered, dying, fresh, hunting, times_at
from witnessmark.measure.log.average import average
from witnessmark.measure.log.series import Series
from witnessmark.recording.parameters import Signal


@pytest.mark.parametrize(("count", "hertz"), [(3, 0.25), (6, 0.25), (30, 1.0), (300, 10.0)])
def test_independent_samples(rng: np.random.Generator, count: int, hertz: float) -> None:
    """The mean's spread is 1/sqrt(n) (any text); not knowing that they are independent costs less than that again."""
    share, sd = covered(rng, fresh, count, hertz)
    assert share >= 0.82
    assert sd < (2.0 if count > 5 else 3.0) / np.sqrt(count)


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
    """First-order processes, at least three of their times long, in one stretch and in several."""
    share, _ = covered(rng, dying(seconds), count, hertz, pieces=pieces)
    assert share >= 0.82


def test_ten_samples_of_a_slow_process_fall_short(rng: np.random.Generator) -> None:
    """Ten samples four seconds apart of a process of five seconds: about 82 in 100, not 90; ten cannot show it."""
    share, _ = covered(rng, dying(5.0), 10, 0.25)
    assert 0.7 <= share <= 0.95


@pytest.mark.parametrize(("period", "count", "hertz"), [(4.0, 30, 0.25), (3.0, 15, 0.25), (1.1, 40, 1.0)])
def test_hunting_sampled_too_slowly(rng: np.random.Generator, period: float, count: int, hertz: float) -> None:
    """Samples about as far apart as the loop's period: it shows as a slow swing that is not there."""
    share, _ = covered(rng, hunting(period), count, hertz)
    assert share >= 0.82


def test_hunting_sampled_well(rng: np.random.Generator) -> None:
    """Whole swings cancel: no interval is wider than that of independent samples, and none too narrow."""
    share, sd = covered(rng, hunting(3.0), 200, 2.0)
    assert share >= 0.82
    assert sd < 1.0 / np.sqrt(200)


@pytest.mark.parametrize(("size", "count", "hertz"), [(0.05, 60, 1.0), (0.3, 60, 1.0), (0.6, 60, 1.0), (0.6, 8, 0.25)])
def test_rounded_values(rng: np.random.Generator, size: float, count: int, hertz: float) -> None:
    """Steps up to twenty times the noise: what is hidden inside a step is owned up to."""
    share, sd = covered(rng, fresh, count, hertz, step=1.0, size=size)
    assert share >= 0.82
    assert sd < 0.45


def test_trims_that_toggle(rng: np.random.Generator) -> None:
    """A loop that swings by two steps of 100/128 %, read twice a second."""
    share, _ = covered(rng, hunting(3.0, noise=0.1), 120, 2.0, step=100 / 128, size=0.8)
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


def test_how_many_samples_it_is_worth(rng: np.random.Generator) -> None:
    """Independent ones nearly their number; those of a process of ten seconds, over 200, far fewer."""
    times = times_at(rng, 200, 1.0)
    alone = average([Series(Signal("map"), times, fresh(rng, times))])
    slow = average([Series(Signal("map"), times, dying(10.0, 0.1)(rng, times))])
    assert alone is not None
    assert slow is not None
    assert alone.worth > 80
    assert slow.worth < 40
