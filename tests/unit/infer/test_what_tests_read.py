"""What tests read along ways of faults: the predictions themselves, worked out once and kept."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.types import Engine
from witnessmark.infer import testreadings, testtable
from witnessmark.infer.components import Rows
from witnessmark.infer.foretold import Foretold, is_cheap, nodes_of
from witnessmark.infer.sound import differences, one_at_a_time, rows_of
from witnessmark.infer.testtable import TestTable
from witnessmark.predict import DriveModel, expect, nuisances, tolerance_of
from witnessmark.predict.graded import is_graded
from witnessmark.vocabulary import Query

# On these the operating point is not needed: quick to work out.
QUANTITIES = ("branch_drop", "fuel_pressure", "winding_ohm", "battery_ohm", "insulation_ohm")


@pytest.fixture
def foretold(monkeypatch, tmp_path):
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    return Foretold(DriveModel.of(candidate_engines(Engine("bare", 4), seen=set(), signed=False)[0].engine))


def some(foretold: Foretold) -> list[Query]:
    return [
        query
        for query in foretold.tests.every
        if query in foretold.tests.all
        and query.quantity in QUANTITIES
        and query.condition.during is None
        and query.condition.state in (None, "off", "key_on")
        and not is_cheap(query)
        and not is_graded(query)
    ][:12]


def ways(foretold: Foretold) -> list[Rows]:
    wanted = {"contact_resistance", "regulator_off", "lift_pump_weak"}
    return [nodes_of(way) for one in foretold.instances if one.row.id in wanted for way in one.kinds][:6]


def test_at_the_nodes_it_is_the_prediction(foretold):
    queries, rows = some(foretold), ways(foretold)
    assert len(queries) > 5
    sound, found = TestTable(foretold).read(queries, rows)
    np.testing.assert_allclose(sound, expect(foretold.model, queries, testtable.assemble([])[0]).mean[0], rtol=1e-6)
    state, _, n = testtable.assemble(rows)
    np.testing.assert_allclose(found, expect(foretold.model, queries, state, rows=n).mean, rtol=1e-6, atol=1e-6)
    assert np.ptp(found, axis=0).any()


def test_what_is_kept_is_not_worked_out_again(foretold, monkeypatch):
    queries, rows = some(foretold), ways(foretold)
    first = TestTable(foretold).read(queries[:4], rows)
    TestTable(foretold).read(queries, rows[:2])  # more readings of fewer ways go beside them
    done: list[int] = []
    as_read = testtable.as_read

    def counted(batch, asked):
        done.append(len(asked))
        return as_read(batch, asked)

    monkeypatch.setattr(testtable, "as_read", counted)
    again = TestTable(foretold).read(queries[:4], rows)
    for one, other in zip(first, again, strict=True):
        np.testing.assert_array_equal(one, other)
    assert done == []
    TestTable(foretold).read(queries, rows)
    assert done == [len(queries) - 4]


def test_of_another_engine_nothing_is_taken(foretold):
    TestTable(foretold).read(some(foretold), ways(foretold))
    other = Foretold(DriveModel.of(candidate_engines(Engine("bare", 3), seen=set(), signed=False)[0].engine))
    assert TestTable(other)._values == {}


def test_how_sound_engines_read_and_differ(foretold, monkeypatch):
    queries = some(foretold)
    sound = foretold.tests.sound(queries)
    np.testing.assert_allclose(sound.mean, expect(foretold.model, queries, testtable.assemble([])[0]).mean[0])
    assert sound.absolute.tolist() == [tolerance_of(foretold.model, query).absolute for query in queries]
    assert set(sound.moved) <= set(foretold.tests.moved)
    row = {nuisance: i for i, nuisance in enumerate(sound.moved)}
    for j, query in enumerate(queries):
        own = nuisances(foretold.model, [query])
        alone = expect(foretold.model, [query], *one_at_a_time(own, rows_of(own)), rows=rows_of(own)).mean[:, 0]
        found = [sound.slope[row[nuisance], j] if nuisance in row else 0.0 for nuisance in own]
        np.testing.assert_allclose(found, differences(alone)[0], atol=1e-12)
    assert (sound.slope**2).sum() > 0.0


def test_what_is_told_beside_the_ways_is_the_same(foretold, monkeypatch, tmp_path):
    queries, rows = some(foretold), ways(foretold)
    alone = foretold.tests.sound(queries)
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / "other"))
    beside = Foretold(foretold.model)
    TestTable(beside).read(queries, rows)
    assert beside.tests.is_known(queries)
    found = beside.tests.sound(queries)
    assert found.moved == alone.moved
    for name in ("mean", "absolute", "share", "slope", "bend"):
        np.testing.assert_array_equal(getattr(found, name), getattr(alone, name))


def test_how_sound_engines_read_is_kept(foretold, monkeypatch):
    queries = some(foretold)
    sound = foretold.tests.sound(queries)

    def never(*_):
        raise AssertionError("worked out again")

    monkeypatch.setattr(testreadings, "as_read", never)
    monkeypatch.setattr(testreadings, "why_not", never)
    again = testreadings.TestReadings(foretold.model)
    assert again.askable == foretold.tests.askable
    kept = again.sound(queries)
    np.testing.assert_array_equal(kept.slope, sound.slope)
    np.testing.assert_array_equal(kept.bend, sound.bend)
    assert kept.moved == sound.moved


def test_a_kept_column_is_the_column_that_was_made(foretold):
    """Of readings that share what sound engines differ in, each in an order of its own."""
    queries = some(foretold)
    made = dict(zip(queries, foretold.columns(queries), strict=True))
    orders = {nuisances(foretold.model, [query]) for query in queries}
    assert len(orders) > 2
    again = Foretold(foretold.model)
    for query, column in zip(reversed(queries), again.columns(queries[::-1]), strict=True):
        assert column.healthy == made[query].healthy
        assert column.moved == made[query].moved
        np.testing.assert_array_equal(column.slope, made[query].slope)
        np.testing.assert_array_equal(column.bend, made[query].bend)
        np.testing.assert_array_equal(column.nodes, made[query].nodes)
    for query in queries:  # each slope is that of its own difference, whatever was asked beside it
        moved = nuisances(foretold.model, [query])
        shares = expect(foretold.model, [query], *one_at_a_time(moved, rows_of(moved)), rows=rows_of(moved)).mean[:, 0]
        np.testing.assert_allclose((made[query].slope, made[query].bend), differences(shares), atol=1e-12)
