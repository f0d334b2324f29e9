"""ISO 14229: codes by service 19, identifiers by service 22.

Handbook §7 for 19 02, 14 and 22; layouts of the other kinds of service 19 from memory of ISO 14229-1, held against a
general-purpose library by the tests.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from witnessmark.decode.identifiers import NO_IDENTIFIERS, VIN_IDENTIFIER, Identifiers
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.troublecode import TroubleCode
from witnessmark.decode.vehicleinfo import decode_information
from witnessmark.decode.vin import Vin, decode_vin
from witnessmark.errors import DecodeError

__all__ = [
    "STATUS",
    "CodeRecord",
    "CodesAnswer",
    "Identified",
    "Snapshot",
    "decode_codes",
    "decode_identified",
    "status_of",
]

STATUS = (
    "failed",
    "failed_this_cycle",
    "pending",
    "confirmed",
    "not_completed_since_clear",
    "failed_since_clear",
    "not_completed_this_cycle",
    "lamp",
)
"""Bits of a code's status, the lowest first."""

_INFORMATION = 0xF8  # F8xx: the information types of service 09, under another name (ISO 27145-3, from memory)
_PRIVATE = (VIN_IDENTIFIER, 0xF802)
_COUNTS = (0x01, 0x07, 0x11, 0x12)
_LISTS = (0x02, 0x0A, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x13, 0x15)
_NUMBERS, _SNAPSHOT, _EXTENDED, _COUNTER = 0x03, 0x04, 0x06, 0x14
_SEVERITIES = (0x08, 0x09)
_GROUPED, _GROUPED_PERMANENT = 0x42, 0x55


def status_of(status: int) -> tuple[str, ...]:
    """Names of the bits that are set.

    Parameters
    ----------
    status : int

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> status_of(0x2F)
    ('failed', 'failed_this_cycle', 'pending', 'confirmed', 'failed_since_clear')
    """
    return tuple(name for k, name in enumerate(STATUS) if status >> k & 1)


@dataclass(frozen=True, slots=True)
class CodeRecord:
    """One code as service 19 gives it.

    Parameters
    ----------
    code : TroubleCode
        Of three bytes.
    status : int, optional
    severity, counter, record : int, optional
        Severity byte; fault detection counter (−128 to 127); number of its snapshot.
    """

    code: TroubleCode
    status: int | None = None
    severity: int | None = None
    counter: int | None = None
    record: int | None = None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A record kept with a code.

    Parameters
    ----------
    code : TroubleCode
    status : int
    number : int
        Of the record.
    readings : tuple of Reading
        Of a snapshot.
    unread : tuple of Unread
        What no file names; extended data, whose meaning is the maker's.
    """

    code: TroubleCode
    status: int
    number: int
    readings: tuple[Reading, ...] = ()
    unread: tuple[Unread, ...] = ()


@dataclass(frozen=True, slots=True)
class CodesAnswer:
    """An answer to service 19.

    Parameters
    ----------
    kind : int
        The subfunction.
    raw : bytes
        Behind the subfunction.
    mask : int, optional
        Bits of the status that this unit keeps.
    count : int, optional
        How many codes, where only that was asked.
    records : tuple of CodeRecord
    snapshots, extended : tuple of Snapshot
    unread : tuple of Unread
    """

    kind: int
    raw: bytes
    mask: int | None = None
    count: int | None = None
    records: tuple[CodeRecord, ...] = ()
    snapshots: tuple[Snapshot, ...] = ()
    extended: tuple[Snapshot, ...] = ()
    unread: tuple[Unread, ...] = ()


@dataclass(frozen=True, slots=True)
class Identified:
    """An identifier's answer.

    Parameters
    ----------
    number : int
    raw : bytes
        Not shown by ``repr``: it may hold the identification number.
    readings : tuple of Reading
    vin : Vin, optional
        Belongs to the owner.
    unread : tuple of Unread
    """

    number: int
    raw: bytes = field(repr=False)
    readings: tuple[Reading, ...] = ()
    vin: Vin | None = None
    unread: tuple[Unread, ...] = ()

    @property
    def is_private(self) -> bool:
        """Whether its bytes hold the owner's identification number."""
        return self.number in _PRIVATE


def decode_codes(payload: bytes, known: Identifiers = NO_IDENTIFIERS) -> CodesAnswer | Unread:
    """A positive answer to service 19.

    Parameters
    ----------
    payload : bytes
        Behind 59.
    known : Identifiers
        For what stands in snapshots.

    Returns
    -------
    CodesAnswer or Unread

    Examples
    --------
    >>> decode_codes(bytes.fromhex("02FF0016002F03010008")).records[0].code.code
    'P0016'
    """
    if not payload:
        return Unread(payload, "no kind of report", "19")
    kind, data, asked = payload[0], payload[1:], f"19 {payload[0]:02X}"
    if kind in _COUNTS and len(data) >= 4:
        return CodesAnswer(kind, data, mask=data[0], count=int.from_bytes(data[2:4], "big"))
    if kind in _LISTS and data:
        return _list(kind, data, asked, head=1, size=4)
    if kind in _SEVERITIES and data:
        return _list(kind, data, asked, head=1, size=6)
    if kind == _GROUPED and len(data) >= 4:
        return _list(kind, data, asked, head=4, size=5)
    if kind == _GROUPED_PERMANENT and len(data) >= 3:
        return _list(kind, data, asked, head=3, size=4)
    if kind in (_NUMBERS, _COUNTER):
        return _list(kind, data, asked, head=0, size=4)
    if kind in (_SNAPSHOT, _EXTENDED) and len(data) >= 4:
        return _kept(kind, data, asked, known)
    if kind in (*_COUNTS, *_LISTS, *_SEVERITIES, _GROUPED, _GROUPED_PERMANENT, _SNAPSHOT, _EXTENDED):
        return Unread(payload, "too short", asked)
    return Unread(payload, "a kind of report that is not read here", asked)


def decode_identified(
    payload: bytes, asked: tuple[int, ...] = (), known: Identifiers = NO_IDENTIFIERS
) -> tuple[Identified | Unread, ...]:
    """A positive answer to service 22: one identifier, or several one after the other.

    Parameters
    ----------
    payload : bytes
        Behind 62.
    asked : tuple of int
        Identifiers of the question, where the log holds it.
    known : Identifiers

    Returns
    -------
    tuple of Identified or Unread
        An identifier whose length is not known takes all that follows it.
    """
    found: list[Identified | Unread] = []
    at = 0
    while at < len(payload):
        if len(payload) - at < 2:
            found.append(Unread(payload[at:], "half an identifier", "22"))
            break
        number = int.from_bytes(payload[at : at + 2], "big")
        if found and asked and number not in asked:
            found.append(Unread(payload[at:], "bytes beyond what was asked", "22"))
            break
        length = None if len(asked) == 1 else known.length_of(number)
        end = len(payload) if length is None else min(at + 2 + length, len(payload))
        found.append(_identified(number, payload[at + 2 : end], known))
        at = end
    return tuple(found) or (Unread(payload, "no identifier", "22"),)


def _identified(number: int, data: bytes, known: Identifiers) -> Identified:
    if number == VIN_IDENTIFIER and number not in known.own:
        try:
            return Identified(number, data, vin=decode_vin(data.strip(b"\0").decode("ascii", errors="replace")))
        except DecodeError as error:
            return Identified(number, data, unread=(Unread(b"", str(error), "22 F190"),))
    if number == _INFORMATION << 8 | 0x02:
        told = decode_information(0x02, data)
        return Identified(number, data, vin=told.vin, unread=told.unread)
    readings, unread = _parted(known.read(number, data))
    return Identified(number, data, readings, None, unread)


def _parted(read: tuple[Reading | Unread, ...]) -> tuple[tuple[Reading, ...], tuple[Unread, ...]]:
    return (
        tuple(one for one in read if isinstance(one, Reading)),
        tuple(one for one in read if isinstance(one, Unread)),
    )


def _list(kind: int, data: bytes, asked: str, *, head: int, size: int) -> CodesAnswer:
    body = data[head:]
    whole = len(body) // size * size
    rows = (body[k : k + size] for k in range(0, whole, size))
    # Zeros are filling, and no code: P0000-00 does not exist.
    records = tuple(_record(kind, row) for row in rows if any(row))
    left = body[whole:]
    unread = (Unread(left, "not a whole code", asked),) if any(left) else ()
    mask = None if not head else data[1 if head > 1 else 0]
    return CodesAnswer(kind, data, mask=mask, records=records, unread=unread)


def _record(kind: int, row: bytes) -> CodeRecord:
    if kind == _NUMBERS:
        return CodeRecord(TroubleCode(row[:3]), record=row[3])
    if kind == _COUNTER:
        return CodeRecord(TroubleCode(row[:3]), counter=int.from_bytes(row[3:4], "big", signed=True))
    if kind in _SEVERITIES:
        return CodeRecord(TroubleCode(row[2:5]), row[5], severity=row[0])
    if kind == _GROUPED:
        return CodeRecord(TroubleCode(row[1:4]), row[4], severity=row[0])
    return CodeRecord(TroubleCode(row[:3]), row[3])


def _kept(kind: int, data: bytes, asked: str, known: Identifiers) -> CodesAnswer:
    code, status, body = TroubleCode(data[:3]), data[3], data[4:]
    record = CodeRecord(code, status)
    if kind == _EXTENDED:
        # Lengths of extended records are the maker's: all behind the first number stays as it came.
        kept = (
            (Snapshot(code, status, body[0], unread=(Unread(body[1:], "the maker's record", asked),)),) if body else ()
        )
        return CodesAnswer(kind, data, records=(record,), extended=kept)
    return CodesAnswer(kind, data, records=(record,), snapshots=tuple(_snapshots(code, status, body, asked, known)))


def _snapshots(code: TroubleCode, status: int, body: bytes, asked: str, known: Identifiers) -> Iterator[Snapshot]:
    at = 0
    while len(body) - at >= 2:
        number, left = body[at], body[at + 1]
        at += 2
        readings: list[Reading] = []
        unread: list[Unread] = []
        while left and len(body) - at >= 2:
            identifier = int.from_bytes(body[at : at + 2], "big")
            length = known.length_of(identifier)
            # The last identifier of the last record needs no length; any other of unknown length ends the reading.
            end = len(body) if length is None else min(at + 2 + length, len(body))
            some, rest = _parted(known.read(identifier, body[at + 2 : end], asked=f"{asked} {identifier:04X}"))
            readings, unread, at, left = [*readings, *some], [*unread, *rest], end, left - 1
        if left:
            unread.append(Unread(b"", f"{left} more of the record cannot be told apart", asked))
        yield Snapshot(code, status, number, tuple(readings), tuple(unread))
