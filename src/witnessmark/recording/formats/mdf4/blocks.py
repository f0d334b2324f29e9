"""The blocks of a measurement file, walked before the library opens it.

The library believes what a file says of itself: lists that bite their own tail keep it going for ever, counts of
records and packed blocks may ask for any amount of memory. So everything that the library would follow is followed here
first, within the bounds of the file.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from witnessmark.errors import DamagedRecording, FormatError

__all__ = ["check_blocks"]

_HEAD = struct.Struct("<4s4xQQ")
_FIRST = 64
_MOST_BLOCKS = 500_000
_DATA = (b"##DT", b"##DV", b"##SD", b"##RD", b"##DI", b"##RV", b"##RI")
_LISTS = (b"##DL", b"##HL", b"##LD")
# Measurements that hardly change pack to a hundredth; what unpacks to far more is made to fill the memory. No source.
_MOST_TIMES, _ALLOWANCE = 200, 1 << 26
_LONGEST_PAYLOAD = 64
_MOST_EMPTY_RECORDS = 1 << 22  # records of channels that are computed from their number and hold no bytes
_LARGEST_ARRAY = 4096
_INSIDE = (0, 2, 4)  # kinds of a channel whose values lie within the record
_AT_HAND = 1  # kind of a channel whose values lie elsewhere, each with its own length


@dataclass(frozen=True, slots=True)
class _Block:
    kind: bytes
    at: int
    size: int
    links: tuple[int, ...]

    def link(self, i: int) -> int:
        return self.links[i] if i < len(self.links) else 0

    @property
    def body(self) -> int:
        """Where its own data begin."""
        return self.at + _HEAD.size + 8 * len(self.links)


def check_blocks(path: Path) -> None:
    """Refuse a file that asks for more than it holds.

    Parameters
    ----------
    path : Path

    Raises
    ------
    FormatError
        Another version, or a file that its recorder did not finish.
    DamagedRecording
        Links that lead nowhere or in a circle, sizes beyond the file, packed blocks beyond reason.
    """
    _Walk(path.read_bytes(), path.name).check()


class _Walk:
    def __init__(self, data: bytes, name: str) -> None:
        self._data, self._name = data, name
        self._room = _ALLOWANCE + _MOST_TIMES * len(data)
        self._blocks: dict[int, _Block] = {}

    def check(self) -> None:
        """See :func:`check_blocks`."""
        self._identification()
        self._everything()
        for group in self._chain(self._blocks[_FIRST].link(0), b"##DG"):
            self._data_group(group)

    def _damaged(self, what: str) -> DamagedRecording:
        return DamagedRecording(f"the measurement file is damaged: {what}", where=self._name, todo="Export it again")

    def _identification(self) -> None:
        head = self._data[:64]
        if head.startswith(b"UnFinMF "):
            raise FormatError(
                "the measurement file was not finished by what recorded it",
                where=self._name,
                todo="Open and save it with the tool that recorded it",
            )
        if not head.startswith(b"MDF     "):
            raise FormatError("not a measurement file", where=self._name)
        if len(head) < 64 or head[8:9] != b"4":
            raise FormatError(
                "another version of measurement file",
                given=head[8:16].decode("ascii", "replace"),
                where=self._name,
                expected="version 4",
                todo="Export it as MDF 4, or as CSV",
            )

    def _block(self, at: int) -> _Block:
        if at in self._blocks:
            return self._blocks[at]
        if at % 8 or at < _FIRST or at + _HEAD.size > len(self._data):
            raise self._damaged(f"a link leads to {at}, where no block can be")
        kind, size, n_links = _HEAD.unpack_from(self._data, at)
        if not kind.startswith(b"##") or size < _HEAD.size or at + size > len(self._data):
            raise self._damaged(f"at {at} stands no block")
        if n_links > (size - _HEAD.size) // 8:
            raise self._damaged(f"the block at {at} names more links than it holds")
        if len(self._blocks) >= _MOST_BLOCKS:
            raise self._damaged("more blocks than any measurement has")
        links = struct.unpack_from(f"<{n_links}Q", self._data, at + _HEAD.size)
        self._blocks[at] = _Block(kind, at, size, links)
        return self._blocks[at]

    def _everything(self) -> None:
        """Every block that can be reached: within the file, and no list in a circle."""
        first = self._block(_FIRST)
        if first.kind != b"##HD":
            raise self._damaged("its header is missing")
        waiting, seen = [_FIRST], {_FIRST}
        while waiting:
            block = self._block(waiting.pop())
            if block.kind == b"##MD" and b"<!" in self._data[block.body : block.at + block.size].replace(b"<!--", b""):
                raise self._damaged("a remark that defines entities of its own")
            for link in block.links:
                if link and link not in seen:
                    seen.add(link)
                    waiting.append(link)
        self._no_circles()

    def _no_circles(self) -> None:
        """Lists are chained by their first link; following it must come to an end."""
        ends: set[int] = set()
        for start in self._blocks:
            way: dict[int, None] = {}
            at = start
            while at and at not in ends:
                if at in way:
                    raise self._damaged(f"the list at {at} leads back to itself")
                way[at] = None
                at = self._blocks[at].link(0)
            ends.update(way)

    def _chain(self, at: int, kind: bytes) -> Iterator[_Block]:
        while at:
            block = self._block(at)
            if block.kind != kind:
                raise self._damaged(f"at {at} stands {block.kind!r} where {kind!r} belongs")
            yield block
            at = block.link(0)

    def _data_group(self, group: _Block) -> None:
        held = self._unpacked_size(group.link(2))
        id_size = self._data[group.body] if group.body < group.at + group.size else 0
        wanted = 0
        for channels in self._chain(group.link(1), b"##CG"):
            wanted += self._channel_group(channels, id_size)
        if wanted > held:
            raise self._damaged(f"its groups name {wanted} bytes of records, and {held} are there")

    def _channel_group(self, group: _Block, id_size: int) -> int:
        """Bytes that the records of a group take; its channels must lie within them."""
        if group.at + group.size - group.body < 32:
            raise self._damaged(f"the group at {group.at} is cut")
        _, count, flags, _, record, extra = struct.unpack_from("<QQHH4xLL", self._data, group.body)
        if flags & 1:
            return 0  # values of other groups' channels, each with its own length: counted where they are held
        whole = id_size + record + extra
        if count > _MOST_EMPTY_RECORDS and not whole:
            raise self._damaged(f"a group of {count} records without a byte")
        self._channels(group.link(1), record + extra, count, 0)
        return int(count * whole)

    def _channels(self, at: int, record: int, count: int, depth: int) -> None:
        if depth > 16:
            raise self._damaged("channels nested too deeply")
        while at:
            block = self._block(at)
            if block.kind == b"##CA":
                self._array(block, depth, record, count)
                return
            if block.kind != b"##CN" or block.at + block.size - block.body < 32:
                raise self._damaged(f"at {at} stands no channel")
            kind, _, _, bit, first, bits = struct.unpack_from("<BBBBLL", self._data, block.body)
            if kind in _INSIDE and first + (bit + bits + 7) // 8 > record:
                raise self._damaged(f"the channel at {at} lies beyond its record")
            if kind == _AT_HAND:
                self._payloads(block, count)
            self._channels(block.link(1), record, count, depth + 1)
            at = block.link(0)

    def _array(self, block: _Block, depth: int, record: int, count: int) -> None:
        _, _, dims = struct.unpack_from("<BBH", self._data.ljust(block.body + 4, b"\0"), block.body)
        if block.body + 16 + 8 * dims > block.at + block.size:
            raise self._damaged(f"the array at {block.at} is cut")
        total = 1
        for size in struct.unpack_from(f"<{dims}Q", self._data, block.body + 16):
            total *= max(1, size)
            if total > _LARGEST_ARRAY:
                raise self._damaged(f"the array at {block.at} is larger than any payload")
        if block.links and block.links[0]:
            self._channels(block.links[0], record, count, depth + 1)

    def _payloads(self, channel: _Block, count: int) -> None:
        """Values of their own length are laid out as long as the longest: none may be longer than a payload.

        Others (texts) are not read at all, so only those of a bus count.
        """
        at = channel.link(5)
        if not at or self._block(at).kind == b"##CG" or not self._name_of(channel).endswith(b"DataBytes"):
            return
        held = b"".join(self._held(at))
        pos, found = 0, 0
        while pos + 4 <= len(held) and found < count:
            size = int.from_bytes(held[pos : pos + 4], "little")
            if size > _LONGEST_PAYLOAD:
                raise self._damaged(f"a payload of {size} bytes")
            pos, found = pos + 4 + size, found + 1

    def _name_of(self, channel: _Block) -> bytes:
        if not channel.link(2):
            return b""
        block = self._block(channel.link(2))
        return self._data[block.body : block.at + block.size].rstrip(b"\0")

    def _unpacked_size(self, at: int) -> int:
        return sum(map(len, self._held(at)))

    def _held(self, at: int) -> Iterator[bytes]:
        """Data that a link leads to, unpacked, piece by piece."""
        waiting, seen = [at] if at else [], set()
        while waiting:
            block = self._block(waiting.pop())
            if block.at in seen:
                raise self._damaged(f"the data at {block.at} are named twice")
            seen.add(block.at)
            if block.kind in _DATA:
                piece = self._data[block.body : block.at + block.size]
            elif block.kind == b"##DZ":
                piece = self._unpacked(block)
            elif block.kind in _LISTS:
                waiting.extend(link for link in reversed(block.links) if link)
                continue
            else:
                raise self._damaged(f"at {block.at} stands {block.kind!r} where data belong")
            self._room -= len(piece)
            if self._room < 0:
                raise self._damaged("it unpacks to more than any recorder writes")
            yield piece

    def _unpacked(self, block: _Block) -> bytes:
        if block.at + block.size - block.body < 24:
            raise self._damaged(f"the packed block at {block.at} is cut")
        method, columns, size, packed = struct.unpack_from("<2xBxLQQ", self._data, block.body)
        start = block.body + 24
        if method > 1 or start + packed > block.at + block.size or size > self._room or (method and not columns):
            raise self._damaged(f"the packed block at {block.at} is none")
        try:
            data = zlib.decompressobj().decompress(self._data[start : start + packed], size + 1)
        except zlib.error:
            raise self._damaged(f"the packed block at {block.at} cannot be unpacked") from None
        if len(data) != size:
            raise self._damaged(f"the packed block at {block.at} holds another size than it says")
        return data
