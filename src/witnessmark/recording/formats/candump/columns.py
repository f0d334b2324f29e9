"""Many lines of a bus log at once.

Lines of one length with their ``#`` at one place are written alike: they are laid beneath each other and read by
columns of characters. What does not look like the others goes to ``oddlines``, one by one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from witnessmark.recording.formats.candump.oddlines import LATEST_NS, NO_TIME, REMARK, read_line
from witnessmark.recording.framelog import DATA, ERROR
from witnessmark.recording.frames import FRAME_LENGTHS

__all__ = ["Block", "Buses", "read_block"]

Bytes = NDArray[np.uint8]
Rows = NDArray[np.intp]

_ALIKE = re.compile(
    rb"\((\d{1,10})\.(\d{1,9})\) ([^\s#()\[\]]{1,32}) ([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#(?:#([0-9A-Fa-f]))?"
    rb"((?:[0-9A-Fa-f]{2})*)(?: ([RT]))?"
)
_FEWEST = 16  # lines that are worth laying beneath each other
_MOST_PATTERNS = 8  # names of buses of one length, at most, that are told apart in columns
_LONGEST = 255  # characters of a line that is read in columns
_NO_FRAME = 255
# Digits stand for their value, small letters for theirs and 16 more, so that a name keeps its letters apart; all other
# characters for themselves, and control characters for none.
_HEX_BELOW = 32
_VALUES = bytearray(code if code >= _HEX_BELOW else 255 for code in range(256))
for _digits, _value in ((b"0123456789", 0), (b"ABCDEF", 10), (b"abcdef", 26)):
    for _i, _character in enumerate(_digits):
        _VALUES[_character] = _value + _i
_TABLE = bytes(_VALUES)


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
    def empty(count: int, width: int) -> Block:
        """Room for so many frames, none read yet."""
        return Block(
            stamp_ns=np.full(count, NO_TIME, np.int64),
            identifier=np.zeros(count, np.uint32),
            extended=np.zeros(count, np.bool_),
            bus=np.zeros(count, np.int16),
            length=np.zeros(count, np.uint8),
            data=np.zeros((count, width), np.uint8),
            sent=np.zeros(count, np.bool_),
            flexible=np.zeros(count, np.bool_),
            kind=np.full(count, _NO_FRAME, np.uint8),
            n_lines=count,
        )

    def kept(self, rows: NDArray[np.bool_]) -> Block:
        """Some of the frames; what is said about lines stays."""
        if rows.all():
            return self
        names = ("stamp_ns", "identifier", "extended", "bus", "length", "data", "sent", "flexible", "kind")
        columns = {name: getattr(self, name)[rows] for name in names}
        return Block(**columns, n_lines=self.n_lines, bad=self.bad, first_bad=self.first_bad)


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
    characters = np.frombuffer(text, np.uint8)
    ends = np.flatnonzero(characters == 10)
    starts = np.empty_like(ends)
    starts[0], starts[1:] = 0, ends[:-1] + 1
    ends = ends - ((ends > starts) & (characters[ends - 1] == 13))
    marks = np.flatnonzero(characters == 35)
    doubled = bool((np.diff(marks) == 1).any())
    block = Block.empty(ends.size, 64 if doubled or _may_be_wide(text) else 8)
    values = np.frombuffer(text.translate(_TABLE), np.uint8)
    lines = _Lines(characters, values, starts, ends - starts)
    odd = _in_columns(lines, _first_marks(marks, starts, ends), buses, block)
    for row in odd:
        _one(block, int(row), text[starts[row] : ends[row]], buses)
    return block.kept(block.kind != _NO_FRAME)


def _may_be_wide(text: bytes) -> bool:
    """Whether a length on the screen has two digits, as only those of the flexible format have."""
    return b"[" in text and re.search(rb"\[\d\d\]", text) is not None


@dataclass(frozen=True, slots=True)
class _Lines:
    """A text as characters and as values of ``_TABLE``, and where its lines stand."""

    characters: Bytes
    values: Bytes
    starts: Rows
    sizes: Rows

    def one(self, row: int) -> bytes:
        return self.characters[self.starts[row] : self.starts[row] + self.sizes[row]].tobytes()

    def places(self, rows: Rows) -> Bytes:
        """Values of lines of one size: a row for every place, so that what is done to it runs over all lines."""
        return np.ascontiguousarray(sliding_window_view(self.values, int(self.sizes[rows[0]]))[self.starts[rows]].T)


def _in_columns(lines: _Lines, mark: Rows, buses: Buses, block: Block) -> Rows:
    """Read all lines that look like others; the rows of those left over."""
    alike = (mark >= 0) & (lines.sizes <= _LONGEST)
    left = [np.flatnonzero(~alike)]
    known = np.flatnonzero(alike)
    key = (mark[known] << 8 | lines.sizes[known]).astype(np.uint16)
    order = known[np.argsort(key, kind="stable")]
    first = 0
    numbers = np.bincount(key)
    for number in numbers[numbers > 0]:
        rows, first = order[first : first + number], first + number
        left.append(_group(lines, rows, buses, block) if number >= _FEWEST else rows)
    return np.sort(np.concatenate(left))


def _first_marks(marks: Rows, starts: Rows, ends: Rows) -> Rows:
    """Where in each line its first ``#`` stands; -1 where none does."""
    if marks.size == starts.size and bool((marks >= starts).all() and (marks < ends).all()):
        return marks - starts
    if not marks.size:
        return np.full(starts.size, -1)
    at = np.searchsorted(marks, starts)
    found = marks[np.minimum(at, marks.size - 1)]
    return np.where((at < marks.size) & (found < ends), found - starts, -1)


def _group(lines: _Lines, rows: Rows, buses: Buses, block: Block) -> Rows:
    """Lines of one size with their mark at one place: read pattern by pattern; the rows left over."""
    places = lines.places(rows)
    left: list[Rows] = []
    for _ in range(_MOST_PATTERNS):
        if not rows.size:
            break
        found = _ALIKE.fullmatch(lines.one(int(rows[0])))
        number = buses.number(found[3]) if found else None
        if found is None or number is None:
            left.append(rows[:1])
            rows, places = rows[1:], places[:, 1:]
            continue
        same = np.ones(rows.size, np.bool_)
        for place in _fixed_places(found):
            same &= places[place] == places[place, 0]
        if same.all():
            left.append(_pattern(places, rows, found, number, block))
            return np.concatenate(left)
        left.append(_pattern(places[:, same], rows[same], found, number, block))
        rows, places = rows[~same], places[:, ~same]
    return np.concatenate([*left, rows])


def _fixed_places(found: re.Match[bytes]) -> list[int]:
    """Places that must be the same in all lines of a pattern: signs, the name of the bus, the way it went."""
    return [
        *(0, found.end(1), found.end(2), found.end(2) + 1),
        *range(found.start(3), found.end(3) + 1),
        found.end(4),
        *((found.start(5) - 1,) if found[5] else ()),
        *((found.start(7) - 1, found.start(7)) if found[7] else ()),
    ]


def _pattern(places: Bytes, rows: Rows, found: re.Match[bytes], bus: int, block: Block) -> Rows:
    """Read lines of one pattern, a row of ``places`` for every place in the line; the rows that are not sound."""
    length, flexible = len(found[6]) // 2, found[5] is not None
    if length not in (FRAME_LENGTHS if flexible else FRAME_LENGTHS[:9]):
        return rows
    stamp, sound = _stamps(places, found)
    for group in (4, 5, 6):
        digits = places[found.start(group) : found.end(group)]
        if digits.size and digits.max() >= _HEX_BELOW:
            sound &= (digits < _HEX_BELOW).all(axis=0)
    number = np.zeros(rows.size, np.uint32)
    for row in places[found.start(4) : found.end(4)]:
        number = number << np.uint32(4) | row & np.uint8(15)
    extended = len(found[4]) == 8
    sound &= number < np.uint32(1 << 30 if extended else 1 << 11)
    digits = places[found.start(6) : found.end(6)]
    data = (digits[0::2] << np.uint8(4) | digits[1::2] & np.uint8(15)).T
    lengths: Bytes | int = length
    kind: Bytes | int = DATA
    if extended:
        error = (number & np.uint32(0x20000000)) > 0
        kind = np.where(error, ERROR, DATA).astype(np.uint8)
        lengths = np.where(error, 0, length).astype(np.uint8)
        data = np.where(error[:, None], 0, data).astype(np.uint8)
        number &= np.uint32(0x1FFFFFFF)
    whole = bool(sound.all())
    at = rows if whole else rows[sound]
    columns = {
        "stamp_ns": stamp,
        "identifier": number,
        "extended": extended,
        "bus": bus,
        "length": lengths,
        "sent": found[7] == b"T",
        "flexible": flexible,
        "kind": kind,
    }
    for name, value in columns.items():
        getattr(block, name)[at] = value if whole or not isinstance(value, np.ndarray) else value[sound]
    if length:
        block.data[at, :length] = data if whole else data[sound]
    return rows[:0] if whole else rows[~sound]


def _stamps(places: Bytes, found: re.Match[bytes]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Times of lines [ns], and which are made of digits and can be."""
    parts = []
    sound = np.ones(places.shape[1], np.bool_)
    for group in (1, 2):
        digits = places[found.start(group) : found.end(group)]
        if digits.max() > 9:
            sound &= (digits <= 9).all(axis=0)
        value = np.zeros(places.shape[1], np.int64)
        if len(digits) % 2:
            value += digits[0]
            digits = digits[1:]
        # Two digits at a time fit a byte, and bytes are quick to deal with.
        for pair in digits[0::2] * np.uint8(10) + digits[1::2]:
            value *= 100
            value += pair
        parts.append(value)
    stamp = parts[0] * 10**9 + parts[1] * 10 ** (9 - len(found[2]))
    return stamp, sound & (parts[0] < LATEST_NS // 10**9)


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
    block.bus[row], block.length[row] = number, len(found.payload)
    block.data[row, : len(found.payload)] = np.frombuffer(found.payload, np.uint8)
