"""What is laid out beforehand: the engines that first readings are weighed on, the numbers that demand would make."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from witnessmark.case.typed import parse_reading
from witnessmark.engine.types import Engine
from witnessmark.infer import prepared
from witnessmark.infer.foretold import Foretold, GradeRead, nodes_of
from witnessmark.infer.graded import error_of
from witnessmark.infer.history import History
from witnessmark.infer.keeping import digest_of
from witnessmark.infer.posterior import posterior
from witnessmark.infer.prepared import engines_of, lay_out, typed_readings
from witnessmark.infer.sorting import query_of
from witnessmark.infer.testtable import TestTable
from witnessmark.predict import DriveModel
from witnessmark.vocabulary import Condition, Place, Query

FOUR = Engine("a four", 4)
TRIM = Query("fuel_trim", Place.of(bank=1), Condition(state="idle"))
READ = Query("manifold_vacuum", Place(), Condition(state="idle"))


@pytest.mark.parametrize("line", ["oil_pressure state=idle 45", "manifold_vacuum state=idle 45"])
def test_engines_laid_out_are_those_that_a_reading_is_weighed_on(line: str) -> None:
    """Through the posterior itself, which takes another way to its engines."""
    post = posterior(FOUR, [parse_reading(line)], History())
    assert {repr(world.model.engine) for world in post.worlds} <= {repr(one) for one in engines_of(FOUR)}


def test_a_reading_is_laid_out_as_it_is_typed() -> None:
    """A trim is typed without the warmth that the test asks for, and raised speed as 2,500 rpm (common practice, no
    source)."""
    every = typed_readings(Foretold(DriveModel.of(engines_of(FOUR)[0])))
    assert TRIM in every
    assert Query("fuel_trim", Place.of(bank=1), Condition(state="raised", speed_rpm=2500.0)) in every
    assert not [query for query in every if query.condition.during is not None]


def test_what_is_laid_out_is_what_would_be_worked_out_on_demand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Batches of other company, in another cache: same columns, same readings along a way, to a millionth."""
    engine = engines_of(FOUR)[-1]
    few = [0, 1, 2, 3]
    monkeypatch.setattr(prepared, "known_codes", lambda: {"P0171": None})
    monkeypatch.setattr(prepared, "_of_tests", lambda foretold: [READ])
    monkeypatch.setattr(prepared, "typed_readings", lambda foretold: (TRIM, READ))
    monkeypatch.setattr(prepared, "_complaints", lambda: iter(()))
    monkeypatch.setattr(prepared, "_some_ways", lambda foretold: iter([(few[1:], 1.0)]))
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / "before"))
    shares: list[float] = []
    lay_out(engine, shares.append)
    assert shares[-1] == 1.0
    before = Foretold(DriveModel.of(engine))
    assert before.has(TRIM)
    laid = before.columns([TRIM])[0]
    along = TestTable(before).read([READ], [nodes_of(before.ways[way - 1]) for way in few[1:]])

    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / "on demand"))
    after = Foretold(DriveModel.of(engine))
    assert not after.has(TRIM)
    np.testing.assert_allclose(laid.nodes, after.columns([TRIM])[0].nodes, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(laid.slope, after.columns([TRIM])[0].slope, rtol=1e-6, atol=1e-9)
    demanded = TestTable(after)
    for k, way in enumerate(few[1:]):
        rows = nodes_of(after.ways[way - 1])
        start = sum(len(nodes_of(before.ways[other - 1]).choice) for other in few[1 : k + 1])
        sound, found = demanded.read([READ], [rows])
        np.testing.assert_allclose(along[0], sound, rtol=1e-6)
        np.testing.assert_allclose(along[1][start : start + len(found)], found, rtol=1e-6)


def test_complaints_are_laid_out_as_they_are_weighed() -> None:
    """Through the sorting of a typed reading, which knows nothing of what was laid out."""
    lines = ("runs_rough state=idle 2", "runs_rough state=cruise 0", "lacks_power state=full_load 3")
    for finding in map(parse_reading, lines):
        read = GradeRead(query_of(finding), round(finding.value), error_of(finding))
        assert read in set(prepared._complaints())


def test_in_line_or_not_said_the_predictions_are_the_same_ones() -> None:
    """Banks say it: nothing that predicts, weighs or plans looks at the word."""
    one, other = (engines_of(Engine("a four", 4, layout=layout)) for layout in (None, "inline"))
    assert [digest_of(engine) for engine in one] == [digest_of(engine) for engine in other]
    home = Path(prepared.__file__).parents[1]
    files = [file for floor in ("physics", "predict", "catalogue", "infer") for file in (home / floor).rglob("*.py")]
    looked = [node for file in files for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))]
    assert not [node for node in looked if isinstance(node, ast.Attribute) and node.attr == "layout"]


def test_laid_out_again_nothing_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = engines_of(FOUR)[-1]
    monkeypatch.setattr(prepared, "known_codes", dict)
    monkeypatch.setattr(prepared, "_of_tests", lambda foretold: [READ])
    monkeypatch.setattr(prepared, "typed_readings", lambda foretold: (READ,))
    monkeypatch.setattr(prepared, "_complaints", lambda: iter(()))
    monkeypatch.setattr(prepared, "_some_ways", lambda foretold: iter([([1], 1.0)]))
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    lay_out(engine)

    def refuse(*_: object) -> None:
        raise AssertionError("made anew")

    monkeypatch.setattr(Foretold, "_laid_out", refuse)
    monkeypatch.setattr(TestTable, "_batch", refuse)
    lay_out(engine)
