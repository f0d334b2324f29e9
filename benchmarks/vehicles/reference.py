"""The reference posterior of simulated vehicles: the generator's own law turned round. Imports nothing of ``infer``.

First every fault at every place is weighed on a fine net of sizes, with the healthy differences, biases and tolerances
of this engine integrated in closed form along straight lines about the sound engine, noise scales summed over, and
misreadings one at a time. Then what is left standing is taken up again about its own likeliest vehicle: the healthy
differences that the readings ask for are put into ``predict``, and the straight lines start from what it really shows
there. Twice; how far the second time moves a posterior says what is left open.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.generate import Key, Vehicle, fault_weights, same_part, spread_of
from benchmarks.vehicles.law import (
    ANSWER_ERROR,
    BIAS,
    OUTLIER,
    SHOWS,
    SHOWS_ASLEEP,
    UNREAD,
    WIDE,
    Law,
    sleeps,
    type_odds,
)
from benchmarks.vehicles.variant import Seen, Variant, Way
from witnessmark.catalogue.faults import FaultInstance, Kind

__all__ = ["Bank", "Posterior", "make_bank", "posteriors"]

Array = NDArray[np.float64]

_NODES, _NODES_TWO, _DRAWN = 9, 5, 40  # predictions along one size, along each of two, and of three sizes
_CELLS, _CELLS_TWO = 25, 11  # cells of the net between them
_PAIRED, _BEST_PAIRS = 3, 24  # cells of each fault tried in pairs, and pairs weighed on the whole net
_FEW_CELLS = 600  # of a pair's net, the likeliest by each fault alone
_COMMON, _COMMON_ODDS = np.array([0.85, 1.2, 2.0]), np.array([0.35, 0.45, 0.2])  # noise scale of all instruments alike
_KEPT, _MOST = 1e-3, 24  # hypotheses taken up again: share of the whole, and how many
_ROUNDS = 2
_STRANGE = 4.0  # spreads at which a reading is first taken for a misreading when a likeliest vehicle is sought


@dataclass(frozen=True)
class _Net:
    """Cells of one fault: its kinds and sizes, as rows of the bank."""

    first: int
    stop: int


@dataclass
class Bank:
    """One variant with everything predicted beforehand.

    Parameters
    ----------
    variant : Variant
    cells : list of (Kind, ndarray, ndarray)
        Kind, sizes' shares and half width of the cell, of every row.
    share : ndarray, shape (cells,)
        Of its fault's prior.
    seen : Seen
        At the centre of every cell, sound otherwise; the first row is the sound engine.
    nets : list of _Net
        Of every fault of the catalogue, then of those outside.
    slope : ndarray, shape (d, q)
        Of every reading along every healthy difference.
    bent : ndarray, shape (q,)
        How far sound engines lie off those straight lines.
    """

    variant: Variant
    cells: list[tuple[Kind, Array, Array]]
    share: Array
    seen: Seen
    nets: list[_Net]
    slope: Array
    bent: Array

    @property
    def instances(self) -> tuple[FaultInstance, ...]:
        """Of the catalogue, then outside it."""
        return (*self.variant.instances, *self.variant.outside)


@dataclass
class Posterior:
    """What the reference says of one vehicle.

    Parameters
    ----------
    mass : mapping of key to float
        Sums to 1.
    moved : float
        Half the sum of all differences that the last round made.
    again : float
        Share of the mass that was taken up again.
    """

    mass: dict[Key, float]
    moved: float = 0.0
    again: float = 0.0


def make_bank(variant: Variant, rng: np.random.Generator) -> Bank:
    """Predict every fault of an engine on a net of sizes, and its sound differences one at a time."""
    zero = np.zeros(variant.count)
    step = np.eye(variant.count)
    draws = rng.standard_normal((150, variant.count))
    healthy = variant.see([()] * (1 + 2 * variant.count), np.vstack([zero, step, -step]), blended=True)
    up, down = healthy.mean[1 : 1 + variant.count], healthy.mean[1 + variant.count :]
    slope = np.nan_to_num(0.5 * (up - down))
    truly = variant.see([()] * len(draws), draws)
    off = truly.mean - healthy.mean[0] - draws @ slope
    bent, centre = np.nan_to_num(np.nanstd(off, axis=0)), np.nan_to_num(np.nanmean(off, axis=0))
    kinds = [(kind, i) for i, one in enumerate((*variant.instances, *variant.outside)) for kind in one.kinds]
    ways: list[Way] = []
    starts = []
    for kind, _ in kinds:
        starts.append(len(ways))
        ways += [((kind, _sizes(kind, share)),) for share in _nodes(kind, rng)]
    coarse = variant.see(ways, np.zeros((len(ways), variant.count)), blended=True)
    bank = _refined(variant, healthy.rows([0]), coarse, kinds, starts, ways, slope, bent)
    bank.seen.mean[:] += centre.astype(np.float32)  # what bends moves the mean too
    return bank


def _sizes(kind: Kind, share: Array) -> Array:
    return np.array([float(axis.at(np.array([s]))[0]) for axis, s in zip(kind.axes, share, strict=True)])


def _shares(kind: Kind, sizes: Array) -> Array:
    return np.array([float(axis.share(np.array([s]))[0]) for axis, s in zip(kind.axes, sizes, strict=True)])


def _nodes(kind: Kind, rng: np.random.Generator) -> Array:
    if len(kind.axes) == 0:
        return np.zeros((1, 0))
    if len(kind.axes) == 1:
        return np.linspace(0.0, 1.0, _NODES)[:, None]
    if len(kind.axes) == 2:
        line = np.linspace(0.0, 1.0, _NODES_TWO)
        return np.array(list(itertools.product(line, line)))
    return np.asarray(rng.random((_DRAWN, len(kind.axes))))


def _refined(
    variant: Variant, healthy: Seen, coarse: Seen, kinds: list[tuple[Kind, int]], starts: list[int], ways: list[Way],
    slope: Array, bent: Array,
) -> Bank:  # fmt: skip
    """Cells between the nodes, straight between them."""
    cells: list[tuple[Kind, Array, Array]] = [(Kind(1.0, (), ()), np.zeros(0), np.zeros(0))]
    parts, shares, counts = [healthy], [np.ones(1)], [0] * (max(i for _, i in kinds) + 1)
    ends = [*starts[1:], len(ways)]
    for (kind, i), start, stop in zip(kinds, starts, ends, strict=True):
        own = coarse.rows(slice(start, stop))
        axes = len(kind.axes)
        if axes in (1, 2):
            nodes, many = (_NODES, _CELLS) if axes == 1 else (_NODES_TWO, _CELLS_TWO)
            middle = (np.arange(many) + 0.5) / many
            line = _hat(nodes, middle)
            mix = line if axes == 1 else np.kron(line, line)
            own = Seen(*(_mixed(mix, getattr(own, name)) for name in ("mean", "tolerance", "yes", "code")))
            centres = middle[:, None] if axes == 1 else np.array(list(itertools.product(middle, middle)))
            half = np.full(axes, 0.5 / many)
        else:
            centres = np.array([_shares(kind, way[0][1]) for way in ways[start:stop]]).reshape(stop - start, axes)
            half = np.zeros(axes)
        cells += [(kind, centre, half) for centre in centres]
        shares.append(np.full(len(centres), kind.weight / len(centres)))
        parts.append(own)
        counts[i] += len(centres)
    seen = Seen(*(np.concatenate([getattr(p, n) for p in parts]).astype(np.float32) for n in _PARTS))
    edges = 1 + np.concatenate([[0], np.cumsum(counts)])
    nets = [_Net(int(a), int(b)) for a, b in itertools.pairwise(edges)]
    share = np.concatenate(shares)
    for net in nets:
        share[net.first : net.stop] /= share[net.first : net.stop].sum()
    return Bank(variant, cells, share, seen, nets, slope, bent)


_PARTS = ("mean", "tolerance", "yes", "code")


def _hat(nodes: int, at: Array) -> Array:
    """Weights of the nodes in a straight line at some places, shape (places, nodes)."""
    position = at * (nodes - 1)
    return np.maximum(1.0 - np.abs(position[:, None] - np.arange(nodes)), 0.0)


def _mixed(mix: Array, values: Array) -> Array:
    """Straight between nodes; where one of them has no reading there is none."""
    flat = values.reshape(len(values), -1)
    found = mix @ np.nan_to_num(flat)
    found[(mix > 0.0).astype(float) @ np.isnan(flat).astype(float) > 0.0] = np.nan
    return found.reshape(len(mix), *values.shape[1:])


# ---------------------------------------------------------------- the straight-line weighing


@dataclass
class _Frame:
    """One vehicle's readings on one variant, and what they are weighed with along straight lines."""

    bank: Bank
    vehicle: Vehicle
    law: Law
    read: NDArray[np.intp]  # numbers of the readings that gave a value
    void: NDArray[np.intp]  # tried, and nothing to read
    values: Array
    sd: Array  # stated
    answers: NDArray[np.intp]  # numbers among the answers
    said: NDArray[np.bool_]
    lines: Array  # (d + instruments, q): healthy differences and biases
    own: Array  # (q,) variance of what bends

    @classmethod
    def of(cls, bank: Bank, vehicle: Vehicle, law: Law) -> _Frame:
        """Lay out what was taken."""
        readings = bank.variant.asked.readings
        numbers = vehicle.taken < len(readings)
        number, value = vehicle.taken[numbers], vehicle.values[numbers]
        there = ~np.isnan(value)
        read, values = number[there], value[there]
        queries = [readings[i] for i in read]
        sd = np.array([float(spread_of(q, np.array(v))) for q, v in zip(queries, values, strict=True)])
        names = sorted({q.kind.instrument for q in queries})
        biases = np.zeros((len(names), len(read)))
        for k, name in enumerate(names):
            mine = np.flatnonzero([q.kind.instrument == name for q in queries])
            biases[k, mine] = BIAS * law.noise * sd[mine]
        own = bank.bent[read] ** 2
        return cls(
            bank, vehicle, law, read, number[~there], values, sd, vehicle.taken[~numbers] - len(readings),
            vehicle.values[~numbers] > 0.5,
            np.vstack([bank.slope[:, read], biases]), own,
        )  # fmt: skip

    def log_lines(self, mean: Array, tolerance: Array, *, bent: float = 1.0) -> Array:
        """Log likelihood of the readings along straight lines, at n predictions, one misreading allowed.

        Parameters
        ----------
        mean, tolerance : ndarray, shape (n, q)
        bent : float [-]
            How much of what bends counts as noise: less about a likeliest vehicle of its own.
        """
        if not self.read.size:
            return np.zeros(len(mean))
        left = np.nan_to_num(self.values - mean)
        extra = (WIDE * self.sd) ** 2
        logs = []
        for scale, odds in zip(_COMMON, _COMMON_ODDS, strict=True):
            inverse, log_norm = self._inverse(tolerance, scale, bent)
            u = left @ inverse
            diagonal = np.diag(inverse)
            off = np.log(OUTLIER) - 0.5 * np.log1p(extra * diagonal) + 0.5 * extra / (1.0 + extra * diagonal) * u**2
            terms = np.concatenate([np.zeros((len(left), 1)), off], axis=1)
            logs.append(np.log(odds) + log_norm - 0.5 * np.einsum("nq,nq->n", u, left) + _log_sum(terms))
        return _log_sum(np.stack(logs, axis=1))

    def _inverse(self, tolerance: Array, scale: float, bent: float) -> tuple[Array, float]:
        usual = np.nan_to_num(np.nanmedian(tolerance, axis=0))
        covariance = self.lines.T @ self.lines
        covariance += np.diag(bent**2 * self.own + (scale * self.law.noise * self.sd) ** 2 + usual**2)
        log_det = float(np.linalg.slogdet(covariance)[1])
        return np.linalg.inv(covariance), -0.5 * (log_det + self.read.size * float(np.log(2.0 * np.pi)))

    def likeliest(self, mean: Array, tolerance: Array) -> Array:
        """Healthy differences that the readings ask for at one prediction, shape (d,); strange readings left aside."""
        d = self.bank.variant.count
        if not self.read.size:
            return np.zeros(d)
        left = np.nan_to_num(self.values - mean)
        own = self.own + (1.2 * self.law.noise * self.sd) ** 2 + np.nan_to_num(tolerance) ** 2
        square = self.lines.T @ self.lines
        inverse = np.linalg.inv(square + np.diag(own))
        strange = np.abs(inverse @ left) > _STRANGE * np.sqrt(np.diag(inverse))
        own = np.where(strange, own + (WIDE * self.sd) ** 2, own)
        return np.asarray(self.lines[:d] @ np.linalg.solve(square + np.diag(own), left))

    def log_rest(self, seen: Seen) -> Array:
        """Log likelihood of what is no number: readings that were or were not to be had, answers, codes."""
        stray = np.isnan(seen.mean[:, self.read])
        # A reading where none should be has lost its place in the normal law; it costs what straying costs.
        total = np.where(stray, np.log(UNREAD), np.log(1.0 - UNREAD)).sum(axis=1)
        none = np.isnan(seen.mean[:, self.void])
        total = total + np.where(none, np.log(1.0 - UNREAD), np.log(UNREAD)).sum(axis=1)
        yes = _noted(seen.yes[:, self.answers])
        total = total + np.log(np.where(self.said, yes, 1.0 - yes)).sum(axis=1)
        if self.vehicle.codes.size:
            chance = _noted(seen.code)
            logs = np.log(np.where(self.vehicle.codes[None, :, None], chance, 1.0 - chance)).sum(axis=1)
            total = total + _log_sum(logs + np.log(self.bank.variant.limit_odds))
        return np.asarray(total)

    def log_net(self) -> Array:
        """Log likelihood of everything at every cell of the bank."""
        seen = self.bank.seen
        return self.log_lines(seen.mean[:, self.read], seen.tolerance[:, self.read]) + self.log_rest(seen)


def _noted(chance: Array) -> Array:
    return np.asarray(chance * (1.0 - ANSWER_ERROR) + (1.0 - chance) * ANSWER_ERROR)


def _log_sum(values: Array) -> Array:
    top = values.max(axis=-1, keepdims=True)
    return np.asarray(np.log(np.exp(values - top).sum(axis=-1)) + top[..., 0])


# ---------------------------------------------------------------- hypotheses


@dataclass
class _Open:
    """One hypothesis: faults awake, where on their nets, and what it weighs so far."""

    frame: _Frame
    key: Key
    faults: tuple[int, ...]  # awake ones, by number
    log_prior: float  # with its way of being awake, and what was told of the complaint
    log_like: float  # along straight lines
    cells: NDArray[np.intp]  # (cells, faults)
    log_cell: Array  # prior share and likelihood of each cell
    log_share: Array  # prior share of each cell
    shift: Array | None = None  # of all predictions, as its likeliest vehicle shows


def _told(vehicle: Vehicle, awake: bool) -> float:
    """Log chance of what was told of the complaint."""
    chance = SHOWS if awake else SHOWS_ASLEEP
    return 0.0 if vehicle.complaint is None else float(np.log(chance if vehicle.complaint else 1.0 - chance))


def _hypotheses(frame: _Frame) -> list[_Open]:
    """Everything with mass, along straight lines."""
    bank, vehicle = frame.bank, frame.vehicle
    net = frame.log_net()
    weights = fault_weights(bank.variant, vehicle.history, frame.law)
    odds = type_odds(float(weights.sum()))
    share = weights / weights.sum()
    log_variant = float(np.log(bank.variant.odds))
    sound = float(net[0])
    by_fault = [_over(net, bank, one) for one in bank.nets]
    found = [
        _Open(frame, name, (), log_variant + float(np.log(odds[name])) + _told(vehicle, name == "elsewhere"), sound,
              np.zeros((1, 1), dtype=np.intp), np.array([sound]), np.zeros(1))
        for name in ("nothing_wrong", "elsewhere")
    ]  # fmt: skip
    for i, (instance, like) in enumerate(zip(bank.instances, by_fault, strict=True)):
        listed = i < len(share)
        prior = odds["single"] * share[i] if listed else odds["outside"] * instance.share
        if prior <= 0.0:
            continue
        key: Key = (instance.key,) if listed else "none_of_these"
        cells = np.arange(bank.nets[i].first, bank.nets[i].stop)
        log_prior = log_variant + float(np.log(prior))
        asleep = sleeps(instance.row)
        found.append(
            _Open(frame, key, (i,), log_prior + float(np.log1p(-asleep)) + _told(vehicle, True), like,
                  cells[:, None], net[cells] + np.log(bank.share[cells]), np.log(bank.share[cells]))
        )  # fmt: skip
        if asleep > 0.0:
            found.append(_sleeper(frame, key, log_prior + float(np.log(asleep)) + _told(vehicle, False), sound))
    return found + _pairs(frame, net, share, log_variant + float(np.log(odds["pair"])))


def _sleeper(frame: _Frame, key: Key, log_prior: float, sound: float) -> _Open:
    return _Open(frame, key, (), log_prior, sound, np.zeros((1, 1), dtype=np.intp), np.array([sound]), np.zeros(1))


def _over(net: Array, bank: Bank, one: _Net) -> float:
    own = slice(one.first, one.stop)
    return float(_log_sum(net[own] + np.log(bank.share[own])))


def _pairs(frame: _Frame, net: Array, share: Array, log_pair: float) -> list[_Open]:
    """Pairs that matter: what both do adds up along straight lines; a first look at a few cells of every fault."""
    bank = frame.bank
    mean = bank.seen.mean[:, frame.read].astype(np.float64)
    effect = np.nan_to_num(mean - mean[0])
    rest = frame.log_rest(bank.seen)
    rest = rest - rest[0]
    picked = []
    for one in bank.nets[: len(share)]:
        own = np.arange(one.first, one.stop)
        order = np.argsort(-(net[own] - 0.7 * np.maximum(net[own] - net[own].mean(), 0.0)))
        picked.append(own[order[np.linspace(0, len(own) - 1, _PAIRED).astype(int)]])
    rows = np.array(picked)  # (faults, _PAIRED)
    inverse = frame._inverse(bank.seen.tolerance[:1, frame.read], 1.2, 1.0)[0] if frame.read.size else np.zeros((0, 0))
    white = np.linalg.cholesky(inverse) if frame.read.size else inverse
    left = np.nan_to_num(frame.values - mean[0]) @ white
    added = (effect[rows.ravel()] @ white).astype(np.float32)
    gap = left.astype(np.float32) - added
    square, length = (gap**2).sum(axis=1), (added**2).sum(axis=1)
    near = square[:, None] + length[None, :] - 2.0 * gap @ added.T
    logs = -0.5 * near + rest[rows.ravel()][:, None] + rest[rows.ravel()][None, :]
    best = logs.reshape(len(share), _PAIRED, len(share), _PAIRED).max(axis=(1, 3))
    with np.errstate(divide="ignore"):
        best = best + np.log(share)[:, None] + np.log(share)[None, :]
    first, second = np.triu_indices(len(share), k=1)
    found: list[_Open] = []
    for k in np.argsort(-best[first, second])[: 3 * _BEST_PAIRS]:
        a, b = int(first[k]), int(second[k])
        if len(found) >= _BEST_PAIRS or not np.isfinite(best[a, b]):
            break
        if not same_part(bank.instances[a], bank.instances[b]):
            found += _one_pair(frame, net, rest, effect, (a, b), log_pair + float(np.log(2.0 * share[a] * share[b])))
    return found


def _one_pair(
    frame: _Frame, net: Array, rest: Array, effect: Array, pair: tuple[int, int], log_prior: float
) -> list[_Open]:
    bank = frame.bank
    own = [np.arange(bank.nets[i].first, bank.nets[i].stop) for i in pair]
    step = max(1, int(np.sqrt(own[0].size * own[1].size / _FEW_CELLS)))
    own = [cells[::step] for cells in own]
    log_share = [np.log(bank.share[cells] / bank.share[cells].sum()) for cells in own]
    cells = np.array(list(itertools.product(*own)))
    prior = np.add.outer(*log_share).ravel()
    seen = bank.seen
    tolerance = np.maximum(seen.tolerance[cells[:, 0]][:, frame.read], seen.tolerance[cells[:, 1]][:, frame.read])
    both = seen.mean[0, frame.read] + effect[cells[:, 0]] + effect[cells[:, 1]]
    logs = prior + frame.log_lines(both, tolerance) + frame.log_rest(seen.rows([0]))[0] + rest[cells].sum(axis=1)
    instances = [bank.instances[i] for i in pair]
    key: Key = tuple(sorted(one.key for one in instances))
    off = [sleeps(one.row) for one in instances]
    awake = float(np.log1p(-off[0]) + np.log1p(-off[1]))
    told = _told(frame.vehicle, True)
    found = [_Open(frame, key, pair, log_prior + awake + told, float(_log_sum(logs)), cells, logs, prior)]
    for k, one in enumerate(pair):
        if off[1 - k] > 0.0:  # the other sleeps
            mine = np.arange(bank.nets[one].first, bank.nets[one].stop)
            log = net[mine] + np.log(bank.share[mine])
            asleep = float(np.log1p(-off[k]) + np.log(off[1 - k]))
            like = float(_log_sum(log))
            found.append(
                _Open(frame, key, (one,), log_prior + asleep + told, like, mine[:, None], log, np.log(bank.share[mine]))
            )
    return found


# ---------------------------------------------------------------- once more, about the likeliest vehicle


def posteriors(banks: Sequence[Bank], vehicles: Sequence[Vehicle], law: Law) -> list[Posterior]:
    """The posterior of every vehicle of a batch; what is taken up again of all of them is predicted in one call.

    Parameters
    ----------
    banks : sequence of Bank
        One for each variant.
    vehicles : sequence of Vehicle
    law : Law
    """
    opened = [[one for bank in banks for one in _hypotheses(_Frame.of(bank, vehicle, law))] for vehicle in vehicles]
    before = [_masses(mine) for mine in opened]
    for _ in range(_ROUNDS):
        before = [_masses(mine) for mine in opened]
        for bank in banks:
            _again(bank, [one for mine in opened for one in _worth_it(mine) if one.frame.bank is bank])
    found = []
    for mine, old in zip(opened, before, strict=True):
        mass = _masses(mine)
        share = np.exp(_logs(mine) - _log_sum(_logs(mine)))
        again = sum(float(own) for one, own in zip(mine, share, strict=True) if one.shift is not None)
        moved = 0.5 * sum(abs(mass[key] - old[key]) for key in mass)
        found.append(Posterior(mass, moved, again))
    return found


def _logs(mine: list[_Open]) -> Array:
    return np.array([one.log_prior + one.log_like for one in mine])


def _masses(mine: list[_Open]) -> dict[Key, float]:
    logs = _logs(mine)
    mass: dict[Key, float] = {}
    for one, share in zip(mine, np.exp(logs - _log_sum(logs)), strict=True):
        mass[one.key] = mass.get(one.key, 0.0) + float(share)
    return mass


def _worth_it(mine: list[_Open]) -> list[_Open]:
    logs = _logs(mine)
    share = np.exp(logs - _log_sum(logs))
    return [mine[i] for i in np.argsort(-share)[:_MOST] if share[i] > _KEPT or mine[i].shift is not None]


def _again(bank: Bank, todo: list[_Open]) -> None:
    """Every hypothesis about its own likeliest vehicle: size of the likeliest cell, differences as the readings ask."""
    if not todo:
        return
    best = [int(np.argmax(one.log_cell)) for one in todo]
    means = [_means(bank, one, [cell]) for one, cell in zip(todo, best, strict=True)]
    us = [one.frame.likeliest(mean[0], tolerance[0]) for one, (mean, tolerance) in zip(todo, means, strict=True)]
    ways = [
        tuple((bank.cells[f][0], _sizes(bank.cells[f][0], bank.cells[f][1])) for f in one.cells[cell] if one.faults)
        for one, cell in zip(todo, best, strict=True)
    ]
    seen = bank.variant.see(ways, np.array(us), blended=True)
    for row, one in enumerate(todo):
        own = seen.rows([row])
        read, frame = one.frame.read, one.frame
        lines = means[row][0][0] + us[row] @ bank.slope[:, read]
        one.shift = (one.shift if one.shift is not None else 0.0) + np.nan_to_num(own.mean[0, read] - lines)
        cells = np.arange(len(one.cells))
        mean, _ = _means(bank, one, cells)
        # Codes and answers as at the likeliest vehicle; from cell to cell as the net has them.
        rest = frame.log_rest(own)[0] + _rest(bank, one) - _rest(bank, one)[best[row]]
        logs = one.log_share + frame.log_lines(mean, own.tolerance[:, read], bent=_HALF) + rest
        one.log_cell, one.log_like = logs, float(_log_sum(logs))


_HALF = 0.5


def _means(bank: Bank, one: _Open, cells: Sequence[int] | NDArray[np.intp]) -> tuple[Array, Array]:
    """Predictions of some of a hypothesis' cells, with what was found of it so far."""
    read = one.frame.read
    sound = bank.seen.mean[0, read].astype(np.float64)
    numbers = one.cells[np.asarray(cells, dtype=np.intp)]
    mean = sound + (bank.seen.mean[numbers][:, :, read] - sound).sum(axis=1)
    tolerance = bank.seen.tolerance[numbers][:, :, read].max(axis=1)
    return mean + (one.shift if one.shift is not None else 0.0), tolerance.astype(np.float64)


def _rest(bank: Bank, one: _Open) -> Array:
    """Log likelihood of codes and answers of every cell, as the net has them."""
    numbers, back = np.unique(one.cells, return_inverse=True)
    rest = one.frame.log_rest(bank.seen.rows(numbers))
    return np.asarray(rest[back.reshape(one.cells.shape)].sum(axis=1))
