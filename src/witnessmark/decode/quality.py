"""What of a lock may be believed: the rules by which stretches become void.

A wheel turning back under the piston that stopped it passes the same teeth the wrong way, and a train of edges does
not show it. So nothing is believed between a break and the nearest place where the pattern bears out the count; and a
piece beside a break must hold a whole turn, for no piston throws a crank back that far.

What stays open: on a wheel of three or four edges a turn, a crank rocked back and forth without coming to rest can look
like one slow turn. A cam's edges show it, the wheel alone does not.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.lock import Stretch, WheelLock

__all__ = ["judge"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# More trouble than this within one turn, as a share of its teeth, and the count is a guess: on a coarse wheel a crank
# thrown back and forth can be read as a turn with two teeth missing. Pulses too narrow for a tooth are no trouble.
_TROUBLE_SHARE, _TROUBLE_LEAST = 0.12, 1
# A gap shows where the wheel stands only if the other edge falls within it where it always does; share of the gap.
_SAME_WIDTH, _SAME_WIDTH_SCATTERS = 0.08, 4.0
# On a coded wheel so many widths in a row must be as the code has them, to this share of a gap.
_CODE_RUN, _CODE_DOUBT = 7, 0.15
# Slower than this, in crank turns per minute over one interval: the crank may have stood.
_STANDING_RPM = 25.0
# A crank that turns back leaves one interval far slower than both its neighbours, at a speed below this; less so, if
# the other edge does not lie within it where it always does.
_TURNING_RPM, _TURNING_RATIO, _TURNING_RATIO_ODD = 120.0, 1.8, 1.35
# Read as a gap, that interval shows by the pace on either side: rising toward it and falling after it, per tooth,
# faster than compression makes it between teeth as close as this.
_TURNING_SLOPE, _TURNING_PITCH_DEG = 0.3, 16.0
# Without a pattern to bear out the count: the angle over which a piston can throw the crank back.
_THROW_BACK_DEG = 180.0
_MOST_EXTRA_AT_END = 3


def judge(lock: WheelLock) -> WheelLock:
    """A lock with its doubtful stretches taken out and named.

    Parameters
    ----------
    lock : WheelLock
        As first read, without void stretches.

    Returns
    -------
    WheelLock
        Parts numbered anew; everything outside them is covered by ``void``.
    """
    noisy, turned = np.zeros(lock.part.size, dtype=bool), np.zeros(lock.part.size, dtype=bool)
    pieces: list[IntArray] = []
    for members in _pieces(lock.part):
        noisy[members] = _noisy(lock, members)
        turned[members] = _may_have_turned_back(lock, members)
        pieces += _split(members, noisy, turned)
    good = [_believed(lock, piece) for piece in pieces]
    good = [piece for piece in good if piece.size]
    return _rebuilt(lock, good, noisy, turned)


def _pieces(part: IntArray) -> list[IntArray]:
    """Numbers of the edges of every part."""
    inside = np.flatnonzero(part >= 0)
    if not inside.size:
        return []
    return np.split(inside, np.flatnonzero(np.diff(part[inside])) + 1)


def _noisy(lock: WheelLock, members: IntArray) -> BoolArray:
    """Teeth around which, within one turn, too many edges are missing or extra."""
    turn = max(lock.pattern.n_edges // lock.pattern.symmetry, 4)
    limit = max(_TROUBLE_LEAST, _TROUBLE_SHARE * turn)
    i, j = members[0], members[-1] + 1
    trouble = np.cumsum(lock.missing[i:j] + (lock.extra[i:j] & ~lock.narrow[i:j]))[members - i]
    count = lock.count[members]
    low = np.searchsorted(count, count - turn // 2)
    high = np.minimum(np.searchsorted(count, count + turn // 2), members.size - 1)
    return np.asarray(trouble[high] - trouble[low] > limit)


def _may_have_turned_back(lock: WheelLock, members: IntArray) -> BoolArray:
    """Teeth in front of which the crank may have stood still or turned back."""
    out = np.zeros(members.size, dtype=bool)
    if members.size < 4:
        return out
    pattern, n = lock.pattern, lock.pattern.n_edges
    count = lock.count[members]
    places = np.array(pattern.edges_deg)
    angle = np.diff(360.0 * (count // n) + places[count % n]) * lock.crank_per_turn
    pace = np.log(np.diff(lock.times_s[members]) / angle)
    slow = pace > -np.log(6.0 * _TURNING_RPM)
    slower = pace[1:-1] - np.maximum(pace[:-2], pace[2:])
    odd = ~_usual_width(lock, members)[2:-1]
    limit = np.where(odd, np.log(_TURNING_RATIO_ODD), np.log(_TURNING_RATIO))
    out[2:-1] = slow[1:-1] & (slower > limit)
    if pattern.pitch_deg * lock.crank_per_turn <= _TURNING_PITCH_DEG and members.size >= 6:
        rising, falling = np.diff(pace)[:-3], -np.diff(pace)[3:]
        gap = np.array(pattern.marks)[(count[2:-3] % n)]
        kink = gap & slow[2:-2] & (rising > _TURNING_SLOPE) & (falling > _TURNING_SLOPE)
        out[3:-2] |= kink
    return out


def _split(members: IntArray, noisy: BoolArray, turned: BoolArray) -> list[IntArray]:
    """What is left of a part without its noisy teeth, cut where the crank may have turned back."""
    quiet = ~noisy[members]
    cut = np.zeros(members.size, dtype=bool)
    cut[1:] = turned[members[1:]] | (quiet[1:] != quiet[:-1])
    pieces = np.split(np.arange(members.size), np.flatnonzero(cut))
    return [members[piece] for piece in pieces if quiet[piece[0]]]


def _believed(lock: WheelLock, members: IntArray) -> IntArray:
    """The teeth of a piece that may be believed."""
    nothing = members[:0]
    pattern = lock.pattern
    n, sector = pattern.n_edges, pattern.n_edges // pattern.symmetry
    has_marks = any(pattern.marks) or pattern.is_coded
    broken_before, broken_after = members[0] != 0, not _ends_with_train(lock, members)
    confirmed = _confirmed(lock, members)
    whole = lock.count[members[-1]] - lock.count[members[0]] >= n
    if members.size < (3 if has_marks else 5) or (has_marks and not confirmed.any()):
        return nothing
    if (broken_before or broken_after) and not whole:
        return nothing
    count = lock.count[members]
    if has_marks:
        first, last = np.flatnonzero(confirmed)[[0, -1]]
        begin, end = count[first] - 1, count[last]
    else:
        angle = max(_THROW_BACK_DEG / lock.crank_per_turn / 360.0 * n, sector)
        begin, end = count[0] + angle, count[-1] - angle
    low, high = (begin if broken_before else count[0]), (end if broken_after else count[-1])
    return np.asarray(members[(count >= low) & (count <= high)])


def _confirmed(lock: WheelLock, members: IntArray) -> BoolArray:
    """Teeth at which the pattern shows where it stands: a gap unlike the others just passed, whole and undisturbed."""
    pattern = lock.pattern
    n = pattern.n_edges
    gap = (lock.count[members] - 1) % n
    clean = np.zeros(members.size, dtype=bool)
    clean[1:] = (np.diff(members) == 1) & (lock.missing[members[1:]] == 0)
    if not pattern.is_coded:
        return np.asarray(np.array(pattern.marks)[gap] & clean & _usual_width(lock, members))
    expected = (np.array(pattern.widths_deg) / np.array(pattern.gaps_deg))[gap]
    as_coded = clean & (np.abs(lock.other_at[members] - expected) < _CODE_DOUBT)
    run = np.convolve(as_coded, np.ones(_CODE_RUN))[: members.size]
    return np.asarray(run == _CODE_RUN)


def _usual_width(lock: WheelLock, members: IntArray) -> BoolArray:
    """Teeth before which the other edge lies where it lies in the same gap on other turns; true where none is known.

    A crank that turns back leaves a long interval much like a gap, but the other edge anywhere in it.
    """
    tooth, at = lock.tooth[members], lock.other_at[members]
    out = np.ones(members.size, dtype=bool)
    for k in np.unique(tooth):
        everywhere = lock.other_at[lock.good & (lock.tooth == k)]
        known = everywhere[np.isfinite(everywhere)]
        if known.size < 3:
            continue
        usual = np.median(known)
        limit = max(_SAME_WIDTH, _SAME_WIDTH_SCATTERS * 1.4826 * float(np.median(np.abs(known - usual))))
        own = tooth == k
        out[own] = ~(np.abs(at[own] - usual) > limit)
    return out


def _ends_with_train(lock: WheelLock, members: IntArray) -> bool:
    """True where a piece runs to the end of the train, but for a few edges after it that are merely extra."""
    rest = lock.times_s.size - 1 - members[-1]
    return bool(rest == 0 or (rest <= _MOST_EXTRA_AT_END and lock.extra[members[-1] + 1 :].all()))


def _rebuilt(lock: WheelLock, good: list[IntArray], noisy: BoolArray, turned: BoolArray) -> WheelLock:
    """The lock with these pieces as its parts, each counted from its own first turn."""
    n = lock.pattern.n_edges
    part = np.full(lock.part.size, -1, dtype=np.int64)
    count = np.full(lock.part.size, -1, dtype=np.int64)
    missing = np.zeros(lock.part.size, dtype=np.int64)
    within = np.zeros(lock.part.size, dtype=bool)
    for p, members in enumerate(good):
        part[members] = p
        count[members] = lock.count[members] - lock.count[members[0]] // n * n
        missing[members[1:]] = lock.missing[members[1:]]
        within[members[0] : members[-1] + 1] = True
    extra = lock.extra & within
    void = _stretches(lock, good, noisy, turned)
    return replace(lock, count=count, part=part, missing=missing, extra=extra, void=void)


def _stretches(lock: WheelLock, good: list[IntArray], noisy: BoolArray, turned: BoolArray) -> tuple[Stretch, ...]:
    """The void stretches before, between and after the parts, with the reason for each."""
    last = lock.times_s.size - 1
    ends = [(0, 0), *((int(g[0]), int(g[-1])) for g in good), (last, last)] if good else [(0, 0), (last, last)]
    out = []
    for k, ((_, i), (j, _)) in enumerate(itertools.pairwise(ends)):
        at_end = k == len(ends) - 2
        if j <= i or (at_end and good and lock.extra[i + 1 :].all()):
            continue
        reason = _why(lock, i, j, noisy, turned, at_start=k == 0)
        out.append(Stretch(float(lock.times_s[i]), float(lock.times_s[j]), reason))
    return tuple(out)


def _why(lock: WheelLock, i: int, j: int, noisy: BoolArray, turned: BoolArray, *, at_start: bool) -> str:
    longest = float(np.diff(lock.times_s[i : j + 1]).max(initial=0.0))
    standing = max(lock.pattern.gaps_deg) * lock.crank_per_turn / (6.0 * _STANDING_RPM)
    if noisy[i : j + 1].any():
        return "noise"
    if at_start:
        return "spin-up"
    return "stop" if longest > standing or turned[i : j + 1].any() else "lost"
