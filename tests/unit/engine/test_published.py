"""What is published about descriptions is what the program does: the JSON Schema, and the page that explains them."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from witnessmark.engine.file import engine_from_mapping, engine_from_toml, engine_schema
from witnessmark.engine.library import known_engines
from witnessmark.engine.schema import (
    AirFile,
    CylinderFile,
    EngineFile,
    PhaserFile,
    ReportingFile,
    RollerFile,
    SprocketFile,
    StageFile,
    ValveFile,
    WheelFile,
)
from witnessmark.engine.supply import KINDS
from witnessmark.engine.supply_names import CAM_PARTS, CYLINDER_PARTS
from witnessmark.engine.supply_schema import SupplyFile, SupplyNodeFile
from witnessmark.engine.written import SOURCE_KINDS
from witnessmark.errors import WitnessmarkError

ROOT = Path(__file__).resolve().parents[3]
PUBLISHED = ROOT / "docs" / "schema" / "engine.schema.json"
PAGE = (ROOT / "docs" / "engine-description.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def test_the_published_schema_is_current() -> None:
    """Renew it with: python -m tests.unit.engine.test_published."""
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == engine_schema()


# ---------------------------------------------------------------- the schema, held against descriptions

_KINDS: Mapping[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "integer": (int,),
    "number": (int, float),
    "null": (type(None),),
}


def fits(value: Any, schema: Mapping[str, Any], root: Mapping[str, Any]) -> bool:
    """Whether a value fits a schema: the words of JSON Schema that ours uses, and no others."""
    if "$ref" in schema:
        return fits(value, root["$defs"][schema["$ref"].rsplit("/", 1)[1]], root)
    if "anyOf" in schema and not any(fits(value, one, root) for one in schema["anyOf"]):
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    if "const" in schema and value != schema["const"]:
        return False
    if "type" in schema:
        kinds = _KINDS[schema["type"]]
        if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
            return False
    if isinstance(value, int | float) and not isinstance(value, bool):
        low, high = schema.get("minimum", float("-inf")), schema.get("maximum", float("inf"))
        return low <= value <= high and value > schema.get("exclusiveMinimum", float("-inf"))
    if isinstance(value, list):
        size = schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", 10_000)
        return size and all(fits(one, schema.get("items", {}), root) for one in value)
    if isinstance(value, dict):
        known = schema.get("properties", {})
        if schema.get("additionalProperties") is False and set(value) - set(known):
            return False
        missing = set(schema.get("required", ())) - set(value)
        return not missing and all(fits(one, known.get(key, {}), root) for key, one in value.items())
    return len(value) >= schema.get("minLength", 0) if isinstance(value, str) else True


@pytest.mark.parametrize("known", known_engines(), ids=lambda known: known.name)
def test_shipped_engines_fit_the_schema(known: Any) -> None:
    schema = engine_schema()
    assert fits(tomllib.loads(known.text()), schema, schema)


SPROCKET = {"shaft": "crank"}


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"cylinders": 0},
        {"cylinders": 4, "nmae": ""},
        {"cylinders": 4, "layout": "v"},
        {"cylinders": 4, "stage": [{"id": "p", "kind": "chain", "driver": SPROCKET, "driven": []}]},
        {"cylinders": 4, "wheel": [{"shaft": "crank", "reference_deg": 400}]},
        {"cylinders": 4, "wheel": [{"shaft": "crank", "reference_deg": {"between": [1]}}]},
        {"cylinders": 4, "reporting": {"sign": "early"}},
        {"cylinders": 4, "phaser": [{"cam": "intake", "fitted": 2}]},
        {"cylinders": 4, "banks": [1, 2]},
        {"cylinders": 4, "supply": {"node": []}},
        {"cylinders": 4, "supply": {"node": [{"id": "battery", "kind": "accumulator"}]}},
        {"cylinders": 4, "supply": {"node": [{"id": "battery", "kind": "battery", "ohm": -1}]}},
    ],
)
def test_schema_and_reader_refuse_the_same(given: dict[str, Any]) -> None:
    schema = engine_schema()
    assert not fits(given, schema, schema)
    with pytest.raises(WitnessmarkError):
        engine_from_mapping(given)


# ---------------------------------------------------------------- the page


def test_the_pages_examples_can_be_read() -> None:
    schema = engine_schema()
    assert len(EXAMPLES) >= 3
    for text in EXAMPLES:
        assert engine_from_toml(text).cylinders == 4
        assert fits(tomllib.loads(text), schema, schema)


def test_the_page_explains_every_key() -> None:
    models = (
        EngineFile, StageFile, SprocketFile, PhaserFile, WheelFile, ReportingFile, CylinderFile, ValveFile, AirFile,
        SupplyFile, SupplyNodeFile, RollerFile,
    )  # fmt: skip
    tables = {"stage", "phaser", "wheel", "reporting", "cylinder", "valves", "air", "supply"}
    keys = {field.alias or key for model in models for key, field in model.model_fields.items()} - tables
    assert all(
        f"[{name}]" in PAGE for name in ("reporting", "cylinder", "valves.intake", "valves.exhaust", "air", "supply")
    )
    assert not {key for key in keys if f"`{key}`" not in PAGE}
    assert all(f"[[{name}]]" in PAGE for name in ("stage", "phaser", "wheel"))


def test_the_page_names_every_kind_of_node_and_how_loads_are_called() -> None:
    assert not {kind for kind in KINDS if f"`{kind}`" not in PAGE}
    named = [f"{part}_1" for part in CYLINDER_PARTS] + [f"{part}_b1_intake" for part in CAM_PARTS]
    assert not [name for name in named if f"`{name}`" not in PAGE]


def test_the_page_names_every_kind_of_source() -> None:
    assert not {kind for kind in SOURCE_KINDS if kind not in PAGE} - {"stated", "unstated"}


def test_the_page_quotes_a_real_refusal() -> None:
    stage = {
        "id": "primary",
        "kind": "chain",
        "driver": {"shaft": "crank"},
        "driven": [{"shaft": "intake", "teeth": 35}],
    }
    with pytest.raises(WitnessmarkError) as caught:
        engine_from_mapping({"cylinders": 4, "stage": [stage]}, where="engine.toml")
    assert str(caught.value) in " ".join(PAGE.split())


def test_the_page_counts_the_shipped_engines() -> None:
    words = {8: "Eight", 9: "Nine", 10: "Ten", 11: "Eleven", 12: "Twelve"}
    shipped = sum(known.shipped for known in known_engines())
    assert f"{words[shipped]} invented engines" in PAGE


if __name__ == "__main__":
    text = json.dumps(engine_schema(), indent=2, ensure_ascii=False)
    PUBLISHED.write_text(text + "\n", encoding="utf-8")
