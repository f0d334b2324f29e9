"""Whether a text holds frames, a frame a line."""

from __future__ import annotations

from pathlib import Path

from witnessmark.recording.formats.candump.oddlines import REMARK, read_line
from witnessmark.recording.reader import NO_BUS_LOG, Sniff

__all__ = ["sniff"]

_LOOKED_AT = 200  # lines


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is a log of such lines.

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
    lines = [line for line in head.removeprefix(b"\xef\xbb\xbf").splitlines() if line.strip()]
    # The last line of what was looked at may be cut.
    seen = [read_line(line[:400]) for line in (lines[:-1] or lines)[:_LOOKED_AT]]
    told = [one for one in seen if one != REMARK]
    frames = sum(not isinstance(one, str) for one in told)
    if not frames or 2 * frames < len(told):
        return Sniff(0.0, NO_BUS_LOG)
    return Sniff(1.0 if frames == len(told) else 0.9, f"{frames} of its first {len(told)} lines are frames of a bus")
