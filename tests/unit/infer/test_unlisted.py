"""What an unlisted cause would show: a law that sums to one, is broad where it should be, and may be small.

The checks are the rules of probability themselves; no source is needed for them.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.unit.infer.worked import MOVED, PARKED, saw
from witnessmark.infer import unlisted
from witnessmark.infer.evidence import Evidence
from witnessmark.infer.unlisted import log_all_codes, log_unlisted


def _vacuum(value: float, reported: float) -> list:
    return [saw("manifold_vacuum", value, 1.0), saw("map_reported", reported, 1.5)]


def _log(findings: list, nominal: np.ndarray | None = None) -> float:
    n = len(findings)
    own = np.eye(n) * 4.0 if nominal is None else nominal
    return log_unlisted(findings, own, np.full(n, 20.0), np.zeros(n), [])


def test_over_all_readings_it_is_one():
    at = np.linspace(-400.0, 400.0, 4001)
    density = [np.exp(_log([saw("manifold_vacuum", value, 1.0)])) for value in at]
    assert float(np.trapezoid(density, at)) == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("driven", [0, 3])
def test_over_all_codes_it_is_one(driven):
    chance = np.array([0.02, 0.3, 0.1, 0.5, 0.05, 0.2, 0.01])[: driven + 4]
    total = 0.0
    for codes in itertools.product((False, True), repeat=driven + 4):
        sound = float(np.log(np.where(codes, chance, 1.0 - chance)).sum())
        total += np.exp(log_all_codes(codes[:driven], codes[driven:], sound))
    assert total == pytest.approx(1.0)


def test_codes_of_the_drive_alone_are_weighed_by_themselves():
    assert log_all_codes([True, False], [], -50.0) == log_all_codes([True, False], [], 0.0)


def test_an_engine_on_which_nothing_stands_out_hardly_speaks_against_it():
    """A listed fault may be too small to be seen, and is not refuted then; no more is an unlisted one.

    Of four sizes the smallest is 2.5 beside a spread of 2 to 3: it costs less than a nat, and it is a quarter of all.
    """
    findings = _vacuum(0.0, 0.0)
    sound = Evidence(findings, np.zeros(2), np.eye(2) * 4.0, one_scale=True).log_density(np.zeros((1, 2)))[0]
    assert -2.5 < _log(findings) - sound < 0.0


def test_a_vacuum_and_a_pressure_may_move_against_each_other():
    """Both are in kilopascals; what empties the manifold raises the one and lowers the other."""
    against, along = _log(_vacuum(30.0, -30.0)), _log(_vacuum(30.0, 30.0))
    assert against == pytest.approx(along, abs=1e-9)


def test_angles_of_the_drive_move_alike():
    both, apart = (
        [
            saw("cam_deviation", value, 1.0, condition, bank=1, cam="intake")
            for value, condition in zip(pair, (PARKED, MOVED), strict=True)
        ]
        for pair in ((12.0, 12.0), (12.0, -12.0))
    )
    assert _log(both) > _log(apart) + 2.0


@pytest.mark.parametrize("count", [12, 40])
@pytest.mark.parametrize("volts", [(0.0, 0.0), (0.15, 0.03), (0.15, 0.6), (0.02, 0.6), (0.3, 0.3)])
def test_quiet_places_told_by_the_normal_law_alone_cost_next_to_nothing(count, volts, monkeypatch):
    """Against every place weighed in full: readings of a sound engine, the first two far off, misread or neither."""
    rng = np.random.default_rng(count)
    read = [*volts, *(0.03 * rng.standard_normal(count))[2:]]
    findings = [saw("branch_drop", float(value), 0.02, node=f"coil_{k}") for k, value in enumerate(read)]
    base = rng.standard_normal((count, 3)) * 0.01
    nominal = base @ base.T + np.eye(count) * 1e-4
    spread, healthy = np.full(count, 0.1), np.zeros(count)
    quick = log_unlisted(findings, nominal, spread, healthy, [])
    monkeypatch.setattr(unlisted, "_QUIET", 0.0)  # every place in full
    assert quick == pytest.approx(log_unlisted(findings, nominal, spread, healthy, []), abs=0.025)
