"""Two faults at once, for the reference: every pair of drawn single faults, their effects added up.

What two faults do to the readings adds (slips, wear, sizes), what they do to a signal multiplies. First every pair of
kinds is looked at coarsely, some draws of one against some of the other; then the best pairs in earnest, by the same law
as single faults, on combinations drawn where the coarse look found them likely (and weighed back for it).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchmarks.common_codes import Signals
from benchmarks.common_drive import Array
from benchmarks.common_findings import BIAS, Case, Key, Rows, Stratum, same_thing
from benchmarks.common_readings import Channel
from benchmarks.reference_posterior import Bank, Law, awake_rows, law_of, weigh

__all__ = ["pair_mass"]

_COARSE = 16  # draws of every kind for the first look
_FINE = 240  # draws of every kind for the second
_BEST = 40
_ROWS = 768  # combinations of one pair weighed in earnest
_FLOOR = 0.3  # share of them drawn evenly
_NEGLIGIBLE = 14.0  # nats


@dataclass(frozen=True)
class _Ground:
    """Faults of one engine in whitened readings: what is left to explain, and what every draw adds."""

    law: Law
    rows: Rows
    faults: list[int]
    left: Array  # (q,)
    added: Array  # (n, q), NaN where no reading would be
    const: float


def pair_mass(bank: Bank, k: int, case: Case, top: float, rng: np.random.Generator) -> dict[Key, float]:
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
    """
    law, rows = law_of(bank, k, case), bank.rows[k]
    if not law.normal:
        return {}
    awake = awake_rows(rows, rng)
    effect = _effects(rows, case, awake)
    faults = [i for i, stratum in enumerate(rows.strata) if stratum.instances]
    ground = _whiten(law, rows, faults, effect)
    weights = bank.weights[k][faults]
    weights = weights / weights.sum()
    coarse = _coarse(ground, rng)
    listed, ranked = 0.0, []
    for a in range(len(faults)):
        for b in range(a):
            if not same_thing(rows.strata[faults[a]], rows.strata[faults[b]]):
                prior = 2.0 * float(weights[a] * weights[b])
                listed += prior
                ranked.append((float(np.log(prior)) + coarse[a, b], prior, faults[a], faults[b]))
    ranked.sort(reverse=True)
    best = [one for one in ranked[:_BEST] if one[0] > ranked[0][0] - _NEGLIGIBLE]
    values = _in_earnest(ground, bank.shown[k], case, awake, effect, [(a, b) for *_, a, b in best], rng)
    mass: dict[Key, float] = {}
    for (_, prior, a, b), value in zip(best, values, strict=True):
        key = _key(rows.strata[a], rows.strata[b])
        likelihood = float(np.exp(min(value - top, 60.0)))
        mass[key] = mass.get(key, 0.0) + bank.pair_weights[k] * prior / listed * likelihood
    return mass


def _key(a: Stratum, b: Stratum) -> Key:
    first, second = sorted((a, b), key=lambda s: s.key)
    assert not isinstance(first.key, str) and not isinstance(second.key, str)
    return (*first.key, *second.key)


def _effects(rows: Rows, case: Case, awake: dict[str | None, Array]) -> Array:
    """What each draw's fault adds to every reading of the case, nothing while it sleeps; shape (n, reads)."""
    columns = []
    for read in case.reads:
        added = rows.readings[:, read.channel] - rows.asleep[:, read.channel]
        columns.append(np.where(awake[read.complaint], added, 0.0))
    return np.stack(columns, axis=1)


def _whiten(law: Law, rows: Rows, faults: list[int], effect: Array) -> _Ground:
    columns = law.normal
    sound = rows.asleep[:, [law.columns[i] for i in columns]]
    sd = np.array([channel.sd for channel in law.channels])
    same = np.array([[a.instrument == b.instrument for b in law.channels] for a in law.channels])
    variance = law.nominal + BIAS**2 * np.outer(sd, sd) * same + np.diag((1.2 * sd) ** 2)
    variance = variance + np.cov(sound.T).reshape(len(columns), len(columns))
    white = np.linalg.cholesky(np.linalg.inv(variance))
    const = -0.5 * float(np.linalg.slogdet(2.0 * np.pi * variance)[1])
    left = (law.values - sound.mean(axis=0)) @ white
    return _Ground(law, rows, faults, left, effect[:, columns] @ white, const)


def _coarse(ground: _Ground, rng: np.random.Generator) -> Array:
    """Log mean likelihood of the normal readings for every pair of kinds, shape (kinds, kinds)."""
    rows, kinds = ground.rows, len(ground.faults)
    counts = np.diff(np.append(rows.starts, len(ground.added)))
    picks = np.concatenate([rows.starts[f] + rng.integers(0, counts[f], _COARSE) for f in ground.faults])
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


def _in_earnest(
    ground: _Ground,
    shown: tuple[Channel, ...],
    case: Case,
    awake: dict[str | None, Array],
    effect: Array,
    pairs: list[tuple[int, int]],
    rng: np.random.Generator,
) -> Array:
    """Log mean likelihood of all findings for some pairs, shape (pairs,)."""
    if not pairs:
        return np.zeros(0)
    rows = ground.rows
    first, second, back = [], [], []
    for a, b in pairs:
        i, j, weight = _combinations(ground, a, b, rng)
        first.append(i)
        second.append(j)
        back.append(weight)
    a, b, log_back = np.concatenate(first), np.concatenate(second), np.concatenate(back)
    seen = _together(rows, case, shown, effect, awake, a, b)
    signals = None
    if case.codes:
        ill = rows.signals.where(awake[case.codes[0][2]], rows.signals_asleep)
        signals = _signals(ill, rows.signals_asleep, a, b)
    logs = (weigh(ground.law, shown, case, seen, signals, rng) + log_back).reshape(len(pairs), _ROWS)
    top = logs.max(axis=1)
    return np.asarray(np.log(np.exp(logs - top[:, None]).mean(axis=1)) + top)


def _combinations(ground: _Ground, a: int, b: int, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """Draws of two kinds to put together, more where they explain the readings, and the log weight that makes up for it."""
    rows = ground.rows
    counts = np.diff(np.append(rows.starts, len(ground.added)))
    one, other = (rows.starts[f] + rng.integers(0, counts[f], _FINE) for f in (a, b))
    near = _square(ground.left, ground.added[one], ground.added[other]).ravel()
    near = np.where(np.isfinite(near), near, np.inf)
    like = np.exp(-0.35 * (near - near.min())) if np.isfinite(near.min()) else np.ones(near.size)
    share = _FLOOR / near.size + (1.0 - _FLOOR) * like / like.sum()
    picked = rng.choice(near.size, size=_ROWS, p=share / share.sum())
    return one[picked // _FINE], other[picked % _FINE], -np.log(share[picked] * near.size)


def _together(
    rows: Rows,
    case: Case,
    shown: tuple[Channel, ...],
    effect: Array,
    awake: dict[str | None, Array],
    a: Array,
    b: Array,
) -> Array:
    seen = np.stack([rows.asleep[a, read.channel] for read in case.reads], axis=1) + effect[a] + effect[b]
    for i, read in enumerate(case.reads):
        channel = shown[read.channel]
        if channel.law == "answer":
            values = np.where(awake[read.complaint], rows.readings[:, read.channel], rows.asleep[:, read.channel])
            both = values[a], values[b]
            seen[:, i] = both[0] * both[1] if channel.quantity == "signal_polarity" else np.minimum(*both)
    return seen


def _signals(ill: Signals, sound: Signals, a: Array, b: Array) -> Signals:
    relation = {c: ill.relation[c][a] + ill.relation[c][b] - sound.relation[c][b] for c in ill.relation}
    off = {c: ill.off_target[c][a] + ill.off_target[c][b] - sound.off_target[c][b] for c in ill.off_target}
    rate = {c: np.minimum(ill.rate[c][a], ill.rate[c][b]) for c in ill.rate}
    lost = {w: 1.0 - (1.0 - ill.lost[w][a]) * (1.0 - ill.lost[w][b]) for w in ill.lost}
    return Signals(relation, off, rate, lost)
