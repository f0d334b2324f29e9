"""What the readers of bus logs share: rows as they stand in a file become frames in order of time.

Rows may be out of order, doubled or broken; what is done about it is done here, once for all formats, and counted.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording
from witnessmark.recording.framerows import DATA, ERROR, REMOTE, FrameColumns
from witnessmark.recording.frames import Frames
from witnessmark.recording.types import FloatArray, Gap, Recording
from witnessmark.source import Step

__all__ = ["NOT_DESCRIBED", "assembled", "counted", "recording_of"]

NOT_DESCRIBED = "frames are not described: name a description (DBC) or identifiers to get signals out of them"
"""Note of a recording whose frames nobody made signals of; whoever does takes it away."""

# Adapters hand over what they buffered in blocks, several buses one after the other: time stamps step back by fractions
# of a second, and sorting puts that right. A clock that was set back, or two logs in one file, step back further, and
# nothing says how the parts belong together. Common practice, no source.
_SORTED_UP_TO_S = 1.0
# A bus that talks every few milliseconds and then is silent for this long has stopped talking. Common practice, no
# source.
_SILENCE_S = 0.5
_SILENCE_STEPS = 20.0


def counted(count: int, what: str) -> str:
    """A number with its noun: "1 line", "3 lines".

    Parameters
    ----------
    count : int
    what : str
        In the singular.
    """
    return f"{count} {what}{'' if count == 1 else 's'}"


def assembled(
    columns: FrameColumns,
    *,
    buses: Sequence[str],
    digest: str,
    name: str,
    format: str,
    started: str | None = None,
    notes: tuple[str, ...] = (),
) -> Frames:
    """Frames in order of time, from rows as they stood.

    Parameters
    ----------
    columns : FrameColumns
    buses : sequence of str
        What ``columns.bus`` counts.
    digest, name, format, started
        As of :class:`Frames`.
    notes : tuple of str
        What the reader has to say.

    Returns
    -------
    Frames

    Raises
    ------
    DamagedRecording
        No frame at all, or time that runs back by more than a second.
    """
    if not len(columns):
        raise DamagedRecording("the bus log holds no whole frame", where=name, todo="Record it again")
    order, said = _in_order(columns, name)
    if order is not None:
        columns = columns.taken(order)
    fresh, doubled = _not_doubled(columns)
    if doubled:
        columns = columns.taken(fresh)
        said += (f"{counted(doubled, 'row')} stood twice in the log with the same time; the copies were left out",)
    is_data = columns.kind == DATA
    own = columns.bus if is_data.all() else columns.bus[is_data]
    bus, names = _by_occurrence(own, buses)
    gaps: tuple[Gap, ...] = ()
    if not np.isnan(columns.time_s[0]):
        gaps = _silences(columns.time_s)
    else:
        said += ("no line carries a time: only the order of the frames is known",)
    frames = Frames(
        remote_s=columns.time_s[columns.kind == REMOTE],
        error_s=columns.time_s[columns.kind == ERROR],
        buses=names,
        bus=bus,
        digest=digest,
        name=name,
        format=format,
        started=started,
        notes=notes + said + _set_apart(columns.kind) + _silent(gaps),
        gaps=gaps,
        **{key: getattr(columns, key) if is_data.all() else getattr(columns, key)[is_data] for key in _PLAIN},
    )
    if not len(frames):
        raise DamagedRecording("the bus log holds error and remote frames only", where=name, todo="Record it again")
    return frames


_PLAIN = ("time_s", "identifier", "extended", "length", "data", "sent", "flexible")


def _by_occurrence(bus: NDArray[np.int16], names: Sequence[str]) -> tuple[NDArray[np.int16], tuple[str, ...]]:
    """Buses numbered in the order in which they first speak; those that say nothing are not among them."""
    used = np.flatnonzero(np.bincount(bus))
    if used.size == 1:
        return np.zeros(bus.size, np.int16), (names[int(used[0])] if names else "",)
    used = used[np.argsort([int(np.argmax(bus == number)) for number in used])]
    number = np.zeros(int(used.max(initial=0)) + 1, np.int16)
    number[used] = np.arange(used.size)
    return number[bus], tuple(names[int(i)] for i in used)


def _in_order(columns: FrameColumns, name: str) -> tuple[NDArray[np.intp] | None, tuple[str, ...]]:
    """The order of time where it is not that of the file, and what to say about it."""
    time_s = columns.time_s
    if not (np.diff(time_s) < 0).any():
        return None, ()
    latest = np.maximum.accumulate(time_s)
    behind = latest - time_s
    late = int((behind > 0).sum())
    note = f"{counted(late, 'frame')} stood out of order, by {behind.max():.3g} s at most; all were sorted by time"
    if behind.max() > _SORTED_UP_TO_S:
        row, back_s = _own_step_back(columns)
        if back_s > _SORTED_UP_TO_S:
            raise DamagedRecording(
                f"time runs back by {back_s:.6g} s",
                where=f"{name}, frame {row + 1}",
                expected="frames in order of time",
                todo="If two logs stand in one file, split it",
            )
        note = f"the log is grouped by identifier; its {counted(len(columns), 'frame')} were sorted by time"
    return np.argsort(time_s, kind="stable"), (note,)


def _own_step_back(columns: FrameColumns) -> tuple[int, float]:
    """Where an identifier steps back furthest behind its own earlier frames, and how far [s].

    A log that was written identifier by identifier runs back as a whole, but none of its identifiers does.
    """
    key = columns.identifier.astype(np.int64) | columns.bus.astype(np.int64) << 32 | columns.kind.astype(np.int64) << 48
    order = np.argsort(key, kind="stable")
    steps = np.diff(columns.time_s[order])
    steps[np.diff(key[order]) != 0] = 0.0
    at = int(np.argmin(steps))
    return int(order[at + 1]), max(0.0, -float(steps[at]))


def _not_doubled(columns: FrameColumns) -> tuple[NDArray[np.bool_], int]:
    """Rows that are not the copy of the row before: no bus carries the same frame twice at one time."""
    same = columns.time_s[1:] == columns.time_s[:-1]
    at = np.flatnonzero(same) + 1
    for key in ("identifier", "extended", "bus", "length", "sent", "flexible", "kind"):
        column = getattr(columns, key)
        at = at[column[at] == column[at - 1]]
    at = at[(columns.data[at] == columns.data[at - 1]).all(axis=1)]
    # Error frames carry nothing by which one could be told from the next.
    at = at[columns.kind[at] != ERROR]
    fresh = np.ones(len(columns), np.bool_)
    fresh[at] = False
    return fresh, int(at.size)


def _silences(time_s: FloatArray) -> tuple[Gap, ...]:
    if time_s.size < 100:
        return ()
    steps = np.diff(time_s)
    if steps.max() <= _SILENCE_S:
        return ()
    least = max(_SILENCE_S, _SILENCE_STEPS * float(np.percentile(steps, 99)))
    return tuple(
        Gap(float(time_s[i]), float(time_s[i + 1]), "no frame on the bus") for i in np.flatnonzero(steps > least)
    )


def _set_apart(kind: NDArray[np.uint8]) -> tuple[str, ...]:
    found = ((int((kind == of).sum()), what) for of, what in ((REMOTE, "remote frame"), (ERROR, "error frame")))
    return tuple(f"{counted(count, what)} set apart" for count, what in found if count)


def _silent(gaps: tuple[Gap, ...]) -> tuple[str, ...]:
    if not gaps:
        return ()
    longest = max(gap.to_s - gap.from_s for gap in gaps)
    return (f"{counted(len(gaps), 'stretch').replace('stretchs', 'stretches')} without a frame, up to {longest:.3g} s",)


def recording_of(frames: Frames, *, header: dict[str, str] | None = None) -> Recording:
    """A recording that holds frames and, until somebody describes them, no traces.

    Parameters
    ----------
    frames : Frames
    header : dict of str to str, optional

    Returns
    -------
    Recording
    """
    return Recording(
        traces=(),
        digest=frames.digest,
        name=frames.name,
        format=frames.format,
        started=frames.started,
        header=header or {},
        history=(Step("read", f"{frames.format}: {counted(len(frames), 'frame')} as columns"),),
        notes=(*frames.notes, NOT_DESCRIBED),
        frames=frames,
    )
