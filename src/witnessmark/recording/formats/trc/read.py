"""Numbered lines of frames to columns."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.errors import FormatError
from witnessmark.recording.buslines import Outcome, Tally, add_message, lines_of, outcomes
from witnessmark.recording.framelog import assembled, recording_of
from witnessmark.recording.framerows import ERROR, FrameRows
from witnessmark.recording.frames import FRAME_LENGTHS
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.types import Recording
from witnessmark.source import digest_file

if TYPE_CHECKING:
    from can import Message

__all__ = ["read"]

_KNOWN = ("1.0", "1.1", "1.3", "2.0", "2.1")
_SAID = re.compile(r";\$(FILEVERSION|STARTTIME|COLUMNS)\s*=\s*(.*)")
# A line that tells of an error on the bus, and one that tells of the tool's own state.
_ERROR = re.compile(r"\s*\d+\)?\s+(\d+(?:\.\d+)?)\s+(?:\d+\s+)?(?:Error|ER)\b")
_STATE = re.compile(r"\s*\d+\)?\s+\d+(?:\.\d+)?\s+(?:\d+\s+)?(?:Warng|ST|EC|EV|FFFFFFFF)\b")
# Days are counted from here in STARTTIME, as spreadsheets count them.
_DAY_ZERO = datetime(1899, 12, 30)
_HEADER_LINES = 500


@dataclass(frozen=True, slots=True)
class _Header:
    version: str
    columns: str | None
    started: str | None
    n_lines: int

    def lines(self) -> tuple[str, ...]:
        """What a reader has to know; the start is kept from it so that times count from there, undimmed by a date."""
        said = (f";$FILEVERSION={self.version}\n",) if self.version != "1.0" else ()
        return (*said, f";$COLUMNS={self.columns}\n") if self.columns else said


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The frames in such a log.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        Not needed.

    Returns
    -------
    Recording
        With ``frames`` and no traces; times count from the start that the log states.

    Raises
    ------
    FormatError
        A version that is not known.
    DamagedRecording
        No frame in it, more lines broken than whole, or time that runs back.
    """
    lines = lines_of(path)
    header, first = _header(lines, path.name)
    rows, tally = FrameRows(), Tally()
    last = ""
    for number, one in enumerate(_read(chain(first, lines), header), header.n_lines + 1):
        last = one.line
        _take(rows, tally, number, one, header.version)
    notes = tally.notes(len(rows), path.name)
    if last and not last.endswith("\n") and not tally.bad:
        notes += ("the last line has no end; what is there of it was read",)
    frames = assembled(
        rows.columns(),
        buses=list(rows.buses),
        digest=digest_file(path),
        name=path.name,
        format="trc",
        started=header.started,
        notes=notes,
    )
    return recording_of(frames, header={"version": header.version})


def _header(lines: Iterator[str], name: str) -> tuple[_Header, tuple[str, ...]]:
    """What the first lines say, and the line behind them."""
    said: dict[str, str] = {}
    first: tuple[str, ...] = ()
    count = 0
    for line in lines:
        if (line.strip() and not line.startswith(";")) or count >= _HEADER_LINES:
            first = (line,)
            break
        count += 1
        if found := _SAID.match(line):
            said.setdefault(found[1], found[2].strip())
    version = said.get("FILEVERSION", "1.0")
    if version not in _KNOWN:
        raise FormatError(
            f"version {version[:20]} of this log is not known",
            where=name,
            expected=f"one of {', '.join(_KNOWN)}",
            todo="Export it in one of these versions, or as candump lines",
        )
    columns = said.get("COLUMNS")
    if version.startswith("2") and not columns:
        raise FormatError("the log does not name its columns", where=name, expected="a line ;$COLUMNS=")
    return _Header(version, columns, _started(said.get("STARTTIME")), count), first


def _started(days: str | None) -> str | None:
    try:
        return (_DAY_ZERO + timedelta(days=float(days or ""))).isoformat(timespec="milliseconds")
    except (ValueError, OverflowError):
        return None


def _read(lines: Iterator[str], header: _Header) -> Iterator[Outcome]:
    from can import TRCReader

    return outcomes(lines, header.lines(), lambda feed: iter(TRCReader(feed)))


def _take(rows: FrameRows, tally: Tally, number: int, one: Outcome, version: str) -> None:
    if one.message is not None:
        bus = "" if version in ("1.0", "1.1") else f"channel {one.message.channel}"
        why = add_message(rows, one.message, time_s=one.message.timestamp, bus=bus, length=_announced(one.message))
        if why:
            tally.miss(number, why)
    elif found := _ERROR.match(one.line):
        rows.add(float(found[1]) * 1e-3, 0, b"", kind=ERROR)
    elif one.failed or (one.line.strip() and not one.line.startswith(";") and not _STATE.match(one.line)):
        tally.miss(number, "no frame")


def _announced(message: Message) -> int | None:
    """How many bytes the length code of a frame stands for."""
    code = int(message.dlc)
    if not message.is_fd:
        return min(code, 8)
    return FRAME_LENGTHS[code] if 0 <= code < len(FRAME_LENGTHS) else None
