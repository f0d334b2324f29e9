"""Rows of a bus log as they stand in a file: collected one by one or as columns, nothing put right yet."""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.frames import FRAME_LENGTHS
from witnessmark.recording.types import FloatArray

__all__ = ["DATA", "ERROR", "REMOTE", "FrameColumns", "FrameRows"]

DATA, REMOTE, ERROR = 0, 1, 2
"""Kinds of a row."""

# More buses than a vehicle has, and later than any clock shows: damage, or a file that wants to fill the memory.
_MOST_BUSES = 64
_LATEST_S = 1e11


@dataclass(frozen=True, slots=True)
class FrameColumns:
    """Rows of a log as columns, in the order of the file, nothing put right yet.

    Parameters
    ----------
    time_s : array, shape (n,) [s]
        NaN in every row for a log without times.
    identifier, extended, bus, length, sent, flexible : array, shape (n,)
    data : array, shape (n, 8) or (n, 64)
    kind : array, shape (n,)
        ``DATA``, ``REMOTE`` or ``ERROR``.
    """

    time_s: FloatArray
    identifier: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    bus: NDArray[np.int16]
    length: NDArray[np.uint8]
    data: NDArray[np.uint8]
    sent: NDArray[np.bool_]
    flexible: NDArray[np.bool_]
    kind: NDArray[np.uint8]

    def __len__(self) -> int:
        return int(self.time_s.size)

    def taken(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> FrameColumns:
        """Some of the rows.

        Parameters
        ----------
        rows : array of bool, or of row numbers
        """
        return FrameColumns(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    @staticmethod
    def joined(parts: Sequence[FrameColumns]) -> FrameColumns:
        """Several stretches of rows, one after the other.

        Parameters
        ----------
        parts : sequence of FrameColumns
        """
        if not parts:
            return FrameRows().columns()
        width = max(part.data.shape[1] for part in parts)
        data = [part.data if part.data.shape[1] == width else _widened(part.data, width) for part in parts]
        names = ("identifier", "extended", "bus", "length", "sent", "flexible", "kind", "time_s")
        if len(parts) == 1:
            return parts[0]
        joined = {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
        return FrameColumns(data=np.concatenate(data), **joined)


def _widened(data: NDArray[np.uint8], width: int) -> NDArray[np.uint8]:
    wide = np.zeros((len(data), width), np.uint8)
    wide[:, : data.shape[1]] = data
    return wide


class FrameRows:
    """Rows collected one by one, for the formats that are read that way."""

    __slots__ = ("_bus", "_identifier", "_length", "_payload", "_time_s", "_what", "buses")

    def __init__(self) -> None:
        self._time_s = array("d")
        self._identifier = array("I")
        self._bus = bytearray()
        self._what = bytearray()
        self._length = bytearray()
        self._payload = bytearray()
        self.buses: dict[str, int] = {}

    def __len__(self) -> int:
        return len(self._time_s)

    def add(
        self,
        time_s: float,
        identifier: int,
        payload: bytes,
        *,
        extended: bool = False,
        bus: str = "",
        sent: bool = False,
        flexible: bool = False,
        kind: int = DATA,
    ) -> bool:
        """Add a row; False, and nothing added, where no frame can be like that.

        Parameters
        ----------
        time_s : float [s]
        identifier : int
        payload : bytes
            To 8 bytes, or a length of the flexible format.
        extended, sent, flexible : bool
        bus : str
        kind : int
        """
        fits = len(payload) <= 8 or (flexible and len(payload) in FRAME_LENGTHS)
        if kind != ERROR and not (fits and 0 <= identifier < (1 << 29 if extended else 1 << 11)):
            return False
        if not (math.isnan(time_s) or abs(time_s) < _LATEST_S):
            return False
        known = self.buses.get(bus)
        if known is None:
            if len(self.buses) >= _MOST_BUSES:
                return False
            known = self.buses[bus] = len(self.buses)
        if kind != DATA:
            payload = b""
        self._time_s.append(time_s)
        self._identifier.append(identifier & 0x1FFFFFFF)
        self._bus.append(known)
        self._what.append(kind | extended << 2 | sent << 3 | flexible << 4)
        self._length.append(len(payload))
        self._payload += payload
        return True

    def columns(self) -> FrameColumns:
        """What was collected, as columns.

        Returns
        -------
        FrameColumns
        """
        length = np.frombuffer(bytes(self._length), np.uint8)
        what = np.frombuffer(bytes(self._what), np.uint8)
        width = 64 if length.size and length.max() > 8 else 8
        data = np.zeros((length.size, width), np.uint8)
        data[np.arange(width) < length[:, None]] = np.frombuffer(bytes(self._payload), np.uint8)
        return FrameColumns(
            time_s=np.array(self._time_s, np.float64),
            identifier=np.array(self._identifier, np.uint32),
            extended=(what & 4) > 0,
            bus=np.frombuffer(bytes(self._bus), np.uint8).astype(np.int16),
            length=length,
            data=data,
            sent=(what & 8) > 0,
            flexible=(what & 16) > 0,
            kind=(what & 3).astype(np.uint8),
        )
