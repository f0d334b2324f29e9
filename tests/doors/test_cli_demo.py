"""``witnessmark demo``: what it lays out, what each case answers, and how the pages are shown."""

from __future__ import annotations

import json
import re
import threading
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from tests.doors.cli import Ran, run
from witnessmark.app import demo as app_demo
from witnessmark.case.folder import CaseFolder
from witnessmark.case.journal import read_journal
from witnessmark.cli import show
from witnessmark.errors import InputError


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    folder = tmp_path_factory.mktemp("demo") / "cases"
    return folder, run("demo", "--into", str(folder), "--json")


@pytest.fixture(scope="module")
def answers(laid_out: tuple[Path, Ran]) -> dict[str, dict[str, Any]]:
    folder, _ = laid_out
    return {p.name: json.loads((p / "assessments" / "0001.json").read_text("utf-8")) for p in sorted(folder.glob("*/"))}


def test_it_says_what_it_laid_out_as_json_and_nothing_else(laid_out: tuple[Path, Ran]) -> None:
    folder, ran = laid_out
    assert (ran.code, ran.told) == (0, "")
    told = json.loads(ran.out)
    assert told["schema"] == "witnessmark/demo/1"
    assert Path(told["page"]) == folder / "index.html"
    assert [Path(case["case"]).name for case in told["cases"]] == sorted(p.name for p in folder.glob("*/"))
    assert all(Path(case[key]).is_file() for case in told["cases"] for key in ("assessment", "page"))


def test_the_first_case_as_it_came_in_names_the_test_that_decides(answers: dict[str, dict[str, Any]]) -> None:
    answer = answers["1a-both-cams-late"]
    assert answer["verdict"]["kind"] == "cannot_tell"
    leading = {fault["fault"] for h in answer["hypotheses"][:4] for fault in h["faults"]}
    assert {"wheel_slipped", "chain_worn"} <= leading
    sensors = sum(h["probability"] for h in answer["hypotheses"] if _only_sensors(h))
    assert sensors < 0.01  # two new sensors changed nothing; not the sensors
    assert answer["plan"]["steps"][0]["test"] == "incylinder_crank"


def _only_sensors(hypothesis: dict[str, Any]) -> bool:
    faults = [fault["fault"] for fault in hypothesis["faults"]]
    return bool(faults) and all("sensor" in fault or fault == "gap_wide" for fault in faults)


def test_the_first_case_closes_with_the_test_made(answers: dict[str, dict[str, Any]]) -> None:
    answer = answers["1b-both-cams-late-tdc-measured"]
    assert answer["verdict"]["kind"] == "cause"
    leader = answer["hypotheses"][0]["faults"][0]
    assert leader["place"] == {"wheel": "crank"}
    before = answers["1a-both-cams-late"]
    assert {f["quantity"] for f in answer["findings"]} - {f["quantity"] for f in before["findings"]} == {"tdc_offset"}


def test_the_second_case_clears_the_drive(answers: dict[str, dict[str, Any]]) -> None:
    answer = answers["2-hesitates"]
    assert answer["verdict"]["kind"] == "cleared"
    assert answer["verdict"]["cleared"] == ["timing_drive"]
    best = max(answer["hypotheses"], key=lambda h: h["probability"])
    assert best["id"] == "elsewhere"


def test_the_third_case_cannot_tell_and_says_what_to_find_out(answers: dict[str, dict[str, Any]]) -> None:
    answer = answers["3-both-cams-late-little-known"]
    assert answer["verdict"]["kind"] == "cannot_tell"
    assert answer["assumed"]
    missing = {item["quantity"]: item for item in answer["not_measured"]}
    assert "cam_phase_error" in missing
    assert missing["cam_phase_error"]["settled_by"]
    assert "cam_phase_error" not in {f["quantity"] for f in answer["findings"]}


def test_the_same_readings_stand_in_the_first_and_the_third_case(answers: dict[str, dict[str, Any]]) -> None:
    def typed(name: str) -> list[tuple[str, float]]:
        return [(f["quantity"], f["value"]) for f in answers[name]["findings"] if f["source"]["kind"] != "recording"]

    assert typed("1a-both-cams-late") == typed("3-both-cams-late-little-known")


def test_recordings_show_both_cams_about_eleven_degrees_late(answers: dict[str, dict[str, Any]]) -> None:
    found = [f for f in answers["1a-both-cams-late"]["findings"] if f["quantity"] == "cam_phase_error"]
    assert {f["place"]["cam"] for f in found} == {"intake", "exhaust"}
    assert all(abs(f["value"] + 11) < 1 for f in found)


def test_nobody_owns_these_vehicles(laid_out: tuple[Path, Ran]) -> None:
    folder, _ = laid_out
    for path in folder.glob("*/"):
        case = CaseFolder(path)
        assert not case.owner_toml.exists()
        assert {event.who for event in read_journal(case.journal).events} == {"demonstration"}
        assert case.verify() == ()


def test_the_list_leads_to_every_page(laid_out: tuple[Path, Ran]) -> None:
    folder, _ = laid_out
    links = re.findall(r'href="([^"]+)"', (folder / "index.html").read_text(encoding="utf-8"))
    assert len(links) == 4
    assert all((folder / link).is_file() for link in links)


def test_what_somebody_wrote_into_a_case_stays(laid_out: tuple[Path, Ran], monkeypatch: pytest.MonkeyPatch) -> None:
    folder, _ = laid_out
    only = tuple(plan for plan in app_demo._CASES if plan.folder == "2-hesitates")
    monkeypatch.setattr(app_demo, "_CASES", only)
    case = CaseFolder(folder / "2-hesitates")
    text = case.case_toml.read_text(encoding="utf-8").replace("Hesitates pulling away", "Hesitates, tried again")
    case.case_toml.write_text(text, encoding="utf-8")
    ran = run("demo", "--into", str(folder), "--no-open")
    assert ran.code == 0
    assert "2-hesitates: cleared." in ran.out
    assert case.case_toml.read_text(encoding="utf-8") == text
    assert (case.assessments / "0002.json").exists()
    assert "case_edited" in [event.what for event in read_journal(case.journal).events]


def test_a_file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "cases").write_text("x", encoding="utf-8")
    ran = run("demo", "--into", str(tmp_path / "cases"))
    assert (ran.code, ran.out) == (2, "")
    assert "'--into'" in ran.err


# ---------------------------------------------------------------- shown in the browser


@pytest.fixture
def pages(tmp_path: Path) -> Path:
    (tmp_path / "index.html").write_text("<p>first", encoding="utf-8")
    (tmp_path / "case" / "derived").mkdir(parents=True)
    (tmp_path / "case" / "derived" / "page.html").write_text("<p>case", encoding="utf-8")
    (tmp_path / "case" / "owner.toml").write_text('name = "somebody"', encoding="utf-8")
    return tmp_path


def asked(address: str) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:
            assert answer.headers["Cache-Control"] == "no-store"
            assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, ""


def test_pages_are_served_and_nothing_else(pages: Path) -> None:
    with show.page_server(pages) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            assert server.address.startswith("http://127.0.0.1:")
            assert asked(server.address) == (200, "<p>first")
            assert asked(f"{server.address}case/derived/page.html") == (200, "<p>case")
            for other in ("case/owner.toml", "case/", "case", "../index.html.x", "case/derived/", "%2e%2e/x.html"):
                assert asked(f"{server.address}{other}")[0] == 404
        finally:
            server.shutdown()
            thread.join()


def test_a_port_that_is_taken_is_one_line(pages: Path) -> None:
    with show.page_server(pages) as server:
        port = server.server_address[1]
        with pytest.raises(InputError, match=f"port {port} cannot be had: .*. Name another with --port."):
            show.page_server(pages, port=port)


def test_the_page_is_opened_and_served_until_stopped(pages: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answered: list[tuple[int, str]] = []

    def browser_of_the_terminal(address: str) -> None:
        answered.append(asked(address))
        raise KeyboardInterrupt

    monkeypatch.setattr(show.webbrowser, "open", browser_of_the_terminal)
    show.show_folder(pages)
    assert answered == [(200, "<p>first")]


def test_help() -> None:
    ran = run("demo", "--help")
    assert ran.code == 0
    for word in ("--into", "--port", "--no-open", "--json", "witnessmark demo --into ~/try --no-open"):
        assert word in ran.out
