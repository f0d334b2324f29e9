"""What the pages about cases and readings promise is what the program takes."""

from __future__ import annotations

import json
import re

import pytest

from tests.architecture.sources import ROOT
from witnessmark.case.folder import CaseFolder
from witnessmark.case.history import parse_did, parse_known, parse_when
from witnessmark.case.journal import EVENTS
from witnessmark.case.owner import OWNER_FIELDS
from witnessmark.case.record import read_record
from witnessmark.case.schema import CaseFile, case_schema
from witnessmark.case.typed import parse_reading
from witnessmark.case.value import CONDITION_KEYS
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.infer.history import CIRCUMSTANCES, KNOWN_KEYS
from witnessmark.vocabulary import STATES

FOLDER = (ROOT / "docs" / "case-folder.md").read_text(encoding="utf-8")
TYPED = (ROOT / "docs" / "typed-readings.md").read_text(encoding="utf-8")


def test_the_published_schema_is_the_one_in_force() -> None:
    published = ROOT / "docs" / "schema" / "case.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == case_schema(), (
        "docs/schema/case.schema.json is out of date: write case_schema() into it anew"
    )


def test_the_example_of_a_case_is_one() -> None:
    example = re.search(r"```toml\n(.*?)```", FOLDER, re.DOTALL)
    assert example is not None
    record = read_record(example[1], named=lambda name: Engine(name, 4))
    assert len(record.findings) == 9
    assert len(record.intake.done) == 2
    missing = [key for key in CaseFile.model_fields if not re.search(rf"^\[*{key}\b|\b{key} ?=", example[1], re.M)]
    assert missing == []


@pytest.mark.parametrize("name", [*EVENTS, *OWNER_FIELDS])
def test_the_page_on_the_folder_is_complete(name: str) -> None:
    assert re.search(rf"\b{name}\b", FOLDER)


@pytest.mark.parametrize("name", [*CONDITION_KEYS, *KNOWN_KEYS, *CIRCUMSTANCES, *STATES])
def test_the_page_on_readings_is_complete(name: str) -> None:
    assert re.search(rf"\b{name}\b", TYPED)


@pytest.mark.parametrize("line", re.findall(r'--saw "([^"…]+)"', TYPED))
def test_its_readings_can_be_typed(line: str) -> None:
    assert parse_reading(line).source.text == line


@pytest.mark.parametrize("line", re.findall(r"^\| `(\w+)` \| ", TYPED, re.MULTILINE))
def test_its_facts_can_be_said(line: str) -> None:
    values = re.search(rf"^\| `{line}` \| (.*) \|$", TYPED, re.MULTILINE)
    assert values is not None
    for value in re.findall(r"`([\w=]+)`", values[1]):
        said = value if "=" in value else f"{line}={value}"
        assert set(parse_known([said])) == {line}


def test_its_work_and_circumstances_can_be_said() -> None:
    works = re.findall(r'--did "([^"…]+)"', TYPED)
    assert works
    assert all(parse_did(line) for line in works)
    assert parse_when(re.findall(r"`(\w+)`", TYPED.partition("## When it shows")[2].partition("##")[0]))


def test_its_refusals_are_the_programs() -> None:
    block = re.search(r"```text\n(.*?)```", TYPED, re.DOTALL)
    assert block is not None
    for line in block[1].splitlines():
        typed, said = re.fullmatch(r"witnessmark: --\w+ “(.*?)”: (.*)", line).groups()  # type: ignore[union-attr]
        parse = parse_reading if " " in typed else lambda text, **_: parse_reading(f"code_state code={text} set")
        with pytest.raises(InputError) as caught:
            parse(typed, engine=Engine("four", 4))
        assert str(caught.value) == said


def test_the_page_names_what_lies_in_the_folder() -> None:
    case = CaseFolder(ROOT)
    for path in (case.case_toml, case.owner_toml, case.engine_toml, case.journal, case.assessments, case.derived):
        assert path.name in FOLDER
