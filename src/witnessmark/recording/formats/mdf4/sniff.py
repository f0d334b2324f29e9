"""Whether a file is such a measurement: its first bytes say so."""

from __future__ import annotations

from pathlib import Path

from witnessmark.recording.reader import NO_BUS_LOG, Sniff

__all__ = ["sniff"]


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is such a measurement.

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
    if head.startswith((b"MDF     ", b"UnFinMF ")):
        return Sniff(1.0, f"a measurement file, version {head[8:12].decode('ascii', 'replace')!r}")
    return Sniff(0.0, NO_BUS_LOG)
