"""Groups that log a bus, as the standard's bus logging names their channels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording
from witnessmark.recording.framerows import DATA, ERROR, REMOTE, FrameColumns
from witnessmark.recording.frames import FRAME_LENGTHS

if TYPE_CHECKING:
    from asammdf import MDF

__all__ = ["FRAME_GROUPS", "frame_columns"]

FRAME_GROUPS = {"CAN_DataFrame": DATA, "CAN_RemoteFrame": REMOTE, "CAN_ErrorFrame": ERROR}
"""Names by which the standard's bus logging calls the three kinds of frames."""


def frame_columns(opened: MDF, group: int, kind: str) -> FrameColumns:
    """The frames of one group.

    Parameters
    ----------
    opened : MDF
    group : int
        Number of the channel group.
    kind : str
        Key of ``FRAME_GROUPS``.

    Returns
    -------
    FrameColumns

    Raises
    ------
    DamagedRecording
        Times that are no numbers, lengths that no frame can have.
    """
    there = {str(channel.name) for channel in opened.groups[group].channels}

    def column(name: str) -> NDArray[Any] | None:
        full = f"{kind}.{name}"
        if full not in there:
            return None
        return np.asarray(opened.get(full, group=group, raw=True, ignore_invalidation_bits=True).samples)

    number = column("ID")
    times = np.asarray(opened.get_master(group), np.float64)
    if number is None:
        number = np.zeros(times.size, np.uint32)
    count = times.size
    number = number.astype(np.int64)
    if not np.isfinite(times).all() or number.size != count:
        raise DamagedRecording("frames without a time", where=opened.name.name)
    wide = column("IDE")
    extended = (number >> 31 & 1 | (number & 0x1FFFFFFF) > 0x7FF) > 0 if wide is None else wide != 0
    flexible = column("EDL")
    data, length = _payload(column("DataBytes"), column("DataLength"), column("DLC"), count)
    if FRAME_GROUPS[kind] != DATA:
        data, length = np.zeros((count, 8), np.uint8), np.zeros(count, np.uint8)
    return FrameColumns(
        time_s=times,
        identifier=(number & 0x1FFFFFFF).astype(np.uint32),
        extended=extended.astype(np.bool_),
        bus=_small(column("BusChannel"), count),
        length=length,
        data=data,
        sent=_sent(column("Dir"), count),
        flexible=np.zeros(count, np.bool_) if flexible is None else flexible != 0,
        kind=np.full(count, FRAME_GROUPS[kind], np.uint8),
    )


def _small(channel: NDArray[Any] | None, count: int) -> NDArray[np.int16]:
    if channel is None:
        return np.zeros(count, np.int16)
    return (channel.astype(np.int64) & 0xFF).astype(np.int16)


def _sent(way: NDArray[Any] | None, count: int) -> NDArray[np.bool_]:
    if way is None:
        return np.zeros(count, np.bool_)
    return np.asarray(way == b"Tx" if way.dtype.kind == "S" else way != 0, np.bool_)


def _payload(
    held: NDArray[Any] | None, stated: NDArray[Any] | None, code: NDArray[Any] | None, count: int
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Bytes of the frames, zero behind their length, and the lengths."""
    if held is None or not held.size:
        return np.zeros((count, 8), np.uint8), np.zeros(count, np.uint8)
    if held.dtype.kind in "SV":
        held = held.view(np.uint8).reshape(count, -1)
    held = held.reshape(count, -1)[:, :64].astype(np.uint8)
    if stated is None:
        lengths = np.array(FRAME_LENGTHS, np.int64)
        stated = lengths[np.clip(code.astype(np.int64), 0, 15)] if code is not None else np.full(count, held.shape[1])
    length = stated.astype(np.int64)
    if count and (length.min() < 0 or length.max() > min(64, held.shape[1])) and held.shape[1]:
        raise DamagedRecording("frames longer than what is there of them", given=f"{length.max()} bytes")
    length = np.minimum(length, held.shape[1])
    data = np.zeros((count, 64 if count and length.max() > 8 else 8), np.uint8)
    width = min(data.shape[1], held.shape[1])
    data[:, :width] = held[:, :width]
    data[np.arange(data.shape[1]) >= length[:, None]] = 0
    return data, length.astype(np.uint8)
