"""How far each tooth sits from its place, learnt from many turns.

Where one edge comes against its neighbours on either side, turn after turn, tells the tooth apart from the speed: the
speed is smooth over a few teeth. What changes slowly around the wheel (run-out, above all) cannot be told from a speed
that changes slowly, and stays unknown; the standard deviations say so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.law import FINE_PITCH_DEG
from witnessmark.decode.lock import WheelLock

__all__ = ["PLACE_SD_DEG", "RUN_OUT_SD_DEG", "PitchError", "learn_pitch", "unevenness"]

FloatArray = NDArray[np.float64]

# Standard deviation of a tooth's place before anything is learnt, in degrees of the wheel: ±0.1 to 0.3°, from memory;
# beside a gap a tenth of the pitch, at most 2° (1 to 2° off were seen there on wheels of 10°, 4° on one of 30°).
PLACE_SD_DEG = 0.15
_BESIDE_GAP_SHARE, _BESIDE_GAP_MOST_DEG = 0.1, 2.0
# Once-per-turn error that nothing here can learn; common practice, no source.
RUN_OUT_SD_DEG = 0.1
_LEAST_TEETH, _LEAST_TURNS = 11, 3
# Only where teeth stand as close as this is the speed smooth over five of them.
_CLOSE_PITCH_DEG = 16.0
# What a cubic leaves of the speed is at most so many times what a higher order changes.
_SMOOTH_FACTOR = 2.0
# Student's degrees of freedom of the places, and rounds until the scales have settled.
_TAIL, _ROUNDS = 3.0, 10
# No wheel is trusted to be better than this before it is learnt, nor better than it looks by this factor.
_BEST_PLACE_SD_DEG, _LOOKS = 0.05, 1.5


@dataclass(frozen=True, slots=True, eq=False)
class PitchError:
    """Places of the teeth against the pattern, in degrees of the wheel's shaft.

    Parameters
    ----------
    error_deg : array, shape (n_edges,) [deg]
        How far beyond its place each tooth sits, + = its edge comes later. Median 0: the zero of all angles is the
        grid that most teeth agree on. The gaps still add up to 360.
    sd_deg : array, shape (n_edges,) [deg]
        Standard deviation of each, run-out not counted.
    scatter_deg : float [deg]
        Standard deviation of one edge from turn to turn; NaN where no two turns could be compared.
    n_turns : int
        Whole turns behind it; 0 where nothing could be learnt.
    """

    error_deg: FloatArray
    sd_deg: FloatArray
    scatter_deg: float
    n_turns: int

    @property
    def is_learnt(self) -> bool:
        """True where the places were learnt, false where they are taken from the pattern."""
        return self.n_turns > 0


def learn_pitch(lock: WheelLock, *, learn: bool = True) -> PitchError:
    """Learn the place of every tooth, as far as the turns allow.

    Parameters
    ----------
    lock : WheelLock
    learn : bool
        False: keep the places of the pattern and only tell their doubt and the scatter.

    Returns
    -------
    PitchError

    Notes
    -----
    With e the errors and r the residual of each edge against the cubic through two neighbours on either side,
    r = (I − W) e: solved for e by its mean a posteriori under independent errors of :data:`PLACE_SD_DEG` with heavy
    tails. What a polynomial through three neighbours on either side changes bounds what the speed puts in.
    """
    prior = _prior_sd(lock)
    n = lock.pattern.n_edges
    unknown = np.zeros(n)
    if n < 5:
        return PitchError(unknown, prior, float("nan"), 0)
    turns, weights = _residuals(lock, 2)
    if len(turns) < 2:
        return PitchError(unknown, prior, float("nan"), 0)
    # What a cubic leaves over where the speed changes fast shows against a higher order.
    finer, _ = _residuals(lock, 3) if n >= 7 else (turns, weights)
    operator = np.eye(n) - weights
    gain = float(np.sqrt((operator**2).sum(axis=1).mean()))
    scatter = float(np.sqrt(turns.var(axis=0, ddof=1).mean())) / gain
    close = n >= _LEAST_TEETH and lock.pattern.pitch_deg * lock.crank_per_turn <= _CLOSE_PITCH_DEG
    if not (learn and close) or min(len(turns), len(finer)) < _LEAST_TURNS:
        return PitchError(unknown, prior, scatter, 0)
    mean = turns.mean(axis=0)
    smooth = np.abs(finer.mean(axis=0) - mean)
    noise = np.maximum(turns.var(axis=0, ddof=1) / len(turns), 1e-8) + (_SMOOTH_FACTOR * smooth) ** 2
    error, sd = _posterior(operator, mean, noise, prior)
    for _ in range(_ROUNDS):
        # One bent tooth among good ones: a heavy-tailed prior, by way of a scale of its own for every tooth.
        own = np.sqrt((_TAIL * prior**2 + error**2 + sd**2) / (_TAIL + 1.0))
        error, sd = _posterior(operator, mean, noise, own)
    return PitchError(error - np.median(error), sd, scatter, len(turns))


def _prior_sd(lock: WheelLock) -> FloatArray:
    """Doubt of the places before anything is learnt: less than usual where the edges are seen to sit evenly."""
    pattern = lock.pattern
    marks = np.array(pattern.marks) & (pattern.pitch_deg <= FINE_PITCH_DEG)
    beside = marks | np.roll(marks, 1)
    wide = np.hypot(PLACE_SD_DEG, min(_BESIDE_GAP_SHARE * pattern.pitch_deg, _BESIDE_GAP_MOST_DEG))
    seen = unevenness(lock)
    if seen is None:
        return np.where(beside, wide, PLACE_SD_DEG)
    looks = max(_LOOKS * seen, _BEST_PLACE_SD_DEG)
    # All that is uneven may be the fault of the few teeth beside gaps.
    looks_beside = looks * np.sqrt(pattern.n_edges / max(int(beside.sum()), 1))
    return np.where(beside, min(wide, looks_beside), min(PLACE_SD_DEG, looks))


def _posterior(
    operator: FloatArray, mean: FloatArray, noise: FloatArray, prior: FloatArray
) -> tuple[FloatArray, FloatArray]:
    weighed = operator / noise[:, None]
    precision = operator.T @ weighed + np.diag(1.0 / prior**2)
    covariance = np.linalg.inv(precision)
    return covariance @ (weighed.T @ mean), np.sqrt(np.diag(covariance))


def _residuals(lock: WheelLock, reach: int) -> tuple[FloatArray, FloatArray]:
    """Residual of each edge against the polynomial through ``reach`` neighbours on either side, turn by turn.

    Returns
    -------
    residuals : array, shape (n_turns, n_edges) [deg]
        Of every whole turn without missing teeth whose neighbours are there too.
    weights : array, shape (n_edges, n_edges)
        Weight of each tooth in the prediction of each.
    """
    n = lock.pattern.n_edges
    edges, gaps = np.array(lock.pattern.edges_deg), np.array(lock.pattern.gaps_deg)
    offsets = np.array([k for k in range(-reach, reach + 1) if k])
    places = np.arange(n)[:, None] + offsets
    angles = edges[places % n] + 360.0 * (places // n) - edges[:, None]
    lagrange = _lagrange_at_zero(angles)
    weights = np.zeros((n, n))
    np.add.at(weights, (np.arange(n)[:, None], places % n), lagrange)
    rows = []
    for part in range(lock.n_parts):
        members = lock.members(part)
        times, count = lock.times_s[members], lock.count[members]
        whole = count[-1] - count[0] + 1 == count.size
        if not whole:
            dense = np.full(count[-1] - count[0] + 1, np.nan)
            dense[count - count[0]] = times
            times, first = dense, count[0]
        else:
            first = count[0]
        starts = np.arange(-first % n, times.size - n - reach, n)
        for start in starts[starts >= reach]:
            block = times[start + places]
            own = times[start : start + n]
            pace = (times[start + 1 : start + n + 1] - times[start - 1 : start + n - 1]) / (gaps + np.roll(gaps, 1))
            rows.append((own - (block * lagrange).sum(axis=1)) / pace)
    table = np.array(rows).reshape(-1, n)
    return table[np.isfinite(table).all(axis=1)], weights


def _lagrange_at_zero(x: FloatArray) -> FloatArray:
    """Weights of the values at ``x`` (one row each) in the interpolating polynomial at 0."""
    out = np.ones_like(x)
    for j in range(x.shape[1]):
        for k in range(x.shape[1]):
            if k != j:
                out[:, j] *= x[:, k] / (x[:, k] - x[:, j])
    return out


def unevenness(lock: WheelLock) -> float | None:
    """By how much the edges of a train miss the pattern once a smooth speed is allowed for, in degrees.

    The smaller of the two kinds of edges of a channel is the even one.

    Parameters
    ----------
    lock : WheelLock

    Returns
    -------
    float or None [deg]
        Root mean square over the teeth; None where there are too few teeth or turns to say.

    Notes
    -----
    The mean profile of the pace over whole turns, less the best of a few harmonic series: one per turn, and two, three
    or four and their multiples, as 4, 6 and 8 cylinders push the crank.
    """
    n = lock.pattern.n_edges
    profile = _profile(lock)
    if n < _LEAST_TEETH or profile is None:
        return None
    gaps = np.array(lock.pattern.gaps_deg)
    middle = np.radians(np.array(lock.pattern.edges_deg) + gaps / 2) * lock.crank_per_turn
    best = np.inf
    for base in (2, 3, 4):
        for highest in range(4):
            orders = [o for o in (1, *(base * h for h in range(1, highest + 1))) if o <= n / 3]
            basis = np.column_stack([np.ones(n)] + [f(o * middle) for o in orders for f in (np.cos, np.sin)])
            freedom = n - basis.shape[1]
            if freedom < n / 3:
                continue
            pace = basis @ np.linalg.lstsq(basis, profile, rcond=None)[0]
            missed = np.expm1(profile - pace) * gaps
            best = min(best, float(np.sqrt((missed**2).sum() / freedom / 2)))
    return best if np.isfinite(best) else None


def _profile(lock: WheelLock) -> FloatArray | None:
    """Mean over whole turns of the logarithm of the pace in each gap, against the turn's own; None without turns."""
    n = lock.pattern.n_edges
    gaps = np.array(lock.pattern.gaps_deg)
    rows = []
    for turn in lock.turns():
        if turn.teeth != n:
            continue
        inside = (lock.part == turn.part) & (lock.times_s >= turn.from_s) & (lock.times_s <= turn.to_s)
        rows.append(np.log(np.diff(lock.times_s[inside]) / gaps * 360.0 / (turn.to_s - turn.from_s)))
    return np.mean(rows, axis=0) if rows else None
