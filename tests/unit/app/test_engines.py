"""Which engine is meant, and whether it can be."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from witnessmark.app.engines import checked, engine_meant, engine_named, engine_words
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine
from witnessmark.errors import EngineDefinitionError, InputError


def test_by_cylinders_alone_everything_else_stays_open() -> None:
    engine = engine_meant(None, 4)
    assert (engine.cylinders, engine.layout, engine.banks, engine.drive, engine.cams) == (4, None, None, None, ())
    assert engine_words(engine) == "in-line or other four, drive not described"


def test_by_name_by_file_and_both(tmp_path: Path) -> None:
    assert engine_meant("Made-Up Four", 4).name == "made-up four"
    (tmp_path / "own.toml").write_text('name = "own"\ncylinders = 3\n', encoding="utf-8")
    assert engine_meant(str(tmp_path / "own.toml"), None).name == "own"
    assert engine_named("own.toml", folder=tmp_path).name == "own"
    with pytest.raises(InputError, match="4 cylinders, but the description of own has 3"):
        engine_meant(str(tmp_path / "own.toml"), 4)


@pytest.mark.parametrize("count", [-1, 0, 17])
def test_no_such_engine(count: int) -> None:
    with pytest.raises(InputError, match=r"no such engine. Expected 1 to 16."):
        engine_meant(None, count)


def test_a_chain_that_does_not_fit_its_sprockets_is_refused_with_its_place() -> None:
    engine = engine_named("made-up four")
    assert engine.drive is not None
    stage = replace(engine.drive.stages[0], links=Number.exactly(100))
    short = replace(engine, drive=replace(engine.drive, stages=(stage,)))
    with pytest.raises(EngineDefinitionError, match=r"made-up four, stage.primary.links: 100 links are described"):
        checked(short)
    assert checked(engine) is engine


def test_engines_in_words() -> None:
    assert engine_words(engine_named("made-up four")).startswith("made-up four, in-line, 4 cylinders, ")
    assert engine_words(Engine("own", 3)) == "own, 3 cylinders, drive not described"
