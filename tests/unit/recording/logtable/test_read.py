"""Whole tables: every way of writing, and everything that may stand where a number should."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.unit.recording.logtable.tables import LogWriting, log_writings, of, values
from witnessmark.errors import DamagedRecording, FormatError, InputError
from witnessmark.recording import read_recording
from witnessmark.recording.logtable import log_recording, log_table
from witnessmark.recording.logtable.layout import MOST_COLUMNS

NAMES = ["Time", "Motordrehzahl", "Kühlmittel", "Air flow", "Trim"]
UNITS = ["s", "rpm", "°C", "g/s", "%"]
KEPT = ["s", "rpm", "C", "g/s", "%"]
NAN = float("nan")


def cells(rng: np.random.Generator, rows: int) -> list[list[str | None]]:
    """An invented warm idle with values missing here and there."""
    made: list[list[str | None]] = []
    for k in range(rows):
        row: list[str | None] = [
            f"{0.5 * k:.1f}",
            f"{rng.integers(700, 2300)}",
            f"{rng.integers(60, 95)}",
            f"{rng.uniform(2, 40):.2f}",
            f"{rng.uniform(-9, 9):.1f}",
        ]
        made.append([cell if j == 0 or rng.uniform() > 0.1 else None for j, cell in enumerate(row)])
    return made


@given(log_writings(), st.integers(0, 1000))
@example(LogWriting(decimal=",", units="cells", encoding="cp1252", missing="N/A"), 1)
@example(LogWriting(delimiter=",", decimal=",", quoted=True, units="slash", trailing=True), 2)
@example(LogWriting(delimiter="\t", decimal=",", units="row", encoding="utf-16", newline="\r\n"), 3)
def test_a_table_is_read_as_it_was_written(way: LogWriting, seed: int) -> None:
    made = cells(np.random.default_rng(seed), 25)
    made[0] = ["0.0", "800", "80", "4.07", "1.5"]  # something in every column
    table = log_table(way.text(NAMES, UNITS, made), "bench.csv")
    assert len(table) == len(made)
    assert [column.name for column in table.columns] == NAMES
    for k, column in enumerate(table.columns):
        expected = [NAN if row[k] is None else float(row[k] or 0) for row in made]
        assert np.array_equal(column.values, expected, equal_nan=True), (column, way)
        assert column.unit == (None if way.units == "none" else KEPT[k])
        assert sum(column.missing_words.values()) == (sum(map(math.isnan, expected)) if way.missing else 0)
    recording = log_recording(table)
    assert len(recording) == 4
    assert dict(recording.header) == ({"Shop log": f"part {way.preamble - 1}"} if way.preamble else {})


def test_a_second_reader_of_the_same_text_agrees() -> None:
    """The csv module of Python cuts the same cells, quotation marks and delimiters inside them included."""
    text = 'Time,"Speed, engine",Note\n' + "".join(f'{k},"1{k}.5","a, ""b"" {k}"\n' for k in range(8))
    rows = list(csv.reader(io.StringIO(text)))
    table = of(text)
    assert list(table.headings) == rows[0]
    assert values(table, 1) == [float(row[1]) for row in rows[1:]]
    assert [table[2].word_at(k) for k in range(8)] == [row[2] for row in rows[1:]]


def test_equal_headings_are_kept_apart() -> None:
    table = of("Time;Speed;Speed;;Speed\n" + "".join(f"{k};1;2;3;4\n" for k in range(5)))
    assert [column.label for column in table.columns] == ["Time", "Speed", "Speed (2)", "column 4", "Speed (3)"]
    assert values(table, "Speed (2)") == [2.0] * 5
    with pytest.raises(InputError, match=r"No column is called “Sped”. Nearest: Speed"):
        table["Sped"]


def test_without_headings() -> None:
    table = of("".join(f"{k},{800 + k},{20 + k % 3}\n" for k in range(5)))
    assert [column.heading for column in table.columns] == ["", "", ""]
    assert table.lines.tolist() == [1, 2, 3, 4, 5]


def test_short_long_blank_and_repeated_lines_are_counted_and_named() -> None:
    lines = ["Time;Speed;Load", *(f"{k};80{k};2{k}" for k in range(6))]
    lines[2] = "1;801"  # line 3
    lines[4] = "3;803;23;9;9"  # line 5
    lines += ["", ";;", "Time;Speed;Load", "logger stopped", "6;806;26"]
    table = of("\n".join(lines) + "\n")
    assert [(row.line, row.cells) for row in table.cut_rows] == [(3, 2)]
    assert table.long_rows == (5,)
    assert table.blank_rows == 1
    assert table.heading_lines == (10,)
    assert table.remarks == ((11, "logger stopped"),)
    assert np.array_equal(values(table, "Load"), [20, NAN, 22, 23, 24, 25, 26], equal_nan=True)
    assert values(table, "Speed")[1] == 801.0
    told = " | ".join(table.notes)
    for words in ("line 3 after 2 of 3 cells", "more cells than columns: line 5", "again in line 10", "line"):
        assert words in told
    assert "11 (“logger stopped”)" in told


def test_a_number_cut_at_the_end_of_the_file_is_not_used() -> None:
    text = "Time;Speed;Load\n" + "".join(f"{k};80{k}.25;2{k}.50\n" for k in range(6))
    table = of(text + "6;806.2")
    assert np.isnan(values(table, "Speed")[-1])
    assert values(table, "Time")[-1] == 6.0
    assert table.cut_rows[-1].half
    assert "cut, too, and was left out" in " ".join(table.notes)
    whole = of(text.removesuffix("\n"))
    assert not whole.cut_rows
    assert values(whole, "Load")[-1] == 25.5


def test_words_numbers_of_another_unit_and_undecoded_answers() -> None:
    rows = [
        "0;100kPa;closed;ON;3",
        "1;14.5psi;open;OFF;N",
        "2;101kPa;closed;ON;4",
        "3;12V;410300;ON;4",
        "4;410B64;closed;OFF;5",
        "5;99kPa;closed;OFF;5",
    ]
    table = of("Time;MAP;Loop;Lamp;Gear\n" + "\n".join(rows) + "\n")
    pressure, loop, lamp, gear = (table[name] for name in ("MAP", "Loop", "Lamp", "Gear"))
    # 1 psi = 6.894757 kPa (definition of the international pound and inch)
    assert values(table, "MAP") == pytest.approx([100.0, 14.5 * 6.894757293, 101.0, NAN, NAN, 99.0], nan_ok=True)
    assert dict(pressure.cell_units) == {"kPa": 3, "psi": 1}
    assert any("several units" in note and "1 in psi" in note for note in pressure.notes)
    assert [(each.text, each.lines) for each in pressure.undecoded] == [("12V", (5,)), ("410B64", (6,))]
    assert loop.words == ("closed", "open", "410300")
    assert [(each.text, each.count, each.lines) for each in loop.undecoded] == [("410300", 1, (5,))]
    assert values(table, "Lamp") == [1, 0, 1, 1, 0, 0]
    assert lamp.words == ("OFF", "ON")
    assert [(each.text, each.count) for each in gear.undecoded] == [("N", 1)]
    assert gear.whole
    notes = " | ".join(log_recording(table).notes)
    assert "“MAP”: 2 cells not decoded" in notes
    assert "“Lamp” holds words: 0 = “OFF”, 1 = “ON”" in notes


def test_an_answer_of_digits_only_is_no_number() -> None:
    column = of("Time;Coolant\n" + "".join(f"{k};{'41050075' if k == 7 else 70 + k}\n" for k in range(12)))["Coolant"]
    assert [(each.text, each.lines) for each in column.undecoded] == [("41050075", (9,))]
    assert column.filled == 11


def test_heading_and_cells_that_disagree_are_told() -> None:
    column = of("Time;MAP [bar]\n" + "".join(f"{k};{98 + k}kPa\n" for k in range(5)))["MAP"]
    assert (column.unit, column.unit_from, column.heading_unit) == ("kPa", "cells", "bar")
    assert column.notes == ("the heading says bar, the cells say kPa",)


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("RPM ()", "RPM", None),
        ("Coolant (°C)", "Coolant", "C"),
        ("Drehzahl [U/min]", "Drehzahl", "rpm"),
        ("Motordrehzahl /min", "Motordrehzahl", "rpm"),
        ("Engine speed / rpm", "Engine speed", "rpm"),
        ("Trim (Bank 1)", "Trim (Bank 1)", None),
        ("O2 voltage (B1S2)", "O2 voltage (B1S2)", None),
        ("ENGINE_RPM", "ENGINE_RPM", "rpm"),
        ("Fuel rate, l/h", "Fuel rate", "L/h"),
        ("Dose [mg/str]", "Dose", "mg/str"),
        ("Throttle %", "Throttle", "%"),
        ("Sensor B", "Sensor B", None),
        ("Engine RPM", "Engine RPM", "rpm"),
        ("Pedal_F", "Pedal_F", None),
        ("Bank 1, A", "Bank 1, A", None),
        ("Spannung / V", "Spannung", "V"),
        ("Run time min", "Run time min", None),
    ],
)
def test_units_of_headings(heading: str, name: str, unit: str | None) -> None:
    quoted = f'"{heading}"'
    column = of(f"Time,{quoted},x\n" + "".join(f"{k},1,2\n" for k in range(4))).columns[1]
    assert (column.name, column.unit) == (name, unit)


def test_the_decimal_mark_is_found_for_each_column() -> None:
    rows = "".join(f"{k};1.50{k};2,50{k};1.5;{k}\n" for k in range(6))
    table = of("Time;a;b;c;d\n" + rows)
    # The file's mark is the point: column c proves it. By it 1.503 is a fraction, and 2,503 are thousands.
    assert values(table, "a")[3] == 1.503
    assert values(table, "b")[3] == 2503.0
    comma = of("Time;a;b\n" + "".join(f"{k};2,50{k};{k},5\n" for k in range(6)))
    assert values(comma, "a")[3] == 2.503


def test_remarks_as_wide_as_the_table_and_rows_of_limits_are_no_rows() -> None:
    """What stands between remarks and values: nothing of it may pass for a measured value."""
    rows = "".join(f"{0.2 * k:.1f};{800 + k % 5}\n" for k in range(20))
    table = of("sep=;\nVehicle;test car\nDate;2031-02-01\nTime;RPM\ns;1/min\nmin;0\nmax;8000\n" + rows + "Mean;802\n")
    assert table.headings == ("Time", "RPM")
    assert dict(table.header) == {"Vehicle": "test car", "Date": "2031-02-01"}
    assert [column.unit for column in table.columns] == ["s", "rpm"]
    assert len(table) == 20
    assert [line for line, _ in table.remarks] == [6, 7, 28]
    assert values(table, "RPM")[:3] == [800.0, 801.0, 802.0]


def test_without_headings_the_units_in_the_cells_tell_the_time() -> None:
    recording = log_recording(of("".join(f"{k}s;{800 + k % 7}rpm;88C;{30 + k % 2}kPa\n" for k in range(30))))
    assert [(trace.name, trace.unit) for trace in recording] == [
        ("channel 0", "rpm"),
        ("channel 1", "C"),
        ("channel 2", "kPa"),
    ]
    assert recording.traces[0].times_s.tolist() == list(range(30))


def test_one_row_needs_no_time() -> None:
    table = of("Engine speed [rpm];Coolant;Air flow\n812;88C;4,1g/s\n")
    recording = log_recording(table, {0: "engine_speed", 1: "coolant", 2: "maf"})
    assert {trace.role: trace.values.tolist() for trace in recording} == {
        "engine_speed": [812.0],
        "coolant": [88.0],
        "maf": [4.1],
    }
    assert {trace.times_s.tolist()[0] for trace in recording} == {0.0}
    assert not any("row" in note for note in recording.notes)


@pytest.mark.parametrize(
    "text",
    [
        "Engine speed;812;rpm\nCoolant;88;°C\nAir flow;4,1;g/s\nLoop;closed;\nRun time;00:03:20;\n",
        "Parameter\tValue\tUnit\nEngine speed\t812\trpm\nCoolant\t88\tC\nAir flow\t4.1\tg/s\n"
        "Loop\tclosed\nRun time\t00:03:20\n",
        "Shop note\nEngine speed: 812 rpm\nCoolant: 88 C\nAir flow: 4.1g/s\nLoop: closed\nRun time: 00:03:20\n",
        "Engine speed = 812 rpm\nCoolant = 88 °C\nAir flow = 4,1 g/s\nLoop = closed\nRun time = 00:03:20",
        "Engine speed, 812 rpm\nCoolant, 88 C\nAir flow, 4,1 g/s\nLoop, closed\nRun time, 00:03:20\n",
    ],
)
def test_a_page_of_readings_is_a_log_of_one_row(text: str, tmp_path: Path) -> None:
    path = tmp_path / "page.txt"
    path.write_text(text, encoding="utf-8")
    recording = read_recording(path)
    assert recording.format == "parameter_csv"
    found = {trace.name: (trace.values.tolist(), trace.unit) for trace in recording}
    assert found == {
        "Engine speed": ([812.0], "rpm"),
        "Coolant": ([88.0], "C"),
        "Air flow": ([4.1], "g/s"),
        "Loop": ([0.0], None),
        "Run time": ([200.0], "s"),
    }
    assert "0 = “closed”" in " ".join(recording.notes)


def test_a_page_is_typed_without_any_mark(tmp_path: Path) -> None:
    path = tmp_path / "page.txt"
    path.write_text("my own note\nrpm 820\ncoolant 91 °C\nshort trim b1 -4,7 %\nO2 B1S1 0.45V\nrun time 00:03:20\n")
    recording = read_recording(path)
    assert {trace.name: (trace.values.tolist(), trace.unit) for trace in recording} == {
        "rpm": ([820.0], None),
        "coolant": ([91.0], "C"),
        "short trim b1": ([-4.7], "%"),
        "O2 B1S1": ([0.45], "V"),
        "run time": ([200.0], "s"),
    }


def test_a_letter_is_no_page_of_readings() -> None:
    with pytest.raises(FormatError, match="no rows of numbers"):
        of("Dear customer,\nwe drove 20 km\nand it was fine.\nRegards\nfrom all 3 of us\n")
    with pytest.raises(FormatError, match="no rows of numbers"):
        of("Dear customer,\nthe car is ready.\nPrice: 80\n")


def test_zero_bytes_in_a_cell_spoil_that_cell_only() -> None:
    speeds = ["800", "801", "802", "8\0" + "03", "804", "805"]
    table = of("Time;Speed;Load\n" + "".join(f"{k};{speed};20\n" for k, speed in enumerate(speeds)))
    assert len(table) == 6
    assert [each.lines for each in table["Speed"].undecoded] == [(5,)]


def test_too_many_columns_and_short_rows_under_a_wide_heading_take_no_memory() -> None:
    with pytest.raises(FormatError, match="columns at most"):
        of(";".join(["a"] * (5 * MOST_COLUMNS)) + "\n" + "1;2\n" * 5)
    wide = ";".join(f"h{k}" for k in range(1500)) + "\n"
    rows = (";".join(["1"] * 1500) + "\n") * 5
    with pytest.raises(DamagedRecording, match="cut short, most of them"):
        of(wide + rows + "1;2\n" * 100_000)


def test_headings_alone_are_refused() -> None:
    with pytest.raises(DamagedRecording, match="no rows below"):
        of("Time;Speed;Load\n")


@given(st.text(alphabet=st.sampled_from('0123456789.,;\t"-:%kPaCe \n\r#N'), max_size=300))
def test_anything_like_a_table_is_read_or_refused_in_one_line(text: str) -> None:
    try:
        table = of(text)
        recording = log_recording(table)
    except InputError as refused:
        line = str(refused)
        table = None
    if table is None:
        assert "\n" not in line
        return
    assert all(column.values.size == len(table) for column in table.columns)
    assert all((np.diff(trace.times_s) > 0).all() for trace in recording)
