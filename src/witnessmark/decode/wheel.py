"""Wheel lock: which edge of a train is which tooth of a described wheel, and where that cannot be said.

The reading is the most likely one under a model of wheel and crank (:mod:`witnessmark.decode._align`): teeth come at
their places give or take a jitter; the crank's pace wanders as torque over inertia lets it, so by tens of percent
within a turn at cranking speed and hardly at all at 8000 rpm; edges are now and then missing or extra; and a stretch
may follow no wheel at all. :mod:`witnessmark.decode.quality` then takes away what the pattern does not bear out.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.errors import DecodeError

__all__ = ["FINE_PITCH_DEG", "Law", "Stretch", "Turn", "WheelLock", "best_law", "evidence_of", "lock_wheel", "middling_law"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# Grid over which jitter and unsteadiness are fitted. Jitter as a share of the pitch (of 31° where that is more): a
# wheel on a ground shaft, a stamped one, a poor one, one read through heavy noise. Acceleration [rad/s2]: spinning without compression, running, cranking against compression.
_JITTERS = (0.003, 0.01, 0.03, 0.1)
# Only where teeth stand as close as this does a gap bend the field of its neighbours; coarser wheels have no such doubt.
FINE_PITCH_DEG = 31.0
_ACCELERATIONS = (20.0, 100.0, 400.0)
# Beside a gap the field closes differently, and an edge comes early or late by up to a tenth of a pitch or two
# (1 to 2° on wheels of 6 to 10°, 4° on one of 30°, seen on recordings); always the same way, so it costs no lock.
_BESIDE_GAP, _BESIDE_GAP_MOST_DEG = 0.08, 2.5
_SLOWEST_RPM, _FASTEST_RPM = 12.0, 12000.0
# Chances per tooth of an extra edge and of a missing one; of losing the wheel and finding it again. Wide of the mark by
# a factor of ten they move a reading only where it is doubtful anyway.
_C_EXTRA = _C_MISSING = 5.3
_C_LEAVE, _C_RETURN = 7.0, 5.0
# A tooth or slot of 2 degrees passes in 28 µs at 12000 rpm, and takes 0.5 % and more of a gap of up to half a turn.
_NARROWEST_S, _NARROWEST_SHARE = 10e-6, 0.002
# Edges enough to fit the law of a long recording.
_SAMPLE = 2000


@dataclass(frozen=True, slots=True)
class Law:
    """How regular a wheel and its rotation are.

    Parameters
    ----------
    jitter_deg : float [deg]
        Standard deviation of a tooth's place, in degrees of the wheel's shaft.
    acceleration : float [rad/s2]
        Of the crank, root mean square within a turn.
    beside_deg : float [deg]
        Further doubt of the teeth beside a gap unlike the others.
    """

    jitter_deg: float
    acceleration: float
    beside_deg: float = 0.0


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


def lock_wheel(
    times_s: Sequence[float] | FloatArray,
    pattern: WheelPattern,
    *,
    others_s: Sequence[float] | FloatArray | None = None,
    sd_s: float | FloatArray = 0.0,
    crank_per_turn: float = 1.0,
    law: Law | None = None,
) -> WheelLock:
    """Read an edge train against a wheel.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        Edges of one kind, in the order of time.
    pattern : WheelPattern
    others_s : array, shape (m,) [s], optional
        Edges of the other kind; with them pulses too narrow for a tooth are told. Needed where they carry the code.
    sd_s : float or array, shape (n,) [s]
        Standard deviation of the edge times.
    crank_per_turn : float
        Crank turns in one turn of the wheel: 1 on the crankshaft, 2 on a camshaft.
    law : Law, optional
        Fitted to the train where left out.

    Returns
    -------
    WheelLock
        Possibly without any part; a poor signal is no error.

    Raises
    ------
    DecodeError
        For times that are not finite and increasing, or a coded wheel without its other edges.

    Notes
    -----
    About 0.3 s for 100,000 edges once compiled; the first call of all compiles for some seconds.
    """
    from witnessmark.decode.quality import judge

    train = _Train.of(times_s, pattern, others_s, sd_s, crank_per_turn)
    if train.times.size < 2:
        return _nothing(train)
    law = law or best_law(times_s, pattern, others_s=others_s, sd_s=sd_s, crank_per_turn=crank_per_turn)[0]
    labels, gone, starts, evidence = train.align(law)
    lock = _number(train, labels, gone, starts, law, float(evidence))
    return judge(lock, labels)


def evidence_of(
    times_s: FloatArray,
    pattern: WheelPattern,
    law: Law,
    *,
    others_s: FloatArray | None = None,
    sd_s: float | FloatArray = 0.0,
    crank_per_turn: float = 1.0,
) -> float:
    """Log-likelihood of a train under a wheel and a law, above that of no wheel at all [nats]."""
    train = _Train.of(times_s, pattern, others_s, sd_s, crank_per_turn)
    return float(train.align(law)[3]) if train.times.size >= 2 else 0.0


def best_law(
    times_s: Sequence[float] | FloatArray,
    pattern: WheelPattern,
    *,
    others_s: Sequence[float] | FloatArray | None = None,
    sd_s: float | FloatArray = 0.0,
    crank_per_turn: float = 1.0,
) -> tuple[Law, float]:
    """The law under which a train fits a wheel best, and the evidence then [nats].

    A long train is judged by its middle. Parameters and errors as for :func:`lock_wheel`.
    """
    train = _Train.of(times_s, pattern, others_s, sd_s, crank_per_turn).middle(_SAMPLE)
    if train.times.size < 2:
        return middling_law(pattern), 0.0
    bent = any(pattern.marks) and pattern.pitch_deg <= FINE_PITCH_DEG
    axes = _JITTERS, _ACCELERATIONS, (0.0, 1.0) if bent else (0.0,)
    tried: dict[tuple[int, ...], float] = {}

    def score(at: tuple[int, ...]) -> float:
        if at not in tried:
            tried[at] = float(train.align(_law(pattern, *(axis[i] for axis, i in zip(axes, at, strict=True))))[3])
        return tried[at]

    # Up one coordinate after the other until none helps: the surface has one top.
    at: tuple[int, ...] = (1, 1, len(axes[2]) - 1)
    while True:
        around = [(*at[:d], i, *at[d + 1 :]) for d, axis in enumerate(axes) for i in range(len(axis))]
        best = max(around, key=score)
        if score(best) <= score(at):
            return _law(pattern, *(axis[i] for axis, i in zip(axes, at, strict=True))), score(at)
        at = best


def _law(pattern: WheelPattern, jitter: float, acceleration: float, beside: float) -> Law:
    doubt = min(_BESIDE_GAP * pattern.pitch_deg, _BESIDE_GAP_MOST_DEG) if pattern.pitch_deg <= FINE_PITCH_DEG else 0.0
    return Law(jitter * min(pattern.pitch_deg, FINE_PITCH_DEG), acceleration, beside * doubt)


def middling_law(pattern: WheelPattern, acceleration: float = 100.0) -> Law:
    """A law for a first look, when nothing is fitted yet."""
    return _law(pattern, 0.03, acceleration, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Train:
    """What the compiled part needs to know of edges and wheel; all of it but the law."""

    pattern: WheelPattern
    crank_per_turn: float
    times: FloatArray
    noise: FloatArray
    suspect: BoolArray
    fractions: FloatArray
    n_states: int

    @classmethod
    def of(
        cls,
        times_s: Sequence[float] | FloatArray,
        pattern: WheelPattern,
        others_s: Sequence[float] | FloatArray | None,
        sd_s: float | FloatArray,
        crank_per_turn: float,
    ) -> _Train:
        times = np.ascontiguousarray(times_s, dtype=np.float64)
        if times.ndim != 1 or not np.isfinite(times).all() or (np.diff(times) <= 0).any():
            raise DecodeError(f"the {times.size} edge times of a wheel must be finite and increase")
        if pattern.is_coded and others_s is None:
            raise DecodeError(f"the wheel {pattern} is told by its other edges; they were not given")
        noise = np.ascontiguousarray(np.broadcast_to(np.asarray(sd_s, dtype=np.float64), times.shape))
        fractions = np.full(times.size, np.nan)
        if pattern.is_coded and others_s is not None:
            fractions = _fractions(times, np.asarray(others_s, dtype=np.float64))
        suspect = np.zeros(times.size, dtype=bool)
        if others_s is not None and times.size:
            suspect = _too_narrow(times, np.asarray(others_s, dtype=np.float64))
        return cls(pattern, crank_per_turn, times, noise, suspect, fractions, pattern.n_edges // pattern.symmetry)

    def middle(self, n: int) -> _Train:
        """The same with the middle ``n`` edges only."""
        size = self.times.size
        if size <= n:
            return self
        cut = slice((size - n) // 2, (size - n) // 2 + n)
        return replace(
            self,
            times=self.times[cut],
            noise=self.noise[cut],
            suspect=self.suspect[cut],
            fractions=self.fractions[cut],
        )

    def align(self, law: Law) -> Any:
        from witnessmark.decode import _align

        pattern, n = self.pattern, self.n_states
        gaps = np.array(pattern.gaps_deg[:n])
        steps = np.arange(_align.MAX_MISSING + 1)
        deltas = np.cumsum(gaps[(np.arange(n)[:, None] + steps) % n], axis=1)
        marks = np.array(pattern.marks[:n])
        beside = marks | np.roll(marks, 1)
        jitter = np.where(beside, np.hypot(law.jitter_deg, law.beside_deg), law.jitter_deg)
        widths = np.full(n, np.nan)
        if pattern.is_coded:
            widths = np.array(pattern.widths_deg[:n]) / gaps
        # Logarithms of seconds per degree of the wheel's shaft, whose turns take longer than the crank's.
        per_turn = self.crank_per_turn
        slow, fast = np.log(per_turn / (6.0 * np.array([_SLOWEST_RPM, _FASTEST_RPM])))
        table = np.zeros(12)
        table[[_align.ACCEL, _align.REACH, _align.FLOOR, _align.RATIO]] = law.acceleration, 0.5, 0.02, per_turn
        table[[_align.U_START, _align.SD_START, _align.U_MIN, _align.U_MAX]] = (
            np.log(per_turn / (6.0 * 400.0)),
            1.5,
            fast,
            slow,
        )
        table[[_align.C_EXTRA, _align.C_MISSING, _align.C_LEAVE, _align.C_RETURN]] = (
            _C_EXTRA,
            _C_MISSING,
            _C_LEAVE,
            _C_RETURN,
        )
        return _align.align(self.times, deltas, jitter, self.noise, self.suspect, self.fractions, widths, table)


def _fractions(times: FloatArray, others: FloatArray) -> FloatArray:
    """Where between its two neighbours each single other edge lies, on the later neighbour; NaN elsewhere."""
    out = np.full(times.size, np.nan)
    after = np.searchsorted(times, others)
    inside = (after > 0) & (after < times.size)
    after, others = after[inside], others[inside]
    single = np.bincount(after, minlength=times.size) == 1
    keep = single[after]
    k = after[keep]
    out[k] = (others[keep] - times[k - 1]) / (times[k] - times[k - 1])
    return out


def _too_narrow(times: FloatArray, others: FloatArray) -> BoolArray:
    """Edges that belong to a pulse narrower than any tooth, in time or against the gaps beside it.

    Of an edge that bounces the first change stays: pulses are taken out in pairs from a run of narrow ones.
    """
    both = np.concatenate((times, others))
    order = np.argsort(both, kind="stable")
    width = np.diff(both[order])
    gaps = np.diff(times, prepend=-np.inf, append=np.inf)
    around = np.minimum(gaps[:-1], gaps[1:])
    around = np.where(np.isfinite(around), around, 0.0)
    near = np.clip(np.searchsorted(times, both[order][:-1]), 0, max(times.size - 1, 0))
    narrow = np.concatenate((width < np.maximum(_NARROWEST_S, _NARROWEST_SHARE * around[near]), [False]))
    out = np.zeros(both.size, dtype=bool)
    begins = np.flatnonzero(narrow & ~np.concatenate(([False], narrow[:-1])))
    for first in begins:
        last = first + int(np.argmin(narrow[first:]))  # the run of edges first .. last
        keep = (last - first + 1) % 2
        out[order[first + keep : last + 1]] = True
    return out[: times.size]


def _nothing(train: _Train) -> WheelLock:
    n = train.times.size
    none = np.full(n, -1, dtype=np.int64)
    void = (Stretch(float(train.times[0]), float(train.times[-1]), "too short"),) if n else ()
    law = middling_law(train.pattern)
    zeros = np.zeros(n, dtype=np.int64)
    return WheelLock(
        train.pattern, train.crank_per_turn, train.times, train.noise, none, none, zeros, zeros > 0, void, law, 0.0
    )


def _number(
    train: _Train, labels: NDArray[np.int16], gone: NDArray[np.int8], starts: BoolArray, law: Law, evidence: float
) -> WheelLock:
    """Give every tooth its running number, part by part."""
    n = labels.size
    count = np.full(n, -1, dtype=np.int64)
    part = np.full(n, -1, dtype=np.int64)
    missing = np.zeros(n, dtype=np.int64)
    teeth = np.flatnonzero(labels >= 0)
    if teeth.size:
        begins = starts[teeth].copy()
        begins[0] = True
        steps = np.where(begins, 0, 1 + gone[teeth].astype(np.int64))
        total = np.cumsum(steps)
        first = np.flatnonzero(begins)
        which = np.cumsum(begins) - 1
        count[teeth] = total - total[first][which] + labels[teeth[first]].astype(np.int64)[which]
        part[teeth] = which
        missing[teeth] = np.where(begins, 0, gone[teeth])
    extra = labels == -1
    return WheelLock(
        train.pattern, train.crank_per_turn, train.times, train.noise, count, part, missing, extra, (), law, evidence
    )
