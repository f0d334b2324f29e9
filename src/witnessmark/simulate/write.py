"""Captures as files: the table a person would have exported, and the note they would have put beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
import tomlkit

from witnessmark.recording.types import Recording, RegularTime, Trace

__all__ = ["edge_csv", "sampled_csv", "scan_csv", "sidecar_toml", "write_recording"]


def write_recording(recording: Recording, folder: Path, *, delimiter: str = ",") -> Path:
    """Write a recording and its sidecar.

    Parameters
    ----------
    recording : Recording
        Edges and samples of one instrument share their times; logged values each have their own.
    folder : Path
        Made if absent; files of the same name are replaced.
    delimiter : str

    Returns
    -------
    Path
        Of the table; the sidecar has ``.toml`` behind the same name.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / recording.name
    text = _text_of(recording)(recording, delimiter=delimiter)
    path.write_text(text, encoding="utf-8", newline="\n")
    (folder / f"{recording.name}.toml").write_text(sidecar_toml(recording), encoding="utf-8", newline="\n")
    return path


def _text_of(recording: Recording) -> Callable[..., str]:
    if all(trace.kind == "levels" for trace in recording.traces):
        return edge_csv
    first = recording.traces[0].time
    return sampled_csv if all(trace.time == first for trace in recording.traces) else scan_csv


def edge_csv(recording: Recording, *, delimiter: str = ",") -> str:
    """One row per change of state: time in seconds, then 0 or 1 for each channel.

    Parameters
    ----------
    recording : Recording
    delimiter : str

    Returns
    -------
    str
    """
    first = recording.traces[0]
    digits = _digits(first.stamp_s)
    times = [f"{t:.{digits}f}" for t in first.times_s.tolist()]
    states = np.stack([trace.raw for trace in recording.traces], axis=1).astype(int).tolist()
    rows = (delimiter.join([t, *map(str, row)]) for t, row in zip(times, states, strict=True))
    return _table(["time [s]", *(trace.name for trace in recording.traces)], rows, delimiter)


def sampled_csv(recording: Recording, *, delimiter: str = ",") -> str:
    """One row per sample: time in seconds, then volts for each channel.

    Parameters
    ----------
    recording : Recording
    delimiter : str

    Returns
    -------
    str
    """
    first = recording.traces[0]
    step = first.time.step_s if isinstance(first.time, RegularTime) else 0.0
    digits = _digits(step)
    columns = [[f"{t:.{digits}f}" for t in first.times_s.tolist()]]
    for trace in recording.traces:
        places = _digits(abs(trace.scale) / 2.0, most=6)
        columns.append([f"{v:.{places}f}" for v in trace.values.tolist()])
    rows = (delimiter.join(row) for row in zip(*columns, strict=True))
    return _table(["time [s]", *(f"{t.name} [{t.unit or 'V'}]" for t in recording.traces)], rows, delimiter)


def scan_csv(recording: Recording, *, delimiter: str = ",") -> str:
    """One row per time at which any value stands in the log; a value that was not asked for then leaves its cell empty.

    Parameters
    ----------
    recording : Recording
    delimiter : str

    Returns
    -------
    str
    """
    digits = _digits(recording.traces[0].stamp_s)
    rows: dict[str, list[str]] = {}
    width = len(recording.traces)
    for column, trace in enumerate(recording.traces):
        places = _digits(abs(trace.scale), most=5)
        for time, value in zip(trace.times_s.tolist(), trace.values.tolist(), strict=True):
            rows.setdefault(f"{time:.{digits}f}", [""] * width)[column] = f"{value:.{places}f}"
    lines = (delimiter.join([time, *rows[time]]) for time in sorted(rows, key=float))
    heads = [f"{t.name} [{t.unit}]" if t.unit else t.name for t in recording.traces]
    return _table(["time [s]", *heads], lines, delimiter)


def _digits(step: float, *, most: int = 9) -> int:
    """Decimals that show whole steps exactly, or, for a step that is no short number, tell two neighbours apart."""
    if step <= 0.0:
        return most
    for digits in range(1, most + 1):
        ticks = step * 10.0**digits
        if round(ticks) >= 1 and abs(ticks - round(ticks)) < 1e-6:
            return digits
    return int(min(max(np.ceil(-np.log10(step)) + 2, 1), most))


def _table(heads: list[str], rows: Iterable[str], delimiter: str) -> str:
    return "\n".join([delimiter.join(heads), *rows]) + "\n"


def sidecar_toml(recording: Recording) -> str:
    """What a technician notes beside a recording: which channel is what, and how the engine ran.

    Parameters
    ----------
    recording : Recording

    Returns
    -------
    str
    """
    note = tomlkit.document()
    note.add(tomlkit.comment("Which channel is what, and how the engine ran."))
    condition = recording.condition.as_dict()
    if condition:
        table = tomlkit.table()
        for key, value in condition.items():
            table.add(key, value)
        note.add("condition", table)
    channels = tomlkit.aot()
    for trace in recording.traces:
        channels.append(_channel_note(trace))
    note.add("channel", channels)
    return tomlkit.dumps(note)


def _channel_note(trace: Trace) -> tomlkit.items.Table:
    table = tomlkit.table()
    table.add("index", trace.channel)
    if trace.role:
        table.add("role", trace.role)
    if trace.wheel:
        table.add("wheel", trace.wheel)
    if trace.unit:
        table.add("unit", trace.unit)
    if trace.edge:
        table.add("edge", trace.edge)
    return table
