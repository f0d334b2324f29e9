"""Who speaks to whom on a diagnostic bus: which identifiers ask, which answer, and which belong together.

After ISO 15765-4 (requests 7DF and 7E0 to 7E7, answers 7E8 to 7EF; with 29 bits 18DB33F1, 18DAxxF1 and 18DAF1xx; read
in a protocol dissector's source, handbook §7). Other pairs of identifiers are given by whoever knows the vehicle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError

__all__ = ["Addresses", "Pair"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

_FUNCTIONAL = 0x7DF
_LOWEST_11, _HIGHEST_11 = 0x7E0, 0x7EF
_MOST_11 = 0x7FF
_PHYSICAL_29, _FUNCTIONAL_29, _TESTER = 0x18DA, 0x18DB, 0xF1


@dataclass(frozen=True, slots=True)
class Pair:
    """Two identifiers that ask and answer each other, beyond the legislated ones.

    Parameters
    ----------
    request, response : int
        Identifiers, of 11 or 29 bits.
    address_byte : bool
        True where the first byte of every frame is an address (extended and mixed addressing of ISO 15765-2).

    Raises
    ------
    InputError
        If an identifier has more than 29 bits, or both are the same.
    """

    request: int
    response: int
    address_byte: bool = False

    def __post_init__(self) -> None:
        for identifier in (self.request, self.response):
            if not 0 <= identifier < 1 << 29:
                raise InputError(f"{identifier:X} is no identifier", expected="at most 29 bits, 1FFFFFFF")
        if self.request == self.response:
            raise InputError(f"{self.request:X} cannot ask and answer", expected="two different identifiers")


class Addresses:
    """What is known of the identifiers of one bus.

    Parameters
    ----------
    pairs : sequence of Pair
        Pairs beyond the legislated ones.
    """

    def __init__(self, pairs: Sequence[Pair] = ()) -> None:
        self.pairs = tuple(pairs)
        self._partners = {p.request: p.response for p in pairs} | {p.response: p.request for p in pairs}
        self._requests = {p.request for p in pairs}
        self._prefixed = {i for p in pairs if p.address_byte for i in (p.request, p.response)}

    def carries_messages(self, identifier: IntArray, extended: BoolArray | None = None) -> BoolArray:
        """Which frames speak the transport protocol.

        Parameters
        ----------
        identifier : array of int, shape (n,)
        extended : array of bool, shape (n,), optional
            True for identifiers of 29 bits; left out, those above 7FF are.

        Returns
        -------
        array of bool, shape (n,)
        """
        short = (identifier == _FUNCTIONAL) | ((identifier >= _LOWEST_11) & (identifier <= _HIGHEST_11))
        head, target, source = identifier >> 16, identifier >> 8 & 0xFF, identifier & 0xFF
        long = (head == _PHYSICAL_29) & ((source == _TESTER) ^ (target == _TESTER))
        long |= (head == _FUNCTIONAL_29) & (source == _TESTER)
        if extended is not None:
            short, long = short & ~extended, long & extended
        return np.asarray(short | long | np.isin(identifier, list(self._partners)))

    def has_address_byte(self, identifier: int) -> bool:
        """Whether the first byte of its frames is an address."""
        return identifier in self._prefixed

    def asks(self, identifier: int) -> bool:
        """Whether an identifier carries requests; False for one that answers, and for one that is not known."""
        if identifier in self._partners:
            return identifier in self._requests
        if identifier <= _MOST_11:
            return identifier == _FUNCTIONAL or _LOWEST_11 <= identifier < _LOWEST_11 + 8
        return identifier & 0xFF == _TESTER and identifier >> 16 in (_PHYSICAL_29, _FUNCTIONAL_29)

    def is_functional(self, identifier: int) -> bool:
        """Whether an identifier asks all control units at once."""
        return identifier == _FUNCTIONAL or (identifier >> 16 == _FUNCTIONAL_29 and identifier & 0xFF == _TESTER)

    def partner(self, identifier: int) -> int | None:
        """The identifier that answers this one, or asks it; None where that is not known.

        Parameters
        ----------
        identifier : int

        Returns
        -------
        int or None

        Examples
        --------
        >>> f"{Addresses().partner(0x7E8):X} {Addresses().partner(0x18DA10F1):X}"
        '7E0 18DAF110'
        """
        if identifier in self._partners:
            return self._partners[identifier]
        if _LOWEST_11 <= identifier <= _HIGHEST_11:
            return identifier ^ 8
        target, source = identifier >> 8 & 0xFF, identifier & 0xFF
        if identifier >> 16 == _PHYSICAL_29 and (target == _TESTER) != (source == _TESTER):
            return _PHYSICAL_29 << 16 | source << 8 | target
        return None
