"""``examine`` asks several electrical findings what they share: in the JSON, on the page, on the terminal.

That parts fed through one pin, or grounded at one point, fail together when it opens is common practice, no source;
which parts hang on which node is read here from the description's own lines, without the program.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.architecture.sources import ROOT
from tests.doors.cli import run
from tests.unit.report.test_json import complaints
from witnessmark.app.examine import Examined, Typed, examine_typed
from witnessmark.infer import sharedanswer, sharedlaw
from witnessmark.report.page import render_page
from witnessmark.report.terminal import assessment_text

ENGINE = "made-up four"
COILS = tuple(f"P035{k}" for k in range(1, 5))
SILENT = tuple(f"P020{k} set=no monitor_ran=yes" for k in range(1, 5))
SENSORS = ("P0118", "P0113", "P0123", "P2123")  # coolant, intake air, throttle and pedal high: all on one ground


def answered(*codes: str, saw: tuple[str, ...] = ()) -> Examined:
    return examine_typed(Typed(engine=ENGINE, codes=codes, saw=saw))


@pytest.fixture(scope="module")
def coils() -> Examined:
    return answered(*COILS, *SILENT)


@pytest.fixture(scope="module")
def sensors() -> Examined:
    return answered(*SENSORS)


def nodes() -> dict[str, dict[str, Any]]:
    text = (ROOT / "src/witnessmark/data/engines/made-up-four.toml").read_text(encoding="utf-8")
    return {node["id"]: node for node in tomllib.loads(text)["supply"]["node"]}


def upstream(name: str) -> set[str]:
    """A node and all that feeds, grounds or drives it, by the description's lines."""
    known, found, ahead = nodes(), set(), [name]
    while ahead:
        one = ahead.pop()
        if one in known and one not in found:
            found.add(one)
            node = known[one]
            ahead += [node.get("from", ""), node.get("ground", ""), node.get("driver", "").partition(".")[0]]
    return found


def shared_of(examined: Examined) -> dict[str, Any]:
    found = json.loads(examined.json)["shared"]
    assert found is not None
    return found


# ---------------------------------------------------------------- what is asked


def test_four_coils_name_a_place_that_all_of_them_hang_on(coils):
    """Common practice, no source: four coils dead at once are their feed, their ground or their driver."""
    common = set.intersection(*(upstream(f"coil_{k}") for k in range(1, 5)))
    first = shared_of(coils)["sites"][0]
    assert set(first["nodes"]) <= common
    assert set(first["explains"]) == {f"f{k}" for k in range(1, 5)}
    likely = [site for site in shared_of(coils)["sites"] if site["probability"] > 0.05]
    assert all(set(site["nodes"]) & common for site in likely)


def test_silent_injectors_acquit_what_feeds_them_too(coils):
    """The main relay feeds coils and injectors: with all four injectors' codes silent it is not what failed."""
    both = set.intersection(*(upstream(f"coil_{k}") & upstream(f"injector_{k}") for k in range(1, 5)))
    assert "main_relay" in both
    shares = {site["site"]: site["probability"] for site in shared_of(coils)["sites"]}
    assert shares.get("main_relay", 0.0) < 0.05
    assert max(shares, key=lambda name: shares[name]) not in both


def test_sensors_on_one_ground_that_read_high_name_the_ground(sensors):
    """Common practice, no source: a sensor that has lost its ground reads high."""
    common = set.intersection(*(upstream(name) for name in ("ect", "iat", "throttle_sensor", "pedal")))
    assert "sensor_ground" in common
    found = shared_of(sensors)
    assert all("sensor_ground" in site["nodes"] for site in found["sites"] if site["probability"] > 0.05)
    assert found["several"] < 0.01


def test_the_place_is_looked_up_among_all_causes(coils):
    answer = json.loads(coils.json)
    place = answer["shared"]["among_all"]
    own = [
        h for h in answer["hypotheses"] if len(h["faults"]) == 1 and place["node"] in h["faults"][0]["place"].values()
    ]
    assert place["hypotheses"] == [h["id"] for h in own]
    assert place["probability"] == pytest.approx(sum(h["probability"] for h in own))
    first = next(h for h in answer["hypotheses"] if h["faults"])
    assert place["leads"] == (first["id"] in place["hypotheses"])


# ---------------------------------------------------------------- the contract


def test_the_answer_keeps_to_the_published_schema(coils, sensors):
    schema = json.loads((ROOT / "docs/schema/assessment.schema.json").read_text(encoding="utf-8"))
    for examined in (coils, sensors):
        assert complaints(json.loads(examined.json), schema, schema["$defs"]) == []


def test_the_numbers_hang_together(coils, sensors):
    for examined in (coils, sensors):
        answer = json.loads(examined.json)
        found, ids = answer["shared"], {f["id"] for f in answer["findings"]} | {"implied"}
        shares = [site["probability"] for site in found["sites"]]
        assert shares == sorted(shares, reverse=True)
        assert 0.9 < sum(shares) + found["several"] + found["nothing"] <= 1.0 + 1e-9
        for site in found["sites"]:
            assert sum(way["probability"] for way in site["ways"]) == pytest.approx(site["probability"])
            assert {one["finding"] for one in site["weights"]} <= ids
            assert {*site["explains"], *site["unexplained"], *site["silent"]} <= ids
        assert found["tests"]
        for test in found["tests"]:
            assert test["right"] > max(test["before"], 1.0 - test["before"])
            assert test["rival"] in {site["site"] for site in found["sites"]}


# ---------------------------------------------------------------- what is seen


def test_the_page_says_and_draws_it(coils):
    page = render_page(coils.assessment)
    part = page[page.index('id="shared"') :]
    first = shared_of(coils)["sites"][0]
    assert "P0351, P0352, P0353 and P0354 share" in part
    assert f"{first['words']} ({100 * first['probability']:.0f}\N{NO-BREAK SPACE}%)" in part
    assert 'class="sup"' in part
    assert "suspect" in part
    assert "Among all causes above" in part
    assert "service information" in part[: part.index("</section>")]
    assert page.count("<b>Figure 1.</b>") == 1
    assert 'id="drive"' not in page  # nothing found concerns the timing drive: it is not drawn beside


def test_the_terminal_says_it_in_a_few_lines(coils):
    text = assessment_text(coils.assessment, 80)
    part = text[text.index("What they share") : text.index("What to do next")]
    words = " ".join(part.split())
    assert "P0351, P0352, P0353 and P0354 share" in words
    assert "Measure first: " in words
    assert "names the right one of the two" in words
    assert len(part.splitlines()) < 30


def test_a_connector_as_a_whole_is_told_from_the_part_of_it_that_leads_above(sensors):
    """The causes of an answer are single parts: what both say must be held beside each other."""
    first = shared_of(sensors)["sites"][0]
    place = shared_of(sensors)["among_all"]
    assert place["node"] == "sensor_ground"
    text = " ".join(assessment_text(sensors.assessment, 80).split())
    if first["kind"] == "connector":
        assert "no connector as a whole" in text
    assert "share the sensor ground" in text or "share one place: the sensor ground" in text


def test_a_kept_answer_is_shown_without_predicting_anything_again(coils, monkeypatch):
    before = render_page(coils.assessment)

    def refuse(*_: object) -> None:
        raise AssertionError("predicted again")

    monkeypatch.setattr(sharedlaw.Law, "expected", refuse)
    assert coils.assessment.shared is not None
    assert coils.assessment.shared.belief.worked is None
    assert render_page(coils.assessment) == before
    assert 'id="shared"' not in render_page(replace(coils.assessment, shared=None))


# ---------------------------------------------------------------- what is not asked


@pytest.mark.parametrize(
    ("codes", "saw"),
    [
        (("P0351",), ()),
        (("P0016", "P0017"), ()),
        ((), ("branch_drop node=c12.1 state=idle 0.02", "branch_drop node=head_ground state=idle 0.02")),
    ],
    ids=["one code", "codes of no circuit", "two good drops"],
)
def test_with_fewer_than_two_electrical_findings_off_nothing_is_asked(codes, saw, monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("asked what one finding shares")

    monkeypatch.setattr(sharedanswer, "shared_cause", refuse)
    examined = answered(*codes, saw=saw)
    assert json.loads(examined.json)["shared"] is None
    assert "What they share" not in render_page(examined.assessment)
    assert "What they share" not in assessment_text(examined.assessment)


def test_two_codes_of_one_part_share_nothing_but_the_part():
    assert json.loads(answered("P0117", "P0115").json)["shared"] is None


def test_parts_with_silent_neighbours_on_every_feed_have_each_their_own_fault():
    """One injector and one coil, their neighbours on the same feeds silent: nothing they share fails both alone."""
    others = [f"{name} set=no monitor_ran=yes" for name in ("P0202", "P0203", "P0204", "P0352", "P0353", "P0354")]
    assert json.loads(answered("P0201", "P0351", *others).json)["shared"] is None


def test_the_command_says_it_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    ran = run("examine", "--engine", ENGINE, *(word for code in COILS for word in ("--code", code)))
    assert ran.code == 0
    assert "What they share" in ran.out
    assert 'id="shared"' in (tmp_path / "witnessmark-page.html").read_text(encoding="utf-8")
