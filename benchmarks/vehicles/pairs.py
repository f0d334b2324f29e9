"""Two faults at once: those that matter one by one, and the mass of all others together."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.bank import Bank
from benchmarks.vehicles.frame import Frame, log_sum
from benchmarks.vehicles.generate import Key, same_part
from benchmarks.vehicles.law import noted, sleeps
from benchmarks.vehicles.shown import OTHER_PAIRS, Open, Shown, alone, told
from benchmarks.vehicles.variant import Seen

__all__ = ["both_seen", "pairs_of"]

Array = NDArray[np.float64]

_BEST_PAIRS = 30  # weighed on the whole net
_FEW_CELLS = 400  # of a pair's net
_LEAST_GONE = -10.0  # nats: what a pair may cost that takes readings away which were had


def both_seen(bank: Bank, first: NDArray[np.intp], second: NDArray[np.intp]) -> Seen:
    """What two faults do together, cell by cell: readings add up, chances add up as log-odds."""
    seen = bank.seen

    def logits(values: Array) -> Array:
        clipped = np.clip(values, 1e-4, 1.0 - 1e-4)
        return np.asarray(np.log(clipped) - np.log1p(-clipped))

    def chances(values: Array) -> Array:
        left, right, sound = (logits(values[rows]) for rows in (first, second, [0]))
        both = left + right - sound
        return np.asarray(1.0 / (1.0 + np.exp(-both)))

    return Seen(
        seen.mean[first] + seen.mean[second] - seen.mean[0],
        np.maximum(seen.tolerance[first], seen.tolerance[second]),
        chances(seen.yes),
        chances(seen.code),
    )


@dataclass
class _Cast:
    """Two cells that stand for every fault: its likeliest, and one like the rest of it, with their shares."""

    rows: NDArray[np.intp]  # (faults, 2)
    log_share: Array  # (faults, 2)

    @classmethod
    def of(cls, bank: Bank, net: Array, count: int) -> _Cast:
        rows, shares = np.zeros((count, 2), dtype=np.intp), np.zeros((count, 2))
        for i, one in enumerate(bank.nets[:count]):
            cells = one.rows
            best = cells[np.argmax(net[cells])]
            near = float(bank.share[cells] @ np.exp(net[cells] - net[best]))  # of the prior, as good as the best
            order = cells[np.argsort(net[cells])]
            rows[i] = best, order[np.searchsorted(np.cumsum(bank.share[order]), 0.5 * (1.0 - near))]
            shares[i] = near, max(1.0 - near, 1e-12)
        return cls(rows, np.log(shares))


def pairs_of(frame: Frame, net: tuple[Array, Array], share: Array, sound: Shown, log_pair: float) -> list[Open]:
    """Pairs of faults that both show: those that matter one by one, and the mass of all others together."""
    bank, total = frame.bank, net[0] + net[1]
    active = np.flatnonzero(share > 0.0)
    if active.size < 2:
        return []
    own = share[active]
    off = np.array([sleeps(bank.instances[i].row, frame.law) for i in active])
    like = np.array([log_sum(np.log(bank.share[bank.nets[i].rows]) + total[bank.nets[i].rows]) for i in active])
    awake = _together(frame, total, active)
    here, gone = (float(np.exp(told(frame.vehicle, on))) for on in (True, False))
    top = max(float(awake.max()), float(like.max()), float(total[0]))
    mass = here * np.outer(1.0 - off, 1.0 - off) * np.exp(awake - top)
    one_only = here * np.outer((1.0 - off) * np.exp(like - top), off)
    mass += one_only + one_only.T + gone * np.outer(off, off) * np.exp(total[0] - top)
    mass *= np.outer(own, own) * 2.0
    first, second = np.triu_indices(active.size, k=1)
    flat = mass[first, second]
    found: list[Open] = []
    looked, opened = 0.0, 0.0
    rest = flat.copy()
    for k in np.argsort(-flat)[:_BEST_PAIRS]:
        a, b = int(active[first[k]]), int(active[second[k]])
        looked += float(flat[k])
        rest[k] = 0.0
        if not same_part(bank.instances[a], bank.instances[b]):
            mine = _one_pair(frame, net, (a, b), sound, log_pair + float(np.log(2.0 * share[a] * share[b])))
            opened += sum(float(np.exp(one.log_prior + one.shown.log_like - log_pair - top)) for one in mine)
            found += mine
    # The quick look flatters those it puts first: the rest is as much less as they turned out to be.
    left = float(rest.sum()) * min(1.0, opened / looked if looked > 0.0 else 1.0)
    if left > 0.0:
        beyond = Shown(frame, (-1,), np.zeros((1, 0), dtype=np.intp), np.zeros(1), np.full(1, np.log(left) + top),
                       np.zeros(1))  # fmt: skip
        by_fault = np.bincount(first, rest, active.size) + np.bincount(second, rest, active.size)
        members = {bank.instances[i].key: float(m) for i, m in zip(active, by_fault / rest.sum(), strict=True)}
        found.append(Open(OTHER_PAIRS, log_pair, beyond, members))
    return found


def _together(frame: Frame, net: Array, active: NDArray[np.intp]) -> Array:
    """Log likelihood of every two active faults, both awake, by the cells that stand for each, shape (a, a).

    Readings add up at one scale of noise, without misreadings; codes and answers as log-odds, what is or is not to
    be had as the stricter of the two.
    """
    bank = frame.bank
    cast = _Cast.of(bank, net, int(active.max()) + 1)
    rows = cast.rows[active].ravel()
    log_share = cast.log_share[active].ravel()
    seen = bank.seen
    near, square = np.zeros((rows.size, rows.size)), np.zeros(rows.size)
    if frame.read.size:
        mean = seen.mean[:, frame.read].astype(np.float64)
        sound = mean[:1]
        own = np.where(np.isnan(sound), (1e3 * frame.noise(sound)) ** 2, seen.tolerance[:1, frame.read] ** 2)
        covariance = frame.covariance(1.2, frame.noise(sound), own + frame.bent**2, frame.lines)[0]
        white = np.linalg.cholesky(np.linalg.inv(covariance))
        gap = np.nan_to_num(frame.values - mean[0]) @ white
        added = np.nan_to_num(mean[rows] - mean[0]) @ white
        left = gap - added
        square = (left**2).sum(axis=1)
        near = square[:, None] + (added**2).sum(axis=1)[None, :] - 2.0 * left @ added.T
    logs = -0.5 * near
    logs += _chances_together(frame, rows)
    # One fault alone is known in full: what this quick look leaves out is taken as of the sterner of the two.
    quick = frame.log_rest(seen.rows(rows)) - 0.5 * square
    logs += np.minimum.outer(net[rows] - quick, net[rows] - quick)
    logs += log_share[:, None] + log_share[None, :]
    n = active.size
    return log_sum(logs.reshape(n, 2, n, 2).transpose(0, 2, 1, 3).reshape(n, n, 4))


def _chances_together(frame: Frame, rows: NDArray[np.intp]) -> Array:
    """Log likelihood of codes, answers and what was to be had, of every two cells, shape (r, r)."""
    bank, seen, vehicle = frame.bank, frame.bank.seen, frame.vehicle
    n = rows.size
    total = np.zeros((n, n))
    gone = np.isnan(seen.mean[rows][:, frame.read]).astype(np.float64)
    either = gone.sum(axis=1)[:, None] + gone.sum(axis=1)[None, :] - gone @ gone.T
    total += np.maximum(np.log(max(frame.law.unread, 1e-30)) * either, _LEAST_GONE)
    said = [(seen.yes[:, i], yes, False) for i, yes in zip(frame.answers, frame.said, strict=True)]
    if vehicle.codes.size:
        odds = bank.variant.limit_odds
        said += [(seen.code[:, c] @ odds, is_set, True) for c, is_set in enumerate(vehicle.codes)]
    single = np.zeros(n)
    for chance, yes, code in said:
        clipped = np.clip(chance, 1e-4, 1.0 - 1e-4)
        logit = np.log(clipped) - np.log1p(-clipped)
        base, own = (_log_said(some, yes, code) for some in (logit[0], logit[rows]))
        single += own - base
        total += base
        movers = np.flatnonzero(np.abs(logit[rows] - logit[0]) > 1e-3)
        # Only where both faults move a chance is it more than what each does by itself.
        both = logit[0] + np.add.outer(logit[rows[movers]] - logit[0], logit[rows[movers]] - logit[0])
        total[np.ix_(movers, movers)] += _log_said(both, yes, code) + base - np.add.outer(own[movers], own[movers])
    return total + np.add.outer(single, single)


def _log_said(logit: Array, yes: bool, code: bool) -> Array:
    chance = noted(1.0 / (1.0 + np.exp(-logit)), code=code)
    return np.asarray(np.log(chance if yes else 1.0 - chance))


def _one_pair(
    frame: Frame, net: tuple[Array, Array], pair: tuple[int, int], sound: Shown, log_prior: float
) -> list[Open]:
    bank, vehicle = frame.bank, frame.vehicle
    own = [bank.nets[i].rows for i in pair]
    step = max(1, int(np.ceil(np.sqrt(own[0].size * own[1].size / _FEW_CELLS))))
    own = [cells[(cells.size % step) // 2 :: step] if cells.size > step else cells for cells in own]
    log_share = [np.log(bank.share[cells] / bank.share[cells].sum()) for cells in own]
    cells = np.array(list(itertools.product(*own)))
    seen = both_seen(bank, cells[:, 0], cells[:, 1])
    read = frame.read
    by_lines = frame.log_lines(seen.mean[:, read].astype(np.float64), seen.tolerance[:, read].astype(np.float64))
    key: Key = tuple(sorted(bank.instances[i].key for i in pair))
    off = [sleeps(bank.instances[i].row, frame.law) for i in pair]
    both = Shown(frame, pair, cells, np.add.outer(*log_share).ravel(), by_lines,
                 frame.log_rest(seen))  # fmt: skip
    ways = [((1.0 - off[0]) * (1.0 - off[1]), both, True), (off[0] * off[1], sound, False)]
    # One of them sleeps.
    ways += [((1.0 - off[k]) * off[1 - k], alone(frame, *net, pair[k]), True) for k in (0, 1)]
    return [
        Open(key, log_prior + float(np.log(chance)) + told(vehicle, awake), shown)
        for chance, shown, awake in ways
        if chance > 0.0
    ]
