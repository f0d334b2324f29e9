"""Means of samples that follow one another too closely to be independent, and how far to trust them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from witnessmark.estimate import NORMAL_90
from witnessmark.measure.log.series import Series

__all__ = ["EVEN_90", "SLOW_AGE_S", "Average", "average", "trailing"]

FloatArray = NDArray[np.float64]

EVEN_90 = 0.45 / NORMAL_90
"""Of a step: the spread whose 1.645 fold holds 90 % of an even rounding error."""
SLOW_AGE_S = 2.5
"""How old what a thermistor shows usually is, with what computers smooth of it [s]; common practice, no source."""
_AGE_S, _AGE_SHARE, _OLDEST_S = 0.3, 0.3, 30.0  # how old values are: by themselves, and of their spacing; our guess
_SLOW = ("coolant", "intake_air", "outside_air", "oil_temperature")
# What a swing leaves of a rounding error is a product of two sines, of its reach and of its middle: 90 % of all stay
# below 0.76, times 2/pi of an even error's reach, against its 0.9.
_PHASES = 0.9 / (0.76 * 2.0 / np.pi)
_GAP = 2.5  # usual steps; our guess
_HIDES = 2  # samples in a block, from which on neighbours are asked beside the blocks
_TRUST = 0.5  # in their correlation, against that of as many pairs by themselves; our guess
_MOST = 32  # blocks that the samples are gathered into, so that an hour at 20 Hz takes no longer than a minute
# Of the scatter, that goes on from sample to sample. An idle that sinks by 400 rpm while the engine warms scatters
# forty times as far as its noise: the last two leave a twentieth and a fiftieth to what is fresh. Few samples tell none
# of that.
_SHARES = np.array([0.3, 0.6, 0.85, 0.95, 0.99, 0.998, 0.9996])
# A computer filters its sensors: what dies away sooner may be their noise as well. Speed, pressure
# and flow are taken over the turn between two ignitions and smoothed over a few of them (common practice, no source).
_FILTER_S, _TURNS_S = 0.6, 0.2
_BY_TURNS = ("engine_speed", "map", "maf")
_NOISE_SHARE = 0.5  # of that, none to all as likely
# What a computer counts or sets itself has no noise of a sensor that a filter could drag out.
_COUNTED = ("idle_air", "short_trim", "long_trim", "timing", "knock_retard", "cam_target")
_TIMES = 8  # decay times tried, from one sample to the whole length
_PERIODS = 6
_LEAST, _MANY = 3, 8
# What is thought beforehand of noise: fresh at every sample, dying away, swinging. Where few samples are, it decides.
_FRESH, _DYING, _SWINGING = 0.55, 0.30, 0.15


@dataclass(frozen=True, slots=True)
class Average:
    """The mean of a parameter over one or several stretches.

    Parameters
    ----------
    value, sd : float [unit of the parameter]
        ``sd`` is that of the mean; 1.645 of it on either side hold, in 90 of 100 cases, what an ideal instrument would
        have shown on average over the same stretches; how the engine itself varies between stretches is not in it.
    scatter : float [unit of the parameter]
        Standard deviation of single samples.
    count : int
        Samples.
    worth : float [-]
        How many independent samples they are worth.
    """

    value: float
    sd: float
    scatter: float
    count: int
    worth: float


def average(pieces: list[Series], *, floor: float = 0.0, gaps: bool = True) -> Average | None:
    """The mean over stretches of one series.

    Parameters
    ----------
    pieces : list of Series
        Stretches of one series, as :meth:`Series.inside` gives them.
    floor : float [unit of the parameter]
        What averaging cannot take away (a sensor that is read late, a display that rounds), added as squares.
    gaps : bool
        Whether time without samples inside a stretch belongs to it: values were lost there. False where they were left
        out on purpose.

    Returns
    -------
    Average or None
        None below three samples in all.

    Notes
    -----
    The samples are taken as a mean, and around it movement of two kinds: fresh at every sample, and going on from one
    to the next: roughly or smoothly dying away (exponential correlation; Matérn's of 3/2) or swinging as it does (the
    first times a cosine: a closed loop that hunts). What goes on is the engine's own and was there between the samples
    too: the mean over the stretches follows it. The error is what is fresh, and how far the moments of reading were not
    typical of the time around them. How much goes on, for how long and with what period is not known: each is tried on
    a grid, with mean and size integrated out (flat and Jeffreys' prior), and the interval is that of the mixture. So
    uneven times, gaps and few samples need no rule of their own (best linear prediction, any text on geostatistics).
    Where samples are gathered into blocks, how alike samples within them are is asked beside them.

    Where values were lost inside a stretch, those on either side stand for the gap. A sixth of the square by which
    values that far apart differ is the doubt of that: a twelfth it would be of a walk, a quarter of noise.

    Rounded values add what scatter does not smooth: an even rounding error of one step, less what noise of the size
    seen takes off it: of normal noise exp(-2 (pi sigma/step)^2) is left, the first harmonic of the rounding's sawtooth,
    of a swing between two limits the envelope of sin(x)/x; the larger counts (Widrow's theory of quantisation, from
    memory).

    What is shown is some tenths of a second old: sensors lag, computers smooth, a row has one stamp for answers that
    came one after the other. Over stretches in which the value ends elsewhere than it began, the mean is off by the age
    times that change over their length.
    """
    used = [piece for piece in pieces if len(piece)]
    values = np.concatenate([piece.values for piece in used]) if used else np.empty(0)
    if values.size < _LEAST:
        return None
    scatter = float(np.std(values, ddof=1))
    step = max(piece.step for piece in used)
    if scatter <= 1e-9 * max(1.0, float(np.max(np.abs(values)))):
        value, spread = float(values.mean()), 0.0
    else:
        fresh = _once(used)
        value, spread = _mixture(_blocks(fresh, gaps))
        spread = float(np.hypot(spread, _unseen(fresh))) if gaps else spread
    sd = float(np.sqrt(spread**2 + _rounding(scatter, step) ** 2 + trailing(used) ** 2 + floor**2))
    worth = (scatter / spread) ** 2 if spread > 0.0 else float(values.size)
    return Average(value, sd, scatter, int(values.size), float(np.clip(worth, 1.0, values.size)))


def trailing(pieces: list[Series]) -> float:
    """What the unknown age of values may have put into their mean.

    Parameters
    ----------
    pieces : list of Series
        Stretches of one series.

    Returns
    -------
    float [unit of the parameter]
        Standard deviation: the age times the change from the begins to the ends, over the time.
    """
    fresh = [piece for piece in _once(pieces) if len(piece) > 1]
    seconds = sum(float(piece.times_s[-1] - piece.times_s[0]) for piece in fresh)
    if seconds <= 0.0:
        return 0.0
    change = sum(float(np.mean(piece.values[-2:]) - np.mean(piece.values[:2])) for piece in fresh)
    spacing = float(np.median(np.concatenate([np.diff(piece.times_s) for piece in fresh])))
    own = SLOW_AGE_S if fresh[0].signal.id in _SLOW else _AGE_S
    age = np.hypot(own, _AGE_SHARE * min(spacing, _OLDEST_S))
    return float(age * abs(change) / max(seconds, age))


def _rounding(scatter: float, step: float) -> float:
    if step <= 0.0:
        return 0.0
    noise = np.sqrt(max(scatter**2 / step**2 - 1.0 / 12.0, 0.0))
    left = max(np.exp(-2.0 * (np.pi * noise) ** 2), 1.0 / (1.0 + _PHASES * 2.0 * np.pi * np.sqrt(3.0) * noise))
    return float(EVEN_90 * step * left)


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Neighbouring samples gathered: middle time, mean, how many, share of the time; usual step; all time; noise."""

    times_s: FloatArray
    means: FloatArray
    counts: FloatArray
    shares: FloatArray
    step_s: float
    whole_s: float
    alike: tuple[float, float, float] | None  # correlation of samples some way apart, how far, how many: inside blocks
    filter_s: float  # what dies away sooner may be a filtered sensor's noise

    def __len__(self) -> int:
        return int(self.means.size)


def _once(pieces: list[Series]) -> list[Series]:
    """Each reading once, at the middle of the rows that repeat it, where a file writes its last value into every row.

    Told by most rows repeating the one before though nearly every reading is a new number: a coarse step repeats too,
    but comes back to the same few numbers, or creeps on from one to the next (oil that warms, a trim that is learnt):
    then it stood for as long as the rows say.
    """
    starts = [np.flatnonzero(np.append(True, np.diff(piece.values) != 0.0)) for piece in pieces]
    readings = np.concatenate([piece.values[first] for piece, first in zip(pieces, starts, strict=True)])
    rows = sum(len(piece) for piece in pieces)
    if readings.size > 0.6 * rows or readings.size < 5 or np.unique(readings).size < 0.5 * readings.size:
        return pieces
    moves = np.abs(np.concatenate([np.diff(piece.values[first]) for piece, first in zip(pieces, starts, strict=True)]))
    if moves.size and float(np.mean(moves <= 1.5 * max(piece.step for piece in pieces))) > 0.5:
        return pieces
    found = []
    for piece, first in zip(pieces, starts, strict=True):
        last = np.append(first[1:], len(piece)) - 1
        middle = 0.5 * (piece.times_s[first] + piece.times_s[last])
        found.append(replace(piece, times_s=middle, values=piece.values[first]))
    return found


def _unseen(pieces: list[Series]) -> float:
    """What gaps inside stretches may have put into the mean."""
    steps = [np.diff(piece.times_s) for piece in pieces if len(piece) > 1]
    if not steps:
        return 0.0
    every = np.concatenate(steps)
    step, whole = float(np.median(every)), float(every.sum())
    total = 0.0
    for gap in every[every > _GAP * step].tolist():
        lag = max(round(gap / step), 1)
        apart = [piece.values[lag:] - piece.values[:-lag] for piece in pieces if len(piece) > lag]
        if apart:
            total += (gap / whole) ** 2 * float(np.mean(np.square(np.concatenate(apart)))) / 6.0
    return float(np.sqrt(total))


def _blocks(pieces: list[Series], gaps: bool) -> _Blocks:
    """No more than about 32 blocks."""
    size = max(1, -(-sum(len(piece) for piece in pieces) // _MOST))
    steps = [np.diff(piece.times_s) for piece in pieces if len(piece) > 1]
    step = float(np.median(np.concatenate(steps))) if steps else 1.0
    times, means, counts, shares = [], [], [], []
    for piece in pieces:
        lasts = _lasting(piece, step, np.inf if gaps else _GAP)
        for part in np.array_split(np.arange(len(piece)), -(-len(piece) // size)):
            times.append(float(piece.times_s[part].mean()))
            means.append(float(np.average(piece.values[part], weights=lasts[part])))
            counts.append(float(part.size))
            shares.append(float(lasts[part].sum()))
    whole = sum(shares)
    alike = _alike(pieces, step) if size >= _HIDES else None
    return _Blocks(
        np.array(times), np.array(means), np.array(counts), np.array(shares) / whole, step, whole, alike,
        _filter_s(pieces[0].signal.id),
    )  # fmt: skip


def _filter_s(parameter: str) -> float:
    if parameter in _COUNTED:
        return 0.0
    return _TURNS_S if parameter in _BY_TURNS else _FILTER_S


def _alike(pieces: list[Series], step_s: float) -> tuple[float, float, float] | None:
    """Correlation of samples as far apart as no filter reaches, about the mean of all; how far [s], how many pairs."""
    reach = 0.0 if pieces[0].signal.id in _COUNTED else _FILTER_S
    lag = max(1, int(np.ceil(reach / step_s)))
    centre = float(np.mean(np.concatenate([piece.values for piece in pieces])))
    power = float(np.mean(np.square(np.concatenate([piece.values for piece in pieces]) - centre)))
    pairs = [(piece.values[:-lag] - centre, piece.values[lag:] - centre) for piece in pieces if len(piece) > lag]
    count = sum(a.size for a, _ in pairs)
    if count < _LEAST or power <= 0.0:
        return None
    share = sum(float(a @ c) for a, c in pairs) / count / power
    return float(np.clip(share, 0.0, 0.99)), lag * step_s, count / lag


def _lasting(piece: Series, step_s: float, most: float) -> FloatArray:
    """How long each sample stands for: half way to its neighbours, up to some steps; at either end to the stretch's.

    Where the stretch is not known, or ends more than a step away, half a usual step counts.
    """
    times = piece.times_s
    begin, end = piece.within_s or (-np.inf, np.inf)
    before, after = (x if 0.0 <= x <= 1.5 * step_s else 0.5 * step_s for x in (times[0] - begin, end - times[-1]))
    apart = 0.5 * np.minimum(np.diff(times), most * step_s)
    return np.asarray(np.append(apart, max(after, 1e-3)) + np.insert(apart, 0, max(before, 1e-3)))


def _mixture(blocks: _Blocks) -> tuple[float, float]:
    """Mean, and the standard deviation whose 1.645 fold holds 90 % of the mixture over all kinds of movement."""
    if len(blocks) < 2:
        return float(blocks.means[0]), 0.0
    centre, scale = float(blocks.means.mean()), float(blocks.means.std()) or 1.0
    scaled = (blocks.means - centre) / scale
    found = [_fit(scaled, blocks, _still(blocks)), _fit(scaled, blocks, _correlations(blocks))]
    logs, at, spread = (np.concatenate(part) for part in zip(*found, strict=True))
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    value = float(weights @ at)
    half = _half_width(weights, at - value, spread, float(len(blocks) - 1))
    return centre + scale * value, scale * half / NORMAL_90


@dataclass(frozen=True, slots=True)
class _Ways:
    """Ways in which movement may go on, how likely each is beforehand, what a sample misses of its own step."""

    correlations: FloatArray  # (ways, n, n)
    priors: FloatArray
    missed: FloatArray  # as a variance of one sample, what only may be the engine's own counted in
    shares: FloatArray  # of the scatter, that may go on
    inside: FloatArray  # correlation of samples as far apart as those that were asked how alike they are


def _still(blocks: _Blocks) -> _Ways:
    """Nothing goes on: every sample is fresh."""
    return _Ways(np.zeros((1, len(blocks), len(blocks))), np.array([_FRESH]), np.zeros(1), np.zeros(1), np.zeros(1))


def _correlations(blocks: _Blocks) -> _Ways:
    """Ways tried: times and periods spaced evenly in their logarithm, up to what was watched."""
    times = blocks.times_s
    apart = np.abs(times[:, None] - times[None, :])
    steps = np.diff(np.sort(times))
    near = float(np.median(steps))
    far = float(np.minimum(steps, 5.0 * near).sum())  # gaps between stretches show no longer times
    decays = np.geomspace(0.5 * near, max(far, near), _TIMES)
    missed = _missed(blocks.step_s / decays)
    noise = np.where(decays < blocks.filter_s, _NOISE_SHARE * 2.0 * decays / blocks.whole_s * blocks.counts.sum(), 0.0)
    rough = np.exp(-apart / decays[:, None, None])
    x = np.sqrt(3.0) * apart / decays[:, None, None]
    # A smooth movement misses less than a rough one: by the square of the step.
    ways, lacks = [rough, (1.0 + x) * np.exp(-x)], [missed + noise, missed**2 + noise]
    priors = np.full(2 * _TIMES, 0.5 * _DYING / _TIMES)
    lag_s = blocks.alike[1] if blocks.alike is not None else blocks.step_s
    turns = lag_s / decays
    inside = [np.exp(-turns), (1.0 + np.sqrt(3.0) * turns) * np.exp(-np.sqrt(3.0) * turns)]
    if times.size >= _MANY:
        periods = np.geomspace(2.2 * near, max(0.5 * far, 2.3 * near), _PERIODS)
        turn = np.cos(2.0 * np.pi * apart / periods[:, None, None])
        for many in (0.7, 3.0):
            ways.append(turn * np.exp(-apart / (many * periods[:, None, None])))
            lacks.append(_missed(blocks.step_s * (2.0 * np.pi / periods)))
            inside.append(np.cos(2.0 * np.pi * lag_s / periods) * np.exp(-lag_s / (many * periods)))
        priors = np.append(priors, np.full(2 * _PERIODS, 0.5 * _SWINGING / _PERIODS))
    shares = _SHARES if times.size >= _MANY else _SHARES[:-2]
    return _Ways(np.concatenate(ways), priors, np.concatenate(lacks), shares, np.concatenate(inside))


def _missed(steps: FloatArray) -> FloatArray:
    """Variance of a sample against the mean over its own step, of exponential correlation; the step in decay times."""
    x = np.maximum(steps, 0.05)
    whole = 1.0 - 4.0 / x * -np.expm1(-0.5 * x) + 2.0 / x**2 * (x + np.expm1(-x))
    return np.asarray(np.where(steps < 0.05, np.maximum(steps, 1e-6) / 6.0, whole))


def _fit(means: FloatArray, blocks: _Blocks, ways: _Ways) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Logarithm of the evidence, estimate of the stretches' mean and its error, for each way and share that goes on."""
    root = np.sqrt(blocks.counts)
    seen = np.stack([root * means, root, blocks.shares / root], axis=1)
    powers, axes = np.linalg.eigh(root[:, None] * ways.correlations * root)
    y, one, wanted = np.moveaxis(axes.transpose(0, 2, 1) @ seen, 2, 0)[:, :, None, :]  # each (ways, 1, n)
    goes = ways.shares[:, None] * np.maximum(powers, 0.0)[:, None, :]  # (ways, shares, n)
    fresh = 1.0 - ways.shares[:, None]
    variance = goes + fresh
    inverse = 1.0 / variance
    weight = (one**2 * inverse).sum(axis=2)
    mean = (one * y * inverse).sum(axis=2) / weight
    off = y - mean[:, :, None] * one
    left = np.maximum((off**2 * inverse).sum(axis=2), 1e-12)
    follows = wanted * goes * inverse
    at = mean + (follows * off).sum(axis=2)
    error = (follows * wanted).sum(axis=2) * fresh[:, 0] + (1.0 - (follows * one).sum(axis=2)) ** 2 / weight
    error = error + ways.shares * ways.missed[:, None] / blocks.counts.sum()
    free = means.size - 1
    logs = np.log(ways.priors / ways.shares.size)[:, None] - 0.5 * (
        np.log(variance).sum(axis=2) + np.log(weight) + free * np.log(left)
    )
    if blocks.alike is not None:
        alike, _, many = blocks.alike
        told = ways.inside[:, None] * ways.shares
        logs = logs - 0.5 * _TRUST * many * np.square((alike - told) / (1.0 - np.minimum(told, 0.95) ** 2))
    return logs.ravel(), at.ravel(), np.sqrt(left / free * error).ravel()


def _half_width(weights: FloatArray, off: FloatArray, spread: FloatArray, free: float) -> float:
    """Distance from the mean that holds 90 % of a mixture of Student's distributions."""
    counts = weights > 1e-5 * weights.max()
    weights, off, spread = weights[counts] / weights[counts].sum(), off[counts], spread[counts]

    def short(half: float) -> float:
        return 0.9 - float(weights @ (stdtr(free, (half - off) / spread) - stdtr(free, (-half - off) / spread)))

    low, high = 0.0, float(np.max(np.abs(off) + 2.0 * spread))
    while short(high) > 0.0:
        low, high = high, 2.0 * high
    lack, more = short(low), short(high)
    for _ in range(40):  # false position, the side that stays halved (Illinois)
        middle = high - more * (high - low) / (more - lack)
        found = short(middle)
        if abs(found) < 1e-5:
            return middle
        if found * more < 0.0:
            low, lack = high, more
        else:
            lack *= 0.5
        high, more = middle, found
    return high
