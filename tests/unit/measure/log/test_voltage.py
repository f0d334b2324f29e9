"""Voltage by state: what a log of our own making holds, and what it is too slow to show."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.measure.log.invented import coloured, log_of_series, read
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.startvolts import pulled_down
from witnessmark.measure.log.voltage import voltage
from witnessmark.recording.parameters import Signal

STATES = (
    StateSpan("key_on", 0.0, 6.0, steady=True),
    StateSpan("cranking", 6.0, 7.6),
    StateSpan("idle", 9.0, 120.0, steady=True, warm=True),
    StateSpan("cruise", 125.0, 240.0, steady=True, warm=True),
)


def measured(rng: np.random.Generator, every_s: float) -> LogPart:
    fine = np.arange(0.0, 240.0, 0.01)
    volts = np.select([fine < 6.0, fine < 7.6, fine < 122.0], [12.3, 10.1, 13.7], 14.0)
    volts = volts + coloured(rng, fine.size, 0.01, 4.0, 0.05)
    speed = np.select([fine < 6.0, fine < 7.6, fine < 122.0], [0.0, 210.0, 780.0], 2200.0)
    times = np.arange(0.1, 239.0, every_s)
    parts = [(Signal("volts"), volts, 0.001), (Signal("engine_speed"), speed, 0.25)]
    return voltage(log_of_series(*(read(s, times, v, fine, step=step) for s, v, step in parts)), STATES)


def test_a_quick_log(rng: np.random.Generator) -> None:
    part = measured(rng, 0.1)
    found = {(f.quantity, f.condition.state): f for f in part.findings}
    assert found["supply_reported", "key_on"].value == pytest.approx(12.3, abs=0.1)
    assert found["supply_reported", "idle"].value == pytest.approx(13.7, abs=0.05)
    charging = found["charging_volts", "cruise"]
    assert abs(charging.value - 14.2) < 1.645 * charging.sd  # 0.2 V are lost between battery and module
    assert "between it and the battery" in charging.assumptions[0]
    assert found["cranking_speed", "cranking"].value == pytest.approx(210.0, abs=2.0)
    assert found["cranking_volts", "cranking"].value == pytest.approx(10.3, abs=0.1)
    (ripple,) = (m for m in part.not_measured if m.quantity == "ripple")
    assert "scope" in ripple.settled_by
    assert "13.7" in part.notes[0]


def test_a_slow_log_tells_bounds(rng: np.random.Generator) -> None:
    reasons = {m.quantity: m.reason for m in measured(rng, 0.7).not_measured}
    assert "at most 10.3 V" in reasons["cranking_volts"]
    assert "210 rpm at most" in reasons["cranking_speed"]


@pytest.mark.parametrize(("lag_s", "lead_s"), [(0.05, 0.1), (0.2, 0.2), (0.4, 0.3)])
def test_a_smoothed_voltage_is_followed_down(rng: np.random.Generator, lag_s: float, lead_s: float) -> None:
    """A first-order lag of a step from 12.3 to 10.1 V, and up again from the first firing on: nine in ten hold."""
    held = []
    for _ in range(60):
        times = np.arange(rng.uniform(0.0, 0.12), 8.0, 0.12)
        begun, fires = 6.0 - lead_s, 7.0
        down = 10.1 + 2.2 * np.exp(-np.maximum(times - begun, 0.0) / lag_s)
        up = 13.7 + (np.interp(fires, times, down) - 13.7) * np.exp(-np.maximum(times - fires, 0.0) / lag_s)
        shown = np.where(times < fires, down, up) + rng.normal(0.0, 0.02, times.size)
        series = Series(Signal("volts"), times, np.round(shown / 0.001) * 0.001, 0.001)
        found = pulled_down(series, [StateSpan("cranking", 6.0, 7.4)])
        assert found is not None
        held.append(abs(found[0] - 10.1) < 1.645 * found[1])
    assert np.mean(held) > 0.8


def test_two_values_of_a_start_tell_no_voltage() -> None:
    series = Series(Signal("volts"), np.array([5.0, 6.3, 6.9]), np.array([12.3, 10.6, 10.2]), 0.001)
    assert pulled_down(series, [StateSpan("cranking", 6.0, 7.4)]) is None
