"""A log's series: each on its own clock."""

import numpy as np
import pytest

from witnessmark.errors import InputError
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
