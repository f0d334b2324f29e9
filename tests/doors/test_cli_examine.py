"""``witnessmark examine``: from typed lines or a case to an answer; what goes where; how it refuses."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.sources import ROOT
from tests.doors.cli import Ran, run
from witnessmark.case.folder import CaseFolder
from witnessmark.case.journal import read_journal

READINGS = (
    "--saw",
    "cam_deviation bank=1 cam=intake -11",
    "--saw",
    "cam_deviation bank=1 cam=exhaust -11",
    "--code",
    "P0016",
    "--code",
    "P0017",
)
TYPED = ("examine", "--cylinders", "4", *READINGS)
QUICK = ("examine", "--engine", "made-up four", *READINGS)  # a described engine is answered sooner


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture(scope="module")
def typed() -> Ran:
    return run(*TYPED, "--json")


# ---------------------------------------------------------------- answers


def test_typed_readings_are_answered_as_json_and_nothing_else(typed: Ran) -> None:
    assert (typed.code, typed.told) == (0, "")
    answer = json.loads(typed.out)
    assert answer["schema"] == "witnessmark/assessment/1"
    assert [f["id"] for f in answer["findings"]] == ["f1", "f2", "f3", "f4"]
    assert sum(h["probability"] for h in answer["hypotheses"]) == pytest.approx(1.0)
    assert {"nothing_wrong", "elsewhere", "none_of_these"} <= {h["id"] for h in answer["hypotheses"]}


def test_two_readings_alike_on_both_cams_do_not_decide(typed: Ran) -> None:
    """Common practice, no source: both cams late alike is the chain at the crank, the crank wheel, or wear."""
    answer = json.loads(typed.out)
    assert answer["verdict"]["kind"] == "cannot_tell"
    named = {fault["fault"] for h in answer["hypotheses"][:12] for fault in h["faults"]}
    assert {"wheel_slipped", "chain_worn", "chain_jumped"} <= named
    assert answer["assumed"]
    assert answer["plan"]["steps"]


def test_the_same_words_give_the_same_answer() -> None:
    before, again = (json.loads(run(*QUICK, "--json").out) for _ in range(2))
    assert {**again, "made_at": ""} == {**before, "made_at": ""}


def test_without_json_it_is_read_on_the_terminal_and_as_a_page(tmp_path: Path) -> None:
    ran = run(*QUICK)
    assert ran.code == 0
    assert "Cannot tell" in ran.out
    assert ran.out.rstrip().endswith("Page: witnessmark-page.html")
    page = (tmp_path / "witnessmark-page.html").read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert "http" not in page.replace("http://www.w3.org", "")


def test_a_mixture_is_not_explained_by_a_drawing_of_the_drive(tmp_path: Path) -> None:
    arguments = ["--cylinders", "4", "--code", "P0171", "--saw", "fuel_trim bank=1 state=idle 19"]
    assert run("examine", *arguments).code == 0
    page = (tmp_path / "witnessmark-page.html").read_text(encoding="utf-8")
    assert 'id="drive"' not in page


def test_what_was_agreed_to_limits_the_plan_and_an_own_choice_is_priced(tmp_path: Path) -> None:
    arguments = ["--cylinders", "4", "--code", "P0171", "--saw", "fuel_trim bank=1 state=idle 19", "--json"]
    found = json.loads(run("examine", *arguments, "--agreed", "covers=none", "--instead", "smoke").out)
    plan = found["plan"]
    assert plan["limited"] is True
    assert all(not step["teardown"] for step in (*plan["steps"], *plan["alternatives"]) if step["kind"] == "test")
    assert plan["instead"]["test"] == "smoke"
    assert plan["instead"]["minutes_to_proof"] >= plan["no_plan_beats"]
    ran = run("examine", *arguments, "--agreed", "covers=bonnet")
    assert ran.code == 2
    assert "bonnet" in ran.err


def test_the_owner_is_told_alone() -> None:
    ran = run(*QUICK, "--owner")
    assert ran.code == 0
    assert "computer has stored faults: P0016 and P0017." in " ".join(ran.out.split())
    assert "Next we propose" in ran.out
    assert "Page:" not in ran.out
    assert "──" not in ran.out
    both = run(*QUICK, "--owner", "--json")
    assert both.code == 2
    assert "--json and --owner do not go together" in both.err


def test_an_odd_figure_is_asked_back_and_believed_once_it_is_confirmed(tmp_path: Path) -> None:
    """−11 typed as −1100 is refused, more than a turn; −200 is a figure, and no drive stands so (common practice)."""
    odd = ("--saw", "cam_deviation bank=1 cam=exhaust state=idle -200", "--saw", "cam_deviation bank=1 cam=intake -2")
    first = run("examine", "--engine", "made-up four", *odd, "--into", "odd")
    assert first.code == 0, first.err
    told = " ".join(first.out.split())
    assert "−200° was typed." in told
    assert 'If it stands: "cam_deviation bank=1 cam=exhaust state=idle -200 checked"' in told
    case = CaseFolder(tmp_path / "odd")
    text = case.case_toml.read_text(encoding="utf-8")
    case.case_toml.write_text(text.replace("state=idle -200", "state=idle -200 checked"), encoding="utf-8")
    second = json.loads(run("examine", "odd", "--json").out)
    assert [finding["value"] for finding in second["findings"] if finding.get("checked")] == [-200.0]
    before = json.loads((case.assessments / "0001.json").read_text(encoding="utf-8"))
    assert [f["doubt"]["chance"] > 0.2 for f in before["findings"] if "doubt" in f] == [True]
    assert [event.what for event in read_journal(case.journal).events][:3] == ["case_opened", "assessed", "case_edited"]


def test_with_json_nothing_is_written(tmp_path: Path) -> None:
    run(*QUICK, "--json")
    assert list(tmp_path.iterdir()) == []


def test_history_moves_the_answer() -> None:
    def chance(ran: Ran, fault: str) -> float:
        rows = json.loads(ran.out)["hypotheses"]
        return sum(h["probability"] for h in rows if fault in {f["fault"] for f in h["faults"]})

    plain = run(*QUICK, "--json")
    after = run(*QUICK, "--did", "work part=crank_seal began=yes", "--known", "km=163200", "--json")
    assert after.code == 0, after.err
    assert chance(after, "wheel_slipped") > chance(plain, "wheel_slipped")


def test_a_described_engine_by_name_and_by_file(tmp_path: Path) -> None:
    named = run("examine", "--engine", "made-up four", *READINGS, "--json")
    assert json.loads(named.out)["engine"] == "made-up four"
    (tmp_path / "own.toml").write_text('name = "own"\ncylinders = 4\nlayout = "inline"\n', encoding="utf-8")
    own = run("examine", "--engine", "own.toml", *READINGS, "--json")
    assert json.loads(own.out)["engine"] == "own"


def test_the_readme_s_first_example_works() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.partition("## First example")[2].partition("```console\n")[2].partition("```")[0]
    words = shlex.split(block.replace("\\\n", " ").removeprefix("$ "))
    assert words[0].endswith("witnessmark")
    assert run(*words[1:], "--json").code == 0


# ---------------------------------------------------------------- cases


def test_typed_readings_become_a_case_to_go_on_with(tmp_path: Path) -> None:
    first = run(*QUICK, "--did", "work part=crank_seal began=yes", "--into", "late", "--json")
    assert first.code == 0, first.err
    case = CaseFolder(tmp_path / "late")
    assert (case.assessments / "0001.json").read_text(encoding="utf-8") == first.out
    assert (case.derived / "page.html").exists()
    again = run("examine", "late", "--json")
    assert again.code == 0, again.err
    before, after = json.loads(first.out), json.loads(again.out)
    assert after["number"] == 2
    assert after["hypotheses"] == before["hypotheses"]
    assert [event.what for event in read_journal(case.journal).events] == ["case_opened", "assessed", "assessed"]
    assert case.verify() == ()


def test_a_case_does_not_lean_on_a_file_outside_it(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text('name = "own"\ncylinders = 4\nlayout = "inline"\n', encoding="utf-8")
    assert run("examine", "--engine", "own.toml", *READINGS, "--into", "late", "--json").code == 0
    (tmp_path / "own.toml").unlink()
    assert json.loads(run("examine", "late", "--json").out)["engine"] == "own"


def test_a_case_is_not_laid_out_over_another(tmp_path: Path) -> None:
    assert run(*QUICK, "--into", "late", "--json").code == 0
    before = sorted((tmp_path / "late").rglob("*"))
    again = run(*QUICK, "--into", "late", "--json")
    assert (again.code, again.out) == (2, "")
    assert "late is a case already" in again.err
    assert sorted((tmp_path / "late").rglob("*")) == before


def test_the_page_of_a_case_can_go_elsewhere(tmp_path: Path) -> None:
    run(*QUICK, "--into", "late", "--json")
    (tmp_path / "late" / "derived" / "page.html").unlink()
    ran = run("examine", "late", "--into", "out")
    assert ran.code == 0
    assert (tmp_path / "out" / "page.html").exists()
    assert not (tmp_path / "late" / "derived" / "page.html").exists()


def test_what_was_noticed_goes_to_standard_error(tmp_path: Path) -> None:
    run(*QUICK, "--into", "late", "--json")
    journal = tmp_path / "late" / "journal.jsonl"
    journal.write_bytes(journal.read_bytes()[:-40])
    ran = run("examine", "late", "--json")
    assert ran.code == 0
    assert "witnessmark: The last line of the journal was cut off; it is kept" in ran.err
    assert json.loads(ran.out)["number"] == 2


def test_bad_input_in_a_case_leaves_it_as_it_was(tmp_path: Path) -> None:
    run(*QUICK, "--into", "late", "--json")
    case = tmp_path / "late" / "case.toml"
    case.write_text(case.read_text(encoding="utf-8").replace("cam=exhaust", "cam=exhuast"), encoding="utf-8")
    before = {path: path.read_bytes() for path in (tmp_path / "late").rglob("*") if path.is_file()}
    ran = run("examine", "late", "--json")
    assert (ran.code, ran.out) == (2, "")
    assert ran.told == "witnessmark: case.toml, line 19: No cam is called “exhuast”. Nearest: exhaust.\n"
    assert {path: path.read_bytes() for path in (tmp_path / "late").rglob("*") if path.is_file()} == before


def test_a_recording_that_cannot_be_read_is_named_with_the_way_around_it(tmp_path: Path) -> None:
    run(*QUICK, "--into", "late", "--json")
    (tmp_path / "late" / "recordings").mkdir()
    (tmp_path / "late" / "recordings" / "idle.csv").write_bytes(b"\x00\xff\x00" * 500)
    ran = run("examine", "late", "--json")
    assert (ran.code, ran.out) == (2, "")
    assert ran.told.startswith("witnessmark: idle.csv: ")
    assert ran.told.endswith("Or name it under leave_out in case.toml.\n")
    case = tmp_path / "late" / "case.toml"
    case.write_text(case.read_text(encoding="utf-8") + 'leave_out = ["idle.csv"]\n', encoding="utf-8")
    assert run("examine", "late", "--json").code == 0


def test_two_processes_examine_one_case(tmp_path: Path) -> None:
    run(*QUICK, "--into", "late", "--json")
    command = [sys.executable, "-m", "witnessmark", "examine", "late", "--json"]
    both = [subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    answers = [json.loads(process.communicate(timeout=120)[0]) for process in both]
    assert sorted(answer["number"] for answer in answers) == [2, 3]
    case = CaseFolder(tmp_path / "late")
    assert case.verify() == ()
    assert [event.what for event in read_journal(case.journal).events].count("assessed") == 3


def test_where_the_page_cannot_be_written_the_answer_still_stands(tmp_path: Path) -> None:
    run(*QUICK, "--into", "late", "--json")
    (tmp_path / "late" / "derived" / "page.html").unlink()
    (tmp_path / "late" / "derived").rmdir()
    (tmp_path / "late" / "derived").write_text("in the way", encoding="utf-8")
    ran = run("examine", "late", "--json")
    assert ran.code == 0
    assert "witnessmark: No page: could not save" in ran.err
    assert json.loads(ran.out)["number"] == 2


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            [],
            "Nothing to examine. Name a case, or type what was read: --cylinders 4 --saw … "
            "See: witnessmark examine --help",
        ),
        (
            ["late", "--code", "P0016"],
            "A case and typed readings do not go together: write them into late/case.toml. "
            "See: witnessmark examine --help",
        ),
        (["late"], "there is no case at late."),
        (
            ["--code", "P0016"],
            "no engine is named. A cylinder count is enough: --cylinders 4; a description tells more.",
        ),
        (["--cylinders", "0"], "0 cylinders: no such engine. Expected 1 to 16."),
        (
            ["--cylinders", "4", "--code", "P016"],
            "--code “P016”: “P016” is not a code: one digit is missing. "
            "Expected a letter and four digits, as in P0016. Nearest: P0016.",
        ),
        (
            ["--cylinders", "4", "--saw", "cam_deviaton cam=intake -11"],
            "--saw “cam_deviaton cam=intake -11”: No quantity is called “cam_deviaton”. Nearest: cam_deviation.",
        ),
        (
            ["--cylinders", "4", "--saw", "compression_peak cylinder=7 1200"],
            "--saw “compression_peak cylinder=7 1200”: Cylinder 7: this engine has 4.",
        ),
        (
            ["--cylinders", "4", "--known", "layout=inline", "--saw", "cam_deviation bank=2 cam=intake 1"],
            "--saw “cam_deviation bank=2 cam=intake 1”: Bank 2: an in-line engine has one.",
        ),
        (
            ["--cylinders", "4", "--saw", "cam_deviation cam=intake -11", "--saw", "cam_deviation cam=intake -12"],
            "--saw “cam_deviation cam=intake -12”: cam_deviation cam=intake is given twice under one condition: "
            "-11 deg and -12 deg. Say what was different (state=, complaint=, phaser=), or keep one.",
        ),
        (
            ["--cylinders", "4", "--code", "P0016", "--code", "p0016"],
            "--code “p0016”: P0016 is given twice. Once is enough.",
        ),
        (
            ["--cylinders", "4", "--did", "fitted part=cam_senser"],
            "--did “fitted part=cam_senser”: No part is called “cam_senser”. Nearest: cam_sensor.",
        ),
        (["--cylinders", "4", "--when", "colt"], "--when “colt”: No circumstance is called “colt”. Nearest: cold."),
        (["--cylinders", "4", "--known", "kms=1"], "--known “kms=1”: No fact is called “kms”. Nearest: km."),
        (
            ["--cylinders", "6", "--engine", "made-up four"],
            "6 cylinders, but the description of made-up four has 4.",
        ),
    ],
)
def test_what_cannot_be_used_is_one_line_and_exit_2(arguments: list[str], said: str, tmp_path: Path) -> None:
    ran = run("examine", *arguments, "--json")
    assert (ran.code, ran.out) == (2, "")
    assert ran.told == f"witnessmark: {said}\n"
    assert list(tmp_path.iterdir()) == []


def test_an_engine_that_nobody_described_is_answered_with_the_nearest() -> None:
    ran = run("examine", "--engine", "made-up for", "--code", "P0016", "--json")
    assert ran.code == 2
    assert "Nearest: made-up four" in ran.err


def test_a_description_that_does_not_close_is_refused(tmp_path: Path) -> None:
    from witnessmark.engine.library import engine_text

    text = engine_text("made-up four").replace("links = 132", "links = 100")
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    ran = run("examine", "--engine", "own.toml", *READINGS, "--json")
    assert ran.code == 2
    assert "100 links are described, the shortest way around takes" in ran.err


# ---------------------------------------------------------------- help


def test_help_has_an_example_and_every_option() -> None:
    ran = run("examine", "--help")
    assert ran.code == 0
    for word in (
        "--cylinders",
        "--engine",
        "--saw",
        "--code",
        "--known",
        "--did",
        "--when",
        "--json",
        "--owner",
        "--into",
        "--list",
    ):
        assert word in ran.out
    assert '--saw "cam_deviation bank=1 cam=intake -11"' in ran.out


def test_the_list_of_what_can_be_typed() -> None:
    ran = run("examine", "--list")
    assert ran.code == 0
    assert "cam_deviation cam=… [bank=…] in deg\n" in ran.out
