"""What of a lock may be believed: the rules by which stretches become void.

A wheel turning back under the piston that stopped it passes the same teeth the wrong way, and a train of edges does
not show it. So nothing is believed between the last place where the pattern bore out the count and a break.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.wheel import Stretch, WheelLock

__all__ = ["judge"]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_LOOSE = -2
# More trouble than this within one turn, as a share of its teeth, and the count is a guess.
_TROUBLE_SHARE, _TROUBLE_LEAST = 0.12, 3
# Slower than this, in crank turns per minute over one interval: the crank may have stood.
_STANDING_RPM = 12.0
# Without a pattern to bear out the count: the angle over which a piston can throw the crank back.
_THROW_BACK_DEG = 180.0


def judge(lock: WheelLock, labels: NDArray[np.int16]) -> WheelLock:
    """A lock with its doubtful stretches taken out and named.

    Parameters
    ----------
    lock : WheelLock
        As first read, without void stretches.
    labels : array of int, shape (n,)
        Labels of all edges as the alignment gave them.

    Returns
    -------
    WheelLock
        Parts numbered anew; everything outside them is covered by ``void``.
    """
    part = lock.part.copy()
    noisy = _noisy(lock, part)
    part[noisy] = -1
    _split(lock, part, noisy)
    for p in range(int(part.max(initial=-1)) + 1):
        members = np.flatnonzero(part == p)
        if members.size:
            part[members[~_borne_out(lock, members, labels)]] = -1
    part = _renumber(part)
    extra = lock.extra & _inside(part)
    keep = part >= 0
    first = np.zeros_like(keep)
    first[[np.flatnonzero(part == p)[0] for p in range(int(part.max(initial=-1)) + 1)]] = True
    return replace(
        lock,
        count=_shift(lock, part),
        part=part,
        missing=np.where(keep & ~first, lock.missing, 0),
        extra=extra,
        void=_stretches(lock, part, extra, noisy),
    )


def _noisy(lock: WheelLock, part: IntArray) -> BoolArray:
    """Teeth of a part around which, within one turn, too many edges are missing or extra."""
    out = np.zeros(part.size, dtype=bool)
    n = lock.pattern.n_edges // lock.pattern.symmetry
    turn = max(n, 4)
    limit = max(_TROUBLE_LEAST, _TROUBLE_SHARE * turn)
    for p in range(int(part.max(initial=-1)) + 1):
        members = np.flatnonzero(part == p)
        i, j = members[0], members[-1] + 1
        trouble = np.cumsum(lock.missing[i:j] + lock.extra[i:j])[members - i]
        count = lock.count[members]
        lo = np.searchsorted(count, count - turn // 2)
        hi = np.minimum(np.searchsorted(count, count + turn // 2), members.size - 1)
        out[members[trouble[hi] - trouble[lo] > limit]] = True
    return out


def _split(lock: WheelLock, part: IntArray, cut: BoolArray) -> None:
    """Give what is left of a part on either side of a cut its own number."""
    for p in range(int(part.max(initial=-1)) + 1):
        members = np.flatnonzero(part == p)
        for i, j in zip(members[:-1], members[1:], strict=True):
            if cut[i:j].any():
                part[members[members >= j]] = part.max() + 1


def _borne_out(lock: WheelLock, members: IntArray, labels: NDArray[np.int16]) -> BoolArray:
    """Which teeth of a part may be believed."""
    none = np.zeros(members.size, dtype=bool)
    confirmed = _confirmed(lock, members)
    has_marks = any(lock.pattern.marks) or lock.pattern.is_coded
    if has_marks and not confirmed.any():
        return none
    if members.size < (3 if has_marks else 5):
        return none
    keep = ~none
    if not _ends_with_train(lock, members):
        if has_marks:
            keep[np.flatnonzero(confirmed)[-1] + 1 :] = False
        else:
            angle = _THROW_BACK_DEG / lock.crank_per_turn / 360.0 * lock.pattern.n_edges
            keep[lock.count[members] > lock.count[members[-1]] - angle] = False
    return keep


def _confirmed(lock: WheelLock, members: IntArray) -> BoolArray:
    """Teeth at which the pattern shows where it stands: a gap unlike the others just passed, whole and undisturbed."""
    pattern = lock.pattern
    n = pattern.n_edges
    marks = np.ones(n, dtype=bool) if pattern.is_coded else np.array(pattern.marks)
    behind = marks[(lock.count[members] - 1) % n]
    clean = np.ones(members.size, dtype=bool)
    clean[1:] = (np.diff(members) == 1) & (lock.missing[members[1:]] == 0)
    clean[0] = False
    return np.asarray(behind & clean)


def _ends_with_train(lock: WheelLock, members: IntArray) -> bool:
    """True where a part runs to the end of the train, but for a few edges after it that are merely extra."""
    rest = lock.times_s.size - 1 - members[-1]
    return bool(rest == 0 or (rest <= 3 and lock.extra[members[-1] + 1 :].all()))


def _renumber(part: IntArray) -> IntArray:
    out = np.full_like(part, -1)
    good = part >= 0
    if good.any():
        order = part[good]
        new = np.concatenate(([0], np.cumsum(np.diff(order) != 0)))
        out[good] = new
    return out


def _inside(part: IntArray) -> BoolArray:
    """Edges between the first and the last tooth of some part."""
    out = np.zeros(part.size, dtype=bool)
    for p in range(int(part.max(initial=-1)) + 1):
        members = np.flatnonzero(part == p)
        out[members[0] : members[-1] + 1] = True
    return out


def _shift(lock: WheelLock, part: IntArray) -> IntArray:
    """Counts such that every part begins in the wheel's turn 0."""
    count = np.where(part >= 0, lock.count, -1)
    n = lock.pattern.n_edges
    for p in range(int(part.max(initial=-1)) + 1):
        members = np.flatnonzero(part == p)
        count[members] -= count[members[0]] // n * n
    return count


def _stretches(lock: WheelLock, part: IntArray, extra: BoolArray, noisy: BoolArray) -> tuple[Stretch, ...]:
    """The void stretches between, before and after the parts, with the reason for each."""
    times, n_parts = lock.times_s, int(part.max(initial=-1)) + 1
    ends = [(np.flatnonzero(part == p)[0], np.flatnonzero(part == p)[-1]) for p in range(n_parts)]
    if not ends:
        return (Stretch(float(times[0]), float(times[-1]), _why(lock, 0, times.size - 1, noisy, at_start=True)),)
    out = []
    if ends[0][0] > 0:
        out.append((0, ends[0][0], True))
    out += [(a[1], b[0], False) for a, b in zip(ends[:-1], ends[1:], strict=True)]
    if ends[-1][1] < times.size - 1 and not extra[ends[-1][1] + 1 :].all():
        out.append((ends[-1][1], times.size - 1, False))
    return tuple(
        Stretch(float(times[i]), float(times[j]), _why(lock, i, j, noisy, at_start=start)) for i, j, start in out
    )


def _why(lock: WheelLock, i: int, j: int, noisy: BoolArray, *, at_start: bool) -> str:
    longest = np.diff(lock.times_s[i : j + 1]).max(initial=0.0)
    standing = max(lock.pattern.gaps_deg) * lock.crank_per_turn / (6.0 * _STANDING_RPM)
    if noisy[i : j + 1].any():
        return "noise"
    if longest > standing:
        return "spin-up" if at_start else "stop"
    return "spin-up" if at_start else "lost"
