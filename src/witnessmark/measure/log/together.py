"""Lapses that come at the same moment, and the chance that this is an accident."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import pdtrc

from witnessmark.measure.log.lapses import Lapse
from witnessmark.recording.parameters import Signal

__all__ = ["Together", "shared", "together"]

_ACCIDENT = 0.01
_STAMPS_S = 0.2  # by which stamps of one moment may differ beside that


@dataclass(frozen=True, slots=True)
class Together:
    """Signals that were lost at the same moments.

    Parameters
    ----------
    signals : tuple of Signal
        In order of their text.
    moments : tuple of tuple of Lapse
        For each moment the lapses of all that were lost then.
    chance : float [-]
        That so many moments would be shared if each signal were lost by itself: of the least certain pair.
    """

    signals: tuple[Signal, ...]
    moments: tuple[tuple[Lapse, ...], ...]
    chance: float


def together(lapses: Sequence[Lapse], fresh_s: Mapping[Signal, float], seconds: float) -> tuple[Together, ...]:
    """Groups of signals that are lost together more often than accident allows.

    Parameters
    ----------
    lapses : sequence of Lapse
    fresh_s : mapping of Signal to float [s]
        How often each value comes afresh: so far apart the same moment may stand in the log.
    seconds : float [s]
        Length of the log.

    Returns
    -------
    tuple of Together
        A signal may be in one group only.

    Notes
    -----
    By itself the beginning of each of m lapses of one signal meets that of one of the n of another within ±w in
    m·n·2w/T cases of a log of length T; where the ends meet too, in 2w over their length of those. Poisson's law gives
    the chance of so many or more. Pairs below 1 % are tied; what is tied in a chain is one group.
    """
    by_signal: dict[Signal, list[Lapse]] = {}
    for lapse in lapses:
        by_signal.setdefault(lapse.signal, []).append(lapse)
    tied: dict[Signal, Signal] = {signal: signal for signal in by_signal}
    chances: dict[tuple[Signal, Signal], float] = {}
    for one, other in itertools.combinations(sorted(by_signal, key=str), 2):
        met, chance = _met(by_signal[one], by_signal[other], max(fresh_s[one], fresh_s[other]), seconds)
        if met and chance < _ACCIDENT:
            chances[one, other] = chance
            _tie(tied, one, other)
    groups: dict[Signal, list[Signal]] = {}
    for signal in sorted(by_signal, key=str):
        groups.setdefault(_root(tied, signal), []).append(signal)
    return tuple(
        Together(tuple(group), _moments(group, by_signal, fresh_s), _least(group, chances))
        for group in groups.values()
        if len(group) > 1
    )


def shared(one: Sequence[Lapse], other: Sequence[Lapse], within_s: float) -> list[tuple[Lapse, Lapse]]:
    """Pairs of lapses that began at the same moment, each lapse used once.

    Parameters
    ----------
    one, other : sequence of Lapse
    within_s : float [s]
        So far apart may their last sound values lie: as long as it takes until a value comes afresh.

    Returns
    -------
    list of tuple of (Lapse, Lapse)
    """
    left, found = list(other), []
    for lapse in one:
        near = [o for o in left if abs(o.from_s - lapse.from_s) <= within_s]
        if near:
            best = min(near, key=lambda o: abs(o.from_s - lapse.from_s) + abs(o.to_s - lapse.to_s))
            left.remove(best)
            found.append((lapse, best))
    return found


def _met(one: Sequence[Lapse], other: Sequence[Lapse], fresh_s: float, seconds: float) -> tuple[int, float]:
    """How many moments they share, and the chance of so many or more by accident."""
    within = fresh_s + _STAMPS_S
    pairs = shared(one, other, within)
    if not pairs:
        return 0, 1.0
    ends = [abs(a.to_s - b.to_s) <= within for a, b in pairs]
    # Long lapses that also end together are less of an accident: their ends might have lain anywhere.
    long = float(np.median([max(a.to_s - a.from_s, b.to_s - b.from_s) for a, b in pairs]))
    sharper = min(1.0, 2.0 * within / max(long, 1e-9)) if all(ends) else 1.0
    expected = len(one) * len(other) * min(2.0 * within / max(seconds, 1.0), 1.0) * sharper
    return len(pairs), float(pdtrc(len(pairs) - 1, expected))


def _tie(tied: dict[Signal, Signal], one: Signal, other: Signal) -> None:
    tied[_root(tied, other)] = _root(tied, one)


def _root(tied: Mapping[Signal, Signal], signal: Signal) -> Signal:
    while tied[signal] != signal:
        signal = tied[signal]
    return signal


def _least(group: Sequence[Signal], chances: Mapping[tuple[Signal, Signal], float]) -> float:
    """Of the ties that hold the group together, the weakest that is needed: each member's best."""
    best = [min(chance for pair, chance in chances.items() if signal in pair) for signal in group]
    return max(best)


def _moments(
    group: Sequence[Signal], by_signal: Mapping[Signal, Sequence[Lapse]], fresh_s: Mapping[Signal, float]
) -> tuple[tuple[Lapse, ...], ...]:
    """Lapses of the group's members that touch, from one time without any to the next."""
    every = sorted((lapse for signal in group for lapse in by_signal[signal]), key=lambda one: one.from_s)
    moments: list[list[Lapse]] = []
    until = -np.inf
    for lapse in every:
        if lapse.from_s > until + 0.2:
            moments.append([])
        moments[-1].append(lapse)
        until = max(until if moments[-1][:-1] else -np.inf, lapse.to_s)
    return tuple(tuple(one) for one in moments if len({lapse.signal for lapse in one}) > 1)
