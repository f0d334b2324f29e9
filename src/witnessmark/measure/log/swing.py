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
_DRAWS = 200
_LEAN_V, _RICH_V = 0.35, 0.55
_OFTEN = 4.0  # samples a swing that are needed to count swings; our guess
_SELDOM_S = 0.25  # quick loops swing at 1 Hz: samples further apart show slower swings that are not there; our guess


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
    The spread is that of the same over blocks of neighbouring samples drawn again and again (moving blocks; Künsch
    1989, from memory), with a fixed seed: the same log gives the same number.
    """
    values = _values(pieces)
    if values.size < _FEWEST:
        return None
    low, high = np.percentile(values, (_LOW, _HIGH))
    step = max(one.step for one in pieces)
    drawn = np.percentile(_drawn(values), (_LOW, _HIGH), axis=1)
    sd = float(np.hypot(np.std(drawn[1] - drawn[0]) * _wide(values), step / 12.0**0.5))
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
    if above is None or below is None or below.value < 4.0 * below.sd or below.value <= 0.0:
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
    seconds, count, gaps = 0.0, 0, []
    for one in pieces:
        if len(one) < 3:
            continue
        side = np.where(one.values > _RICH_V, 1, np.where(one.values < _LEAN_V, -1, 0))
        told = np.flatnonzero(side)
        changed = told[1:][np.diff(side[told]) != 0]
        count += int(changed.size)
        seconds += float(one.times_s[-1] - one.times_s[0])
        gaps += np.diff(one.times_s[changed]).tolist()
    if seconds < 10.0:
        return None
    period = float(np.median([one.period_s for one in pieces if len(one) > 1]))
    rate = 60.0 * count / seconds
    # Half swings that vary as they do: the count's spread is that of a renewal process.
    spread = float(np.std(gaps) / np.mean(gaps)) if len(gaps) > 3 else 1.0
    sd = 60.0 / seconds * float(np.hypot(spread * np.sqrt(max(count, 1)), 0.5))
    reliable = period <= _SELDOM_S and (count < 2 or bool(2.0 * seconds / count >= _OFTEN * period))
    return Crossings(rate, sd, count, reliable)


def _values(pieces: Sequence[Series]) -> FloatArray:
    return np.concatenate([one.values for one in pieces]) if pieces else np.empty(0)


def _block(values: FloatArray) -> int:
    """Twice as long as samples stay alike, at most a sixth of all."""
    off = values - values.mean()
    power = float(off @ off)
    if power <= 0.0:
        return 1
    lags = range(1, max(values.size // 8, 2))
    alike = next((lag for lag in lags if float(off[:-lag] @ off[lag:]) / power < 0.2), values.size // 8)
    return int(np.clip(max(2 * alike, round(values.size ** (1.0 / 3.0))), 1, max(values.size // 6, 1)))


def _drawn(values: FloatArray) -> FloatArray:
    """The values anew, shape (200, about n), block by block."""
    size = _block(values)
    rng = np.random.default_rng(1)
    many = -(-values.size // size)
    starts = rng.integers(0, values.size - size + 1, (_DRAWS, many))
    return np.asarray(values[(starts[:, :, None] + np.arange(size)).reshape(_DRAWS, -1)])


def _wide(values: FloatArray) -> float:
    """Student's factor for the number of blocks, nearly."""
    blocks = max(values.size / _block(values), 3.0)
    return float(1.0 + 1.5 / blocks)
