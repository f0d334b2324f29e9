"""Causes: evidence that adds up, groups by repair, and the lines that always come last."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.unit.report.builders import CASES, seal_case, seal_case_closed, weight
from witnessmark.case.assessment import Assessment
from witnessmark.infer.belief import Block
from witnessmark.report.causes import Cause, Causes, causes
from witnessmark.report.readings import part_of
from witnessmark.report.standing import standing
from witnessmark.report.words import NBSP


def shown(assessment: Assessment) -> Causes:
    parts = {finding.id: part_of(finding) for finding in assessment.findings}
    return causes(assessment, standing(assessment), parts)


def all_causes(found: Causes) -> list[Cause]:
    return [cause for cluster in found.clusters for cause in cluster.causes]


@pytest.mark.parametrize("name", CASES)
def test_the_lines_of_a_large_cause_add_up_to_its_sum(name: str) -> None:
    looked_at = 0
    for cause in all_causes(shown(CASES[name]())):
        total = [line for line in cause.lines if line.is_sum]
        rest = [line for line in cause.lines if not line.is_sum]
        if total and not total[0].text.startswith("With "):
            looked_at += 1
            assert round(10 * math.fsum(line.decibans for line in rest)) == round(10 * total[0].decibans)
    assert looked_at


@pytest.mark.parametrize("name", CASES)
def test_sums_are_the_ratio_of_the_chances(name: str) -> None:
    assessment = CASES[name]()
    leader = standing(assessment).leader
    for cause in all_causes(shown(assessment)):
        if cause.id != leader.id and cause.lines:
            expected = 10 * math.log10(cause.probability / leader.probability)
            assert cause.lines[-1].decibans == pytest.approx(expected, abs=1e-6)


def test_many_points_are_lumped_and_still_add_up() -> None:
    case = seal_case()
    h1, h2 = case.belief.hypothesis("h1"), case.belief.hypothesis("h2")
    blocks = [Block((f"f{k}",), 0.31 * k, f"point {k}") for k in range(1, 11)]
    belief = replace(case.belief, weights=(weight(h1, h2, *blocks),))
    first = all_causes(shown(replace(case, belief=belief)))[0]
    printed = [line for line in first.lines if not line.is_sum]
    assert len(printed) == 7
    assert any("lesser points together" in line.text for line in printed)
    assert round(10 * math.fsum(line.decibans for line in printed)) == round(10 * first.lines[-1].decibans)


def test_a_small_cause_tells_its_heaviest_point_and_its_sum_only() -> None:
    jumped = next(cause for cause in all_causes(shown(seal_case())) if cause.id == "h3")
    assert [line.printed for line in jumped.lines] == ["−11.3", "−12.7"]
    assert jumped.lines[-1].text == "With three lesser points, against the leader: 1 to 18"
    assert not jumped.also
    assert not jumped.cured_by


def test_causes_with_one_repair_stand_together() -> None:
    clusters = [cluster for cluster in shown(seal_case()).clusters if cluster.head]
    assert [[cause.id for cause in cluster.causes] for cluster in clusters] == [["h2", "h3"]]
    assert clusters[0].head.replace(NBSP, " ").startswith("Same repair, 16 % together: renew the timing chain")


@pytest.mark.parametrize("name", CASES)
def test_the_last_lines_are_always_there_and_nothing_is_left_out(name: str) -> None:
    assessment = CASES[name]()
    found = shown(assessment)
    ids = [minor.id for minor in found.minors]
    assert ids[-3:] == ["none_of_these", "elsewhere", "nothing_wrong"]
    listed = {cause.id for cause in all_causes(found)}
    special = {"none_of_these", "elsewhere", "nothing_wrong"}
    hidden = [h for h in assessment.belief.hypotheses if h.id not in listed | special]
    assert len(found.others) == len(hidden)


def test_a_rival_sees_the_evidence_from_its_own_side() -> None:
    leader, rival = all_causes(shown(seal_case()))[:2]
    ours = {line.text: line.decibans for line in leader.lines if line.ids}
    theirs = {line.text: line.decibans for line in rival.lines if line.ids}
    assert ours.keys() == theirs.keys()
    assert all(theirs[text] == pytest.approx(-value) for text, value in ours.items())


def test_what_is_predicted_and_not_looked_for_is_said() -> None:
    leader = all_causes(shown(seal_case()))[0]
    assert "Wheel’s TDC against the piston" in leader.also
    assert leader.also.endswith("None of these looked for yet.")


def test_what_was_looked_for_meanwhile_is_not_said_to_be_open() -> None:
    leader = all_causes(shown(seal_case_closed()))[0]
    assert "TDC" not in leader.also  # f11 is the offset in cylinder 1; the prediction names no cylinder
    assert leader.also.startswith("Crank wheel on its shaft")


def test_the_part_of_each_line_is_named() -> None:
    leader = all_causes(shown(seal_case()))[0]
    assert [line.words for line in leader.lines] == [
        "speaks for it; see 2",
        "speaks for it; see 4",
        "a hint; see 4",
        "before any evidence",
        "in all",
    ]
