"""Every worked example of handbook §7, decoded by the product: current data, codes, tests, transport, UDS, VIN.

The source of each row stands in check_values.csv. Where public decoders disagree the handbook's table decides.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest

from tests.references.check_values import CheckValue, check_values
from witnessmark.decode.addressing import Addresses
from witnessmark.decode.currentdata import supported
from witnessmark.decode.pidtable import pid_table
from witnessmark.decode.readiness import decode_monitors
from witnessmark.decode.reading import Reading
from witnessmark.decode.request import Request
from witnessmark.decode.segment import flow_control, segment, separation_s
from witnessmark.decode.services import Parts, Results, decode_answer
from witnessmark.decode.troublecode import TroubleCode, read_code
from witnessmark.decode.uds import CodesAnswer
from witnessmark.decode.vin import check_digit, decode_vin, model_years, weighted_sum
from witnessmark.simulate.pids import PIDS

TOPIC = "7 OBD/UDS/VIN"
ROWS = [(number, row) for number, row in enumerate(check_values(), start=2) if row.topic == TOPIC]
UNITS = {"count": "", "-": "", "deg BTDC": "deg", "counts": "counts"}
CURRENT = 0x34  # of its two numbers the row is about the second

Handler = Callable[[CheckValue], None]


def hexed(text: str) -> bytes:
    return bytes.fromhex(re.sub(r"\s", "", text))


def pid_row(row: CheckValue) -> None:
    answer = decode_answer(hexed(row.inputs))
    assert isinstance(answer, Parts)
    part = answer.parts[0]
    assert part.number == int(row.quantity[5:7], 16)
    reading = part.read()[1 if part.number == CURRENT else 0]
    assert isinstance(reading, Reading)
    assert isinstance(row.expected, float)
    assert reading.value == pytest.approx(row.expected, abs=max(row.tolerance, 1e-9))
    assert reading.unit == UNITS.get(row.unit, row.unit)
    assert reading.signal is not None
    assert reading.signal.parameter.unit == reading.unit


def code_row(row: CheckValue) -> None:
    code = TroubleCode(hexed(row.inputs))
    assert code.code == row.expected
    assert read_code(str(row.expected)) == code


def support_row(row: CheckValue) -> None:
    assert " ".join(f"{n:02X}" for n in supported(0x00, hexed(row.inputs))) == row.expected


def bits_row(row: CheckValue) -> None:
    assert len(supported(0x00, hexed(row.quantity.split()[-1]))) == row.expected


def lamp_row(row: CheckValue) -> None:
    monitors = decode_monitors(hexed(row.inputs)[2:])
    assert f"MIL {'on' if monitors.lamp else 'off'}, {monitors.codes} DTCs" == row.expected


def readiness_row(row: CheckValue) -> None:
    """C=65, D=04 of the row before it; the words of the row are catalyst, evap, O2 sensor, O2 heater."""
    words = {"catalyst": "catalyst", "evap": "evaporation", "O2 sensor": "oxygen_sensor", "O2 heater": "oxygen_heater"}
    there, waiting = (part.split(": ")[1].split(", ") for part in str(row.expected).split("; "))
    monitors = decode_monitors(hexed("82076504"))
    slow = [m for m in monitors.monitors if m.name not in ("misfire", "fuel_system", "components")]
    assert [m.name for m in slow] == [words[w] for w in there]
    assert [m.name for m in slow if not m.complete] == [words[w] for w in waiting]


def result_row(row: CheckValue) -> None:
    answer = decode_answer(hexed(row.inputs))
    assert isinstance(answer, Results)
    (result,) = answer.tests
    assert result.scaling == int(re.search(r"\$([0-9A-F]{2})", row.quantity.split("UAS")[1])[1], 16)  # type: ignore[index]
    assert result.value == pytest.approx(float(row.expected), abs=max(row.tolerance, 1e-6))
    assert result.unit == UNITS.get(row.unit, row.unit)
    assert result.passed


def frame_row(row: CheckValue) -> None:
    frames = segment(b"\x49\x02\x01" + b"1G4AH59H45G118341")
    assert frames[int(row.quantity[-1]) - 1] == hexed(str(row.expected))


def flow_row(row: CheckValue) -> None:
    assert row.inputs == "BS=0, STmin=0"
    assert flow_control(block=0, separation=0) == hexed(str(row.expected))


def single_row(row: CheckValue) -> None:
    assert segment(hexed(row.inputs)) == (hexed(str(row.expected)),)


def count_row(row: CheckValue) -> None:
    assert len(segment(bytes(int(row.inputs.split()[0])))) == row.expected


def separation_row(row: CheckValue) -> None:
    first, last = (int(n, 16) for n in re.findall(r"\$([0-9A-F]{2})", row.inputs))
    low, high = (float(n) for n in str(row.expected).split(".."))
    scale = {"us": 1e6, "ms": 1e3}[row.unit]
    codes = range(first, last + 1)
    assert [separation_s(code) * scale for code in codes] == pytest.approx(np.linspace(low, high, len(codes)))


def identifier_row(row: CheckValue) -> None:
    known, number = Addresses(), int(str(row.expected), 16)
    assert known.carries_messages(np.array([number]))[0]
    assert known.asks(number) == ("request" in row.quantity)
    assert known.is_functional(number) == ("functional" in row.quantity)
    if "ECU 1" in row.quantity:
        assert {number, known.partner(number)} == {0x7E0, 0x7E8}


def longest_row(row: CheckValue) -> None:
    """4095 bytes still have a length of twelve bits; one more takes the escape."""
    most = int(row.expected)
    assert segment(bytes(most))[0][:2] == b"\x1f\xff"
    assert segment(bytes(most + 1))[0][:6] == b"\x10\x00\x00\x00\x10\x00"


def request_row(row: CheckValue) -> None:
    requests = {
        "0x19 sub 0x02 mask 0xFF": Request(0x19, rest=b"\x02\xff"),
        "0x14 group FFFFFF": Request(0x14, rest=b"\xff\xff\xff"),
        "0x22 F190": Request(0x22, (0xF190,)),
    }
    assert requests[row.inputs].payload == hexed(str(row.expected))


def list_row(row: CheckValue) -> None:
    answer = decode_answer(hexed(row.inputs))
    assert isinstance(answer, CodesAnswer)
    assert " ".join(f"{r.code.raw.hex()}/{r.status:02X}" for r in answer.records) == row.expected
    assert [str(r.code) for r in answer.records] == ["P0016-00", "P0301-00"]


def sum_row(row: CheckValue) -> None:
    assert weighted_sum(row.inputs) == row.expected


def digit_row(row: CheckValue) -> None:
    expected = str(row.expected).removesuffix(".0")
    assert check_digit(row.inputs) == expected == row.inputs[8]
    assert not [w for w in decode_vin(row.inputs).warnings if "check digit" in w]


def year_row(row: CheckValue) -> None:
    tenth, seventh = re.findall(r"pos\d+=(.)", row.inputs)
    assert model_years(tenth, seventh) == (row.expected,)


HANDLERS: dict[str, Handler] = {
    r"PID \$00 support bitmap": support_row,
    r"PID \$01 A7": lamp_row,
    r"PID \$01 C/D": readiness_row,
    r"PID \$": pid_row,
    r"two-byte DTC": code_row,
    r"bits set in": bits_row,
    r"service \$06": result_row,
    r"ISO-TP VIN response": frame_row,
    r"ISO-TP flow control": flow_row,
    r"ISO-TP single frame": single_row,
    r"ISO-TP frame count": count_row,
    r"ISO-TP STmin": separation_row,
    r"(functional|physical) request id|response id": identifier_row,
    r"ISO-TP first-frame 12-bit": longest_row,
    r"UDS DTC list": list_row,
    r"UDS (read|clear)": request_row,
    r"VIN weighted": sum_row,
    r"VIN check": digit_row,
    r"model year": year_row,
}


def handler_of(row: CheckValue) -> Handler | None:
    return next((handler for form, handler in HANDLERS.items() if re.match(form, row.quantity)), None)


RECOMPUTED = [(number, row) for number, row in ROWS if handler_of(row) is not None]


def test_every_row_has_its_check() -> None:
    assert len(RECOMPUTED) == len(ROWS) == 97


@pytest.mark.parametrize(("number", "row"), RECOMPUTED, ids=[f"row {number}" for number, _ in RECOMPUTED])
def test_a_worked_example(number: int, row: CheckValue) -> None:
    assert row.source
    handler = handler_of(row)
    assert handler is not None
    handler(row)


def test_the_table_of_disagreements_is_decided_as_the_handbook_says() -> None:
    """Handbook §7, "Public decoders disagree": parameters 10, 34, 32, 01, 03."""
    table = pid_table()
    assert table[0x10].bytes == 2
    assert table[0x34].items[1].scaling.offset == -128.0
    assert table[0x32].items[0].unit == "Pa"
    catalyst = decode_monitors(bytes([0, 0, 0x01, 0x00])).monitors
    assert [m.name for m in catalyst] == ["catalyst"]
    assert "open loop" in str(table[0x03].items[0].said(1))


def test_simulated_logs_stand_on_the_decoders_scalings() -> None:
    """The table of a simulated log is the decoder's; its numbers are those of the handbook's table."""
    numbers = {"rpm": 0x0C, "maf": 0x10, "volts": 0x42, "short_trim_2": 0x08, "rail": 0x23}
    assert {key: PIDS[key].number for key in numbers} == numbers
    assert PIDS["lambda_1"].factor * 0x8000 == pytest.approx(1.0)
    for pid in PIDS.values():
        counts = np.array([0, 1, 200])
        assert pid.counts(counts * pid.factor + pid.offset).tolist() == counts.tolist()
