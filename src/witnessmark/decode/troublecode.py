"""Trouble codes of SAE J2012 / ISO 15031-6: two or three bytes to text and back.

Handbook §7: bits 15 and 14 the letter, 13 and 12 a digit 0 to 3, then three hexadecimal digits; a third byte says how
it failed. What a code means is none of this module's business.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.errors import DecodeError, InputError

__all__ = ["FAILURES", "TroubleCode", "code_list", "read_code"]

_LETTERS = "PCBU"
_FORM = re.compile(r"([PCBU])([0-3])([0-9A-F]{3})(?:[-:]?([0-9A-F]{2}))?")

FAILURES: Mapping[int, str] = {
    0x00: "no further word",
    0x11: "shorted to ground",
    0x12: "shorted to battery",
    0x13: "open",
    0x14: "shorted to ground or open",
    0x15: "shorted to battery or open",
    0x16: "voltage below its limit",
    0x17: "voltage above its limit",
    0x1A: "resistance below its limit",
    0x1B: "resistance above its limit",
    0x1C: "voltage out of range",
    0x1F: "comes and goes",
    0x23: "signal stuck low",
    0x24: "signal stuck high",
    0x29: "signal invalid",
    0x2F: "signal erratic",
    0x31: "no signal",
    0x62: "signals do not agree",
    0x64: "implausible",
    0x72: "actuator stuck open",
    0x73: "actuator stuck shut",
    0x86: "invalid signal on the bus",
    0x87: "message missing on the bus",
    0x92: "does not work as it should",
    0x96: "fault within the part",
}
"""Words for failure types of SAE J2012, from memory; others are kept as their number."""


@dataclass(frozen=True, slots=True, order=True)
class TroubleCode:
    """One code as it came.

    Parameters
    ----------
    raw : bytes
        Two, or three with a failure type.

    Raises
    ------
    DecodeError
        For another number of bytes.

    Examples
    --------
    >>> str(TroubleCode(bytes([0x00, 0x16]))), str(TroubleCode(bytes([0x00, 0x16, 0x00])))
    ('P0016', 'P0016-00')
    """

    raw: bytes

    def __post_init__(self) -> None:
        if len(self.raw) not in (2, 3):
            raise DecodeError(f"{len(self.raw)} bytes are no code ({self.raw.hex(' ')}); two or three were expected")

    def __str__(self) -> str:
        return self.code if self.failure is None else f"{self.code}-{self.failure:02X}"

    @property
    def code(self) -> str:
        """Letter, digit and three hexadecimal digits."""
        first, second = self.raw[:2]
        return f"{_LETTERS[first >> 6]}{first >> 4 & 3}{first & 0xF:X}{second:02X}"

    @property
    def failure(self) -> int | None:
        """The failure type; None for a code of two bytes."""
        return self.raw[2] if len(self.raw) == 3 else None

    @property
    def failure_words(self) -> str | None:
        """How it failed, where we know the words."""
        return None if self.failure is None else FAILURES.get(self.failure)

    @property
    def is_standard(self) -> bool:
        """Whether the standard gives its meaning, and not the maker.

        P0, P2, P34 to P39, and C0, B0, U0 are the standard's, P1, P30 to P33 and C1, B1, U1, C2, B2, U2 makers'; the
        third hundred of C, B and U is kept back, and counted here as not the standard's (SAE J2012, from memory).
        """
        letter, digit, third = self.code[0], self.code[1], self.code[2]
        if letter == "P":
            return digit in "02" or (digit == "3" and third in "456789")
        return digit == "0"


def read_code(text: str) -> TroubleCode:
    """A code from its text.

    Parameters
    ----------
    text : str
        "P0016", "p0016-00", "P0016:00".

    Returns
    -------
    TroubleCode

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> read_code("U0100-87").raw.hex()
    'c10087'
    """
    found = _FORM.fullmatch(text.strip().upper())
    if found is None:
        raise InputError(f"“{text}” is not a code", given=text, expected="a letter and four digits, as in P0016")
    letter, digit, rest, failure = found.groups()
    number = _LETTERS.index(letter) << 14 | int(digit) << 12 | int(rest, 16)
    return TroubleCode(number.to_bytes(2, "big") + (bytes([int(failure, 16)]) if failure is not None else b""))


def code_list(data: bytes) -> tuple[TroubleCode, ...]:
    """Codes of two bytes, one after the other; 00 00 is filling and no code.

    Parameters
    ----------
    data : bytes
        An odd last byte is not looked at.

    Returns
    -------
    tuple of TroubleCode
    """
    pairs = (data[k : k + 2] for k in range(0, len(data) - 1, 2))
    return tuple(TroubleCode(pair) for pair in pairs if any(pair))
