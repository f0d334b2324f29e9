from __future__ import annotations

import math

import pytest

from witnessmark.recording.cells import clock_seconds, is_number, number_in, split_cells


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("1.5", ".", 1.5),
        ("-1,5", ",", -1.5),
        ("+3.82e+00", ".", 3.82),
        (".5", ".", 0.5),
        (",5", ",", 0.5),
        ("7.", ".", 7.0),
        ("\u22122,5", ",", -2.5),
        ("true", ".", 1.0),
        ("LOW", ".", 0.0),
        ("inf", ".", math.inf),
        ("-∞", ".", -math.inf),
    ],
)
def test_numbers(cell: str, decimal: str, value: float) -> None:
    assert number_in(cell, decimal) == value


@pytest.mark.parametrize("cell", ["", "NaN", "n/a", "--", "NULL"])
def test_missing(cell: str) -> None:
    assert math.isnan(number_in(cell, ".") or 0.0)


@pytest.mark.parametrize("cell", ["x", "1.2.3", "1_0", "0x10", "3e", "1;2", "12:30", "1,", "24g/s"])
def test_what_is_no_number(cell: str) -> None:
    assert number_in(cell, ",") is None
    assert not is_number(cell, ".")


@pytest.mark.parametrize(
    ("cell", "seconds", "date"),
    [
        ("00:01:02.5", 62.5, None),
        ("12:34", 45240.0, None),
        ("1970-01-02 00:00:01", 86401.0, "1970-01-02"),
        ("1970-01-02T00:00:01,25Z", 86401.25, "1970-01-02"),
        ("02.01.2025 10:00:00", 36000.0, "02.01.2025"),
    ],
)
def test_times_of_day(cell: str, seconds: float, date: str | None) -> None:
    assert clock_seconds(cell) == (seconds, date)


@pytest.mark.parametrize("cell", ["12", "12:75:00", "a:b:c", "1.5"])
def test_what_is_no_time_of_day(cell: str) -> None:
    assert clock_seconds(cell) is None


def test_blanks_count_as_one() -> None:
    assert split_cells("  1.0\t 2   3 ", " ") == ["1.0", "2", "3"]
    assert split_cells("1; 2;;", ";") == ["1", "2", "", ""]
