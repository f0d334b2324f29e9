"""The logs of two cars, every count checked against an independent reading with the csv module of Python."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import numpy as np
import pytest

from witnessmark.recording import read_recording
from witnessmark.recording.logtable import read_log_table, time_candidates

pytestmark = pytest.mark.recordings

AIR_METER = [f"airmeter_{letter}" for letter in "abcdef"]
SPEED_DENSITY = ["campus", "drive", "idle", "live"]


def independent(path: Path) -> tuple[list[str], list[list[str]]]:
    """Headings and rows, as the csv module cuts them."""
    text = path.read_text(encoding="utf-8")
    rows = list(csv.reader(io.StringIO(text), delimiter=";" if ";" in text.split("\n")[0] else ","))
    return rows[0], [[cell.strip() for cell in row] for row in rows[1:] if row]


def number(cell: str) -> float:
    """The number a cell begins with; NaN for an empty one."""
    found = re.match(r"-?\d+(?:[.,]\d+)?", cell)
    return float(found[0].replace(",", ".")) if found else float("nan")


def clock(cell: str) -> float:
    """Seconds in HH:MM:SS; NaN for an empty cell."""
    if not cell:
        return float("nan")
    hours, minutes, seconds = (int(part) for part in cell.split(":"))
    return 3600.0 * hours + 60.0 * minutes + seconds


@pytest.mark.parametrize("name", AIR_METER + SPEED_DENSITY)
def test_rows_columns_and_every_number(recordings: Path, name: str) -> None:
    path = recordings / "scan" / f"{name}.csv"
    headings, rows = independent(path)
    table = read_log_table(path)
    assert list(table.headings) == headings
    assert len(table) == len(rows)
    assert table.lines.tolist() == list(range(2, len(rows) + 2))
    for column in table.columns:
        cells = [row[column.index] if column.index < len(row) else "" for row in rows]
        assert column.filled == sum(cell != "" for cell in cells), column
        assert (column.kind == "empty") == (not any(cells)), column
        if column.kind == "number":
            assert np.array_equal(column.values, [number(cell) for cell in cells], equal_nan=True), column
        elif column.kind == "clock":
            assert np.array_equal(column.values, [clock(cell) for cell in cells], equal_nan=True)
        elif column.kind == "text":
            assert [column.word_at(k) or "" for k in range(len(cells))] == cells


@pytest.mark.parametrize("name", SPEED_DENSITY)
def test_the_rows_that_are_cut_are_counted_and_named(recordings: Path, name: str) -> None:
    path = recordings / "scan" / f"{name}.csv"
    headings, rows = independent(path)
    # A whole row ends with a delimiter too many, so it has one empty cell more than there are headings.
    short = [(k + 2, sum(cell != "" for cell in row)) for k, row in enumerate(rows) if len(row) <= len(headings)]
    table = read_log_table(path)
    assert [(row.line, row.cells) for row in table.cut_rows] == short
    assert len(short) == (1 if name == "idle" else 0)
    recording = read_recording(path)
    assert recording.format == "parameter_csv"
    for line, cells in short:
        assert any(f"line {line} after {cells} of 27 cells" in note for note in recording.notes)
    assert max(len(trace) for trace in recording) == len(rows)


@pytest.mark.parametrize("name", AIR_METER)
def test_units_in_cells_empty_columns_and_answers_nobody_decoded(recordings: Path, name: str) -> None:
    path = recordings / "scan" / f"{name}.csv"
    _, rows = independent(path)
    table = read_log_table(path)
    expected = {"ENGINE_COOLANT_TEMP": "C", "MAF": "g/s", "ENGINE_RPM": "rpm", "SPEED": "km/h", "TIMING_ADVANCE": "%"}
    assert {heading: table[heading].unit for heading in expected} == expected
    assert {table[heading].unit_from for heading in expected} == {"cells"}
    column = table["DTC_NUMBER"]
    answers = [k + 2 for k, row in enumerate(rows) if re.fullmatch(r"[0-9A-F:]+", row[column.index])]
    assert column.undecoded_count == len(answers)
    assert tuple(line for each in column.undecoded for line in each.lines) == tuple(answers[:5])
    recording = read_recording(path)
    assert any("not decoded" in note for note in recording.notes) == bool(answers)
    assert any(f"{len(table.empty)} empty columns" in note and "“FUEL_TYPE”" in note for note in recording.notes)


@pytest.mark.parametrize("name", AIR_METER + SPEED_DENSITY)
def test_the_run_time_orders_the_rows(recordings: Path, name: str) -> None:
    path = recordings / "scan" / f"{name}.csv"
    table = read_log_table(path)
    best = time_candidates(table)[0]
    assert table.columns[best.column].heading in ("ENGINE_RUN_TINE ()", "ENGINE_RUNTIME")
    recording = read_recording(path)
    assert recording.started is None  # a run time is no time of day
    stamps = table.columns[best.column].values
    for trace in recording:
        assert (np.diff(trace.times_s) > 0).all()
    # Whatever was spread, no row of the running engine lies further from its stamp than the stamps lie apart.
    speed = recording["ENGINE_RPM"]
    running = stamps[table["ENGINE_RPM" if name in AIR_METER else "ENGINE_RPM ()"].there]
    late = (speed.times_s - running)[np.isfinite(running)]
    running = running[np.isfinite(running)]
    assert late[running > running[0]].min() >= -1e-9
    assert late.max() <= max(speed.stamp_s, 1e-9) + 1e-9
    assert recording.span_s[1] == pytest.approx(stamps[-1], abs=2.0)
