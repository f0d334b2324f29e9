"""A parameter log to traces without roles; a mapping of its columns gives them roles later."""

from __future__ import annotations

from pathlib import Path

from witnessmark.recording.logtable import log_recording, read_log_table
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.types import Recording

__all__ = ["read"]


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The recording in a parameter log.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        ``step_s`` for a log without a time column.

    Returns
    -------
    Recording
        One trace for each column that holds a value, in the order of the columns, in the units of the file.

    Raises
    ------
    FormatError
        The file is no table of text with values in it.
    DamagedRecording
        It is empty, or has headings only.
    """
    return log_recording(read_log_table(path), hints=hints)
