"""Messages out of frames: whole, or told why not. The rules are those of ISO 15765-2 (from memory)."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode.addressing import Addresses, Pair
from witnessmark.decode.buslog import messages_of
from witnessmark.decode.isotp import Reassembled, Reassembler, reassemble
from witnessmark.decode.message import REASONS, Incomplete, Message
from witnessmark.decode.segment import flow_control, segment, separation_s
from witnessmark.errors import InputError
from witnessmark.recording.frames import Frames

LONG = bytes(range(1, 41))  # 40 bytes: a first frame and five more
CUT = segment(LONG)


def fed(frames: list[tuple[float, int, bytes]], pairs: tuple[Pair, ...] = ()) -> tuple[list[Message], list[Incomplete]]:
    machine = Reassembler(Addresses(pairs))
    items = [item for frame in frames for item in machine.feed(*frame)]
    items += machine.close(frames[-1][0])
    return [m for m in items if isinstance(m, Message)], [m for m in items if isinstance(m, Incomplete)]


def answers(frames: list[bytes], step_s: float = 0.01) -> tuple[list[Message], list[Incomplete]]:
    return fed([(k * step_s, 0x7E8, frame) for k, frame in enumerate(frames)])


def test_a_message_with_its_times() -> None:
    (message,), incomplete = answers(list(CUT))
    assert message.payload == LONG
    assert (message.time_s, message.end_s, message.frames) == (0.0, pytest.approx(0.05), 6)
    assert not incomplete


@pytest.mark.parametrize(
    ("frames", "reason"),
    [
        ([CUT[0], CUT[1], CUT[3], CUT[4], CUT[5]], "missing_frame"),
        ([CUT[0], CUT[1], CUT[1], CUT[2], CUT[3], CUT[4], CUT[5]], "repeated_frame"),
        ([CUT[0], CUT[1], CUT[2], CUT[3], CUT[1], CUT[4], CUT[5]], "wrong_order"),
        ([CUT[0], CUT[1], CUT[2][:5], CUT[3], CUT[4], CUT[5]], "short_frame"),
        ([CUT[0][:6], *CUT[1:]], "short_frame"),
        ([*CUT[1:]], "no_first_frame"),
        ([*CUT[:4]], "log_ended"),
        ([b"\x10\x05\x01\x02\x03\x04\x05\x00"], "bad_length"),
        ([b"\x07\x01\x02\x03"], "bad_length"),
        ([b"\x00\x01\x02\x03"], "bad_length"),
        ([b"\x10\x00\x00\x00\x0f\xff\x01\x02"], "bad_length"),
        ([b"\x10\x00\xff\xff\xff\xff\x01\x02"], "too_long"),
    ],
)
def test_what_is_not_whole_says_why_and_what_follows_is_read(frames: list[bytes], reason: str) -> None:
    messages, incomplete = answers([*frames, b"\x02\x41\x00"] if reason != "log_ended" else frames)
    assert [one.reason for one in incomplete] == [reason]
    assert reason in REASONS
    assert [m.payload for m in messages] == ([b"\x41\x00"] if reason != "log_ended" else [])
    assert incomplete[0].words.startswith("7E8 at ")


def test_a_new_message_interrupts_the_old_one() -> None:
    messages, incomplete = answers([*CUT[:3], *CUT])
    assert [m.payload for m in messages] == [LONG]
    assert [(m.reason, len(m.payload), m.announced) for m in incomplete] == [("interrupted", 20, 40)]
    messages, incomplete = answers([*CUT[:3], b"\x01\x54", *CUT[3:]])
    assert [m.payload for m in messages] == [b"\x54"]
    assert [m.reason for m in incomplete] == ["interrupted", "no_first_frame"]


def test_a_pause_within_a_message() -> None:
    """N_Cr, 1000 ms; a flow control that says “wait” begins it anew."""
    late = [(0.0, 0x7E8, CUT[0]), *((1.5 + 0.01 * k, 0x7E8, frame) for k, frame in enumerate(CUT[1:]))]
    messages, incomplete = fed(late)
    assert not messages
    assert [m.reason for m in incomplete] == ["timed_out"]
    wait = [late[0], (0.6, 0x7E0, flow_control(1)), (1.4, 0x7E0, flow_control(0)), *late[1:]]
    messages, incomplete = fed(wait)
    assert [m.payload for m in messages] == [LONG]
    assert not incomplete


def test_the_other_side_cannot_take_it() -> None:
    messages, incomplete = fed([(0.0, 0x7E8, CUT[0]), (0.01, 0x7E0, flow_control(2)), (0.02, 0x7E8, CUT[1])])
    assert not messages
    assert [m.reason for m in incomplete] == ["refused"]


def test_both_directions_and_two_units_at_once() -> None:
    """Functional request, two answers of several frames each, interleaved, flow control between."""
    other = bytes(range(100, 130))
    log = [(0.0, 0x7DF, b"\x02\x09\x04")]
    for k, frame in enumerate(CUT):
        log.append((0.01 + 0.01 * k, 0x7E8, frame))
        if k < len(segment(other)):
            log.append((0.015 + 0.01 * k, 0x7E9, segment(other)[k]))
        if k == 0:
            log += [(0.016, 0x7E0, flow_control()), (0.017, 0x7E1, flow_control())]
    messages, incomplete = fed(log)
    assert not incomplete
    assert {m.unit: m.payload for m in messages} == {"7DF": b"\x09\x04", "7E8": LONG, "7E9": other}


def test_long_frames_and_long_messages() -> None:
    """CAN FD: single frames of more than 7 bytes; lengths above 4095 by the escape of the first frame."""
    for size in (8, 20, 62, 63, 4095, 4096, 9000):
        payload = bytes(k % 255 for k in range(size))
        messages, incomplete = answers(list(segment(payload, frame_bytes=64)), step_s=1e-4)
        assert [m.payload for m in messages] == [payload]
        assert not incomplete
        assert messages[0].frames == (1 if size <= 62 else messages[0].frames)
    # A classical length in a long frame is no length.
    assert [m.reason for m in answers([b"\x05" + bytes(63)])[1]] == ["bad_length"]


def test_other_identifiers_are_not_looked_at() -> None:
    identifiers = np.array(
        [0x17C, 0x7DF, 0x7E0, 0x7EF, 0x7F0, 0x18DAF110, 0x18DA10F1, 0x18DAF1F1, 0x18DB33F1, 0x18DA1011]
    )
    expected = [False, True, True, True, False, True, True, False, True, False]
    assert Addresses().carries_messages(identifiers).tolist() == expected
    short = identifiers <= 0x7FF
    # 29-bit frames that happen to have a small number are no legislated ones.
    assert not Addresses().carries_messages(identifiers[short], np.ones(short.sum(), dtype=bool)).any()
    pair = Addresses([Pair(0x714, 0x77E)])
    assert pair.carries_messages(np.array([0x714, 0x77E, 0x715])).tolist() == [True, True, False]
    assert pair.partner(0x77E) == 0x714
    assert pair.asks(0x714)
    assert not pair.asks(0x77E)
    assert Addresses().partner(0x123) is None


def test_pairs_that_cannot_be() -> None:
    with pytest.raises(InputError, match="different"):
        Pair(0x700, 0x700)
    with pytest.raises(InputError, match="29 bits"):
        Pair(0x700, 1 << 29)


def test_columns_that_do_not_fit() -> None:
    data = np.zeros((2, 8), dtype=np.uint8)
    with pytest.raises(InputError, match="do not fit"):
        reassemble(np.zeros(1), np.zeros(2, dtype=int), data, np.full(2, 8))
    with pytest.raises(InputError, match="longer than its row"):
        reassemble(np.zeros(2), np.zeros(2, dtype=int), data, np.full(2, 9))
    assert (
        reassemble(np.zeros(0), np.zeros(0, dtype=int), np.zeros((0, 8), np.uint8), np.zeros(0, int)) == Reassembled()
    )


def test_a_hostile_log_reserves_nothing() -> None:
    """First frames that announce four gigabytes, on every identifier: some kilobytes."""
    machine = Reassembler()
    tracemalloc.start()
    for k in range(4_000):
        machine.feed(k * 1e-4, 0x7E0 + k % 16, b"\x10\x00\xff\xff\xff\xff\x00\x00")
        machine.feed(k * 1e-4, 0x18DAF100 + k % 256, b"\x1f\xff" + bytes(62))
        machine.feed(k * 1e-4, 0x18DAF100 + k % 256, b"\x21" + bytes(63))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 1_000_000
    assert len(machine._open) <= 16 + 256


@given(
    st.lists(st.tuples(st.sampled_from((0x7DF, 0x7E0, 0x7E8, 0x7E9, 0x18DAF110)), st.binary(max_size=64)), max_size=60)
)
def test_any_frames_end_in_messages_or_reasons(frames: list[tuple[int, bytes]]) -> None:
    machine = Reassembler()
    items = [item for k, frame in enumerate(frames) for item in machine.feed(0.01 * k, *frame)]
    items += machine.close(0.01 * len(frames))
    for item in items:
        assert item.end_s >= item.time_s
        assert isinstance(item, Message) or item.reason in REASONS
    assert sum(len(item.payload) for item in items) <= sum(len(data) for _, data in frames)
    assert not machine._open


def test_codes_of_the_least_time_between_frames() -> None:
    assert separation_s(0x80) == separation_s(0xF0) == 0.127  # reserved: the longest


@pytest.mark.parametrize(("payload", "size"), [(b"", 8), (b"\x01", 9)])
def test_what_cannot_be_cut(payload: bytes, size: int) -> None:
    with pytest.raises(InputError):
        segment(payload, frame_bytes=size)


def frames_of(rows: list[tuple[float, int, bytes]], buses: list[int], names: tuple[str, ...]) -> Frames:
    count = len(rows)
    data = np.zeros((count, 8), np.uint8)
    for k, (_, _, content) in enumerate(rows):
        data[k, : len(content)] = np.frombuffer(content, np.uint8)
    return Frames(
        time_s=np.array([time for time, _, _ in rows]),
        identifier=np.array([identifier for _, identifier, _ in rows], np.uint32),
        extended=np.array([identifier > 0x7FF for _, identifier, _ in rows]),
        bus=np.array(buses, np.int16),
        length=np.array([len(content) for _, _, content in rows], np.uint8),
        data=data,
        sent=np.zeros(count, bool),
        flexible=np.zeros(count, bool),
        buses=names,
        remote_s=np.zeros(0),
        error_s=np.zeros(0),
        digest="sha256:0",
        name="bench.log",
        format="candump",
    )


def test_two_buses_with_the_same_identifiers_are_kept_apart() -> None:
    rows = [(0.01 * k + 0.001 * bus, 0x7E8, frame) for k, frame in enumerate(CUT) for bus in (0, 1)]
    found = messages_of(frames_of(rows, [0, 1] * len(CUT), ("can0", "can1")))
    assert [m.unit for m in found.messages] == ["can0 7E8", "can1 7E8"]
    assert {m.payload for m in found.messages} == {LONG}
    assert not found.incomplete


def test_a_log_without_times_is_taken_in_its_order() -> None:
    rows = [(float("nan"), 0x7E8, frame) for frame in CUT]
    found = messages_of(frames_of(rows, [0] * len(CUT), ("",)))
    assert [m.payload for m in found.messages] == [LONG]
