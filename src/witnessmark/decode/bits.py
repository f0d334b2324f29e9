"""Numbers out of the bytes of many frames at once.

A field is a run of bits in a frame. Bits are numbered as descriptions of frames number them: bit 0 is the lowest of
byte 0, bit 8 the lowest of byte 1. In Intel order ("little") a field starts at its lowest bit and runs upward; in
Motorola order ("big") it starts at its highest bit and runs downward through each byte and on into the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError

__all__ = ["Field", "field_values"]

Bytes = NDArray[np.uint8]
Order = Literal["little", "big"]
_FLOATS = {16: np.float16, 32: np.float32, 64: np.float64}
_MOST_BITS = 512  # the longest frame


@dataclass(frozen=True, slots=True)
class Field:
    """Where a number stands in a frame, and how it is written.

    Parameters
    ----------
    start : int
        Bit number of its lowest bit ("little") or its highest ("big").
    length : int
        Bits, from 1.
    order : "little" or "big"
    signed : bool
        Two's complement.
    floating : bool
        IEEE 754 of 16, 32 or 64 bits.

    Raises
    ------
    InputError
        For a field that no frame holds, or a floating-point number of another length.

    Examples
    --------
    >>> Field(16, 16, "little").bytes_needed
    4
    """

    start: int
    length: int
    order: Order
    signed: bool = False
    floating: bool = False

    def __post_init__(self) -> None:
        if self.length < 1 or self.start < 0 or self.first + self.length > _MOST_BITS:
            raise InputError(
                "a field that no frame holds",
                given=f"{self.length} bits from bit {self.start}",
                expected="1 to 512 bits within 64 bytes",
            )
        if self.floating and self.length not in _FLOATS:
            raise InputError(
                "a floating-point number of that length", given=f"{self.length} bits", expected="16, 32 or 64"
            )

    @staticmethod
    def of_bytes(first: int, last: int, order: Order, *, signed: bool = False) -> Field:
        """A field of whole bytes, counted from 0.

        Parameters
        ----------
        first, last : int
            Both belong to it.
        order : "little" or "big"
            Which byte counts least: the first or the last.
        signed : bool
        """
        start = 8 * first if order == "little" else 8 * first + 7
        return Field(start, 8 * (last - first + 1), order, signed)

    @property
    def first(self) -> int:
        """Bits that lie before it when a frame is read in its order."""
        return self.start if self.order == "little" else 8 * (self.start // 8) + 7 - self.start % 8

    @property
    def bytes_needed(self) -> int:
        """How long a frame must be to hold it whole."""
        return (self.first + self.length + 7) // 8


def field_values(data: Bytes, field: Field) -> NDArray[np.generic]:
    """The numbers of one field in all frames, not scaled.

    Parameters
    ----------
    data : array of bytes, shape (n, width)
    field : Field
        Within ``width``.

    Returns
    -------
    array, shape (n,)
        In the smallest type that holds them all; floating point for fields of more than 64 bits, which no whole-number
        type holds.

    Raises
    ------
    InputError
        The frames are shorter than the field.

    Examples
    --------
    >>> field_values(np.array([[0, 0, 0x0B, 0xB8]], np.uint8), Field(23, 16, "big"))
    array([3000], dtype=uint16)
    """
    if field.bytes_needed > data.shape[1]:
        raise InputError(
            "frames too short for the field",
            given=f"{data.shape[1]} bytes",
            expected=f"at least {field.bytes_needed}",
        )
    if field.length > 64:
        return _long(data, field)
    raw = _gathered(data, field)
    if field.floating:
        bits = raw.astype(f"<u{field.length // 8}")
        return bits.view(_FLOATS[field.length])
    if field.signed:
        return _signed(raw, field.length)
    return raw.astype(np.min_scalar_type((1 << field.length) - 1))


def _gathered(data: Bytes, field: Field) -> NDArray[np.uint64]:
    """The bits of a field of at most 64, as whole numbers; they may touch nine bytes."""
    first, last = field.first // 8, (field.first + field.length - 1) // 8
    value = np.zeros(len(data), np.uint64)
    if field.order == "little":
        # The lowest byte first; what lies below the field falls off, the ninth byte comes in above.
        for i in range(first, min(last, first + 7) + 1):
            value |= data[:, i].astype(np.uint64) << np.uint64(8 * (i - first))
        below = field.first % 8
        value >>= np.uint64(below)
        if last - first == 8:
            value |= data[:, last].astype(np.uint64) << np.uint64(64 - below)
    else:
        below = 7 - (field.first + field.length - 1) % 8
        for i in range(first, min(last, first + 7) + 1):
            value = value << np.uint64(8) | data[:, i]
        if last - first == 8:
            value = value << np.uint64(8 - below) | data[:, last] >> np.uint8(below)
        else:
            value >>= np.uint64(below)
    return value & np.uint64((1 << field.length) - 1)


def _signed(raw: NDArray[np.uint64], length: int) -> NDArray[np.generic]:
    above = np.uint64(64 - length)
    value = (raw << above).view(np.int64) >> above.astype(np.int64)
    return value.astype(np.min_scalar_type(-(1 << (length - 1))))


def _long(data: Bytes, field: Field) -> NDArray[np.float64]:
    """Numbers of more than 64 bits, one by one."""
    first, last = field.first // 8, field.bytes_needed
    below = field.first % 8 if field.order == "little" else 8 * last - field.first - field.length
    mask, half = (1 << field.length) - 1, 1 << (field.length - 1)
    found = np.empty(len(data))
    for i, row in enumerate(np.ascontiguousarray(data[:, first:last])):
        value = int.from_bytes(row.tobytes(), field.order) >> below & mask
        found[i] = value - (mask + 1) if field.signed and value >= half else value
    return found
