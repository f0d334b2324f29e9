"""Once more, about what each hypothesis really shows: lines with its fault, its likeliest vehicle, vehicles drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.bank import Bank, sizes_of
from benchmarks.vehicles.frame import log_sum
from benchmarks.vehicles.shown import Shown
from benchmarks.vehicles.variant import Seen, Way

__all__ = ["take_up"]

Array = NDArray[np.float64]

_STEEP = 3  # drawn differences, each there and back, that tell how steep the lines are with a fault
_TRUST = 4.0  # what bends of sound engines counts as so many of them
_MILD = 1.0  # spreads by which a fault must move a reading for its lines to be asked for
_DRAWN = 8  # vehicles drawn for each at last
_TEMPER = 0.5  # by how much codes and answers steer which sizes are drawn
_DOUBT, _MOST_DOUBT = 0.5, 2.0  # nats: what sums of so few vehicles leave open at least, and at most beyond it
_CLIFF = 4.0  # nats by which codes, answers and what was to be had speak against a likeliest vehicle beyond belief
_LEFT = 0.25  # of the variance of what bends: about a vehicle drawn for itself


@dataclass
class _Local:
    """One state that is taken up: lines, what bends, and where the lines start."""

    shown: Shown
    best: int  # cell
    lines: Array
    own: Array
    shift: Array

    def mean(self, cells: Sequence[int] | NDArray[np.intp]) -> Array:
        """Where the lines start at some cells, shape (cells, q)."""
        bank, read = self.shown.frame.bank, self.shown.frame.read
        sound = bank.seen.mean[0, read].astype(np.float64)
        numbers = self.shown.cells[np.asarray(cells, dtype=np.intp)]
        return np.asarray(sound + (bank.seen.mean[numbers][:, :, read] - sound).sum(axis=1) + self.shift)

    def way(self, cell: int) -> Way:
        """What is broken at a cell."""
        bank = self.shown.frame.bank
        return tuple((bank.cells[c][0], sizes_of(*bank.cells[c])) for c in self.shown.cells[cell])

    def straight(self, u: Array) -> Array:
        """What differences do along the lines, shape (n, q)."""
        return np.asarray(u @ self.lines[: u.shape[1]])

    def weigh(self) -> None:
        """Every cell once more, and the best of them."""
        shown = self.shown
        shown.log_lines = shown.frame.log_lines(self.mean(np.arange(len(shown.cells))), self.lines, self.own)
        self.best = int(np.argmax(shown.log_share + shown.log_lines + shown.log_rest))


def take_up(bank: Bank, todo: list[Shown], seed: int) -> None:
    """Weigh some states of one variant again; their likelihoods are put right where they are.

    Parameters
    ----------
    bank : Bank
    todo : list of Shown
        Of any vehicles.
    seed : int
    """
    if not todo:
        return
    local = [_start(shown) for shown in todo]
    _steepness(bank, [one for one in local if _is_strong(one)], seed)
    for one in local:
        one.weigh()
    us = [one.shown.frame.differences(one.mean([one.best]), one.lines, one.own)[0] for one in local]
    seen = bank.variant.see([one.way(one.best) for one in local], np.array(us), blended=True)
    for row, one in enumerate(local):
        expected = one.mean([one.best])[0] + one.straight(us[row][None])[0]
        one.shift = one.shift + np.nan_to_num(seen.mean[row, one.shown.frame.read] - expected)
        one.weigh()
        shown = one.shown
        # Codes and answers as at the likeliest vehicle; from cell to cell as the net has them.
        rest = float(shown.frame.log_rest(seen.rows([row]))[0])
        if rest < shown.log_rest[one.best] - _CLIFF:
            # The lines led over a cliff (it stalls there): a step aside avoids it.
            rest = float(shown.log_rest[one.best])
        rest = rest + shown.log_rest - shown.log_rest[one.best]
        shown.log_like = float(log_sum(shown.log_share + shown.log_lines + np.minimum(rest, 0.0)))
    _draw(bank, local, seed)


def _start(shown: Shown) -> _Local:
    frame = shown.frame
    best = int(np.argmax(shown.log_share + shown.log_lines + shown.log_rest))
    return _Local(shown, best, frame.lines, frame.own, np.zeros(frame.read.size))


def _is_strong(one: _Local) -> bool:
    """Whether the fault moves any reading out of what sound engines show."""
    frame = one.shown.frame
    if not one.shown.faults or not frame.read.size:
        return False
    sound = frame.bank.seen.mean[0, frame.read]
    spread = np.sqrt(np.diag(frame.covariance(1.0)))
    return bool(np.any(np.abs(np.nan_to_num(one.mean([one.best])[0] - sound)) > _MILD * spread))


def _steepness(bank: Bank, strong: list[_Local], seed: int) -> None:
    """Lines as steep as vehicles with the fault are, reading by reading; what they leave is what bends."""
    if not strong:
        return
    drawn = np.random.default_rng(seed).standard_normal((_STEEP, bank.variant.count))
    both = np.concatenate([drawn, -drawn])
    seen = bank.variant.see([one.way(one.best) for one in strong for _ in both], np.tile(both, (len(strong), 1)),
                            blended=True)  # fmt: skip
    for k, one in enumerate(strong):
        frame, d = one.shown.frame, bank.variant.count
        found = seen.mean[k * len(both) : (k + 1) * len(both), frame.read]
        line = both @ bank.slope[:, frame.read]
        centre = np.nan_to_num(0.5 * (found[:_STEEP] + found[_STEEP:])).mean(axis=0)
        off = np.nan_to_num(found - centre)
        floor = 0.1 * (line**2).mean(axis=0) + 1e-12
        steep = np.clip((off * line).mean(axis=0) / np.maximum((line**2).mean(axis=0), floor), 0.0, 4.0)
        there = ~np.isnan(found).any(axis=0)
        steep = np.where(there, steep, 1.0)
        bent = bank.bent[frame.read] ** 2
        left = ((off - steep * line) ** 2).mean(axis=0)
        bends = (_TRUST * bent * np.minimum(steep, 1.0) ** 2 + _STEEP * left) / (_TRUST + _STEEP)
        one.lines = np.concatenate([frame.lines[:d] * steep, frame.lines[d:]])
        one.own = np.where(there, frame.own - bent + bends, frame.own)
        one.shift = np.where(there, centre - one.mean([one.best])[0], 0.0)


def _draw(bank: Bank, local: list[_Local], seed: int) -> None:
    """Vehicles of every hypothesis as the readings leave them open: their real readings, codes and answers.

    Straight lines start from each vehicle drawn. A cell is drawn more often than its readings ask where codes and
    answers speak for it, and counts less for it.
    """
    picked, us, ways = [], [], []
    for one in local:
        rng, shown = np.random.default_rng(seed + 1), one.shown
        steer = shown.log_share + shown.log_lines + _TEMPER * shown.log_rest
        odds = np.exp(steer - log_sum(steer))
        at = (np.arange(_DRAWN) + rng.random()) / _DRAWN
        cells = np.minimum(np.searchsorted(np.cumsum(odds), at), odds.size - 1)
        picked.append((cells, np.log(odds[cells])))
        us.append(shown.frame.differences(one.mean(cells), one.lines, one.own, rng))
        ways += [one.way(int(cell)) for cell in cells]
    seen = bank.variant.see(ways, np.concatenate(us))
    for k, (one, u, (cells, log_odds)) in enumerate(zip(local, us, picked, strict=True)):
        own = seen.rows(slice(k * _DRAWN, (k + 1) * _DRAWN))
        _put_right(one, own, u, cells, log_odds)


def _put_right(one: _Local, own: Seen, u: Array, cells: NDArray[np.intp], log_odds: Array) -> None:
    shown, frame = one.shown, one.shown.frame
    mean = own.mean[:, frame.read] - one.straight(u)
    usual = frame.bank.tolerance[frame.read] ** 2
    logs = shown.log_share[cells] - log_odds + frame.log_rest(own)
    logs = logs + frame.log_lines(mean, one.lines, usual + _LEFT * np.maximum(one.own - usual, 0.0))
    by_draws = float(log_sum(logs) - np.log(_DRAWN))
    at_best = shown.log_like
    # Drawn vehicles miss a cliff, lines do not see one: half of each, and how far they part is left open.
    shown.log_like = float(np.logaddexp(by_draws, at_best) - np.log(2.0))
    shown.doubt = float(np.hypot(_DOUBT, min(0.5 * abs(by_draws - at_best), _MOST_DOUBT)))
    shown.done = True
