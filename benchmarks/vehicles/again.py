"""Once more, about what each hypothesis really shows: lines with its fault, and vehicles led to what was read.

A state's own vehicles are drawn as the readings leave them open, put into ``predict``, and led on from what they really
show: each ends where its readings agree with those taken, and straight lines are then short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

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
_MATTERS = 0.02  # share of a state's likelihood at a first look above which its mild, or its strong, cells are kept
_MILD = 1.0  # spreads by which a fault must move a reading for its lines to be asked for
_DRAWN, _LED = 6, 2  # vehicles drawn for each state, and how often they are led on
_TEMPER = 0.5  # by how much codes and answers steer which sizes are drawn
_LEFT = 0.25  # of the variance of what bends: about a vehicle that was led to the readings


@dataclass
class _Local:
    """Like cells of one state that is taken up: their lines, and what bends.

    A fault so small that it shows in nothing, and one that stops a cylinder, are taken up apart: neither lines nor
    tolerances are the same.
    """

    shown: Shown
    mine: NDArray[np.bool_]  # which cells
    best: int  # cell
    lines: Array
    bent: Array
    shift: Array
    known: dict[str, Array] = field(default_factory=dict)

    def mean(self, cells: Sequence[int] | NDArray[np.intp]) -> Array:
        """Where the lines start at some cells, shape (cells, q)."""
        return self._net("mean")[cells] + self.shift

    def tolerance(self, cells: Sequence[int] | NDArray[np.intp]) -> Array:
        """At some cells, shape (cells, q)."""
        return self._net("tolerance")[cells]

    def _net(self, name: str) -> Array:
        bank, read = self.shown.frame.bank, self.shown.frame.read
        part, numbers = getattr(bank.seen, name), self.shown.cells
        if name not in self.known:
            sound = part[0, read].astype(np.float64)
            mine = part[numbers][:, :, read].astype(np.float64)
            if name == "tolerance":
                self.known[name] = mine.max(axis=1) if numbers.shape[1] else sound[None]
            else:
                self.known[name] = sound + (mine - sound).sum(axis=1)
        return self.known[name]

    def way(self, cell: int) -> Way:
        """What is broken at a cell."""
        bank = self.shown.frame.bank
        return tuple((bank.cells[c][0], sizes_of(*bank.cells[c])) for c in self.shown.cells[cell])

    def log_share(self) -> Array:
        """Of cells that show every reading that was had, where there are such: others would be weighed by fewer."""
        gone = np.isnan(self._net("mean")).any(axis=1)
        left = self.mine & ~gone
        return np.where(left if left.any() else self.mine, self.shown.log_share, -np.inf)

    def by_lines(self) -> Array:
        """Every cell along the lines, shape (cells,)."""
        every = np.arange(len(self.shown.cells))
        return self.shown.frame.log_lines(self.mean(every), self.tolerance(every), self.lines, self.bent)


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
    local = [one for shown in todo for one in _parts(shown)]
    _steepness(bank, [one for one in local if _is_strong(one)], seed)
    led = [_Led.of(one, seed) for one in local]
    for _ in range(_LED):
        for one in led:
            one.ask()
        seen = bank.variant.see([way for one in led for way in one.ways], np.concatenate([one.u for one in led]))
        for k, one in enumerate(led):
            one.answer(seen.rows(slice(k * _DRAWN, (k + 1) * _DRAWN)))
    for shown in todo:
        parts = [one.weighed() for one in led if one.one.shown is shown]
        logs, doubts = np.array([log for log, _ in parts]), np.array([doubt for _, doubt in parts])
        shown.log_like = float(log_sum(logs))
        shown.doubt = float(np.exp(logs - shown.log_like) @ doubts)
        shown.done = True


def _parts(shown: Shown) -> list[_Local]:
    """Cells that move nothing out of what sound engines show, and those that do, where either may matter."""
    every = _start(shown, np.ones(len(shown.cells), dtype=bool))
    strong = _are_strong(every)
    first = shown.log_share + shown.log_lines + shown.log_rest
    share = float(np.exp(first[strong] - log_sum(first)).sum())
    if not _MATTERS < share < 1.0 - _MATTERS:
        return [every]
    return [_start(shown, mine) for mine in (strong, ~strong)]


def _start(shown: Shown, mine: NDArray[np.bool_]) -> _Local:
    frame = shown.frame
    best = int(np.argmax(np.where(mine, shown.log_share + shown.log_lines + shown.log_rest, -np.inf)))
    return _Local(shown, mine, best, frame.lines, frame.bent, np.zeros(frame.read.size))


def _are_strong(one: _Local) -> NDArray[np.bool_]:
    """Which cells move any reading, or its tolerance, out of what sound engines show, shape (cells,)."""
    frame = one.shown.frame
    if not one.shown.faults or not frame.read.size:
        return np.zeros(len(one.shown.cells), dtype=bool)
    sound = frame.bank.seen.mean[0, frame.read].astype(np.float64)
    usual = frame.bank.seen.tolerance[0, frame.read].astype(np.float64)
    spread = np.sqrt((frame.lines**2).sum(axis=0) + frame.noise(sound) ** 2 + usual**2)
    every = np.arange(len(one.shown.cells))
    off = one.mean(every) - sound
    moved = np.isnan(off) | (np.abs(np.nan_to_num(off)) > _MILD * spread) | (one.tolerance(every) > 2.0 * spread)
    return np.asarray(moved.any(axis=1))


def _is_strong(one: _Local) -> bool:
    return bool(_are_strong(one)[one.best])


def _steepness(bank: Bank, strong: list[_Local], seed: int) -> None:
    """Lines as steep as vehicles with the fault are, reading by reading; what they leave is what bends."""
    if not strong:
        return
    drawn = np.random.default_rng(seed).standard_normal((_STEEP, bank.variant.count))
    both = np.concatenate([drawn, -drawn])
    seen = bank.variant.see([one.way(one.best) for one in strong for _ in both], np.tile(both, (len(strong), 1)),
                            blended=True)  # fmt: skip
    for k, one in enumerate(strong):
        frame = one.shown.frame
        found = seen.mean[k * len(both) : (k + 1) * len(both), frame.read]
        line = both @ frame.lines
        centre = np.nan_to_num(0.5 * (found[:_STEEP] + found[_STEEP:])).mean(axis=0)
        off = np.nan_to_num(found - centre)
        floor = 0.1 * (line**2).mean(axis=0) + 1e-12
        steep = np.clip((off * line).mean(axis=0) / np.maximum((line**2).mean(axis=0), floor), 0.0, 4.0)
        there = ~np.isnan(found).any(axis=0)
        steep = np.where(there, steep, 1.0)
        bent = frame.bent**2
        left = ((off - steep * line) ** 2).mean(axis=0)
        bends = (_TRUST * bent * np.minimum(steep, 1.0) ** 2 + _STEEP * left) / (_TRUST + _STEEP)
        one.lines = frame.lines * steep
        one.bent = np.sqrt(np.where(there, bends, bent))
        one.shift = np.nan_to_num(np.where(there, centre - one.mean([one.best])[0], 0.0))


@dataclass
class _Led:
    """Vehicles of one state, led to what was read.

    Each keeps the differences and errors it was drawn with: only where its lines start is put right.
    """

    one: _Local
    seed: int
    cells: NDArray[np.intp]  # (drawn,)
    log_odds: Array  # with which each cell was drawn, shape (drawn,)
    log_own: Array  # what each cell's share is by the readings, shape (drawn,)
    starts: Array  # where each vehicle's lines start, shape (drawn, q)
    tolerance: Array
    ways: list[Way]
    u: Array
    seen: Seen | None = None

    @classmethod
    def of(cls, one: _Local, seed: int) -> _Led:
        """Draw the cells: more often than the readings ask where codes and answers speak for one."""
        shown = one.shown
        by_readings = one.log_share() + one.by_lines()
        by_readings = by_readings - log_sum(by_readings)
        steer = by_readings + _TEMPER * shown.log_rest
        odds = np.exp(steer - log_sum(steer))
        at = (np.arange(_DRAWN) + np.random.default_rng(seed + 1).random()) / _DRAWN
        cells = np.minimum(np.searchsorted(np.cumsum(odds), at), odds.size - 1)
        return cls(one, seed + 2, cells, np.log(odds[cells]), by_readings[cells], one.mean(cells),
                   one.tolerance(cells), [one.way(int(cell)) for cell in cells],
                   np.zeros((_DRAWN, one.lines.shape[0])))  # fmt: skip

    def ask(self) -> None:
        """The differences that the readings ask for."""
        frame, one = self.one.shown.frame, self.one
        rng = np.random.default_rng(self.seed)
        self.u = frame.differences(self.starts, self.tolerance, one.lines, one.bent, rng)

    def answer(self, seen: Seen) -> None:
        """What they really show tells where the lines should have started."""
        read = self.one.shown.frame.read
        self.seen = seen
        found = seen.mean[:, read] - self.u @ self.one.lines
        self.starts = np.where(np.isnan(found), self.starts, found)
        self.tolerance = np.where(np.isnan(found), self.tolerance, seen.tolerance[:, read])

    def weighed(self) -> tuple[float, float]:
        """Log likelihood and its doubt: by every vehicle with all cells about it the middle one; the rest by all."""
        one, frame, seen = self.one, self.one.shown.frame, self.seen
        assert seen is not None
        gone = np.isnan(seen.mean[:, frame.read])
        start = np.where(gone, np.nan, self.starts)
        share = one.log_share()
        every = np.flatnonzero(np.isfinite(share))
        from_cell = one.mean(every)[None] - one.mean(self.cells)[:, None]  # (drawn, cells, q)
        means = start[:, None] + np.nan_to_num(from_cell)
        q = frame.read.size
        more = one.tolerance(every)[None] - one.tolerance(self.cells)[:, None]
        tolerances = np.maximum(self.tolerance[:, None] + more, 0.0)
        means, tolerances = (part.reshape(_DRAWN * len(every), q) for part in (means, tolerances))
        logs = frame.log_lines(means, tolerances, one.lines, np.sqrt(_LEFT) * one.bent)
        each = log_sum(share[every] + logs.reshape(_DRAWN, -1))
        rest = self.log_own - self.log_odds + frame.log_rest(seen)
        # A vehicle that lacks readings which were had is weighed by those left; the others stand for one another.
        whole = ~gone.any(axis=1)
        usual = float(np.median(each[whole])) if whole.any() else 0.0
        total = np.where(whole, usual, each) + rest
        weight = np.exp(total - total.max())
        few = float((weight**2).sum() / weight.sum() ** 2)  # 1 over the number that counts
        spread = float(np.std(each[whole])) if whole.any() else float(np.std(each))
        doubt = float(np.hypot(spread / np.sqrt(_DRAWN), np.sqrt(max(few - 1.0 / _DRAWN, 0.0))))
        return float(log_sum(total) - np.log(_DRAWN)), doubt
