"""ISO 15765-2 from a log: frames of several senders, interleaved, put together to messages.

A log only listens: it sees both directions, it may begin or end anywhere, and frames may be lost. So every message ends
either whole or as an :class:`~witnessmark.decode.message.Incomplete` with its reason; a payload with a doubt is never
handed on as whole. Rules of the protocol are from memory, held against a general-purpose library by the tests.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.addressing import Addresses, Pair
from witnessmark.decode.message import Incomplete, Message
from witnessmark.errors import InputError

__all__ = ["Reassembled", "Reassembler", "reassemble"]

TIMEOUT_S = 1.0
"""Longest time between two frames of a message: N_Cr of ISO 15765-2, 1000 ms (from memory)."""
LONGEST = 65_535
"""More bytes than this no message is believed to have: four-byte lengths of a hostile log reserve nothing."""

_SINGLE, _FIRST, _CONSECUTIVE, _FLOW = range(4)
_WAIT, _OVERFLOW = 1, 2
Item = Message | Incomplete


@dataclass(slots=True)
class _Open:
    """A message under way; ``dead`` once its end was told and only what is left of it is still coming in."""

    time_s: float
    last_s: float
    announced: int
    frame_bytes: int
    payload: bytearray
    sequence: int = 0
    frames: int = 1
    dead: bool = False


class Reassembler:
    """Takes frames in the order of time and gives messages.

    Memory: one buffer a sender (at most some hundred, by the identifiers), each of at most ``longest`` bytes.

    Parameters
    ----------
    addresses : Addresses, optional
        The identifiers of the bus; left out, the legislated ones.
    timeout_s : float [s]
        Longest time from frame to frame within a message.
    longest : int
        Most bytes that a message may announce.

    Attributes
    ----------
    ignored : int
        Frames that belong to no message: empty ones, unknown kinds, leftovers of a message told as incomplete.
    """

    def __init__(
        self, addresses: Addresses | None = None, *, timeout_s: float = TIMEOUT_S, longest: int = LONGEST
    ) -> None:
        self.addresses = addresses or Addresses()
        self.timeout_s, self.longest = timeout_s, longest
        self.ignored = 0
        self._open: dict[tuple[int, int | None], _Open] = {}

    def feed(self, time_s: float, identifier: int, data: bytes) -> tuple[Item, ...]:
        """Take one frame.

        Parameters
        ----------
        time_s : float [s]
        identifier : int
        data : bytes
            As they stand in the frame, up to 64.

        Returns
        -------
        tuple of Message or Incomplete
            What ended with this frame: none, one, or an interrupted one and the one that interrupted it.
        """
        address = None
        if self.addresses.has_address_byte(identifier) and data:
            address, data = data[0], data[1:]
        if not data or data[0] >> 4 > _FLOW:
            self.ignored += 1
            return ()
        key, kind = (identifier, address), data[0] >> 4
        if kind == _FLOW:
            return self._flow(time_s, key, data)
        done = self._late(time_s, key)
        take = (self._single, self._first, self._consecutive)[kind]
        return (*done, *take(time_s, key, data))

    def close(self, now_s: float) -> tuple[Item, ...]:
        """What is still open when the log ends.

        Parameters
        ----------
        now_s : float [s]
            Time of the log's last frame.

        Returns
        -------
        tuple of Incomplete
        """
        found: list[Item] = []
        for key in list(self._open):
            found += self._late(now_s, key) or self._fail(key, "log_ended")
        self._open.clear()
        return tuple(found)

    def _single(self, time_s: float, key: tuple[int, int | None], data: bytes) -> Iterator[Item]:
        room = 8 - (key[1] is not None)
        start, count = (1, data[0] & 0xF) if len(data) <= room else (2, data[1])
        if len(data) > room and data[0] & 0xF:
            count = 0  # in a long frame the length stands in the second byte, and the first says nothing
        if not 0 < count <= len(data) - start:
            announced = data[0] & 0xF or count
            yield Incomplete(time_s, time_s, key[0], "bad_length", data[start:], announced, key[1])
            return
        yield from self._fail(key, "interrupted")
        self._open.pop(key, None)
        yield Message(time_s, time_s, key[0], data[start : start + count], key[1])

    def _first(self, time_s: float, key: tuple[int, int | None], data: bytes) -> Iterator[Item]:
        yield from self._fail(key, "interrupted")
        prefix = key[1] is not None
        announced, start = (data[0] & 0xF) << 8 | (data[1] if len(data) > 1 else 0), 2
        escaped = announced == 0 and len(data) >= 6
        if escaped:
            announced, start = int.from_bytes(data[2:6], "big"), 6
        single = len(data) - 1 if len(data) + prefix <= 8 else len(data) - 2
        now = _Open(time_s, time_s, announced, len(data), bytearray(data[start:]))
        self._open[key] = now
        if len(data) + prefix < 8:
            yield from self._fail(key, "short_frame")
        elif announced <= single or (escaped and announced <= 0xFFF):
            yield from self._fail(key, "bad_length")
        elif announced > self.longest:
            yield from self._fail(key, "too_long")

    def _consecutive(self, time_s: float, key: tuple[int, int | None], data: bytes) -> Iterator[Item]:
        now, sequence = self._open.get(key), data[0] & 0xF
        if now is None:
            self._open[key] = _Open(time_s, time_s, 0, len(data), bytearray(), dead=True)
            yield Incomplete(time_s, time_s, key[0], "no_first_frame", data[1:], None, key[1])
            return
        if now.dead:
            self.ignored += 1
            now.last_s = time_s
            return
        expected = now.sequence + 1 & 0xF
        if sequence != expected:
            yield from self._fail(key, _out_of_turn(sequence, expected))
            return
        left = now.announced - len(now.payload)
        if len(data) != now.frame_bytes and len(data) - 1 < left:
            yield from self._fail(key, "short_frame")
            return
        now.payload += data[1 : 1 + left]
        now.sequence, now.frames, now.last_s = sequence, now.frames + 1, time_s
        if len(now.payload) == now.announced:
            del self._open[key]
            yield Message(now.time_s, time_s, key[0], bytes(now.payload), key[1], now.frames)

    def _flow(self, time_s: float, key: tuple[int, int | None], data: bytes) -> tuple[Item, ...]:
        """The receiver's word to the sender: go on, wait, or no."""
        if len(data) < 3 or data[0] & 0xF > _OVERFLOW:
            self.ignored += 1
            return ()
        partner = self.addresses.partner(key[0])
        theirs = [k for k, now in self._open.items() if k[0] == partner and not now.dead]
        if data[0] & 0xF == _OVERFLOW:
            return tuple(self._fail(theirs[0], "refused")) if len(theirs) == 1 else ()
        for k in theirs:
            self._open[k].last_s = max(self._open[k].last_s, time_s)
        return ()

    def _late(self, time_s: float, key: tuple[int, int | None]) -> tuple[Item, ...]:
        now = self._open.get(key)
        if now is None or time_s - now.last_s <= self.timeout_s:
            return ()
        if now.dead:
            del self._open[key]
            return ()
        return tuple(self._fail(key, "timed_out"))

    def _fail(self, key: tuple[int, int | None], reason: str) -> tuple[Item, ...]:
        """Tell the message under way as incomplete; what still comes of it is passed over."""
        now = self._open.get(key)
        if now is None or now.dead:
            return ()
        now.dead = True
        payload, now.payload = bytes(now.payload), bytearray()
        return (Incomplete(now.time_s, now.last_s, key[0], reason, payload, now.announced, key[1], now.frames),)


def _out_of_turn(sequence: int, expected: int) -> str:
    if sequence == expected - 1 & 0xF:
        return "repeated_frame"
    return "missing_frame" if (sequence - expected & 0xF) < 8 else "wrong_order"


@dataclass(frozen=True, slots=True)
class Reassembled:
    """What a log of frames holds.

    Parameters
    ----------
    messages : tuple of Message
        Whole ones, in the order of their beginnings.
    incomplete : tuple of Incomplete
        The others.
    frames : int
        Frames on diagnostic identifiers.
    ignored : int
        Of these, how many belong to no message.
    """

    messages: tuple[Message, ...] = ()
    incomplete: tuple[Incomplete, ...] = field(default=())
    frames: int = 0
    ignored: int = 0


def reassemble(
    time_s: NDArray[np.float64],
    identifier: NDArray[np.integer],
    data: NDArray[np.uint8],
    length: NDArray[np.integer],
    *,
    extended: NDArray[np.bool_] | None = None,
    pairs: Sequence[Pair] = (),
    timeout_s: float = TIMEOUT_S,
    longest: int = LONGEST,
) -> Reassembled:
    """Messages of all senders in the columns of a log.

    Parameters
    ----------
    time_s : array, shape (n,) [s]
        In the order of the log.
    identifier : array of int, shape (n,)
    data : array of uint8, shape (n, 8) or (n, 64)
        Bytes beyond a frame's length are not looked at.
    length : array of int, shape (n,)
        Bytes in each frame.
    extended : array of bool, shape (n,), optional
        True for identifiers of 29 bits; left out, those above 7FF are.
    pairs : sequence of Pair
        Identifiers that carry messages besides the legislated ones; all others are broadcasts and not looked at.
    timeout_s : float [s]
    longest : int

    Returns
    -------
    Reassembled

    Raises
    ------
    InputError
        If the columns do not fit each other.
    """
    numbers, lengths = np.asarray(identifier, dtype=np.int64), np.asarray(length, dtype=np.int64)
    rows = {len(column) for column in (time_s, numbers, data, lengths)}
    if len(rows) != 1 or data.ndim != 2 or not np.isfinite(time_s).all():
        raise InputError("the columns of frames do not fit", expected="a time, an identifier, bytes and a length each")
    if len(lengths) and not 0 <= int(lengths.min()) <= int(lengths.max()) <= data.shape[1]:
        raise InputError("a frame is longer than its row of bytes", expected=f"0 to {data.shape[1]} bytes")
    machine = Reassembler(Addresses(pairs), timeout_s=timeout_s, longest=longest)
    chosen = np.flatnonzero(machine.addresses.carries_messages(numbers, extended))
    found: list[Item] = []
    for k in chosen.tolist():
        found += machine.feed(float(time_s[k]), int(numbers[k]), data[k, : lengths[k]].tobytes())
    if len(time_s):
        found += machine.close(float(time_s[-1]))
    found.sort(key=lambda item: item.time_s)
    return Reassembled(
        tuple(item for item in found if isinstance(item, Message)),
        tuple(item for item in found if isinstance(item, Incomplete)),
        len(chosen),
        machine.ignored,
    )
