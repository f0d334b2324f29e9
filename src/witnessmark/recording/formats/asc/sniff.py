"""Whether a text is such a log."""

from __future__ import annotations

import re
from pathlib import Path

from witnessmark.recording.reader import NO_BUS_LOG, Sniff

__all__ = ["sniff"]

_BASE = re.compile(rb"^\s*base\s+(?:hex|dec)\b", re.MULTILINE | re.IGNORECASE)
_FRAME = re.compile(
    rb"^\s*\d+\.\d+\s+(?:\d+\s+[0-9A-Fa-f]+x?\s+(?:Rx|Tx)\s+[dr]\b|CANFD\s+\d+\s+(?:Rx|Tx)\b)",
    re.MULTILINE | re.IGNORECASE,
)


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is such a log.

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
    said, frame = _BASE.search(head[:4096]), _FRAME.search(head)
    if said and frame:
        return Sniff(1.0, "it names the base of its numbers, and frames follow")
    if said or frame:
        return Sniff(0.92 if frame else 0.6, "lines of frames" if frame else "it names the base of its numbers")
    return Sniff(0.0, NO_BUS_LOG)
