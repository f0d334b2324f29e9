"""Trims at their stops: the law against the same law integrated over what the trim would have to be (quadrature).

What is weighed by itself is one number M, what the trim would have to be: normal about its prediction. The trim shows
M up to its stop, λ what is left of it. That is summed here over M on a fine grid.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from tests.unit.infer.worked import saw
from witnessmark.infer.evidence import SCALE_ODDS, SCALES, Evidence
from witnessmark.infer.sorting import query_of
from witnessmark.infer.sound import Sound, covariance_of
from witnessmark.infer.stops import Stops
from witnessmark.infer.warp import Warp
from witnessmark.physics.airpath import AirPath
from witnessmark.predict import Nuisance

STOP = AirPath.__dataclass_fields__["trim_limit"].default
SPREAD = 8.0


def _law(trim: float, lambda_: float) -> tuple[Stops, Evidence]:
    findings = [saw("fuel_trim", trim, 2.0, bank=1), saw("lambda_reported", lambda_, 0.01, sensor="o2_front_1")]
    queries = [query_of(finding) for finding in findings]
    moved = (Nuisance("injector_flow", "cylinder_1", 1.0, 0.08),)
    slope, bend = np.array([[SPREAD, 0.0]]), np.zeros((1, 2))
    sound = Sound(np.array([0.0, 1.0]), np.array([0.05, 0.004]), np.zeros(2), moved, slope, bend)
    warp = Warp(sound.absolute, np.zeros(2), sound.absolute)
    broad = np.array([30.0, 0.4])
    evidence = Evidence(findings, warp.tolerance, covariance_of(slope, bend), broad=broad, warp=warp)
    return Stops(queries, sound, evidence, warp, broad), evidence


def _summed(wanted: float, trim: float, lambda_: float, evidence: Evidence) -> float:
    """Over what the trim would have to be, and over the noise scales of the one instrument."""
    grid = np.linspace(wanted - 8.0 * SPREAD, wanted + 8.0 * SPREAD, 4001)
    shown = np.clip(grid, -STOP, STOP)
    off = np.stack([trim - shown, lambda_ - 1.0 - 0.01 * (grid - shown)], axis=1)
    names = {finding.kind.instrument for finding in evidence.findings}
    assert len(names) == 1
    total = 0.0
    for scale, odds in zip(SCALES, SCALE_ODDS, strict=True):
        noise = evidence.covariance(dict.fromkeys(names, float(scale)))
        noise[0, 0] -= SPREAD**2
        density = multivariate_normal(np.zeros(2), noise).pdf(off) * norm(wanted, SPREAD).pdf(grid)
        total += odds * float(np.trapezoid(density, grid))
    return float(np.log(total))


@pytest.mark.parametrize(
    ("wanted", "trim", "lambda_"),
    [
        (-40.0, -24.0, 0.83),  # far beyond: λ a tenth of itself off is nothing to wonder at
        (-40.0, -25.5, 0.95),
        (-30.0, -25.0, 0.90),
        (-12.0, -24.0, 0.93),  # short of the stop as predicted, at it as read
        (-5.0, -16.0, 1.0),
        (28.0, 25.0, 1.08),
    ],
)
def test_it_is_the_sum_over_what_the_trim_would_have_to_be(wanted, trim, lambda_):
    stops, evidence = _law(trim, lambda_)
    shown = float(np.clip(wanted, -STOP, STOP))
    means = np.array([[shown, 1.0 + 0.01 * (wanted - shown)]])
    exact = _summed(wanted, trim, lambda_, evidence)
    assert stops.log_density(means)[0] == pytest.approx(exact, abs=0.35)


def test_a_trim_that_has_room_leaves_the_law_as_it_was():
    stops, evidence = _law(-3.0, 1.01)
    means = np.array([[-25.0, 0.85], [0.0, 1.0], [np.nan, 1.0]])
    np.testing.assert_array_equal(stops.log_density(means), evidence.log_density(means))


def test_lambda_far_off_is_no_wonder_beyond_the_stop():
    """By the sound engine's spread of λ, a hundredth, 0.75 where 0.83 is predicted was eight spreads off."""
    stops, evidence = _law(-25.0, 0.75)
    means = np.array([[-25.0, 0.83]])
    assert stops.log_density(means)[0] > evidence.log_density(means)[0] + 1.0


def test_where_there_would_be_no_trim_none_is_at_its_stop():
    stops, _ = _law(-25.0, 0.9)
    found = stops.log_density(np.array([[np.nan, np.nan], [-25.0, 0.9]]))
    assert np.isfinite(found).all()
    assert found[0] < found[1]
