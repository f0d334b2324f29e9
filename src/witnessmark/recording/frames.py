"""The frames of a bus log, as columns.

A bus log holds no quantities, only frames: an identifier and some bytes at a time. :class:`Frames` keeps them as they
came, one array a column, until a description of the frames (``witnessmark.decode.broadcast``) or a protocol
(``witnessmark.decode``) makes values of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError, one_of
from witnessmark.recording.types import FloatArray, Gap, _Rebuilt, frozen_array

__all__ = ["FRAME_LENGTHS", "Frames"]

FRAME_LENGTHS = (0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64)
"""Bytes that a frame can carry, by its length code: to 8 in the classic format, to 64 in the flexible one
(ISO 11898-1:2015, table of data length codes)."""

_COLUMNS = {
    "identifier": np.uint32,
    "extended": np.bool_,
    "bus": np.int16,
    "length": np.uint8,
    "sent": np.bool_,
    "flexible": np.bool_,
}


@dataclass(frozen=True, slots=True, eq=False)
class Frames(_Rebuilt):
    """Data frames of one log in order of time; remote and error frames are set apart.

    Parameters
    ----------
    time_s : array, shape (n,) [s]
        Finite and never falling. All NaN for a log without times: its order is then all that is known.
    identifier : array, shape (n,)
        11 or 29 bits.
    extended : array of bool, shape (n,)
        The identifier has 29 bits.
    bus : array, shape (n,)
        Index into ``buses``.
    length : array, shape (n,) [bytes]
        How many bytes of ``data`` count.
    data : array, shape (n, 8) or (n, 64)
        Bytes; zero behind ``length``.
    sent : array of bool, shape (n,)
        Sent by the tool that logged, not received by it.
    flexible : array of bool, shape (n,)
        Of the flexible data-rate format (CAN FD).
    buses : tuple of str
        Names as the file gives them; "" where it gives none.
    remote_s, error_s : array, shape (m,) [s]
        When a remote frame or an error frame stood on the bus.
    digest, name, format : str
        As of a :class:`~witnessmark.recording.types.Recording`.
    started : str, optional
        Date and time of ``time_s = 0`` (ISO 8601), where the log says it.
    notes : tuple of str
        What was left out or put in order, counted.
    gaps : tuple of Gap
        Stretches in which a bus that talks all the time said nothing.

    Raises
    ------
    InputError
        Columns of different lengths, or times that fall.
    """

    time_s: FloatArray
    identifier: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    bus: NDArray[np.int16]
    length: NDArray[np.uint8]
    data: NDArray[np.uint8]
    sent: NDArray[np.bool_]
    flexible: NDArray[np.bool_]
    buses: tuple[str, ...]
    remote_s: FloatArray
    error_s: FloatArray
    digest: str
    name: str
    format: str
    started: str | None = None
    notes: tuple[str, ...] = ()
    gaps: tuple[Gap, ...] = ()

    def __post_init__(self) -> None:
        for key in ("time_s", "remote_s", "error_s"):
            object.__setattr__(self, key, frozen_array(getattr(self, key), np.float64))
        for key, dtype in _COLUMNS.items():
            object.__setattr__(self, key, frozen_array(getattr(self, key), dtype))
        object.__setattr__(self, "data", frozen_array(self.data, np.uint8))
        count = self.time_s.size
        if any(getattr(self, key).shape != (count,) for key in _COLUMNS) or self.data.shape not in (
            (count, 8),
            (count, 64),
        ):
            raise InputError("the columns of frames must be equally long", given=f"{count} times", where=self.name)
        if count and not np.isnan(self.time_s).all() and not (np.diff(self.time_s) >= 0).all():
            raise InputError("the times of frames must be finite and not fall", where=self.name)

    def __len__(self) -> int:
        return int(self.time_s.size)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Frames):
            return NotImplemented
        pairs = ((getattr(self, f.name), getattr(other, f.name)) for f in fields(self))
        return all(
            np.array_equal(a, b, equal_nan=a.dtype.kind == "f") if isinstance(a, np.ndarray) else a == b
            for a, b in pairs
        )

    def __repr__(self) -> str:
        low, high = self.span_s
        return f"Frames({self.name}, {self.format}, {len(self)} frames, {low:.6g}–{high:.6g} s)"

    @property
    def is_timed(self) -> bool:
        """False for a log whose lines carry no time."""
        return not (len(self) and bool(np.isnan(self.time_s[0])))

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last time [s]; zeros for no frames or no times."""
        return (float(self.time_s[0]), float(self.time_s[-1])) if len(self) and self.is_timed else (0.0, 0.0)

    def rows(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> Frames:
        """Some of the frames, in the same order.

        Parameters
        ----------
        keep : array of bool, shape (n,), or of row numbers, rising
        """
        picked: dict[str, Any] = {key: getattr(self, key)[keep] for key in ("time_s", "data", *_COLUMNS)}
        return replace(self, **picked)

    def of(self, identifier: int, *, extended: bool | None = None, bus: str | None = None) -> Frames:
        """The frames with one identifier.

        Parameters
        ----------
        identifier : int
        extended : bool, optional
            Left out: more than 11 bits are extended, others either.
        bus : str, optional
            Of ``buses``; all where left out.

        Raises
        ------
        InputError
            No such bus.
        """
        keep = self.identifier == np.uint32(identifier)
        if extended is not None:
            keep &= self.extended == extended
        if bus is not None:
            if bus not in self.buses:
                raise one_of("bus", bus, self.buses, where=self.name)
            keep &= self.bus == self.buses.index(bus)
        return self.rows(keep)

    def by_identifier(self) -> Iterator[tuple[int, bool, int, NDArray[np.intp]]]:
        """Each identifier on each bus once, with its rows in order of time.

        Yields
        ------
        identifier : int
        extended : bool
        bus : int
            Index into ``buses``.
        rows : array of int
            Into the columns, rising.
        """
        key = (
            self.identifier.astype(np.uint64)
            | (self.extended.astype(np.uint64) << np.uint64(32))
            | (self.bus.astype(np.uint64) << np.uint64(33))
        )
        order = np.argsort(key, kind="stable")
        changes = np.flatnonzero(np.diff(key[order])) + 1
        for rows in np.split(order, changes) if len(self) else ():
            first = int(rows[0])
            yield int(self.identifier[first]), bool(self.extended[first]), int(self.bus[first]), rows
