"""Whether a file is such a log: its first four bytes say so."""

from __future__ import annotations

from pathlib import Path

from witnessmark.recording.reader import NO_BUS_LOG, Sniff

__all__ = ["sniff"]


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
    return Sniff(1.0, "it begins as a packed bus log") if head.startswith(b"LOGG") else Sniff(0.0, NO_BUS_LOG)
