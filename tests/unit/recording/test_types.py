from __future__ import annotations

import pickle

import numpy as np
import pytest

from witnessmark.errors import InputError
from witnessmark.recording import ExplicitTime, Gap, Recording, RegularTime, Trace


def trace(**changes: object) -> Trace:
    given: dict[str, object] = {
        "name": "crank",
        "channel": 0,
        "raw": np.array([1, 2, 300], np.int16),
        "time": RegularTime(0.5, 0.1, 3),
    }
    return Trace(**{**given, **changes})  # type: ignore[arg-type]


def test_whole_numbers_stay_whole_and_are_calibrated_on_demand() -> None:
    made = trace(scale=0.01, offset=-1.0)
    assert made.raw.dtype == np.int16
    assert made.values.tolist() == [-0.99, -0.98, 2.0]
    assert made.values.dtype == np.float64


def test_regular_and_explicit_time_agree() -> None:
    regular = RegularTime(0.5, 0.1, 3)
    explicit = ExplicitTime(regular.times_s)
    assert regular.span_s == pytest.approx((0.5, 0.7))
    assert explicit.span_s == pytest.approx((0.5, 0.7))
    assert len(regular) == len(explicit) == 3
    positions = [0.0, 0.25, 1.5, 2.0]
    assert regular.at(positions) == pytest.approx([0.5, 0.525, 0.65, 0.7])
    assert explicit.at(positions) == pytest.approx([0.5, 0.525, 0.65, 0.7])


@pytest.mark.parametrize("times", [[0.0, 0.0], [1.0, 0.5], [0.0, np.nan]])
def test_times_must_increase(times: list[float]) -> None:
    with pytest.raises(InputError, match="increase"):
        ExplicitTime(np.array(times))


@pytest.mark.parametrize(("start", "step", "count"), [(0.0, 0.0, 3), (0.0, -1.0, 3), (np.nan, 1.0, 3), (0.0, 1.0, -1)])
def test_a_time_base_that_cannot_be(start: float, step: float, count: int) -> None:
    with pytest.raises(InputError, match="time base"):
        RegularTime(start, step, count)


def test_values_and_times_must_be_as_many() -> None:
    with pytest.raises(InputError, match="one number for every time"):
        trace(raw=np.zeros(4))
    with pytest.raises(InputError, match="scale"):
        trace(scale=0.0)


def test_nothing_can_be_changed_not_even_after_a_pickle() -> None:
    made = trace()
    again = pickle.loads(pickle.dumps(made))  # noqa: S301  our own bytes
    assert again == made
    for one in (made, again):
        with pytest.raises(ValueError, match="read-only"):
            one.raw[0] = 5
        with pytest.raises(AttributeError):
            one.name = "cam"


def test_the_array_given_in_is_left_as_it_was() -> None:
    mine = np.zeros(3)
    trace(raw=mine)
    mine[0] = 1.0
    assert mine[0] == 1.0


def test_equality_sees_every_field() -> None:
    assert trace() == trace()
    assert trace() != trace(role="crank")
    assert trace() != trace(raw=np.array([1, 2, 301], np.int16))
    assert trace() != trace(raw=np.array([1, 2, 300], np.int32))
    assert trace() != trace(time=RegularTime(0.5, 0.2, 3))
    assert trace() != trace(gaps=(Gap(0.5, 0.6, "samples are missing"),))


def recording(*traces: Trace) -> Recording:
    return Recording(traces, "sha256:00", "bench.csv", "edge_csv", header={"a": "b"})


def test_traces_are_found_by_channel_by_heading_and_by_role() -> None:
    made = recording(trace(), trace(name="Coil", channel=1, role="ignition"), trace(name="Coil", channel=2))
    assert made[1].channel == 1
    assert made["crank"].channel == 0
    assert made["CRANK"].channel == 0
    assert [t.channel for t in made.with_role("ignition")] == [1]
    assert made.with_role("cam") == ()
    with pytest.raises(InputError, match=r"several columns.*1, 2"):
        made["Coil"]
    with pytest.raises(InputError, match="Nearest: crank"):
        made["crnk"]
    with pytest.raises(InputError, match="7"):
        made[7]


def test_a_recording_survives_a_pickle() -> None:
    made = recording(trace())
    again = pickle.loads(pickle.dumps(made))  # noqa: S301  our own bytes
    assert again == made
    assert again.span_s == pytest.approx((0.5, 0.7))
    with pytest.raises(TypeError):
        again.header["a"] = "c"
