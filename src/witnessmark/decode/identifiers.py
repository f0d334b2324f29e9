"""Identifiers of ISO 14229 service 22: the standard's few, and those that a shop brings in a file of its own.

No maker's identifier is shipped and none is guessed: what no file names stays as its bytes. A shop's file is TOML, a
row for each number in an answer::

    [[identifier]]
    identifier = 0x1234             # two bytes
    name = "cam position, intake"
    at = 0                          # first byte behind the identifier; left out, 0
    bytes = 2                       # left out, 1
    scale = 0.1                     # value = whole number · scale + offset; left out, 1 and 0
    offset = -100.0
    signed = true                   # left out, false
    unit = "deg"
    role = "cam_actual bank=1 cam=intake"   # a line of the closed list of parameters; may be left out
    length = 4                      # bytes of the whole answer, where it is longer than its items

    [[pair]]                        # identifiers of frames, beyond the legislated ones
    request = 0x6A1
    response = 0x6A9
    address_byte = true             # left out, false
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from witnessmark.decode.addressing import Pair
from witnessmark.decode.currentdata import decode_pid
from witnessmark.decode.pidtable import Item, pid_table
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.scaling import Scaling
from witnessmark.decode.vehicleinfo import text_in
from witnessmark.errors import FormatError, InputError, one_of
from witnessmark.recording.parameters import signal_of
from witnessmark.units import convert

__all__ = ["NO_IDENTIFIERS", "STANDARD", "VIN_IDENTIFIER", "Identifier", "Identifiers", "read_identifiers"]

VIN_IDENTIFIER = 0xF190
_VIN_BYTES = 17
_LARGEST_FILE = 4_000_000
_MOST_29 = (1 << 29) - 1
_PAIR_KEYS = ("request", "response", "address_byte")
_KEYS = ("identifier", "name", "at", "bytes", "scale", "offset", "signed", "unit", "role", "length")

STANDARD: Mapping[int, str] = {
    0xF180: "identification of the boot software",
    0xF181: "identification of the application software",
    0xF182: "identification of the application data",
    0xF186: "session that is active",
    0xF187: "part number of the vehicle maker",
    0xF188: "software number of the vehicle maker",
    0xF189: "software version of the vehicle maker",
    0xF18A: "supplier of the unit",
    0xF18B: "date of manufacture of the unit",
    0xF18C: "serial number of the unit",
    VIN_IDENTIFIER: "vehicle identification number",
    0xF191: "hardware number of the vehicle maker",
    0xF192: "hardware number of the supplier",
    0xF193: "hardware version of the supplier",
    0xF194: "software number of the supplier",
    0xF195: "software version of the supplier",
    0xF197: "name of the system or engine",
    0xF198: "number of the workshop",
    0xF199: "date of programming",
    0xF19D: "date of installation",
}
"""Identifiers that ISO 14229-1 itself names (annex C, from memory)."""


@dataclass(frozen=True, slots=True)
class Identifier:
    """One identifier of a shop's file.

    Parameters
    ----------
    number : int
    length : int
        Bytes of its answer.
    items : tuple of Item
    """

    number: int
    length: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Identifiers:
    """What is known of identifiers: the standard's, and a file's.

    Parameters
    ----------
    own : mapping of int to Identifier
    pairs : tuple of Pair
        Who asks and who answers, beyond the legislated ones.
    """

    own: Mapping[int, Identifier] = field(default_factory=dict)
    pairs: tuple[Pair, ...] = ()

    def length_of(self, number: int) -> int | None:
        """Bytes of an identifier's answer; None where it is not known."""
        if number in self.own:
            return self.own[number].length
        if number == VIN_IDENTIFIER:
            return _VIN_BYTES
        pid = pid_table().get(number & 0xFF) if number >> 8 == 0xF4 else None
        return pid.bytes if pid is not None else None

    def read(self, number: int, data: bytes, *, asked: str | None = None) -> tuple[Reading | Unread, ...]:
        """Readings in an identifier's answer.

        Parameters
        ----------
        number : int
        data : bytes
        asked : str, optional
            How the question is written; left out, "22 F40C".

        Returns
        -------
        tuple of Reading or Unread
            Nothing for the vehicle's identification number, which belongs to its owner.
        """
        asked = asked if asked is not None else f"22 {number:04X}"
        if number in self.own:
            return self._own(self.own[number], data, asked)
        if number in (VIN_IDENTIFIER, 0xF802):
            return ()
        if number >> 8 == 0xF4:  # the parameters of current data, under another name
            return decode_pid(number & 0xFF, data, asked=asked)
        if number in STANDARD and data:
            return (Reading(STANDARD[number], text_in(data), "text", data, asked),)
        return (Unread(data, "an identifier that no file here names", asked),)

    def _own(self, known: Identifier, data: bytes, asked: str) -> tuple[Reading | Unread, ...]:
        found: list[Reading | Unread] = []
        for item in known.items:
            scaling = item.scaling
            if len(data) < scaling.end:
                found.append(Unread(data, f"{item.words}: {len(data)} bytes where {scaling.end} are needed", asked))
                continue
            count = scaling.count_of(data)
            signal = signal_of(item.signal) if item.signal is not None else None
            raw = data[scaling.at : scaling.end]
            found.append(Reading(item.words, item.said(count), item.unit, raw, asked, signal, count))
        return tuple(found)


NO_IDENTIFIERS = Identifiers()
"""The standard's alone."""


def read_identifiers(path: Path) -> Identifiers:
    """A shop's file of identifiers.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Identifiers

    Raises
    ------
    InputError
        No such file; a row that does not say what it must, or whose unit does not measure what its role is.
    FormatError
        The file is no TOML.
    """
    try:
        if path.stat().st_size > _LARGEST_FILE:
            raise FormatError("the file is too large for a list of identifiers", where=path.name)
        read = tomllib.loads(path.read_bytes().decode("utf-8"))
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}", given=str(path)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise FormatError(f"the file is no TOML: {error}", where=path.name) from error
    for key in read:
        if key not in ("identifier", "pair"):
            raise one_of("heading", key, ("identifier", "pair"), where=path.name)
    rows, asking = (_rows(read.get(key, []), key, path.name) for key in ("identifier", "pair"))
    if not rows and not asking:
        raise FormatError("the file names no identifiers", where=path.name, expected="rows headed [[identifier]]")
    pairs: list[Pair] = []
    for k, row in enumerate(asking, start=1):
        try:
            pairs.append(_pair(row))
        except InputError as error:
            raise error.at(f"{path.name}, pair {k}") from error
    items: dict[int, list[Item]] = {}
    lengths: dict[int, int] = {}
    for k, row in enumerate(rows, start=1):
        try:
            number, item, length = _row(row)
        except InputError as error:
            raise error.at(f"{path.name}, identifier {k}") from error
        items.setdefault(number, []).append(item)
        lengths[number] = max(lengths.get(number, 0), length, item.scaling.end)
    own = {n: Identifier(n, lengths[n], tuple(found)) for n, found in items.items()}
    return Identifiers(own, tuple(pairs))


def _rows(rows: Any, key: str, name: str) -> list[dict[str, Any]]:
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise FormatError(f"“{key}” is no list of rows", where=name, expected=f"rows headed [[{key}]]")
    return rows


def _pair(row: Mapping[str, Any]) -> Pair:
    for key in row:
        if key not in _PAIR_KEYS:
            raise one_of("key", key, _PAIR_KEYS)
    address_byte = row.get("address_byte", False)
    if not isinstance(address_byte, bool):
        raise InputError(f"address_byte = {address_byte!r}", expected="true or false")
    request, response = (_whole(row, key, None, _MOST_29) for key in ("request", "response"))
    return Pair(request, response, address_byte)


def _row(row: Mapping[str, Any]) -> tuple[int, Item, int]:
    for key in row:
        if key not in _KEYS:
            raise one_of("key", key, _KEYS)
    number = _whole(row, "identifier", None, 0xFFFF)
    name, unit, role = (_text(row, key) for key in ("name", "unit", "role"))
    if not name:
        raise InputError(f"{number:04X} has no name", expected='name = "…"')
    factor, offset = _number(row, "scale", 1.0), _number(row, "offset", 0.0)
    if role:
        wanted = signal_of(role).parameter
        if not wanted.is_number:
            raise InputError(f"“{role}” holds words, not numbers", expected="a parameter with a unit")
        if unit != wanted.unit:
            offset = convert(offset, unit, wanted.unit)
            factor, unit = convert(factor, unit, wanted.unit, is_spread=True), wanted.unit
    signed = row.get("signed", False)
    if not isinstance(signed, bool):
        raise InputError(f"signed = {signed!r}", expected="true or false")
    scaling = Scaling(_whole(row, "at", 0, 4095), _whole(row, "bytes", 1, 6), factor, offset, signed)
    return number, Item(name, unit, scaling, role or None), _whole(row, "length", 0, 4095)


def _whole(row: Mapping[str, Any], key: str, usual: int | None, most: int) -> int:
    value = row.get(key, usual)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
        raise InputError(f"{key} = {value!r}", expected=f"a whole number from 0 to {most}, as in {key} = 2")
    return value


def _number(row: Mapping[str, Any], key: str, usual: float) -> float:
    value = row.get(key, usual)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{key} = {value!r}", expected="a number")
    return float(value)


def _text(row: Mapping[str, Any], key: str) -> str:
    value = row.get(key, "")
    if not isinstance(value, str):
        raise InputError(f"{key} = {value!r}", expected="words in quotation marks")
    return value
