"""Cases for the benchmarks: an engine as far as described, what is truly wrong with it, and findings as typed by hand.

The law: a hypothesis from the catalogue's priors, its size, a sound engine's own spread, each instrument's own bias
and noise scale, a maker's own code limit and naming, a misread or mistyped value now and then (at most one a case).
``reference_posterior`` inverts this same law by brute force.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from benchmarks.common_codes import Signals, code_chance, code_names, signals_of
from benchmarks.common_drive import Array, Drive, Latent, Spot, edited, linear_part, sample_healthy, spread_of, unlisted
from benchmarks.common_readings import Channel
from benchmarks.drive_list import DRIVE, SYSTEM
from witnessmark.catalogue.faults import FaultInstance, Kind, fault_instances
from witnessmark.engine.candidates import candidate_engines, naming_odds
from witnessmark.engine.teeth import stage_steps
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.vocabulary import Condition, Place

__all__ = ["AWAKE", "Case", "Key", "Rows", "Stratum", "build_rows", "draw_case", "drives_of", "strata_of"]

Key = tuple[tuple[str, str], ...] | str
BIAS = 0.5  # of one instrument, as a share of its stated spread
OUTLIER = 0.008  # half misread, half mistyped (docs/catalogue.md: 0.4 %)
MISCOUNT = 0.06
# Chance that an intermittent fault was awake, by whether the complaint was there: mean and count of a beta law.
AWAKE = {"present": (0.95, 20.0), None: (0.6, 5.0), "absent": (0.1, 10.0)}
_LIMIT_DEG, _LIMIT_SPREAD = 8.5, 0.38


@dataclass(frozen=True)
class Stratum:
    """One discrete way the world may be on one engine: its prior weight per 1,000 complaints, severities left open."""

    key: Key
    weight: float
    instances: tuple[FaultInstance, ...] = ()
    kinds: tuple[Kind, ...] = ()


def strata_of(drive: Drive, nobody_worked: bool) -> tuple[tuple[Stratum, ...], float]:
    """Every single hypothesis with its prior weight (summing over pairs to that of one engine), and the pairs' total.

    Notes
    -----
    catalogue.md: "two at once" falls on this list, on one of it and one elsewhere, or on neither, by their weights.
    """
    others = DRIVE.others
    found = []
    for instance in fault_instances(drive.engine, SYSTEM):
        weight = instance.row.prior * instance.share * (0.1 if nobody_worked and instance.row.onset == "W" else 1.0)
        found += [(instance, kind, weight * kind.weight) for kind in instance.kinds if weight > 0.0]
    listed = sum(weight for *_, weight in found)
    rest = others["elsewhere"]
    mine, two = listed / (listed + rest), others["two_at_once"]
    lift = 1.0 + two * 2.0 * mine * (1.0 - mine) / listed
    strata = [Stratum((i.key,), w * lift, (i,), (k,)) for i, k, w in found]
    strata.append(Stratum("nothing_wrong", others["nothing_wrong"]))
    # Unlisted causes sit where the known ones sit: most of them leave the drive alone.
    unknown = others["none_of_these"]
    strata.append(Stratum("elsewhere", rest + two * (1.0 - mine) ** 2 + unknown * (1.0 - mine)))
    strata.append(Stratum("none_of_these", unknown * mine))
    return tuple(strata), two * mine**2


def drives_of(engine: Engine, seen: Iterable[tuple[int, str]]) -> tuple[Drive, ...]:
    """Every engine that a description allows, given the cams that readings speak of."""
    return tuple(Drive.of(one.engine, one.weight) for one in candidate_engines(engine, seen=seen))


@dataclass(frozen=True)
class Rows:
    """Many engines side by side, stratum after stratum: readings as they are, and as they were if the fault slept."""

    drive: Drive
    strata: tuple[Stratum, ...]
    starts: np.ndarray
    readings: Array  # (n, channels)
    asleep: Array
    signals: Signals
    signals_asleep: Signals
    latent: Latent
    theta: tuple[tuple[Array, ...], ...]


def build_rows(
    drive: Drive,
    strata: Sequence[Stratum],
    counts: Sequence[int],
    shown: Sequence[Channel],
    rng: np.random.Generator,
    *,
    box: tuple[Array, Array] | None = None,
) -> Rows:
    """Draw so many engines of every stratum.

    Parameters
    ----------
    drive : Drive
    strata : sequence of Stratum
    counts : sequence of int
        How many of each.
    shown : sequence of Channel
        Readings wanted.
    rng : Generator
    box : tuple of array, optional
        Lower and upper shares of the prior within which severities are drawn, one for each axis.
    """
    n = int(sum(counts))
    base = sample_healthy(drive, n, rng)
    state: dict[Spot, Array] = {}
    moved = {name: np.zeros(n) for name in unlisted(drive, 1, rng)}
    starts = np.concatenate([[0], np.cumsum(counts)])[:-1].astype(int)
    sizes = []
    for stratum, start, count in zip(strata, starts, counts, strict=True):
        rows = slice(int(start), int(start) + int(count))
        sizes.append(tuple(_severities(kind, count, rng, box) for kind in stratum.kinds))
        for kind, theta in zip(stratum.kinds, sizes[-1], strict=True):
            edited(base, kind, theta, rows, state)
            for term in kind.terms:
                if f"there:{term.place}" in base.own and term.variable.startswith(("phaser", "spool")):
                    base.own[f"there:{term.place}"][rows] = 1.0
        if stratum.key == "none_of_these":
            for name, values in unlisted(drive, count, rng).items():
                moved[name][rows] = values
    ill = replace(base, state={**base.state, **state}, moved=moved)
    readings = np.stack([c.shows(ill) for c in shown], axis=1) if shown else np.zeros((n, 0))
    asleep = np.stack([c.shows(base) for c in shown], axis=1) if shown else np.zeros((n, 0))
    signals = signals_of(drive, ill), signals_of(drive, base)
    return Rows(drive, tuple(strata), starts, readings, asleep, *signals, ill, tuple(sizes))


def _severities(kind: Kind, count: int, rng: np.random.Generator, box: tuple[Array, Array] | None) -> Array:
    """Evenly spread over the prior (or a box of it) along every axis, shape (count, axes)."""
    sizes = []
    for k, axis in enumerate(kind.axes):
        share = (rng.permutation(count) + rng.random(count)) / max(count, 1)
        if box is not None:
            share = box[0][k] + (box[1][k] - box[0][k]) * share
        sizes.append(axis.at(share))
    return np.stack(sizes, axis=1) if sizes else np.zeros((count, 0))


@dataclass(frozen=True)
class Read:
    """One reading of a case: what was read, and whether the complaint was there."""

    spot: tuple[str, Place, Condition]  # which channel: quantity, place, condition
    value: float
    complaint: str | None


@dataclass(frozen=True)
class Case:
    """One vehicle: description, what was found, and the truth.

    Parameters
    ----------
    engine : Engine
        As far as described.
    nobody_worked : bool
    truth : Key
    sizes : tuple of (variable, value)
        True severities, signed.
    teeth : str
        "primary: crank 20" where a whole pitch is at stake, else empty.
    reads : tuple of Read
    codes : tuple of (code, set, complaint)
    findings : tuple of Finding
        The same for the program.
    """

    engine: Engine
    nobody_worked: bool
    truth: Key
    sizes: tuple[tuple[str, float], ...]
    teeth: str
    reads: tuple[Read, ...]
    codes: tuple[tuple[str, bool, str | None], ...]
    findings: tuple[Finding, ...]
    drive: int = 0  # the true one of those allowed


# What is looked at together, and how often; the computer's or the scope's word on the cams is always there.
GROUPS = {
    "deviation": 0.85, "actual": 0.1, "learnt": 0.12, "commanded": 0.25, "phase": 0.3, "separation": 0.1, "scope": 0.3,
    "polarity": 0.1, "numbers": 0.08, "pressure": 0.3, "marks": 0.25, "pins": 0.15, "tensioner": 0.2, "wheels": 0.12,
    "codes": 0.6,
}  # fmt: skip


def draw_case(
    engine: Engine,
    drives: Sequence[Drive],
    shown: Sequence[Sequence[Channel]],
    rng: np.random.Generator,
    *,
    from_prior: bool,
    nobody_worked: bool,
    groups: dict[str, float] | None = None,
    only: tuple[str, ...] = (),
    complaint: str | None = "any",
    least: float = 0.0,
) -> Case:
    """One case on one of the engines a description allows.

    Parameters
    ----------
    engine : Engine
    drives : sequence of Drive
    shown : sequence of sequence of Channel
        Of every drive.
    rng : Generator
    from_prior : bool
        True draws as complaints come in; False draws fault kinds evenly.
    nobody_worked : bool
    groups : mapping, optional
        How often each group of readings is taken.
    only : tuple of str
        Fault ids to draw from, where not all.
    complaint : str, optional
        Whether it was there at every reading; "any" draws it for every group of readings.
    least : float
        Share of the prior of every severity below which none is drawn: small faults hide among sound engines.
    """
    pick = int(rng.choice(len(drives), p=np.array([d.weight for d in drives]) / sum(d.weight for d in drives)))
    drive = drives[pick]
    stratum = _draw_stratum(drive, rng, from_prior, nobody_worked, only)
    rows = build_rows(drive, [stratum], [1], shown[pick], rng, box=(np.full(4, least), np.ones(4)))
    taken = _taken(groups or GROUPS, rng)
    flags = {name: _complaint(rng) if complaint == "any" else complaint for name in sorted(taken)}
    intermittent = any("I" in i.row.onset for i in stratum.instances)
    awake = {flag: not intermittent or bool(rng.random() < AWAKE[flag][0]) for flag in AWAKE}
    shift = {spot: float(rng.normal(0.0, spread_of(spot))) for spot in _spots(drive, shown[pick])}
    reads, findings = _read(rows, shown[pick], taken, flags, awake, shift, rng)
    if not any(f.place.get("cam") for f in findings):  # a cam that stands says nothing: then the codes must speak
        return draw_case(
            engine, drives, shown, rng, from_prior=from_prior, nobody_worked=nobody_worked, groups=groups, only=only,
            complaint=complaint, least=least,
        )  # fmt: skip
    codes = _codes(rows, flags, awake, shift, rng) if "codes" in taken else []
    for name, is_set, flag in codes:
        found = Finding("code_state", Place.of(code=name), float(is_set), 0.02, Condition(complaint=flag))
        findings.append(replace(found, source=Provenance("code")))
    return Case(
        engine, nobody_worked, stratum.key, _true_sizes(stratum, rows), _true_teeth(stratum, rows), tuple(reads),
        tuple(codes), tuple(findings), pick,
    )  # fmt: skip


def _draw_stratum(
    drive: Drive, rng: np.random.Generator, from_prior: bool, nobody_worked: bool, only: tuple[str, ...]
) -> Stratum:
    strata, pairs = strata_of(drive, nobody_worked)
    faults = [s for s in strata if s.instances and (not only or s.instances[0].row.id in only)]
    if from_prior:
        weights = np.array([s.weight for s in strata] + [pairs])
        k = int(rng.choice(len(weights), p=weights / weights.sum()))
        return strata[k] if k < len(strata) else _draw_pair(faults, rng)
    if only:
        return _one(faults, rng)
    if rng.random() < 0.1:
        return _draw_pair(faults, rng)
    name = str(rng.choice(sorted({s.instances[0].row.id for s in faults})))
    return _one([s for s in faults if s.instances[0].row.id == name], rng)


def _one(strata: Sequence[Stratum], rng: np.random.Generator) -> Stratum:
    weights = np.array([s.weight for s in strata])
    return strata[int(rng.choice(len(strata), p=weights / weights.sum()))]


def _draw_pair(faults: Sequence[Stratum], rng: np.random.Generator) -> Stratum:
    while True:
        a, b = sorted((_one(faults, rng), _one(faults, rng)), key=lambda s: s.key)
        if not same_thing(a, b):
            return joined(a, b)


def same_thing(a: Stratum, b: Stratum) -> bool:
    """Two edits of one variable at one place are no pair."""
    touched = [{(t.variable, t.place) for kind in s.kinds for t in kind.terms} for s in (a, b)]
    return a.key == b.key or bool(touched[0] & touched[1])


def joined(a: Stratum, b: Stratum, weight: float = 1.0) -> Stratum:
    """Both faults at once."""
    assert not isinstance(a.key, str)
    assert not isinstance(b.key, str)
    return Stratum((*a.key, *b.key), weight, (*a.instances, *b.instances), (*a.kinds, *b.kinds))


def _taken(groups: dict[str, float], rng: np.random.Generator) -> set[str]:
    while True:
        taken = {name for name, share in groups.items() if rng.random() < share}
        taken -= {"separation"} if "phase" in taken else set()  # the same edges twice are no second reading
        if taken & {"deviation", "phase"}:
            return taken


# When everything is looked at that can be.
RICH_GROUPS = dict.fromkeys(GROUPS, 0.95)
# What needs no knowledge of the drive: all that can be read where only the cylinders are known.
BARE_GROUPS = {name: share for name, share in GROUPS.items() if name not in ("pins", "tensioner")}


def _complaint(rng: np.random.Generator) -> str | None:
    return ("present", None, "absent")[int(rng.choice(3, p=[0.55, 0.35, 0.1]))]


def _spots(drive: Drive, shown: Sequence[Channel]) -> list[Spot]:
    parts = [c.linear for c in shown] + [code_linear(drive, cam) for cam in drive.cams]
    return sorted({spot for part in parts for spot in part})


def code_linear(drive: Drive, cam: str) -> dict[Spot, float]:
    """Straight-line differences in what a monitor sees of a cam."""
    return {**linear_part(drive, cam), ("learnt_error", f"cam_zero:{cam}"): -1.0}


def _read(
    rows: Rows,
    shown: Sequence[Channel],
    taken: set[str],
    flags: dict[str, str | None],
    awake: dict[str | None, bool],
    shift: dict[Spot, float],
    rng: np.random.Generator,
) -> tuple[list[Read], list[Finding]]:
    bias = {c.instrument: BIAS * rng.normal() for c in shown}
    scale = {name: float(noise_scale(rng.random())) for name in bias}
    reads, findings, spoilt = [], [], False
    for k, channel in enumerate(shown):
        if channel.group not in taken:
            continue
        flag = flags[channel.group]
        shows = float((rows.readings if awake[flag] else rows.asleep)[0, k])
        if not np.isfinite(shows):
            continue
        if channel.law == "normal":
            moved = sum(by * shift[spot] for spot, by in channel.linear.items())
            value = shows + moved + channel.sd * (bias[channel.instrument] + scale[channel.instrument] * rng.normal())
            wrong = _misread(value, channel, rng) if not spoilt and rng.random() < OUTLIER else None
            spoilt = spoilt or wrong is not None
            value = round(value if wrong is None else wrong, 2)
        elif channel.law == "count":
            value = shows + float(rng.choice([-1, 0, 1], p=[MISCOUNT / 2, 1 - MISCOUNT, MISCOUNT / 2]))
        else:
            value = _answer(channel, shows, rng)
        reads.append(Read(channel.spot, value, flag))
        findings.append(_finding(channel, value, flag))
    return reads, findings


def noise_scale(share: float | Array) -> Array:
    """An instrument's noise against what is stated of it: log-normal about 1.15, kept within 0.8 to 2.5."""
    low, high = ndtr(np.log(np.array([0.8, 2.5]) / 1.15) / 0.35)
    return np.asarray(1.15 * np.exp(0.35 * ndtri(low + (high - low) * np.asarray(share))))


def _misread(value: float, channel: Channel, rng: np.random.Generator) -> float:
    if channel.typed and rng.random() < 0.5:
        return float(rng.choice([-value, 10.0 * value, 0.1 * value]))
    return float(rng.uniform(-channel.wide, channel.wide))


def _answer(channel: Channel, shows: float, rng: np.random.Generator) -> float:
    sign = channel.quantity == "signal_polarity"
    yes = rng.random() < (0.5 * (1.0 + shows) if sign else shows)
    yes = yes != (rng.random() < channel.sd)
    return (1.0 if yes else -1.0) if sign else float(yes)


def _finding(channel: Channel, value: float, flag: str | None) -> Finding:
    condition = replace(channel.condition, complaint=flag)
    source = Provenance("typed" if channel.typed else "recording")
    return Finding(channel.quantity, channel.place, value, channel.sd, condition, source)


def _codes(
    rows: Rows,
    flags: dict[str, str | None],
    awake: dict[str | None, bool],
    shift: dict[Spot, float],
    rng: np.random.Generator,
) -> list[tuple[str, bool, str | None]]:
    drive, flag = rows.drive, flags["codes"]
    signals = rows.signals if awake[flag] else rows.signals_asleep
    moved = {cam: np.array([sum(by * shift[s] for s, by in code_linear(drive, cam).items())]) for cam in drive.cams}
    limit = np.array([draw_limit(drive.engine, rng.random())])
    naming = naming_odds(drive.engine)
    a_is = naming[int(rng.choice(len(naming), p=[p for _, p in naming]))][0]
    found = []
    for name in code_names(drive):
        chance = float(code_chance(drive, name, signals, moved, limit, np.array([a_is != "exhaust"]))[0])
        read = chance * 0.98 + (1.0 - chance) * 0.0004
        if rng.random() < 0.8:  # its monitor had its chance
            found.append((name, bool(rng.random() < read), flag))
    return found


def draw_limit(engine: Engine, share: float | Array) -> Array:
    """Where the computer's crank-cam codes set: as described, else log-normal about 8.5 degrees."""
    described = engine.reporting.correlation_limit_deg
    if described.exact is not None:
        return np.full(np.shape(share), described.exact)
    return np.asarray(_LIMIT_DEG * np.exp(_LIMIT_SPREAD * ndtri(np.clip(share, 0.01, 0.99))))


def _true_sizes(stratum: Stratum, rows: Rows) -> tuple[tuple[str, float], ...]:
    found = []
    for kind, theta in zip(stratum.kinds, rows.theta[0], strict=True):
        seen = set()
        for term in kind.terms:
            if term.axis is not None and term.variable not in seen:
                seen.add(term.variable)
                found.append((term.variable, float(term.amount * theta[0, term.axis])))
    return tuple(found)


def _true_teeth(stratum: Stratum, rows: Rows) -> str:
    for term in itertools.chain.from_iterable(kind.terms for kind in stratum.kinds):
        if term.variable == "pitch_slip" and len(stratum.kinds) == 1:
            stage = next(s for s in rows.drive.stages if term.place.startswith(f"{s.id}."))
            assert rows.drive.engine.drive is not None
            labels = stage_steps(rows.drive.engine.drive, stage).labels
            return f"{stage.id}: {labels[int(rows.latent.teeth[stage.id][0])]}"
    return ""
