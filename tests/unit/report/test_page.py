"""The page: well formed, whole, on its own, and never surer than its numbers."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.unit.report.builders import CASES, seal_case, typed_only
from tests.unit.report.engines import ENGINES, drawn_for
from tests.unit.report.markup import number_of, read
from witnessmark.finding import NotMeasured
from witnessmark.plan.types import Plan
from witnessmark.report.page import render_page
from witnessmark.report.tokens import TOKENS, stylesheet
from witnessmark.report.words import NBSP
from witnessmark.vocabulary import Place


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    return {name: render_page(make()) for name, make in CASES.items()}


@pytest.mark.parametrize("name", CASES)
def test_it_is_well_formed_and_every_reference_resolves(name: str, pages: dict[str, str]) -> None:
    reader = read(pages[name])
    assert not reader.faults
    assert not reader.open
    ids = reader.values("id")
    assert len(ids) == len(set(ids))
    assert {href[1:] for href in reader.values("href")} <= set(ids)
    assert set(reader.values("aria-labelledby")) <= set(ids)


@pytest.mark.parametrize("name", CASES)
def test_it_stands_alone(name: str, pages: dict[str, str]) -> None:
    page = pages[name]
    reader = read(page)
    tags = {tag for tag, _ in reader.tags}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "base", "form"}
    assert not [key for _, attrs in reader.tags for key in attrs if key.startswith("on") or key in ("src", "srcset")]
    assert not re.findall(r"https?:|url\(|@import|javascript:", page)
    assert all(href.startswith("#") for href in reader.values("href"))


@pytest.mark.parametrize("name", CASES)
def test_every_finding_is_told_where_it_belongs_and_in_the_record(name: str, pages: dict[str, str]) -> None:
    page = pages[name]
    assessment = CASES[name]()
    record = page[page.index('aria-labelledby="record"') :]
    told = page[: page.index('aria-labelledby="explains"')]
    for finding in assessment.findings:
        assert f'<li id="{finding.id}">' in record
        assert f'<td class="fid">{finding.id}</td>' in told


@pytest.mark.parametrize("name", CASES)
def test_every_id_in_the_evidence_is_a_finding(name: str, pages: dict[str, str]) -> None:
    known = {finding.id for finding in CASES[name]().findings}
    named = re.findall(r'<span class="ids">([^<]*)</span>', pages[name])
    assert named
    assert {word for text in named for word in text.split()} <= known


@pytest.mark.parametrize("name", CASES)
def test_printed_decibans_add_up_to_the_printed_sum(name: str, pages: dict[str, str]) -> None:
    explains = pages[name].split('aria-labelledby="explains"')[1].split("</section>")[0]
    looked_at = 0
    for block in explains.split('<li class="cause" ')[1:]:
        lines = re.findall(r'<li( class="sum")?>.*?<span class="db"><b>([^<]*)</b>', block)
        total = [number_of(text) for mark, text in lines if mark]
        if total and ">With " not in block:
            looked_at += 1
            assert sum(number_of(text) for mark, text in lines if not mark) == pytest.approx(total[0], abs=1e-9)
    assert looked_at


def test_typed_numbers_and_nothing_else_are_violet(pages: dict[str, str]) -> None:
    violet = re.findall(r'<span class="w">([^<]*)</span>', pages["seal"])
    assert [text.replace(NBSP, " ") for text in violet] == ["Violet, underlined:", *["−11° ± 1"] * 4]
    assert "Violet" not in pages["cleared"]


def test_what_was_not_measured_is_a_block_with_its_remedy(pages: dict[str, str]) -> None:
    text = read(pages["typed"]).text
    assert "Intake cam and exhaust cam to crank: not measured. Nothing was recorded. Settled by a recording" in text


def test_hazards_stand_open_and_defer_to_the_maker(pages: dict[str, str]) -> None:
    page = pages["seal"]
    hazards = page[page.index('<div class="haz">') : page.index("</div>", page.index('<div class="haz">'))]
    assert "Fuel and spark off." in hazards
    assert "The maker’s service information and local rules come first." in hazards
    before = page[: page.index('<div class="haz">')]
    assert before.count("<details") == before.count("</details>")
    assert page.index('<div class="haz">') < page.index('<ul class="out">')


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "seal",
            "Cannot tell yet. Leading, about 3 to 1: crank wheel slipped on its shaft. Next: take a pressure trace",
        ),
        ("closed", "Crank wheel slipped on its shaft, about 11° early: 97 %. Next: refit the crank wheel"),
        ("cleared", "Cleared: timing drive. The complaint has its cause elsewhere."),
        ("two banks", "Secondary 2 chain jumped at the idler 2: 96 %."),
    ],
)
def test_where_it_stands(name: str, said: str, pages: dict[str, str]) -> None:
    assert f"Where it stands. {said}" in read(pages[name]).text.replace(NBSP, " ").replace("  ", " ")


def test_whole_steps_are_shown_where_they_are_in_question(pages: dict[str, str]) -> None:
    text = read(pages["typed"]).text.replace(NBSP, " ")
    for teeth in range(17, 27):
        assert f"crank {teeth}" in text
    assert "All whole steps together: 4 % of everything." in text
    assert "How well whole teeth fit" not in pages["seal"]


def test_the_number_worth_most_is_named_first(pages: dict[str, str]) -> None:
    text = read(pages["seal"]).text.replace(NBSP, " ")
    assert "Look up or count first: teeth of the crank sprocket. It is worth 0.6 bit of the 1.6 that are open." in text
    assert text.index("Length of chain on the tight side") > text.index("Teeth of the crank sprocket")


def test_without_a_description_the_drive_is_not_drawn_and_says_what_settles_it(pages: dict[str, str]) -> None:
    text = read(pages["typed"]).text
    assert "Not drawn. How chains or belts run from crank to cams is not described. Settled by" in text


def test_what_a_person_wrote_cannot_become_markup() -> None:
    case = seal_case()
    nasty = 'it said "<script>alert(1)</script>" & stopped'
    intake = replace(case.intake, complaint=nasty, title="<b>x</b>", done=((nasty, nasty, nasty),))
    missing = (NotMeasured("tdc_offset", Place.of(), nasty, nasty),)
    drawn = tuple(replace(cause, words=nasty, text=nasty) for cause in case.drawn)
    page = render_page(replace(case, intake=intake, not_measured=missing, drawn=drawn, engine_words=nasty))
    reader = read(page)
    assert not reader.faults
    assert "script" not in {tag for tag, _ in reader.tags}
    assert nasty in reader.text


def test_an_empty_plan_is_said(pages: dict[str, str]) -> None:
    assert "No test of these systems would tell more. Look elsewhere." in pages["cleared"]
    page = render_page(replace(seal_case(), plan=Plan((), (), 0.0, 0.0, 0.0)))
    assert "No test known here would tell more about it." in page


def test_nothing_at_all_is_still_a_page() -> None:
    bare = typed_only()
    belief = replace(bare.belief, weights=(), fit=(), assumed=(), steps=(), groups=())
    page = render_page(replace(bare, findings=(), not_measured=(), belief=belief, plan=Plan((), (), 0.0, 0.0, 0.0)))
    reader = read(page)
    assert not reader.faults
    assert "Nothing has been read or measured yet." in reader.text
    assert reader.text.count("None") == reader.text.count("None of these")


@pytest.mark.parametrize("name", ENGINES)
def test_any_drive_gives_a_page(name: str) -> None:
    engine = ENGINES[name]()
    page = render_page(replace(seal_case(), engine=engine, drawn=drawn_for(engine), traces=(), edges=()))
    assert not read(page).faults
    assert "<svg" in page


def test_the_same_answer_is_the_same_page() -> None:
    assert render_page(seal_case()) == render_page(seal_case())


# ---------------------------------------------------------------- tokens


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance (from memory)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


# The design sheet's table, "on paper".
@pytest.mark.parametrize(
    ("name", "light", "dark"),
    [
        ("ink", 15.9, 14.8),
        ("ink2", 7.2, 8.7),
        ("hand", 8.9, 8.7),
        ("line", 3.7, 4.5),
        ("rule", 1.5, 1.7),
        ("crank", 19.2, 15.3),
        ("intake", 4.8, 7.8),
        ("exhaust", 3.5, 8.0),
        ("single", 3.1, 5.3),
    ],
)
def test_tokens_have_the_contrast_of_the_design_sheet(name: str, light: float, dark: float) -> None:
    for i, wanted in enumerate((light, dark)):
        assert contrast(TOKENS[name][i], TOKENS["paper"][i]) == pytest.approx(wanted, abs=0.06)
        assert TOKENS[name][i] in stylesheet()


def test_traces_wear_the_published_palette() -> None:
    """Okabe and Ito, Color Universal Design (2008), as hexadecimal; from memory."""
    palette = {"#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}
    assert {TOKENS[name][i] for name in ("intake", "exhaust", "single") for i in (0, 1)} <= palette
    assert TOKENS["crank"][0] in palette
