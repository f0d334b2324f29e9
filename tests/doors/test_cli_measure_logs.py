"""``witnessmark measure LOG`` and logs within a case: values, questions, pages, codes; how it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.doors.cli import run
from witnessmark.decode.segment import segment

OPEN = Path(__file__).parents[1] / "data" / "headers"
FOUR = ("--cylinders", "4")


@pytest.fixture(autouse=True)
def shop(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "shop"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "shop"


def bus_log(path: Path, *talk: tuple[int, str]) -> Path:
    """A log of frames as ``candump -L`` writes it, from whole payloads."""
    lines, now = [], 1000.0
    for identifier, payload in talk:
        for frame in segment(bytes.fromhex(payload)):
            lines.append(f"({now:.6f}) can0 {identifier:03X}#{bytes(frame).hex().upper()}")
            now += 0.004
    path.write_text("\n".join(lines) + "\n")
    return path


def visit(path: Path) -> Path:
    """A made-up vehicle tells a code, the frame kept with it, monitors and a test (handbook §7's own examples)."""
    return bus_log(
        path,
        (0x7DF, "0101"), (0x7E8, "410182076504"),
        (0x7DF, "03"), (0x7E8, "43010171"),
        (0x7DF, "020200"), (0x7E8, "4202000171"),
        (0x7DF, "020C00"), (0x7E8, "420C000C30"),
        (0x7DF, "020500"), (0x7E8, "42050080"),
        (0x7DF, "020600"), (0x7E8, "42060094"),
        (0x7DF, "020700"), (0x7E8, "4207008C"),
        (0x7DF, "0636"), (0x7E8, "46369C9CFE0CF83007D0"),
    )  # fmt: skip


def test_a_log_is_measured_and_drawn(tmp_path: Path) -> None:
    ran = run("measure", str(OPEN / "01.csv"), *FOUR, "--known", "litres=2")
    assert ran.code == 0
    page = (tmp_path / "01.html").read_text(encoding="utf-8")
    assert "drawn: " in ran.err
    assert "Calculated load" in ran.out
    assert "expected" in ran.out
    for text in ("By operating state and over time", "Against a sound engine", "Manifold pressure"):
        assert text in page


def test_without_an_engine_nothing_is_expected(tmp_path: Path) -> None:
    ran = run("measure", str(OPEN / "01.csv"))
    assert ran.code == 0
    assert "expected" not in ran.out
    assert "A cylinder count is enough" in (tmp_path / "01.html").read_text(encoding="utf-8")


def test_json_tells_states_events_and_questions(tmp_path: Path) -> None:
    ran = run("measure", str(OPEN / "01.csv"), *FOUR, "--json")
    (recording,) = json.loads(ran.out)["recordings"]
    assert recording["states"]
    assert {"state", "from_s", "to_s", "steady"} == set(recording["states"][0])
    assert isinstance(recording["events"], list)
    assert all(q["candidates"] or q["question"] for q in recording["questions"])
    assert not list(tmp_path.glob("*.html"))


def test_an_answer_is_used_and_remembered(tmp_path: Path, shop: Path) -> None:
    path = tmp_path / "odd.csv"
    rows = [f"{k / 2:.1f};{780 + 7 * (k % 5)};0;{30 + k % 3};{190 + k // 150}" for k in range(600)]
    head = "Zeit [s];Drehzahl [1/min];Geschwindigkeit [km/h];Saugrohrdruck [kPa];Wert 7"
    path.write_text("\n".join([head, *rows]) + "\n")
    first = json.loads(run("measure", str(path), *FOUR, "--json").out)["recordings"][0]
    told = run("measure", str(path), *FOUR, "--json", "--column", "Wert 7=coolant unit=F")
    (recording,) = json.loads(told.out)["recordings"]
    warm = [f["value"] for f in recording["findings"] if f["quantity"] == "temperature_reported"]
    assert warm
    assert warm[0] == pytest.approx((191.5 - 32.0) / 1.8, abs=0.2)  # °F to °C: definition
    assert (shop / "columns.toml").is_file()
    again = json.loads(run("measure", str(path), *FOUR, "--json").out)["recordings"][0]
    assert [f["value"] for f in again["findings"]] == [f["value"] for f in recording["findings"]]
    assert len(first["findings"]) < len(recording["findings"])


def test_one_typed_row_is_a_log(tmp_path: Path) -> None:
    path = tmp_path / "screen.csv"
    path.write_text(
        "engine speed [rpm];vehicle speed [km/h];coolant temperature [°C];manifold pressure [kPa];"
        "short term fuel trim bank 1 [%];long term fuel trim bank 1 [%]\n780;0;90;34;6,2;9,4\n"
    )
    (recording,) = json.loads(run("measure", str(path), *FOUR, "--json").out)["recordings"]
    found = {f["quantity"]: f for f in recording["findings"]}
    assert found["fuel_trim"]["value"] == pytest.approx(15.6)
    assert found["fuel_trim"]["condition"]["state"] == "idle"
    assert found["map_reported"]["sd"] > 0.5


def test_what_a_vehicle_told_on_the_bus(tmp_path: Path) -> None:
    """P0171 with its freeze frame: 780 rpm, 88 °C, +15.6 and +9.4 % (scalings: handbook §7)."""
    path = visit(tmp_path / "visit.log")
    (recording,) = json.loads(run("measure", str(path), *FOUR, "--json").out)["recordings"]
    found = {(f["quantity"], f["condition"].get("freeze")): f for f in recording["findings"]}
    assert found[("code_state", None)]["place"] == {"code": "P0171"}
    frozen = found[("fuel_trim", "P0171")]
    assert frozen["value"] == pytest.approx((0x94 + 0x8C) * 100 / 128 - 200)
    assert frozen["condition"]["speed_rpm"] == 780.0
    assert found[("temperature_reported", "P0171")]["value"] == 88.0


def test_what_it_told_stands_on_the_page_and_in_the_json(tmp_path: Path) -> None:
    path = visit(tmp_path / "visit.log")
    (recording,) = json.loads(run("measure", str(path), "--json").out)["recordings"]
    (code,) = recording["reported"]["codes"]
    assert (code["code"], code["status"]) == ("P0171", ["confirmed"])
    assert not recording["not_measured"]  # a conversation is no drive that left something out
    ran = run("measure", str(path), *FOUR)
    assert "Mixture of bank 1: lean" in ran.out
    assert "not described" not in ran.out
    assert "Mixture of bank 1: lean" in (tmp_path / "visit.html").read_text(encoding="utf-8")


def test_no_vin_gets_into_what_is_kept(tmp_path: Path) -> None:
    """The example of 49 CFR 565's check digit, in a log's column and in the vehicle's own answer."""
    vin = "1M8GDM9AXKP042788"
    recordings = tmp_path / "case" / "recordings"
    recordings.mkdir(parents=True)
    (tmp_path / "case" / "case.toml").write_text("cylinders = 4\n")
    rows = "".join(f"{k};{780 + k % 5};88;{vin}\n" for k in range(60))
    (recordings / "idle.csv").write_text(f"VIN: {vin}\n\nTime [s];Engine speed [rpm];Coolant [°C];VIN\n{rows}")
    bus_log(recordings / "visit.log", (0x7DF, "0902"), (0x7E8, f"490201{vin.encode().hex()}"), (0x7E8, "43010171"))
    assert run("examine", str(tmp_path / "case")).code == 0
    told = run("measure", str(recordings / "idle.csv"), str(recordings / "visit.log"), *FOUR, "--json", "--into", "out")
    assert vin not in told.out
    kept = [path for path in tmp_path.rglob("*") if path.is_file() and path.parent != recordings]
    assert len(kept) > 4
    assert [path.name for path in kept if vin.encode() in path.read_bytes()] == []


def test_a_case_takes_logs_and_conversations_as_evidence(tmp_path: Path) -> None:
    case = tmp_path / "case"
    (case / "recordings").mkdir(parents=True)
    (case / "case.toml").write_text('cylinders = 4\ncomplaint = "hesitates"\n')
    visit(case / "recordings" / "visit.log")
    (case / "recordings" / "drive.csv").write_bytes((OPEN / "01.csv").read_bytes())
    ran = run("examine", str(case), "--json")
    assert ran.code == 0, ran.err
    told = json.loads(ran.out)
    kinds = {f["quantity"] for f in told["findings"]}
    assert {"code_state", "fuel_trim", "map_reported"} <= kinds
    assert [code["code"] for code in told["reported"]["codes"] if code.get("status")] == ["P0171"]
    assert told["reported"]["on_board_tests"][0]["value"] == pytest.approx(-5.0)  # handbook §7's example of service 06


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (("--column", "nothing here=coolant"), "nothing here"),
        (("--column", "ECT [°F]=coolnt"), "coolant"),
        (("--column", "ECT [°F]"), "HEADING=WHAT"),
        (("--column", "ECT [°F]=coolant unit=kPa"), "kPa"),
        (("--known", "litres=2"), "--cylinders"),
        (("--cylinders", "4", "--known", "litres=2000"), "litres"),
    ],
)
def test_one_clear_line(arguments: tuple[str, ...], line: str, tmp_path: Path) -> None:
    ran = run("measure", str(OPEN / "01.csv"), *arguments)
    assert ran.code == 2
    assert line in ran.told
    assert ran.told.count("\n") == 1
    assert not list(tmp_path.glob("*.html"))
