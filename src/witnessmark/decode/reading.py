"""What was read out of a payload, and what could not be."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.recording.parameters import Signal

__all__ = ["Reading", "Unread"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One value that a control unit gave.

    Parameters
    ----------
    words : str
        What it is, with its place.
    value : float or str
        In ``unit``; a word where ``unit`` is "text".
    unit : str
        "" for plain numbers.
    raw : bytes
        The bytes it stands in, verbatim.
    asked : str
        What was asked: "01 0C", "22 F40C".
    signal : Signal, optional
        Its line of the closed list of parameters, where it has one.
    count : int
        The whole number in those bytes.
    """

    words: str
    value: float | str
    unit: str
    raw: bytes
    asked: str
    signal: Signal | None = None
    count: int = 0

    @property
    def role(self) -> str | None:
        """The signal as a trace carries it."""
        return str(self.signal) if self.signal is not None else None


@dataclass(frozen=True, slots=True)
class Unread:
    """Bytes that were not read: kept verbatim, with the reason.

    Parameters
    ----------
    raw : bytes
    reason : str
        In one line, for a person.
    asked : str
        What was asked, as far as it is known.
    """

    raw: bytes
    reason: str
    asked: str = ""

    def __str__(self) -> str:
        place = f"{self.asked}: " if self.asked else ""
        return f"{place}{self.reason} ({self.raw.hex(' ').upper() or 'no bytes'})"
