"""Vehicle information: identification number, calibrations, how often monitors ran (service 09; F8xx of ISO 14229)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from witnessmark.decode.currentdata import supported
from witnessmark.decode.reading import Unread
from witnessmark.decode.vin import Vin, decode_vin
from witnessmark.errors import DecodeError

__all__ = ["COUNTERS", "Information", "decode_information", "text_in"]

_SUPPORT, _VIN, _CALIBRATION, _VERIFICATION, _COUNTERS, _NAME, _COUNTERS_CI = 0x00, 0x02, 0x04, 0x06, 0x08, 0x0A, 0x0B
_MESSAGE_COUNTS = (0x01, 0x03, 0x05, 0x07, 0x09)
_CALIBRATION_BYTES, _VERIFICATION_BYTES, _VIN_BYTES = 16, 4, 17

COUNTERS = (
    "conditions met",
    "ignition cycles",
    "catalyst bank 1, completed",
    "catalyst bank 1, could have run",
    "catalyst bank 2, completed",
    "catalyst bank 2, could have run",
    "oxygen sensor bank 1, completed",
    "oxygen sensor bank 1, could have run",
    "oxygen sensor bank 2, completed",
    "oxygen sensor bank 2, could have run",
    "recirculation and cam timing, completed",
    "recirculation and cam timing, could have run",
    "secondary air, completed",
    "secondary air, could have run",
    "evaporation, completed",
    "evaporation, could have run",
    "rear oxygen sensor bank 1, completed",
    "rear oxygen sensor bank 1, could have run",
    "rear oxygen sensor bank 2, completed",
    "rear oxygen sensor bank 2, could have run",
)
"""How often monitors of spark ignition ran, in the order of their words (SAE J1979, from memory)."""


@dataclass(frozen=True, slots=True)
class Information:
    """One answer of service 09.

    Parameters
    ----------
    kind : int
        The information type.
    vin : Vin, optional
        Belongs to the owner.
    texts : tuple of str
        Calibration identifications, verification numbers (hexadecimal), or the unit's name.
    counters : mapping of str to int
    supported : tuple of int
    unread : tuple of Unread
    raw : bytes
        Not shown by ``repr``: it may hold the identification number.
    """

    kind: int
    raw: bytes = field(repr=False)
    vin: Vin | None = None
    texts: tuple[str, ...] = ()
    counters: Mapping[str, int] = field(default_factory=dict)
    supported: tuple[int, ...] = ()
    unread: tuple[Unread, ...] = ()

    @property
    def is_private(self) -> bool:
        """Whether its bytes hold the owner's identification number."""
        return self.kind == _VIN


def decode_information(kind: int, data: bytes) -> Information:
    """One information type.

    Parameters
    ----------
    kind : int
    data : bytes
        Behind its number: on CAN a count of items, then the items.

    Returns
    -------
    Information
        What cannot be read is in ``unread``.
    """
    asked = f"09 {kind:02X}"
    if kind % 0x20 == 0:
        return Information(kind, data, supported=supported(kind, data[-4:]))
    if kind == _VIN:
        return _identification(data, asked)
    if kind in (_CALIBRATION, _VERIFICATION):
        return _items(kind, data, asked)
    if kind == _COUNTERS:
        words = data[1:] if len(data) % 2 else data
        numbers = [int.from_bytes(words[k : k + 2], "big") for k in range(0, len(words) - 1, 2)]
        return Information(kind, data, counters=dict(zip(COUNTERS, numbers, strict=False)))
    if kind in _MESSAGE_COUNTS:  # how many messages an older bus needs for the next kind: says nothing here
        return Information(kind, data)
    if kind == _NAME and len(data) > 1:
        # An abbreviation of four characters, filled with zeros, then the name.
        parts = (data[1:] if data[0] < 0x20 else data).split(b"\0")
        return Information(kind, data, texts=(text_in(b" ".join(filter(None, parts))),))
    reason = "too short" if kind == _NAME else "an information type that is not known here"
    return Information(kind, data, unread=(Unread(data, reason, asked),))


def text_in(data: bytes) -> str:
    r"""Letters and digits as they stand, without filling; other bytes as backslash and hexadecimal.

    Examples
    --------
    >>> text_in(b"AB12\x00\x00"), text_in(b"A\xff")
    ('AB12', 'A\\xff')
    """
    return "".join(chr(b) if 0x20 <= b < 0x7F else f"\\x{b:02x}" for b in data.strip(b"\0 ")).strip()


def _identification(data: bytes, asked: str) -> Information:
    body = data.lstrip(b"\0")
    body = (body[1:] if len(body) > _VIN_BYTES else body).strip(b"\0")
    try:
        return Information(_VIN, data, vin=decode_vin(body.decode("ascii", errors="replace")))
    except DecodeError as error:
        # Bytes that are no number may still hold most of one: they stay in ``raw`` only.
        return Information(_VIN, data, unread=(Unread(b"", str(error), asked),))


def _items(kind: int, data: bytes, asked: str) -> Information:
    size = _CALIBRATION_BYTES if kind == _CALIBRATION else _VERIFICATION_BYTES
    body = data[1:] if len(data) % size == 1 else data
    whole = len(body) // size * size
    parts = [body[k : k + size] for k in range(0, whole, size)]
    texts = tuple(text_in(part) if kind == _CALIBRATION else part.hex().upper() for part in parts)
    left = (Unread(body[whole:], "not a whole item", asked),) if whole < len(body) or not body else ()
    return Information(kind, data, texts=texts, unread=left)
