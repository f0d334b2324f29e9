"""Whether a table holds changes of state: found from the numbers, never from the headings."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from witnessmark.recording.delimited import changing_rows, preview, value_columns
from witnessmark.recording.reader import Sniff

__all__ = ["CHANGING_SHARE", "sniff"]

CHANGING_SHARE = 0.9
"""Share of rows that must change some channel. A sampled signal repeats itself: at nine changes in ten rows it would be
sampled far too slowly to be one. An export that repeats a row now and then is let through."""


def sniff(head: bytes, path: Path) -> Sniff:
    """How likely a file that begins with ``head`` is a list of changes of state.

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
    seen = preview(head)
    if isinstance(seen, str):
        return Sniff(0.0, seen)
    if seen.time_column is None:
        return Sniff(0.0, "no column holds the time")
    levels = seen.columns[:, value_columns(seen.dialect, seen.columns, seen.time_column)]
    two_valued, share = changing_rows(levels)
    if not two_valued:
        return Sniff(0.0, "the channels know more than two values")
    if share < CHANGING_SHARE:
        return Sniff(0.0, f"only {share:.0%} of the rows change a channel")
    plain = bool(np.isin(levels[np.isfinite(levels)], (0.0, 1.0)).all())
    few = len(levels) < 6
    return Sniff(0.95 - 0.15 * (not plain) - 0.2 * few, f"two values a channel, and {share:.0%} of the rows change one")
