"""Lines of frames to columns of frames."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording.formats.candump.columns import Block, Buses, read_block
from witnessmark.recording.formats.candump.oddlines import NO_TIME
from witnessmark.recording.framelog import assembled, counted, recording_of
from witnessmark.recording.framerows import DATA, FrameColumns
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.text import decode_words
from witnessmark.recording.types import FloatArray, Recording

__all__ = ["read"]

_PIECE = 1 << 20
_LONGEST = 1 << 20
_EPOCH_NS = 10**8 * 10**9  # stamps beyond three years are a date
_BAD_SHARE = 0.5


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The frames in a log, a frame a line.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        ``step_s`` for a log whose lines carry no time.

    Returns
    -------
    Recording
        With ``frames`` and no traces. Times count from the first frame where the log gives a date, else as the log
        counts them. Lines that are no frames are left out, counted and named.

    Raises
    ------
    FormatError
        The file is no such log.
    DamagedRecording
        No frame in it, more lines broken than whole, or time that runs back.
    """
    buses, digest = Buses(), hashlib.sha256()
    blocks: list[Block] = []
    bad, lines, first_bad, ends = 0, 0, "", True
    for text, whole in _pieces(path, digest):
        block = read_block(text, buses)
        bad += block.bad
        if block.first_bad and not first_bad:
            first_bad = f"line {lines + block.first_bad[0] + 1}: {block.first_bad[1]}"
        lines += block.n_lines
        ends = whole
        blocks.append(block)
    columns, started, notes = _columns(blocks, hints)
    if not ends and not bad and _is_cut(columns):
        columns, bad, first_bad = _without_last(columns), 1, f"line {lines}: cut off"
    if bad > _BAD_SHARE * (bad + len(columns)):
        raise DamagedRecording(f"{bad} of its lines are no frames ({first_bad})", where=path.name)
    if bad:
        notes += (f"{counted(bad, 'line')} could not be read and {_were(bad)} left out (the first: {first_bad})",)
    frames = assembled(
        columns,
        buses=[decode_words(name) for name in buses.names],
        digest="sha256:" + digest.hexdigest(),
        name=path.name,
        format="candump",
        started=started,
        notes=notes,
    )
    return recording_of(frames)


def _were(count: int) -> str:
    return "was" if count == 1 else "were"


def _pieces(path: Path, digest: hashlib._Hash) -> Iterator[tuple[bytes, bool]]:
    """Whole lines of a file, some megabytes at a time, and whether the last of them had its end."""
    rest = b""
    with path.open("rb") as stream:
        start = True
        while piece := stream.read(_PIECE):
            digest.update(piece)
            if start:
                piece, start = piece.removeprefix(b"\xef\xbb\xbf"), False
            if b"\0" in piece:
                raise FormatError("not a log of text lines: it holds zero bytes", where=path.name)
            text, feed, rest = (rest + piece).rpartition(b"\n")
            if len(rest) > _LONGEST:
                raise FormatError("a line without an end", where=path.name, expected="a frame a line")
            if feed:
                yield text + feed, True
    if rest.strip():
        yield rest + b"\n", False


def _columns(blocks: list[Block], hints: TimeHints) -> tuple[FrameColumns, str | None, tuple[str, ...]]:
    """All blocks one after the other, with times in seconds; when they began; and what to say."""
    stamps = np.concatenate([block.stamp_ns for block in blocks]) if blocks else np.empty(0, np.int64)
    time_s, started, notes = _seconds(stamps, hints)
    parts, first = [], 0
    for block in blocks:
        last = first + block.stamp_ns.size
        parts.append(
            FrameColumns(
                time_s=time_s[first:last],
                identifier=block.identifier,
                extended=block.extended,
                bus=block.bus,
                length=block.length,
                data=block.data,
                sent=block.sent,
                flexible=block.flexible,
                kind=block.kind,
            )
        )
        first = last
    columns = FrameColumns.joined(parts)
    untold = np.isnan(columns.time_s)
    if untold.any() and not untold.all():
        notes += (f"{counted(int(untold.sum()), 'line')} without a time left out",)
        columns = columns.taken(~untold)
    return columns, started, notes


def _seconds(stamp_ns: NDArray[np.int64], hints: TimeHints) -> tuple[FloatArray, str | None, tuple[str, ...]]:
    told = stamp_ns != NO_TIME
    if not told.any():
        if hints.step_s is None:
            return np.full(stamp_ns.size, np.nan), None, ()
        time_s = hints.start_s + hints.step_s * np.arange(stamp_ns.size, dtype=np.float64)
        return time_s, None, (f"no times: {hints.step_s:g} s from frame to frame, from the sidecar",)
    first = int(stamp_ns[np.argmax(told)])
    if first >= _EPOCH_NS:
        # Differences of whole nanoseconds are exact, which those of dates as floating-point numbers are not.
        started = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=first // 1000)).isoformat()
        return np.where(told, (stamp_ns - first) * 1e-9, np.nan), started, ()
    steps = np.diff(stamp_ns[told])
    if first == 0 and steps.size >= 8 and float((steps < 0).mean()) > 0.2:
        stamp_ns = np.cumsum(np.where(told, stamp_ns, 0))
        return np.where(told, stamp_ns * 1e-9, np.nan), None, ("the log gives the time since the frame before",)
    return np.where(told, stamp_ns * 1e-9, np.nan), None, ()


def _is_cut(columns: FrameColumns) -> bool:
    """Whether a last line without its end is shorter than all others of its identifier."""
    if not len(columns) or columns.kind[-1] != DATA:
        return False
    same = columns.identifier[:-1] == columns.identifier[-1]
    others = columns.length[:-1][same & (columns.kind[:-1] == DATA)]
    return bool(others.size) and columns.length[-1] < others.min()


def _without_last(columns: FrameColumns) -> FrameColumns:
    keep = np.ones(len(columns), np.bool_)
    keep[-1] = False
    return columns.taken(keep)
