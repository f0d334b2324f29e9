"""Many lines of a bus log at once.

Within lines of one shape (so many digits of time, one bus) the time and the identifier begin at the same place, and the
bytes right behind the ``#``. So each place is read for all lines together, a column of characters at a time, whatever
the lines' lengths. What has no common shape goes to ``oddlines``, one by one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.formats.candump.oddlines import LATEST_NS, NO_TIME, REMARK, read_line
from witnessmark.recording.framerows import DATA, ERROR
from witnessmark.recording.frames import FRAME_LENGTHS

__all__ = ["Block", "Buses", "read_block"]

Bytes = NDArray[np.uint8]
Rows = NDArray[np.intp]

_ALIKE = re.compile(
    rb"\((\d{1,10})\.(\d{1,9})\) ([^\s#()\[\]]{1,32}) ([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#(?:#([0-9A-Fa-f]))?"
    rb"((?:[0-9A-Fa-f]{2})*)(?: ([RT]))?"
)
_MOST_SHAPES = 8  # buses and kinds of frames, at most, that are read together
_BEHIND = 256  # characters that may be looked at behind the last line
_NO_FRAME = 255
_MARK, _SPACE, _R, _T = b"# RT"
# Digits stand for their value, small letters for theirs and 16 more; all other characters for themselves, and control
# characters for none. So what is below 32 is a digit.
_HEX_BELOW = 32
_VALUES = bytearray(code if code >= _HEX_BELOW else 255 for code in range(256))
for _digits, _value in ((b"0123456789", 0), (b"ABCDEF", 10), (b"abcdef", 26)):
    for _i, _character in enumerate(_digits):
        _VALUES[_character] = _value + _i
_TABLE = bytes(_VALUES)
_LENGTHS = np.zeros(256, np.bool_)
_LENGTHS[list(FRAME_LENGTHS)] = True


class Buses:
    """Numbers of the buses, in the order in which their names occur."""

    __slots__ = ("_most", "names")

    def __init__(self, most: int = 64) -> None:
        self.names: dict[bytes, int] = {}
        self._most = most

    def number(self, name: bytes) -> int | None:
        """Of a name; None where a file names more buses than any vehicle has."""
        if name not in self.names and len(self.names) >= self._most:
            return None
        return self.names.setdefault(name, len(self.names))


@dataclass(slots=True)
class Block:
    """The frames of some lines in their order; ``stamp_ns`` is ``NO_TIME`` where a line carries no time.

    Parameters
    ----------
    stamp_ns, identifier, extended, bus, length, sent, flexible, kind : array, shape (n,)
    data : array, shape (n, 8) or (n, 64)
    n_lines : int
        Lines read, frames or not.
    bad : int
        Lines that are neither frames nor remarks.
    first_bad : tuple of int and str, optional
        Which of the lines, from 0, and what is wrong with it.
    remarks : int
    """

    stamp_ns: NDArray[np.int64]
    identifier: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    bus: NDArray[np.int16]
    length: Bytes
    data: Bytes
    sent: NDArray[np.bool_]
    flexible: NDArray[np.bool_]
    kind: Bytes
    n_lines: int = 0
    bad: int = 0
    first_bad: tuple[int, str] | None = None

    @staticmethod
    def empty(count: int) -> Block:
        """Room for so many frames, none read yet."""
        return Block(
            stamp_ns=np.full(count, NO_TIME, np.int64),
            identifier=np.zeros(count, np.uint32),
            extended=np.zeros(count, np.bool_),
            bus=np.zeros(count, np.int16),
            length=np.zeros(count, np.uint8),
            data=np.zeros((count, 8), np.uint8),
            sent=np.zeros(count, np.bool_),
            flexible=np.zeros(count, np.bool_),
            kind=np.full(count, _NO_FRAME, np.uint8),
            n_lines=count,
        )

    def widen(self) -> None:
        """Make room for the longest payloads."""
        if self.data.shape[1] == 8:
            self.data = np.pad(self.data, ((0, 0), (0, 56)))

    def kept(self, rows: NDArray[np.bool_]) -> Block:
        """Some of the frames; what is said about lines stays."""
        if rows.all():
            return self
        names = ("stamp_ns", "identifier", "extended", "bus", "length", "data", "sent", "flexible", "kind")
        columns = {name: getattr(self, name)[rows] for name in names}
        return Block(**columns, n_lines=self.n_lines, bad=self.bad, first_bad=self.first_bad)


@dataclass(frozen=True, slots=True)
class _Lines:
    """A text as characters and as values of ``_TABLE``, and where its lines begin and end."""

    characters: Bytes
    values: Bytes
    starts: Rows
    ends: Rows

    def one(self, row: int) -> bytes:
        """The characters of one line."""
        return self.characters[self.starts[row] : self.ends[row]].tobytes()


@dataclass(frozen=True, slots=True)
class _Shape:
    """What lines have in common, as the first of them shows it."""

    seconds: slice
    fraction: slice
    fixed: tuple[tuple[int, int], ...]
    identifier: int
    flexible: bool
    bus: int

    @staticmethod
    def of(line: bytes, buses: Buses) -> _Shape | None:
        """The shape of a line; None where it is none of the common ones."""
        found = _ALIKE.fullmatch(line)
        number = buses.number(found[3]) if found else None
        if found is None or number is None:
            return None
        places = (0, found.end(1), found.end(2), *range(found.end(2) + 1, found.start(4)))
        return _Shape(
            slice(*found.span(1)),
            slice(*found.span(2)),
            tuple((place, line[place]) for place in places),
            found.start(4),
            found[5] is not None,
            number,
        )


def read_block(text: bytes, buses: Buses) -> Block:
    """The frames in some whole lines.

    Parameters
    ----------
    text : bytes
        Ends with a line feed.
    buses : Buses
        Takes up the names that occur.

    Returns
    -------
    Block
    """
    padded = text + bytes(_BEHIND)
    characters = np.frombuffer(padded, np.uint8)
    ends = np.flatnonzero(characters == 10)
    starts = np.empty_like(ends)
    starts[0], starts[1:] = 0, ends[:-1] + 1
    if b"\r" in text:
        ends = ends - ((ends > starts) & (characters[ends - 1] == 13))
    lines = _Lines(characters, np.frombuffer(padded.translate(_TABLE), np.uint8), starts, ends)
    block = Block.empty(ends.size)
    for row in _together(lines, buses, block):
        _one(block, int(row), text[starts[row] : ends[row]], buses)
    return block.kept(block.kind != _NO_FRAME)


def _together(lines: _Lines, buses: Buses, block: Block) -> Rows:
    """Read all lines that have a common shape; the rows of those left over, rising."""
    rows = np.arange(lines.starts.size)
    left: list[Rows] = []
    for _ in range(_MOST_SHAPES):
        if not rows.size:
            break
        shape = _Shape.of(lines.one(int(rows[0])), buses)
        if shape is None:
            left.append(rows[:1])
            rows = rows[1:]
            continue
        same, wide = _of_shape(lines, rows, shape)
        if same.all():
            left.append(_read(lines, rows, wide, shape, block))
            rows = rows[:0]
        else:
            left.append(_read(lines, rows[same], wide[same], shape, block))
            rows = rows[~same]
    return np.sort(np.concatenate([*left, rows]))


def _of_shape(lines: _Lines, rows: Rows, shape: _Shape) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which lines are of a shape, and which identifiers have eight digits, not three."""
    starts, characters = lines.starts[rows], lines.characters
    same = np.ones(rows.size, np.bool_)
    for place, character in shape.fixed:
        same &= characters[place:].take(starts, mode="clip") == character
    marks = [characters[shape.identifier + i :].take(starts, mode="clip") == _MARK for i in (3, 4, 8, 9)]
    wide = marks[2] & ~marks[0]
    doubled = np.where(wide, marks[3], marks[1])
    same &= (marks[0] | marks[2]) & (doubled == shape.flexible)
    # A short line may have looked right by what stands on the lines behind it.
    same &= lines.ends[rows] - starts > shape.identifier + np.where(wide, 8, 3) + shape.flexible
    return same, wide


def _read(lines: _Lines, rows: Rows, wide: NDArray[np.bool_], shape: _Shape, block: Block) -> Rows:
    """Read lines of one shape; the rows that are not sound."""
    starts = lines.starts[rows]
    stamp, sound = _stamps(lines, starts, shape)
    number, digits = _identifiers(lines, starts + shape.identifier, wide)
    at = starts + (shape.identifier + 4 + 2 * shape.flexible) + 5 * wide
    size, sent, whole = _sizes(lines, rows, at)
    length = (size >> 1).clip(0, 255).astype(np.uint8)
    sound &= whole & (size >= 0) & (size & 1 == 0) & (_LENGTHS[length] if shape.flexible else size <= 16)
    if shape.flexible:
        digits |= lines.values.take(at - 1)
    error = wide & (number & np.uint32(0x20000000) > 0)
    length[error | ~sound] = 0
    data = _payloads(lines, at, length, digits)
    sound &= (digits < _HEX_BELOW) & (number < np.where(wide, np.uint32(1 << 30), np.uint32(1 << 11)))
    columns: dict[str, NDArray[np.generic] | int] = {
        "stamp_ns": stamp,
        "identifier": number & np.uint32(0x1FFFFFFF),
        "extended": wide,
        "bus": shape.bus,
        "length": length,
        "sent": sent,
        "flexible": shape.flexible,
        "kind": np.where(error, np.uint8(ERROR), np.uint8(DATA)),
    }
    all_sound = bool(sound.all())
    into: Rows | slice = rows if all_sound else rows[sound]
    if all_sound and rows.size == lines.starts.size:
        into = slice(None)
    for name, column in columns.items():
        getattr(block, name)[into] = column[sound] if isinstance(column, np.ndarray) and not all_sound else column
    if data.shape[1] > 8:
        block.widen()
    block.data[into, : data.shape[1]] = data if all_sound else data[sound]
    return rows[:0] if all_sound else rows[~sound]


def _stamps(lines: _Lines, starts: Rows, shape: _Shape) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Times of lines [ns], and which are made of digits and can be."""
    parts = []
    highest = np.zeros(starts.size, np.uint8)
    for part in (shape.seconds, shape.fraction):
        digits = [lines.values[place:].take(starts) for place in range(part.start, part.stop)]
        for column in digits:
            np.maximum(highest, column, out=highest)
        value = np.zeros(starts.size, np.int64)
        if len(digits) % 2:
            value += digits.pop(0)
        # Two digits at a time fit a byte, and bytes are quick to deal with.
        for tens, units in zip(digits[0::2], digits[1::2], strict=True):
            value *= 100
            value += tens * np.uint8(10) + units
        parts.append(value)
    tick = 10 ** (9 - (shape.fraction.stop - shape.fraction.start))
    return parts[0] * 10**9 + parts[1] * tick, (highest <= 9) & (parts[0] < LATEST_NS // 10**9)


def _identifiers(lines: _Lines, at: Rows, wide: NDArray[np.bool_]) -> tuple[NDArray[np.uint32], Bytes]:
    """Identifiers that begin at a place, and all their characters' values laid over each other."""
    number = np.zeros(at.size, np.uint32)
    seen = np.zeros(at.size, np.uint8)
    for place in range(3):
        column = lines.values[place:].take(at)
        seen |= column
        number = number << np.uint32(4) | column & np.uint8(15)
    if wide.any():
        long, own, more = at[wide], number[wide], seen[wide]
        for place in range(3, 8):
            column = lines.values[place:].take(long)
            more |= column
            own = own << np.uint32(4) | column & np.uint8(15)
        number[wide], seen[wide] = own, more
    return number, seen


def _sizes(lines: _Lines, rows: Rows, at: Rows) -> tuple[Rows, NDArray[np.bool_], NDArray[np.bool_]]:
    """How many characters of data follow, which frames were sent by the tool, and where what follows makes sense."""
    ends = lines.ends[rows]
    size = ends - at
    told = (lines.characters.take(ends - 2) == _SPACE) & (size >= 2)
    if not told.any():
        return size, told, ~told
    way = lines.characters.take(ends - 1)
    sent = told & (way == _T)
    return size - 2 * told, sent, ~told | sent | (way == _R)


def _payloads(lines: _Lines, at: Rows, length: Bytes, seen: Bytes) -> Bytes:
    """Bytes of the frames, zero behind their length; the values of their characters are laid over ``seen``."""
    longest = int(length.max(initial=0))
    data = np.zeros((at.size, longest), np.uint8)
    for i in range(longest):
        there = (length > i).view(np.uint8)
        high = lines.values[2 * i :].take(at, mode="clip") * there
        low = lines.values[2 * i + 1 :].take(at, mode="clip") * there
        seen |= high | low
        data[:, i] = high << np.uint8(4) | low & np.uint8(15)
    return data


def _one(block: Block, row: int, line: bytes, buses: Buses) -> None:
    """Read one line by itself."""
    found = read_line(line)
    if found == REMARK:
        return
    number = None if isinstance(found, str) else buses.number(found.bus)
    if isinstance(found, str) or number is None:
        block.bad += 1
        if block.first_bad is None:
            block.first_bad = row, found if isinstance(found, str) else "one bus more than any vehicle has"
        return
    for name in ("stamp_ns", "identifier", "extended", "sent", "flexible", "kind"):
        getattr(block, name)[row] = getattr(found, name)
    if len(found.payload) > 8:
        block.widen()
    block.bus[row], block.length[row] = number, len(found.payload)
    block.data[row, : len(found.payload)] = np.frombuffer(found.payload, np.uint8)
