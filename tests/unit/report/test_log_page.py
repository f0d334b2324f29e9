"""The page of a log: what is said, what is drawn where, and that the numbers in it are the log's."""

from __future__ import annotations

import re
import shlex

import numpy as np
import pytest

from tests.unit.report.logs import COLUMNS, EXPECTED, FOUR, SPANS, made_up_log
from witnessmark.case.reported import MonitorState, OnBoardTest, Reported, ReportedCode
from witnessmark.finding import Finding
from witnessmark.report.logcourse import course_figure
from witnessmark.report.logcurves import Expected, curves_of, signal_shown
from witnessmark.report.logpage import ColumnSeen, render_log
from witnessmark.report.logseen import is_outside, log_sentences, log_tables, outside_rows
from witnessmark.report.logstates import state_figure
from witnessmark.report.logtext import log_text
from witnessmark.vocabulary import Condition, Place


def test_what_lies_outside_is_said_first_and_what_lies_inside_is_counted() -> None:
    told = " ".join(log_sentences(made_up_log(), FOUR, EXPECTED))
    assert "Of 4 values that can be held against a sound engine, one lies outside what nine of ten" in told
    assert "Once a value dropped out, stood still, jumped or could not be believed" in told
    (row,) = outside_rows(made_up_log(), FOUR, EXPECTED)
    assert row.replace("\N{NO-BREAK SPACE}", " ").startswith("Manifold pressure reported, idle: 46")
    assert "10 min, five values" in told.replace("\N{NO-BREAK SPACE}", " ")


def test_nothing_is_said_outside_when_nothing_is_expected() -> None:
    assert not any("sound engine" in text for text in log_sentences(made_up_log(), FOUR))


def test_a_sound_log_says_so() -> None:
    near = tuple(e for e in EXPECTED if e.quantity != "map_reported")
    assert any("All 3 values" in text for text in log_sentences(made_up_log(), FOUR, near))


@pytest.mark.parametrize(("value", "outside"), [(34.0, False), (38.0, False), (39.5, True), (28.5, True)])
def test_a_band_holds_nine_of_ten(value: float, outside: bool) -> None:
    """1.645 spreads to either side of a normal distribution hold 90 % (any table)."""
    finding = Finding("map_reported", Place(), value, 0.1)
    assert is_outside(finding, Expected("map_reported", Place(), "idle", 34.0, 2.5)) == outside


def test_tables_stand_in_the_order_of_states() -> None:
    tables = log_tables(made_up_log(), FOUR, EXPECTED)
    assert [table.head.split(",")[0] for table in tables] == ["Idle", "Cruising"]
    assert "in 2 stretches" in tables[0].head.replace("two", "2")
    pressure = next(row for row in tables[0].rows if row.ids == "f2")
    assert pressure.outside
    assert pressure.at == (pytest.approx(12.0 / 2.5), pytest.approx(0.3 / 2.5))


def test_short_and_long_trims_are_drawn_together() -> None:
    curves = curves_of(made_up_log(), EXPECTED)
    assert "short_trim bank=1" not in curves
    idle = curves["fuel_trim bank=1"].inside(10.0, 200.0)
    assert np.mean(idle.values) == pytest.approx(1.0 - 1.6, abs=0.2)


def test_boxes_stand_where_they_are_expected() -> None:
    figure = course_figure(made_up_log(), EXPECTED)
    assert figure is not None
    boxes = re.findall(r'<rect class="band" x="([^"]+)" y="[^"]+" width="([^"]+)"', figure.svg)
    idle = [span for span in SPANS if span.state == "idle"]
    assert len(boxes) == len(EXPECTED) * len(idle)
    left, width = (float(v) for v in boxes[0])
    assert left == pytest.approx(78.0 + 650.0 * 10.0 / 599.5, abs=0.2)
    assert width == pytest.approx(650.0 * 190.0 / 599.5, abs=0.2)


def test_each_state_has_its_bar_and_its_box() -> None:
    figure = state_figure(made_up_log(), EXPECTED)
    assert figure is not None
    assert figure.svg.count('class="band"') == len(EXPECTED)
    assert ">idle<" in figure.svg
    assert ">snap throttle<" not in figure.svg


def test_a_line_is_broken_where_samples_are_missing() -> None:
    whole, log = course_figure(made_up_log()), made_up_log()
    speed = log.log.get("engine_speed")
    assert whole is not None
    assert speed is not None
    gone = (speed.times_s < 100.0) | (speed.times_s > 130.0)
    holed = dict(log.log.series) | {
        speed.signal: type(speed)(speed.signal, speed.times_s[gone], speed.values[gone], name=speed.name)
    }
    broken = course_figure(type(log)(type(log.log)(holed), log.states, (), (), (), ()))
    assert broken is not None
    first = [re.findall(r'class="wave cr" d="([^"]+)"', figure.svg)[0].count("M") for figure in (whole, broken)]
    assert first == [1, 2]


def test_what_never_moved_is_not_drawn_unless_it_matters() -> None:
    log = made_up_log()
    speed = log.log.get("engine_speed")
    assert speed is not None
    flat = dict(log.log.series) | {speed.signal: type(speed)(speed.signal, speed.times_s, 0.0 * speed.values)}
    still = type(log)(type(log.log)(flat), log.states, log.findings, (), (), ())
    assert "engine_speed" in curves_of(log)
    assert "engine_speed" not in curves_of(still)
    held = (Expected("map_reported", Place(), "idle", 34.0, 2.5),)
    pressure = log.log.get("map")
    assert pressure is not None
    stuck = dict(log.log.series) | {
        pressure.signal: type(pressure)(pressure.signal, pressure.times_s, 0.0 * pressure.values + 40.0)
    }
    assert "map" in curves_of(type(log)(type(log.log)(stuck), log.states, log.findings, (), (), ()), held)


@pytest.mark.parametrize(
    ("heading", "option"),
    [
        ("T liq", '--column "T liq=coolant unit=F"'),
        ("$(reboot)", "--column '$(reboot)=coolant unit=F'"),
        ('say "t"', "--column 'say \"t\"=coolant unit=F'"),
    ],
)
def test_what_to_type_is_safe_in_a_shell(heading: str, option: str) -> None:
    """A heading comes from somebody's file and is told to be pasted: quoted as POSIX shells have it (shlex)."""
    column = ColumnSeen(heading, "coolant temperature", "F", "Is it?", (), "coolant unit=F")
    assert column.option == option
    assert shlex.split(column.option) == ["--column", f"{heading}=coolant unit=F"]


def test_a_heading_does_not_steer_the_terminal() -> None:
    columns = (ColumnSeen("\x1b[2Jt", "coolant temperature", "", "Is \x1b[2Jt it?", (), "coolant"),)
    told = log_text(made_up_log(), FOUR, EXPECTED, columns)
    assert "\x1b" not in told
    assert "[2Jt" in told


def test_what_the_vehicle_told_stands_beside_its_values() -> None:
    log = made_up_log()
    code = Finding("code_state", Place.of(code="P0171"), 1.0, 0.02, id="f90")
    frozen = Finding("engine_speed", Place(), 780.0, 15.0, condition=Condition(speed_rpm=780.0, freeze="P0171"))
    told = Reported(
        (ReportedCode("P0171", status=("pending",)),),
        (MonitorState("catalyst", "complete"),),
        (OnBoardTest("A2", "0B", -5.0, -20.0, None, "deg", "a test", by_hand=False),),
    )
    with_told = type(log)(log.log, log.states, (*log.findings, code, frozen), (), (), ())
    page = render_log(with_told, FOUR, EXPECTED, reported=told)
    for text in ("What the vehicle says", "Mixture of bank 1: lean", "pending", "catalyst", "−5°", "frozen with P0171"):
        assert text in page.replace("\N{NO-BREAK SPACE}", " ")
    assert '<span class="w">−5°' not in page  # violet is the hand
    assert page.count("f90") == 1


def test_which_curve_shows_a_quantity() -> None:
    assert signal_shown("temperature_reported", Place.of(sensor="iat")) == "intake_air"
    assert signal_shown("lambda_reported", Place.of(sensor="o2_front_2")) == "lambda bank=2 sensor=1"
    assert signal_shown("misfire_count", Place.of(cylinder=1)) is None


def test_the_page_says_everything_and_fetches_nothing() -> None:
    page = render_log(made_up_log(), FOUR, EXPECTED, COLUMNS, assumed=("Compression ratio 10.4, usual.",))
    for text in (
        "Not sure what these are",
        "Is it a plain ratio?",
        "stood still",
        "line 812",
        "not measured",
        "left aside",
    ):
        assert text in page
    assert "<script" not in page
    assert not re.search(r"(src|href)=.?http", page)
