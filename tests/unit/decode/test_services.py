"""Questions and answers of services 01 to 0A and of ISO 14229, payload by payload."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode.identifiers import NO_IDENTIFIERS
from witnessmark.decode.negative import Negative
from witnessmark.decode.onboardtest import UNITS, decode_results, monitor_words, words_of_test
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.request import Request, read_request
from witnessmark.decode.services import Cleared, CodeList, Parts, Plain, Results, decode_answer
from witnessmark.decode.troublecode import FAILURES, TroubleCode, code_list, read_code
from witnessmark.decode.uds import CodesAnswer, Identified
from witnessmark.decode.vehicleinfo import COUNTERS, Information
from witnessmark.errors import DecodeError, InputError


def said(text: str, request: Request | None = None) -> object:
    return decode_answer(bytes.fromhex(text), request)


def values(answer: object) -> dict[str, float | str]:
    assert isinstance(answer, Parts)
    return {str(r.role): r.value for part in answer.parts for r in part.read() if isinstance(r, Reading)}


# ---------------------------------------------------------------- 01 and 02


def test_several_parameters_in_one_answer() -> None:
    """ISO 15031-5: up to six parameters of one question on CAN; their lengths cut the answer."""
    several = "41 0C 1A F8 05 7B 0D 32 14 5A FF 42 36 B0"
    expected = {"engine_speed": 1726.0, "coolant": 83.0, "vehicle_speed": 50.0, "volts": 14.0}
    expected["o2_voltage bank=1 sensor=1"] = 0.45
    for request in (None, Request(0x01, (0x0C, 0x05, 0x0D, 0x14, 0x42))):
        assert values(said(several, request)) == pytest.approx(expected)


def test_one_parameter_may_be_longer_than_usual() -> None:
    answer = said("41 06 80 90")
    assert values(answer) == {"short_trim bank=1": 0.0, "short_trim bank=3": 12.5}
    assert values(said("41 0C 1A F8 05", Request(0x01, (0x0C,)))) == {"engine_speed": 1726.0}


def test_an_answer_cut_short_keeps_what_is_whole() -> None:
    answer = said("41 0C 1A F8 05 7B 42 36")
    assert values(answer) == {"engine_speed": 1726.0, "coolant": 83.0}
    assert isinstance(answer, Parts)
    assert [u.raw.hex() for u in answer.unread] == ["4236"]
    (part,) = said("41 0C 1A").parts  # type: ignore[attr-defined]
    assert isinstance(part.read()[0], Unread)


def test_a_freeze_frame() -> None:
    """Handbook §7: 02 PID frame; parameter 02 holds the code."""
    answer = said("42 02 00 01 71")
    assert isinstance(answer, Parts)
    (part,) = answer.parts
    assert (part.number, part.frame, part.asked) == (0x02, 0, "02 02 00")
    assert part.read()[0].value == "P0171"  # type: ignore[union-attr]
    assert values(said("42 0C 00 1A F8 05 00 7B")) == {"engine_speed": 1726.0, "coolant": 83.0}


# ---------------------------------------------------------------- 03, 07, 0A, 04


def test_lists_of_codes_with_and_without_a_count() -> None:
    """On CAN a count stands before the codes; older buses send three codes filled with zeros (from memory)."""
    counted = said("43 02 00 16 03 01")
    assert isinstance(counted, CodeList)
    assert [str(c) for c in counted.codes] == ["P0016", "P0301"]
    assert (counted.status, counted.announced, counted.unread) == ("confirmed", 2, ())
    older = said("43 01 71 00 00 00 00")
    assert isinstance(older, CodeList)
    assert [str(c) for c in older.codes] == ["P0171"]
    assert older.announced is None
    for text, status in (("47 00", "pending"), ("4A 00", "permanent")):
        none = said(text)
        assert isinstance(none, CodeList)
        assert (none.status, none.codes, none.announced) == (status, (), 0)
    wrong = said("43 03 00 16 03 01")
    assert isinstance(wrong, CodeList)
    assert len(wrong.codes) == 2
    assert "announces 3 codes and holds 2" in str(wrong.unread[0])


def test_cleared() -> None:
    assert said("44") == Cleared(0x04)
    assert said("54") == Cleared(0x14)


# ---------------------------------------------------------------- 05, 06


def test_on_board_tests_of_one_answer() -> None:
    """Two results one after the other; the first is handbook §7's example: bank 2, −5.00° in [−20, +20]."""
    answer = said("46 36 9C 9C FE 0C F8 30 07 D0 A2 0C 24 00 05 00 00 00 03")
    assert isinstance(answer, Results)
    first, second = answer.tests
    assert (first.value, first.low, first.high, first.unit, first.passed) == (-5.0, -20.0, 20.0, "deg", True)
    assert first.words == "cam timing bank 2: maker’s test 9C"
    assert (second.value, second.high, second.passed) == (5.0, 3.0, False)
    assert second.words == "misfire cylinder 1: last driving cycle"


def test_a_test_that_has_not_run_and_one_of_an_unknown_unit() -> None:
    (idle,), _ = decode_results(bytes.fromhex("2180010000 0000 0000".replace(" ", "")))
    assert (idle.passed, idle.note) == (None, "not run yet")
    (odd,), left = decode_results(bytes.fromhex("2180700064000000C8FF"))
    assert (odd.value, odd.passed) == (None, True)
    assert "70 are not known" in odd.note
    assert left == b"\xff"
    answer = said("46 21 80 01 00 64")
    assert isinstance(answer, Results)
    assert answer.tests == ()
    assert "not a whole result" in str(answer.unread[0])


def test_which_monitors_exist() -> None:
    answer = said("46 00 C0 00 00 01 20 80 00 00 00")
    assert isinstance(answer, Results)
    assert answer.monitors == (0x01, 0x02, 0x20, 0x21)


def test_every_monitor_of_the_handbook_has_words() -> None:
    """Handbook §7: 01–10 O2, 21–24 catalyst, 31–34 EGR, 35–38 VVT, 39–3D evap, 41–50 heaters, 81–84 fuel, A1, A2–AD."""
    spans = {
        "oxygen sensor bank": range(0x01, 0x11),
        "catalyst": range(0x21, 0x25),
        "recirculation": range(0x31, 0x35),
        "cam timing": range(0x35, 0x39),
        "evaporation": range(0x39, 0x3E),
        "oxygen sensor heater": range(0x41, 0x51),
        "fuel system": range(0x81, 0x85),
        "misfire": range(0xA1, 0xAE),
    }
    for words, numbers in spans.items():
        said_words = [monitor_words(n) for n in numbers]
        assert all(text.startswith(words) for text in said_words)
        assert len(set(said_words)) == len(said_words)
    assert monitor_words(0x03, "1D") == "oxygen sensor bank 2 sensor 1"
    assert monitor_words(0xE5) == "monitor E5"
    assert words_of_test(0x0B) == "mean of ten driving cycles"


@given(st.sampled_from(sorted(UNITS)), st.integers(0, 0xFFFF), st.integers(0, 0xFFFF), st.integers(0, 0xFFFF))
def test_every_unit_and_scaling_there_and_back(scaling: int, value: int, low: int, high: int) -> None:
    """Handbook §7: from 80 on numbers are signed."""
    raw = bytes([0x21, 0x80, scaling]) + b"".join(n.to_bytes(2, "big") for n in (value, low, high))
    ((one,), left) = decode_results(raw)
    unit = UNITS[scaling]
    counts = [n - 0x10000 if scaling >= 0x80 and n >= 0x8000 else n for n in (value, low, high)]
    assert left == b""
    for got, count in zip((one.value, one.low, one.high), counts, strict=True):
        assert got is not None
        assert round((got - unit.offset) / unit.factor) == (count if any((value, low, high)) else 0)
    assert one.passed == (counts[1] <= counts[0] <= counts[2] if any((value, low, high)) else None)


def test_oxygen_tests_of_older_buses() -> None:
    """Service 05 (from memory of SAE J1979): voltages by 5 mV, times by 4 ms and 40 ms."""
    answer = said("45 07 01 14 00 3C")
    assert isinstance(answer, Results)
    (test,) = answer.tests
    assert (test.value, test.low, test.high, test.unit, test.passed) == (0.1, 0.0, 0.3, "V", True)
    answer = said("45 05 01 19 00 0A")
    assert isinstance(answer, Results)
    assert (answer.tests[0].value, answer.tests[0].passed) == (0.1, False)
    assert isinstance(said("45 81 01 19"), Results)
    assert said("45 81 01 19").unread  # type: ignore[attr-defined]


# ---------------------------------------------------------------- 09


def test_vehicle_information() -> None:
    vin = said("49 02 01" + b"1M8GDM9AXKP042788".hex())
    assert isinstance(vin, Information)
    assert vin.is_private
    assert vin.vin is not None
    assert vin.vin.number == "1M8GDM9AXKP042788"
    assert "042788" not in repr(vin)
    names = said("49 04 02" + (b"CAL-A1" + bytes(10) + b"CAL-B2" + bytes(10)).hex())
    assert isinstance(names, Information)
    assert names.texts == ("CAL-A1", "CAL-B2")
    sums = said("49 06 02 01 23 45 67 89 AB CD EF")
    assert isinstance(sums, Information)
    assert sums.texts == ("01234567", "89ABCDEF")
    counts = said("49 08 10" + "".join(f"{n:04X}" for n in range(16)))
    assert isinstance(counts, Information)
    assert list(counts.counters.items()) == [(COUNTERS[n], n) for n in range(16)]
    name = said("49 0A 01" + b"ECM\0-EngineControl\0\0".hex())
    assert isinstance(name, Information)
    assert name.texts == ("ECM -EngineControl",)
    assert said("49 01 05") == Information(0x01, b"\x05")
    kinds = said("49 00 55 40 00 00")
    assert isinstance(kinds, Information)
    assert kinds.supported == (0x02, 0x04, 0x06, 0x08, 0x0A)


def test_vehicle_information_that_cannot_be_read() -> None:
    short = said("49 02 01 31 4D 38")
    assert isinstance(short, Information)
    assert short.vin is None
    assert "17 were expected" in str(short.unread[0])
    assert short.unread[0].raw == b""  # a part of the number is still the owner's
    assert said("49 04 01 41").unread  # type: ignore[attr-defined]
    assert said("49 7E 01").unread  # type: ignore[attr-defined]
    assert isinstance(said("49"), Unread)


# ---------------------------------------------------------------- ISO 14229


def test_codes_with_their_status() -> None:
    answer = said("59 02 FF 00 16 00 2F 03 01 00 08")
    assert isinstance(answer, CodesAnswer)
    assert [(str(r.code), r.status) for r in answer.records] == [("P0016-00", 0x2F), ("P0301-00", 0x08)]
    cut = said("59 02 FF 00 16 00 2F 03 01")
    assert isinstance(cut, CodesAnswer)
    assert len(cut.records) == 1
    assert "not a whole code" in str(cut.unread[0])
    filled = said("59 02 FF 00 16 00 2F 00 00 00 00 00")
    assert isinstance(filled, CodesAnswer)
    assert len(filled.records) == 1
    assert not filled.unread


def test_codes_of_the_worldwide_rules() -> None:
    """19 42: group, two masks, format, then severity, code, status (ISO 14229-1, from memory)."""
    answer = said("59 42 33 FF FF 04 20 00 16 00 2F")
    assert isinstance(answer, CodesAnswer)
    assert [(str(r.code), r.status, r.severity) for r in answer.records] == [("P0016-00", 0x2F, 0x20)]
    assert answer.mask == 0xFF
    assert isinstance(said("59"), Unread)
    assert isinstance(said("59 99 00"), Unread)
    assert isinstance(said("59 04 00"), Unread)


def test_identifiers() -> None:
    answer = said("62 F1 90" + b"1M8GDM9AXKP042788".hex())
    assert isinstance(answer, tuple)
    (one,) = answer
    assert isinstance(one, Identified)
    assert one.vin is not None
    assert one.readings == ()
    assert "042788" not in repr(answer)
    assert "042788" not in repr(said("62 F8 02 01" + b"1M8GDM9AXKP042788".hex()))
    (speed,) = said("62 F4 0C 1A F8")  # type: ignore[misc]
    assert (speed.readings[0].value, speed.readings[0].role, speed.readings[0].asked) == (
        1726.0,
        "engine_speed",
        "22 F40C",
    )
    (part,) = said("62 F1 87" + b"12 345".hex())  # type: ignore[misc]
    assert part.readings[0].value == "12 345"
    (own,) = said("62 12 34 01 02 03")  # type: ignore[misc]
    assert own.unread[0].raw == b"\x01\x02\x03"  # kept verbatim, and not guessed
    assert NO_IDENTIFIERS.own == {}


def test_several_identifiers_in_one_answer() -> None:
    request = Request(0x22, (0xF40C, 0xF405))
    answer = decode_answer(bytes.fromhex("62F40C1AF8F4057B"), request)
    assert isinstance(answer, tuple)
    assert [r.value for one in answer if isinstance(one, Identified) for r in one.readings] == [1726.0, 83.0]
    stray = decode_answer(bytes.fromhex("62F40C1AF8FFFF7B"), request)
    assert isinstance(stray, tuple)
    assert isinstance(stray[-1], Unread)
    assert isinstance(decode_answer(b"\x62\xf4")[0], Unread)  # type: ignore[index]


# ---------------------------------------------------------------- no, nothing, anything


def test_no() -> None:
    pending, refused = said("7F 22 78"), said("7F 22 31")
    assert isinstance(pending, Negative)
    assert isinstance(refused, Negative)
    assert pending.is_pending
    assert (refused.words, refused.is_pending) == ("out of range", False)
    assert "EE" in Negative(0x22, 0xEE, b"").words
    assert isinstance(said("7F 22"), Unread)
    assert isinstance(said(""), Unread)
    assert isinstance(said("01 0C"), Unread)
    assert said("50 03 00 32") == Plain(0x10, bytes.fromhex("030032"))


@given(st.binary(max_size=80), st.binary(max_size=12))
def test_any_payload_is_read_or_told(payload: bytes, question: bytes) -> None:
    request = read_request(question)
    assert decode_answer(payload, request) is not None
    assert decode_answer(payload) is not None


@given(st.sampled_from((0x41, 0x42, 0x43, 0x45, 0x46, 0x47, 0x49, 0x59, 0x62, 0x7F)), st.binary(max_size=300))
def test_any_answer_of_a_known_service_is_read_or_told(service: int, data: bytes) -> None:
    answer = decode_answer(bytes([service]) + data)
    if isinstance(answer, Parts):
        kept = b"".join(
            bytes([p.number]) + (bytes([p.frame]) if p.frame is not None else b"") + p.data for p in answer.parts
        )
        # No byte is lost: what is not read is told.
        assert kept + b"".join(u.raw for u in answer.unread) == data
        assert all(part.read() is not None for part in answer.parts)


@given(st.integers(0, 0x3F), st.binary(max_size=10))
def test_questions_there_and_back(service: int, data: bytes) -> None:
    payload = bytes([service]) + data
    request = read_request(payload)
    assert request is not None
    if service != 0x02 or len(data) % 2 == 0:
        assert request.payload == payload


def test_questions_that_cannot_be() -> None:
    with pytest.raises(InputError):
        Request(0x41)
    with pytest.raises(InputError):
        Request(0x01, (0x100,))
    with pytest.raises(InputError, match="at most 6"):
        Request(0x01, tuple(range(7)))
    assert read_request(b"") is None
    assert read_request(b"\x41\x00") is None


# ---------------------------------------------------------------- codes


@given(st.integers(0, 0xFFFFFF))
def test_codes_there_and_back(number: int) -> None:
    three = TroubleCode(number.to_bytes(3, "big"))
    assert read_code(str(three)) == three
    two = TroubleCode(three.raw[:2])
    assert read_code(str(two)) == two
    assert str(three) == f"{two}-{three.raw[2]:02X}"
    assert code_list(two.raw) == ((two,) if any(two.raw) else ())


def test_codes() -> None:
    """Whose meaning it is: SAE J2012, from memory."""
    standard = {
        "P0016": True,
        "P1234": False,
        "P2187": True,
        "P3000": False,
        "P3400": True,
        "U0100": True,
        "B1234": False,
    }
    assert {text: read_code(text).is_standard for text in standard} == standard
    assert read_code("p0016:13").failure_words == FAILURES[0x13] == "open"
    assert read_code("P0016-E7").failure_words is None
    assert read_code("P0016").failure is None
    with pytest.raises(InputError, match="P0016"):
        read_code("P4016")
    with pytest.raises(DecodeError, match="two or three"):
        TroubleCode(b"\x00")
