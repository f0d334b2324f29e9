"""Lines of frames and events to columns of frames."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.recording.buslines import Outcome, Tally, add_message, lines_of, outcomes
from witnessmark.recording.framelog import assembled, recording_of
from witnessmark.recording.framerows import FrameRows
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.types import Recording
from witnessmark.source import digest_file

if TYPE_CHECKING:
    from can import Message

__all__ = ["read"]

_DATE = re.compile(r"\s*(?:date\s+|begin\s+triggerblock\s+)(?:\w+\s+)?(.+?)\s*$", re.IGNORECASE)
_BASE = re.compile(r"\s*base\s+(hex|dec)(?:\s+timestamps\s+(absolute|relative))?", re.IGNORECASE)
_STAMP = re.compile(r"\s*(\d{1,10}\.\d+)\s")
# A line that began as a frame; requests to send are events, the frames themselves follow.
_FRAME_LIKE = re.compile(r"\s*\d+\.\d+\s+(?:CANFD|\d+\s+[0-9A-Fa-f]+x?\s*(?:Rx|Tx|$))", re.IGNORECASE)
_REQUEST = re.compile(r"\sTxRq\b", re.IGNORECASE)


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The frames in such a log; events and statistics are passed over.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        Not needed.

    Returns
    -------
    Recording
        With ``frames`` and no traces; times as the log counts them.

    Raises
    ------
    DamagedRecording
        No frame in it, more lines broken than whole, or time that runs back.
    """
    base, relative, started = _said(path)
    rows, tally = FrameRows(), Tally()
    clock_s, last = 0.0, ""
    header = (f"base {base}  timestamps absolute\n", "no internal events logged\n")
    for number, one in enumerate(_read(path, header), 1):
        last = one.line
        if relative and (stamp := _STAMP.match(one.line)):
            clock_s += float(stamp[1])
        _take(rows, tally, number, one, clock_s if relative else None)
    if last and not last.endswith("\n") and not tally.bad and _FRAME_LIKE.match(last) is None and _STAMP.match(last):
        tally.miss(number, "cut off")
    notes = tally.notes(len(rows), path.name)
    frames = assembled(
        rows.columns(),
        buses=list(rows.buses),
        digest=digest_file(path),
        name=path.name,
        format="asc",
        started=started,
        notes=notes + (("the log gives the time since the line before",) if relative else ()),
    )
    return recording_of(frames, header={"base": base})


def _said(path: Path) -> tuple[str, bool, str | None]:
    """Base of the numbers, whether each time counts from the line before, and when it began."""
    base, relative, started = "hex", False, None
    for number, line in enumerate(lines_of(path)):
        if found := _BASE.match(line):
            base, relative = found[1].lower(), (found[2] or "").lower() == "relative"
        elif found := _DATE.match(line):
            started = started or found[1]
        if number > 100:
            break
    return base, relative, started


def _read(path: Path, header: tuple[str, ...]) -> Iterator[Outcome]:
    from can import ASCReader

    return outcomes(lines_of(path), header, lambda feed: iter(ASCReader(feed)))


def _take(rows: FrameRows, tally: Tally, number: int, one: Outcome, clock_s: float | None) -> None:
    if _REQUEST.search(one.line):
        return
    if one.message is not None:
        message = one.message
        time_s = message.timestamp if clock_s is None else clock_s
        why = add_message(rows, message, time_s=time_s, bus=_bus(message), length=_announced(message))
        if why:
            tally.miss(number, why)
    elif one.failed or _FRAME_LIKE.match(one.line):
        tally.miss(number, "no frame")


def _bus(message: Message) -> str:
    # The library counts channels from 0, the file from 1.
    return f"channel {message.channel + 1}" if isinstance(message.channel, int) else str(message.channel or "")


def _announced(message: Message) -> int:
    return int(message.dlc) if message.is_fd else min(int(message.dlc), 8)
