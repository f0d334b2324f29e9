"""Whether a text is such a log: its first lines say so."""

from __future__ import annotations

import re
from pathlib import Path

from witnessmark.recording.reader import NO_BUS_LOG, Sniff

__all__ = ["sniff"]

_VERSION = re.compile(rb"^;\$FILEVERSION\s*=", re.MULTILINE)
# Version 1.0 says nothing about itself: remarks, then numbered lines with time, identifier, length and bytes.
_OLDEST = re.compile(
    rb"^;[^\n]*\n(?:[^\n]*\n)*?\s*\d+\)\s+\d+(?:\.\d+)?\s+[0-9A-Fa-f]{4,8}\s+[0-8](?:\s+[0-9A-Fa-f]{2}|\s+RTR)*\s*$",
    re.MULTILINE,
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
    start = head.removeprefix(b"\xef\xbb\xbf")[:8192].replace(b"\r\n", b"\n")
    if not start.startswith(b";"):
        return Sniff(0.0, NO_BUS_LOG)
    if _VERSION.search(start):
        return Sniff(1.0, "its first lines name the version of a bus log")
    if _OLDEST.match(start):
        return Sniff(0.95, "remarks, then numbered frames")
    return Sniff(0.0, NO_BUS_LOG)
