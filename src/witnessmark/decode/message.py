"""What the transport protocol carries: whole messages, and those that did not become whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["REASONS", "Incomplete", "Message", "unit_name"]

REASONS: Mapping[str, str] = {
    "missing_frame": "a frame of it is missing",
    "repeated_frame": "a frame of it came twice",
    "wrong_order": "its frames came in the wrong order",
    "timed_out": "it broke off",
    "interrupted": "a new message began before its end",
    "refused": "the other side said that it cannot take it",
    "no_first_frame": "its beginning is missing",
    "bad_length": "it announces a length that cannot be",
    "too_long": "it announces more bytes than are taken",
    "short_frame": "a frame of it holds too few bytes",
    "log_ended": "the log ended before it",
}
"""Why a message is not whole: the closed list of reasons, with words for a person."""


@dataclass(frozen=True, slots=True)
class Message:
    """One whole message of one sender.

    Parameters
    ----------
    time_s, end_s : float [s]
        Times of its first and last frame.
    identifier : int
        Of its frames; above 7FF of 29 bits.
    payload : bytes
        Without padding.
    address : int, optional
        The address byte, where the pair has one.
    frames : int
        How many frames it took.
    bus : str
        Name of the bus, where a log holds messages of several.
    """

    time_s: float
    end_s: float
    identifier: int
    payload: bytes
    address: int | None = None
    frames: int = 1
    bus: str = ""

    @property
    def unit(self) -> str:
        """Its identifier as it is written, with the address behind it: "7E8", "18DAF110", "6F1:12"."""
        return unit_name(self.identifier, self.address, self.bus)


@dataclass(frozen=True, slots=True)
class Incomplete:
    """A message that did not become whole: what came of it, and why it is not taken for one.

    Parameters
    ----------
    time_s, end_s : float [s]
        Times of its first and last frame.
    identifier : int
    reason : str
        One of :data:`REASONS`.
    payload : bytes
        What came, verbatim; not to be decoded. Not shown by ``repr``: it may hold a part of what belongs to the owner.
    announced : int, optional
        How many bytes it said it had.
    address : int, optional
    frames : int
    bus : str
    """

    time_s: float
    end_s: float
    identifier: int
    reason: str
    payload: bytes = field(repr=False)
    announced: int | None = None
    address: int | None = None
    frames: int = 1
    bus: str = ""

    @property
    def unit(self) -> str:
        """Its identifier as it is written."""
        return unit_name(self.identifier, self.address, self.bus)

    @property
    def words(self) -> str:
        """What happened, for a person: "7E8 at 12.030 s: a frame of it is missing (13 of 20 bytes)"."""
        count = f"{len(self.payload)} of {self.announced} bytes" if self.announced is not None else "no length known"
        return f"{self.unit} at {self.time_s:.3f} s: {REASONS[self.reason]} ({count})"


def unit_name(identifier: int, address: int | None = None, bus: str = "") -> str:
    """An identifier as it is written: three digits or eight, the address behind it, the bus before it."""
    name = f"{identifier:03X}" if identifier <= 0x7FF else f"{identifier:08X}"
    return " ".join(filter(None, (bus, name if address is None else f"{name}:{address:02X}")))
