"""Segmenting and reassembling against can-isotp, a general-purpose library for ISO 15765-2 (extra "crosscheck").

Both ways: what it sends is put together here, what is cut here is put together there; with several senders at once,
padding, blocks, long frames, address bytes; and spoilt logs, which may lose messages, each with its reason, and invent
none.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.decode.addressing import Pair
from witnessmark.decode.isotp import Reassembled, reassemble
from witnessmark.decode.segment import flow_control, segment

isotp: ModuleType = pytest.importorskip("isotp", exc_type=ImportError)

Frame = tuple[int, bytes]
PAYLOADS = st.one_of(
    st.binary(min_size=1, max_size=80), st.integers(81, 5000).map(lambda n: bytes(k % 251 for k in range(n)))
)
SIZES = st.sampled_from((8, 12, 64))


@dataclass
class Line:
    """Two ends of can-isotp on one bus, and the log of it."""

    log: list[Frame] = field(default_factory=list)

    def end(self, address: Any, inbox: deque[Any], outbox: deque[Any], **params: Any) -> Any:
        def put(message: Any) -> None:
            self.log.append((message.arbitration_id, bytes(message.data)))
            outbox.append(message)

        def take(timeout: float) -> Any:
            return inbox.popleft() if inbox else None

        usual = {"can_fd": params.get("tx_data_length", 8) > 8, "max_frame_size": 65535, "rate_limit_enable": False}
        return isotp.TransportLayerLogic(take, put, address, params=usual | params)


def sent(payload: bytes, addresses: tuple[Any, Any], **params: Any) -> list[Frame]:
    """All frames of one message as the library sends it and acknowledges it."""
    line, a_box, b_box = Line(), deque[Any](), deque[Any]()
    block = params.pop("blocksize", 0)
    sender = line.end(addresses[0], a_box, b_box, **params)
    receiver = line.end(addresses[1], b_box, a_box, blocksize=block, stmin=0, **params)
    sender.send(payload)
    for _ in range(2 * len(payload) + 20):
        sender.process(rx_timeout=0)
        receiver.process(rx_timeout=0)
        if receiver.available():
            break
    assert bytes(receiver.recv()) == payload
    return line.log


def normal(sender: int, other: int) -> tuple[Any, Any]:
    mode = isotp.AddressingMode.Normal_11bits if max(sender, other) < 0x800 else isotp.AddressingMode.Normal_29bits
    return isotp.Address(mode, txid=sender, rxid=other), isotp.Address(mode, txid=other, rxid=sender)


def columns(frames: Sequence[Frame], step_s: float = 0.001) -> tuple[np.ndarray, ...]:
    data = np.zeros((len(frames), 64), dtype=np.uint8)
    for k, (_, content) in enumerate(frames):
        data[k, : len(content)] = np.frombuffer(content, dtype=np.uint8)
    identifiers = np.array([identifier for identifier, _ in frames], dtype=np.int64)
    lengths = np.array([len(content) for _, content in frames], dtype=np.int64)
    return np.arange(len(frames)) * step_s, identifiers, data, lengths


def ours(frames: Sequence[Frame], pairs: Sequence[Pair] = ()) -> Reassembled:
    return reassemble(*columns(frames), pairs=pairs)


@settings(max_examples=40, deadline=None)
@given(PAYLOADS, SIZES, st.sampled_from((None, 0x00, 0xAA)), st.integers(0, 9))
def test_what_the_library_sends_is_put_together(payload: bytes, size: int, padding: int | None, block: int) -> None:
    frames = sent(payload, normal(0x7E8, 0x7E0), tx_data_length=size, tx_padding=padding, blocksize=block)
    found = ours(frames)
    assert [m.payload for m in found.messages] == [payload]
    assert found.messages[0].unit == "7E8"
    assert found.incomplete == ()
    assert found.ignored == 0


@settings(max_examples=40, deadline=None)
@given(PAYLOADS, SIZES, st.sampled_from((None, 0x00, 0x55)))
def test_what_is_cut_here_the_library_puts_together(payload: bytes, size: int, padding: int | None) -> None:
    """The same frames, too, but for filling behind what a frame holds."""
    frames = segment(payload, frame_bytes=size, padding=padding)
    assert received(frames, size) == payload
    theirs = sent(payload, normal(0x7E8, 0x7E0), tx_data_length=size, tx_padding=padding)
    other = [content for identifier, content in theirs if identifier == 0x7E8]
    assert len(other) == len(frames)
    for mine, their in zip(frames, other, strict=True):
        short, long = sorted((mine, their), key=len)
        assert long.startswith(short)
        assert len(set(long[len(short) :])) <= 1


def received(frames: Sequence[bytes], size: int) -> bytes | None:
    line, box, back = Line(), deque[Any](), deque[Any]()
    end = line.end(normal(0x7E0, 0x7E8)[0], box, back, tx_data_length=size)
    box.extend(isotp.CanMessage(arbitration_id=0x7E8, data=frame, dlc=8, extended_id=False) for frame in frames)
    for _ in range(len(frames) + 5):
        end.process(rx_timeout=0)
    return bytes(end.recv()) if end.available() else None


@settings(max_examples=20, deadline=None)
@given(st.lists(PAYLOADS, min_size=2, max_size=5), st.randoms(use_true_random=False))
def test_several_senders_at_once(payloads: list[bytes], random: Any) -> None:
    """Each sender's frames in their order, the senders shuffled into each other."""
    senders = [(0x7E8 + k, 0x7E0 + k) if k % 2 else (0x18DAF110 + k, 0x18DA00F1 + (0x10 + k << 8)) for k in range(5)]
    queues = [
        deque(sent(payload, normal(*senders[k]), tx_padding=0, blocksize=3)) for k, payload in enumerate(payloads)
    ]
    mixed: list[Frame] = []
    while any(queues):
        mixed.append(random.choice([queue for queue in queues if queue]).popleft())
    found = reassemble(*columns(mixed, step_s=1e-5))
    assert found.incomplete == ()
    assert {m.identifier: m.payload for m in found.messages} == {
        senders[k][0]: payload for k, payload in enumerate(payloads)
    }


@settings(max_examples=30, deadline=None)
@given(PAYLOADS, SIZES)
def test_an_address_byte_before_every_frame(payload: bytes, size: int) -> None:
    mode = isotp.AddressingMode.Extended_11bits
    a = isotp.Address(mode, txid=0x612, rxid=0x6F1, source_address=0x12, target_address=0xF1)
    b = isotp.Address(mode, txid=0x6F1, rxid=0x612, source_address=0xF1, target_address=0x12)
    frames = sent(payload, (a, b), tx_data_length=size)
    pairs = (Pair(0x6F1, 0x612, address_byte=True),)
    found = ours(frames, pairs)
    assert [(m.payload, m.address) for m in found.messages] == [(payload, 0xF1)]
    cut = segment(payload, frame_bytes=size, address=0xF1)
    assert [content for identifier, content in frames if identifier == 0x612] == list(cut)


Spoil = Callable[[list[Frame], Any], list[Frame]]


def lost(frames: list[Frame], random: Any) -> list[Frame]:
    frames.pop(random.randrange(len(frames)))
    return frames


def doubled(frames: list[Frame], random: Any) -> list[Frame]:
    k = random.randrange(len(frames))
    return [*frames[: k + 1], *frames[k:]]


def swapped(frames: list[Frame], random: Any) -> list[Frame]:
    # Frames of one message: where the last of one and the first of the next change places, nothing in the protocol
    # tells whose the following ones are.
    inner = [k for k in range(len(frames) - 1) if frames[k][1][0] >> 4 == frames[k + 1][1][0] >> 4 == 2]
    if inner:
        k = random.choice(inner)
        frames[k : k + 2] = frames[k : k + 2][::-1]
    return frames


def shortened(frames: list[Frame], random: Any) -> list[Frame]:
    k = random.randrange(len(frames))
    identifier, content = frames[k]
    frames[k] = identifier, content[: random.randrange(len(content) + 1)]
    return frames


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.integers(1, 120), min_size=1, max_size=4),
    st.sampled_from((lost, doubled, swapped, shortened)),
    st.randoms(use_true_random=False),
)
def test_of_a_spoilt_log_no_message_is_invented(sizes: list[int], spoil: Spoil, random: Any) -> None:
    """Every message put together was sent, and every one that began is put together or told as incomplete."""
    payloads = [bytes((17 * k + i) % 256 for i in range(size)) for k, size in enumerate(sizes, start=1)]
    frames: list[Frame] = [(0x7E8, frame) for payload in payloads for frame in segment(payload, padding=0xEE)]
    frames = spoil(frames, random)
    found = ours(frames)
    assert {m.payload for m in found.messages} <= set(payloads)
    begun = sum(content[0] >> 4 in (0, 1) for _, content in frames if content)
    told = [one for one in found.incomplete if one.reason != "no_first_frame"]
    assert len(found.messages) + len(told) == begun


def test_the_library_and_we_say_the_same_of_flow_control() -> None:
    craft = isotp.protocol.PDU.craft_flow_control_data
    for status, block, separation in ((0, 0, 0), (1, 8, 0x7F), (2, 255, 0xF3)):
        assert bytes(craft(status, block, separation)) == flow_control(status, block, separation)
