"""Whether a table holds samples."""

from __future__ import annotations

from pathlib import Path

from witnessmark.recording.delimited import changing_rows, preview, value_columns
from witnessmark.recording.reader import Sniff

__all__ = ["sniff"]


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is a table of samples.

    Parameters
    ----------
    head : bytes
        The first bytes of the file.
    path : Path
        Not opened.

    Returns
    -------
    Sniff
        Never above that of a list of changes where the numbers look like one.
    """
    seen = preview(head)
    if isinstance(seen, str):
        return Sniff(0.0, seen)
    channels = value_columns(seen.dialect, seen.columns, seen.time_column)
    if not channels:
        return Sniff(0.0, "no column holds values beside the time")
    if seen.time_column is None:
        return Sniff(0.4, "a table of numbers without a time column")
    two_valued, share = changing_rows(seen.columns[:, channels])
    if two_valued and share > 0.5:
        return Sniff(0.5, f"a table of numbers over time, though {share:.0%} of the rows change a state")
    return Sniff(0.9, "a table of numbers over time")
