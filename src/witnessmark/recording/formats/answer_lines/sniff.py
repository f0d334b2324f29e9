"""Whether a file holds answers as they came."""

from __future__ import annotations

from pathlib import Path

from witnessmark.errors import InputError
from witnessmark.recording.formats.answer_lines.lines import read_line
from witnessmark.recording.reader import HEAD_BYTES, Sniff
from witnessmark.recording.text import to_text

__all__ = ["sniff"]

_FEWEST_LINES = 3


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is a list of answers.

    Parameters
    ----------
    head : bytes
        The first bytes of the file.
    path : Path
        Not opened.

    Returns
    -------
    Sniff
    """
    try:
        lines = to_text(head, path.name).data.splitlines()
    except InputError as error:
        return Sniff(0.0, error.message)
    if len(head) >= HEAD_BYTES:
        lines = lines[:-1]  # the last one may be cut
    full = [line for line in lines if line.strip()]
    answers = sum(read_line(line) is not None for line in full)
    if answers < _FEWEST_LINES or 2 * answers < len(full):
        return Sniff(0.0, "not lines of seconds, colon, and an answer in hexadecimal")
    return Sniff(0.55 + 0.4 * answers / len(full), f"{answers} of {len(full)} lines are an answer in hexadecimal")
