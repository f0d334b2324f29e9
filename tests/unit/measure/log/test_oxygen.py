"""Oxygen sensors in a log: swing, pace, damping, sensors that stand still, trims that go the wrong way. Invented."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.measure.log.invented import log_of_series, narrow_case
from witnessmark.measure.log.oxygen import oxygen
from witnessmark.measure.log.response import response_of
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.swing import crossings_of, ratio_of, swing_of
from witnessmark.measure.log.trimsense import follows
from witnessmark.recording.parameters import Signal

RAISED = [StateSpan("raised", 0.0, 1000.0, steady=True, warm=True)]


@pytest.mark.parametrize("period", [0.1, 1.0, 4.0])
def test_swing_is_held_in_nine_of_ten_however_seldom_it_is_sampled(rng: np.random.Generator, period: float) -> None:
    held = []
    for _ in range(40):
        case = narrow_case(rng, period)
        found = swing_of([case.series])
        assert found is not None
        held.append(abs(found.value - case.swing) < 1.645 * found.sd)
    assert 0.78 < np.mean(held) < 0.995


def test_pace_is_held_where_the_rate_allows_it(rng: np.random.Generator) -> None:
    held = []
    for _ in range(40):
        case = narrow_case(rng, 0.1)
        found = crossings_of([case.series])
        assert found is not None
        assert found.reliable
        held.append(abs(found.per_min - case.per_min) < 1.645 * found.sd)
    assert np.mean(held) > 0.8


@pytest.mark.parametrize("period", [0.5, 2.0, 5.0])
def test_seldom_samples_tell_no_pace(rng: np.random.Generator, period: float) -> None:
    """A swing of a second seen every two seconds shows one of any length (Nyquist): a lower bound, and it says so."""
    case = narrow_case(rng, period)
    found = crossings_of([case.series])
    assert found is not None
    assert not found.reliable
    assert found.per_min < 1.1 * case.per_min
    part = oxygen(log_of_series(case.series), RAISED)
    assert {f.quantity for f in part.findings} == {"o2_swing"}
    missing = {m.quantity: m.reason for m in part.not_measured}
    assert missing["o2_crossings"].startswith("at least")
    assert "too seldom" in missing["o2_response"]


def test_ratio_of_rear_to_front(rng: np.random.Generator) -> None:
    held = []
    for _ in range(120):
        share = float(rng.uniform(0.05, 1.0))
        front = narrow_case(rng, 1.0)
        rear = narrow_case(rng, 1.3, sensor=2, levels=(0.6 - 0.3 * share, 0.6 + 0.3 * share))
        found = ratio_of([rear.series], [front.series])
        assert found is not None
        held.append(abs(found[0] - rear.swing / front.swing) < 1.645 * found[1])
    assert 0.8 < np.mean(held) <= 1.0


def test_rear_activity_of_a_bank(rng: np.random.Generator) -> None:
    front = narrow_case(rng, 0.5)
    rear = narrow_case(rng, 0.5, sensor=2, levels=(0.66, 0.70))
    part = oxygen(log_of_series(front.series, rear.series), RAISED)
    found = next(f for f in part.findings if f.quantity == "rear_activity")
    assert found.value == pytest.approx(rear.swing / front.swing, abs=4 * found.sd)
    assert found.place.get("bank") == 1
    assert not part.events  # a rear sensor that stands rich is a good catalyst
    wide = Series(Signal("lambda", bank=1, sensor=1), front.series.times_s, 1.0 + 0.01 * front.series.values)
    part = oxygen(log_of_series(wide, rear.series), RAISED)
    assert "no common measure" in next(m.reason for m in part.not_measured if m.quantity == "rear_activity")
    assert next(f for f in part.findings if f.quantity == "lambda_reported").place.get("sensor") == "o2_front_1"


@pytest.mark.parametrize(("level", "word"), [(0.08, "lean"), (0.85, "rich"), (0.45, "open")])
def test_a_front_sensor_that_stands_still(rng: np.random.Generator, level: float, word: str) -> None:
    times = np.arange(0.0, 120.0, 0.5)
    still = Series(Signal("o2_voltage", bank=1, sensor=1), times, level + rng.normal(0.0, 0.005, times.size), 0.005)
    events = oxygen(log_of_series(still), RAISED).events
    assert len(events) == 1
    assert word in events[0].words


def test_a_frozen_lambda(rng: np.random.Generator) -> None:
    times = np.arange(0.0, 120.0, 0.5)
    frozen = Series(Signal("lambda", bank=1, sensor=1), times, np.full(times.size, 0.999))
    alive = Series(Signal("lambda", bank=1, sensor=1), times, 1.0 + rng.normal(0.0, 0.003, times.size))
    assert len(oxygen(log_of_series(frozen), RAISED).events) == 1
    assert not oxygen(log_of_series(alive), RAISED).events


def loop(rng: np.random.Generator, bank: int, side: float) -> tuple[Series, Series]:
    """A trim that steps towards rich while its sensor says lean (side 1), or away from it (side -1)."""
    sensor = narrow_case(rng, 0.1, seconds=120.0).series
    lean = np.where(sensor.values < 0.45, 1.0, -1.0)
    trim = side * np.cumsum(lean) * 0.2 + rng.normal(0.0, 0.02, lean.size)
    return (
        Series(Signal("o2_voltage", bank=bank, sensor=1), sensor.times_s, sensor.values),
        Series(Signal("short_trim", bank=bank), sensor.times_s + 0.03, trim),
    )


def test_a_trim_that_goes_against_its_sensor(rng: np.random.Generator) -> None:
    for side, events in ((1.0, 0), (-1.0, 1)):
        sensor, trim = loop(rng, 1, side)
        sure = follows(trim, sensor, RAISED, rich_above=0.45)
        assert sure is not None
        assert sure * side > 4.0
        assert len(oxygen(log_of_series(sensor, trim), RAISED).events) == events


def test_sensors_of_two_banks_exchanged(rng: np.random.Generator) -> None:
    (one, first), (two, second) = loop(rng, 1, 1.0), loop(rng, 2, 1.0)
    crossed = (
        Series(Signal("o2_voltage", bank=2, sensor=1), one.times_s, one.values),
        Series(Signal("o2_voltage", bank=1, sensor=1), two.times_s, two.values),
    )
    assert not oxygen(log_of_series(one, two, first, second), RAISED).notes
    notes = oxygen(log_of_series(*crossed, first, second), RAISED).notes
    assert len(notes) == 2
    assert "exchanged" in notes[0]


def test_response_by_fuel_cuts(rng: np.random.Generator) -> None:
    """A first-order lag reaches 63 % after its time constant (any text on control)."""
    times = np.arange(0.0, 200.0, 0.05)
    volts, spans = np.full(times.size, 0.8), []
    for k in range(8):
        cut = 20.0 * k + 10.0 + float(rng.uniform(0.0, 0.05))
        after = times - cut
        volts = np.where((after > 0) & (after < 6.0), 0.8 - 0.7 * (1.0 - np.exp(-after / 0.5)), volts)
        spans.append(StateSpan("overrun", cut, cut + 6.0, warm=True))
    series = Series(Signal("o2_voltage", bank=1, sensor=1), times, volts + rng.normal(0.0, 0.01, times.size))
    found = response_of(series, spans)
    assert not isinstance(found, str)
    assert found.seconds == pytest.approx(0.5, abs=0.05)
    assert found.sd < 0.08
    assert isinstance(response_of(series, spans[:1]), str)
