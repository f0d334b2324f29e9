"""The reference: the posterior by brute force, from at least 200,000 engines drawn from the prior.

Imports nothing of ``infer`` nor of ``predict``. It knows the very law by which ``common_findings`` makes its cases
and inverts it by drawing: hypothesis by hypothesis, size, tooth counts, lengths and all bounded spreads are drawn;
what moves readings along straight lines is integrated in closed form; the codes are then judged on a draw of it given
the readings. Single hypotheses are weighed without approximation but for the noise of drawing. Two faults at once are
weighed by adding up what two drawn single faults do (exact for all that adds): see ``reference_pairs``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.common_codes import Signals, code_chance
from benchmarks.common_drive import Array, Drive, covariance
from benchmarks.common_findings import (
    AWAKE,
    BIAS,
    MISCOUNT,
    OUTLIER,
    Case,
    Key,
    Rows,
    Stratum,
    build_rows,
    code_linear,
    draw_limit,
    noise_scale,
    strata_of,
)
from benchmarks.common_readings import Channel, channels
from witnessmark.engine.candidates import naming_odds
from witnessmark.engine.teeth import stage_steps

__all__ = [
    "LOW",
    "Bank",
    "Law",
    "Reference",
    "awake_rows",
    "glance",
    "law_of",
    "make_bank",
    "reference",
    "tooth_shares",
    "weigh",
]

_CONFIGS = 24  # noise scales tried, evenly spread over their prior
_PAIR_DRIVES = 3  # likeliest engines on which two faults at once are looked for
LOW = -1e30
_WORTH, _ROUGH = 0.003, 0.07  # share of the whole above which, and error above which, a hypothesis is drawn once more
_MORE = 8_000  # draws then; four times as many where that is not enough
_NEAR = 9.0  # nats below its best draw: the box of what matters
_HOPELESS = 25.0  # nats below the best draw


@dataclass(frozen=True)
class Bank:
    """Engines drawn beforehand for one description: one entry for each engine it allows."""

    drives: tuple[Drive, ...]
    shown: tuple[tuple[Channel, ...], ...]
    rows: tuple[Rows, ...]
    weights: tuple[Array, ...]  # prior of every stratum, engine included
    pair_weights: tuple[float, ...]

    @property
    def draws(self) -> int:
        """How many engines were drawn."""
        return sum(len(rows.readings) for rows in self.rows)


@dataclass(frozen=True)
class Reference:
    """The posterior of one case.

    Parameters
    ----------
    mass : mapping of Key to float
        Probability of every hypothesis; sums to 1.
    noise : mapping of Key to float
        Standard error that drawing leaves on a hypothesis' mass, as a share of it.
    """

    mass: dict[Key, float]
    noise: dict[Key, float] = field(default_factory=dict)


def make_bank(drives: Sequence[Drive], nobody_worked: bool, draws: int, rng: np.random.Generator) -> Bank:
    """Draw engines for every hypothesis on every engine a description allows.

    Parameters
    ----------
    drives : sequence of Drive
    nobody_worked : bool
    draws : int
        In all, at least.
    rng : Generator
    """
    all_strata = [strata_of(drive, nobody_worked) for drive in drives]
    each = int(np.ceil(draws / sum(_more(stratum) for strata, _ in all_strata for stratum in strata)))
    shown, rows, weights, pairs = [], [], [], []
    for drive, (strata, pair) in zip(drives, all_strata, strict=True):
        mine = channels(drive)
        counts = [each * _more(stratum) for stratum in strata]
        shown.append(mine)
        rows.append(build_rows(drive, strata, counts, mine, rng))
        weights.append(np.array([stratum.weight for stratum in strata]) * drive.weight)
        pairs.append(pair * drive.weight)
    # Each engine's hypotheses sum to the engine's own share.
    for k, drive in enumerate(drives):
        total = (weights[k].sum() + pairs[k]) / drive.weight
        weights[k] = weights[k] / total
        pairs[k] = pairs[k] / total
    return Bank(tuple(drives), tuple(shown), tuple(rows), tuple(weights), tuple(pairs))


def _more(stratum: Stratum) -> int:
    """Draws against the least: likely hypotheses must not hang on a few, two sizes need more than one."""
    axes = sum(len(kind.axes) for kind in stratum.kinds)
    extra = 9 if stratum.key == "none_of_these" else 0
    return (6 if axes > 1 else 3) + int(2.0 * np.sqrt(stratum.weight)) + extra


@dataclass(frozen=True)
class Law:
    """What one engine's findings are weighed with: everything that is the same for all draws."""

    drive: Drive
    reads: list[Channel]  # of every reading of the case
    columns: list[int]  # their numbers
    normal: list[int]  # which of the readings are weighed together
    channels: list[Channel]  # of those
    values: Array
    nominal: Array  # covariance of sound engines, tolerances in it
    moves: Array  # covariance of the cams' phase at the monitors with the readings
    cams: Array  # covariance of that phase


def law_of(bank: Bank, k: int, case: Case) -> Law | None:
    """The law of a case's findings on one engine; None where that engine has no place for one of them."""
    numbers = {channel.spot: i for i, channel in enumerate(bank.shown[k])}
    if any(read.spot not in numbers for read in case.reads):
        return None
    columns = [numbers[read.spot] for read in case.reads]
    reads = [bank.shown[k][column] for column in columns]
    normal = [i for i, channel in enumerate(reads) if channel.law == "normal"]
    used = [reads[i] for i in normal]
    drive = bank.drives[k]
    monitors = [code_linear(drive, cam) for cam in drive.cams]
    linear = [channel.linear for channel in used]
    return Law(
        drive, reads, columns, normal, used, np.array([case.reads[i].value for i in normal]),
        covariance(linear), covariance(monitors, linear), covariance(monitors),
    )  # fmt: skip


def reference(bank: Bank, case: Case, rng: np.random.Generator, *, pairs: bool = True) -> Reference:
    """The posterior of one case.

    Parameters
    ----------
    bank : Bank
        Drawn for the same description and history.
    case : Case
    rng : Generator
    pairs : bool
        False leaves two faults at once out.
    """
    from benchmarks.reference_pairs import pair_mass  # it builds on this module

    mass: dict[Key, float] = {}
    spread: dict[Key, float] = {}
    logs, top = _all_logs(bank, case, rng)
    found = [_means(bank, k, logs[k] - top) for k in range(len(bank.rows))]
    total = sum(float(means @ bank.weights[k]) for k, (means, _) in enumerate(found))
    drive_mass = []
    for k, rows in enumerate(bank.rows):
        means, errors = found[k]
        for j in np.flatnonzero((bank.weights[k] * means > _WORTH * total) & (errors > _ROUGH * means)):
            law = law_of(bank, k, case)
            assert law is not None
            means[j], errors[j] = _again(law, case, rows, int(j), logs[k] - top, top, rng, _MORE)
            if errors[j] > 1.5 * _ROUGH * means[j] and bank.weights[k][j] * means[j] > 8.0 * _WORTH * total:
                means[j], errors[j] = _again(law, case, rows, int(j), logs[k] - top, top, rng, 4 * _MORE)
        for stratum, weight, mean, error in zip(rows.strata, bank.weights[k], means, errors, strict=True):
            mass[stratum.key] = mass.get(stratum.key, 0.0) + weight * mean
            spread[stratum.key] = float(np.hypot(spread.get(stratum.key, 0.0), weight * error))
        drive_mass.append(float(np.dot(bank.weights[k], means)))
    if pairs:
        order = [int(k) for k in np.argsort(-np.array(drive_mass))[:_PAIR_DRIVES]]
        for k in (k for k in order if drive_mass[k] > 1e-3 * max(drive_mass)):
            for key, value in pair_mass(bank, k, case, top, rng, float(np.log(max(sum(drive_mass), 1e-300)))).items():
                mass[key] = mass.get(key, 0.0) + value
    total = sum(mass.values())
    noise = {key: spread[key] / value for key, value in mass.items() if key in spread and value > 0.0}
    return Reference({key: value / total for key, value in mass.items()}, noise)


def glance(bank: Bank, case: Case, rng: np.random.Generator) -> dict[Key, float]:
    """Rough posterior of single hypotheses: nothing drawn anew, no two faults at once.

    Parameters
    ----------
    bank : Bank
        A small one will do.
    case : Case
    rng : Generator
    """
    logs, top = _all_logs(bank, case, rng)
    mass: dict[Key, float] = {}
    for k, rows in enumerate(bank.rows):
        means, _ = _means(bank, k, logs[k] - top)
        for stratum, weight, mean in zip(rows.strata, bank.weights[k], means, strict=True):
            mass[stratum.key] = mass.get(stratum.key, 0.0) + float(weight * mean)
    total = sum(mass.values())
    return {key: value / total for key, value in mass.items()}


def tooth_shares(bank: Bank, case: Case, rng: np.random.Generator) -> dict[str, float]:
    """Share of every tooth count among the single whole-step explanations; empty where there are none.

    Parameters
    ----------
    bank : Bank
    case : Case
    rng : Generator
    """
    logs, top = _all_logs(bank, case, rng)
    teeth: dict[str, float] = {}
    for k, rows in enumerate(bank.rows):
        _add_teeth(teeth, rows, np.exp(logs[k] - top), bank.weights[k])
    steps = sum(teeth.values())
    return {label: value / steps for label, value in teeth.items()} if steps > 0.0 else {}


def _all_logs(bank: Bank, case: Case, rng: np.random.Generator) -> tuple[list[Array], float]:
    """Log likelihood of every draw of every engine, and the highest."""
    logs = []
    for k, rows in enumerate(bank.rows):
        law = law_of(bank, k, case)
        logs.append(np.full(len(rows.readings), LOW) if law is None else _log_likelihood(law, case, rows, rng))
    return logs, max(float(np.max(log_like)) for log_like in logs)


def _means(bank: Bank, k: int, logs: Array) -> tuple[Array, Array]:
    """Mean likelihood of every stratum of one engine, and its standard error."""
    like, starts = np.exp(logs), bank.rows[k].starts
    counts = np.diff(np.append(starts, len(like)))
    means = np.add.reduceat(like, starts) / counts
    squares = np.add.reduceat(like**2, starts) / counts
    return means, np.sqrt(np.maximum(squares - means**2, 0.0) / counts)


def _again(
    law: Law, case: Case, rows: Rows, j: int, logs: Array, top: float, rng: np.random.Generator, more: int
) -> tuple[float, float]:
    """Mean likelihood of one stratum from more draws, where those before found it not negligible.

    Severities outside the box of what matters keep the draws they had: two strata of one integral.
    """
    stratum, start = rows.strata[j], int(rows.starts[j])
    stop = int(np.append(rows.starts, len(logs))[j + 1])
    mine = logs[start:stop]
    like = np.exp(mine)
    axes = [axis for kind in stratum.kinds for axis in kind.axes]
    count, inside, volume, box = stop - start, np.ones(stop - start, dtype=bool), 1.0, None
    if axes:
        sizes = np.concatenate(rows.theta[j], axis=1)
        shares = np.stack([axis.share(sizes[:, i]) for i, axis in enumerate(axes)], axis=1)
        near = shares[mine > mine.max() - _NEAR]
        margin = 3.0 / count ** (1.0 / len(axes))
        low, high = np.maximum(near.min(axis=0) - margin, 0.0), np.minimum(near.max(axis=0) + margin, 1.0)
        inside = np.all((shares >= low) & (shares <= high), axis=1)
        volume, box = float(np.prod(high - low)), (low, high)
    fresh = build_rows(law.drive, [stratum], [more], law.reads, rng, box=box)
    local = replace(law, columns=list(range(len(law.reads))))
    new = np.exp(_log_likelihood(local, case, fresh, rng) - top)
    left = np.where(inside, 0.0, like)
    mean = volume * float(new.mean()) + float(left.mean())
    return mean, float(np.hypot(volume * new.std() / len(new) ** 0.5, left.std() / count**0.5))


def awake_rows(rows: Rows, rng: np.random.Generator) -> dict[str | None, Array]:
    """Whether each draw's fault was awake in each kind of episode, shape (n,) of bool."""
    n = len(rows.readings)
    counts = np.diff(np.append(rows.starts, n))
    comes_and_goes = np.repeat([any("I" in i.row.onset for i in s.instances) for s in rows.strata], counts)
    return {flag: ~comes_and_goes | (rng.random(n) < share) for flag, (share, _) in AWAKE.items()}


def _log_likelihood(law: Law, case: Case, rows: Rows, rng: np.random.Generator) -> Array:
    """Log probability of all findings for every draw, up to one constant."""
    awake = awake_rows(rows, rng)
    seen = np.zeros((len(rows.readings), len(case.reads)))
    for i, (read, column) in enumerate(zip(case.reads, law.columns, strict=True)):
        seen[:, i] = np.where(awake[read.complaint], rows.readings[:, column], rows.asleep[:, column])
    signals = None
    if case.codes:
        signals = rows.signals.where(awake[case.codes[0][2]], rows.signals_asleep)
    return weigh(law, case, seen, signals, rng)


def weigh(law: Law, case: Case, seen: Array, signals: Signals | None, rng: np.random.Generator) -> Array:
    """Log probability of a case's findings for n engines.

    Parameters
    ----------
    law : Law
    case : Case
    seen : array, shape (n, reads)
        What an ideal instrument would show.
    signals : Signals, optional
        What the monitors see, where codes were read.
    rng : Generator
    """
    base = np.zeros(len(seen))
    for i, read in enumerate(case.reads):
        base += _other_part(law.reads[i], read.value, seen[:, i])
    variances = [_Variance.of(law, scale) for scale in _scales(law, rng)]
    normal = seen[:, law.normal]
    ceiling = base.copy()  # the most that the normal readings can give, whichever of them was misread
    for config, variance in enumerate(variances):
        ceiling[config::_CONFIGS] += _ceiling(law, normal[config::_CONFIGS], variance)
    result = np.full(len(seen), LOW)
    first = np.argsort(-ceiling)[: max(1, len(seen) // 40)]
    result[first] = _in_full(law, case, normal, base, signals, first, variances, rng)
    # Nothing that follows can lift a draw above its ceiling: what is hopeless against the best stays hopeless.
    hopeful = ceiling > np.max(result) - _HOPELESS
    hopeful[first] = False
    rest = np.flatnonzero(hopeful)
    result[rest] = _in_full(law, case, normal, base, signals, rest, variances, rng)
    return result


@dataclass(frozen=True)
class _Variance:
    """Covariance of the readings about what is shown, at one set of noise scales."""

    inverse: Array
    const: float
    gain: Array  # (cams, q): mean of each cam's phase for a residual of one
    root: Array  # (cams, cams): of what is left open of it

    @classmethod
    def of(cls, law: Law, scale: dict[str, float]) -> _Variance:
        q = len(law.normal)
        sd = np.array([channel.sd for channel in law.channels])
        same = np.array([[a.instrument == b.instrument for b in law.channels] for a in law.channels]).reshape(q, q)
        noise = np.array([scale[channel.instrument] for channel in law.channels]) * sd
        whole = law.nominal.reshape(q, q) + BIAS**2 * np.outer(sd, sd) * same + np.diag(noise**2)
        inverse = np.linalg.inv(whole)
        const = -0.5 * (float(np.linalg.slogdet(whole)[1]) + q * float(np.log(2.0 * np.pi)))
        gain = law.moves.reshape(-1, q) @ inverse
        left = law.cams - gain @ law.moves.reshape(-1, q).T
        return cls(inverse, const, gain, np.linalg.cholesky(left + 1e-9 * np.eye(len(left))))


def _ceiling(law: Law, seen: Array, v: _Variance) -> Array:
    """No less than the log likelihood of the normal readings, up to what a mistyped sign or point could add."""
    r = np.nan_to_num(law.values - seen)
    u = r @ v.inverse
    quad = np.einsum("nq,nq->n", u, r)
    if not len(law.normal):
        return np.zeros(len(seen))
    diagonal = np.diag(v.inverse)
    saved = np.max(u * u / diagonal, axis=1)  # whatever the reading was meant to be, it fits no better than left out
    return np.asarray(v.const - 0.5 * np.maximum(quad - saved, 0.0) + 2.0)


def _in_full(
    law: Law,
    case: Case,
    normal: Array,
    base: Array,
    signals: Signals | None,
    rows: NDArray[np.intp],
    variances: Sequence[_Variance],
    rng: np.random.Generator,
) -> Array:
    """Log likelihood of some draws: readings, then codes on a draw of the cams' phase given the readings."""
    total = base[rows]
    shift = np.zeros((len(rows), len(law.drive.cams)))
    for config, variance in enumerate(variances):
        mine = np.flatnonzero(rows % _CONFIGS == config)
        part, shift[mine] = _normal_part(law, normal[rows[mine]], variance, rng)
        total[mine] += part
    if signals is not None and len(rows):
        total += _code_part(law.drive, case, signals.rows(rows), shift, rng)
    return total


def _scales(law: Law, rng: np.random.Generator) -> list[dict[str, float]]:
    """Noise scales of every class of instrument, evenly spread over their prior and shuffled."""
    names = sorted({channel.instrument for channel in law.channels})
    drawn = {name: noise_scale((rng.permutation(_CONFIGS) + rng.random(_CONFIGS)) / _CONFIGS) for name in names}
    return [{name: float(values[c]) for name, values in drawn.items()} for c in range(_CONFIGS)]


def _normal_part(law: Law, seen: Array, v: _Variance, rng: np.random.Generator) -> tuple[Array, Array]:
    """Readings with at most one of them misread or mistyped; and a draw of the cams' phase given them."""
    q = len(law.normal)
    monitors = len(law.drive.cams)
    if q == 0:
        return np.zeros(len(seen)), rng.normal(size=(len(seen), monitors)) @ v.root.T
    inverse, const = v.inverse, v.const
    absent = ~np.isfinite(seen)
    r = np.where(absent, 0.0, law.values - np.nan_to_num(seen))
    u = r @ inverse
    quad = np.einsum("nq,nq->n", u, r)
    logs, jumps, drops = [np.log1p(-OUTLIER * q) + const - 0.5 * quad], [(0, 0.0)], [False]
    for i, channel in enumerate(law.channels):
        pii = inverse[i, i]
        misread = OUTLIER * (0.5 if channel.typed else 1.0)
        left = const + 0.5 * np.log(2.0 * np.pi / pii) - 0.5 * (quad - u[:, i] ** 2 / pii)
        inside = abs(law.values[i]) <= channel.wide
        logs.append(left + (np.log(misread / (2.0 * channel.wide)) if inside else LOW))
        jumps.append((i, 0.0))
        drops.append(True)
        if channel.typed:
            for meant, jacobian in ((-law.values[i], 1.0), (0.1 * law.values[i], 0.1), (10.0 * law.values[i], 10.0)):
                d = meant - law.values[i]
                logs.append(np.log(OUTLIER / 6.0 * jacobian) + const - 0.5 * (quad + 2.0 * d * u[:, i] + d * d * pii))
                jumps.append((i, d))
                drops.append(False)
    stack = np.stack(logs, axis=1)
    stack = _only_misread(stack, absent, jumps, drops)
    top = np.max(stack, axis=1)
    weights = np.exp(stack - top[:, None])
    total = np.log(weights.sum(axis=1)) + top
    if monitors == 0:
        return total, np.zeros((len(seen), 0))
    return total, _phase_given(law, v, u, weights, jumps, drops, rng)


def _only_misread(stack: Array, absent: Array, jumps: list[tuple[int, float]], drops: list[bool]) -> Array:
    """Where no such reading could be, it can only have been misread, and only one of them."""
    missing = absent.sum(axis=1)
    if not missing.any():
        return stack
    first = np.argmax(absent, axis=1)
    which = [i if drop else -1 for (i, _), drop in zip(jumps, drops, strict=True)]
    allowed = np.arange(absent.shape[1])[:, None] == np.array(which)[None, :]
    stack = np.where((missing == 1)[:, None] & ~allowed[first], LOW, stack)
    return np.where((missing > 1)[:, None], LOW, stack)


def _phase_given(
    law: Law,
    v: _Variance,
    u: Array,
    weights: Array,
    jumps: list[tuple[int, float]],
    drops: list[bool],
    rng: np.random.Generator,
) -> Array:
    """One draw of each cam's straight-line phase, given the readings and which of them was misread."""
    n = len(u)
    cumulative = np.cumsum(weights, axis=1)
    picked = (cumulative < rng.random(n)[:, None] * cumulative[:, -1:]).sum(axis=1)
    picked = np.minimum(picked, weights.shape[1] - 1)
    draw = u @ law.moves.T + rng.normal(size=(n, len(v.root))) @ v.root.T
    for k in np.unique(picked[picked > 0]):
        mine = np.flatnonzero(picked == k)
        i, d = jumps[k]
        along = v.gain[:, i]
        if drops[k]:
            pii = v.inverse[i, i]
            draw[mine] -= np.outer(u[mine, i] / pii, along)
            draw[mine] += np.outer(rng.normal(size=len(mine)) / np.sqrt(pii), along)
        else:
            draw[mine] += d * along
    return draw


def _other_part(channel: Channel, value: float, seen: Array) -> Array:
    if channel.law == "normal":
        return np.zeros(len(seen))
    if channel.law == "count":
        off = np.abs(value - np.nan_to_num(seen, nan=1e6))
        return np.log(np.where(off < 0.5, 1.0 - MISCOUNT, np.where(off < 1.5, MISCOUNT / 2.0, 1e-6)))
    yes = 0.5 * (1.0 + seen) if channel.quantity == "signal_polarity" else seen
    read = yes * (1.0 - channel.sd) + (1.0 - yes) * channel.sd
    return np.log(read if value > 0.5 else 1.0 - read)


def _code_part(drive: Drive, case: Case, signals: Signals, shift: Array, rng: np.random.Generator) -> Array:
    n = len(shift)
    moved = {cam: shift[:, i] for i, cam in enumerate(drive.cams)}
    limit = draw_limit(drive.engine, rng.random(n))
    naming = naming_odds(drive.engine)
    a_is = rng.choice(len(naming), size=n, p=[odds for _, odds in naming])
    a_is_intake = np.array([kind != "exhaust" for kind, _ in naming])[a_is]
    total = np.zeros(n)
    for name, is_set, _ in case.codes:
        chance = code_chance(drive, name, signals, moved, limit, a_is_intake)
        read = chance * 0.98 + (1.0 - chance) * 0.0004
        total += np.log(read if is_set else 1.0 - read)
    return total


def _add_teeth(teeth: dict[str, float], rows: Rows, like: Array, weights: Array) -> None:
    """Share of every tooth count among the single whole-step explanations."""
    counts = np.diff(np.append(rows.starts, len(like)))
    assert rows.drive.engine.drive is not None
    for stratum, weight, start, count in zip(rows.strata, weights, rows.starts, counts, strict=True):
        terms = [t for kind in stratum.kinds for t in kind.terms if t.variable == "pitch_slip"]
        if not terms:
            continue
        stage = next(s for s in rows.drive.stages if terms[0].place.startswith(f"{s.id}."))
        labels = stage_steps(rows.drive.engine.drive, stage).labels
        mine = slice(int(start), int(start) + int(count))
        sums = np.bincount(rows.latent.teeth[stage.id][mine], weights=like[mine], minlength=len(labels))
        for label, value in zip(labels, sums, strict=True):
            name = f"{stage.id}: {label}"
            teeth[name] = teeth.get(name, 0.0) + float(weight * value / count)
