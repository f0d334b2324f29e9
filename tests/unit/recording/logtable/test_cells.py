"""Single cells: numbers, units, times, and what is none of them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.recording.logtable.cells import mark_shown, plain_number, read_cell


@pytest.mark.parametrize(
    ("text", "decimal", "value", "unit"),
    [
        ("24,77g/s", ",", 24.77, "g/s"),
        ("24,77g/s", ".", 24.77, "g/s"),  # the mark shows itself
        ("82C", ".", 82.0, "C"),
        ("82 °C", ".", 82.0, "°C"),
        ("-5,50%", ",", -5.5, "%"),
        ("100kPa", ".", 100.0, "kPa"),
        ("15km/h", ".", 15.0, "km/h"),
        ("1,234", ".", 1234.0, None),
        ("1,234", ",", 1.234, None),
        ("1.234", ",", 1234.0, None),
        ("0.123", ",", 0.123, None),  # no thousands begin with a zero
        ("1.234.567,8", ".", 1234567.8, None),
        ("1 234,5", ",", 1234.5, None),
        ("1\u202f234", ".", 1234.0, None),
        ("1'234.5", ".", 1234.5, None),
        ("\u22123.5 V", ".", -3.5, "V"),
        (".5", ".", 0.5, None),
        ("1.5E-3", ".", 1.5e-3, None),
        ("4e+02", ".", 400.0, None),
        ('"12.5"', ".", 12.5, None),
        ("800 1/min", ".", 800.0, "1/min"),
    ],
)
def test_numbers(text: str, decimal: str, value: float, unit: str | None) -> None:
    cell = read_cell(text, decimal)
    assert (cell.kind, cell.unit) == ("number", unit)
    assert cell.value == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("text", ["", "  ", "N/A", "--", "NaN", "null", "No Data", "n.a."])
def test_nothing(text: str) -> None:
    assert read_cell(text).kind == "missing"


@pytest.mark.parametrize(
    "text",
    [
        "MIL is OFF0 codes",
        "4101000761001:00410100076100",
        "410C0FA0",  # an answer: not 410 of something
        "410E80",  # an answer: not 410 with an exponent of 80
        "1,2,3",
        "12.34.5",
        "1_000",
        "ON",
        "inf",
        "1e999",
        "closed loop",
        "1/min",
        "P0171",
        "9" * 300,
    ],
)
def test_words(text: str) -> None:
    assert read_cell(text).kind == "text"
    assert math.isnan(read_cell(text).value)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("00:00:54", 54.0),
        ("1:02:03.250", 3723.25),
        ("01:02:03,5", 3723.5),
        ("01:02:03:500", 3723.5),
        ("12:30", 45_000.0),  # hours and minutes
        ("01:30.5", 90.5),  # a fraction makes it minutes and seconds
        ("11:59:59 PM", 86_399.0),
        ("12:00:01 am", 1.0),
        ("1970-01-02 00:00:01", 86_401.0),
        ("1970-01-01T00:00:01.5Z", 1.5),
        ("1970/01/02 00:00:00", 86_400.0),
        ("02.01.1970 00:00:05", 86_405.0),
        ("13/12/2031 00:00:05", 5.0),  # which is the month is not asked
    ],
)
def test_times(text: str, seconds: float) -> None:
    cell = read_cell(text)
    assert (cell.kind, cell.value) == ("clock", seconds)


@pytest.mark.parametrize("text", ["00:75:00", "1999-13-40 00:00:00", "12:", ":30:00", "0000-00-00"])
def test_no_times(text: str) -> None:
    assert read_cell(text).kind == "text"


@given(st.text(max_size=40))
def test_any_text_is_something(text: str) -> None:
    cell = read_cell(text)
    assert math.isfinite(cell.value) == (cell.kind in ("number", "clock"))
    assert mark_shown(text) in (None, ",", ".")


@given(st.floats(min_value=0.0, max_value=1e9), st.integers(0, 6), st.booleans(), st.sampled_from([",", "."]))
def test_a_number_written_either_way_comes_back(value: float, digits: int, grouped: bool, mark: str) -> None:
    written = f"{value:,.{digits}f}" if grouped else f"{value:.{digits}f}"
    if mark == ",":
        written = written.translate({ord(","): ".", ord("."): ","})
    assert plain_number(written, mark) == pytest.approx(float(f"{value:.{digits}f}"), rel=1e-15)
