"""Many answers to one question, as traces: each number of the answer over time, in its parameter's unit and role."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.identifiers import Identifiers
from witnessmark.decode.pidtable import Item, pid_table
from witnessmark.recording.parameters import Signal, signal_of
from witnessmark.recording.types import ExplicitTime, Trace

__all__ = ["Series", "identifier_series", "pid_series", "traces_of"]

FloatArray = NDArray[np.float64]
ByteRows = NDArray[np.uint8]

_STATUS = 0x01


@dataclass(frozen=True, slots=True)
class Series:
    """One number over time, before it becomes a trace.

    Parameters
    ----------
    words, unit : str
    signal : Signal, optional
    times_s : array, shape (n,) [s]
    counts : array of int, shape (n,)
    factor, offset : float
        Value = count · factor + offset.
    source : str
        Who gave it: "7E8".
    said : tuple of str
        Words of the counts that occur, where they stand for words: "2 = closed loop".
    """

    words: str
    unit: str
    signal: Signal | None
    times_s: FloatArray
    counts: NDArray[np.int64]
    factor: float
    offset: float
    source: str = ""
    said: tuple[str, ...] = ()


def pid_series(
    number: int, times_s: FloatArray, rows: ByteRows, *, layout: str = "13", source: str = ""
) -> tuple[Series, ...]:
    """Numbers of one parameter of current data.

    Parameters
    ----------
    number : int
    times_s : array, shape (n,) [s]
    rows : array of uint8, shape (n, k)
        Answers of one length.
    layout : str
        The parameter by which this vehicle counts its oxygen sensors.
    source : str

    Returns
    -------
    tuple of Series
        None for a parameter that is not known, or answers too short for it.
    """
    pid = pid_table().get(number)
    if pid is None or rows.shape[1] < max(pid.least_bytes, 1):
        return ()
    if number == _STATUS:
        return (_lamp(pid.words, times_s, rows, source),)
    items = [(item, pid.signal_of(item, layout)) for item in pid.items]
    return tuple(s for item, signal in items if (s := _series(item, signal, times_s, rows, source)) is not None)


def identifier_series(
    number: int, times_s: FloatArray, rows: ByteRows, known: Identifiers, *, layout: str = "13", source: str = ""
) -> tuple[Series, ...]:
    """Numbers of one identifier of service 22.

    Parameters
    ----------
    number : int
    times_s : array, shape (n,) [s]
    rows : array of uint8, shape (n, k)
    known : Identifiers
    layout, source : str

    Returns
    -------
    tuple of Series
        None for an identifier that no file names.
    """
    if number in known.own:
        items = [(item, signal_of(item.signal) if item.signal else None) for item in known.own[number].items]
        return tuple(s for item, signal in items if (s := _series(item, signal, times_s, rows, source)) is not None)
    if number >> 8 == 0xF4:
        return pid_series(number & 0xFF, times_s, rows, layout=layout, source=source)
    return ()


def traces_of(
    series: Iterable[Series], *, stamp_s: float = 0.0
) -> tuple[tuple[Trace, ...], dict[str, str], tuple[str, ...]]:
    """Traces, with the words that their numbers stand for, and what a careful person should know.

    Parameters
    ----------
    series : iterable of Series
        In the order in which they are preferred: where several control units give the same, the first has the role.
    stamp_s : float [s]
        Spacing of the time stamps; 0 when not known.

    Returns
    -------
    tuple of Trace
    dict of str to str
        For the recording's header: by name of trace.
    tuple of str
        Notes.
    """
    found: list[Trace] = []
    words: dict[str, str] = {}
    notes: list[str] = []
    givers: dict[str, str] = {}
    names: set[str] = set()
    for one in _joined(series):
        role = str(one.signal) if one.signal is not None else None
        name = one.signal.words if one.signal is not None else one.words
        if role in givers:
            note = f"{name} is answered under several numbers; the first has the role"
            if one.source != givers[role]:
                note = f"{name}: {one.source} gives it too; the role is that of {givers[role]}"
            notes += [note] if note not in notes else []
            role = None
        elif role is not None:
            givers[role] = one.source
        shown = name if name not in names else f"{name} ({one.source or 'again'})"
        while shown in names:
            shown += ", again"
        names.add(shown)
        times, counts, lost = _increasing(one.times_s, one.counts)
        if lost:
            notes.append(f"{shown}: {lost} answers share their time with another or come before it, and are left out")
        found.append(
            Trace(
                shown,
                len(found),
                counts,
                ExplicitTime(times),
                one.unit or None,
                role,
                scale=one.factor,
                offset=one.offset,
                stamp_s=stamp_s,
            )
        )
        if one.said:
            words[shown] = "; ".join(one.said)
    return tuple(found), words, tuple(notes)


def _series(item: Item, signal: Signal | None, times_s: FloatArray, rows: ByteRows, source: str) -> Series | None:
    scaling = item.scaling
    if rows.shape[1] < scaling.end:
        return None
    counts = scaling.counts_in(rows)
    there = np.ones(len(rows), dtype=np.bool_)
    if item.unused is not None:
        there &= counts != item.unused
    if item.bit is not None:
        there &= (rows[:, 0] >> item.bit & 1).astype(np.bool_)
    if not there.any():
        return None
    is_word = item.unit == "text"
    said = tuple(f"{n} = {item.said(n)}" for n in np.unique(counts[there]).tolist()) if is_word else ()
    factor, offset = (1.0, 0.0) if is_word else (scaling.factor, scaling.offset)
    return Series(item.words, item.unit, signal, times_s[there], counts[there], factor, offset, source, said)


def _lamp(words: str, times_s: FloatArray, rows: ByteRows, source: str) -> Series:
    counts = rows[:, 0].astype(np.int64)
    said = tuple(f"{n} = lamp {'on' if n & 0x80 else 'off'}, {n & 0x7F} codes" for n in np.unique(counts).tolist())
    return Series(words, "text", Signal("code_count"), times_s, counts, 1.0, 0.0, source, said)


def _joined(series: Iterable[Series]) -> list[Series]:
    """The same number of the same unit in one: answers of other lengths, or to another question of the same scaling."""
    found: dict[tuple[object, ...], list[Series]] = {}
    for one in series:
        found.setdefault((one.source, one.signal, one.words, one.unit, one.factor, one.offset), []).append(one)
    return [_merged(group) for group in found.values()]


def _merged(group: Sequence[Series]) -> Series:
    if len(group) == 1:
        return group[0]
    times = np.concatenate([one.times_s for one in group])
    order = np.argsort(times, kind="stable")
    said = tuple(sorted({words for one in group for words in one.said}))
    first = group[0]
    counts = np.concatenate([one.counts for one in group])[order]
    return Series(
        first.words, first.unit, first.signal, times[order], counts, first.factor, first.offset, first.source, said
    )


def _increasing(times_s: FloatArray, counts: NDArray[np.int64]) -> tuple[FloatArray, NDArray[np.int64], int]:
    """Answers whose time is later than all before: a trace's times increase."""
    if not len(times_s):
        return times_s, counts, 0
    before = np.concatenate(([-np.inf], np.maximum.accumulate(times_s)[:-1]))
    keep = times_s > before
    return times_s[keep], counts[keep], int(len(keep) - keep.sum())
