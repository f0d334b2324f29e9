"""The law of simulated vehicles and the sums of their reference, where no prediction is needed."""

from __future__ import annotations

import ast
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from benchmarks.vehicles import law, reference
from benchmarks.vehicles.generate import floor_of, spread_of
from witnessmark.catalogue.faultrows import SYSTEMS
from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.library import find_engine
from witnessmark.vocabulary import Condition, Place, Query

FILES = sorted((Path(__file__).resolve().parents[3] / "benchmarks" / "vehicles").glob("*.py"))
HISTORY = law.History(60_000, 5, False, None, None, None, None)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_nothing_of_infer_is_imported(file):
    tree = ast.parse(file.read_text(encoding="utf-8"))
    names = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    assert names
    assert not [name for name in names if name.startswith(("witnessmark.infer", "witnessmark.plan"))]


def test_types_of_vehicles_sum_to_one_with_eight_in_a_hundred_outside():
    odds = law.type_odds(744.0)
    assert sum(odds.values()) == pytest.approx(1.0)
    assert odds["outside"] == 0.08
    assert odds["single"] / odds["pair"] == pytest.approx(744.0 / 150.0)


def test_the_past_moves_priors_as_the_catalogue_says():
    worn = next(
        one for one in fault_instances(find_engine("made-up four"), SYSTEMS) if one.key == ("chain_worn", "primary")
    )
    young = law.prior_of(worn, HISTORY, law.FIRST)
    old = law.prior_of(worn, law.History(260_000, 5, True, None, None, None, None), law.FIRST)
    assert young == pytest.approx(14.0)  # the row's prior, one chain
    assert old / young == pytest.approx(3.0 * 3.0)  # k3, o3
    failed = law.prior_of(worn, law.History(60_000, 5, False, None, None, worn.row.repair.cures[0], None), law.FIRST)
    assert failed / young == pytest.approx(1.0 - worn.row.repair.success)


def test_the_second_set_is_off_by_three_at_most():
    rows = {one.row.id: one.row for one in fault_instances(find_engine("made-up four"), SYSTEMS)}.values()
    factors = np.array([law.SECOND.of_row(row) for row in rows])
    assert 1.0 / 3.0 <= factors.min() < 0.5
    assert 2.0 < factors.max() <= 3.0
    assert all(law.FIRST.of_row(row) == 1.0 for row in rows)


def test_permanent_faults_do_not_sleep():
    rows = {one.row.id: one.row for one in fault_instances(find_engine("made-up four"), SYSTEMS)}
    assert law.sleeps(rows["chain_worn"]) == 0.0
    assert law.sleeps(rows["position_sensor_fading"]) == pytest.approx(0.4)  # it only ever comes and goes
    assert law.sleeps(rows["plenum_leak"]) == pytest.approx(0.2)


def test_no_reading_is_better_than_its_instrument_resolves():
    count = Query("misfire_count", Place.of(cylinder=1), Condition("idle"))
    assert spread_of(count, np.array([0.0, 500.0])).tolist() == [1.0, 50.0]
    assert floor_of(count) == 0.0


def test_straight_lines_as_scipy_sums_them():
    """Scales and one misreading at most, every case by scipy's normal law."""
    rng = np.random.default_rng(5)
    q, d = 4, 7
    lines = rng.normal(size=(d, q))
    sd, bent = rng.uniform(0.5, 2.0, q), rng.uniform(0.0, 0.5, q)
    tolerance, mean = np.full((1, q), 0.3), rng.normal(size=(3, q))
    values = rng.normal(scale=3.0, size=q)
    frame = reference._Frame(
        bank=SimpleNamespace(), vehicle=SimpleNamespace(), law=law.SECOND, read=np.arange(q), void=np.zeros(0, int),
        values=values, sd=sd, answers=np.zeros(0, int), said=np.zeros(0, bool), lines=lines, own=bent**2,
    )  # fmt: skip
    found = frame.log_lines(mean, tolerance)
    for row in range(3):
        total = 0.0
        for scale, odds in zip(reference._COMMON, reference._COMMON_ODDS, strict=True):
            variance = lines.T @ lines + np.diag(bent**2 + (1.5 * scale * sd) ** 2 + 0.09)
            total += odds * multivariate_normal(mean[row], variance).pdf(values)
            for j in range(q):
                wide = variance.copy()
                wide[j, j] += (law.WIDE * sd[j]) ** 2
                total += odds * law.OUTLIER * multivariate_normal(mean[row], wide).pdf(values)
        assert found[row] == pytest.approx(np.log(total), abs=1e-9)


def test_the_likeliest_vehicle_is_the_mean_of_the_normal_law():
    """By hand, one reading and one difference: slope 2, spread of the reading 1 (1.2 of it): 2 · 3 / (4 + 1.44)."""
    frame = reference._Frame(
        bank=SimpleNamespace(variant=SimpleNamespace(count=1)), vehicle=SimpleNamespace(), law=law.FIRST,
        read=np.arange(1), void=np.zeros(0, int), values=np.array([3.0]), sd=np.ones(1), answers=np.zeros(0, int),
        said=np.zeros(0, bool), lines=np.array([[2.0]]), own=np.zeros(1),
    )  # fmt: skip
    assert frame.likeliest(np.zeros(1), np.zeros(1))[0] == pytest.approx(6.0 / 5.44)


@pytest.mark.parametrize("nodes", [5, 9])
def test_weights_between_nodes_give_a_straight_line_back(nodes):
    at = np.linspace(0.0, 1.0, 17)
    mix = reference._hat(nodes, at)
    np.testing.assert_allclose(mix.sum(axis=1), 1.0)
    np.testing.assert_allclose(mix @ np.linspace(2.0, 5.0, nodes), 2.0 + 3.0 * at)


def test_a_node_without_a_reading_takes_its_neighbours_along():
    mixed = reference._mixed(reference._hat(3, np.array([0.1, 0.5, 0.9])), np.array([[1.0], [2.0], [np.nan]]))
    np.testing.assert_allclose(mixed[:, 0], [1.2, 2.0, np.nan])
