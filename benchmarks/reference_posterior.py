"""The reference: the posterior by brute force, from at least 200,000 engines drawn from the prior.

Imports nothing of ``infer`` nor of ``predict``. It knows the very law by which ``common_findings`` makes its cases
and inverts it by drawing: hypothesis by hypothesis, size, tooth counts, lengths and all bounded spreads are drawn;
what moves readings along straight lines is integrated in closed form; the codes are then judged on a draw of it given
the readings. Single hypotheses are weighed without approximation but for the noise of drawing. Two faults at once are
weighed by adding up what two drawn single faults do (exact for all that adds): see ``reference_pairs``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

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

__all__ = ["LOW", "Bank", "Law", "Reference", "awake_rows", "law_of", "make_bank", "reference", "weigh"]

_CONFIGS = 24  # noise scales tried, evenly spread over their prior
_PAIR_DRIVES = 3  # likeliest engines on which two faults at once are looked for
LOW = -1e30
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
    teeth : mapping of str to float
        Share of every tooth count among single whole-step explanations.
    noise : mapping of Key to float
        Standard error that drawing leaves on a hypothesis' mass, as a share of it.
    """

    mass: dict[Key, float]
    teeth: dict[str, float] = field(default_factory=dict)
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
    teeth: dict[str, float] = {}
    logs = []
    for k, rows in enumerate(bank.rows):
        law = law_of(bank, k, case)
        logs.append(np.full(len(rows.readings), LOW) if law is None else _log_likelihood(law, case, rows, rng))
    top = max(float(np.max(log_like)) for log_like in logs)
    drive_mass = []
    for k, rows in enumerate(bank.rows):
        like = np.exp(logs[k] - top)
        counts = np.diff(np.append(rows.starts, len(like)))
        means = np.add.reduceat(like, rows.starts) / counts
        errors = np.sqrt(np.maximum(np.add.reduceat(like**2, rows.starts) / counts - means**2, 0.0) / counts)
        for stratum, weight, mean, error in zip(rows.strata, bank.weights[k], means, errors, strict=True):
            mass[stratum.key] = mass.get(stratum.key, 0.0) + weight * mean
            spread[stratum.key] = float(np.hypot(spread.get(stratum.key, 0.0), weight * error))
        _add_teeth(teeth, rows, like, bank.weights[k], counts)
        drive_mass.append(float(np.dot(bank.weights[k], means)))
    if pairs:
        order = [int(k) for k in np.argsort(-np.array(drive_mass))[:_PAIR_DRIVES]]
        for k in (k for k in order if drive_mass[k] > 1e-3 * max(drive_mass)):
            for key, value in pair_mass(bank, k, case, top, rng).items():
                mass[key] = mass.get(key, 0.0) + value
    total = sum(mass.values())
    noise = {key: spread[key] / value for key, value in mass.items() if key in spread and value > 0.0}
    steps = sum(teeth.values())
    return Reference(
        {key: value / total for key, value in mass.items()},
        {label: value / steps for label, value in teeth.items()} if steps > 0.0 else {},
        noise,
    )


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
    n = len(seen)
    total = np.zeros(n)
    shift = np.zeros((n, len(law.drive.cams)))
    orders = np.arange(n) % _CONFIGS
    scales = _scales(law, rng)
    for i, read in enumerate(case.reads):
        total += _other_part(law.reads[i], read.value, seen[:, i])
    for config in range(_CONFIGS):
        mine = np.flatnonzero(orders == config)
        part, shift[mine] = _normal_part(law, seen[mine][:, law.normal], scales[config], rng)
        total[mine] += part
    if signals is None:
        return total
    return _with_codes(law.drive, case, total, signals, shift, rng)


def _with_codes(
    drive: Drive, case: Case, total: Array, signals: Signals, shift: Array, rng: np.random.Generator
) -> Array:
    """Codes weighed too. They can only lower a draw: those already hopeless against the best are left hopeless."""
    result = np.full(len(total), LOW)
    first = np.argsort(-total)[: max(1, len(total) // 20)]
    result[first] = total[first] + _code_part(drive, case, signals.rows(first), shift[first], rng)
    hopeful = total > np.max(result) - _HOPELESS
    hopeful[first] = False
    rest = np.flatnonzero(hopeful)
    result[rest] = total[rest] + _code_part(drive, case, signals.rows(rest), shift[rest], rng)
    return result


def _scales(law: Law, rng: np.random.Generator) -> list[dict[str, float]]:
    """Noise scales of every class of instrument, evenly spread over their prior and shuffled."""
    names = sorted({channel.instrument for channel in law.channels})
    drawn = {name: noise_scale((rng.permutation(_CONFIGS) + rng.random(_CONFIGS)) / _CONFIGS) for name in names}
    return [{name: float(values[c]) for name, values in drawn.items()} for c in range(_CONFIGS)]


def _normal_part(law: Law, seen: Array, scale: dict[str, float], rng: np.random.Generator) -> tuple[Array, Array]:
    """Readings with at most one of them misread or mistyped; and a draw of the cams' phase given them."""
    q = len(law.normal)
    monitors = len(law.drive.cams)
    if q == 0:
        return np.zeros(len(seen)), rng.multivariate_normal(np.zeros(monitors), law.cams, size=len(seen))
    sd = np.array([channel.sd for channel in law.channels])
    same = np.array([[a.instrument == b.instrument for b in law.channels] for a in law.channels])
    noise = np.array([scale[channel.instrument] for channel in law.channels]) * sd
    variance = law.nominal + BIAS**2 * np.outer(sd, sd) * same + np.diag(noise**2)
    inverse = np.linalg.inv(variance)
    absent = ~np.isfinite(seen)
    r = np.where(absent, 0.0, law.values - np.nan_to_num(seen))
    u = r @ inverse
    quad = np.einsum("nq,nq->n", u, r)
    const = -0.5 * (np.linalg.slogdet(variance)[1] + q * np.log(2.0 * np.pi))
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
    return total, _phase_given(law, inverse, u, weights, jumps, drops, rng)


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
    inverse: Array,
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
    gain = law.moves @ inverse  # (cams, q)
    mean = u @ law.moves.T
    spread = law.cams - gain @ law.moves.T
    root = np.linalg.cholesky(spread + 1e-9 * np.eye(len(spread)))
    draw = mean + rng.normal(size=(n, len(spread))) @ root.T
    for k in np.unique(picked[picked > 0]):
        mine = np.flatnonzero(picked == k)
        i, d = jumps[k]
        along = gain[:, i]
        if drops[k]:
            pii = inverse[i, i]
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
        read = chance * 0.98 + (1.0 - chance) * 0.02
        total += np.log(read if is_set else 1.0 - read)
    return total


def _add_teeth(teeth: dict[str, float], rows: Rows, like: Array, weights: Array, counts: Array) -> None:
    """Share of every tooth count among the single whole-step explanations."""
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
