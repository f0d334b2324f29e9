"""What codes mean in a shop, what silent codes tell, and what decoders told, as an answer keeps it."""

from __future__ import annotations

import json

import pytest

from tests.unit.predict.starting_cases import bare, model_of
from witnessmark.app.codemeanings import shop_meanings
from witnessmark.app.examine import Typed, examine_case, examine_typed
from witnessmark.app.monitors import SILENT_GROUPS, codes_of_monitor, silent_codes
from witnessmark.app.reported import findings_of, reported_code, reported_of
from witnessmark.app.shopfolder import write_shop_text
from witnessmark.case.reported import MonitorState, OnBoardTest, Reported, ReportedCode
from witnessmark.case.write import case_text
from witnessmark.catalogue.codefiles import MONITORS
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError


@pytest.fixture
def shop(monkeypatch, tmp_path):
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "shop"))
    return tmp_path


# ---------------------------------------------------------------- silent codes


def test_codes_of_a_monitor_are_those_of_this_engine():
    """Which code belongs to which group: SAE J1979 and J2012, from memory."""
    four, v6 = model_of("made-up four").engine, model_of("made-up v6 with links").engine
    assert codes_of_monitor(four, "catalyst") == ("P0420",)
    assert codes_of_monitor(v6, "catalyst") == ("P0420", "P0430")
    of_sensors = codes_of_monitor(four, "oxygen_sensor")
    assert {"P0133", "P2195", "P2270"} <= set(of_sensors)
    assert not {"P0153", "P0131", "P2197"} & set(of_sensors)  # another bank; a circuit
    assert {"P0135", "P0141"} <= set(codes_of_monitor(four, "oxygen_heater"))
    for group in set(MONITORS) - set(SILENT_GROUPS):
        assert codes_of_monitor(four, group) == ()


def test_only_what_nobody_mentioned_and_every_computer_shows_complete():
    engine = bare().engine
    complete, incomplete = MonitorState("catalyst", "complete", "7E8"), MonitorState("catalyst", "incomplete", "7E9")
    (found,) = silent_codes(Reported(readiness=(complete,)), engine)
    assert (found.code, found.is_set, found.monitor_ran, found.derived) == ("P0420", False, True, True)
    assert silent_codes(Reported(readiness=(complete, incomplete)), engine) == ()
    assert silent_codes(Reported(codes=(ReportedCode("P0420"),), readiness=(complete,)), engine) == ()
    assert silent_codes(Reported(readiness=(complete,)), engine, mentioned=["P0420"]) == ()
    assert silent_codes(Reported(readiness=(MonitorState("catalyst", "unsupported"),)), engine) == ()


# ---------------------------------------------------------------- what decoders tell


def test_status_as_decoded():
    """HANDBOOK §7: 59 02 FF 00 16 00 2F 03 01 00 08 is P0016-00 with status 2F, P0301-00 with 08 (bits from memory)."""
    both = reported_of(
        [
            ("7E8", "P0016-00", ("failed", "failed_this_cycle", "pending", "confirmed", "failed_since_clear")),
            ("7E8", "P0301-00", ("confirmed",)),
            ("7E8", "P0340", ("not_completed_since_clear", "not_completed_this_cycle")),
            ("7E9", "P0016", ("permanent", "something else")),
        ],
        monitors={"7E8": [("catalyst", True), ("evaporation", False)]},
        tests=[OnBoardTest("A2", "0B", 3.0)],
    )
    first, second, third, other = both.codes
    assert (first.code, first.failure_type, first.is_set) == ("P0016", "00", True)
    assert second.status == ("confirmed",)
    assert (third.is_set, third.monitor_ran) == (False, False)
    assert (other.status, other.unit) == (("permanent",), "7E9")
    assert [one.state for one in both.readiness] == ["complete", "incomplete"]
    states = {(f.quantity, f.place.get("code")): f.value for f in findings_of(both)}
    assert states == {
        ("code_state", "P0016"): 1.0,
        ("code_state", "P0301"): 1.0,
        ("code_state", "P0340"): 0.0,
        ("monitor_ran", "P0340"): 0.0,
    }


def test_one_code_in_three_lists_is_one_code_with_three_words():
    found = reported_of([("7E8", "P0171", (word,)) for word in ("pending", "confirmed", "permanent")])
    assert [one.status for one in found.codes] == [("pending", "confirmed", "permanent")]
    assert len(findings_of(found)) == 1
    assert reported_code("P0171").is_set


# ---------------------------------------------------------------- a whole answer


def answer(found):
    return json.loads(found.json)


def test_an_answer_tells_codes_their_status_and_their_meaning(shop):
    write_shop_text("codes.toml", 'P1234 = "Flap sticks"\nP0171 = "Look at the hose first"\n')
    typed = Typed(
        saw=("cam_deviation bank=1 cam=intake -11",),
        codes=("P0016 status=confirmed", "P0171-00 status=pending", "P1234", "P1999"),
        ready=("catalyst=complete evaporation=incomplete",),
        cylinders=4,
    )
    said = answer(examine_typed(typed))
    by_code = {one["code"]: one for one in said["reported"]["codes"]}
    assert by_code["P0016"]["status"] == ["confirmed"]
    assert (by_code["P0171"]["whose"], by_code["P0171"]["shop"]) == ("standard", "Look at the hose first")
    assert by_code["P0171"]["failure_type"] == "00"
    assert (by_code["P1234"]["whose"], by_code["P1234"]["words"]) == ("shop", "Flap sticks")
    assert (by_code["P1999"]["whose"], by_code["P1999"]["words"]) == ("maker", "")
    assert (by_code["P0420"]["derived"], by_code["P0420"]["set"]) == (True, False)
    assert said["reported"]["readiness"][1] == {"monitor": "evaporation", "state": "incomplete", "unit": ""}
    kept = {(f["quantity"], f["place"].get("code")): f["value"] for f in said["findings"]}
    assert (kept["code_state", "P0420"], kept["monitor_ran", "P0420"]) == (0.0, 1.0)


def test_codes_that_nothing_predicts_change_no_probability(shop):
    saw = ("cam_deviation bank=1 cam=intake -11",)
    plain = Typed(saw=saw, codes=("P0016",), cylinders=4)
    more = Typed(saw=saw, codes=("P0016 status=confirmed", "P0605", "P1999"), cylinders=4)
    one, other = (
        {h["words"]: h["probability"] for h in answer(examine_typed(typed))["hypotheses"]} for typed in (plain, more)
    )
    assert one == other


def test_a_page_of_a_case_shows_them(shop):
    case = shop / "case"
    case.mkdir()
    text = case_text(Typed(codes=("P0118 status=permanent",), ready=("catalyst=complete",), cylinders=4))
    test = '[[on_board_test]]\nmonitor = "21"\ntest = "80"\nvalue = 0.9\nlow = 1.0\nwords = "Catalyst, bank 1"\n'
    (case / "case.toml").write_text(text + test, encoding="utf-8")
    page = examine_case(case).page
    assert page is not None
    shown = page.read_text(encoding="utf-8")
    for words in (
        "Coolant temperature sensor: signal high",
        "set, permanent",
        "Run since codes were cleared: catalyst.",
        "Not set, though their monitors ran: P0420.",
        "Catalyst, bank 1",
        "from 1",
        "failed",
    ):
        assert words in shown, words


def test_a_shop_file_that_cannot_be_used_is_named(shop):
    assert shop_meanings() == {}
    write_shop_text("codes.toml", 'P12 = "too short"\n')
    with pytest.raises(InputError, match=r"codes\.toml"):
        examine_typed(Typed(codes=("P0016",), cylinders=4))


def test_an_engine_without_anything_described_has_one_catalyst():
    assert codes_of_monitor(Engine("bare", 4), "catalyst") == ("P0420",)
