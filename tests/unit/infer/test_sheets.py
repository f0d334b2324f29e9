"""Two severities integrated out, against dense rules, and what is left to a scan alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from witnessmark.infer.logsum import log_sum
from witnessmark.infer.mesh import Mesh
from witnessmark.infer.quadrature import is_told, sheet_is_told

LINE = np.linspace(0.0, 1.0, 9)
GRID = np.stack([p.ravel() for p in np.meshgrid(LINE, LINE, indexing="ij")], axis=1)
U, V = GRID.T


def ridge(u, v):
    return -0.5 * ((u - 0.4) / 0.3) ** 2 - 0.5 * ((v - 0.2 - 0.5 * u) / 0.06) ** 2


def step_along_a_curve(u, v):
    """As a limit that sets a code does: 3 nats where both together are beyond it."""
    return -1.5 * u - np.where(u + 0.6 * v**2 > 0.55, 3.0, 0.0)


def dense(function, side=4_001):
    line = (np.arange(side) + 0.5) / side
    return np.log(np.mean([np.mean(np.exp(function(u, line))) for u in line]))


@pytest.mark.parametrize("function", [ridge, step_along_a_curve])
def test_a_mesh_made_closer_is_a_fiftieth_of_a_nat_off_a_dense_rule(function):
    """The midpoint rule on 4,001 x 4,001 cells knows of no mode and no step."""
    mesh = Mesh.of(GRID).known(function(U, V))
    errors = [abs(log_sum(mesh.log_mass()) - dense(function))]
    for _ in range(3):
        mesh = mesh.closer()
        mesh = mesh.known(function(*mesh.unknown.T))
        errors.append(abs(log_sum(mesh.log_mass()) - dense(function)))
    assert errors[-1] < 0.02
    assert errors[-1] < errors[0]
    assert mesh.inner.shape == (18, 21)
    assert np.all(np.diff(mesh.outer) > 0.0)
    assert np.all(np.diff(mesh.inner, axis=1) >= 0.0)


def test_the_masses_of_a_mesh_keep_its_first_moments():
    """A normal law within the square: its mean by the usual formula of a normal law cut off on both sides."""
    mesh = Mesh.of(GRID).known(-0.5 * ((U - 0.3) / 0.2) ** 2)
    weight = np.exp(mesh.log_mass() - log_sum(mesh.log_mass()))
    low, high = (0.0 - 0.3) / 0.2, (1.0 - 0.3) / 0.2
    bell = np.exp(-0.5 * np.array([low, high]) ** 2) / np.sqrt(2.0 * np.pi)
    mean = 0.3 + 0.2 * (bell[0] - bell[1]) / (ndtr(high) - ndtr(low))
    assert weight @ mesh.points[:, 0] == pytest.approx(mean, abs=2e-3)
    assert weight @ mesh.points[:, 1] == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize("sharp", [0.35, 0.5, 1.0, 3.0])
def test_a_scan_that_is_said_to_tell_enough_is_within_a_fiftieth_of_a_nat(sharp):
    y = -0.5 * ((U - 0.37) / sharp) ** 2 - 0.5 * ((V - 0.81) / sharp) ** 2 - 0.3 * U * V
    told = sheet_is_told(y.reshape(9, 9))
    truth = dense(lambda u, v: -0.5 * ((u - 0.37) / sharp) ** 2 - 0.5 * ((v - 0.81) / sharp) ** 2 - 0.3 * u * v)
    assert told
    assert log_sum(Mesh.of(GRID).known(y).log_mass()) == pytest.approx(truth, abs=0.02)


def test_no_scan_is_said_to_tell_of_a_peak_or_a_step_between_its_points():
    assert not sheet_is_told(ridge(U, V).reshape(9, 9))
    assert not sheet_is_told(step_along_a_curve(U, V).reshape(9, 9))
    line = np.linspace(0.0, 1.0, 17)
    steps = np.stack([np.where(line > limit, -high, 0.0) for limit in (0.1, 0.52, 0.9) for high in (0.7, 3.0, 30.0)])
    peaks = np.stack([-0.5 * ((line - 0.52) / spread) ** 2 for spread in (0.003, 0.02, 0.05)])
    assert not is_told(np.concatenate([steps, peaks])).any()
    gentle = np.stack([-0.5 * ((line - 0.52) / 0.2) ** 2, -4.0 * line, np.zeros(17)])
    assert is_told(gentle).all()
