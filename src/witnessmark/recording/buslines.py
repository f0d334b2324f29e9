"""Bus logs in text that the bus library reads, line by line, so that a broken line costs itself and no other.

The library's readers run over a whole file and end at the first line they stumble on. Here a reader is handed lines
through a feed that remembers which it took: a line that raises is counted and named, and a fresh reader goes on behind.
"""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.errors import DamagedRecording
from witnessmark.recording.framelog import counted
from witnessmark.recording.framerows import DATA, ERROR, REMOTE, FrameRows

if TYPE_CHECKING:
    from can import Message

__all__ = ["Outcome", "Tally", "add_message", "lines_of", "outcomes"]

# What the library has to say of single lines is counted here; it shall not print it too.
logging.getLogger("can").addHandler(logging.NullHandler())
_LONGEST = 4096  # characters; the longest frame needs 400


def lines_of(path: Path) -> Iterator[str]:
    """Lines of a text file with their ends; a longer one than any frame needs comes in pieces.

    Parameters
    ----------
    path : Path

    Yields
    ------
    str
    """
    with path.open(encoding="utf-8-sig", errors="replace", newline=None) as stream:
        while line := stream.readline(_LONGEST):
            yield line


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one line: a message, nothing, or an error of the reader."""

    line: str
    message: Message | None = None
    failed: bool = False


class _Feed(io.TextIOBase):
    """What a reader takes for its file: first the header, then the lines, each remembered until it is asked for."""

    def __init__(self, header: tuple[str, ...], lines: Iterator[str]) -> None:
        self._header = iter(header)
        self._lines = lines
        self.taken: list[str] = []

    def __iter__(self) -> _Feed:  # type: ignore[override]
        return self

    def __next__(self) -> str:  # type: ignore[override]
        for line in self._header:
            return line
        line = next(self._lines)
        self.taken.append(line)
        return line

    def close(self) -> None:
        """Nothing: the file is closed by whoever opened it."""


def outcomes(
    lines: Iterator[str], header: tuple[str, ...], reader: Callable[[Any], Iterator[Message]]
) -> Iterator[Outcome]:
    """What a reader of the bus library makes of every line.

    Parameters
    ----------
    lines : iterator of str
        Those behind the header.
    header : tuple of str
        What the reader must have seen before it reads a line.
    reader : callable
        Makes the reader from something like a file.

    Yields
    ------
    Outcome
        In the order of the lines.
    """
    alive = True
    while alive:
        feed = _Feed(header, lines)
        try:
            for message in reader(feed):
                yield from (Outcome(line) for line in feed.taken[:-1])
                yield Outcome(feed.taken[-1] if feed.taken else "", message)
                feed.taken.clear()
            alive = False
            yield from (Outcome(line) for line in feed.taken)
        except Exception:
            # Whatever a line of rubbish raises in the library, it is the line that is wrong.
            alive = bool(feed.taken)
            yield from (Outcome(line) for line in feed.taken[:-1])
            yield from (Outcome(line, failed=True) for line in feed.taken[-1:])


@dataclass(slots=True)
class Tally:
    """Lines or objects of a log that could not be used.

    Parameters
    ----------
    what : str
        What is counted: "line", "object".
    bad : int
    first : str
        Where the first of them stands, and what is wrong with it.
    """

    what: str = "line"
    bad: int = 0
    first: str = ""

    def miss(self, number: int, why: str) -> None:
        """Count one.

        Parameters
        ----------
        number : int
            From 1.
        why : str
        """
        self.bad += 1
        self.first = self.first or f"{self.what} {number}: {why}"

    def notes(self, good: int, name: str) -> tuple[str, ...]:
        """What to say.

        Parameters
        ----------
        good : int
            Frames that were read.
        name : str
            Of the file.

        Raises
        ------
        DamagedRecording
            More was broken than whole.
        """
        if self.bad > good:
            raise DamagedRecording(
                f"{counted(self.bad, self.what)} cannot be read as frames ({self.first})",
                where=name,
                given=f"{good} whole frames",
            )
        were = "was" if self.bad == 1 else "were"
        what = counted(self.bad, self.what)
        return (f"{what} could not be read and {were} left out (the first: {self.first})",) if self.bad else ()


def add_message(rows: FrameRows, message: Message, *, time_s: float, bus: str, length: int | None = None) -> str:
    """Take a message of the bus library over as a row.

    Parameters
    ----------
    rows : FrameRows
    message : Message
    time_s : float [s]
    bus : str
    length : int, optional
        How many bytes the log announces; those that are there where left out.

    Returns
    -------
    str
        Empty, or why it is no frame.
    """
    kind = ERROR if message.is_error_frame else REMOTE if message.is_remote_frame else DATA
    payload = bytes(message.data or b"") if kind == DATA else b""
    if length is not None and kind == DATA and length != len(payload):
        return f"{len(payload)} bytes where {length} are announced"
    if not math.isfinite(time_s):
        return "no time"
    taken = rows.add(
        time_s,
        int(message.arbitration_id),
        payload,
        extended=bool(message.is_extended_id),
        bus=bus,
        sent=not message.is_rx,
        flexible=bool(message.is_fd),
        kind=kind,
    )
    return "" if taken else "an identifier or a length that no frame can have"
