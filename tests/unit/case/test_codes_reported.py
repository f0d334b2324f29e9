"""Codes with their status, readiness, freeze frames and on-board tests: typed, kept in a case, read again.

Words of a status: services 03, 07 and 0A of SAE J1979, bits of ISO 14229 (HANDBOOK §7). Monitors: SAE J1979, PID 01.
"""

from __future__ import annotations

import pytest

from witnessmark.case.code import code_findings, parse_code_line
from witnessmark.case.ready import parse_ready
from witnessmark.case.record import read_record
from witnessmark.case.reported import MonitorState, OnBoardTest, ReportedCode
from witnessmark.case.write import Typed, case_text
from witnessmark.errors import InputError


@pytest.mark.parametrize(
    ("line", "means"),
    [
        ("P0171", ReportedCode("P0171")),
        (" p0171 ", ReportedCode("P0171")),
        ("p0171-1A", ReportedCode("P0171", failure_type="1A")),
        ("P0171 status=pending", ReportedCode("P0171", status=("pending",))),
        ("P0171:00 status = Confirmed,lamp", ReportedCode("P0171", status=("confirmed", "lamp"), failure_type="00")),
        ("P0017 set=no monitor_ran=yes", ReportedCode("P0017", is_set=False, monitor_ran=True)),
        (
            "P0171\tset=no status=not_completed_since_clear",
            ReportedCode("P0171", is_set=False, status=("not_completed_since_clear",)),
        ),
        ("P0171 unit=7E8 monitor_ran=no", ReportedCode("P0171", monitor_ran=False, unit="7E8")),
    ],
)
def test_codes_as_typed(line, means):
    assert parse_code_line(line) == means


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("", "nothing is written"),
        ("P017", "one digit is missing"),
        ("P017 status=pending", "one digit is missing"),
        ("P0171 status=pendng", "Nearest: pending"),
        ("P0171 statu=pending", "Nearest: status"),
        ("P0171 pending", "is not understood"),
        ("P0171 set=perhaps", "yes or no"),
        ("P0171 status=pending status=confirmed", "twice"),
        ("P0171 set=no status=pending", "set=no, and status=pending says that it is set"),
        ("P0171 P0172", "another code stands behind it, P0172"),
        ("P0171,P0172", "is 2 codes. One code a line"),
        ("P0171-0", "its failure type is two digits"),
        ("P0000", "no code is stored"),
        ("P0171 unit=engine computer", "one word behind it"),
    ],
)
def test_lines_that_cannot_be_used(line, says):
    with pytest.raises(InputError) as caught:
        parse_code_line(line)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_what_a_code_is_evidence_of():
    (plain,) = code_findings(parse_code_line("P0171"), "P0171")
    assert (plain.quantity, plain.value, plain.sd, plain.source.kind) == ("code_state", 1.0, 0.02, "code")
    (confirmed,) = code_findings(parse_code_line("P0171 status=confirmed,pending"))
    (pending,) = code_findings(parse_code_line("P0171 status=pending"))
    (past,) = code_findings(parse_code_line("P0171 status=failed_since_clear"))
    assert confirmed.sd == plain.sd < pending.sd == past.sd
    silent, ran = code_findings(parse_code_line("P0017 set=no monitor_ran=yes"))
    assert (silent.quantity, silent.value) == ("code_state", 0.0)
    assert (ran.quantity, ran.value) == ("monitor_ran", 1.0)


def test_readiness_as_typed():
    found = parse_ready(["catalyst=complete  evaporation=Incomplete", "secondary_air=unsupported"])
    assert [(one.monitor, one.state) for one in found] == [
        ("catalyst", "complete"),
        ("evaporation", "incomplete"),
        ("secondary_air", "unsupported"),
    ]
    for line, says in (
        ("catalist=complete", "Nearest: catalyst"),
        ("catalyst=done", "state of a monitor"),
        ("catalyst", "no pair"),
        ("", "Nothing"),
    ):
        with pytest.raises(InputError, match=says):
            parse_ready([line])
    with pytest.raises(InputError, match="twice"):
        parse_ready(["catalyst=complete", "catalyst=incomplete"])


CASE = """
cylinders = 4
codes = ["P0016", "P0171 status=pending"]
readiness = {catalyst = "complete", evaporation = "incomplete"}

[[code]]
code = "P0420-00"
status = ["confirmed", "permanent"]
monitor_ran = true
unit = "engine computer"
note = "read twice"

[[code]]
code = "P0017"
set = false
monitor_ran = false

[[code]]
code = "P0300"
struck = true

[[freeze]]
code = "P0171"
saw = ["engine_speed 780 rpm", "fuel_trim bank=1 22"]

[[on_board_test]]
monitor = "A2"
test = "0B"
value = 12
high = 40
measured_in = "counts"
words = "Misfires of cylinder 1, mean of ten driving cycles"
"""


def test_a_case_with_all_of_it():
    record = read_record(CASE)
    assert [(one.code, one.is_set, one.status, one.monitor_ran) for one in record.reported.codes] == [
        ("P0016", True, (), None),
        ("P0171", True, ("pending",), None),
        ("P0420", True, ("confirmed", "permanent"), True),
        ("P0017", False, (), False),
    ]
    assert record.reported.codes[2].unit == "engine computer"
    assert record.reported.readiness == (
        MonitorState("catalyst", "complete"),
        MonitorState("evaporation", "incomplete"),
    )
    (test,) = record.reported.tests
    assert (test.passed, test.high, test.measured_in) == (True, 40.0, "counts")
    frozen = [(f.quantity, f.value) for f in record.findings if f.condition.freeze == "P0171"]
    assert frozen == [("engine_speed", 780.0), ("fuel_trim", 22.0)]
    states = [(f.place.get("code"), f.value) for f in record.findings if f.quantity == "code_state"]
    assert states == [("P0016", 1.0), ("P0171", 1.0), ("P0420", 1.0), ("P0017", 0.0)]


def test_what_is_typed_is_read_back_the_same():
    typed = Typed(
        codes=("P0016 status=confirmed", "P0017 set=no monitor_ran=yes"),
        ready=("catalyst=complete misfire=complete",),
        cylinders=4,
    )
    record = read_record(case_text(typed))
    assert record.reported.codes == tuple(parse_code_line(line) for line in typed.codes)
    assert record.reported.readiness == parse_ready(typed.ready)
    assert "readiness" not in case_text(Typed(cylinders=4))


@pytest.mark.parametrize(
    ("text", "says", "where"),
    [
        ('codes = ["P0171 status=pendng"]', "Nearest: pending", "line 2"),
        ('[[code]]\ncode = "P017"', "one digit is missing", "code 1"),
        ('[[code]]\ncode = "P0171"\nstatus = "pendng"', "Nearest: pending", "code 1"),
        ('[[code]]\ncode = "P0171"\nstatu = "pending"', "Nearest: status", "line 4"),
        ('[readiness]\ncatalist = "complete"', "Nearest: catalyst", "case.toml"),
        ('[[freeze]]\ncode = "P0171"\nsaw = "engine_sped 780"', "Nearest: engine_speed", "freeze 1"),
        ('codes = ["P0171", "P0171 status=pending"]', "given twice", "case.toml"),
    ],
)
def test_what_cannot_be_used_is_named(text, says, where):
    with pytest.raises(InputError) as caught:
        read_record(f"cylinders = 4\n{text}\n")
    assert says in str(caught.value)
    assert where in str(caught.value)


@pytest.mark.parametrize(
    ("low", "high", "passed"), [(None, None, None), (1.0, None, True), (None, 1.0, False), (3.0, 9.0, False)]
)
def test_on_board_tests_against_their_limits(low, high, passed):
    assert OnBoardTest("21", "80", 2.0, low, high).passed is passed
