"""Readings between their nodes, and evidence over a size where a reading ceases or bends between two of them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import RegularGridInterpolator

from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.candidates import Candidate
from witnessmark.engine.library import find_engine
from witnessmark.finding import Finding, Provenance
from witnessmark.infer import refinement
from witnessmark.infer.components import Rows, assemble, single_components
from witnessmark.infer.foretold import Foretold
from witnessmark.infer.integrate import integrate
from witnessmark.infer.layout import Grid, Layout, even_line, with_edges
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.refinement import Scale, refine
from witnessmark.infer.sorting import query_of, sort_findings
from witnessmark.infer.world import World
from witnessmark.predict import DriveModel, expect
from witnessmark.vocabulary import Condition, Place

DECIBAN = np.log(10.0) / 10.0
NODES = np.array([(1, 1), (1, 13), (7, 7)], dtype=np.intp)
ONE, TWO = 1, 2  # the ways with as many sizes
PLAIN = Scale(np.array([0.1]), np.zeros(1), np.zeros(1))


def laid_out(along, over):
    """One reading of a sound engine, along one size and over two, at even nodes."""
    line, side = even_line(13), even_line(7)
    sheet = over(*np.meshgrid(side, side, indexing="ij"))
    return Layout.even(np.concatenate([[0.0], along(line), sheet.ravel()])[:, None], NODES)


def refined(along, over):
    """The same with closer nodes, and at how many rows it was asked again."""
    even, asked = laid_out(along, over), []

    def ask(way, share):
        asked.append(len(way))
        return np.where(way == ONE, along(share[:, 1]), over(share[:, 0], share[:, 1]))[:, None]

    return Layout.refined(even, refine(even, PLAIN, ask)), sum(asked)


def read(layout, way, share):
    return layout.at(np.full(len(share), way, dtype=np.intp), share)[:, 0]


def flat(first, second=0.0):
    return 0.0 * (first + second)


def along_one(line):
    return np.stack([np.full(len(line), 0.3), line], axis=1)


def test_between_even_nodes_it_is_straight():
    """Against SciPy's interpolation on a grid and NumPy's along a line."""
    rng = np.random.default_rng(1)
    line, sheet = rng.standard_normal(13), rng.standard_normal((7, 7))
    layout = Layout.even(np.concatenate([[0.0], line, sheet.ravel()])[:, None], NODES)
    share = rng.random((200, 2))
    side = np.linspace(0.0, 1.0, 7)
    np.testing.assert_allclose(read(layout, ONE, share), np.interp(share[:, 1], np.linspace(0.0, 1.0, 13), line))
    np.testing.assert_allclose(read(layout, TWO, share), RegularGridInterpolator((side, side), sheet)(share))


def test_between_closer_nodes_too_and_each_reading_keeps_its_own():
    """Against SciPy's interpolation; two readings with different lines stand in one table."""
    rng = np.random.default_rng(2)
    grids = []
    for n, m in ((9, 12), (11, 8)):
        lines = [np.sort(np.concatenate([[0.0, 1.0], rng.random(k - 2)])) for k in (n, m)]
        grids.append(Grid((lines[0], lines[1]), rng.standard_normal((n, m))))
    even = Layout.even(rng.standard_normal((1 + 13 + 49, 3)), NODES)
    layout = Layout.refined(even, [{}, {TWO: grids[0]}, {TWO: grids[1]}])
    share = rng.random((300, 2))
    found = layout.at(np.full(300, TWO), share)
    np.testing.assert_allclose(found[:, 0], even.at(np.full(300, TWO), share)[:, 0], atol=1e-12)
    for j, grid in enumerate(grids, start=1):
        np.testing.assert_allclose(found[:, j], RegularGridInterpolator(grid.lines, grid.values)(share), atol=1e-9)
    np.testing.assert_array_equal(layout.at(np.full(300, ONE), share), even.at(np.full(300, ONE), share))


def test_a_sharp_bend_is_found_and_a_straight_reading_asked_nothing():
    def stop(share):
        return np.minimum(30.0 * share, 13.7)

    line = np.linspace(0.0, 1.0, 2_001)
    layout, asked = refined(stop, flat)
    assert asked == 7  # the one gap with the stop in it, in eight parts
    coarse = read(laid_out(stop, flat), ONE, along_one(line)) - stop(line)
    fine = read(layout, ONE, along_one(line)) - stop(line)
    assert np.abs(coarse).max() > 0.5
    assert np.abs(fine).max() < np.abs(coarse).max() / 8.0  # of a sharp bend the error goes with the width of its gap
    assert refined(lambda share: 30.0 * share, flat)[1] == 0


def test_of_two_sizes_lines_are_added_across_where_it_bends():
    def crossed(first, second):
        return 5.0 * np.clip(8.0 * (second - 0.4) + first, 0.0, 1.0)

    share = np.random.default_rng(3).random((4_000, 2))
    layout, asked = refined(flat, crossed)
    coarse = np.abs(read(laid_out(flat, crossed), TWO, share) - crossed(*share.T))
    fine = np.abs(read(layout, TWO, share) - crossed(*share.T))
    assert 0 < asked < 25 * 25 - 49
    assert fine.max() < coarse.max() / 3.0


@pytest.mark.parametrize("before", [True, False])
def test_where_a_reading_ceases_it_goes_on_to_the_middle_of_the_gap(before):
    def there(share):
        return np.where((share < 0.3) == before, 2.0 + share, np.nan)

    grid = with_edges(Grid((np.zeros(1), even_line(6)), there(even_line(6))[None, :]))
    layout = Layout.refined(laid_out(flat, flat), [{ONE: grid}])
    share = np.array([0.2, 0.29, 0.31, 0.4]) if before else np.array([0.4, 0.31, 0.29, 0.2])
    found = read(layout, ONE, along_one(share))
    np.testing.assert_allclose(found[:2], 2.0 + share[:2])
    assert np.isnan(found[2:]).all()


def test_over_two_sizes_an_edge_cuts_as_much_away_as_it_should():
    """A reading is there on one side of a slanting line: no more than a hundredth off the area under it, by hand."""

    def there(first, second):
        return np.where(second + 0.5 * first < 0.8, 1.0 + second, np.nan)

    layout, _ = refined(flat, there)
    middles = (np.arange(400) + 0.5) / 400
    share = np.stack([one.ravel() for one in np.meshgrid(middles, middles, indexing="ij")], axis=1)
    found = read(layout, TWO, share)
    assert np.mean(~np.isnan(found)) == pytest.approx(0.55, abs=0.01)  # ∫ (0.8 − x / 2) dx over 0..1
    kept = ~np.isnan(found)
    np.testing.assert_allclose(found[kept], 1.0 + share[kept, 1], atol=1e-6)


def test_even_nodes_alone_have_edges_too():
    """Two readings, one of which ceases; against the same by itself, and SciPy's interpolation for the other."""
    side = even_line(7)
    first, second = np.meshgrid(side, side, indexing="ij")
    ceases = np.where(first < 0.4, 1.0 + second, np.nan)
    both = np.stack([ceases, first * second], axis=2)
    line = np.stack([np.where(even_line(13) < 0.3, 1.0, np.nan), even_line(13)], axis=1)
    layout = Layout.even(np.concatenate([np.zeros((1, 2)), line, both.reshape(-1, 2)]), NODES).edged()
    share = np.random.default_rng(4).random((500, 2))
    along, over = (layout.at(np.full(500, way), share) for way in (ONE, TWO))
    np.testing.assert_allclose(along[:, 1], share[:, 1])
    np.testing.assert_array_equal(np.isnan(along[:, 0]), share[:, 1] > 3.5 / 12.0)  # between the nodes at 3/12 and 4/12
    np.testing.assert_allclose(over[:, 1], RegularGridInterpolator((side, side), both[:, :, 1])(share), atol=1e-7)
    np.testing.assert_array_equal(np.isnan(over[:, 0]), share[:, 0] > 2.5 / 6.0)


@pytest.mark.parametrize("edge", [0.43, 0.46, 0.489])
def test_a_size_beside_an_edge_is_not_lost(edge):
    """Evidence of a normal reading that ceases between two nodes, against direct quadrature (SciPy)."""
    sd, misread = 0.4, 1e-6

    def there(share):
        return np.where(share < edge, 20.0 * share**2, np.nan)

    def density(value):
        value = np.asarray(value)
        normal = np.exp(-0.5 * ((20.0 * 0.43**2 - value) / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi))
        return np.where(np.isnan(value), misread, normal)

    true = quad(lambda u: float(density(there(np.float64(u)))), 0.0, edge, epsabs=1e-12)[0] + misread * (1.0 - edge)
    line = np.linspace(0.0, 1.0, 40_001)
    ours = np.trapezoid(density(read(refined(there, flat)[0], ONE, along_one(line))), line)
    even = np.trapezoid(density(read(laid_out(there, flat), ONE, along_one(line))), line)
    assert abs(10.0 * np.log10(ours / true)) < 0.5
    assert abs(10.0 * np.log10(even / true)) > 2.0  # as it was: all of the gap counted as no reading


@pytest.fixture
def shorted(tmp_path, monkeypatch):
    """One engine with one fault alone: a joint whose resistance ends in an engine that does not run."""
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    model = DriveModel.of(find_engine("made-up four"))
    one = tuple(i for i in fault_instances(model.engine) if i.key == ("contact_resistance", "c12.2"))
    return lambda: Foretold(model, cast(Foretold, SimpleNamespace(instances=one, _columns={}, _kept=None)))


def test_evidence_of_a_whole_engine_near_where_it_stops(shorted):
    """Sensor lean just before the engine no longer runs: product against a dense rule on predictions asked directly."""
    place, condition = Place.of(sensor="o2_front_1"), Condition("idle")
    finding = Finding("lambda_reported", place, 1.24, 0.01, condition, Provenance("recording"), id="f1")
    foretold = shorted()
    model = foretold.model
    world = World(Candidate(model.engine, 1.0, ()), sort_findings(foretold, [finding]), foretold)
    [component] = single_components(model, foretold.instances[0], 0.0, [(1.0, ())])
    ours = float(log_sum(integrate(world, [component], [(0,)])[0].log_weight))
    share = (np.arange(3_000) + 0.5) / 3_000
    state, _, rows = assemble([Rows(component, share[:, None], np.zeros(3_000, dtype=np.intp))])
    means = expect(model, world.queries, state, rows=rows).mean
    gone = np.isnan(means[:, 0])
    assert gone[-1]
    assert not gone.all()
    assert 0.1 < np.flatnonzero(gone)[0] / 3_000 * 12.0 % 1.0 < 0.9  # between two even nodes
    true = float(log_sum(world.evidence.log_density(world.warp.there(means)))) - np.log(3_000)
    assert abs(ours - true) < 0.5 * DECIBAN


def test_what_was_laid_closer_is_read_back_from_what_is_kept(shorted):
    """Common practice, no source: a cache gives back what was put in."""
    made, again = shorted(), shorted()
    query = query_of(Finding("fuel_trim", Place.of(bank=1), 0.0, 1.0, Condition("idle")))
    [column], [kept] = made.columns([query]), again.columns([query])
    assert column.closer
    assert column.closer.keys() == kept.closer.keys()
    for way, grid in column.closer.items():
        np.testing.assert_array_equal(grid.values, kept.closer[way].values)
        for own, other in zip(grid.lines, kept.closer[way].lines, strict=True):
            np.testing.assert_array_equal(own, other)


def test_what_is_laid_closer_does_not_hang_on_what_is_asked_beside_it(shorted, tmp_path, monkeypatch):
    queries = [
        query_of(Finding("fuel_trim", Place.of(bank=1), 0.0, 1.0, Condition("idle"))),
        query_of(Finding("lambda_reported", Place.of(sensor="o2_front_1"), 1.0, 0.1, Condition("idle"))),
    ]
    both = shorted().columns(queries)
    for query, beside in zip(queries, both, strict=True):
        monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / query.quantity))
        [alone] = shorted().columns([query])
        assert alone.closer.keys() == beside.closer.keys()
        for way, grid in alone.closer.items():
            np.testing.assert_array_equal(grid.lines[1], beside.closer[way].lines[1])
            np.testing.assert_allclose(grid.values, beside.closer[way].values, rtol=1e-6)


def test_parts_of_one_leave_it_as_it_is(monkeypatch):
    monkeypatch.setattr(refinement, "_PARTS", (1, 1))
    assert refined(lambda share: np.minimum(share, 0.31), flat)[1] == 0
