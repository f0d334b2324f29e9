"""Recordings of undecoded answers to recordings of values."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.pidtable import pid_table
from witnessmark.decode.series import Series, pid_series, traces_of
from witnessmark.recording.types import Recording, Trace
from witnessmark.source import Step

__all__ = ["decode_raw", "is_raw"]

_NAME = re.compile(r"parameter ([0-9A-F]{2}), byte (\d+) of (\d+)")


def is_raw(recording: Recording) -> bool:
    """Whether a recording holds undecoded answers."""
    return recording.format == "answer_lines" and all(step.name != "decode" for step in recording.history)


def decode_raw(recording: Recording, layout: str | None = None) -> Recording:
    """Values of the answers that a recording holds as bytes.

    Parameters
    ----------
    recording : Recording
        As the reader ``answer_lines`` gives it.
    layout : str, optional
        The parameter by which the vehicle counts its oxygen sensors; left out, 1D where it answered that and not 13.

    Returns
    -------
    Recording
        A trace for each value, its signal as role. Parameters that are not known stay as bytes, and a note says so.
    """
    groups: dict[tuple[int, int], dict[int, Trace]] = {}
    for trace in recording:
        found = _NAME.fullmatch(trace.name)
        if found is not None:
            number, byte, width = int(found[1], 16), int(found[2]), int(found[3])
            groups.setdefault((number, width), {})[byte] = trace
    numbers = {number for number, _ in groups}
    layout = layout or ("1D" if 0x1D in numbers and 0x13 not in numbers else "13")
    series: list[Series] = []
    kept: list[Trace] = []
    notes: list[str] = []
    for (number, width), bytes_ in sorted(groups.items()):
        if len(bytes_) != width:
            continue
        rows: NDArray[np.uint8] = np.stack([bytes_[k].raw for k in range(1, width + 1)], axis=1).astype(np.uint8)
        read = pid_series(number, bytes_[1].times_s, rows, layout=layout)
        series += read
        if not read:
            kept += [bytes_[k] for k in range(1, width + 1)]
            notes += _why(number, width, rows)
    stamp = max((trace.stamp_s for trace in recording), default=0.0)
    traces, words, more = traces_of(series, stamp_s=stamp)
    whole = (*traces, *(replace(trace, channel=len(traces) + k) for k, trace in enumerate(kept)))
    return replace(
        recording,
        traces=whole,
        header={**recording.header, **words},
        history=(*recording.history, Step("decode", "current data of SAE J1979")),
        notes=(*recording.notes, *notes, *more),
    )


def _why(number: int, width: int, rows: NDArray[np.uint8]) -> list[str]:
    pid = pid_table().get(number)
    if pid is None:
        return [f"parameter {number:02X} is not known here and stays as bytes"]
    if width < max(pid.least_bytes, 1):
        return [f"{len(rows)} answers to {number:02X} have {width} bytes where {pid.least_bytes} are needed"]
    return [] if pid.kind != "values" else [f"parameter {number:02X} ({pid.words}) says “not used”, or stays as bytes"]
