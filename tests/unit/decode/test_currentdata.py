"""The table of current data: whole, and every scaling there and back; words, places, and what says “not used”."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode.currentdata import decode_pid, encode_pid, supported
from witnessmark.decode.pidtable import Item, Pid, pid_table, sensor_place, where_is
from witnessmark.decode.readiness import MONITORS, decode_monitors
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.scaling import Scaling
from witnessmark.decode.series import pid_series
from witnessmark.errors import DecodeError, InputError
from witnessmark.recording.parameters import parameters

TABLE = pid_table()
ITEMS = [(pid, item) for pid in TABLE.values() for item in pid.items]
SCALINGS = st.builds(
    Scaling,
    at=st.integers(0, 4),
    width=st.integers(1, 6),
    factor=st.floats(1e-6, 1e6) | st.floats(-1e6, -1e-6),
    offset=st.floats(-1e4, 1e4),
    signed=st.booleans(),
)


def value(number: int, text: str) -> float | str:
    reading = decode_pid(number, bytes.fromhex(text))[0]
    assert isinstance(reading, Reading)
    return reading.value


def test_every_row_is_whole() -> None:
    """Handbook §7 names parameters 04 to 63 by their formulas; all of them are there and marked as read."""
    named = [*range(0x03, 0x12), *range(0x14, 0x1C), 0x1F, *range(0x21, 0x40), *range(0x42, 0x4D), 0x4D, 0x4E, 0x52]
    named += [0x59, 0x5C, 0x5E, 0x61, 0x62, 0x63]
    # Beyond the handbook, in the same dissector's source: formulas, and the orders of words and of sensors.
    named += [0x12, 0x13, 0x1C, 0x1D, 0x51, 0x53, 0x55, 0x56, 0x57, 0x58, 0x5A, 0x5B, 0x5D]
    assert all(TABLE[n].mark == "R" for n in named)
    for pid in TABLE.values():
        assert pid.words
        assert pid.mark in "RM"
        ends = [item.scaling.end for item in pid.items if not item.more]
        assert pid.bytes is None or max(ends, default=0) <= pid.bytes
        for item in pid.items:
            signal = pid.signal_of(item)
            if signal is not None:
                assert item.unit == signal.parameter.unit
                assert signal.parameter.id in parameters()
            assert (item.unit == "text") == bool(item.meanings)


def test_what_a_vehicle_can_send_covers_what_a_sound_one_sends() -> None:
    """The ends of every scaling against the range of the closed list: too narrow would be a wrong factor."""
    # The list's range is wider than one parameter's encoding on purpose: torque, pressures of several kinds, λ to 2,
    # load above 100 % (common practice). Only the lower end and a sensible share of the upper are asked for.
    for pid, item in ITEMS:
        signal = pid.signal_of(item)
        if signal is None or not signal.parameter.is_number:
            continue
        low, high = item.said(item.scaling.low), item.said(item.scaling.high)
        assert isinstance(low, float)
        assert isinstance(high, float)
        assert signal.parameter.low is not None
        assert signal.parameter.high is not None
        assert low <= max(signal.parameter.low, 0.0) + 1e-9, (pid.number, signal)
        assert high >= 0.13 * signal.parameter.high, (pid.number, signal)


@pytest.mark.parametrize(("pid", "item"), ITEMS, ids=[f"{pid.number:02X} {k}" for k, (pid, _) in enumerate(ITEMS)])
def test_every_scaling_there_and_back(pid: Pid, item: Item) -> None:
    """Whole numbers to values to whole numbers, at the ends and between, one by one and all at once."""
    scaling = item.scaling
    rng = np.random.default_rng(pid.number)
    counts = np.unique(
        [
            scaling.low,
            scaling.low + 1,
            0,
            1,
            scaling.high - 1,
            scaling.high,
            *rng.integers(scaling.low, scaling.high, 200),
        ]
    )
    values = counts * scaling.factor + scaling.offset
    assert scaling.counts(values).tolist() == counts.tolist()
    rows = np.zeros((counts.size, scaling.end), np.uint8)
    for k, v in enumerate(values):
        content = bytes(scaling.at) + scaling.bytes_of(float(v))
        assert scaling.count_of(content) == counts[k]
        assert scaling.value_of(content) == pytest.approx(v, rel=1e-12, abs=1e-9)
        rows[k] = np.frombuffer(content, np.uint8)
    assert scaling.counts_in(rows).tolist() == counts.tolist()


@given(SCALINGS, st.data())
def test_any_scaling_there_and_back(scaling: Scaling, data: st.DataObject) -> None:
    count = data.draw(st.integers(scaling.low, scaling.high))
    content = bytes(scaling.at) + count.to_bytes(scaling.width, "big", signed=scaling.signed)
    assert scaling.count_of(content) == count
    got = scaling.value_of(content)
    # A step may be finer than what is left of a float behind a large offset; the value is then still the nearest.
    assert abs(scaling.value_of(bytes(scaling.at) + scaling.bytes_of(got)) - got) <= abs(scaling.factor) + 1e-9 * abs(
        got
    )


@given(SCALINGS, st.floats(-1e12, 1e12))
def test_what_lies_beyond_stands_at_the_end(scaling: Scaling, wanted: float) -> None:
    content = bytes(scaling.at) + scaling.bytes_of(wanted)
    ends = sorted((scaling.low * scaling.factor + scaling.offset, scaling.high * scaling.factor + scaling.offset))
    nearest = min(max(wanted, ends[0]), ends[1])
    assert abs(scaling.value_of(content) - nearest) <= 0.5 * abs(scaling.factor) * (1 + 1e-6) + 1e-6 * abs(wanted)


@given(st.sampled_from([pid for pid in TABLE.values() if pid.items]), st.data())
def test_whole_answers_there_and_back(pid: Pid, data: st.DataObject) -> None:
    values = []
    for item in pid.items:
        counts = st.integers(item.scaling.low, item.scaling.high).filter(lambda n, item=item: n != item.unused)
        may_lack = item.unused is not None or item.bit is not None or item.more
        values.append(data.draw(st.none() | counts if may_lack else counts))
    given_ = [
        None if n is None else n * item.scaling.factor + item.scaling.offset
        for item, n in zip(pid.items, values, strict=True)
    ]
    answer = encode_pid(pid.number, given_)
    read = decode_pid(pid.number, answer)
    if not answer or len(answer) < max(pid.least_bytes, 1):
        return
    assert [r.count for r in read if isinstance(r, Reading)] == [n for n in values if n is not None]
    assert not [r for r in read if isinstance(r, Unread)]


@given(st.integers(0, 255), st.binary(max_size=45))
def test_any_bytes_give_readings_or_a_reason(number: int, data: bytes) -> None:
    for one in decode_pid(number, data):
        assert isinstance(one, Reading | Unread)
        assert isinstance(one, Reading) or one.reason
    rows = np.frombuffer(data * 3, np.uint8).reshape(3, len(data))
    for series in pid_series(number, np.arange(3.0), rows):
        assert len(series.times_s) == len(series.counts) > 0


def test_one_by_one_and_all_at_once_say_the_same() -> None:
    rng = np.random.default_rng(5)
    for pid, _ in ITEMS:
        rows = rng.integers(0, 256, (20, pid.bytes or 9), dtype=np.uint8)
        single: dict[str, list[float | str]] = {}
        for row in rows:
            for one in decode_pid(pid.number, row.tobytes()):
                if isinstance(one, Reading):
                    single.setdefault(one.words, []).append(one.count)
        bulk = {
            (s.signal.words if s.signal else s.words): s.counts.tolist()
            for s in pid_series(pid.number, np.arange(20.0), rows)
        }
        assert bulk == single


def test_too_short_is_a_result_with_its_reason() -> None:
    (one,) = decode_pid(0x0C, b"\x1a")
    assert isinstance(one, Unread)
    assert str(one) == "01 0C: 1 bytes where 2 are needed (1A)"
    assert isinstance(decode_pid(0x01, b"\x82")[0], Unread)
    assert isinstance(decode_pid(0xF7, b"\x82")[0], Unread)
    with pytest.raises(DecodeError, match="four are needed"):
        decode_monitors(b"\x82")


def test_words() -> None:
    """1 is open loop, not warm yet: handbook §7; the other numbers read in a protocol dissector's source."""
    assert "not warm" in str(value(0x03, "0100"))
    assert value(0x03, "0204") == "closed loop"
    assert "not known here" in str(value(0x03, "0700"))
    assert [r.words for r in decode_pid(0x03, b"\x02\x00")] == ["fuel system: open or closed loop, bank 1"]
    assert value(0x51, "01") == "petrol"
    assert value(0x1C, "06") == "EOBD"
    assert value(0x02, "0171") == "P0171"
    assert value(0x02, "0000") == "none"
    assert value(0x13, "03") == "bank 1 sensor 1, bank 1 sensor 2"
    assert value(0x1D, "05") == "bank 1 sensor 1, bank 2 sensor 1"
    assert value(0x00, "983BA011") == "01 04 05 0B 0C 0D 0F 10 11 13 1C 20"


def test_formulas_beyond_the_handbook() -> None:
    """Read in a protocol dissector's source, and worked by hand."""
    assert value(0x53, "4E20") == 100.0  # w/200 kPa
    assert value(0x5A, "33") == pytest.approx(20.0)
    assert value(0x5B, "FF") == 100.0
    assert value(0x5D, "6900") == 0.0  # w/128 − 210
    trims = [r.value for r in decode_pid(0x55, b"\x73\x8a") if isinstance(r, Reading)]
    assert trims == [pytest.approx(-10.15625), pytest.approx(7.8125)]


def test_places_of_oxygen_sensors_hang_on_the_vehicle() -> None:
    """13: two banks of four; 1D: four banks of two (read in a protocol dissector's source)."""
    assert [sensor_place(k) for k in (0, 1, 3, 4, 7)] == [(1, 1), (1, 2), (1, 4), (2, 1), (2, 4)]
    assert [sensor_place(k, "1D") for k in (0, 1, 2, 4, 7)] == [(1, 1), (1, 2), (2, 1), (3, 1), (4, 2)]
    for number in (0x16, 0x26, 0x36):
        first, other = (decode_pid(number, b"\x80\x00\x80\x00", layout=layout)[0] for layout in ("13", "1D"))
        assert isinstance(first, Reading)
        assert isinstance(other, Reading)
        assert str(first.signal).endswith("bank=1 sensor=3")
        assert str(other.signal).endswith("bank=2 sensor=1")
    with pytest.raises(InputError, match="oxygen sensors"):
        sensor_place(0, "14")


def test_what_is_not_used_is_no_value() -> None:
    assert [r.signal.id for r in decode_pid(0x14, b"\x5a\xff") if isinstance(r, Reading) and r.signal] == ["o2_voltage"]
    assert len(decode_pid(0x14, b"\x5a\x80")) == 2
    assert [r.value for r in decode_pid(0x66, b"\x01\x01\x40\xff\xff") if isinstance(r, Reading)] == [10.0]
    assert [r.role for r in decode_pid(0x06, b"\x80\x90") if isinstance(r, Reading)] == [
        "short_trim bank=1",
        "short_trim bank=3",
    ]
    assert isinstance(decode_pid(0x0C, b"\x1a\xf8\x00")[-1], Unread)


def test_monitors() -> None:
    """Bits of handbook §7: B0 misfire, B1 fuel, B2 components; B4 to B6 incomplete; C0 catalyst … C7 recirculation."""
    whole = decode_monitors(bytes([0x7F, 0x77, 0xFF, 0x80]))
    assert [m.name for m in whole.monitors] == list(MONITORS)
    assert [m.name for m in whole.monitors if not m.complete] == [
        "misfire",
        "fuel_system",
        "components",
        "recirculation",
    ]
    assert (whole.lamp, whole.codes, whole.spark) == (False, 127, True)
    assert whole.ran("catalyst") is True
    assert whole.ran("recirculation") is False
    assert decode_monitors(bytes(4)).ran("catalyst") is None
    assert decode_monitors(bytes([0, 0x0F, 0xFF, 0])).spark is False


def test_a_signal_finds_its_parameter() -> None:
    pid, item = where_is("long_trim bank=2")
    assert (pid.number, item.scaling.offset) == (0x09, -100.0)
    with pytest.raises(InputError, match="cam_actual"):
        where_is("cam_actual bank=1 cam=intake")


@given(st.integers(0, 7).map(lambda k: 0x20 * k), st.binary(min_size=4, max_size=4))
def test_bitmaps(number: int, data: bytes) -> None:
    found = supported(number, data)
    assert len(found) == bin(int.from_bytes(data, "big")).count("1")
    back = sum(1 << 32 - (n - number) for n in found)
    assert back.to_bytes(4, "big") == data


def test_scalings_and_answers_that_cannot_be() -> None:
    for wrong in ({"width": 0}, {"width": 7}, {"factor": 0.0}, {"at": -1}, {"factor": float("nan")}):
        with pytest.raises(InputError):
            Scaling(**wrong)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no values"):
        encode_pid(0x00, [1.0])
    with pytest.raises(InputError, match="1 values"):
        encode_pid(0x03, [1.0])
