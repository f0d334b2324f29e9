"""Lines of answers to traces of bytes.

Nothing is decoded on this floor: each byte of each parameter is a trace of its own, named "parameter 0C, byte 1 of 2".
``witnessmark.decode.rawlog`` makes values of them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording.formats.answer_lines.lines import Answer, is_like_an_answer, read_line
from witnessmark.recording.reader import NO_HINTS, TimeHints
from witnessmark.recording.text import to_text
from witnessmark.recording.types import ExplicitTime, Recording, Trace
from witnessmark.source import Step, digest_bytes

__all__ = ["read"]

_NAMED = 5  # lines that a note names; the rest is counted


def read(path: Path, hints: TimeHints = NO_HINTS) -> Recording:
    """The recording in a list of answers.

    Parameters
    ----------
    path : Path
    hints : TimeHints
        Not needed: every line has its time.

    Returns
    -------
    Recording
        A trace for each byte of each parameter; those of one parameter share their times.

    Raises
    ------
    FormatError
        The file holds no such lines.
    DamagedRecording
        Time runs back.
    """
    raw = path.read_bytes()
    text = to_text(raw, path.name)
    answers: dict[tuple[int, int], list[Answer]] = {}
    cut: list[int] = []
    other: list[int] = []
    last_s, equal, count = -np.inf, 0, 0
    for number, line in enumerate(text.data.splitlines(), start=1):
        answer = read_line(line)
        if answer is None:
            if line.strip():
                (cut if is_like_an_answer(line) else other).append(number)
            continue
        if answer.time_s < last_s:
            raise DamagedRecording(
                "time runs back",
                given=f"{answer.time_s:g} s after {last_s:g} s",
                where=f"{path.name}, line {number}",
                todo="Cut the file there, if it holds two logs",
            )
        last_s, count = answer.time_s, count + 1
        group = answers.setdefault((answer.parameter, len(answer.data)), [])
        if group and group[-1].time_s == answer.time_s:
            equal += 1
            group.pop()
        group.append(answer)
    if not answers:
        raise FormatError(
            "no line holds an answer",
            where=path.name,
            expected="seconds, a colon, a parameter and its bytes in hexadecimal",
        )
    notes = (*text.notes, *_left_out(cut, "cut short"), *_left_out(other, "no answer"))
    if equal:
        notes += (f"{equal} answers share their time with the next of the same parameter; the last was kept",)
    digits = max(answer.digits for group in answers.values() for answer in group)
    traces: list[Trace] = []
    for (parameter, width), group in sorted(answers.items()):
        traces += _traces(parameter, width, group, len(traces), stamp_s=10.0**-digits)
    return Recording(
        traces=tuple(traces),
        digest=digest_bytes(raw),
        name=path.name,
        format="answer_lines",
        history=(Step("read", f"answer_lines: {count} answers"),),
        notes=notes,
    )


def _traces(parameter: int, width: int, group: list[Answer], first: int, *, stamp_s: float) -> list[Trace]:
    time = ExplicitTime(np.array([answer.time_s for answer in group], dtype=np.float64))
    rows = np.frombuffer(b"".join(answer.data for answer in group), dtype=np.uint8).reshape(-1, width)
    return [
        Trace(
            f"parameter {parameter:02X}, byte {k + 1} of {width}", first + k, rows[:, k].copy(), time, stamp_s=stamp_s
        )
        for k in range(width)
    ]


def _left_out(lines: list[int], what: str) -> tuple[str, ...]:
    if not lines:
        return ()
    named = ", ".join(map(str, lines[:_NAMED])) + (" …" if len(lines) > _NAMED else "")
    plural = "s" if len(lines) > 1 else ""
    return (f"{len(lines)} line{plural} left out, {what}: line{plural} {named}",)
