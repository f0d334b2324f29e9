"""What a test is worth: expected minutes to a proven repair if it is done first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.forecast import TestLaw
from witnessmark.plan.particles import Particles

__all__ = ["END_TO_END_MINUTES", "Option", "Tried", "entropy_bits", "expected_minutes", "least_minutes", "try_test"]

Array = NDArray[np.float64]
_DRAWS = 200
_OUTLIER = 0.01
_NOT_NEGATIVE = {"phase_scatter", "wheel_pitch_error", "edges_missing", "phaser_slew", "tensioner_extension"}
END_TO_END_MINUTES = 900.0  # everything gone through, part by part, where nothing on the list cured it; our guess
PROVING_MINUTES = 25.0  # the same measurements again after every repair: common practice, no source


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that may end the case: minutes (proving included) and the chance that it does if it is the cause.

    Parameters
    ----------
    minutes : float [min]
    success : float [-]
    """

    minutes: float
    success: float


@dataclass(frozen=True, slots=True)
class Tried:
    """A test tried on many drawn outcomes.

    Parameters
    ----------
    minutes : float [min]
        Expected from here to a proven repair, the test included.
    bits : float [bit]
        Expected information about the repair.
    draws : ndarray, shape (m, q)
        The readings drawn.
    after : ndarray, shape (m, groups)
        What would be believed after each.
    """

    minutes: float
    bits: float
    draws: Array
    after: Array


def entropy_bits(chance: Array) -> Array:
    """Shannon entropy along the last axis, in bits.

    Parameters
    ----------
    chance : ndarray, shape (..., n) [-]

    Returns
    -------
    ndarray, shape (...) [bit]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(chance > 0.0, -chance * np.log2(chance), 0.0)
    return np.asarray(terms.sum(axis=-1))


def expected_minutes(chance: Array, options: tuple[Option, ...]) -> Array:
    """Expected minutes if repairs are tried one after another, best chance per minute first.

    Parameters
    ----------
    chance : ndarray, shape (..., groups)
    options : tuple of Option

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    Order by p*s/c (Heckerman, Breese, Rommelse, CACM 38(3), 1995), up to where going on would cost more than handing
    the vehicle over to be gone through from end to end, which ends every case.
    """
    minutes = np.array([o.minutes for o in options])
    success = np.array([o.success for o in options])
    order = np.argsort(-(chance * success / minutes), axis=-1)
    p = np.take_along_axis(chance, order, axis=-1)
    c, s = minutes[order], success[order]
    cured = np.cumsum(p * s, axis=-1)
    before = np.concatenate([np.zeros((*cured.shape[:-1], 1)), cured[..., :-1]], axis=-1)
    spent = np.cumsum(c * np.clip(1.0 - before, 0.0, 1.0), axis=-1)
    given_up = spent + np.clip(1.0 - cured, 0.0, 1.0) * END_TO_END_MINUTES
    return np.asarray(np.minimum(given_up.min(axis=-1), END_TO_END_MINUTES))


def least_minutes(chance: Array, options: tuple[Option, ...]) -> float:
    """No plan can expect less: every cause known beforehand, its repair done once.

    Parameters
    ----------
    chance : ndarray, shape (groups,) [-]
    options : tuple of Option

    Returns
    -------
    float, shape () [min]
    """
    return float(sum(p * o.minutes for p, o in zip(chance, options, strict=True)))


def try_test(cloud: Particles, law: TestLaw, options: tuple[Option, ...], minutes: float, seed: int = 1) -> Tried:
    """Draw outcomes of a test and see what each would leave to do.

    Parameters
    ----------
    cloud : Particles
    law : TestLaw
    options : tuple of Option
        One for each group.
    minutes : float [min]
        Of the test, covers included.
    seed : int

    Returns
    -------
    Tried
    """
    rng = np.random.default_rng(seed)
    weight = cloud.weight / cloud.weight.sum()
    edges = np.cumsum(weight)
    picks = np.searchsorted(edges, (np.arange(_DRAWS) + 0.5) / _DRAWS)
    picks = np.minimum(picks, len(weight) - 1)
    draws = _draw(rng, law, picks, cloud.none_from)
    likelihood = _likelihood(law, draws, cloud.none_from)
    joint = likelihood * weight
    after = np.stack([joint[:, cloud.group == g].sum(axis=1) for g in range(len(cloud.groups))], axis=1)
    after = after / after.sum(axis=1, keepdims=True)
    bits = float(entropy_bits(cloud.chance) - entropy_bits(after).mean())
    return Tried(minutes + float(expected_minutes(after, options).mean()), max(bits, 0.0), draws, after)


def _draw(rng: np.random.Generator, law: TestLaw, picks: NDArray[np.intp], none_from: int) -> Array:
    factor = np.linalg.cholesky(law.covariance)
    noise = rng.standard_normal((len(picks), len(law.queries))) @ factor.T
    broad = rng.standard_normal((len(picks), len(law.queries))) * law.broad
    means = law.mean[picks]
    values = means + noise + broad * (picks >= none_from)[:, None]
    yes = rng.random(values.shape) < means
    never_below = np.array([q.quantity in _NOT_NEGATIVE for q in law.queries])
    values = np.where(never_below, np.abs(values), values)
    return np.where(law.is_chance, yes.astype(float), values)


def _likelihood(law: TestLaw, draws: Array, none_from: int) -> Array:
    """Likelihood of every draw on every point, shape (m, n), up to a factor per draw."""
    measured = np.flatnonzero(~law.is_chance)
    log = np.zeros((len(draws), len(law.mean)))
    if len(measured):
        covariance = law.covariance[np.ix_(measured, measured)]
        log += _log_normal(draws[:, measured], law.mean[:, measured], covariance)
        broad = covariance + np.diag(law.broad[measured] ** 2)
        wide = _log_normal(draws[:, measured], law.mean[:, measured], broad)
        log = np.logaddexp(log + np.log1p(-_OUTLIER), wide + np.log(_OUTLIER))
        log[:, none_from:] = wide[:, none_from:]
    for j in np.flatnonzero(law.is_chance):
        chance = np.clip(law.mean[:, j], 0.01, 0.99)
        log += np.where(draws[:, j][:, None] > 0.5, np.log(chance), np.log1p(-chance))
    return np.asarray(np.exp(log - log.max(axis=1, keepdims=True)))


def _log_normal(draws: Array, mean: Array, covariance: Array) -> Array:
    scale = np.linalg.inv(np.linalg.cholesky(covariance))
    a, b = draws @ scale.T, mean @ scale.T
    square = (a**2).sum(axis=1)[:, None] - 2.0 * a @ b.T + (b**2).sum(axis=1)[None, :]
    return np.asarray(-0.5 * square + np.log(np.abs(np.diag(scale))).sum())
