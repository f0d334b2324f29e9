"""Questions to a control unit: as a log holds them, and as a link sends them."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import InputError

__all__ = ["Request", "read_request"]

_IDENTIFIER = 0x22
_FREEZE, _CURRENT = 0x02, 0x01
_NUMBERED = (0x01, 0x02, 0x05, 0x06, 0x08, 0x09)
_MOST_PARAMETERS = 6  # of one question on CAN (ISO 15031-5, from memory)


@dataclass(frozen=True, slots=True)
class Request:
    r"""One question.

    Parameters
    ----------
    service : int
    numbers : tuple of int
        Parameters, monitors, information types, or identifiers.
    rest : bytes
        What else it says: frame and sensor numbers, subfunction and mask, group of codes.

    Raises
    ------
    InputError
        If a number does not fit its bytes.

    Examples
    --------
    >>> Request(0x01, (0x0C, 0x0D)).payload.hex(" "), Request(0x19, rest=b"\x02\xff").payload.hex(" ")
    ('01 0c 0d', '19 02 ff')
    >>> Request(0x02, (0x0C,), b"\x00").payload.hex(" "), Request(0x22, (0xF190,)).payload.hex(" ")
    ('02 0c 00', '22 f1 90')
    """

    service: int
    numbers: tuple[int, ...] = ()
    rest: bytes = b""

    def __post_init__(self) -> None:
        most = 0xFFFF if self.service == _IDENTIFIER else 0xFF
        if not 0 <= self.service < 0x40 or any(not 0 <= n <= most for n in self.numbers):
            raise InputError(f"no question of service {self.service:02X} asks for {self.numbers}")
        if self.service == _CURRENT and len(self.numbers) > _MOST_PARAMETERS:
            raise InputError(f"{len(self.numbers)} parameters at once", expected=f"at most {_MOST_PARAMETERS}")

    @property
    def payload(self) -> bytes:
        """Its bytes."""
        width = 2 if self.service == _IDENTIFIER else 1
        if self.service == _FREEZE and len(self.rest) == len(self.numbers):
            pairs = zip(self.numbers, self.rest, strict=True)
            return bytes([self.service]) + b"".join(bytes(pair) for pair in pairs)
        return bytes([self.service]) + b"".join(n.to_bytes(width, "big") for n in self.numbers) + self.rest


def read_request(payload: bytes) -> Request | None:
    """A question from its bytes.

    Parameters
    ----------
    payload : bytes
        Any.

    Returns
    -------
    Request or None
        None where they are no question.

    Examples
    --------
    >>> read_request(bytes.fromhex("22F190F40C")).numbers == (0xF190, 0xF40C)
    True
    """
    if not payload or payload[0] >= 0x40:
        return None
    service, data = payload[0], payload[1:]
    if service == _IDENTIFIER:
        numbers = tuple(int.from_bytes(data[k : k + 2], "big") for k in range(0, len(data) - 1, 2))
        return Request(service, numbers, data[2 * len(numbers) :])
    if service == _FREEZE:
        return Request(service, tuple(data[::2]), data[1::2])
    if service in (0x05, 0x08):
        return Request(service, tuple(data[:1]), data[1:])
    if service in _NUMBERED:
        return Request(service, tuple(data[:_MOST_PARAMETERS]), data[_MOST_PARAMETERS:])
    return Request(service, (), data)
