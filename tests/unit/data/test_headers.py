"""The logs of both exams and their answers are whole, and the score counts as it says."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from pathlib import Path

import pytest

from tests.data.headers.make import FOLDER, HELD_OUT, files, held_out_files, open_sheets
from tests.data.headers.score import Answer, LogAnswers, Proposal, Score, canonical_unit, read_answers, score
from tests.data.headers.second import make as second
from tests.data.headers.sheet import TROUBLES
from tests.data.headers.sheet import UNITS as FACTORS
from witnessmark.errors import InputError
from witnessmark.recording.parameters import signal_of

OPEN, HELD = read_answers(FOLDER), read_answers(HELD_OUT)
LOGS = {**OPEN, **HELD}
SECOND_OPEN, SECOND_HELD = read_answers(second.FOLDER), read_answers(second.HELD_OUT)
SECOND = {**SECOND_OPEN, **SECOND_HELD}
BOTH = {**LOGS, **SECOND}  # the second exam's names go on from 41
# What a unit of the answers may be: another spelling would never be proposed, and the column never right.
UNITS = {
    "", "s", "ms", "hh:mm:ss", "min", "rpm", "km/h", "mph", "km", "%", "N m", "kPa", "Pa", "mbar", "hPa", "bar",
    "MPa", "psi", "inHg", "g/s", "kg/h", "lb/min", "L/h", "V", "mV", "A", "mA", "deg", "C", "F", "AFR",
    "mmHg", "kgf/cm2", "mi", "us", "gal/h",
}  # fmt: skip


def table(log: LogAnswers) -> list[list[str]]:
    text = log.path.read_bytes().decode(log.encoding)
    lines = text.splitlines(keepends=True)[log.header_line - 1 :]
    return list(csv.reader(io.StringIO("".join(lines)), delimiter=log.delimiter))


def test_the_files_are_those_that_the_script_makes() -> None:
    for folder, made in (
        (FOLDER, files(open_sheets())),
        (HELD_OUT, held_out_files()),
        (second.FOLDER, files(second.open_sheets())),
        (second.HELD_OUT, second.held_out_files()),
    ):
        assert {path.name for path in folder.glob("*.csv")} == set(made) - {"answers.toml"}
        assert not [name for name, content in made.items() if (folder / name).read_bytes() != content]


def test_forty_logs_of_five_languages_and_every_fourth_is_held_out() -> None:
    assert sorted(LOGS) == [f"{n:02d}.csv" for n in range(1, 41)]
    assert sorted(HELD) == [f"{n:02d}.csv" for n in range(4, 41, 4)]
    assert Counter(log.language for log in LOGS.values()) == dict.fromkeys(("en", "de", "fr", "es", "pt"), 8)
    assert set(Counter(log.language for log in HELD.values()).values()) == {2}


def test_there_are_enough_columns_and_few_questions_are_due() -> None:
    columns = [column for log in LOGS.values() for column in log.columns]
    sizes = [len(log.columns) for log in LOGS.values()]
    assert len(columns) >= 600
    assert (min(sizes), max(sizes)) == (3, 30)
    assert 0.03 <= sum(column.ask for column in columns) / len(columns) <= 0.06  # of the tenth that may be asked
    assert sum(path.stat().st_size for log in LOGS.values() for path in [log.path]) < 600_000


def test_the_second_exam_adds_italian_and_holds_out_every_second_log() -> None:
    assert sorted(SECOND) == [f"{n:02d}.csv" for n in range(41, 81)]
    assert sorted(SECOND_HELD) == [f"{n:02d}.csv" for n in range(42, 81, 2)]
    languages = {"en": 7, "de": 7, "fr": 7, "es": 7, "pt": 6, "it": 6}
    assert Counter(log.language for log in SECOND.values()) == languages
    assert all(3 <= count <= 4 for count in Counter(log.language for log in SECOND_HELD.values()).values())


def test_the_second_exam_has_enough_columns_few_questions_and_some_that_are_nothing() -> None:
    for logs in (SECOND_OPEN, SECOND_HELD):
        columns = [column for log in logs.values() for column in log.columns]
        assert len(columns) >= 350
        assert 0.015 <= sum(column.ask for column in columns) / len(columns) <= 0.03
        assert 0.03 <= sum(column.signal == "nothing" for column in columns) / len(columns) <= 0.05
        assert set(TROUBLES) >= {word for log in logs.values() for word in log.trouble}


def test_every_trouble_is_there_and_in_the_open_files_too() -> None:
    everywhere = {word for log in LOGS.values() for word in log.trouble}
    assert everywhere == set(TROUBLES)
    assert everywhere == {word for log in OPEN.values() for word in log.trouble}


@pytest.mark.parametrize("name", sorted(BOTH))
def test_each_heading_has_its_answer(name: str) -> None:
    log = BOTH[name]
    head, *rows = table(log)
    if "trailing delimiter" in log.trouble:
        assert head.pop() == ""
    assert head == [column.heading for column in log.columns]
    assert [column.index for column in log.columns] == list(range(len(head)))
    beside = ("unit in second row" in log.trouble) + ("repeated header" in log.trouble) + log.truncated
    assert len(rows) == log.rows + beside
    whole = rows[: len(rows) - log.truncated]
    assert {len(row) for row in whole} == {len(head) + ("trailing delimiter" in log.trouble)}


@pytest.mark.parametrize("name", sorted(BOTH))
def test_each_answer_names_signals_and_units_there_are(name: str) -> None:
    for column in BOTH[name].columns:
        for text in (column.signal, *column.signals_also, *column.candidates):
            assert str(signal_of(text)) == text
        assert column.unit in UNITS
        assert column.ask == bool(column.candidates) == bool(column.why)
        assert column.ask or not (column.must_ask or column.claims)
        assert not column.ask or column.signal in column.candidates


@pytest.mark.parametrize("name", sorted(BOTH))
def test_the_column_that_orders_the_rows_is_one(name: str) -> None:
    log = BOTH[name]
    kinds = [column.signal for column in log.columns]
    assert log.time == (kinds.index("time") if "time" in kinds else "none")
    if isinstance(log.order, int):
        assert kinds[log.order] in ("time", "clock", "run_time")
    else:
        assert not {"time", "clock", "run_time"} & set(kinds)


def numbers(log: LogAnswers, index: int) -> list[float]:
    """What can be read of a column as a number; thousands are not separated in any column that this is asked of."""
    cells = [row[index].strip().split(" ")[0] for row in table(log)[1:] if index < len(row)]
    text = [cell.replace(log.decimal, ".") for cell in cells]
    return [float(cell) for cell in text if re.fullmatch(r"-?\d+(\.\d+)?", cell)]


@pytest.mark.parametrize("name", sorted(BOTH))
def test_the_values_are_those_of_a_sound_vehicle(name: str) -> None:
    log = BOTH[name]
    scales = {"ms": "ms_of_s"} if log.time != "none" else {}
    outside = {}
    for column in log.columns:
        row = signal_of(column.signal).parameter
        if not row.is_number or column.must_ask or "thousands" in log.trouble or column.unit == "hh:mm:ss":
            continue
        factor, offset = FACTORS.get(
            scales.get(column.unit, column.unit) if row.kind == "time" else column.unit, (1, 0)
        )
        found = [(value - offset) / factor for value in numbers(log, column.index)[: log.rows]]
        assert found or "empty column" in log.trouble
        slack = 0.02 * (row.high - row.low)  # type: ignore[operator]
        if found and not row.low - slack <= min(found) <= max(found) <= row.high + slack:  # type: ignore[operator]
            outside[column.heading] = (min(found), max(found))
    assert not outside


def one(**answer: object) -> LogAnswers:
    columns = (Answer(index=0, heading="x", **answer),)  # type: ignore[arg-type]
    return LogAnswers(Path(), "x.csv", "en", "utf-8", ",", ".", 1, 1, False, "none", "none", (), columns)


def counts(log: LogAnswers, proposal: Proposal) -> tuple[int, int, int, int, int]:
    """Right, wrong without and with question, missed, asked."""
    found = score(log, {0: proposal})
    four = (found.right, found.wrong_without_question, found.wrong_with_question, found.missed)
    assert sum(four) == found.columns == 1
    return (*four, found.asked)


PLAIN = {"signal": "coolant", "unit": "F"}
DUE = {"signal": "coolant", "unit": "C", "ask": True, "candidates": ("coolant", "oil_temperature"), "why": "which"}
VACUUM = {"signal": "map", "unit": "inHg", "ask": True, "must_ask": True, "candidates": ("map",), "why": "vacuum"}
LYING = {"signal": "volts", "unit": "V", "claims": "mV", "ask": True, "candidates": ("volts",), "why": "unit"}


@pytest.mark.parametrize(
    ("answer", "proposal", "expected"),
    [
        (PLAIN, Proposal("coolant", "°F"), (1, 0, 0, 0, 0)),
        (PLAIN, Proposal("coolant", "F", asked=True), (1, 0, 0, 0, 1)),
        (PLAIN, Proposal("coolant", "C"), (0, 1, 0, 0, 0)),
        (PLAIN, Proposal("coolant"), (0, 1, 0, 0, 0)),
        (PLAIN, Proposal("intake_air", "F"), (0, 1, 0, 0, 0)),
        (PLAIN, Proposal("intake_air", "F", asked=True), (0, 0, 1, 0, 1)),
        (PLAIN, Proposal("nothing"), (0, 0, 0, 1, 0)),
        (PLAIN, Proposal("nothing", asked=True), (0, 0, 1, 0, 1)),
        (PLAIN, Proposal(), (0, 0, 0, 1, 0)),
        ({"signal": "nothing", "unit": "F"}, Proposal(), (1, 0, 0, 0, 0)),
        ({"signal": "nothing"}, Proposal("outside_air", "C"), (0, 1, 0, 0, 0)),
        ({"signal": "gear"}, Proposal("gear"), (1, 0, 0, 0, 0)),
        (
            {"signal": "fuel_status", "signals_also": ("fuel_status bank=1",)},
            Proposal("fuel_status bank=1"),
            (1, 0, 0, 0, 0),
        ),
        ({"signal": "short_trim bank=1", "unit": "%"}, Proposal("short_trim bank=2", "%"), (0, 1, 0, 0, 0)),
        (DUE, Proposal("oil_temperature", "C", asked=True), (1, 0, 0, 0, 1)),
        (DUE, Proposal("oil_temperature", "C"), (0, 1, 0, 0, 0)),
        (DUE, Proposal("coolant", "C"), (1, 0, 0, 0, 0)),
        (DUE, Proposal("intake_air", "C", asked=True), (0, 0, 1, 0, 1)),
        (VACUUM, Proposal("map", "inHg"), (0, 1, 0, 0, 0)),
        (VACUUM, Proposal("map", "inHg", asked=True), (1, 0, 0, 0, 1)),
        (LYING, Proposal("volts", "mV", asked=True), (1, 0, 0, 0, 1)),
        (LYING, Proposal("volts", "mV"), (0, 1, 0, 0, 0)),
        (LYING, Proposal("volts", "V"), (1, 0, 0, 0, 0)),
    ],
)
def test_one_column_is_counted_as_the_rules_say(
    answer: dict[str, object], proposal: Proposal, expected: tuple[int, int, int, int, int]
) -> None:
    assert counts(one(**answer), proposal) == expected


def test_the_truth_is_all_right_and_nothing_at_all_is_nearly_all_missed() -> None:
    truth, silence, doubt = Score(), Score(), Score()
    for log in LOGS.values():
        right = {c.index: Proposal(c.signal, c.unit, asked=c.must_ask) for c in log.columns}
        truth += score(log, right)
        silence += score(log, {})
        doubt += score(log, {i: Proposal(p.signal, p.unit, asked=True) for i, p in right.items()})
    assert truth.share_right == 1.0
    assert truth.share_asked < 0.02
    assert silence.share_right < 0.05
    assert silence.missed == silence.columns - silence.right
    assert (doubt.share_right, doubt.share_asked) == (1.0, 1.0)
    assert len(silence.wrong) == silence.missed


def test_a_column_that_is_not_there_and_a_signal_that_is_none_are_refused() -> None:
    with pytest.raises(ValueError, match="no column 1"):
        score(one(**PLAIN), {1: Proposal("coolant")})
    with pytest.raises(InputError):
        score(one(**PLAIN), {0: Proposal("coolent")})


def test_spellings_of_a_unit_are_one() -> None:
    assert canonical_unit("hPa") == canonical_unit("mbar")
    assert canonical_unit("°C") == canonical_unit("degC") == canonical_unit("C")
    assert canonical_unit("mV") != canonical_unit("V")
