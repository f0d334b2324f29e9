"""Negative answers: 7F, the service asked for, and why not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["CODES", "Negative"]

CODES: Mapping[int, str] = {
    0x10: "general refusal",
    0x11: "this service is not supported",
    0x12: "this kind of it is not supported",
    0x13: "wrong length or form of the question",
    0x14: "the answer would be too long",
    0x21: "busy, ask again",
    0x22: "conditions are not right",
    0x24: "asked in the wrong order",
    0x25: "a unit behind it does not answer",
    0x26: "a failure keeps it from doing so",
    0x31: "out of range",
    0x33: "locked",
    0x35: "wrong key",
    0x36: "too many attempts",
    0x37: "ask again later",
    0x72: "programming failed",
    0x78: "received, the answer is pending",
    0x7E: "this kind of it not in this session",
    0x7F: "this service not in this session",
}
"""Why not, in our words (ISO 14229-1, from memory; 78 is handbook §7's)."""

_PENDING = 0x78


@dataclass(frozen=True, slots=True)
class Negative:
    """A control unit's no.

    Parameters
    ----------
    service : int
        What was asked for.
    code : int
    raw : bytes
    """

    service: int
    code: int
    raw: bytes

    @property
    def is_pending(self) -> bool:
        """True where the answer is still to come."""
        return self.code == _PENDING

    @property
    def words(self) -> str:
        """Why not, for a person."""
        return CODES.get(self.code, f"reason {self.code:02X}, not known here")
