"""The law of a set of readings, against the same law written out over every pattern of misreadings (SciPy)."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from tests.unit.infer.worked import OFF, saw
from witnessmark.infer.distinct import alike
from witnessmark.infer.evidence import INSTRUMENT_BIAS, OUTLIER, SCALE_ODDS, SCALES, WIDE, Evidence
from witnessmark.infer.moved import blocks

FINDINGS = [
    saw("cam_deviation", -11.0, 1.0, bank=1, cam="intake"),
    saw("cam_deviation", -9.0, 1.5, bank=1, cam="exhaust"),
    saw("cam_deviation", 25.0, 1.0, bank=2, cam="exhaust"),
]
TOLERANCE = np.array([0.7, 0.7, 0.7])
SPREAD = np.array([[2.0, 1.0, 0.5], [1.0, 2.0, 0.5], [0.5, 0.5, 2.0]])


def written_out(values, means, sd, tolerance, spread):
    """Sum over noise scales and over every pattern of at most two misreadings."""
    total = 0.0
    epsilon, wide = OUTLIER["typed"], WIDE["deg"]
    bias = INSTRUMENT_BIAS**2 * np.outer(sd, sd)
    for scale, odds in zip(SCALES, SCALE_ODDS, strict=True):
        base = spread + np.diag(tolerance**2) + bias + np.diag((scale * sd) ** 2)
        for wrong in itertools.product((False, True), repeat=len(values)):
            if sum(wrong) <= 2:
                share = np.prod([epsilon if w else 1.0 - epsilon for w in wrong])
                covariance = base + np.diag([wide**2 if w else 0.0 for w in wrong])
                total += odds * share * multivariate_normal(means, covariance).pdf(values)
    return np.log(total)


@pytest.mark.parametrize("means", [[-11.0, -9.0, 25.0], [0.0, 0.0, 0.0], [-10.0, -10.0, 0.0], [-12.0, 5.0, 3.0]])
def test_one_instrument(means):
    evidence = Evidence(FINDINGS, TOLERANCE, SPREAD)
    values, sd = np.array([f.value for f in FINDINGS]), np.array([f.sd for f in FINDINGS])
    exact = written_out(values, np.array(means), sd, TOLERANCE, SPREAD)
    assert evidence.log_density(np.array([means]))[0] == pytest.approx(exact, abs=1e-6)


def test_an_odd_reading_costs_what_a_misreading_costs_and_no_more():
    """From 6 spreads off to 12 a normal law would lose 54 nats; a law with misreadings loses next to nothing."""
    alone = Evidence([FINDINGS[0]], TOLERANCE[:1], SPREAD[:1, :1])
    near, far = (alone.log_density(np.array([[-11.0 + off]]))[0] for off in (14.0, 28.0))
    assert 0.0 < near - far < 1.5


def test_a_misread_learnt_zero_is_as_wide_as_any_misread_angle():
    """A learnt zero is kept in the unit of its item, degrees; 6 spreads of 0.3° would pin a misreading to 2°."""
    learnt = saw("learnt_reported", -48.0, 0.3, learnt_item="cam_zero", bank=1, cam="exhaust")
    assert learnt.unit == "deg"
    alone = Evidence([learnt], np.array([2.0]), np.zeros((1, 1)))
    zero, half = (alone.log_density(np.array([[mean]]))[0] for mean in (0.0, -24.0))
    assert 0.0 < half - zero < 1.5


def test_a_reading_that_could_not_be_was_misread():
    """NaN says that no such reading is possible: what is left is the others' law, and the wide law of this one."""
    evidence = Evidence(FINDINGS, TOLERANCE, SPREAD)
    means = np.array([[-11.0, -9.0, np.nan]])
    two = Evidence(FINDINGS[:2], TOLERANCE[:2], SPREAD[:2, :2])
    odds = np.log(OUTLIER["typed"]) - np.log(WIDE["deg"] * np.sqrt(2 * np.pi)) - 0.5 * (25.0 / WIDE["deg"]) ** 2
    assert evidence.log_density(means)[0] == pytest.approx(two.log_density(means[:, :2])[0] + odds, abs=1e-9)


def test_two_readings_of_one_instrument_tell_less_than_two_of_two():
    """A shared bias is paid once: agreement of one instrument with itself proves less."""
    at = np.array([[0.0, 0.0]])
    same = [saw("cam_deviation", 3.0, 1.0, bank=1, cam=c) for c in ("intake", "exhaust")]
    apart = [same[0], saw("tdc_offset", 3.0, 1.0, OFF)]
    none = np.zeros(2), np.zeros((2, 2))
    assert Evidence(same, *none).log_density(at)[0] > Evidence(apart, *none).log_density(at)[0]


def test_soundness_of_a_reading():
    sound = Evidence(FINDINGS, TOLERANCE, SPREAD).sound(np.array([[-11.0, -9.0, 0.0]]))
    assert sound[0, 0] > 0.99
    assert sound[0, 2] < 0.01


@pytest.mark.parametrize("width", [1, 5, 31, 40, 100])
def test_rows_marked_alike_are_found_whatever_their_width(rng, width):
    """Against the rows themselves, compared by Python."""
    marks = rng.random((300, width)) < 2.0 / width
    groups = alike(marks)
    assert sorted(np.concatenate(groups).tolist()) == list(range(300))
    assert len(groups) == len({row.tobytes() for row in marks})
    for rows in groups:
        assert np.all(marks[rows] == marks[rows[0]])
        assert np.all(np.diff(rows) > 0)
    assert alike(np.zeros((0, width), dtype=bool)) == []


@pytest.mark.parametrize("count", [1, 3, 20])
def test_a_shifted_law_is_the_law_with_that_covariance(rng, count):
    """Against the law laid out anew, with pairs of misreadings (few findings) and without (many)."""
    findings = [saw("fuel_trim", float(v), 2.0, bank=1) for v in rng.normal(size=count)]
    nominal, along = np.diag(rng.uniform(0.5, 2.0, count)), rng.normal(size=count)
    means = rng.normal(size=(7, count))
    means[3, 0] = np.nan
    plain = Evidence(findings, np.zeros(count), nominal)
    plain.log_density(means)  # whatever it keeps must not leak into the other
    anew = Evidence(findings, np.zeros(count), nominal + np.outer(along, along))
    assert plain.shifted(along).log_density(means) == pytest.approx(anew.log_density(means), abs=1e-9)


def _many(rng, off):
    """Sixteen readings whose spreads hang together, so many of them far off."""
    base = rng.standard_normal((16, 5))
    spread = base @ base.T
    values = rng.multivariate_normal(np.zeros(16), spread + 1.5 * np.eye(16))
    values[rng.choice(16, off, replace=False)] += rng.choice([-30.0, 30.0], off)
    return [saw("cam_deviation", value, 1.0, bank=1, cam="intake") for value in values], values, spread


@pytest.mark.parametrize("off", [0, 1, 2, 3])
def test_several_far_off_among_many(off):
    """Against the sum over every pattern of up to three. The most suspect one is in nearly all that count."""
    rng = np.random.default_rng(40 + off)
    for _ in range(3):
        findings, values, spread = _many(rng, off)
        law = Evidence(findings, np.zeros(16), spread, one_scale=True)

        base = law.covariance(dict.fromkeys([one.kind.instrument for one in findings], 1.2))
        logs = []
        for count in range(4):
            for wrong in itertools.combinations(range(16), count):
                far = np.zeros(16)
                far[list(wrong)] = WIDE["deg"] ** 2
                share = count * np.log(OUTLIER["typed"]) + (16 - count) * np.log1p(-OUTLIER["typed"])
                logs.append(share + multivariate_normal(np.zeros(16), base + np.diag(far)).logpdf(values))
        exact = np.logaddexp.reduce(logs)
        assert law.log_density(np.zeros((1, 16)))[0] == pytest.approx(exact, abs=0.15)


def test_rows_of_a_batch_do_not_bear_on_each_other():
    """Which reading is suspect is asked of every row by itself."""
    findings, _, spread = _many(np.random.default_rng(3), 2)
    law = Evidence(findings, np.ones(16), spread)
    means = np.random.default_rng(4).normal(0.0, 8.0, (40, 16))
    together = law.log_density(means)
    np.testing.assert_allclose(together, [law.log_density(one[None, :])[0] for one in means], rtol=1e-9)


def test_many_readings_weigh_the_same_together_and_row_by_row():
    """Many rows of many readings go through their noise scales one by one, few rows all at once (own invariance)."""
    rng = np.random.default_rng(3)
    places = [{"bank": bank, "cam": cam} for bank in (1, 2) for cam in ("intake", "exhaust")]
    findings = [
        saw("cam_deviation" if k % 2 else "fuel_trim", float(rng.normal(0.0, 3.0)), 1.0 + 0.1 * (k % 5), **where)
        for k, where in enumerate({"bank": p["bank"]} if k % 2 == 0 else p for k, p in enumerate(places * 17))
    ]
    slope = rng.normal(size=(4, len(findings)))
    evidence = Evidence(findings, np.full(len(findings), 0.7), slope.T @ slope)
    means = evidence.values + rng.normal(0.0, 1.5, (600, len(findings)))
    means[::7, 3] += 40.0
    means[::11, 20] -= 60.0
    together = evidence.log_density(means)
    alone = np.concatenate([evidence.log_density(row[None, :]) for row in means])
    assert len(findings) >= 60
    assert together == pytest.approx(alone, abs=1e-9)


def test_readings_that_a_row_leaves_alone_cost_nothing_and_change_nothing():
    """Rows that move a few of many readings off the usual one, against the inverse covariance multiplied out.

    The reference is the sum over none, one, and, at the scales that several are asked of, the pairs and threes that the
    law without a usual row goes through: own arithmetic of the first two here, the same law for the rest.
    """
    rng = np.random.default_rng(12)
    findings = [saw("cam_deviation", v, 1.0, bank=1, cam="intake") for v in rng.normal(0.0, 1.0, 40)]
    slope = rng.normal(size=(3, 40))
    usual = rng.normal(0.0, 0.5, 40)
    means = np.tile(usual, (300, 1))
    for k in range(300):
        moved = rng.choice(40, 5 + (k // 100) * 15, replace=False)  # few, a half, nearly all
        means[k, moved] += rng.normal(0.0, (0.3, 3.0, 60.0)[k % 3], len(moved))
    about = Evidence(findings, np.full(40, 0.7), slope.T @ slope, usual=usual)
    plain = Evidence(findings, np.full(40, 0.7), slope.T @ slope)
    assert about.log_density(means) == pytest.approx(plain.log_density(means), abs=1e-8)

    one = Evidence(findings, np.full(40, 0.7), slope.T @ slope, usual=usual, one_scale=True)
    covariance = one.covariance({findings[0].kind.instrument: 1.2})
    left = one.values - means[:3]
    far = [np.zeros(40), *(np.where(np.arange(40) == j, one.wide**2, 0.0) for j in range(40))]
    share = [40 * np.log1p(-OUTLIER["typed"])]
    share += [np.log(OUTLIER["typed"]) + 39 * np.log1p(-OUTLIER["typed"])] * 40
    each = [
        s + multivariate_normal(np.zeros(40), covariance + np.diag(f)).logpdf(left)
        for s, f in zip(share, far, strict=True)
    ]
    at_most_one = np.logaddexp.reduce(each, axis=0)
    found = one.log_density(means[:3])
    assert np.all(found >= at_most_one - 1e-9)  # two and three besides
    assert found[0] == pytest.approx(at_most_one[0], abs=0.2)


def test_shifts_of_many_readings_are_worked_out_together():
    """Against each shift's own law (an inverse after a rank-one update, then the law as of any readings)."""
    rng = np.random.default_rng(8)
    findings = [saw("cam_deviation", v, 1.0, bank=1, cam="intake") for v in rng.normal(0.0, 1.0, 30)]
    slope = rng.normal(size=(3, 30))
    along = np.where(rng.random((12, 30)) < 0.2, 9.0, 0.0)
    for one_scale, far in itertools.product((True, False), (0, 1, 3)):
        law = Evidence(findings, np.full(30, 0.7), slope.T @ slope, one_scale=one_scale)
        mean = rng.normal(0.0, 0.5, 30)
        mean[:far] += 40.0
        together = law.law.log_shifted(law.values - mean, along)
        assert together == pytest.approx([law.shifted(a).log_density(mean[None, :])[0] for a in along], abs=1e-8)


def test_blocks_hold_every_row_once_with_all_that_it_moves():
    rng = np.random.default_rng(2)
    moved = rng.random((500, 30)) < 0.1
    moved[::7] = False
    found = blocks(moved, 10, 24)
    assert np.array_equal(np.sort(np.concatenate([rows for rows, _ in found])), np.arange(500))
    for rows, columns in found:
        assert len(rows) <= 24
        assert np.array_equal(np.flatnonzero(moved[rows].any(axis=0)), columns)


@pytest.mark.parametrize("classes", [1, 2, 3])
def test_scales_that_are_the_same_for_every_instrument(classes):
    """Their covariances are those written out with one scale for all, and their odds sum to one."""
    names = [
        ("cam_deviation", {"bank": 1, "cam": "intake"}),
        ("manifold_vacuum", {}),
        ("battery_ohm", {"battery": "battery"}),
    ][:classes]
    findings = [saw(name, 1.0, 1.0, **place) for name, place in names]
    kinds = {finding.kind.instrument for finding in findings}
    assert len(kinds) == classes
    evidence = Evidence(findings, np.ones(classes), np.zeros((classes, classes)))
    law = evidence.law
    same = [law.scales[i] for i in law.level]
    odds = np.exp(np.array([one.log_odds for one in same]) + law.level_log)
    assert odds.sum() == pytest.approx(1.0)
    for one, scale in zip(same, SCALES if classes == 1 else (0.85, 1.2, 2.0), strict=True):
        alike_all = np.linalg.inv(evidence.covariance(dict.fromkeys(kinds, float(scale))))
        np.testing.assert_allclose(one.inverse, alike_all)
