"""The law of simulated vehicles and the sums of their reference, where no prediction is needed."""

from __future__ import annotations

import ast
import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from benchmarks import vehicle_reference, vehicle_scores
from benchmarks.simulated_vehicles import joined, of_pieces, summary
from benchmarks.vehicles import bank, frame, law, pairs, reference, shown
from benchmarks.vehicles.asked import Asked
from benchmarks.vehicles.gauges import Gauges
from benchmarks.vehicles.generate import Vehicle
from witnessmark.catalogue.faultrows import SYSTEMS
from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.library import find_engine
from witnessmark.vocabulary import Condition, Place, Query

FILES = [*sorted(Path(law.__file__).parent.glob("*.py")), Path(vehicle_reference.__file__)]
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


def test_a_code_is_seldom_made_up_and_an_answer_is_wrong_either_way():
    assert law.noted(np.array([0.0, 1.0])).tolist() == pytest.approx([0.02, 0.98])
    assert law.noted(np.array([0.0, 1.0]), code=True).tolist() == pytest.approx([0.0004, 0.98])


def test_permanent_faults_do_not_sleep():
    rows = {one.row.id: one.row for one in fault_instances(find_engine("made-up four"), SYSTEMS)}
    assert law.sleeps(rows["chain_worn"]) == 0.0
    assert law.sleeps(rows["position_sensor_fading"]) == pytest.approx(0.4)  # it only ever comes and goes
    assert law.sleeps(rows["plenum_leak"]) == pytest.approx(0.2)


def test_no_reading_is_better_than_its_instrument_resolves():
    count = Gauges.of([Query("misfire_count", Place.of(cylinder=1), Condition("idle"))], np.zeros(1))
    assert count.spread(np.array([[0.0], [500.0]])).ravel().tolist() == [1.0, 50.0]
    assert count.ended(np.array([-3.0])).tolist() == [0.0]


def test_a_gauge_is_not_good_near_zero():
    """A class of 4 % at 1,000 kPa is 40 kPa; a misread 6 kPa is told as 6 ± 20, half of it, not as 6 ± 0.24."""
    query = Query("compression_peak", Place.of(cylinder=1), Condition("cranking"))
    gauge = Gauges.of([query], np.array([1000.0]))
    assert query.kind.relative
    assert gauge.spread(np.array([6.0]))[0] == pytest.approx(500.0 * query.kind.sd)
    assert gauge.spread(np.array([1200.0]))[0] == pytest.approx(1200.0 * query.kind.sd)


def test_a_count_of_nothing_has_the_chance_of_nothing_or_less():
    """By scipy: of a count about 1,000 with a spread of 500 and its own noise, nothing is read in 2 or 3 of 100."""
    one = framed(values=np.zeros(1), lines=np.zeros((1, 1)), gauges=simple(1, counts=True))
    found = one.log_lines(np.array([[1000.0]]), np.array([[500.0]]))[0]
    parts = [norm(1000.0, np.hypot(500.0, s)).cdf(0.0) for s in law.SCALES]
    assert found == pytest.approx(np.log(law.SCALE_ODDS @ parts), abs=0.05)


def test_what_was_not_to_be_had_tells_against_an_engine_that_shows_it():
    """By hand: a procedure of two readings, one had. Both there: 0.99 · 0.01; only the one that was had: 0.99²."""
    asked = Asked(tuple("ab"), (), (), {"misfires_read": (0, 1)})
    known = SimpleNamespace(variant=SimpleNamespace(asked=asked))
    one = framed(values=np.zeros(1), lines=np.zeros((1, 1)), bank=known)
    logs = one._log_there(np.array([[True, True], [True, False]]))
    assert logs[1] - logs[0] == pytest.approx(np.log(99.0))


def test_a_smaller_world_has_fewer_sorts_and_nothing_that_sleeps():
    odds = law.type_odds(744.0, law.SMALLEST)
    assert odds == {"single": 1.0, "pair": 0.0, "nothing_wrong": 0.0, "elsewhere": 0.0, "outside": 0.0}
    rows = {one.row.id: one.row for one in fault_instances(find_engine("made-up four"), SYSTEMS)}
    assert law.sleeps(rows["plenum_leak"], law.SMALLEST) == 0.0


def simple(q, counts=False):
    """Gauges that read to 1, each with an instrument of its own."""
    return Gauges(np.ones(q), np.zeros(q, bool), np.full(q, counts), np.zeros(q), np.arange(q))


def framed(**given):
    """A frame of plain numbers, nothing taken beside readings."""
    q = len(given["values"])
    plain = {
        "bank": SimpleNamespace(), "vehicle": SimpleNamespace(codes=np.zeros(0)), "law": law.FIRST,
        "read": np.arange(q), "gauges": simple(q), "answers": np.zeros(0, int),
        "said": np.zeros(0, bool), "bent": np.zeros(q),
    }  # fmt: skip
    return frame.Frame(**{**plain, **given})


def test_straight_lines_as_scipy_sums_them():
    """Scales, biases and two misreadings at most, every case by scipy's normal law.

    Of pairs only those with the likeliest misreading are summed: the whole lies between all singles and all pairs.
    """
    rng = np.random.default_rng(5)
    q, d = 4, 7
    lines, sd, bent = rng.normal(size=(d, q)), rng.uniform(0.5, 2.0, q), rng.uniform(0.0, 0.5, q)
    mean, tolerance = rng.normal(size=(3, q)), rng.uniform(0.0, 3.0, (3, q))
    values = rng.normal(scale=3.0, size=q) + np.array([25.0, 0.0, -40.0, 0.0])
    gauges = Gauges(sd, np.zeros(q, bool), np.zeros(q, bool), np.zeros(q), np.array([0, 0, 1, 2]))
    one = framed(values=values, law=law.SECOND, gauges=gauges, lines=lines, bent=bent)
    found = one.log_lines(mean, tolerance, like=np.arange(3))
    for row in range(3):
        total, two = 0.0, 0.0
        for scale, odds in zip(law.SCALES, law.SCALE_ODDS, strict=True):
            variance = lines.T @ lines + np.diag(tolerance[row] ** 2 + bent**2 + (1.5 * scale * sd) ** 2)
            for mine in ([0, 1], [2], [3]):
                variance[np.ix_(mine, mine)] += np.outer(sd[mine], sd[mine]) * (law.BIAS * 1.5) ** 2
            total += odds * multivariate_normal(mean[row], variance).pdf(values)
            for j in range(q):
                wide = variance.copy()
                wide[j, j] += (law.WIDE * sd[j]) ** 2
                total += odds * law.OUTLIER * multivariate_normal(mean[row], wide).pdf(values)
                for i in range(j):
                    wider = wide.copy()
                    wider[i, i] += (law.WIDE * sd[i]) ** 2
                    two += odds * law.OUTLIER**2 * multivariate_normal(mean[row], wider).pdf(values)
        assert np.log(total) < found[row] <= np.log(total + two) + 1e-9
        assert found[row] == pytest.approx(np.log(total + two), abs=0.02)


def test_a_reading_that_a_state_does_not_have_is_left_out():
    rng = np.random.default_rng(6)
    lines, values = rng.normal(size=(3, 2)), np.array([1.0, -2.0])
    both = framed(values=values, lines=lines)
    found = both.log_lines(np.array([[0.5, np.nan]]), np.zeros((1, 2)))[0]
    first = framed(values=values[:1], lines=lines[:, :1]).log_lines(np.array([[0.5]]), np.zeros((1, 1)))[0]
    assert found == pytest.approx(first, abs=0.01)  # but for a misreading of what is not there


def test_the_likeliest_vehicle_is_the_mean_of_the_normal_law():
    """By hand, one reading and one difference: slope 2, spread of the reading 1 (1.2 of it), bias 0.5."""
    one = framed(values=np.array([3.0]), lines=np.array([[2.0]]))
    zero = np.zeros((1, 1))
    found = one.differences(zero, zero, one.lines, one.bent)[0, 0]
    assert found == pytest.approx(6.0 / (4.0 + 1.44 + 0.25))


def test_vehicles_drawn_from_what_readings_leave_open_follow_the_normal_law():
    """Mean and covariance of the conditional normal law, worked out apart: prior I, reading = lines' u + noise."""
    rng = np.random.default_rng(3)
    lines, values = np.array([[2.0, 0.5], [0.0, 1.0]]), np.array([1.5, -1.0])
    one = framed(values=values, lines=lines)
    zero = np.zeros((40_000, 2))
    drawn = one.differences(zero, zero, lines, one.bent, rng)
    precision = np.eye(2) + lines @ lines.T / (1.44 + 0.25)
    np.testing.assert_allclose(np.cov(drawn.T), np.linalg.inv(precision), atol=0.015)
    np.testing.assert_allclose(drawn.mean(axis=0), np.linalg.solve(precision, lines @ values / 1.69), atol=0.015)


def test_chances_of_two_faults_add_up_as_log_odds():
    """By hand: sound 0.1, one fault 0.5 (odds 9 times), the other 0.5: odds 1/9 · 9 · 9 = 9, chance 0.9."""
    seen = SimpleNamespace(
        mean=np.array([[1.0], [3.0], [0.0]]), tolerance=np.zeros((3, 1)),
        yes=np.array([[0.1], [0.5], [0.5]]), code=np.full((3, 1, 1), 0.2),
    )  # fmt: skip
    both = pairs.both_seen(SimpleNamespace(seen=seen), np.array([1]), np.array([2]))
    assert both.mean[0, 0] == pytest.approx(2.0)
    assert both.yes[0, 0] == pytest.approx(0.9)
    assert both.code[0, 0, 0] == pytest.approx(0.2)


def test_what_no_finding_would_show_is_elsewhere():
    a, b = ("chain_worn", "primary"), ("oil_low", "engine")
    assert shown.reduced((a, b), frozenset([b])) == (a,)
    assert shown.reduced((b,), frozenset([b])) == "elsewhere"
    assert shown.reduced("none_of_these", frozenset([b])) == "none_of_these"


def test_findings_are_renumbered_on_another_variant_or_tell_that_it_is_not_that_one():
    idle = Condition("idle")
    count, trim, flow = (Query(name, Place(), idle) for name in ("misfire_count", "fuel_trim", "airflow_reported"))

    def variant(readings, codes, air):
        groups = {"air_readings": air, "misfires_read": (readings.index(count),)}
        return SimpleNamespace(asked=Asked(readings, (), codes, groups))

    def taken(numbers, values, *codes):
        past = law.History(60_000, 5, False, None, None, None, None)
        return Vehicle("elsewhere", (), 0, (), False, past, None, np.array(numbers), np.array(values), np.array(codes))

    own, turned = variant((count, trim), ("P0171",), (1,)), variant((trim, count), ("P0171",), (0,))
    more = variant((count, trim, flow), ("P0102",), (1, 2))
    again = taken([0, 1], [3.0, 7.0]).seen_on(own, turned)
    assert (again.taken.tolist(), again.values.tolist()) == ([0, 1], [7.0, 3.0])
    assert taken([0, 1], [3.0, 7.0]).seen_on(own, more) is None  # air was read, and there was no flow to read
    assert taken([0], [3.0]).seen_on(own, more).taken.tolist() == [0]
    assert taken([0], [3.0], True).seen_on(own, more) is None  # codes were read, and there are others


def test_doubt_of_the_sums_flattens_the_shares_and_keeps_them_a_distribution():
    """Two alike but for 3 nats: e³/(1 + e³) = 0.953 without doubt; with a doubt of 2 nats on each, less."""

    def two(doubt):
        nothing, frame_of_nothing = np.zeros((1, 0), int), SimpleNamespace(read=np.zeros(0, int))
        levels = {"nothing_wrong": 3.0, "elsewhere": 0.0}
        return [
            shown.Open(name, 0.0, shown.Shown(frame_of_nothing, (), nothing, np.zeros(1), np.array([level]),
                                              np.zeros(1), doubt=doubt, done=True))
            for name, level in levels.items()
        ]  # fmt: skip

    sure, unsure = reference._in_doubt(two(0.0)), reference._in_doubt(two(2.0))
    assert sure[0] == pytest.approx(np.exp(3) / (1 + np.exp(3)))
    assert 0.75 < unsure[0] < 0.92
    assert unsure.sum() == pytest.approx(1.0)


def scored(p, right, seed, **more):
    """A row of a vehicle with one fault, as both have answered it."""
    held = {"plug:all": p} if right else {"coil:1": p, "plug:all": 1.0 - p}
    return {
        "seed": seed, "number": 0, "set": "first", "engine": "e", "truth": "plug_worn all", "kind": "plug_worn",
        "asleep": False,
        "hidden": [], "repairs": ["plug:all"], "findings": [1], "asked_held": held, "answered_s": 1.0, "weighed_s": 1.0,
        "verdict": {"kind": "cause"}, "first": "plug:all", "first_p": 0.95, "right": True, "needed": ["plug:all"],
        "true_p": 0.95, "brier": 0.05, "honest": 0.05, "apparent": 5.0, **more,
    }  # fmt: skip


def test_a_program_that_is_sure_and_wrong_keeps_no_limit():
    rows = [scored(0.97, k % 2 == 0, k) for k in range(40)]
    missed = summary(rows, rows, "").missed
    assert any("calibration error 0.470" in line for line in missed)  # 0.97 stated, 0.5 right
    assert any("wrong in 50.0%" in line for line in missed)
    assert any("first-named is right in 50.0%" in line for line in missed)


def test_a_program_that_is_right_as_often_as_it_says_keeps_them():
    rows = [scored(0.97, k % 100 > 1, k) for k in range(400)]
    assert not [line for line in summary(rows, rows, "").missed if "reference" not in line]


def test_a_fault_that_shows_nowhere_may_be_called_elsewhere():
    assert vehicle_scores.needed_of(scored(0.5, True, 1, hidden=["plug_worn all"])) == {"elsewhere"}
    outside = scored(0.5, True, 1, kind="none_of_these", truth="none_of_these", repairs=[], apparent=0.2)
    assert vehicle_scores.needed_of(outside) == {"elsewhere", "none_of_these"}
    assert vehicle_scores.needed_of({**outside, "apparent": 3.0}) == {"none_of_these"}


def test_pieces_of_a_run_that_goes_on_are_judged(tmp_path):
    """Two batches answered by the program, one of them by the reference too: that one is judged."""
    said = {"first", "first_p", "right", "needed", "true_p", "brier", "honest", "apparent", "weighed_s"}
    for name, seeds in (("asked", (50_002, 50_003)), ("reference", (50_002,))):
        for seed in seeds:
            row = scored(0.97, True, seed)
            own = {k: v for k, v in row.items() if (k in said) == (name == "reference")} | {"seed": seed, "number": 0}
            own["held"] = own.pop("asked_held", {"plug:all": 0.95})
            path = tmp_path / name / "digest" / f"{seed}.jsonl"
            path.parent.mkdir(parents=True, exist_ok=True)
            head = {"commit": "abcdef0123456", "changed": False, "source": "digest"}
            path.write_text(json.dumps(head) + "\n" + json.dumps(own) + "\n")
    found = of_pieces(tmp_path)
    assert "1 vehicles that both have answered, abcdef0123." in found.summary
    assert "more than 95% sure in 1 and wrong in 0" in found.summary
    assert of_pieces(tmp_path / "nothing").missed == ("no vehicle was answered by both",)


def test_only_vehicles_that_both_answered_are_judged():
    asked = [{"seed": 1, "number": n, "held": {"a": 1.0}} for n in range(3)]
    said = [{"seed": 1, "number": 1, "held": {"b": 1.0}}]
    assert joined(asked, said) == [{"seed": 1, "number": 1, "held": {"b": 1.0}, "asked_held": {"a": 1.0}}]


@pytest.mark.parametrize("nodes", [5, 9])
def test_weights_between_nodes_give_a_straight_line_back(nodes):
    at = np.linspace(0.0, 1.0, 17)
    mix = bank._hat(nodes, at)
    np.testing.assert_allclose(mix.sum(axis=1), 1.0)
    np.testing.assert_allclose(mix @ np.linspace(2.0, 5.0, nodes), 2.0 + 3.0 * at)


def test_a_node_without_a_reading_takes_its_neighbours_along():
    mixed = bank._mixed(bank._hat(3, np.array([0.1, 0.5, 0.9])), np.array([[1.0], [2.0], [np.nan]]))
    np.testing.assert_allclose(mixed[:, 0], [1.2, 2.0, np.nan])
