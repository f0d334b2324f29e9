"""Rows of a log become frames in order of time; what is odd about them is put right or refused, and counted."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import DamagedRecording, InputError
from witnessmark.recording.framelog import assembled, recording_of
from witnessmark.recording.framerows import ERROR, REMOTE, FrameColumns, FrameRows
from witnessmark.recording.frames import Frames


def rows_at(times: list[float], *, identifiers: list[int] | None = None, kinds: list[int] | None = None) -> FrameRows:
    """A row at each time, counting up in its bytes."""
    rows = FrameRows()
    for i, time_s in enumerate(times):
        payload = i.to_bytes(4, "big")
        assert rows.add(
            time_s, identifiers[i] if identifiers else 0x100, payload, bus="can0", kind=kinds[i] if kinds else 0
        )
    return rows


def frames_of(rows: FrameRows) -> Frames:
    return assembled(rows.columns(), buses=list(rows.buses), digest="sha256:0", name="x.log", format="candump")


def test_small_steps_back_are_sorted_and_counted() -> None:
    frames = frames_of(rows_at([0.0, 0.01, 0.03, 0.02, 0.04]))
    assert frames.time_s.tolist() == [0.0, 0.01, 0.02, 0.03, 0.04]
    assert frames.data[:, 3].tolist() == [0, 1, 3, 2, 4]
    assert "1 frame stood out of order, by 0.01 s at most" in frames.notes[0]


def test_a_clock_that_is_set_back_is_refused() -> None:
    with pytest.raises(DamagedRecording, match=r"x\.log, frame 4: time runs back by 5 s"):
        frames_of(rows_at([0.0, 1.0, 6.0, 1.0, 2.0]))


def test_a_log_grouped_by_identifier_is_put_in_order() -> None:
    times = [0.0, 2.0, 4.0, 1.0, 3.0, 5.0]
    frames = frames_of(rows_at(times, identifiers=[1, 1, 1, 2, 2, 2]))
    assert frames.time_s.tolist() == sorted(times)
    assert frames.identifier.tolist() == [1, 2] * 3
    assert "grouped by identifier" in frames.notes[0]


def test_copies_of_a_row_are_left_out_and_counted() -> None:
    rows = FrameRows()
    for time_s, byte in ((0.0, 1), (0.0, 1), (0.1, 1), (0.1, 2)):
        rows.add(time_s, 0x100, bytes([byte]))
    frames = frames_of(rows)
    assert frames.time_s.tolist() == [0.0, 0.1, 0.1]
    assert frames.notes == ("1 row stood twice in the log with the same time; the copies were left out",)


def test_the_same_frame_on_two_buses_is_no_copy() -> None:
    rows = FrameRows()
    for bus in ("can0", "can1"):
        rows.add(0.5, 0x100, b"\x01", bus=bus)
    assert len(frames_of(rows)) == 2


def test_remote_and_error_frames_are_set_apart() -> None:
    frames = frames_of(rows_at([0.0, 0.1, 0.2, 0.3, 0.3], kinds=[0, REMOTE, ERROR, ERROR, ERROR]))
    assert len(frames) == 1
    assert frames.remote_s.tolist() == [0.1]
    assert frames.error_s.tolist() == [0.2, 0.3, 0.3]
    assert frames.notes == ("1 remote frame set apart", "3 error frames set apart")


def test_a_silent_bus_is_a_gap() -> None:
    times = [*(0.01 * i for i in range(200)), *(5.0 + 0.01 * i for i in range(200))]
    frames = frames_of(rows_at(times))
    (gap,) = frames.gaps
    assert (gap.from_s, gap.to_s) == pytest.approx((1.99, 5.0))
    assert "1 stretch without a frame" in frames.notes[0]


def test_what_no_frame_can_be_is_not_taken() -> None:
    rows = FrameRows()
    assert not rows.add(0.0, 0x800, b"")
    assert rows.add(0.0, 0x800, b"", extended=True)
    assert not rows.add(0.0, 1 << 29, b"", extended=True)
    assert not rows.add(0.0, 1, bytes(9))
    assert not rows.add(0.0, 1, bytes(9), flexible=True)
    assert rows.add(0.0, 1, bytes(12), flexible=True)
    assert not rows.add(float("inf"), 1, b"")
    assert rows.columns().data.shape == (2, 64)


def test_a_log_without_times_keeps_its_order() -> None:
    frames = frames_of(rows_at([float("nan")] * 3))
    assert not frames.is_timed
    assert frames.span_s == (0.0, 0.0)
    assert "order" in frames.notes[0]


def test_nothing_is_no_log() -> None:
    with pytest.raises(DamagedRecording, match="no whole frame"):
        frames_of(FrameRows())
    with pytest.raises(DamagedRecording, match="error and remote"):
        frames_of(rows_at([0.0], kinds=[ERROR]))
    assert len(FrameColumns.joined([])) == 0


def test_frames_of_one_identifier() -> None:
    rows = FrameRows()
    for i in range(6):
        rows.add(0.1 * i, 0x10 + i % 2, bytes([i]), bus=f"can{i // 3}", extended=i == 5)
    frames = frames_of(rows)
    assert frames.of(0x10).data[:, 0].tolist() == [0, 2, 4]
    assert frames.of(0x11, extended=False, bus="can1").data[:, 0].tolist() == [3]
    with pytest.raises(InputError, match="Nearest: can1"):
        frames.of(0x11, bus="can2")


@given(st.lists(st.tuples(st.integers(0, 3), st.booleans(), st.integers(0, 2)), min_size=1, max_size=60))
def test_every_row_belongs_to_one_identifier(keys: list[tuple[int, bool, int]]) -> None:
    rows = FrameRows()
    for i, (number, extended, bus) in enumerate(keys):
        rows.add(0.001 * i, number, bytes([i]), extended=extended, bus=f"can{bus}")
    frames = frames_of(rows)
    seen = []
    for number, extended, bus, at in frames.by_identifier():
        assert (np.diff(at) > 0).all()
        names = {(number, extended, frames.buses[bus])}
        assert names == {(keys[i][0], keys[i][1], f"can{keys[i][2]}") for i in at}
        seen += at.tolist()
    assert sorted(seen) == list(range(len(keys)))


def test_frames_survive_pickling_sealed() -> None:
    frames = frames_of(rows_at([0.0, 0.1]))
    again = pickle.loads(pickle.dumps(frames))  # noqa: S301  our own bytes
    assert again == frames
    assert not again.data.flags.writeable
    assert frames != frames_of(rows_at([0.0, 0.2]))
    assert recording_of(frames) == recording_of(again)


def test_columns_that_contradict_each_other_are_refused() -> None:
    frames = frames_of(rows_at([0.0, 0.1]))
    fields = {name: getattr(frames, name) for name in Frames.__dataclass_fields__}
    with pytest.raises(InputError, match="equally long"):
        Frames(**fields | {"bus": np.zeros(3, np.int16)})
    with pytest.raises(InputError, match="not fall"):
        Frames(**fields | {"time_s": np.array([1.0, 0.0])})
