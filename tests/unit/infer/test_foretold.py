"""Predictions laid out and read back from what is kept: the same, whatever they were asked together with."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.library import find_engine
from witnessmark.infer.foretold import Foretold, is_cheap
from witnessmark.infer.sound import differences, one_at_a_time, rows_of
from witnessmark.predict import DriveModel, expect, why_not
from witnessmark.vocabulary import Condition, Place, Query


@pytest.mark.parametrize("name", ["made-up three with belt"])
def test_kept_slopes_belong_to_the_same_differences_when_read_back(name, tmp_path, monkeypatch):
    """Common practice, no source: a cache gives back what was put in. Readings asked together share differences."""
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    model = DriveModel.of(find_engine(name))
    asked = [
        query
        for procedure in all_procedures().all
        for query in procedure.queries(model.engine)
        if procedure.id in ("air_readings", "trims_at_speeds", "vacuum_gauge")
        and query.condition.state == "idle"
        and why_not(model, query) is None
        and not is_cheap(query)
    ]
    assert len(asked) > 3
    made = Foretold(model).columns(asked)
    read = Foretold(model).columns(asked)
    for query, first, again in zip(asked, made, read, strict=True):
        assert [(n.variable, n.place) for n in first.moved] == [(n.variable, n.place) for n in again.moved], query
        np.testing.assert_array_equal(first.slope, again.slope)
        np.testing.assert_array_equal(first.bend, again.bend)
        alone = asked_alone(model, query, again)
        np.testing.assert_allclose((again.slope, again.bend), alone, rtol=1e-6, atol=1e-9)


def asked_alone(model, query, column):
    """What one spread of each difference does, straight and bent, asked of the model itself for this reading only."""
    rows = rows_of(column.moved)
    state, numbers = one_at_a_time(column.moved, rows)
    return differences(expect(model, [query], state, numbers, rows=rows).mean[:, 0])


def test_an_intervention_on_what_nothing_may_be_wrong_with_changes_no_reading(tmp_path, monkeypatch):
    """Parts of which the list knows no fault change places: every way reads on as it did."""
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    foretold = Foretold(DriveModel.of(find_engine("made-up three with belt")))
    plain = Query("manifold_vacuum", Place(), Condition("idle"))
    during = Query("manifold_vacuum", Place(), Condition("idle", during="swap_coil:1-2"))
    monkeypatch.setattr(foretold, "_touched", lambda during, where: np.zeros(foretold.count, dtype=bool))
    bare, changed = foretold.columns([plain, during])
    np.testing.assert_array_equal(bare.nodes, changed.nodes)
