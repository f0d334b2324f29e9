"""A log's series: each on its own clock."""

import numpy as np
import pytest

from witnessmark.errors import InputError
from witnessmark.measure.log.average import average
from witnessmark.measure.log.series import Series, log_of
from witnessmark.recording.parameters import Signal
from witnessmark.recording.types import ExplicitTime, Recording, Trace


def trace(role: str | None, times: list[float], raw: list[float], channel: int = 0) -> Trace:
    return Trace(f"heading {channel}", channel, np.array(raw), ExplicitTime(np.array(times)), role=role)


def recording(*traces: Trace) -> Recording:
    return Recording(traces, "sha256:0", "drive.csv", "test")


def test_only_known_roles_and_numbers() -> None:
    log = log_of(
        recording(trace("engine_speed", [0, 1], [700, 710]), trace(None, [0], [1], 1), trace("clock", [0], [1], 2))
    )
    assert [str(one.signal) for one in log] == ["engine_speed"]
    assert log.get("map") is None
    assert log.span_s == (0.0, 1.0)


def test_a_wrong_role_is_refused() -> None:
    with pytest.raises(InputError, match="engine_sped"):
        log_of(recording(trace("engine_sped", [0], [700])))


def test_known_at_grows_old() -> None:
    series = Series(Signal("map"), np.array([0.0, 1.0, 5.0]), np.array([30.0, 40.0, 50.0]))
    known = series.known_at([-1.0, 0.5, 1.5, 4.0, 5.0], oldest_s=2.0)
    np.testing.assert_array_equal(known, [np.nan, 30.0, 40.0, np.nan, 50.0])


def test_between_leaves_gaps() -> None:
    series = Series(Signal("map"), np.array([0.0, 1.0, 5.0]), np.array([30.0, 40.0, 50.0]))
    np.testing.assert_allclose(series.between([0.5, 1.0, 3.0, 6.0], apart_s=2.0), [35.0, 40.0, np.nan, np.nan])


def test_correlated_samples_are_worth_less(rng: np.random.Generator) -> None:
    """Of a first-order process with correlation a the mean's variance is (1+a)/(1-a) times that of independent samples
    (any text on time series)."""
    a, count, held = 0.9, 1000, 0
    for _ in range(200):
        noise, values = rng.normal(size=count), np.zeros(count)
        for k in range(1, count):
            values[k] = a * values[k - 1] + noise[k]
        found = average([Series(Signal("map"), np.arange(count) * 0.5, values)])
        assert found is not None
        held += abs(found.value) < 1.645 * found.sd
    assert 160 <= held <= 198
