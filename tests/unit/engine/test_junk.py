"""Whatever stands in a description, the answer is an engine or one clear line; never a crash."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.engine.test_file import WHOLE
from witnessmark.engine.check import check_engine
from witnessmark.engine.file import engine_from_mapping, engine_from_toml
from witnessmark.engine.library import known_engines
from witnessmark.errors import WitnessmarkError

TEXTS = [WHOLE, *(known.text() for known in known_engines())]
GIVEN = [tomllib.loads(text) for text in TEXTS]

plain = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-1000, 10**12),
    st.floats(),
    st.sampled_from(["crank", "intake", "b2.exhaust", "b0.intake", "b1.", "", "60-2", "chain", "diesel", "single"]),
    st.text(max_size=8),
)
junk = st.recursive(
    plain,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


def spots(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place of nested tables and lists."""
    inside = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path, *(spot for key, value in inside for spot in spots(value, (*path, key)))]


def answer(call: Any, given_: Any) -> None:
    try:
        engine = call(given_)
    except WitnessmarkError as error:
        line = str(error)
        assert line.strip()
        assert "\n" not in line
        assert len(line) < 700
    else:
        check_engine(engine)


@settings(max_examples=300)
@given(st.sampled_from(GIVEN), st.data())
def test_descriptions_with_junk_put_in_or_something_left_out(base: dict[str, Any], data: st.DataObject) -> None:
    description = copy.deepcopy(base)
    for _ in range(data.draw(st.integers(1, 3))):
        *way, last = data.draw(st.sampled_from(spots(description)[1:] or [("cylinders",)]))
        node: Any = description
        for key in way:
            node = node[key]
        if data.draw(st.booleans()):
            node[last] = data.draw(junk)
        elif isinstance(node, dict):
            node.pop(last, None)
        else:
            del node[last]
    answer(engine_from_mapping, description)


@settings(max_examples=150)
@given(st.sampled_from(TEXTS), st.data())
def test_texts_cut_and_spoilt(text: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(text) - 1))
    spoilt = text[:at] + data.draw(st.sampled_from(["", '"', "[", "]", "=", ",", "\n", "\x00", "9", "-", "é", "{"]))
    answer(engine_from_toml, spoilt + (text[at + data.draw(st.integers(0, 3)) :] if data.draw(st.booleans()) else ""))


@given(
    st.dictionaries(st.sampled_from(["cylinders", "stage", "wheel", "cams", "banks", "reporting"]), junk, max_size=4)
)
def test_tables_of_nothing_but_junk(description: dict[str, Any]) -> None:
    answer(engine_from_mapping, description)


@pytest.mark.parametrize(
    "text",
    [
        "cylinders = " + "9" * 5000,
        "cylinders = 0x" + "f" * 6000,
        "cylinders = 4\na = " + "[" * 20_000,
        "cylinders = 4\nbanks = 1000000000000\ncams = ['intake']",
        "cylinders = 4\ncams = ['b" + "9" * 5000 + ".intake']",
        "cylinders = 4\ncams = ['b01.intake']",
        "cylinders = 4\n" + "x" * 5000 + " = 1",
        "cylinders = 4\n[[wheel]]\nshaft = 'crank'\ngaps_deg = [nan, 360.0]",
        "cylinders = 4\n[[wheel]]\nshaft = 'crank'\nreference_deg = 1" + "0" * 400,
        "cylinders = 4\n[[stage]]\nid = '" + "y" * 199 + "'\nkind = 'chain'\ndriver = 3\ndriven = []",
    ],
    ids=lambda text: text[:40],
)
def test_hostile_files_are_refused_in_one_line(text: str) -> None:
    """Numbers without end, nesting without end, a million million banks: refused before they cost time or memory."""
    with pytest.raises(WitnessmarkError) as caught:
        engine_from_toml(text, where="engine.toml")
    assert len(str(caught.value)) < 300
