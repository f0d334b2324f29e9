"""A fault is an edit to a healthy engine, and nothing more: what it would show is for physics to say.

Fault data name state variables only. What predicts and what measures never names a fault. So no table of
symptoms can creep in, and every new fault meets every test for free.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.architecture.sources import PACKAGE, SRC, Module, read_modules

DATA = SRC / PACKAGE / "data"
FAULT_FILES = sorted((DATA / "faults").glob("*.toml"))
NO_FAULT_FILES = sorted(
    [
        *DATA.glob("*.toml"),
        *(DATA / "tests").glob("*.toml"),
        *(DATA / "codes").glob("*.toml"),
        DATA / "owner" / "tests.toml",
    ]
)
OWNERS_CAUSES = DATA / "owner" / "causes.toml"
OPERATIONS = ("add", "multiply", "set")

# A trouble code: the letter of its system, then a digit 0 to 3 and three hexadecimal ones (SAE J2012, from memory).
CODE = re.compile(r"\b[PBCU][0-3][0-9A-F]{3}\b")

# Those that must not know which faults there are. (infer composes faults with predictions, so it may.)
BLIND_TO_FAULTS = ("physics", "decode", "measure", "predict")


def names_in(path: Path, table: str) -> frozenset[str]:
    return frozenset(row["name"] for row in tomllib.loads(path.read_text(encoding="utf-8"))[table])


def state_variables() -> frozenset[str]:
    return names_in(DATA / "state.toml", "variable")


def quantities() -> frozenset[str]:
    return names_in(DATA / "quantities.toml", "quantity")


def fault_ids() -> frozenset[str]:
    """Ids of all faults in the data files, the named variants of other faults included."""
    tables = (tomllib.loads(path.read_text(encoding="utf-8")) for path in FAULT_FILES)
    rows = (row for table in tables for rows in table.values() if isinstance(rows, list) for row in rows)
    return frozenset(row["id"] for row in rows if isinstance(row, dict) and "id" in row)


# ---------------------------------------------------------------- fault data


def symptoms_in(text: str, variables: frozenset[str], measured: frozenset[str]) -> list[str]:
    """What a fault file says and may not: a code, a quantity, an edit of something that is no state variable."""
    found = [f"names the code {code}" for code in CODE.findall(text)]
    table = tomllib.loads(text)
    # A quantity's name with an underscore in it is never plain English, so it is refused in comments and prose too.
    compound = {name for name in measured if "_" in name}
    found += [f"names the quantity {word}" for word in re.findall(r"\w+", text) if word in compound]
    found += [f"names the quantity {word}" for word in words(table) if word in measured - compound]
    for fault in table.get("fault", []):
        for edit in fault.get("edit", []):
            if edit.get("variable") not in variables:
                found.append(f"{fault.get('id')} edits {edit.get('variable')!r}, which is no state variable")
            if edit.get("op") not in OPERATIONS:
                found.append(f"{fault.get('id')} has the operation {edit.get('op')!r}; it is one of {OPERATIONS}")
    return found


def words(value: object) -> Iterator[str]:
    """Every key and every whole string in a table, at any depth."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from words(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from words(inner)


def test_there_are_faults_to_look_at() -> None:
    assert FAULT_FILES
    assert fault_ids()


@pytest.mark.parametrize("path", FAULT_FILES, ids=lambda path: path.name)
def test_fault_data_name_state_variables_only(path: Path) -> None:
    found = symptoms_in(path.read_text(encoding="utf-8"), state_variables(), quantities())
    assert not found, f"{path.name}: " + "; ".join(found)


@pytest.mark.parametrize("path", FAULT_FILES, ids=lambda path: path.name)
def test_every_fault_edits_something(path: Path) -> None:
    faults = tomllib.loads(path.read_text(encoding="utf-8")).get("fault", [])
    assert faults
    assert not [fault["id"] for fault in faults if not fault.get("edit")]


def test_words_for_the_owner_say_what_a_fault_is_and_not_what_it_shows() -> None:
    found = symptoms_in(OWNERS_CAUSES.read_text(encoding="utf-8"), state_variables(), quantities())
    assert not found, "; ".join(found)


def test_no_name_is_both_a_state_variable_and_a_quantity() -> None:
    assert not state_variables() & quantities()


@pytest.mark.parametrize("path", NO_FAULT_FILES, ids=lambda path: path.name)
def test_the_other_lists_name_no_fault(path: Path) -> None:
    """From the other side: a code, a test or a quantity that said which fault it means would be the same table."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    compound = {name for name in fault_ids() if "_" in name}
    found = {word for text in words(table) for word in re.findall(r"\w+", text)} & compound
    assert not found


# ---------------------------------------------------------------- the modules


def fault_names_in(module: Module, faults: frozenset[str]) -> list[str]:
    """Faults that a module names: as a string or an identifier, or, if no plain English word, anywhere in its text."""
    compound = {name for name in faults if "_" in name}
    found = [word for word in re.findall(r"\w+", module.text) if word in compound]
    found += [text for text in strings_in(module) if text in faults - compound]
    return sorted(set(found))


def symptom_names_in(module: Module, measured: frozenset[str]) -> list[str]:
    """Quantities and codes among a module's strings."""
    return sorted({text for text in strings_in(module) if text in measured or CODE.fullmatch(text)})


def strings_in(module: Module) -> list[str]:
    return [n.value for n in ast.walk(module.tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]


def test_predictors_and_measurements_never_name_a_fault() -> None:
    blind = [module for module in read_modules() if module.top in BLIND_TO_FAULTS]
    found = {module.name: names for module in blind if (names := fault_names_in(module, fault_ids()))}
    assert not found


def test_the_code_that_makes_faults_names_no_symptom() -> None:
    makers = [m for m in read_modules() if m.top == "catalogue" and m.parts[-1].startswith("fault")]
    found = {module.name: names for module in makers if (names := symptom_names_in(module, quantities()))}
    assert not found


# ---------------------------------------------------------------- the test, tested

GOOD = """
[[fault]]
id = "wheel_slipped"
place = "wheel"
repair = "renew the wheel; look at its seat"
edit = [{variable = "wheel_slip", op = "add", low = 3, high = 60}]
"""


def found_in(text: str) -> list[str]:
    return symptoms_in(text, frozenset({"wheel_slip"}), frozenset({"cam_phase_error", "look"}))


def test_a_fault_that_names_state_variables_only_passes() -> None:
    assert found_in(GOOD) == []


@pytest.mark.parametrize(
    ("addition", "complaint"),
    [
        ('shows = ["cam_phase_error"]', "names the quantity cam_phase_error"),
        ("cam_phase_error = -11", "names the quantity cam_phase_error"),
        ('look = "worn"', "names the quantity look"),
        ('codes = ["P0016"]', "names the code P0016"),
        ('note = "sets P0A1F at once"', "names the code P0A1F"),
        ("# cam_phase_error moves on all cams", "names the quantity cam_phase_error"),
        ('edit = [{variable = "cam_phase_error", op = "add"}]', "names the quantity cam_phase_error"),
        ('edit = [{variable = "wheel_slop", op = "add"}]', "'wheel_slop', which is no state variable"),
        ('edit = [{variable = "wheel_slip", op = "worsen"}]', "operation 'worsen'"),
    ],
)
def test_a_symptom_in_fault_data_is_caught(addition: str, complaint: str) -> None:
    text = re.sub(r"^edit.*\n", "", GOOD, flags=re.MULTILINE) if addition.startswith("edit") else GOOD
    assert any(complaint in line for line in found_in(text + addition + "\n"))


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('if fault == "wheel_slipped": ...', ["wheel_slipped"]),
        ("def wheel_slipped(state): ...", ["wheel_slipped"]),
        ('"""What wheel_slipped would show."""', ["wheel_slipped"]),
        ('KINDS = {"shudder": 3.0}', ["shudder"]),
        ('"""Engines shudder at idle."""', []),
        ("slip = state.get('wheel_slip', 'crank')", []),
    ],
)
def test_a_fault_named_by_a_predictor_is_caught(source: str, found: list[str]) -> None:
    module = Module(f"{PACKAGE}.predict.timing", False, source)
    assert fault_names_in(module, frozenset({"wheel_slipped", "shudder"})) == found


def test_a_symptom_named_by_a_maker_of_faults_is_caught() -> None:
    module = Module(f"{PACKAGE}.catalogue.faults", False, "SHOWS = {'chain': ['cam_phase_error', 'P0016']}")
    assert symptom_names_in(module, frozenset({"cam_phase_error"})) == ["P0016", "cam_phase_error"]
