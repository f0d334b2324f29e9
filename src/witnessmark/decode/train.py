"""An edge train prepared for the compiled alignment: narrow pulses, the other edges, what loose edges cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.law import FINE_PITCH_DEG, Law
from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.errors import DecodeError

__all__ = ["FLAW", "Train"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_SLOWEST_RPM, _FASTEST_RPM = 25.0, 12000.0
# Angle over which a torque keeps its sign [rad], and the least share by which the pace may wander per radian.
_REACH_RAD, _LEAST_WANDER = 0.5, 0.02
# Chances per tooth of an extra edge and of a missing one; of losing the wheel and finding it again [nats]. Wrong by a
# factor of ten they move a reading only where it is doubtful anyway.
FLAW = 5.3
_C_LEAVE, _C_RETURN = 7.0, 5.0
# How far a bent tooth may stand from its place, as a share of the pitch (of 31° where that is more).
_BENT_SHARE = 0.15
# A tooth or slot of 2 degrees passes in 28 µs at 12000 rpm, and takes 0.5 % and more of a gap of up to half a turn.
_NARROWEST_S, _NARROWEST_SHARE = 10e-6, 0.002
# Intervals that follow no wheel: standard deviation of their logarithm about the usual one, and their whole range.
_LOOSE_SD, _LOOSE_RANGE = 0.8, 15.0


@dataclass(frozen=True, slots=True, eq=False)
class Train:
    """What the compiled part needs to know of edges and wheel; all of it but the law.

    ``flaw`` is the cost of an edge missing or extra [nats].
    """

    pattern: WheelPattern
    crank_per_turn: float
    times: FloatArray
    noise: FloatArray
    suspect: BoolArray
    fractions: FloatArray
    loose: FloatArray
    n_states: int
    flaw: float = FLAW

    @classmethod
    def of(
        cls,
        times_s: Sequence[float] | FloatArray,
        pattern: WheelPattern,
        others_s: Sequence[float] | FloatArray | None,
        sd_s: float | FloatArray,
        crank_per_turn: float,
    ) -> Train:
        """Check and prepare; parameters and errors as for :func:`witnessmark.decode.wheel.lock_wheel`."""
        times = np.ascontiguousarray(times_s, dtype=np.float64)
        if times.ndim != 1 or not np.isfinite(times).all() or (np.diff(times) <= 0).any():
            raise DecodeError(f"the {times.size} edge times of a wheel must be finite and increase")
        if pattern.is_coded and others_s is None:
            raise DecodeError(f"the wheel {pattern} is told by its other edges; they were not given")
        noise = np.ascontiguousarray(np.broadcast_to(np.asarray(sd_s, dtype=np.float64), times.shape))
        fractions, suspect = np.full(times.size, np.nan), np.zeros(times.size, dtype=bool)
        if others_s is not None and times.size:
            others = np.asarray(others_s, dtype=np.float64)
            suspect, spurious = _too_narrow(times, others)
            fractions = _fractions(times, others[~spurious])
        n_states = pattern.n_edges // pattern.symmetry
        return cls(pattern, crank_per_turn, times, noise, suspect, fractions, _loose_prices(times), n_states)

    def against(self, pattern: WheelPattern) -> Train:
        """The same edges, to be read against another wheel."""
        return replace(self, pattern=pattern, n_states=pattern.n_edges // pattern.symmetry)

    def middle(self, n: int) -> Train:
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
            loose=np.concatenate(([0.0], self.loose[cut][1:])),
        )

    @property
    def is_plain(self) -> bool:
        """True where neither gaps nor code tell the teeth apart."""
        return not any(self.pattern.marks) and not self.pattern.is_coded

    def align(self, law: Law) -> Any:
        """Label the edges under a law; what is returned stands at :func:`witnessmark.decode._align.align`."""
        from witnessmark.decode import _align

        pattern = self.pattern
        deltas, beside, widths = _laid_out(pattern, self.n_states, _align.MAX_MISSING + 1)
        jitter = np.where(beside, np.hypot(law.jitter_deg, law.beside_deg), law.jitter_deg)
        # Logarithms of seconds per degree of the wheel's shaft, whose turns take longer than the crank's.
        per_turn = self.crank_per_turn
        slow, fast = np.log(per_turn / (6.0 * np.array([_SLOWEST_RPM, _FASTEST_RPM])))
        table = np.zeros(13)
        table[[_align.ACCEL, _align.REACH, _align.FLOOR, _align.RATIO]] = (
            law.acceleration,
            _REACH_RAD,
            _LEAST_WANDER,
            per_turn,
        )
        table[[_align.U_START, _align.SD_START, _align.U_MIN, _align.U_MAX]] = (
            np.log(per_turn / (6.0 * 400.0)),
            1.5,
            fast,
            slow,
        )
        table[[_align.C_EXTRA, _align.C_MISSING, _align.C_LEAVE, _align.C_RETURN]] = (
            self.flaw,
            self.flaw,
            _C_LEAVE,
            _C_RETURN,
        )
        table[_align.DISPLACED] = _BENT_SHARE * min(pattern.pitch_deg, FINE_PITCH_DEG)
        return _align.align(
            self.times, deltas, jitter, self.noise, self.loose, self.suspect, self.fractions, widths, table
        )


@lru_cache(maxsize=64)
def _laid_out(pattern: WheelPattern, n: int, n_steps: int) -> tuple[FloatArray, BoolArray, FloatArray]:
    """Of the first ``n`` teeth: angles to those behind, shape (n, n_steps); whether a gap is beside; code widths.

    One wheel is read under dozens of laws, so this is kept; nobody writes into it.
    """
    gaps = np.array(pattern.gaps_deg[:n])
    deltas = np.cumsum(gaps[(np.arange(n)[:, None] + np.arange(n_steps)) % n], axis=1)
    marks = np.array(pattern.marks[:n])
    widths = np.array(pattern.widths_deg[:n]) / gaps if pattern.is_coded else np.full(n, np.nan)
    return deltas, marks | np.roll(marks, 1), widths


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


def _loose_prices(times: FloatArray) -> FloatArray:
    """What each edge costs where it follows no wheel [nats]; the first of all costs nothing.

    Half of such intervals lie around the usual one of the neighbourhood, half anywhere over about seven decades.
    """
    if times.size < 2:
        return np.zeros(times.size)
    log_d = np.log(np.diff(times))
    half = min(15, log_d.size // 2)
    padded = np.pad(log_d, half, mode="reflect") if half else log_d
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    bell = np.exp(-0.5 * ((log_d - usual) / _LOOSE_SD) ** 2) / (_LOOSE_SD * np.sqrt(2 * np.pi))
    return np.concatenate(([0.0], log_d - np.log(0.5 * bell + 0.5 / _LOOSE_RANGE)))


def _too_narrow(times: FloatArray, others: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Edges of either kind that belong to a pulse narrower than any tooth, in time or against the gaps beside it.

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
    return out[: times.size], out[times.size :]
