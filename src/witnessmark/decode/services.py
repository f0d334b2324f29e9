"""Questions and answers of SAE J1979 / ISO 15031-5 services 01 to 0A, and of ISO 14229 where a workshop meets them.

Handbook §7: an answer carries the service's number + 40; 7F says no. Bytes that cannot be read are a result with a
reason, never an exception: the rest of a log still decodes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from witnessmark.decode.currentdata import decode_pid, supported
from witnessmark.decode.identifiers import NO_IDENTIFIERS, Identifiers
from witnessmark.decode.negative import Negative
from witnessmark.decode.onboardtest import OnboardTest, decode_oxygen_test, decode_results
from witnessmark.decode.pidtable import pid_table
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.request import Request
from witnessmark.decode.troublecode import TroubleCode, code_list
from witnessmark.decode.uds import CodesAnswer, Identified, decode_codes, decode_identified
from witnessmark.decode.vehicleinfo import Information, decode_information

__all__ = ["Answer", "Cleared", "CodeList", "Part", "Parts", "Plain", "Results", "decode_answer"]


@dataclass(frozen=True, slots=True)
class Part:
    """The answer to one parameter of service 01 or 02.

    Parameters
    ----------
    number : int
    data : bytes
    frame : int, optional
        Number of the freeze frame (service 02).
    """

    number: int
    data: bytes
    frame: int | None = None

    @property
    def asked(self) -> str:
        """What was asked: "01 0C", "02 0C 00"."""
        return f"01 {self.number:02X}" if self.frame is None else f"02 {self.number:02X} {self.frame:02X}"

    def read(self, layout: str = "13") -> tuple[Reading | Unread, ...]:
        """Its readings.

        Parameters
        ----------
        layout : str
            The parameter by which this vehicle counts its oxygen sensors.

        Returns
        -------
        tuple of Reading or Unread
        """
        return decode_pid(self.number, self.data, asked=self.asked, layout=layout)


@dataclass(frozen=True, slots=True)
class Parts:
    """An answer to service 01 or 02: one or several parameters."""

    parts: tuple[Part, ...]
    unread: tuple[Unread, ...] = ()


@dataclass(frozen=True, slots=True)
class CodeList:
    """Codes of service 03 (confirmed), 07 (pending) or 0A (permanent); ``announced``: how many it says it has."""

    service: int
    codes: tuple[TroubleCode, ...]
    announced: int | None = None
    unread: tuple[Unread, ...] = ()

    @property
    def status(self) -> str:
        """What these codes are."""
        return {0x03: "confirmed", 0x07: "pending", 0x0A: "permanent"}[self.service]


@dataclass(frozen=True, slots=True)
class Cleared:
    """Codes were cleared: the evidence before this moment is gone from the vehicle."""

    service: int


@dataclass(frozen=True, slots=True)
class Results:
    """An answer to service 05 or 06; ``monitors``: numbers that a bitmap says exist."""

    service: int
    tests: tuple[OnboardTest, ...] = ()
    monitors: tuple[int, ...] = ()
    unread: tuple[Unread, ...] = ()


@dataclass(frozen=True, slots=True)
class Plain:
    """A positive answer that says nothing of the engine: a session, a control, security."""

    service: int
    raw: bytes


Answer = (
    Negative
    | Parts
    | CodeList
    | Cleared
    | Results
    | Information
    | CodesAnswer
    | tuple[Identified | Unread, ...]
    | Plain
)


def decode_answer(
    payload: bytes, request: Request | None = None, known: Identifiers = NO_IDENTIFIERS
) -> Answer | Unread:
    """What a payload of a control unit says.

    Parameters
    ----------
    payload : bytes
        Any.
    request : Request, optional
        The question, where the log holds it: it settles how many parameters an answer has.
    known : Identifiers
        Of service 22.

    Returns
    -------
    Negative, Parts, CodeList, Cleared, Results, Information, CodesAnswer, tuple of Identified, Plain, or Unread

    Examples
    --------
    >>> decode_answer(bytes.fromhex("410C1AF8")).parts[0].read()[0].value
    1726.0
    """
    if not payload:
        return Unread(payload, "an empty payload")
    if payload[0] == 0x7F:
        if len(payload) < 3:
            return Unread(payload, "a refusal without its reason")
        return Negative(payload[1], payload[2], payload)
    service, data = payload[0] - 0x40, payload[1:]
    if not (0x01 <= service <= 0x3E or 0x83 <= service <= 0x88):
        return Unread(payload, "no answer of a known service")
    if request is not None and request.service != service:
        request = None
    match service:
        case 0x01 | 0x02:
            return _parts(data, request, frames=service == 0x02)
        case 0x03 | 0x07 | 0x0A:
            return _codes(service, data)
        case 0x04 | 0x14:
            return Cleared(service)
        case 0x05:
            return _oxygen(data)
        case 0x06:
            return _results(data)
        case 0x09:
            return decode_information(data[0], data[1:]) if data else Unread(payload, "no information type", "09")
        case 0x19:
            return decode_codes(data, known)
        case 0x22:
            return decode_identified(data, request.numbers if request is not None else (), known)
    return Plain(service, data)


def _parts(data: bytes, request: Request | None, *, frames: bool) -> Parts | Unread:
    if len(data) < 1 + frames:
        return Unread(data, "no parameter", "02" if frames else "01")
    asked = request.numbers if request is not None else ()
    found = list(_walk(data, asked, frames=frames))
    used = sum(1 + frames + len(part.data) for part in found)
    # A lone parameter may be longer than its usual length, as trims of a third bank are: only several of them, or a
    # question for several, make an answer one that has to be cut.
    if len(asked) == 1 or (not asked and used < len(data) and len(found) < 2) or not found:
        frame = data[1] if frames else None
        return Parts((Part(data[0], data[1 + frames :], frame),))
    left = (Unread(data[used:], "bytes behind the last whole parameter", "02" if frames else "01"),)
    return Parts(tuple(found), left if used < len(data) else ())


def _walk(data: bytes, asked: tuple[int, ...], *, frames: bool) -> Iterator[Part]:
    at, head = 0, 1 + frames
    while len(data) - at > head:
        number = data[at]
        pid = pid_table().get(number)
        rest = len(data) - at - head
        if pid is None or (asked and number not in asked):
            return
        length = pid.bytes if pid.bytes is not None else rest
        if length > rest:
            return
        yield Part(number, data[at + head : at + head + length], data[at + 1] if frames else None)
        at += head + length


def _codes(service: int, data: bytes) -> CodeList | Unread:
    """On CAN a count stands before the codes, on older buses not: the number of bytes tells which."""
    asked = f"{service:02X}"
    if not data:
        return Unread(data, "no list of codes", asked)
    if len(data) % 2 == 0:
        return CodeList(service, code_list(data))
    codes, announced = code_list(data[1:]), data[0]
    if announced == len(codes):
        return CodeList(service, codes, announced)
    note = Unread(data, f"it announces {announced} codes and holds {len(codes)}", asked)
    return CodeList(service, codes, announced, (note,))


def _oxygen(data: bytes) -> Results | Unread:
    if len(data) < 2:
        return Unread(data, "no test", "05")
    if data[0] % 0x20 == 0:
        return Results(0x05, monitors=supported(data[0], data[-4:]))
    asked = f"05 {data[0]:02X} {data[1]:02X}"
    test = decode_oxygen_test(data[0], data[2:])
    return Results(0x05, unread=(Unread(data[2:], "not read here", asked),)) if test is None else Results(0x05, (test,))


def _results(data: bytes) -> Results | Unread:
    if not data:
        return Unread(data, "no monitor", "06")
    if data[0] % 0x20 == 0:
        monitors: tuple[int, ...] = ()
        for k in range(0, len(data) - 4, 5):
            monitors += supported(data[k], data[k + 1 : k + 5]) if data[k] % 0x20 == 0 else ()
        return Results(0x06, monitors=monitors)
    tests, left = decode_results(data)
    return Results(0x06, tests, (), (Unread(left, "not a whole result", f"06 {data[0]:02X}"),) if left else ())
