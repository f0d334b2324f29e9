"""From bytes to a number and back: a whole number of a few bytes, times a factor, plus an offset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError

__all__ = ["Scaling"]

FloatArray = NDArray[np.float64]
_MOST_BYTES = 6  # 48 bits: every whole number of these is exact in a float


@dataclass(frozen=True, slots=True)
class Scaling:
    """One linear scaling of a standard or of a shop's own file.

    Parameters
    ----------
    at : int
        First byte, from 0.
    width : int
        Bytes, 1 to 6, most significant first.
    factor, offset : float
        Value = factor · whole number + offset.
    signed : bool
        Two's complement.

    Raises
    ------
    InputError
        For a size or a factor that is none.
    """

    at: int = 0
    width: int = 1
    factor: float = 1.0
    offset: float = 0.0
    signed: bool = False

    def __post_init__(self) -> None:
        if self.at < 0 or not 1 <= self.width <= _MOST_BYTES:
            raise InputError(f"{self.width} bytes from byte {self.at} on", expected=f"1 to {_MOST_BYTES} bytes")
        if not (np.isfinite(self.factor) and self.factor != 0 and np.isfinite(self.offset)):
            raise InputError(f"a scaling of {self.factor} and {self.offset}", expected="a factor other than 0")

    @property
    def end(self) -> int:
        """The byte behind its last."""
        return self.at + self.width

    @property
    def low(self) -> int:
        """The lowest whole number it can hold."""
        return -(1 << 8 * self.width - 1) if self.signed else 0

    @property
    def high(self) -> int:
        """The highest."""
        return (1 << 8 * self.width - self.signed) - 1

    def count_of(self, data: bytes) -> int:
        """The whole number that stands in ``data``, which must reach as far as ``end``."""
        return int.from_bytes(data[self.at : self.end], "big", signed=self.signed)

    def value_of(self, data: bytes) -> float:
        """The value in ``data``, in the scaling's unit.

        Examples
        --------
        >>> Scaling(width=2, factor=0.25).value_of(bytes.fromhex("1AF8"))
        1726.0
        """
        return self.count_of(data) * self.factor + self.offset

    def bytes_of(self, value: float) -> bytes:
        """The bytes that come nearest to a value; its ends where the value lies beyond.

        Examples
        --------
        >>> Scaling(width=2, factor=0.25).bytes_of(1726.1).hex()
        '1af8'
        """
        return int(self.counts(np.array([value]))[0]).to_bytes(self.width, "big", signed=self.signed)

    def counts(self, values: FloatArray) -> NDArray[np.int64]:
        """The nearest whole numbers that the bytes can hold.

        Parameters
        ----------
        values : array, shape (n,)

        Returns
        -------
        array of int, shape (n,)
        """
        count = np.floor((np.asarray(values, dtype=np.float64) - self.offset) / self.factor + 0.5)
        return np.asarray(np.clip(count, self.low, self.high), dtype=np.int64)

    def counts_in(self, rows: NDArray[np.uint8]) -> NDArray[np.int64]:
        """The whole numbers in many answers at once.

        Parameters
        ----------
        rows : array of uint8, shape (n, at least ``end``)

        Returns
        -------
        array of int, shape (n,)
        """
        found = np.zeros(len(rows), dtype=np.int64)
        for k in range(self.at, self.end):
            found = found * 256 + rows[:, k]
        return np.where(found > self.high, found - (1 << 8 * self.width), found) if self.signed else found
