"""The answer as JSON: by its published schema, the same every time, refusing what JSON does not know."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.unit.report.builders import CASES, seal_case, typed_only
from witnessmark.errors import InferenceError
from witnessmark.report import assessment_json
from witnessmark.report.schema import assessment_schema, schema_text

ROOT = Path(__file__).resolve().parents[3]
PUBLISHED = ROOT / "docs" / "schema" / "assessment.schema.json"
KINDS: dict[str, tuple[type, ...]] = {
    "string": (str,),
    "number": (int, float),
    "integer": (int,),
    "boolean": (bool,),
    "null": (type(None),),
    "object": (dict,),
    "array": (list,),
}


def complaints(value: object, schema: dict[str, Any], defs: dict[str, Any], where: str = "$") -> list[str]:
    """What of a value is not as a schema wants it: the part of JSON Schema 2020-12 that ours uses, fields it does not
    name being refused besides."""
    if "$ref" in schema:
        return complaints(value, defs[schema["$ref"].rpartition("/")[2]], defs, where)
    if "anyOf" in schema:
        found = [complaints(value, part, defs, where) for part in schema["anyOf"]]
        return [] if any(not one for one in found) else found[0]
    if "enum" in schema:
        return [] if value in schema["enum"] else [f"{where}: {value!r} is not one of {schema['enum']}"]
    if not isinstance(value, KINDS[schema["type"]]) or (isinstance(value, bool) and schema["type"] != "boolean"):
        return [f"{where}: {value!r} is no {schema['type']}"]
    if isinstance(value, list):
        return [c for i, one in enumerate(value) for c in complaints(one, schema["items"], defs, f"{where}[{i}]")]
    if isinstance(value, dict):
        if "properties" not in schema:
            inner = schema["additionalProperties"]
            return [c for key, one in value.items() for c in complaints(one, inner, defs, f"{where}.{key}")]
        named = schema["properties"]
        found_here = [f"{where}: {key} is missing" for key in schema["required"] if key not in value]
        found_here += [f"{where}: {key} is not described" for key in value if key not in named]
        for key, one in value.items():
            found_here += complaints(one, named[key], defs, f"{where}.{key}") if key in named else []
        return found_here
    return []


@pytest.mark.parametrize("name", CASES)
def test_it_follows_the_published_schema(name: str) -> None:
    schema = json.loads(PUBLISHED.read_text(encoding="utf-8"))
    document = json.loads(json.dumps(assessment_json(CASES[name]()), allow_nan=False))
    assert complaints(document, schema, schema["$defs"]) == []


def test_the_published_schema_is_current() -> None:
    assert PUBLISHED.read_text(encoding="utf-8") == schema_text(), (
        "docs/schema/assessment.schema.json is old; write it anew with: "
        ".venv/bin/python -m witnessmark.report.schema docs/schema/assessment.schema.json"
    )


def test_the_validator_of_this_test_finds_what_is_wrong() -> None:
    schema = assessment_schema()
    defs = schema["$defs"]
    good: dict[str, Any] = json.loads(json.dumps(assessment_json(seal_case())))
    assert isinstance(defs, dict)
    for spoil, said in (
        ({**good, "schema": "other/1"}, "is not one of"),
        ({**good, "number": "three"}, "is no integer"),
        ({**good, "verdict": {}}, "kind is missing"),
        ({**good, "extra": 1}, "extra is not described"),
        ({**good, "hypotheses": [{**good["hypotheses"][0], "probability": None}]}, "is no number"),
    ):
        assert any(said in line for line in complaints(spoil, schema, defs))


@pytest.mark.parametrize("name", CASES)
def test_probabilities_sum_to_one_and_the_three_are_there(name: str) -> None:
    document = assessment_json(CASES[name]())
    assert math.fsum(h["probability"] for h in document["hypotheses"]) == pytest.approx(1.0, abs=1e-6)
    assert {"nothing_wrong", "elsewhere", "none_of_these"} <= {h["id"] for h in document["hypotheses"]}


@pytest.mark.parametrize("name", CASES)
def test_weights_add_up_and_ids_resolve(name: str) -> None:
    document = assessment_json(CASES[name]())
    findings = {f["id"] for f in document["findings"]}
    hypotheses = {h["id"] for h in document["hypotheses"]}
    for weight in document["weights"]:
        total = weight["prior_decibans"] + math.fsum(b["decibans"] for b in weight["blocks"])
        assert total == pytest.approx(weight["posterior_decibans"], abs=1e-9)
        assert {weight["for"], weight["against"]} <= hypotheses
        assert {f for b in weight["blocks"] for f in b["findings"]} <= findings
    assert {h for g in document["groups"] for h in g["hypotheses"]} <= hypotheses
    assert {f["finding"] for f in document["fit"]} <= findings


def test_the_keys_of_the_design_are_all_there() -> None:
    """docs/json.md, the example of an assessment."""
    document: Any = assessment_json(typed_only())
    keys = "schema version engine assumed findings not_measured hypotheses groups verdict weights fit plan"
    assert set(keys.split()) <= set(document)
    assert document["schema"] == "witnessmark/assessment/1"
    assert {"number", "as", "worth_bits"} <= set(document["assumed"][0])
    wanted = {"id", "quantity", "place", "value", "sd", "unit", "distribution", "condition", "source", "method"}
    assert wanted <= set(document["findings"][0])
    assert {"fault", "place", "parameters"} <= set(document["hypotheses"][0]["faults"][0])
    assert set(document["hypotheses"][0]["faults"][0]["parameters"]["wheel_slip"]) == {"value", "sd", "unit"}
    assert {"for", "against", "prior_decibans", "blocks", "posterior_decibans"} == set(document["weights"][0])
    assert {"test", "minutes", "teardown", "tells_bits", "hazards", "outcomes"} <= set(document["plan"]["steps"][0])
    assert {"shows", "chance", "then"} <= set(document["plan"]["steps"][0]["outcomes"][0])
    assert document["step_set"]["teeth"]
    assert len(document["steps"]) == 10


def test_it_is_the_same_text_every_time() -> None:
    texts = {json.dumps(assessment_json(seal_case()), allow_nan=False) for _ in range(3)}
    assert len(texts) == 1


def test_the_owners_words_are_not_in_it() -> None:
    """They may name people; case.toml keeps them, and an assessment is kept for ever."""
    assert "turns over" not in json.dumps(assessment_json(seal_case()))


def test_impossible_findings_are_null_and_not_infinite() -> None:
    case = seal_case()
    first, *rest = case.belief.hypotheses
    belief = replace(case.belief, hypotheses=(replace(first, log_evidence=-math.inf), *rest))
    assert assessment_json(replace(case, belief=belief))["hypotheses"][0]["log_evidence"] is None


def test_what_is_no_number_is_named_and_refused() -> None:
    case = seal_case()
    belief = replace(case.belief, fit=(replace(case.belief.fit[0], z=math.nan),))
    with pytest.raises(InferenceError, match=r"assessment\.fit\[0\]\.z is nan"):
        assessment_json(replace(case, belief=belief))


def test_probabilities_that_do_not_add_up_are_refused() -> None:
    case = seal_case()
    first, *rest = case.belief.hypotheses
    belief = replace(case.belief, hypotheses=(replace(first, probability=0.5), *rest))
    with pytest.raises(InferenceError, match=r"add up to 0\.76"):
        assessment_json(replace(case, belief=belief))


def test_a_missing_hypothesis_is_refused() -> None:
    case = seal_case()
    belief = replace(case.belief, hypotheses=tuple(h for h in case.belief.hypotheses if h.id != "elsewhere"))
    with pytest.raises(InferenceError, match="lacks the hypothesis elsewhere"):
        assessment_json(replace(case, belief=belief))
