"""What a reader of one format is: two functions in a folder of its own.

``sniff(head, path)`` looks at the first bytes and says how likely the format is, and why. ``read(path, hints)`` gives
the recording. Neither knows of roles and conditions; ``witnessmark.recording.read`` adds those from the sidecar.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from witnessmark.recording.types import Recording

__all__ = ["HEAD_BYTES", "NO_BUS_LOG", "NO_HINTS", "Reader", "Sniff", "TimeHints"]

HEAD_BYTES = 65_536
"""How much of a file a reader may look at before it says whether it takes the file."""

NO_BUS_LOG = "no log of a bus"
"""What the readers of bus logs say of everything else; a message leaves it out where other readers say more."""


@dataclass(frozen=True, slots=True)
class Sniff:
    """How sure a reader is that a file is its own.

    Parameters
    ----------
    confidence : float
        0 (not mine) to 1.
    reason : str
        Why, in words that can stand in an error message.
    """

    confidence: float
    reason: str


@dataclass(frozen=True, slots=True)
class TimeHints:
    """What the sidecar says about time, for files that do not say it themselves.

    Parameters
    ----------
    column : int, optional
        Which column of the file holds the time, from 0.
    unit : str, optional
        Unit of that column.
    step_s : float, optional
        Time between rows of a file that has no time column [s].
    start_s : float
        Time of the first row of such a file [s].
    """

    column: int | None = None
    unit: str | None = None
    step_s: float | None = None
    start_s: float = 0.0


NO_HINTS = TimeHints()


class Reader(Protocol):
    """A module that reads one format."""

    def sniff(self, head: bytes, path: Path) -> Sniff:
        """How likely a file that begins with ``head`` is of this format; never raises."""

    def read(self, path: Path, hints: TimeHints = NO_HINTS) -> Recording:
        """The recording in a file."""
