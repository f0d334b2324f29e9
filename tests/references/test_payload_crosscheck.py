"""Payloads of ISO 14229 against udsoncan, a general-purpose library (extra "crosscheck"): its questions, its reading of
answers to 19, 22, 14, and negative answers."""

from __future__ import annotations

import struct
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.decode.identifiers import Identifier, Identifiers
from witnessmark.decode.negative import CODES, Negative
from witnessmark.decode.pidtable import Item
from witnessmark.decode.request import Request, read_request
from witnessmark.decode.scaling import Scaling
from witnessmark.decode.services import Cleared, decode_answer
from witnessmark.decode.troublecode import TroubleCode
from witnessmark.decode.uds import STATUS, CodesAnswer, Identified, status_of

udsoncan: ModuleType = pytest.importorskip("udsoncan", exc_type=ImportError)

CODE_BYTES = st.binary(min_size=3, max_size=3).filter(any)
RECORDS = st.lists(st.tuples(CODE_BYTES, st.integers(0, 255)), max_size=12, unique_by=lambda row: row[0])


SEVERE = st.lists(
    st.tuples(st.sampled_from((0x20, 0x40, 0x80)), st.integers(0, 255), CODE_BYTES, st.integers(0, 255)),
    min_size=1,
    max_size=1,
)


def read_there(payload: bytes, **more: Any) -> Any:
    """What the library makes of an answer to service 19."""
    response = udsoncan.Response.from_payload(payload)
    service = udsoncan.services.ReadDTCInformation
    # The edition of 2013 still has the kinds of report that the one of 2020 dropped.
    usual = {"tolerate_zero_padding": True, "ignore_all_zero_dtc": True, "standard_version": 2013}
    return service.interpret_response(response, payload[1], **usual | more).service_data


def ours(payload: bytes, known: Identifiers | None = None) -> CodesAnswer:
    answer = decode_answer(payload, known=known) if known is not None else decode_answer(payload)
    assert isinstance(answer, CodesAnswer)
    return answer


def numbered(code: TroubleCode) -> int:
    return int.from_bytes(code.raw, "big")


@settings(max_examples=60, deadline=None)
@given(st.sampled_from((0x02, 0x0A, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x13, 0x15)), st.integers(0, 255), RECORDS)
def test_lists_of_codes(kind: int, mask: int, records: list[tuple[bytes, int]]) -> None:
    payload = bytes([0x59, kind, mask]) + b"".join(code + bytes([status]) for code, status in records)
    theirs, mine = read_there(payload), ours(payload)
    assert [(numbered(r.code), r.status) for r in mine.records] == [
        (d.id, d.status.get_byte_as_int()) for d in theirs.dtcs
    ]
    assert mine.mask == theirs.status_availability.get_byte_as_int() == mask


@settings(max_examples=30, deadline=None)
@given(st.sampled_from((0x01, 0x07, 0x11, 0x12)), st.integers(0, 255), st.integers(0, 0xFFFF))
def test_numbers_of_codes(kind: int, mask: int, count: int) -> None:
    payload = bytes([0x59, kind, mask, 0x01]) + count.to_bytes(2, "big")
    assert ours(payload).count == read_there(payload).dtc_count == count


@settings(max_examples=30, deadline=None)
@given(st.sampled_from((0x08, 0x09)), st.integers(0, 255), SEVERE)
def test_codes_with_severity(kind: int, mask: int, records: list[tuple[int, int, bytes, int]]) -> None:
    rows = b"".join(bytes([severity, unit]) + code + bytes([status]) for severity, unit, code, status in records)
    payload = bytes([0x59, kind, mask]) + rows
    theirs, mine = read_there(payload), ours(payload)
    assert [(numbered(r.code), r.status, r.severity) for r in mine.records] == [
        (d.id, d.status.get_byte_as_int(), d.severity.get_byte_as_int()) for d in theirs.dtcs
    ]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(CODE_BYTES, st.integers(1, 0xFE)), max_size=8, unique_by=lambda row: row[0]))
def test_numbers_of_snapshots_and_counters(records: list[tuple[bytes, int]]) -> None:
    body = b"".join(code + bytes([number]) for code, number in records)
    theirs, mine = read_there(b"\x59\x03" + body), ours(b"\x59\x03" + body)
    assert [(numbered(r.code), r.record) for r in mine.records] == [
        (d.id, number) for d in theirs.dtcs for number in d.snapshots
    ]
    theirs, mine = read_there(b"\x59\x14" + body), ours(b"\x59\x14" + body)
    assert [numbered(r.code) for r in mine.records] == [d.id for d in theirs.dtcs]
    # The library takes the counter for a number without sign; ISO 14229-1 counts from −128 to 127 (from memory).
    assert [r.counter % 256 for r in mine.records if r.counter is not None] == [
        d.fault_counter % 256 for d in theirs.dtcs
    ]


KNOWN = Identifiers({
    0x4711: Identifier(0x4711, 2, (Item("speed of something", "rpm", Scaling(width=2, factor=0.25)),)),
    0x4712: Identifier(0x4712, 1, (Item("warmth of something", "C", Scaling(offset=-40.0)),)),
})  # fmt: skip


class Quarter(udsoncan.DidCodec):  # type: ignore[misc]
    def encode(self, value: float) -> bytes:
        return struct.pack(">H", int(value * 4))

    def decode(self, payload: bytes) -> float:
        return float(struct.unpack(">H", payload)[0]) / 4

    def __len__(self) -> int:
        return 2


class Warmth(udsoncan.DidCodec):  # type: ignore[misc]
    def encode(self, value: float) -> bytes:
        return bytes([int(value) + 40])

    def decode(self, payload: bytes) -> float:
        return float(payload[0] - 40)

    def __len__(self) -> int:
        return 1


CODECS = {0x4711: Quarter, 0x4712: Warmth}
VALUES = st.tuples(st.integers(0, 0xFFFF).map(lambda n: n / 4), st.integers(-40, 215).map(float))


SNAPSHOTS = st.lists(st.tuples(st.integers(1, 254), VALUES), min_size=1, max_size=3, unique_by=lambda row: row[0])


def did_bytes(speed: float, warmth: float) -> bytes:
    return b"\x47\x11" + Quarter().encode(speed) + b"\x47\x12" + Warmth().encode(warmth)


@settings(max_examples=30, deadline=None)
@given(CODE_BYTES, st.integers(0, 255), SNAPSHOTS)
def test_snapshots(code: bytes, status: int, records: list[tuple[int, tuple[float, float]]]) -> None:
    payload = b"\x59\x04" + code + bytes([status])
    for number, values in records:
        payload += bytes([number, 2]) + did_bytes(*values)
    theirs = read_there(payload, didconfig=CODECS, dtc_snapshot_did_size=2).dtcs[0]
    mine = ours(payload, KNOWN)
    assert [(s.number, r.value) for s in mine.snapshots for r in s.readings] == [
        (s.record_number, s.data) for s in theirs.snapshots
    ]
    assert numbered(mine.records[0].code) == theirs.id
    assert not [u for s in mine.snapshots for u in s.unread]


@settings(max_examples=30, deadline=None)
@given(CODE_BYTES, st.integers(0, 255), st.integers(1, 0xEF), st.binary(min_size=1, max_size=10))
def test_extended_data(code: bytes, status: int, number: int, data: bytes) -> None:
    payload = b"\x59\x06" + code + bytes([status, number]) + data
    theirs = read_there(payload, extended_data_size=len(data)).dtcs[0].extended_data[0]
    (mine,) = ours(payload).extended
    assert (mine.number, mine.unread[0].raw) == (theirs.record_number, theirs.raw_data)


@settings(max_examples=30, deadline=None)
@given(VALUES)
def test_identifiers(values: tuple[float, float]) -> None:
    payload = b"\x62" + did_bytes(*values)
    response = udsoncan.Response.from_payload(payload)
    theirs = udsoncan.services.ReadDataByIdentifier.interpret_response(
        response, [0x4711, 0x4712], CODECS
    ).service_data.values
    answer = decode_answer(payload, Request(0x22, (0x4711, 0x4712)), KNOWN)
    assert isinstance(answer, tuple)
    mine = {one.number: one.readings[0].value for one in answer if isinstance(one, Identified)}
    assert mine == theirs


def test_questions() -> None:
    services = udsoncan.services
    codecs = {0xF190: "17s", **CODECS}
    made = {
        Request(0x22, (0xF190, 0x4711)): services.ReadDataByIdentifier.make_request([0xF190, 0x4711], codecs),
        Request(0x14, rest=b"\xff\xff\xff"): services.ClearDiagnosticInformation.make_request(0xFFFFFF),
        Request(0x19, rest=b"\x02\x08"): services.ReadDTCInformation.make_request(0x02, status_mask=0x08),
        Request(0x19, rest=b"\x04\x12\x34\x56\x01"): services.ReadDTCInformation.make_request(
            0x04, dtc=0x123456, snapshot_record_number=1
        ),
        Request(0x19, rest=b"\x06\x12\x34\x56\xff"): services.ReadDTCInformation.make_request(
            0x06, dtc=0x123456, extended_data_record_number=0xFF
        ),
        Request(0x19, rest=b"\x0a"): services.ReadDTCInformation.make_request(0x0A),
    }
    for mine, theirs in made.items():
        assert mine.payload == theirs.get_payload()
        assert read_request(theirs.get_payload()) == mine


def test_clearing_and_refusals() -> None:
    assert udsoncan.Response.from_payload(b"\x54").service is udsoncan.services.ClearDiagnosticInformation
    assert decode_answer(b"\x54") == Cleared(0x14)
    code = udsoncan.Response.Code
    for number in range(256):
        for service in (0x14, 0x19, 0x22):
            payload = bytes([0x7F, service, number])
            theirs, mine = udsoncan.Response.from_payload(payload), decode_answer(payload)
            assert isinstance(mine, Negative)
            assert not theirs.positive
            assert (mine.service, mine.code) == (theirs.service.request_id(), theirs.code)
            assert mine.is_pending == (theirs.code == code.RequestCorrectlyReceived_ResponsePending)
    # Every reason that has words here is one of the library's list; the words are our own.
    assert all(code.get_name(number) for number in CODES)


def test_bits_of_the_status() -> None:
    """Handbook §7, bits 0 to 7 (from memory there); the library names the same in the same order."""
    status = udsoncan.Dtc.Status
    names = {
        "failed": "test_failed",
        "failed_this_cycle": "test_failed_this_operation_cycle",
        "pending": "pending",
        "confirmed": "confirmed",
        "not_completed_since_clear": "test_not_completed_since_last_clear",
        "failed_since_clear": "test_failed_since_last_clear",
        "not_completed_this_cycle": "test_not_completed_this_operation_cycle",
        "lamp": "warning_indicator_requested",
    }
    assert tuple(names) == STATUS
    for byte in range(256):
        assert set(status_of(byte)) == {mine for mine, there in names.items() if getattr(status.from_byte(byte), there)}
