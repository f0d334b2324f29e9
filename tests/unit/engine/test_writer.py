"""An engine written and read again is the same engine."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.unit.engine.test_file import WHOLE
from witnessmark.engine import written
from witnessmark.engine.drive import TimingDrive
from witnessmark.engine.file import engine_from_mapping, engine_from_toml
from witnessmark.engine.library import known_engines
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.supply_schema import OHM
from witnessmark.engine.types import Engine
from witnessmark.engine.writer import write_engine
from witnessmark.engine.written import Kind
from witnessmark.source import Source

words = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=20)


def numbers(kind: Kind) -> st.SearchStrategy[Any]:
    """Any number of a kind, as a description spells it."""
    if kind.whole:
        one: st.SearchStrategy[Any] = st.integers(int(kind.low), int(kind.high))
    else:
        one = st.floats(kind.low, kind.high)
    candidates = st.lists(one, min_size=1, max_size=4)
    shapes = st.one_of(
        st.builds(lambda v: {"value": v}, one),
        st.lists(one, min_size=2, max_size=2, unique=True).map(lambda ends: {"between": sorted(ends)}),
        candidates.flatmap(
            lambda them: st.lists(st.integers(1, 9), min_size=len(them), max_size=len(them)).map(
                lambda odds: {"among": them, "odds": odds}
            )
        ),
    )
    sourced = st.tuples(shapes, st.fixed_dictionaries({}, optional={"source": words, "note": words})).map(
        lambda pair: pair[0] | pair[1]
    )
    return one | sourced


def optional(**keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=keys)


def with_keys(fixed: dict[str, Any], **keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return optional(**keys).map(lambda drawn: fixed | drawn)


flags = st.booleans()
centres = st.lists(st.floats(-900, 900), min_size=2, max_size=2)


def sprockets(shaft: str) -> st.SearchStrategy[dict[str, Any]]:
    return with_keys(
        {"shaft": shaft}, tight_mm=numbers(written.LENGTH), pins=numbers(written.PINS), at_mm=centres, keyed=flags
    )


edges = optional(edge=st.sampled_from(["rising", "falling"])).flatmap(
    lambda edge: st.floats(0, 720).map(lambda a: edge | {"behind_index_deg": a})
)
stages = st.tuples(sprockets("exhaust"), sprockets("intake")).flatmap(
    lambda driven: with_keys(
        {"id": "p", "kind": "chain", "driver": {"shaft": "crank"}, "driven": list(driven), "pins_counting": "neither"},
        pitch_mm=numbers(written.PITCH),
        tensioner_rest_mm=numbers(written.LENGTH),
        rollers=st.lists(
            with_keys({"id": "r", "after": "exhaust"}, at_mm=centres, diameter_mm=numbers(written.CIRCLE), back=flags),
            max_size=1,
        ),
    )
)
supplies = st.tuples(optional(ohm=numbers(OHM), zone=words, harness=words), optional(name=words, source=words)).map(
    lambda drawn: (
        drawn[1] | {"node": [{"id": "b", "kind": "battery"}, {"id": "f", "kind": "fuse", "from": "b"} | drawn[0]]}
    )
)
descriptions = with_keys(
    {"cylinders": 4, "layout": "inline"},
    name=words.filter(bool),
    drive=words,
    source=words,
    supply=supplies,
    firing_order=st.permutations([1, 2, 3, 4]),
    stage=stages.map(lambda stage: [stage]),
    phaser=with_keys({"cam": "intake"}, range_deg=numbers(written.PHASER), fitted=st.floats(0, 1)).map(lambda p: [p]),
    wheel=with_keys(
        {"shaft": "intake"}, keyed=flags, sensor_names=st.lists(words, max_size=3), edges=st.lists(edges, max_size=3)
    ).map(lambda wheel: [wheel]),
    reporting=optional(learns=flags, correlation_limit_deg=numbers(written.LIMIT), a_is=st.just("intake")),
)


def close(a: object, b: object) -> bool:
    """Equal, but for odds, which are divided by their sum once more."""
    if isinstance(a, Number) and isinstance(b, Number):
        same = replace(a, weights=()) == replace(b, weights=())
        return same and a.weights == pytest.approx(b.weights)
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(map(close, a, b))
    if hasattr(a, "__dataclass_fields__") and type(a) is type(b):
        return all(close(getattr(a, name), getattr(b, name)) for name in a.__dataclass_fields__)
    return a == b


@given(descriptions)
@example(
    {
        "cylinders": 4,
        "supply": {"node": [{"id": "b", "kind": "battery"}, {"id": "f", "kind": "fuse", "from": "b", "zone": ""}]},
    }
)
def test_any_description_goes_there_and_back(given_: dict[str, Any]) -> None:
    engine = engine_from_mapping(given_)
    again = engine_from_toml(write_engine(engine))
    assert close(engine, again), write_engine(engine)


@pytest.mark.parametrize("known", known_engines(), ids=lambda known: known.name)
def test_every_shipped_engine_goes_there_and_back(known: Any) -> None:
    engine = known.load()
    assert engine_from_toml(write_engine(engine)) == engine


def test_every_section_goes_there_and_back() -> None:
    engine = engine_from_toml(WHOLE)
    assert close(engine_from_toml(write_engine(engine)), engine)


def test_the_least_engine() -> None:
    assert write_engine(Engine("four", 4)) == 'name = "four"\ncylinders = 4\n'


def test_banks_without_a_layout() -> None:
    assert engine_from_toml(write_engine(Engine("six", 6, banks=2))).banks == 2


def test_sources_that_look_like_others() -> None:
    for source in (Source("stated", "counted by another"), Source("guess", "maker"), Source("counted", "counted")):
        engine = Engine("e", 4, source=source)
        assert engine_from_toml(write_engine(engine)).source == source


def test_pins_counted_from_the_driver_are_written_from_mark_to_mark() -> None:
    """An engine made in code may know the counts from the driver only."""
    engine = next(known for known in known_engines() if known.file == "made-up-four").load()
    assert engine.drive is not None
    stage = engine.drive.stages[0]
    bare = replace(stage, driven=tuple(replace(sprocket, pins_before=ABSENT) for sprocket in stage.driven))
    engine = replace(engine, drive=TimingDrive((bare,), engine.drive.label, engine.drive.phasers))
    again = engine_from_toml(write_engine(engine))
    assert again.drive is not None
    assert again.drive.stages[0].pins == stage.pins
