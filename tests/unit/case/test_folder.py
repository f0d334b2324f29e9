"""The case folder: what is read, what changed outside, how an answer is kept, and what is never half-written."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from witnessmark.case.folder import CaseFolder, open_case, who_am_i
from witnessmark.case.journal import read_journal
from witnessmark.case.owner import read_owner
from witnessmark.case.record import read_record, work_words
from witnessmark.case.schema import case_schema
from witnessmark.engine.types import Engine
from witnessmark.errors import FormatError, InputError, StoreError
from witnessmark.infer.history import Work
from witnessmark.source import digest_file
from witnessmark.vocabulary import Place

CASE = """\
format = "witnessmark/case/1"
title = "Late on both cams"
complaint = "Slow to start in the morning."
vehicle = "Small hatchback, 1.6, manual"
came_in = 2026-03-02
complaint_seen = true
when = "cold"
cylinders = 4
known = "metering=air_meter km=187400"
codes = ["P0016", "p0017"]
saw = [
  "cam_deviation bank=1 cam=intake state=idle -11",
  "cam_deviation bank=1 cam=exhaust state=idle −10,9 ±0,5",
]
did = ["work part=crank_seal began=yes"]

[[reading]]
quantity = "engine_speed"
value = 780
unit = "rpm"
sd = 10
condition = { state = "idle", coolant_c = 88.5 }

[[reading]]
quantity = "engine_speed"
value = 900
struck = true

[[done]]
when = 2026-02-20
did = "fitted part=cam_sensor cam=intake cured=no"

[[done]]
what = "Washed"
"""


@pytest.fixture
def case(tmp_path: Path) -> CaseFolder:
    folder = tmp_path / "late-cams"
    folder.mkdir()
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    return CaseFolder(folder)


def kept(case: CaseFolder, answer: str = "{}\n") -> int:
    return case.keep(case.read(), lambda number: answer, who="bench").number


def test_a_reading_in_a_table_is_confirmed_there(case: CaseFolder) -> None:
    asked = case.read().findings
    text = CASE.replace("sd = 10\n", "sd = 10\nchecked = true\n")
    case.case_toml.write_text(text, encoding="utf-8")
    read = case.read().findings
    assert [finding.checked for finding in asked] == [False] * len(asked)
    assert [finding.quantity for finding in read if finding.checked] == ["engine_speed"]


def kinds(case: CaseFolder) -> list[str]:
    return [event.what for event in read_journal(case.journal).events]


# ---------------------------------------------------------------- reading


def test_a_whole_case_is_read(case: CaseFolder) -> None:
    record = case.read()
    assert record.engine.cylinders == 4
    assert record.intake.title == "Late on both cams"
    assert record.intake.came_in == "2026-03-02"
    assert record.intake.done == (
        ("", "Front crank seal worked on", "the complaint began then"),
        ("2026-02-20", "Cam sensor of the intake cam renewed", "no cure"),
        ("", "Washed", ""),
    )
    assert [work.part for work in record.history.done] == ["crank_seal", "cam_sensor"]
    assert record.history.known == {"metering": "air_meter", "km": "187400"}
    assert record.history.circumstances == {"cold"}
    assert record.history.complaint_seen is True
    values = [(f.quantity, f.value, f.sd) for f in record.findings]
    assert values == [
        ("code_state", 1.0, 0.02),
        ("code_state", 1.0, 0.02),
        ("cam_deviation", -11.0, 1.0),
        ("cam_deviation", -10.9, 0.5),
        ("engine_speed", 780.0, 10.0),
    ]


def test_the_shortest_case() -> None:
    record = read_record("cylinders = 4\n")
    assert (record.engine.cylinders, record.findings, record.intake.complaint_seen) == (4, (), None)


def test_facts_may_stand_in_a_table() -> None:
    record = read_record("cylinders = 4\n[known]\nkm = 187400\nlearns = true\n")
    assert record.history.known == {"km": "187400", "learns": "yes"}
    assert record.engine.reporting.learns is True


def test_the_engine_may_be_described_in_the_case() -> None:
    record = read_record('[engine]\nname = "own"\ncylinders = 3\nlayout = "inline"\n')
    assert (record.engine.name, record.engine.cylinders, record.engine.banks) == ("own", 3, 1)


def test_the_engine_may_stand_beside_the_case(case: CaseFolder) -> None:
    case.engine_toml.write_text('name = "own"\ncylinders = 4\nlayout = "inline"\n', encoding="utf-8")
    assert case.read().engine.name == "own"


def test_the_engine_may_be_named() -> None:
    def named(name: str) -> Engine:
        if name != "own":
            raise InputError(f"no engine is called {name}")
        return Engine("own", 4)

    assert read_record('engine = "own"', named=named).engine.name == "own"
    with pytest.raises(InputError, match=r"^case.toml: no engine is called own2"):
        read_record('engine = "own2"', named=named)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "case.toml: no engine is named. A cylinder count is enough: cylinders = 4; a description tells more."),
        ("cylinders = 40", "case.toml, line 1: cylinders = 40 cannot be. Expected 1 to 16."),
        ('cylinders = "four"', "case.toml, line 1: cylinders = 'four' cannot be. Expected a whole number."),
        (
            'cylinders = 4\ntitel = "x"',
            "case.toml, line 2: No line of a case is called “titel”. Nearest: title.",
        ),
        (
            "cylinders = 4\ntitle = x",
            "case.toml, line 2: this line cannot be read: invalid value. "
            'A line is key = value; words stand in "quotes".',
        ),
        (
            'cylinders = 4\nsaw = [\n  "cam_deviaton cam=intake -11",\n]',
            "case.toml, line 3: No quantity is called “cam_deviaton”. Nearest: cam_deviation.",
        ),
        (
            'cylinders = 4\nsaw = "compression_peak cylinder=7 1200"',
            "case.toml, line 2: Cylinder 7: this engine has 4.",
        ),
        (
            'cylinders = 4\nknown = "layout=inline"\nsaw = "cam_deviation bank=2 cam=intake -11"',
            "case.toml, line 3: Bank 2: an in-line engine has one.",
        ),
        (
            'cylinders = 4\ncodes = ["P0016", "P016"]',
            "case.toml, line 2: “P016” is not a code: one digit is missing. "
            "Expected a letter and four digits, as in P0016. Nearest: P0016.",
        ),
        (
            'cylinders = 4\nsaw = [\n"cam_deviation cam=intake -11",\n"cam_deviation bank=1 cam=intake -12"]',
            "case.toml, line 4: cam_deviation bank=1 cam=intake is given twice under one condition: "
            "-11 deg and -12 deg. Say what was different (state=, complaint=, phaser=), or keep one.",
        ),
        (
            'cylinders = 4\n[[reading]]\nquantity = "engine_speed"\nvalue = 780\nunit = "kPa"',
            "case.toml, reading 1: kPa measures pressure, not speed. Expected one of rpm, 1/min.",
        ),
        (
            'cylinders = 4\n[[reading]]\nquantity = "engine_speed"',
            "case.toml, reading.1.value: “value” is missing.",
        ),
        (
            'cylinders = 4\n[reading]\nquantity = "engine_speed"\nvalue = 780',
            "case.toml, line 2: [reading] stands in single brackets. Expected [[reading]]: there may be several.",
        ),
        (
            'cylinders = 4\n[[done]]\nwat = "x"',
            "case.toml, line 3: No line of a case is called “wat”. Nearest: what.",
        ),
        ("cylinders = 4\n[[done]]\nwhen = 2026-01-01", "case.toml, done 1: what was done? Expected what = or did =."),
        (
            'cylinders = 4\ndid = ["fitted part=cam_senser"]',
            "case.toml, line 2: No part is called “cam_senser”. Nearest: cam_sensor.",
        ),
        ('cylinders = 4\nwhen = "colt"', "case.toml, line 2: No circumstance is called “colt”. Nearest: cold."),
        ('cylinders = 4\nknown = "kms=1"', "case.toml, line 2: No fact is called “kms”. Nearest: km."),
        (
            'format = "witnessmark/case/9"\ncylinders = 4',
            "case.toml, line 1: format = 'witnessmark/case/9' is not known here. Expected witnessmark/case/1.",
        ),
    ],
)
def test_every_refusal_names_the_line(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_record(text)
    assert str(caught.value) == said


def test_an_engine_may_not_be_described_twice_or_contradict_itself(case: CaseFolder) -> None:
    with pytest.raises(InputError, match="described twice"):
        read_record('engine = "own"', beside=Engine("own", 4))
    with pytest.raises(InputError, match="4 cylinders, but the description of own has 6"):
        read_record("cylinders = 4", beside=Engine("own", 6))
    case.engine_toml.write_text("cylinders = ", encoding="utf-8")
    with pytest.raises(FormatError, match=r"engine.toml"):
        case.read()


def test_recordings_left_out_must_be_there(case: CaseFolder) -> None:
    (case.path / "recordings").mkdir()
    (case.path / "recordings" / "idle.csv").write_text("1", encoding="utf-8")
    (case.path / "recordings" / "idle.csv.toml").write_text("", encoding="utf-8")
    (case.path / "recordings" / ".hidden").write_text("", encoding="utf-8")
    assert [path.name for path in case.to_measure(case.read())] == ["idle.csv"]
    case.case_toml.write_text('cylinders = 4\nleave_out = "idel.csv"', encoding="utf-8")
    with pytest.raises(InputError, match=r"leave_out: no recording is called “idel.csv”. Nearest: idle.csv."):
        case.read()
    case.case_toml.write_text('cylinders = 4\nleave_out = "recordings/idle.csv"', encoding="utf-8")
    assert case.to_measure(case.read()) == ()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("late-camz", r"there is no case at .*late-camz. Nearest: .*late-cams\."),
        (".", "holds no case.toml. There are cases in it: late-cams."),
        ("late-cams/recordings", "holds no case.toml. Put a case.toml into it."),
        ("scope.csv", "is a file. Expected the folder of a case. For a recording: witnessmark measure .*scope.csv."),
        ("case.zip", "is a file. Expected the folder of a case. Unpack it first."),
    ],
)
def test_where_there_is_no_case(case: CaseFolder, name: str, said: str) -> None:
    (case.path / "recordings").mkdir()
    for file in ("scope.csv", "case.zip"):
        (case.path.parent / file).write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match=said):
        open_case(case.path.parent / name)


def test_a_case_is_opened_by_its_file_too(case: CaseFolder) -> None:
    assert open_case(case.case_toml).path == case.path
    assert open_case(str(case.path)).path == case.path


def test_text_in_another_encoding_is_refused(case: CaseFolder) -> None:
    case.case_toml.write_bytes('title = "Läuft unrund"'.encode("latin-1"))
    with pytest.raises(InputError, match=r"case.toml: not UTF-8 text \(byte 10\). Save it as UTF-8."):
        case.read()


def test_work_in_words() -> None:
    def result(**answers: bool) -> str:
        return work_words(Work("fitted", "cam_sensor", Place.of(cam="exhaust"), **answers))[2]

    assert [result(cured=True), result(cured=False), result(began=True), result()] == [
        "cured it",
        "no cure",
        "the complaint began then",
        "",
    ]
    assert result(began=False, cured=False) == "the complaint was there before; no cure"


def test_the_schema_names_every_key() -> None:
    schema = case_schema()
    assert schema["$id"] == "witnessmark/case/1"
    assert set(tomllib.loads(CASE)) <= set(schema["properties"])


# ---------------------------------------------------------------- keeping


def test_an_answer_is_kept_verbatim_and_entered(case: CaseFolder) -> None:
    assert kept(case, '{"number": 1}\n') == 1
    assert (case.assessments / "0001.json").read_text(encoding="utf-8") == '{"number": 1}\n'
    assert kinds(case) == ["case_opened", "assessed"]
    event = read_journal(case.journal).events[-1]
    assert event.about["digest"] == digest_file(case.assessments / "0001.json")
    assert event.who == "bench"
    assert kept(case) == 2
    assert kinds(case) == ["case_opened", "assessed", "assessed"]
    assert case.verify() == ()


def test_edits_made_outside_are_entered_with_what_changed(case: CaseFolder) -> None:
    kept(case)
    case.case_toml.write_text(CASE.replace("-11", "-12", 1), encoding="utf-8")
    assert case.verify() == ("case.toml was edited since it was last examined",)
    kept(case)
    event = next(event for event in read_journal(case.journal).events if event.what == "case_edited")
    assert json.dumps(event.about["edits"]).count("cam=intake state=idle") == 2
    assert kinds(case) == ["case_opened", "assessed", "case_edited", "assessed"]


def test_recordings_are_watched(case: CaseFolder) -> None:
    folder = case.path / "recordings"
    folder.mkdir()
    (folder / "idle.csv").write_text("1,2", encoding="utf-8")
    kept(case)
    (folder / "idle.csv").write_text("1,3", encoding="utf-8")
    (folder / "cranking.csv").write_text("1,2", encoding="utf-8")
    assert case.verify() == ("recordings/idle.csv is not as it was when it was entered",)
    changed = case.keep(case.read(), lambda number: "{}", who="bench")
    assert changed.notes == ("recordings/idle.csv was changed since it came in.",)
    (folder / "idle.csv").unlink()
    assert case.verify() == ("recordings/idle.csv is not there any more",)
    gone = case.keep(case.read(), lambda number: "{}", who="bench")
    assert gone.notes == ("recordings/idle.csv is not in the folder any more.",)
    assert case.verify() == ()
    assert [what for what in kinds(case) if what.startswith("recording")] == [
        "recording_added",
        "recording_added",
        "recording_changed",
        "recording_missing",
    ]


def test_an_engine_file_is_watched(case: CaseFolder) -> None:
    kept(case)
    case.engine_toml.write_text("cylinders = 4\n", encoding="utf-8")
    kept(case)
    kept(case)
    assert kinds(case).count("engine_edited") == 1


def test_an_answer_without_its_event_is_adopted_and_never_written_over(case: CaseFolder) -> None:
    """As after a crash between the answer and its event."""
    case.assessments.mkdir()
    (case.assessments / "0001.json").write_text("old", encoding="utf-8")
    assert kept(case) == 2
    assert (case.assessments / "0001.json").read_text(encoding="utf-8") == "old"
    assert "assessment_found" in kinds(case)


def test_an_answer_that_was_never_finished_is_swept_away(case: CaseFolder) -> None:
    case.assessments.mkdir()
    (case.assessments / ".0001.json.4711.part").write_text('{"half', encoding="utf-8")
    assert kept(case) == 1
    assert [path.name for path in case.assessments.iterdir()] == ["0001.json"]


def test_a_changed_answer_is_noticed(case: CaseFolder) -> None:
    kept(case)
    (case.assessments / "0001.json").write_text("another", encoding="utf-8")
    assert case.verify() == ("assessments/0001.json is not as it was when it was entered",)


def test_a_case_edited_meanwhile_is_not_answered(case: CaseFolder) -> None:
    record = case.read()
    case.case_toml.write_text(CASE + "\n", encoding="utf-8")
    with pytest.raises(StoreError, match="edited while it was examined; nothing was kept"):
        case.keep(record, lambda number: "{}", who="bench")
    assert not case.journal.exists()
    assert not case.assessments.exists()


def test_an_answer_that_cannot_be_made_leaves_nothing(case: CaseFolder) -> None:
    def fails(number: int) -> str:
        raise InputError("cannot be written")

    with pytest.raises(InputError):
        case.keep(case.read(), fails, who="bench")
    assert sorted(p.name for p in case.path.iterdir()) == [".lock", "case.toml"]


def test_a_torn_journal_is_told_and_goes_on(case: CaseFolder) -> None:
    kept(case)
    case.journal.write_bytes(case.journal.read_bytes()[:-30])
    assert any("cut off" in line for line in case.verify())
    again = case.keep(case.read(), lambda number: "{}", who="bench")
    assert "The last line of the journal was cut off" in again.notes[0]
    assert again.number == 2
    assert "assessment_found" in kinds(case)  # its event was the torn line
    assert case.verify() == ()


def test_a_journal_that_was_changed_is_told_and_goes_on(case: CaseFolder) -> None:
    kept(case)
    case.journal.write_bytes(case.journal.read_bytes().replace(b"Late on both", b"Late on none"))
    again = case.keep(case.read(), lambda number: "{}", who="bench")
    assert any("is not as it was written" in note for note in again.notes)
    assert kinds(case)[-1] == "line_changed"


def test_who(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WITNESSMARK_WHO", "bench two")
    assert who_am_i() == "bench two"


# ---------------------------------------------------------------- the owner

OWNER = """\
# as on the registration
name = "Example Owner"
plate = "AB 12-XY"
vin = "ZZZAA00A0AA000001"
"""


def test_the_owner_stands_in_the_journal_as_a_key_only(case: CaseFolder) -> None:
    case.owner_toml.write_text(OWNER, encoding="utf-8")
    kept(case, '{"of": "case"}')
    owner = read_owner(case.owner_toml)
    assert owner is not None
    assert len(owner.key) == 16
    assert case.owner_toml.read_text(encoding="utf-8").startswith(OWNER)
    written = case.journal.read_text(encoding="utf-8")
    assert owner.key in written
    assert not [value for value in ("Example Owner", "AB 12-XY", "ZZZAA00A0AA000001") if value in written]
    kept(case)
    assert kinds(case).count("owner_named") == 1
    case.owner_toml.unlink()
    again = case.keep(case.read(), lambda number: "{}", who="bench")
    assert again.notes == ("The owner is erased.",)
    assert kinds(case).count("owner_erased") == 1
    kept(case)
    assert kinds(case).count("owner_erased") == 1


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('complaint = "Says EXAMPLE owner."', "case.toml, line 2: the owner's name stands here"),
        ('vehicle = "Hatchback ab12xy"', "case.toml, line 2: the owner's plate stands here"),
        ('vehicle = "ZZZAA00A0AA000009"', "case.toml, line 2: a VIN stands here"),
    ],
)
def test_what_must_be_erasable_is_refused_in_the_case(case: CaseFolder, line: str, said: str) -> None:
    case.owner_toml.write_text(OWNER, encoding="utf-8")
    case.case_toml.write_text(f"cylinders = 4\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        case.read()
    assert str(caught.value) == (
        f"{said}. Move it to owner.toml: what stands in case.toml is kept in the journal for ever."
    )
    assert not case.journal.exists()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('nmae = "x"', "owner.toml: No line of owner.toml is called “nmae”. Nearest: name."),
        ("plate = 12", "owner.toml: plate is not in quotes."),
        ("plate = ", "owner.toml: not valid TOML"),
    ],
)
def test_an_owner_file_that_cannot_be_used(case: CaseFolder, text: str, said: str) -> None:
    case.owner_toml.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said):
        case.read()
