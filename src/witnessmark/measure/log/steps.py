"""Values that take another level from one sample to the next and stay there, and nothing around them says why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.freezes import Freeze
from witnessmark.measure.log.habit import fresh_every_s, turning
from witnessmark.measure.log.lapses import Lapse
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.words import figure
from witnessmark.recording.parameters import Signal

__all__ = ["Jump", "jumps_of"]

FloatArray = NDArray[np.float64]

# How fast what is slow can move, in its unit a second, and a margin: common practice, no source. Pressure outside falls
# by 12 Pa for each metre climbed (physics.atmosphere).
_SLOW: Mapping[str, tuple[float, float]] = {
    "coolant": (1.0, 7.0), "intake_air": (1.0, 8.0), "outside_air": (0.2, 6.0), "oil_temperature": (0.8, 7.0),
    "barometer": (0.1, 2.5),
}  # fmt: skip
_AIR = ("map", "maf", "load", "absolute_load")
_STAYS_S = 20.0
_SIDE_S, _SIDE_SAMPLES = 60.0, 25  # on either side of a step of an air value, whichever is longer
_LEAST = 0.12  # of its level: smaller steps may be the weather, the gear, the road; our guess
_SAME_SPEED = 0.3  # by which speed may differ, as a share, between the two sides
_CLEAR = 7.0  # times the usual change from one side to the other


@dataclass(frozen=True, slots=True)
class Jump:
    """A value took another level.

    Parameters
    ----------
    signals : tuple of Signal
        More than one where either may have moved against the other.
    from_s, to_s : float [s]
        Between these samples.
    by : float [unit of the parameter; of air values a share of the level]
    words : str
    """

    signals: tuple[Signal, ...]
    from_s: float
    to_s: float
    by: float
    words: str


def jumps_of(log: Log, lapses: Sequence[Lapse], freezes: Sequence[Freeze]) -> tuple[Jump, ...]:
    """All steps of a log, in order of time.

    Parameters
    ----------
    log : Log
    lapses : sequence of Lapse
    freezes : sequence of Freeze
        What is lost for a moment, or let go after a standstill, steps too; that is told already.

    Returns
    -------
    tuple of Jump
    """
    found = [jump for series in log if series.signal.id in _SLOW for jump in _slow(series, fresh_every_s(log, series))]
    told = [(lapse.signal, lapse.from_s - 0.1, lapse.to_s + 0.1) for lapse in lapses]
    told += [(freeze.signal, freeze.from_s - 0.1, freeze.to_s + 0.1) for freeze in freezes]
    # What is left of air values on either side of a standstill lies too far apart to be held against each other.
    around = [(one.from_s - _STAYS_S, one.to_s + _STAYS_S) for one in freezes]
    found += [j for j in _air(log, told) if not any(a <= j.to_s and j.from_s <= b for a, b in around)]
    kept = [j for j in found if not any(s in j.signals and a <= j.to_s and j.from_s <= b for s, a, b in told)]
    return tuple(sorted(kept, key=lambda one: one.from_s))


# ---------------------------------------------------------------- what moves slowly


def _slow(series: Series, fresh_s: float) -> Iterator[Jump]:
    rate, margin = _SLOW[series.signal.id]
    times, values = series.times_s, series.values
    leaps = np.flatnonzero(np.abs(np.diff(values)) > margin + rate * np.maximum(np.diff(times), fresh_s))
    for k in leaps.tolist():
        before = values[(times <= times[k]) & (times > times[k] - _STAYS_S - 2.0 * series.period_s)]
        after = values[(times > times[k]) & (times <= times[k + 1] + _STAYS_S + 2.0 * series.period_s)]
        by = float(np.median(after) - np.median(before))
        if after.size >= 2 and abs(by) > margin and k > 0:
            unit = series.signal.parameter.unit
            words = f"{series.signal.words} stepped from {values[k]:.4g} to {values[k + 1]:.4g} {unit} and stayed"
            yield Jump((series.signal,), float(times[k]), float(times[k + 1]), by, words)


# ---------------------------------------------------------------- air values against each other


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """The logarithm of one air value less what another and the speed say of it, at the first one's times; of speed."""

    one: Signal
    other: Signal
    times_s: FloatArray
    rest: FloatArray
    speed: FloatArray


Told = tuple[Signal, float, float]


def _air(log: Log, told: Sequence[Told]) -> Iterator[Jump]:
    """An air value that leaves its relation to another for good.

    Air flow over speed, manifold pressure and load say the same up to a slope each; the relation is fitted to the
    whole log, and a step is what stands out of all changes from one minute to the next.
    """
    present = [_without(s, told) for name in _AIR if (s := log.get(name)) is not None]
    present = [series for series in present if len(series) >= 80]
    speed = log.get("engine_speed")
    if speed is None or len(present) < 2:
        return
    known = _without(speed, told)
    pairs = [p for k, one in enumerate(present) for other in present[k + 1 :] if (p := _pair(log, one, other, known))]
    steps = [(pair, step) for pair in pairs if (step := _step(pair)) is not None]
    while steps:
        pair, (low, high, by) = max(steps, key=lambda found: abs(found[1][2]))
        same = [p for p, (a, b, _) in steps if a <= high + 15.0 and low <= b + 15.0]
        counts = {s: sum(s in (p.one, p.other) for p in same) for s in (pair.one, pair.other)}
        most = max(counts.values())
        blamed = tuple(s for s, n in counts.items() if n == most)
        others = dict.fromkeys(s.words for p in same for s in (p.one, p.other) if s not in blamed)
        rose = by if blamed[0] == pair.one else -by
        against = " and ".join(others) or blamed[-1].words
        words = (
            f"{blamed[0].words} stepped by {figure(100.0 * np.expm1(rose), plus=True)} % against {against} and stayed"
        )
        words += "; which of the two moved the log cannot tell" if len(blamed) > 1 else ""
        yield Jump(blamed, low, high, float(np.expm1(rose)), words)
        steps = [(p, s) for p, s in steps if p not in same]


def _without(series: Series, told: Sequence[Told]) -> Series:
    """What is left of a series where nothing is told of it already."""
    kept = np.ones(len(series), dtype=bool)
    for signal, begins, ends in told:
        if signal == series.signal:
            kept &= (series.times_s < begins) | (series.times_s > ends)
    return Series(series.signal, series.times_s[kept], series.values[kept], series.step, series.stamp_s, series.name)


def _pair(log: Log, one: Series, other: Series, speed: Series) -> _Pair | None:
    """Fitted on samples taken while the engine ran and neither value was on the move."""
    times = one.times_s[turning(log, one.times_s)]
    columns = [series.between(times, apart_s=4.0 * series.period_s + 1.0) for series in (one, other, speed)]
    whole = np.all([np.isfinite(c) & (c > 0.0) for c in columns], axis=0)
    if whole.sum() < 80:
        return None
    y, x, n = (np.log(c[whole]) for c in columns)
    times = times[whole]
    calm = np.append(True, np.abs(np.diff(y)) < 0.15) & np.append(True, np.abs(np.diff(n)) < 0.15)
    if calm.sum() < 60 or float(np.std(x[calm])) < 0.02:
        return None
    basis = np.stack([np.ones(x.size), x, n, x**2, n * x], axis=1)
    # A step that is there would bend the relation: the fit may have one, wherever it helps most.
    at = _likeliest(times, basis, y, calm)
    wide = np.column_stack([basis, times > at])
    weight = calm.astype(np.float64)
    for _ in range(4):  # what does not fit is asked less
        fitted, *_ = np.linalg.lstsq(wide * weight[:, None], y * weight, rcond=None)
        off = np.abs(y - wide @ fitted)
        scale = max(1.4826 * float(np.median(off[calm])), 0.005)
        weight = calm * np.minimum(1.0, 2.0 * scale / np.maximum(off, 1e-9)) ** 0.5
    return _Pair(one.signal, other.signal, times[calm], (y - basis @ fitted[:-1])[calm], n[calm])


def _likeliest(times: FloatArray, basis: FloatArray, y: FloatArray, calm: NDArray[np.bool_]) -> float:
    """The time at which a step in the relation leaves least over, of some two dozen."""
    some = np.flatnonzero(calm)[:: max(int(calm.sum()) // 600, 1)]
    places = np.quantile(times[some], np.linspace(0.06, 0.94, 25))
    left = []
    for place in places:
        wide = np.column_stack([basis[some], times[some] > place])
        fitted, *_ = np.linalg.lstsq(wide, y[some], rcond=None)
        left.append(float(np.abs(y[some] - wide @ fitted).sum()))
    return float(places[int(np.argmin(left))])


def _step(pair: _Pair) -> tuple[float, float, float] | None:
    """Where the rest changes its level most, between which samples and by how much; None where nothing stands out."""
    times, rest = pair.times_s, pair.rest
    side = max(_SIDE_S, _SIDE_SAMPLES * float(np.median(np.diff(times))))
    places = np.arange(20, times.size - 20, max(times.size // 400, 1))
    if places.size < 8:
        return None
    change = np.array([_change(times, rest, int(k), side) for k in places])
    known = np.isfinite(change)
    if known.sum() < 8:
        return None
    places, change = places[known], change[known]
    best = int(np.argmax(np.abs(change)))
    # The usual change, asked away from the step itself.
    away = np.abs(times[places] - times[places[best]]) > side
    usual = 1.4826 * float(np.median(np.abs(change[away]))) if away.sum() >= 8 else np.inf
    if abs(change[best]) < max(_LEAST, _CLEAR * usual):
        return None
    k = _split(times, rest, int(places[best]), side)
    if abs(_change(times, pair.speed, k, side)) > _SAME_SPEED:
        return None  # the engine was run otherwise from then on, and no relation is that good
    return float(times[k - 1]), float(times[k]), float(change[best])


def _split(times: FloatArray, rest: FloatArray, near: int, side_s: float) -> int:
    """The first sample of the new level: where two levels leave least over."""
    low, high = np.searchsorted(times, (times[near] - side_s, times[near] + side_s))
    inside = rest[low:high]
    left = [
        float(np.abs(inside[:k] - np.median(inside[:k])).sum() + np.abs(inside[k:] - np.median(inside[k:])).sum())
        for k in range(5, inside.size - 5)
    ]
    return int(low) + 5 + int(np.argmin(left)) if left else near


def _change(times: FloatArray, rest: FloatArray, k: int, side_s: float) -> float:
    low, high = np.searchsorted(times, (times[k] - side_s, times[k] + side_s))
    if k - low < 12 or high - k < 12:
        return float("nan")
    return _median(rest[k:high]) - _median(rest[low:k])


def _median(values: FloatArray) -> float:
    """Of finite values; numpy's own spends most of its time on looking for others."""
    half = values.size // 2
    upper = np.partition(values, half)
    return float(upper[half]) if values.size % 2 else 0.5 * float(upper[half] + upper[:half].max())
