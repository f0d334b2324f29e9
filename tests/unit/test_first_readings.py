"""The worked examples of first readings are whole: lines can be typed, causes and tests stand in the catalogue.

Whether the program answers them is another test's business. ``python -m tests.unit.test_first_readings`` writes the
page anew.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache

import pytest

from tests.architecture.sources import ROOT
from tests.first_readings import FOLDER, NO_FAULT, FirstReading, Named, first_readings
from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.faults import instances_of
from witnessmark.catalogue.procedures import all_procedures, procedures
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.file import engine_from_mapping
from witnessmark.engine.intervention import interventions

PAGE = ROOT / "docs" / "first-readings.md"
RENEW = "renew with: python -m tests.unit.test_first_readings"
VERDICTS = {"cause", "cleared", "nothing_wrong", "cannot_tell"}
EXAMPLES = first_readings()
TESTS = {procedure.id for procedure in all_procedures().all}
SPOKEN = {procedure.id for procedure in procedures().all}
EVERY = pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.id)


@cache
def places_on(engine: str) -> dict[str, set[tuple[str, str]]]:
    """Of every fault its places, over all engines that the description leaves open."""
    found: dict[str, set[tuple[str, str]]] = {row.id: set() for row in catalogue(SYSTEMS).rows}
    for candidate in candidate_engines(engine_from_mapping(json.loads(engine))):
        for row in catalogue(SYSTEMS).rows:
            found[row.id] |= {(one.where.key, one.where.id) for one in instances_of(candidate.engine, row)}
    return found


def meant(named: Named, example: FirstReading) -> set[tuple[str, str, str]]:
    """Faults at places that are what was named."""
    there = places_on(json.dumps(example.engine)).get(named.fault, set())
    return {(named.fault, key, place) for key, place in there if named.matches(named.fault, key, place)}


def typed_today(line: str) -> str:
    """The line with an intervention that the typed grammar does not take yet set aside for one that it takes.

    The catalogue's own form, ``during=swap_coil:3-1``, is what ``predict`` reads; a typed line takes the drive's only.
    """
    said = re.search(r"during=(\w+)(:\S+)?", line)
    if said is None or (said[1] in SPOKEN and said[2] is None):
        return line
    assert said[1] in interventions(), line
    return line.replace(said[0], "during=swap_oil_valve")


def test_there_are_enough_and_their_numbers_run_on() -> None:
    assert len(EXAMPLES) >= 36
    assert [example.id[:3] for example in EXAMPLES] == [f"{n:02}-" for n in range(1, len(EXAMPLES) + 1)]
    assert not [example.id for example in EXAMPLES if not re.fullmatch(r"\d\d(-[a-z0-9]+)+", example.id)]
    assert {path.name for path in FOLDER.iterdir()} == {f"{example.id}.toml" for example in EXAMPLES} | {"README.md"}


@EVERY
def test_what_is_in_hand_can_be_typed(example: FirstReading) -> None:
    hand = replace(example, saw=tuple(map(typed_today, example.saw))).in_hand()
    assert hand.findings
    assert len(hand.findings) >= len(example.saw) + len(example.codes)
    assert set(example.doubtful) <= set(example.saw)


@EVERY
def test_every_cause_stands_in_the_catalogue_and_on_this_engine(example: FirstReading) -> None:
    assert not [str(one) for one in example.causes if one.fault not in NO_FAULT and not meant(one, example)]


@EVERY
def test_nothing_is_both_right_and_wrong(example: FirstReading) -> None:
    right = set(example.acceptable_first) - {Named(one) for one in NO_FAULT}
    wrong = [Named.parsed(one.to) for one in example.must_not_lead]
    both = {spot for one in right for spot in meant(one, example)} & {s for one in wrong for s in meant(one, example)}
    assert not both
    assert not set(example.acceptable_first) & set(wrong)
    assert not {one.to for one in example.bad_tests} & set(example.acceptable_tests)


@EVERY
def test_tests_repairs_and_verdicts_are_the_catalogues(example: FirstReading) -> None:
    assert {*example.acceptable_tests, *(one.to for one in example.bad_tests)} <= TESTS
    assert example.acceptable_tests
    assert example.acceptable_first
    assert example.verdict_acceptable
    assert set(example.verdict_acceptable) <= VERDICTS
    leading = {one.fault for one in example.acceptable_first}
    jobs = {row.repair.job for row in catalogue(SYSTEMS).rows if row.id in leading}
    assert set(example.acceptable_repairs) <= jobs
    assert 1 <= len(example.must_be_within) <= example.within


@EVERY
def test_reasons_are_given(example: FirstReading) -> None:
    assert 2 <= len(re.findall(r"[.:?](?:\s|$)", example.why)) <= 12
    assert example.source.startswith(("common practice, no source", "from memory", "read: "))
    assert all(len(one.why) > 10 for one in (*example.must_not_lead, *example.bad_tests))


def test_a_place_may_be_left_open() -> None:
    assert Named.parsed("valve_burnt valve=3.*").matches("valve_burnt", "valve", "3.exhaust")
    assert not Named.parsed("valve_burnt valve=3.*").matches("valve_burnt", "valve", "1.exhaust")
    assert not Named.parsed("coil_weak cylinder=3").matches("coil_weak", "cylinder", "all")
    assert Named.parsed("coil_weak").matches("coil_weak", "cylinder", "2")
    with pytest.raises(ValueError, match="key=place"):
        Named.parsed("coil_weak 3")


# ---------------------------------------------------------------- the page


def page() -> str:
    """docs/first-readings.md."""
    head = (FOLDER / "README.md").read_text(encoding="utf-8").partition("<!-- page -->\n")[2]
    return head.partition("<!-- end -->")[0].strip() + "\n\n" + "\n\n".join(map(section, EXAMPLES)) + "\n"


def section(example: FirstReading) -> str:
    """One example for people."""
    number, of = int(example.id[:2]), example.engine
    air = [f"{key} {value}" for key, value in of.get("air", {}).items()]
    engine = ", ".join([f"{of['cylinders']} cylinders", *([of["layout"]] if "layout" in of else []), *air])
    lines = [f"## {number}. {example.title}", "", f"{example.told} Engine: {engine}.", "", "```text"]
    for option in ("known", "when", "did", "codes", "ready", "saw"):
        lines += [f"{option:6}{line}" for line in getattr(example, option)]
    if example.complaint_seen is not None:
        lines.append(f"complaint seen: {'yes' if example.complaint_seen else 'no'}")
    groups = "; ".join(ticked(some) for some in example.must_be_within)
    lines += ["```", "", f"- **May lead**: {ticked(example.acceptable_first)}."]
    lines += [f"- **Among the first {example.within}**, one of each: {groups}."]
    lines += [f"- **Must not lead**: `{one.to}` ({one.why})." for one in example.must_not_lead]
    lines += [f"- **Next**: {ticked(example.acceptable_tests)}."]
    if example.acceptable_repairs:
        lines.append(f"- **Or renew at once**: {ticked(example.acceptable_repairs)}.")
    lines += [f"- **Not next**: `{one.to}` ({one.why})." for one in example.bad_tests]
    lines += [f"- **Verdict**: {ticked(example.verdict_acceptable)}."]
    lines += [f"- **To be asked back**: `{line}`." for line in example.doubtful]
    lines += [f"- **The catalogue lacks**: {words}." for words in example.wanted_fault]
    return "\n".join([*lines, "", f"{example.why} *{example.source[0].upper() + example.source[1:]}.*"])


def ticked(words: tuple[object, ...]) -> str:
    """Words as code, parted by commas."""
    return ", ".join(f"`{word}`" for word in words)


def test_the_page_says_what_the_files_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), RENEW


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
