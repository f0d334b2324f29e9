"""How far and how often an oxygen sensor swings, as far as the rate of its samples tells.

How far is told by the share of samples at each voltage, whenever they were taken. How often is told only by samples
that come several times a swing: seldom ones show swings that were never there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.series import Series

__all__ = ["Crossings", "Swing", "crossings_of", "ratio_of", "swing_of"]

FloatArray = NDArray[np.float64]

_LOW, _HIGH = 5.0, 95.0
_FEWEST = 20
_DRAWS = 60
_LEAN_V, _RICH_V = 0.35, 0.55
_OFTEN = 4.0  # samples a swing that are needed to count swings; our guess
_SELDOM_S = 0.25  # quick loops swing at 1 Hz: samples further apart show slower swings that are not there; our guess
_LEAST_FRONT_V = 0.1  # less is no swing of a switching sensor; common practice, no source


@dataclass(frozen=True, slots=True)
class Swing:
    """How far a value swings.

    Parameters
    ----------
    value, sd : float [unit of the value]
        From 5 to 95 % of the values.
    low, high : float [unit of the value]
    rich_share : float [-]
        Of samples above 0.45, for a sensor in volts.
    count : int
    """

    value: float
    sd: float
    low: float
    high: float
    rich_share: float
    count: int


@dataclass(frozen=True, slots=True)
class Crossings:
    """How often a narrow-band sensor crosses 0.45 V.

    Parameters
    ----------
    per_min, sd : float [1/min]
    count : int
    reliable : bool
        False where the samples come too seldom: then there were at least as many.
    """

    per_min: float
    sd: float
    count: int
    reliable: bool


def swing_of(pieces: Sequence[Series]) -> Swing | None:
    """How far a value swings over some stretches.

    Parameters
    ----------
    pieces : sequence of Series
        Of one signal.

    Returns
    -------
    Swing or None
        None below 20 samples.

    Notes
    -----
    The spread is that of these stretches as they were, not of others like them: how much the number hangs on the
    moments of asking. Of every two neighbouring samples one is taken, by chance, and the number formed again; half the
    difference from that of the other ones is the error of the whole (half samples of two a stratum; McCarthy 1969, from
    memory). With a fixed seed: the same log gives the same number.
    """
    values = _values(pieces)
    if values.size < _FEWEST:
        return None
    low, high = np.percentile(values, (_LOW, _HIGH))
    step = max(one.step for one in pieces)
    # Few samples seldom hold the ends: by a half more at twenty.
    sd = float(np.hypot(_by_halves(values) * (1.0 + 0.5 * _FEWEST / values.size), step / 12.0**0.5))
    return Swing(float(high - low), sd, float(low), float(high), float(np.mean(values > 0.45)), int(values.size))


def ratio_of(rear: Sequence[Series], front: Sequence[Series]) -> tuple[float, float] | None:
    """Swing of one sensor over that of another.

    Parameters
    ----------
    rear, front : sequence of Series
        Stretches of each, in the same unit.

    Returns
    -------
    tuple of (float, float) or None [-]
        Ratio and standard deviation; None below 20 samples, or where the front one hardly swings.
    """
    above, below = swing_of(rear), swing_of(front)
    if above is None or below is None or below.value < max(4.0 * below.sd, _LEAST_FRONT_V):
        return None
    ratio = above.value / below.value
    return ratio, float(np.hypot(above.sd / below.value, ratio * below.sd / below.value))


def crossings_of(pieces: Sequence[Series]) -> Crossings | None:
    """How often a narrow-band sensor goes from lean to rich and back.

    Parameters
    ----------
    pieces : sequence of Series

    Returns
    -------
    Crossings or None
        None where less than ten seconds were seen.

    Notes
    -----
    A crossing counts when it has passed both 0.35 and 0.55 V. With fewer than four samples a swing some are missed, and
    what is missed does not show in what is seen: with more than 0.25 s between samples the count is a lower bound only.
    """
    seconds, count, watched, gaps = 0.0, 0, 0, []
    for one in pieces:
        if len(one) < 3:
            continue
        side = np.where(one.values > _RICH_V, 1, np.where(one.values < _LEAN_V, -1, 0))
        told = np.flatnonzero(side)
        changed = told[1:][np.diff(side[told]) != 0]
        count, watched = count + int(changed.size), watched + 1
        seconds += float(one.times_s[-1] - one.times_s[0])
        gaps += np.diff(one.times_s[changed]).tolist()
    if seconds < 10.0:
        return None
    period = float(np.median([one.period_s for one in pieces if len(one) > 1]))
    # Counted over these very stretches: open are half swings that fell between two samples, and either end of a
    # stretch, where a crossing lies unseen with the chance of half a period over a half swing.
    missed = float(np.exp(-np.mean(gaps) / period)) * count if gaps else 0.0
    unseen = min(0.5 * period / float(np.mean(gaps)), 0.5) if gaps else 0.25
    sd = 60.0 / seconds * float(np.hypot(np.sqrt(2.0 * watched * unseen * (1.0 - unseen)), 2.0 * missed))
    rate = 60.0 * count / seconds
    reliable = period <= _SELDOM_S and (count < 2 or bool(2.0 * seconds / count >= _OFTEN * period))
    return Crossings(rate, sd, count, reliable)


def _values(pieces: Sequence[Series]) -> FloatArray:
    return np.concatenate([one.values for one in pieces]) if pieces else np.empty(0)


def _by_halves(values: FloatArray) -> float:
    """Spread of the swing by the moments of asking, from halves of the samples."""
    pairs = values[: values.size // 2 * 2].reshape(-1, 2)
    first = np.random.default_rng(1).random((_DRAWS, len(pairs))) < 0.5
    halves = [np.where(first, pairs[:, k], pairs[:, 1 - k]) for k in (0, 1)]
    ends = [np.percentile(half, (_LOW, _HIGH), axis=1) for half in halves]
    apart = (ends[0][1] - ends[0][0]) - (ends[1][1] - ends[1][0])
    return float(0.5 * np.sqrt(np.mean(np.square(apart))))
