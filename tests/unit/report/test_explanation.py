"""Both explanations: every sentence rests on something, every number in it is found there, and they say what is so.

What an explanation must hold is the task's own list; limits of the words for chances are the IPCC's (see likely.py).
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.unit.infer.worked import FOUR, deviations, known_four
from tests.unit.report.builders import CASES, seal_case, typed_only
from tests.unit.report.resting import miscounted, texts_of, unfounded
from witnessmark.app.assess import assess
from witnessmark.case.assessment import Assessment, Intake
from witnessmark.case.code import code_findings, parse_code_line
from witnessmark.case.history import parse_did
from witnessmark.case.typed import parse_reading
from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.infer.cleared import SYSTEM_NAMES
from witnessmark.infer.history import History
from witnessmark.plan.types import FurtherAgreement, Plan
from witnessmark.report.explanation import Explanation, explanation
from witnessmark.report.json import assessment_json
from witnessmark.report.likely import LIKELY, likely_words
from witnessmark.report.ownerwords import owner_words
from witnessmark.report.page import render_page
from witnessmark.report.sentences import COMPLAINT, PLAN, Sentence, said
from witnessmark.report.terminal import assessment_text, owner_text

COMPLAINT_WORDS = "It idles roughly since Tuesday, and drank 12 litres."


def typed(*lines: str) -> tuple:  # type: ignore[type-arg]
    return tuple(parse_reading(line, engine=FOUR) for line in lines)


def lean() -> Assessment:
    """Lean at idle, nearly right above it, one sensor renewed in vain, and one figure with its point astray."""
    findings = (
        *code_findings(parse_code_line("P0171"), "P0171"),
        *typed(
            "fuel_trim bank=1 state=idle complaint=present 19",
            "fuel_trim bank=1 state=raised speed_rpm=2500 6",
            "charging_volts battery=battery state=idle 142",
        ),
    )
    done = (parse_did("fitted part=oxygen_sensor cured=no"),)
    return assess(FOUR, findings, History(done), intake=Intake(complaint=COMPLAINT_WORDS))


def late_cams() -> Assessment:
    """Both cams late alike on the demonstration's engine; after work at the crank's front."""
    done = (parse_did("work part=crank_seal began=yes"), parse_did("fitted part=cam_sensor cam=intake cured=no"))
    return assess(known_four(), deviations(-11.0, -11.0), History(done))


def weak_oil() -> Assessment:
    """Oil pressure far too low, hot."""
    lines = (
        "oil_pressure state=idle coolant_c=95 45 kPa",
        "oil_pressure state=raised speed_rpm=2500 coolant_c=95 115 kPa",
    )
    return assess(FOUR, typed(*lines), History())


def all_right() -> Assessment:
    """Nothing off, and nothing done."""
    return assess(FOUR, typed("charging_volts battery=battery state=idle 14.1"), History())


MADE = {"lean": lean, "late cams": late_cams, "weak oil": weak_oil, "all right": all_right}


@pytest.fixture(scope="module")
def answers() -> dict[str, Assessment]:
    return {name: make() for name, make in MADE.items()}


def each(told: Explanation) -> tuple[Sentence, ...]:
    return (*told.technician, *told.owner)


def check_rests(assessment: Assessment) -> None:
    sentences = each(explanation(assessment))
    assert sentences
    for sentence in sentences:
        assert sentence.rests_on
        nowhere = [name for name in sentence.rests_on if not list(texts_of(name, assessment))]
        assert not nowhere, sentence
        assert not unfounded(sentence, assessment), sentence
        assert not miscounted(sentence), sentence
        assert sentence.text.endswith((".", "”"))


@pytest.mark.parametrize("name", MADE)
def test_every_sentence_rests_on_something_that_holds_its_numbers(name: str, answers: dict[str, Assessment]) -> None:
    check_rests(answers[name])


@pytest.mark.parametrize("name", CASES)
def test_so_it_is_for_answers_made_by_hand(name: str) -> None:
    check_rests(CASES[name]())


def test_where_nothing_lies_inside_what_was_agreed_both_are_told_what_more_would_buy() -> None:
    offer = FurtherAgreement("minutes", "40 minutes", 35.0, "smoke", "put smoke into the intake", 25.0, 0.0)
    plan = Plan((), (), 120.0, 60.0, 1.0, offers=(offer,), limited=True)
    case = replace(typed_only(), plan=plan)
    check_rests(case)
    for told in (explanation(case).technician, explanation(case).owner):
        last = next(sentence for sentence in told if sentence.rests_on == (PLAN,))
        assert "35" in last.text
        assert "put smoke into the intake" in last.text


def test_a_number_from_nowhere_is_found_out(answers: dict[str, Assessment]) -> None:
    """The check itself: another figure, another code, and a count too many are all seen."""
    case = answers["lean"]
    finding = case.findings[1]
    assert unfounded(Sentence("Trim 19 % ± 2.", (finding.id,)), case) == []
    assert unfounded(Sentence("Trim 18 % ± 2.", (finding.id,)), case) == ["18"]
    assert unfounded(Sentence("P0300 set.", (case.findings[0].id,)), case) == ["P0300"]
    assert miscounted(Sentence("Three readings are off.", (finding.id,))) == ["three"]
    with pytest.raises(ValueError, match="rests on nothing"):
        said("Something is so.")


@pytest.mark.parametrize("name", MADE)
def test_each_is_as_long_as_it_should_be(name: str, answers: dict[str, Assessment]) -> None:
    told = explanation(answers[name])
    assert 3 <= len(told.technician) <= 7
    assert 3 <= len(told.owner) <= 6


def words(sentences: tuple[Sentence, ...]) -> str:
    return " ".join(" ".join(sentence.text for sentence in sentences).replace("\N{NO-BREAK SPACE}", " ").split())


def test_the_technician_is_told_all_that_a_colleague_would_say(answers: dict[str, Assessment]) -> None:
    told = words(explanation(answers["lean"]).technician)
    for said_so in ("142 V", "asked back", "fuel trim (idle) 19 % ± 2", "sound engine", "explains", "minutes"):
        assert said_so in told
    assert re.search(r"No finding speaks against it|does not fit it|Against it", told)
    assert "Still open" in told


def test_the_owner_is_told_plainly(answers: dict[str, Assessment]) -> None:
    case = answers["lean"]
    told = explanation(case).owner
    text = words(told)
    assert told[0].rests_on == (COMPLAINT,)
    assert COMPLAINT_WORDS in text
    assert "We cannot say yet what the cause is" in text or "the cause is" in text
    assert "Next we propose" in text
    assert "One figure is looked at again" in text
    assert "not shown to have been bad: oxygen sensor renewed" in text
    assert "decibans" not in text
    assert "trim" not in text.replace("trimmed", "")


def test_a_caution_stands_where_the_likely_causes_call_for_it_and_only_there(answers: dict[str, Assessment]) -> None:
    """Without oil pressure an engine is ruined in minutes (common practice, no source)."""
    told = explanation(answers["weak oil"]).owner
    caution = next(sentence for sentence in told if "oil pressure is in doubt" in sentence.text)
    named = [answers["weak oil"].belief.hypothesis(name) for name in caution.rests_on]
    assert all(any(f.fault in ("oil_pressure_low", "oilway_blocked", "oil_low") for f in h.faults) for h in named)
    assert "maker’s instructions and local rules come first" in caution.text
    assert "come first" not in words(explanation(answers["all right"]).owner)


def test_how_sure_is_said_in_words_with_the_number_beside() -> None:
    case = CASES["closed"]()
    group = max(case.belief.groups, key=lambda g: g.probability)
    text = words(explanation(case).owner)
    assert group.probability > 0.9
    assert f"{likely_words(group.probability)} ({round(100 * group.probability)} %) the cause is" in text.lower()


@pytest.mark.parametrize(
    ("probability", "word"),
    [(0.995, "almost certainly"), (0.95, "very likely"), (0.7, "likely"), (0.5, "about as likely as not")],
)
def test_words_for_chances_have_the_limits_of_the_ipcc(probability: float, word: str) -> None:
    """Guidance note for lead authors of the fifth assessment report, 2010, table 1: 99, 90, 66, 33 %."""
    assert likely_words(probability) == word
    assert [least for least, _ in LIKELY] == [0.99, 0.90, 0.66, 0.33, 0.0]


def test_every_cause_and_every_test_has_words_for_the_owner() -> None:
    known = owner_words()
    faults = {row.id for row in catalogue(SYSTEMS).rows}
    assert not faults - set(known.causes)
    assert not {procedure.id for procedure in all_procedures().all} - set(known.tests)
    assert not {name.partition(" ")[0] for caution in known.cautions for name in caution.faults} - faults


def test_every_system_that_can_be_cleared_has_words_for_the_owner() -> None:
    found = CASES["cleared"]()
    assert found.belief.verdict.cleared
    text = words(explanation(found).owner)
    assert all(owner_words().systems[name] in text for name in found.belief.verdict.cleared)
    assert set(SYSTEM_NAMES) == set(owner_words().systems)


def test_nothing_for_the_owner_is_trade_talk() -> None:
    """Abbreviations and units of the trade, and hyphenless compounds nobody outside it reads."""
    known = owner_words()
    every = " ".join([*known.causes.values(), *known.tests.values(), *(c.words for c in known.cautions)])
    assert not re.findall(r"\b(?:ECU|MAF|MAP|TDC|EGR|PCV|rpm|kPa|lambda|trim|phaser|scope|plenum|manifold)\b", every)


# ---------------------------------------------------------------- where they stand


def test_the_json_holds_both_without_the_owners_own_words(answers: dict[str, Assessment]) -> None:
    case = answers["lean"]
    document = assessment_json(case)
    told = explanation(case)
    assert [one["text"] for one in document["explanation"]["technician"]] == [s.text for s in told.technician]
    kept = [s for s in told.owner if COMPLAINT not in s.rests_on]
    assert [one["rests_on"] for one in document["explanation"]["owner"]] == [list(s.rests_on) for s in kept]
    assert COMPLAINT_WORDS not in str(document)


def test_the_page_links_each_sentence_to_what_it_rests_on(answers: dict[str, Assessment]) -> None:
    for case in (*answers.values(), seal_case(), typed_only()):
        page = render_page(case)
        part = page.split('aria-labelledby="words"')[1].split("</section>")[0]
        targets = re.findall(r'href="#([^"]+)"', part)
        assert targets
        anchors = set(re.findall(r'id="([^"]+)"', page))
        assert not [name for name in targets if name not in anchors]
        sentences = each(explanation(case))
        assert part.count("<p>") == len(sentences)


def test_the_terminal_tells_the_technician_and_on_request_the_owner(answers: dict[str, Assessment]) -> None:
    case = answers["lean"]
    text = " ".join(assessment_text(case, 100).split())
    assert "In words" in text
    assert "What weighs most: P0171 set (so in < 1 % of sound engines); fuel trim (idle) 19 % ± 2" in text
    owner = " ".join(owner_text(case, 80).split())
    assert owner == words(explanation(case).owner)


def test_a_figure_asked_back_is_told_with_the_line_that_confirms_it(answers: dict[str, Assessment]) -> None:
    text = " ".join(assessment_text(answers["lean"], 100).split())
    assert "142 V was typed. A sound vehicle reads 14.0 V" in text
    assert "142 V would be 14.2 V with the point one place to the left" in text
    assert '"charging_volts battery=battery state=idle 142 checked"' in text
    assert "Asked back." in render_page(answers["lean"])
    document = assessment_json(answers["lean"])
    doubt = next(f["doubt"] for f in document["findings"] if "doubt" in f)
    assert doubt["slip"] == "point"
    assert doubt["meant"] == pytest.approx(14.2)


def test_without_findings_nothing_is_made_up() -> None:
    case = typed_only()
    bare = replace(case, findings=(), belief=replace(case.belief, fit=(), tells=()), intake=Intake())
    for sentence in each(explanation(bare)):
        assert not any(name[0] == "f" and name[1:].isdigit() for name in sentence.rests_on)
