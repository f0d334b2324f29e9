"""Which faults tests can see: made-up ones that must be named, and every row of the catalogue looked at as it stands.

Distances by hand follow from the normal law; which faults read alike is common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from tests.architecture.sources import ROOT
from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow, catalogue
from witnessmark.catalogue.faults import instances_of
from witnessmark.catalogue.lint import row_digest
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.ruler import Ruler, ruler_of
from witnessmark.infer.visible import SEEN_AT, courses_of, hidden_share, sights_of
from witnessmark.predict import DriveModel

MODEL = DriveModel.of(find_engine("made-up four"))
TESTS = ("trims_at_speeds", "air_readings", "smoke", "cooling_pressure", "scope_charging", "learnt_read")
RESULTS = ROOT / "benchmarks" / "results" / "catalogue_lint.md"
_ROW = re.compile(r"^\| `(?P<id>\w+)` \| (?P<place>[\w, ]+) \| (?P<digest>[0-9a-f]{8}) \|", re.MULTILINE)


@pytest.fixture(scope="module")
def ruler() -> Ruler:
    tests = {test.id: test.queries(MODEL.engine) for test in all_procedures().all if test.id in TESTS}
    return ruler_of(MODEL, tests)


def row(name: str, **changed: object) -> FaultRow:
    return replace(catalogue(SYSTEMS).row(name), **changed)


def looked(ruler: Ruler, *rows: FaultRow):
    """Courses, sights and hidden shares of some rows at every place."""
    instances = [one for each in rows for one in instances_of(MODEL.engine, each)]
    state, count, courses = courses_of(instances, along=5)
    read = ruler.readings(state, count)
    sights = sights_of(ruler, read, courses)
    hidden = hidden_share(ruler.whitened(read), courses, [sight.distance >= SEEN_AT for sight in sights])
    return courses, sights, hidden


@pytest.mark.parametrize(
    "edit",
    [
        {"variable": "leak_area", "op": "add", "low": 0.001, "high": 0.05},
        {"variable": "leak_area", "op": "multiply", "low": 1.0, "high": 2.0},  # twice nothing
    ],
)
def test_a_made_up_fault_that_nothing_shows_is_named(ruler, edit):
    _, sights, _ = looked(ruler, row("plenum_leak", id="made_up", edits=(edit,)), row("plenum_leak"))
    assert [sight.seen for sight in sights] == [False, True]


def test_two_names_for_one_edit_are_parted_by_nothing_and_two_ways_to_be_lean_are(ruler):
    lean = replace(row("maf_dirty"), id="made_up")
    _, sights, hidden = looked(ruler, row("maf_dirty"), lean, row("plenum_leak"))
    assert all(sight.seen for sight in sights)
    assert hidden[0, 1] == hidden[1, 0] == 1.0
    assert hidden[0, 2] < 1.0
    assert hidden[2, 0] < 1.0


def test_a_lesser_range_hides_in_a_greater_one_and_not_the_other_way(ruler):
    part = row("plenum_leak", id="made_up", edits=({"variable": "leak_area", "op": "add", "low": 4, "high": 8},))
    _, _, hidden = looked(ruler, part, row("plenum_leak"))
    assert hidden[0, 1] == 1.0
    assert 0.0 < hidden[1, 0] < 1.0


def test_new_parts_are_seen(ruler):
    courses, sights, _ = looked(ruler, row("coolant_leaking"), row("charging_regulator_wrong"))
    assert [sight.test for sight in sights] == ["cooling_pressure", "scope_charging"]
    assert all(sight.seen for sight in sights)
    assert [course.instance.row.id for course in courses] == ["coolant_leaking", "charging_regulator_wrong"]


def test_distances_are_in_spreads_by_hand(ruler):
    """One reading alone: how far it moves over its own spread."""
    j = next(j for j, query in enumerate(ruler.queries) if query.quantity == "coolant_drop")
    read = ruler.readings(HEALTHY, 1)
    np.testing.assert_allclose(ruler.whitened(read), 0.0, atol=1e-9)
    moved = read.copy()
    moved[0, j] += 4.0 * ruler.own[j]
    alone = ruler.whitened(moved, np.array([j]))
    assert np.sqrt(np.square(alone).sum()) == pytest.approx(4.0)


def test_sound_vehicles_lie_within_the_spread_of_sound_vehicles(ruler):
    """Drawn by the whitening's own covariance they come out at unit spread (the inverse, by numpy)."""
    rng = np.random.default_rng(5)
    numbers = np.flatnonzero(~ruler.yes & (ruler.relative == 0.0))
    drawn = np.tile(ruler.healthy, (4000, 1))
    drawn[:, numbers] += rng.multivariate_normal(
        np.zeros(len(numbers)), ruler.spread[np.ix_(numbers, numbers)], 4000, method="cholesky"
    )
    white = ruler.whitened(drawn, numbers)[:, : len(numbers)]
    np.testing.assert_allclose(white.std(axis=0), 1.0, atol=0.06)


def test_what_cannot_be_read_any_more_is_seen(ruler):
    """An engine that is not there to be read differs from one that reads as usual."""
    read = ruler.readings(State({("module_silent", "ecu"): 1.0}), 1)
    assert np.isnan(read).any()
    assert np.sqrt(np.square(ruler.whitened(read)).sum()) > SEEN_AT


def test_every_row_of_the_catalogue_was_looked_at_as_it_stands():
    """The long run's result is kept; whoever adds or changes a row runs it again: ./dev bench catalogue_lint."""
    kept = {(m["id"], m["place"]): m["digest"] for m in _ROW.finditer(RESULTS.read_text(encoding="utf-8"))}
    assert len(kept) > 100
    now = {(one.id, one.place): row_digest(one) for one in catalogue(SYSTEMS).rows}
    assert {key for key, digest in now.items() if kept.get(key) != digest} == set()
    assert set(kept) == set(now)
