"""Packed objects to columns of frames."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO, cast

from witnessmark.recording.buslines import Tally, add_message
from witnessmark.recording.formats.blf.checked import CheckedLog
from witnessmark.recording.framelog import assembled, counted, recording_of
from witnessmark.recording.framerows import FrameRows
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.types import Recording
from witnessmark.source import digest_file

__all__ = ["read"]


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
        With ``frames`` and no traces; times count from the start that the log states. A log that is cut or damaged
        gives the frames before the damage, and says so.

    Raises
    ------
    FormatError
        The file is no such log.
    DamagedRecording
        No frame in it, or time that runs back.
    """
    with CheckedLog(path) as log:
        rows, tally = FrameRows(), Tally("frame")
        ended = _collect(log, rows, tally) or log.ended
        started = log.started
    notes = tally.notes(len(rows), path.name)
    if ended:
        notes += (f"the log is damaged behind {counted(len(rows), 'frame')} ({ended}); what follows was left out",)
    frames = assembled(
        rows.columns(),
        buses=list(rows.buses),
        digest=digest_file(path),
        name=path.name,
        format="blf",
        started=started,
        notes=notes,
    )
    return recording_of(frames)


def _collect(log: CheckedLog, rows: FrameRows, tally: Tally) -> str:
    """Take over what the library finds; why it stopped before the end, or nothing."""
    from can import BLFReader

    try:
        for number, message in enumerate(BLFReader(cast("BinaryIO", log)), 1):
            # The library counts channels from 0, the file from 1.
            bus = f"channel {message.channel + 1}" if isinstance(message.channel, int) else ""
            why = add_message(rows, message, time_s=message.timestamp, bus=bus)
            if why:
                tally.miss(number, why)
    except Exception as error:
        # Whatever damage raises in the library, what came before it is sound.
        return f"{type(error).__name__}"
    return ""
