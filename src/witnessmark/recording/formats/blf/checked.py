"""The containers of a packed log, unpacked within bounds and looked through before the library sees them.

The library believes the sizes that a file states: an object of size zero keeps it going for ever, and a container may
unpack to a thousand times its size. What comes through here is the same file with its containers unpacked, ended where
it stops making sense.
"""

from __future__ import annotations

import io
import struct
import zlib
from datetime import datetime
from pathlib import Path

from witnessmark.errors import DamagedRecording, FormatError

__all__ = ["CheckedLog"]

_HEADER = struct.Struct("<4sL")
_OBJECT = struct.Struct("<4sHHLL")
_CONTAINER = struct.Struct("<H6xL4x")
_START = struct.Struct("<8H")
_START_AT, _HEADER_SIZE = 40, 144
_IS_CONTAINER = 10
_LARGEST_CONTAINER = 1 << 25
_LARGEST_OBJECT = 1 << 20
# A bus that repeats itself packs to a fortieth; what unpacks to more is made to fill the memory. No source.
_MOST_TIMES, _ALLOWANCE = 40, 1 << 26


class CheckedLog(io.RawIOBase):
    """A packed log as the library may read it.

    Parameters
    ----------
    path : Path

    Raises
    ------
    FormatError
        The file does not begin as such a log.
    DamagedRecording
        Its header is cut.
    """

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._name = path.name
        self._file = path.open("rb")
        self._room = _ALLOWANCE + _MOST_TIMES * path.stat().st_size
        self._tail = b""
        self.ended: str = ""
        """Why the log ended before its file, in words; empty where it did not."""
        head = self._file.read(_HEADER_SIZE)
        if not head.startswith(b"LOGG"):
            self._file.close()
            raise FormatError("not a packed bus log", where=path.name)
        size = _HEADER.unpack_from(head.ljust(8, b"\0"))[1]
        if len(head) < _HEADER_SIZE or not 72 <= size <= 1 << 16:
            self._file.close()
            raise DamagedRecording("the header of the log is damaged", where=path.name, todo="Export it again")
        self.started = _date(_START.unpack_from(head, _START_AT))
        self._file.seek(size)
        # Without a start the library counts times from zero, undimmed by a date.
        blank = head[:4] + struct.pack("<L", _HEADER_SIZE) + head[8:_START_AT]
        self._ready = bytearray(blank + bytes(_HEADER_SIZE - _START_AT))

    def read(self, size: int | None = -1, /) -> bytes:
        """The next bytes; fewer at the end.

        Parameters
        ----------
        size : int
        """
        wanted = 0 if size is None or size < 0 else size
        while len(self._ready) < wanted and self._refill():
            pass
        given = bytes(self._ready[:wanted])
        del self._ready[:wanted]
        return given

    def close(self) -> None:
        """Close the file."""
        self._file.close()
        super().close()

    def _refill(self) -> bool:
        """One container more; False at the end."""
        if self.ended:
            return False
        head = self._file.read(_OBJECT.size)
        if not head.strip(b"\0"):
            return False
        if len(head) < _OBJECT.size:
            return self._end("the file is cut off")
        mark, _, _, size, kind = _OBJECT.unpack(head)
        if mark != b"LOBJ" or not _OBJECT.size <= size <= _LARGEST_CONTAINER:
            return self._end("what follows is no object of a log")
        body = self._file.read(size - _OBJECT.size)
        if len(body) < size - _OBJECT.size:
            self.ended = "the file is cut off"
        self._file.read(size % 4)
        if kind != _IS_CONTAINER or len(body) < _CONTAINER.size:
            return not self.ended
        data = self._looked_through(self._unpacked(body))
        whole = _OBJECT.size + _CONTAINER.size + len(data)
        self._ready += _OBJECT.pack(b"LOBJ", 16, 1, whole, _IS_CONTAINER) + _CONTAINER.pack(0, len(data)) + data
        self._ready += bytes(whole % 4)
        return True

    def _end(self, why: str) -> bool:
        self.ended = self.ended or why
        return False

    def _unpacked(self, body: bytes) -> bytes:
        method, _ = _CONTAINER.unpack_from(body)
        data = body[_CONTAINER.size :]
        if method == 2:
            unpacker = zlib.decompressobj()
            try:
                data = unpacker.decompress(data, _LARGEST_CONTAINER)
            except zlib.error:
                self._end("a container cannot be unpacked")
                return b""
        elif method != 0:
            self._end(f"a container packed in an unknown way ({method})")
            return b""
        self._room -= len(data)
        if self._room < 0:
            raise DamagedRecording(
                "the log unpacks to more than any bus can say", where=self._name, todo="Export it again"
            )
        return data

    def _looked_through(self, data: bytes) -> bytes:
        """The data up to where its objects stop making sense."""
        joined, pos = self._tail + data, 0
        while True:
            at = joined.find(b"LOBJ", pos, pos + 8)
            if at < 0 or at + _OBJECT.size > len(joined):
                if at < 0 and pos + 8 <= len(joined):
                    self._end("what follows is no object of a log")
                break
            size = _OBJECT.unpack_from(joined, at)[3]
            if not 2 * _OBJECT.size <= size <= _LARGEST_OBJECT:
                self._end("an object of a size that none can have")
                data = data[: max(0, at - len(self._tail))]
                break
            if at + size > len(joined):
                break
            pos = at + size
        self._tail = joined[pos:]
        return data


def _date(parts: tuple[int, ...]) -> str | None:
    year, month, _, day, hour, minute, second, thousandth = parts
    try:
        return datetime(year, month, day, hour, minute, second, 1000 * thousandth).isoformat(timespec="milliseconds")
    except ValueError:
        return None
