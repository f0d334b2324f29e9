"""Channel groups to traces, groups of frames to frames."""

from __future__ import annotations

import gc
import logging
import os
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.errors import DamagedRecording, InputError
from witnessmark.recording.formats.mdf4.blocks import check_blocks
from witnessmark.recording.formats.mdf4.channels import group_traces
from witnessmark.recording.formats.mdf4.frames import FRAME_GROUPS, frame_columns
from witnessmark.recording.framelog import assembled, counted, recording_of
from witnessmark.recording.framerows import FrameColumns
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.types import Recording, Trace
from witnessmark.source import Step, digest_file

if TYPE_CHECKING:
    from asammdf import MDF

__all__ = ["read"]

_BUSES = tuple(f"channel {number}" for number in range(256))


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The measured channels and the frames in a measurement file.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        Not needed.

    Returns
    -------
    Recording
        A trace for every channel of numbers, with the times of its own group; ``frames`` where a bus was logged.

    Raises
    ------
    InputError
        The library that reads such files is not installed.
    FormatError
        Another version.
    DamagedRecording
        A damaged file, or one that holds nothing that can be read.
    """
    try:
        import asammdf  # noqa: F401  asked here so that its absence is told in one line
    except ImportError:
        raise InputError(
            "measurement files (MDF 4) need the library asammdf",
            where=path.name,
            todo="Install it: pip install witnessmark[mdf]",
        ) from None
    check_blocks(path)
    digest = digest_file(path)
    with _silence():
        found = _attempt(path, digest)
    if isinstance(found, InputError):
        raise found
    return found


def _attempt(path: Path, digest: str) -> Recording | InputError:
    """The recording, or what is wrong: not raised here, so that nothing holds on to the half-opened file."""
    from asammdf import MDF

    try:
        with MDF(path) as opened:
            return _recording(opened, path.name, digest)
    except InputError as error:
        wrong = error.with_traceback(None)
        return wrong if wrong.where else wrong.at(path.name)
    except Exception as error:
        # Whatever damage raises in the library, it is the file that is wrong.
        name = type(error).__name__
    gc.collect()
    return DamagedRecording(f"the measurement file cannot be read ({name})", where=path.name, todo="Export it again")


@contextmanager
def _silence() -> Iterator[None]:
    """What the library has to say about a damaged file comes out as one line of ours, not beside it."""
    logger, hook = logging.getLogger("asammdf"), sys.unraisablehook
    level = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    # An object of the library that was never whole complains when it is thrown away.
    sys.unraisablehook = lambda _: None
    try:
        with warnings.catch_warnings(), Path(os.devnull).open("w") as nowhere, redirect_stdout(nowhere):
            warnings.simplefilter("ignore")
            yield
    finally:
        logger.setLevel(level)
        sys.unraisablehook = hook


def _recording(opened: MDF, name: str, digest: str) -> Recording:
    traces: list[Trace] = []
    parts: list[FrameColumns] = []
    notes: list[str] = []
    words: dict[str, str] = {}
    for number, group in enumerate(opened.groups):
        kind = _frames_of(group)
        if kind is not None:
            parts.append(frame_columns(opened, number, kind))
            continue
        found = group_traces(opened, number, group, len(traces), name)
        traces += found.traces
        notes += found.notes
        words |= found.words
    started = opened.header.start_time.isoformat(timespec="milliseconds")
    parts = [part for part in parts if len(part)]
    if not traces and not parts:
        raise DamagedRecording("the measurement file holds no numbers and no frames", where=name)
    step = Step("read", f"mdf4: {counted(len(opened.groups), 'channel group')}")
    if not parts:
        return Recording(tuple(traces), digest, name, "mdf4", started, words, (step,), tuple(notes))
    columns, buses = _few_buses(FrameColumns.joined(parts))
    # Each group is in order of time by itself; the log is all of them together.
    columns = columns.taken(columns.time_s.argsort(kind="stable"))
    frames = assembled(columns, buses=buses, digest=digest, name=name, format="mdf4", started=started)
    recording = recording_of(frames, header=words)
    return replace(recording, traces=tuple(traces), history=(step,), notes=(*notes, *recording.notes))


def _frames_of(group: Any) -> str | None:
    names = {str(channel.name) for channel in group.channels}
    return next((kind for kind in FRAME_GROUPS if f"{kind}.ID" in names or kind in names), None)


def _few_buses(columns: FrameColumns) -> tuple[FrameColumns, list[str]]:
    """Buses numbered from 0 in the order of their channels."""
    import numpy as np

    found, index = np.unique(columns.bus, return_inverse=True)
    return replace(columns, bus=index.astype(np.int16)), [_BUSES[number] for number in found]
