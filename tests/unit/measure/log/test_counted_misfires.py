"""Misfires of a thousand firings. Poisson intervals against scipy.stats; a cylinder of a four-stroke engine fires every
other turn."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.unit.measure.log.invented import fired_case, log_of_series
from witnessmark.measure.log.misfires import counted, misfire_rate, misfires, poisson_interval
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.recording.parameters import Signal

ALL = [StateSpan("idle", 0.0, 1000.0, steady=True, warm=True)]


@pytest.mark.parametrize("count", [0, 1, 2, 7, 40, 900])
def test_the_interval_is_garwoods(count: int) -> None:
    """By the chi-squared distribution, as tables give it; and by what it means: 5 % in each tail."""
    low, high = poisson_interval(count)
    assert high == pytest.approx(0.5 * stats.chi2.ppf(0.95, 2 * count + 2), rel=1e-9)
    assert stats.poisson.cdf(count, high) == pytest.approx(0.05, rel=1e-6)
    if count:
        assert low == pytest.approx(0.5 * stats.chi2.ppf(0.05, 2 * count), rel=1e-9)
        assert stats.poisson.sf(count - 1, low) == pytest.approx(0.05, rel=1e-6)


@pytest.mark.parametrize("count", [1, 3, 12, 150])
def test_nine_tenths_of_the_posterior_lie_within(count: int) -> None:
    """Of Jeffreys' prior, a gamma of shape one half more than the count; of nothing counted the upper end is kept."""
    speed = Series(Signal("engine_speed"), np.arange(0.0, 1001.0), np.full(1001, 1200.0))
    counter = Series(Signal("misfire_count", cylinder=1), np.array([0.0, 500.0, 1000.0]), np.array([0.0, 0.0, count]))
    found = misfire_rate(counter, speed, ALL)
    assert found is not None
    reach = 1.645 * found.sd * found.firings / 1000.0
    posterior = stats.gamma(count + 0.5)
    assert posterior.cdf(count + reach) - posterior.cdf(count - reach) == pytest.approx(0.9, abs=2e-3)


def test_rates_are_held_in_nine_of_ten(rng: np.random.Generator) -> None:
    held, exact = [], []
    for _ in range(300):
        case = fired_case(rng, float(np.exp(rng.uniform(np.log(3.0), np.log(200.0)))))
        found = misfire_rate(case.counter, case.speed, ALL)
        assert found is not None
        held.append(abs(found.per_1000 - case.per_1000) < 1.645 * found.sd)
        exact.append(found.low <= case.per_1000 <= found.high)
    assert 0.86 < np.mean(held) < 0.97
    assert np.mean(exact) > 0.87


def test_none_counted_is_a_finding_too(rng: np.random.Generator) -> None:
    """The rule of three: none in n leaves 3/n at 95 % (any text on clinical trials)."""
    case = fired_case(rng, 0.0)
    part = misfires(log_of_series(case.counter, case.speed), ALL)
    found = next(f for f in part.findings if f.quantity == "misfire_count")
    assert found.value == 0.0
    assert found.place.get("cylinder") == 2
    firings = float(found.method.split(" in ")[1].split()[0])
    rate = misfire_rate(case.counter, case.speed, ALL)
    assert rate is not None
    assert rate.high == pytest.approx(3000.0 / firings, rel=0.01)
    assert 1000.0 / firings < found.sd < 2000.0 / firings


def test_firings_follow_the_speed() -> None:
    """1,200 rpm for a minute are 600 firings of each cylinder."""
    times = np.arange(0.0, 61.0, 1.0)
    counter = Series(Signal("misfire_count", cylinder=1), times, np.floor(times / 10.0))
    speed = Series(Signal("engine_speed"), times, np.full(times.size, 1200.0))
    found = misfire_rate(counter, speed, [StateSpan("idle", 0.0, 60.0)])
    assert found is not None
    assert found.firings == pytest.approx(600.0)
    assert found.per_1000 == pytest.approx(10.0)


def test_wraps_and_resets(rng: np.random.Generator) -> None:
    wrapped = fired_case(rng, 50.0, start=250, modulus=256)
    found = counted(wrapped.counter)
    assert (found.wraps, found.resets) == (1, 0)
    rate = misfire_rate(wrapped.counter, wrapped.speed, ALL)
    assert rate is not None
    assert rate.per_1000 == pytest.approx(50.0, abs=4 * rate.sd)
    reset = fired_case(rng, 50.0, reset_s=90.0)
    found = counted(reset.counter)
    assert (found.wraps, found.resets) == (0, 1)
    part = misfires(log_of_series(reset.counter, reset.speed), ALL)
    assert any("set back" in note for note in part.notes)
    assert part.findings[0].value == pytest.approx(50.0, abs=4 * part.findings[0].sd)


def test_bunches_widen(rng: np.random.Generator) -> None:
    """All misfires in a tenth of the time: their number says less than as many spread evenly."""
    times = np.arange(0.0, 300.0, 1.0)
    even = np.floor(times / 3.0)
    bunch = np.clip((times - 100.0) * 100.0 / 30.0, 0.0, 100.0).round()
    speed = Series(Signal("engine_speed"), times, np.full(times.size, 900.0))
    rates = [misfire_rate(Series(Signal("misfire_count", cylinder=1), times, c), speed, ALL) for c in (even, bunch)]
    assert rates[0] is not None
    assert rates[1] is not None
    assert rates[1].sd > 2.0 * rates[0].sd


def test_a_count_of_all_cylinders_is_kept_in_words(rng: np.random.Generator) -> None:
    case = fired_case(rng, 50.0)
    counter = Series(Signal("misfire_count"), case.counter.times_s, case.counter.values)
    part = misfires(log_of_series(counter, case.speed), ALL)
    assert not part.findings
    assert "all cylinders together" in part.not_measured[0].reason
    part = misfires(log_of_series(case.counter), ALL)
    assert "engine speed" in part.not_measured[0].settled_by


def test_knock_retard_below_zero_is_taken_as_taken_back(rng: np.random.Generator) -> None:
    times = np.arange(0.0, 60.0, 0.5)
    retard = Series(Signal("knock_retard", cylinder=3), times, -2.5 + rng.normal(0.0, 0.1, times.size))
    spans = [StateSpan("cruise", 0.0, 60.0, warm=True)]
    part = misfires(log_of_series(retard), spans)
    found = part.findings[0]
    assert found.quantity == "knock_retard"
    assert found.value == pytest.approx(2.5, abs=0.1)
    assert part.notes
