"""Two faults at once, for the reference: every pair of drawn single faults, their effects added up.

What two faults do to the readings adds (slips, wear, sizes), what they do to a signal multiplies. First every pair
of kinds is looked at coarsely, some draws of one against some of the other; then the best pairs in earnest, by the
same law as single faults, on combinations drawn where the coarse look found them likely (and weighed back for it).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.common_codes import Signals
from benchmarks.common_drive import Array
from benchmarks.common_findings import BIAS, Case, Key, Rows, Stratum, same_thing
from benchmarks.reference_posterior import Bank, Law, awake_rows, law_of, weigh

__all__ = ["pair_mass"]

_COARSE = 12  # draws of every kind for the first look
_FINE = 160  # draws of every kind for the second
_BEST = 30
_ROWS = 768  # combinations of one pair weighed in earnest
_FLOOR = 0.3  # share of them drawn evenly
_NEGLIGIBLE = 14.0  # nats
_BESIDE_THE_POINT = 7.0  # nats by which the coarse look must stay below the single faults to be believed


@dataclass(frozen=True)
class _Ground:
    """Faults of one engine in whitened readings: what is left to explain, and what some draws of each kind add."""

    law: Law
    rows: Rows
    awake: dict[str | None, Array]  # of the rows that were picked
    picked: NDArray[np.intp]  # (kinds * _FINE,): rows, kind after kind
    kinds: int
    left: Array  # (q,)
    effect: Array  # (kinds * _FINE, reads)
    added: Array  # (kinds * _FINE, q), whitened; NaN where no reading would be
    const: float


def pair_mass(
    bank: Bank, k: int, case: Case, top: float, rng: np.random.Generator, log_singles: float
) -> dict[Key, float]:
    """Prior times likelihood (over e^top) of the pairs that matter on one engine.

    Parameters
    ----------
    bank : Bank
    k : int
        Which of its engines.
    case : Case
    top : float
        Log likelihood that everything is told against.
    rng : Generator
    log_singles : float
        Log of what all single hypotheses have together, told against the same.
    """
    law, rows = law_of(bank, k, case), bank.rows[k]
    if law is None or not law.normal:
        return {}
    faults = [i for i, stratum in enumerate(rows.strata) if stratum.instances]
    ground = _whiten(law, rows, case, faults, rng)
    first, second, prior = _all_pairs(rows, tuple(faults), tuple(bank.weights[k][faults]))
    coarse = np.log(prior) + _coarse(ground, rng)[first, second]
    order = np.argsort(-coarse)[:_BEST]
    best = [int(j) for j in order if coarse[j] > coarse[order[0]] - _NEGLIGIBLE]
    log_all = float(np.log(bank.pair_weights[k]) + coarse[order[0]] + np.log(np.exp(coarse - coarse[order[0]]).sum()))
    if log_all - top < log_singles - _BESIDE_THE_POINT:
        return {}
    values = _in_earnest(ground, case, [(int(first[j]), int(second[j])) for j in best], rng)
    mass: dict[Key, float] = {}
    for j, value in zip(best, values, strict=True):
        key = _key(rows.strata[faults[first[j]]], rows.strata[faults[second[j]]])
        likelihood = float(np.exp(min(value - top, 60.0)))
        mass[key] = mass.get(key, 0.0) + bank.pair_weights[k] * float(prior[j]) * likelihood
    return mass


_PAIRS_OF: dict[int, tuple[Rows, tuple[Array, Array, Array]]] = {}


def _all_pairs(rows: Rows, faults: tuple[int, ...], weights: tuple[float, ...]) -> tuple[Array, Array, Array]:
    """Every pair of kinds that may be together, and its share of the prior of pairs; kept for the last engines."""
    kept = _PAIRS_OF.get(id(rows))
    if kept is not None and kept[0] is rows:
        return kept[1]
    share = np.array(weights) / np.sum(weights)
    a, b = np.tril_indices(len(faults), k=-1)
    apart = np.array(
        [not same_thing(rows.strata[faults[i]], rows.strata[faults[j]]) for i, j in zip(a, b, strict=True)]
    )
    a, b = a[apart], b[apart]
    prior = share[a] * share[b]
    if len(_PAIRS_OF) > 20:
        _PAIRS_OF.clear()
    _PAIRS_OF[id(rows)] = rows, (a, b, prior / prior.sum())
    return _PAIRS_OF[id(rows)][1]


def _key(a: Stratum, b: Stratum) -> Key:
    first, second = sorted((a, b), key=lambda s: s.key)
    assert not isinstance(first.key, str)
    assert not isinstance(second.key, str)
    return (*first.key, *second.key)


def _whiten(law: Law, rows: Rows, case: Case, faults: list[int], rng: np.random.Generator) -> _Ground:
    counts = np.diff(np.append(rows.starts, len(rows.readings)))
    picked = np.concatenate([rows.starts[f] + rng.integers(0, counts[f], _FINE) for f in faults])
    everywhere = awake_rows(rows, rng)
    awake = {flag: values[picked] for flag, values in everywhere.items()}
    effect = np.zeros((len(picked), len(case.reads)))
    for i, (read, column) in enumerate(zip(case.reads, law.columns, strict=True)):
        added = rows.readings[picked, column] - rows.asleep[picked, column]
        effect[:, i] = np.where(awake[read.complaint], added, 0.0)  # nothing while it sleeps
    sound = rows.asleep[picked][:, [law.columns[i] for i in law.normal]]
    sd = np.array([channel.sd for channel in law.channels])
    same = np.array([[a.instrument == b.instrument for b in law.channels] for a in law.channels])
    variance = law.nominal + BIAS**2 * np.outer(sd, sd) * same + np.diag((1.2 * sd) ** 2)
    variance = variance + np.cov(sound.T).reshape(variance.shape)
    white = np.linalg.cholesky(np.linalg.inv(variance))
    const = -0.5 * float(np.linalg.slogdet(2.0 * np.pi * variance)[1])
    left = (law.values - sound.mean(axis=0)) @ white
    added = effect[:, law.normal] @ white
    return _Ground(law, rows, awake, picked, len(faults), left, effect, added, const)


def _coarse(ground: _Ground, rng: np.random.Generator) -> Array:
    """Log mean likelihood of the normal readings for every pair of kinds, shape (kinds, kinds)."""
    kinds = ground.kinds
    picks = (np.arange(kinds)[:, None] * _FINE + rng.integers(0, _FINE, (kinds, _COARSE))).ravel()
    added = ground.added[picks].astype(np.float32)
    near = _square(ground.left.astype(np.float32), added, added).reshape(kinds, _COARSE, kinds, _COARSE)
    low = np.nanmin(np.where(np.isfinite(near), near, np.inf), axis=(1, 3))
    low = np.where(np.isfinite(low), low, 1e6)
    like = np.exp(np.nan_to_num(-0.5 * (near - low[:, None, :, None]), nan=-80.0))
    # A coarse look misses narrow peaks: half the best counts beside the mean.
    return np.asarray(np.log(like.mean(axis=(1, 3)) + 0.02) - 0.5 * low + ground.const, dtype=np.float64)


def _square(left: Array, one: Array, other: Array) -> Array:
    """|left - one_i - other_j|² for all i, j."""
    rest = left - one
    return (rest**2).sum(axis=1)[:, None] + (other**2).sum(axis=1)[None, :] - 2.0 * rest @ other.T


def _in_earnest(ground: _Ground, case: Case, pairs: list[tuple[int, int]], rng: np.random.Generator) -> Array:
    """Log mean likelihood of all findings for some pairs, shape (pairs,)."""
    drawn = [_combinations(ground, a, b, rng) for a, b in pairs]
    a, b, log_back = (np.concatenate([one[k] for one in drawn]) for k in range(3))
    seen = _together(ground, case, a, b)
    signals = None
    if case.codes:
        sound = ground.rows.signals_asleep.rows(ground.picked)
        ill = ground.rows.signals.rows(ground.picked).where(ground.awake[case.codes[0][2]], sound)
        signals = _signals(ill, sound, a, b)
    logs = (weigh(ground.law, case, seen, signals, rng) + log_back).reshape(len(pairs), _ROWS)
    top = logs.max(axis=1)
    return np.asarray(np.log(np.exp(logs - top[:, None]).mean(axis=1)) + top)


def _combinations(ground: _Ground, a: int, b: int, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """Draws of two kinds put together, more where they explain the readings, and the log weight to make up for it."""
    one, other = (np.arange(k * _FINE, (k + 1) * _FINE) for k in (a, b))
    near = _square(ground.left, ground.added[one], ground.added[other]).ravel()
    near = np.where(np.isfinite(near), near, np.inf)
    like = np.exp(-0.35 * (near - near.min())) if np.isfinite(near.min()) else np.ones(near.size)
    share = _FLOOR / near.size + (1.0 - _FLOOR) * like / like.sum()
    picked = rng.choice(near.size, size=_ROWS, p=share / share.sum())
    return one[picked // _FINE], other[picked % _FINE], -np.log(share[picked] * near.size)


def _together(ground: _Ground, case: Case, a: Array, b: Array) -> Array:
    """What both together show: effects add, but for answers."""
    rows, law, first = ground.rows, ground.law, ground.picked[a]
    seen = rows.asleep[first][:, law.columns] + ground.effect[a] + ground.effect[b]
    for i, (read, column) in enumerate(zip(case.reads, law.columns, strict=True)):
        if law.reads[i].law == "answer":
            ill, sound = rows.readings[ground.picked, column], rows.asleep[ground.picked, column]
            values = np.where(ground.awake[read.complaint], ill, sound)
            both = values[a], values[b]
            seen[:, i] = both[0] * both[1] if law.reads[i].quantity == "signal_polarity" else np.minimum(*both)
    return seen


def _signals(ill: Signals, sound: Signals, a: Array, b: Array) -> Signals:
    relation = {c: ill.relation[c][a] + ill.relation[c][b] - sound.relation[c][b] for c in ill.relation}
    off = {c: ill.off_target[c][a] + ill.off_target[c][b] - sound.off_target[c][b] for c in ill.off_target}
    rate = {c: np.minimum(ill.rate[c][a], ill.rate[c][b]) for c in ill.rate}
    lost = {w: 1.0 - (1.0 - ill.lost[w][a]) * (1.0 - ill.lost[w][b]) for w in ill.lost}
    return Signals(relation, off, rate, lost)
