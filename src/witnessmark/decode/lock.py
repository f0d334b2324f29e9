"""A lock: an edge train read against a wheel, its whole turns, and the stretches in which nothing is known."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.law import Law
from witnessmark.engine.tonewheel import WheelPattern

__all__ = ["Stretch", "Turn", "WheelLock"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time in which no angle and no speed is known, and why.

    Parameters
    ----------
    from_s, to_s : float [s]
    reason : str
        "spin-up", "stop", "noise", "too short" or "lost".
    """

    from_s: float
    to_s: float
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class WheelLock:
    """An edge train read against a wheel.

    Parameters
    ----------
    pattern : WheelPattern
    crank_per_turn : float
        Crank turns in one turn of the wheel: 1 on the crankshaft, 2 on a camshaft.
    times_s : array, shape (n,) [s]
        All edges that were given.
    sd_s : array, shape (n,) [s]
        Standard deviation of each time.
    count : array of int, shape (n,)
        Running number of the tooth, 0 = an index edge; -1 where the edge is not a good tooth. Each part starts anew.
    part : array of int, shape (n,)
        Number of the unbroken part that a good tooth belongs to; -1 elsewhere.
    missing : array of int, shape (n,)
        Teeth missing just before a good tooth.
    extra : array of bool, shape (n,)
        Extra edges inside the parts.
    narrow : array of bool, shape (n,)
        Edges of pulses too narrow to be a tooth.
    other_at : array, shape (n,)
        Where between the edge before and this one the single edge of the other kind lies, 0..1; NaN where it does not.
    void : tuple of Stretch
        In the order of time; together with the parts they cover the train.
    law : Law
    evidence : float [nats]
        Log-likelihood of the reading above that of no wheel at all.
    """

    pattern: WheelPattern
    crank_per_turn: float
    times_s: FloatArray
    sd_s: FloatArray
    count: IntArray
    part: IntArray
    missing: IntArray
    extra: BoolArray
    narrow: BoolArray
    other_at: FloatArray
    void: tuple[Stretch, ...]
    law: Law
    evidence: float

    @property
    def n_parts(self) -> int:
        """How many unbroken parts there are."""
        return int(self.part.max(initial=-1)) + 1

    @property
    def tooth(self) -> IntArray:
        """Number of each tooth on the wheel, 0 = index edge; -1 where not a good tooth."""
        return np.where(self.part >= 0, self.count % self.pattern.n_edges, -1)

    @property
    def turn(self) -> IntArray:
        """Number of the wheel's turn; -1 where not a good tooth."""
        return np.where(self.part >= 0, self.count // self.pattern.n_edges, -1)

    @property
    def good(self) -> BoolArray:
        """Edges that are teeth at a known place."""
        return self.part >= 0

    @property
    def share(self) -> float:
        """Share of the train's edges that lie in good parts, extra edges not counted."""
        n = self.times_s.size - int(self.extra.sum())
        return float(self.good.sum()) / n if n else 0.0

    def members(self, part: int) -> IntArray:
        """Numbers of the edges that are the good teeth of a part, in turn."""
        return np.flatnonzero(self.part == part)

    def spans(self) -> tuple[tuple[float, float], ...]:
        """First and last time of every part [s]."""
        return tuple((float(t[0]), float(t[-1])) for t in (self.times_s[self.members(p)] for p in range(self.n_parts)))

    def turns(self) -> tuple[Turn, ...]:
        """Every whole turn of the wheel, from one index edge to the next, that lies inside a part."""
        return tuple(turn for part in range(self.n_parts) for turn in _turns_of(self, part))

    def __repr__(self) -> str:
        return (
            f"WheelLock({self.pattern}, {int(self.good.sum())} of {self.times_s.size} edges in {self.n_parts} parts, "
            f"{int(self.missing.sum())} missing, {int(self.extra.sum())} extra, {len(self.void)} void)"
        )


@dataclass(frozen=True, slots=True)
class Turn:
    """One whole turn of the wheel between two index edges.

    Parameters
    ----------
    part, number : int
        The part it lies in, and its number there.
    from_s, to_s : float [s]
        Times of its two index edges.
    teeth, missing, extra : int
        Edges seen as teeth, teeth missing, edges too many.
    """

    part: int
    number: int
    from_s: float
    to_s: float
    teeth: int
    missing: int
    extra: int


def _turns_of(lock: WheelLock, part: int) -> Iterator[Turn]:
    members = lock.members(part)
    count, n = lock.count[members], lock.pattern.n_edges
    index = np.flatnonzero(count % n == 0)
    for a, b in itertools.pairwise(index):
        if count[b] - count[a] != n:
            continue  # an index edge between is missing
        i, j = members[a], members[b]
        yield Turn(
            part,
            int(count[a] // n),
            float(lock.times_s[i]),
            float(lock.times_s[j]),
            int(b - a),
            int(lock.missing[members[a + 1 : b + 1]].sum()),
            int(lock.extra[i:j].sum()),
        )
