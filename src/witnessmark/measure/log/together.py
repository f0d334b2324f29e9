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
    By itself each of m lapses of one signal meets one of the n of another within ±w in m·n·2w/T cases of a log of
    length T, and Poisson's law gives the chance of so many or more. Pairs below 1 % are tied; what is tied in a chain
    is one group.
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
    """Pairs of lapses whose times of being lost touch, each lapse used once.

    Parameters
    ----------
    one, other : sequence of Lapse
    within_s : float [s]

    Returns
    -------
    list of tuple of (Lapse, Lapse)
    """
    left, found = list(other), []
    for lapse in one:
        near = [o for o in left if o.from_s <= lapse.to_s + within_s and lapse.from_s <= o.to_s + within_s]
        if near:
            best = min(near, key=lambda o: abs(o.middle_s - lapse.middle_s))
            left.remove(best)
            found.append((lapse, best))
    return found


def _met(one: Sequence[Lapse], other: Sequence[Lapse], fresh_s: float, seconds: float) -> tuple[int, float]:
    pairs = shared(one, other, 0.2)
    spread = float(np.mean([a.to_s - a.from_s for a in one]) + np.mean([b.to_s - b.from_s for b in other])) + 0.4
    expected = len(one) * len(other) * min((spread + fresh_s) / max(seconds, 1.0), 1.0)
    return len(pairs), float(pdtrc(len(pairs) - 1, expected)) if pairs else 1.0


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
