"""How probable the findings are, given what a state predicts of them.

Each finding is mostly normal about its prediction and now and then far off (misread, mistyped).
The findings of one instrument share a bias and a noise scale that is itself unknown; sound engines
differ, and that moves several findings together. All of it is integrated out, none of it fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Doubt, Finding
from witnessmark.infer.warp import Warp

__all__ = ["INSTRUMENT_BIAS", "OUTLIER", "SCALES", "SCALE_ODDS", "WIDE", "Evidence", "alike", "log_sum"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

# Chance that a reading is no normal one. Typed: mistyped, an odd one having been asked back (infer.doubt); our guess.
OUTLIER = {"typed": 0.004, "recording": 0.01, "simulated": 0.004, "code": 0.0}
# Spread of such a reading, in its quantity's unit; our guess.
WIDE = {"deg": 30.0, "mm": 10.0, "pin": 3.0, "tooth": 2.0, "1/turn": 3.0, "deg/s": 100.0}
# Noise scale of an instrument class: how much worse (or better) than the stated spread it is.
SCALES = np.array([0.8, 1.0, 1.3, 1.8, 2.5])
SCALE_ODDS = np.array([0.2, 0.35, 0.25, 0.14, 0.06])
_FEW_SCALES, _FEW_ODDS = np.array([0.85, 1.2, 2.0]), np.array([0.35, 0.45, 0.2])
_USUAL_SCALE = 1.2
# Bias shared by the findings of one instrument class, as a share of their spread; our guess.
INSTRUMENT_BIAS = 0.5
# A figure that is in doubt may have been anything: its wide law reaches so many times further than the furthest
# explanation, so that it favours none of them for lying nearer.
_EVEN = 3.0
_BITS = 31  # of a pattern looked at together: with as many rows in front they fit a number of 64
_MANY = 14  # up to this many findings every two of them may be far off at once; beyond, the most suspect one by one
_AT_ONCE = 3  # of those, so many at once
_SUSPECT = -2.0  # nat: log odds that a reading is far off, below which no further one is looked for
_SUSPECTS = 8  # readings that may be among them


def _misread(finding: Finding) -> float:
    """Chance that a reading is no normal one: usual, or its own where it was asked back and nobody has confirmed it."""
    return OUTLIER.get(finding.source.kind, 0.01) if finding.doubt is None else finding.doubt.chance


def log_sum(values: Array, axis: int = -1) -> Array:
    """Log of the sum of exponentials along an axis, safe against overflow.

    Parameters
    ----------
    values : ndarray
        Any shape.
    axis : int

    Returns
    -------
    ndarray, shape without that axis
    """
    top = np.max(values, axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.sum(np.exp(values - top), axis=axis)) + np.squeeze(top, axis=axis))


def alike(marks: NDArray[np.bool_]) -> list[Picks]:
    """Rows that are marked in the same places.

    Parameters
    ----------
    marks : ndarray of bool, shape (n, m)

    Returns
    -------
    list of ndarray of int
        One for each pattern there is; together every row once, in rising order within each.
    """
    which = np.zeros(len(marks), dtype=np.intp)
    for start in range(0, marks.shape[1], _BITS):  # whole numbers are sorted ten times as fast as rows
        some = marks[:, start : start + _BITS]
        key = some @ (1 << np.arange(some.shape[1], dtype=np.int64))
        which = np.unique(which * (1 << _BITS) + key, return_inverse=True)[1]
    order = np.argsort(which, kind="stable")
    return np.split(order, np.cumsum(np.bincount(which))[:-1]) if len(order) else []


def _log_sum_of(terms: Array) -> Array:
    """As :func:`log_sum` over the first axis of finite numbers, which are spoilt."""
    top = np.max(terms, axis=0)
    terms -= top
    np.exp(terms, out=terms)
    return np.asarray(np.log(terms.sum(axis=0)) + top)


@dataclass(frozen=True)
class _Variance:
    """One noise scale's covariance, with everything its outliers need."""

    log_odds: float
    inverse: Array  # (q, q)
    log_norm: float  # of no outlier
    single_gain: Array  # (q,)
    single_log: Array  # (q,)
    pair_inverse: Array  # (p, 2, 2)
    pair_log: Array  # (p,)


@dataclass(frozen=True)
class _Stacked:
    """The same of all noise scales side by side, v of them."""

    log_weight: Array  # (v,)
    odds: Array  # (q,)
    diagonal: Array  # (v, q)
    inverse: Array  # (v, q, q)
    single_gain: Array  # (v, q)
    single_log: Array  # (v, q)
    pair_inverse: Array  # (v, p, 2, 2)
    pair_log: Array  # (v, p)


class Evidence:
    """The law of the continuous findings of one assessment.

    Parameters
    ----------
    findings : sequence of Finding, length q
    tolerance : ndarray, shape (q,)
        Of the nominal, from ``predict``.
    spread : ndarray, shape (q, q)
        Covariance that the healthy spread of the state puts on the predictions.
    warp : Warp, optional
        The scales that tolerance, spread, broad and all predictions are on; their own if left out.
    broad : ndarray, shape (q,), optional
        How far faults move each finding: a misread one may be anywhere there.
    one_scale : bool
        True keeps the noise scale at its usual value: enough where the spread is broad.
    """

    def __init__(
        self,
        findings: Sequence[Finding],
        tolerance: Array,
        spread: Array,
        *,
        broad: Array | None = None,
        warp: Warp | None = None,
        one_scale: bool = False,
    ) -> None:
        self.findings = tuple(findings)
        self._one_scale = one_scale
        values, sd = np.array([f.value for f in findings]), np.array([max(f.sd, 1e-6) for f in findings])
        self._warp = warp
        self.values = values if warp is None else warp.there(values)
        self.sd = sd if warp is None else np.maximum(sd * warp.slope(values), 1e-6)
        self.nominal = np.asarray(spread) + np.diag(np.asarray(tolerance) ** 2)
        reach = np.zeros(len(self.findings)) if broad is None else broad
        own = np.zeros(len(self.findings)) if warp is None else warp.share
        usual = np.maximum(6.0 * self.sd + 1e-3, reach)
        self.wide = np.array(
            [far if share else WIDE.get(f.unit, far) for f, far, share in zip(findings, usual, own, strict=True)]
        )
        self.outlier = np.array([_misread(f) for f in findings])
        for j, finding in enumerate(findings):
            if finding.doubt is not None:
                self.wide[j] = max(self.wide[j], _EVEN * self._reach(j, finding.doubt))
        self._classes = [f.kind.instrument for f in findings]
        self._reduced: dict[bytes, Evidence] = {}

    def _reach(self, j: int, doubt: Doubt) -> float:
        """From an odd figure to the explanation furthest from it, on the scale of its reading."""
        ends = np.array([doubt.low, doubt.high])
        if self._warp is not None:
            only = np.arange(self.count) == j
            ends = self._warp.some(only).there(ends[:, None])[:, 0]
        return float(np.max(np.abs(self.values[j] - ends)))

    @property
    def count(self) -> int:
        """How many findings, q."""
        return len(self.findings)

    def covariance(self, scales: dict[str, float] | None = None) -> Array:
        """Covariance of findings about a prediction, at given noise scales.

        Parameters
        ----------
        scales : mapping of str to float [-], optional
            Noise scale by instrument class; 1 where left out.

        Returns
        -------
        ndarray, shape (q, q)
        """
        scale = np.array([(scales or {}).get(name, 1.0) for name in self._classes])
        return np.asarray(self._biased + np.diag((scale * self.sd) ** 2))

    @cached_property
    def _biased(self) -> Array:
        """Covariance without the noise that is each reading's own, shape (q, q)."""
        numbers = {name: k for k, name in enumerate(dict.fromkeys(self._classes))}
        of = np.array([numbers[name] for name in self._classes], dtype=np.intp)
        bias = INSTRUMENT_BIAS**2 * np.outer(self.sd, self.sd) * (of[:, None] == of[None, :])
        return np.asarray(self.nominal + bias)

    def shifted(self, along: Array) -> Evidence:
        """The law of the same findings where something of unknown size moves them together.

        Parameters
        ----------
        along : ndarray, shape (q,)
            What one spread of it moves them by, on their scales.

        Returns
        -------
        Evidence
            With ``along`` times itself added to the covariance; worked out from what is known without it (the inverse
            after a rank-one update: Sherman and Morrison, Ann. Math. Stat. 21, 1950, p. 124).
        """
        other = copy(self)
        other.nominal = self.nominal + np.outer(along, along)
        for name in ("precision", "_biased", "stacked", "_levels"):
            other.__dict__.pop(name, None)
        other._reduced = {}
        other.__dict__["_variances"] = tuple(self._shifted(one, along) for one in self._variances)
        return other

    def _shifted(self, law: _Variance, along: Array) -> _Variance:
        toward = law.inverse @ along
        grown = 1.0 + float(along @ toward)
        inverse = law.inverse - np.outer(toward, toward) / grown
        return self._of_inverse(inverse, law.log_norm - 0.5 * float(np.log(grown)), law.log_odds)

    @cached_property
    def precision(self) -> Array:
        """Inverse of :meth:`covariance` at noise scale 1, for finding modes.

        Returns
        -------
        ndarray, shape (q, q)
        """
        return np.asarray(np.linalg.inv(self.covariance()))

    @cached_property
    def _pairs(self) -> tuple[Picks, Picks]:
        if self.count < 2 or self.count > _MANY:
            empty = np.zeros(0, dtype=np.intp)
            return empty, empty
        first, second = np.triu_indices(self.count, k=1)
        return first.astype(np.intp), second.astype(np.intp)

    @cached_property
    def _variances(self) -> tuple[_Variance, ...]:
        names = sorted(set(self._classes))
        if self._one_scale:
            return (self._variance(self.covariance(dict.fromkeys(names, _USUAL_SCALE)), 0.0),)
        scales, odds = (SCALES, SCALE_ODDS) if len(names) < 2 else (_FEW_SCALES, _FEW_ODDS)
        if len(names) > 3:  # the rest keep scale 1: three noisy classes are enough to doubt
            names = names[:3]
        found = []
        for index in np.ndindex(*(len(scales),) * len(names)):
            chosen = {name: float(scales[i]) for name, i in zip(names, index, strict=True)}
            found.append(self._variance(self.covariance(chosen), float(np.log(np.prod(odds[list(index)])))))
        return tuple(found)

    def _variance(self, covariance: Array, log_odds: float) -> _Variance:
        inverse: Array = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
        log_norm = -0.5 * float(np.linalg.slogdet(covariance)[1] + self.count * np.log(2.0 * np.pi))
        log_norm += float(np.sum(np.log1p(-self.outlier)))
        return self._of_inverse(inverse, log_norm, log_odds)

    def _of_inverse(self, inverse: Array, log_norm: float, log_odds: float) -> _Variance:
        extra = self.wide**2
        odds = np.log(np.maximum(self.outlier, 1e-300)) - np.log1p(-self.outlier)
        diagonal = np.diag(inverse)
        single_gain = extra / (1.0 + extra * diagonal)
        single_log = odds - 0.5 * np.log1p(extra * diagonal)
        i, j = self._pairs
        block = np.empty((len(i), 2, 2))
        block[:, 0, 0] = 1.0 / extra[i] + diagonal[i]
        block[:, 1, 1] = 1.0 / extra[j] + diagonal[j]
        block[:, 0, 1] = block[:, 1, 0] = inverse[i, j]
        determinant = block[:, 0, 0] * block[:, 1, 1] - block[:, 0, 1] ** 2
        pair_log = odds[i] + odds[j] - 0.5 * np.log(determinant * extra[i] * extra[j])
        pair_inverse: Array = np.asarray(np.linalg.inv(block) if len(i) else block, dtype=np.float64)
        return _Variance(log_odds, inverse, log_norm, single_gain, single_log, pair_inverse, pair_log)

    def log_density(self, means: Array) -> Array:
        """Log probability density of all findings under n predictions.

        Parameters
        ----------
        means : ndarray, shape (n, q)
            NaN where the prediction says there could be no such reading.

        Returns
        -------
        ndarray, shape (n,)
        """
        if not self.count:
            return np.zeros(len(means))
        absent = np.isnan(means)
        if not absent.any():
            return self._dense(means)
        result = np.empty(len(means))
        for rows in alike(absent):
            result[rows] = self._partly_absent(means[rows], absent[rows[0]])
        return result

    def sound(self, means: Array) -> Array:
        """Chance that each reading is a normal one, judged by itself under n predictions.

        Parameters
        ----------
        means : ndarray, shape (n, q)

        Returns
        -------
        ndarray, shape (n, q) [-]
        """
        normal, wide = self._alone(means)
        return np.asarray(normal / np.maximum(normal + wide, 1e-300))

    def log_alone(self, means: Array) -> Array:
        """Log probability density of each reading judged by itself under n predictions, at noise scale 1.

        Parameters
        ----------
        means : ndarray, shape (n, q)
            NaN where there could be no such reading: only its wide law is left there.

        Returns
        -------
        ndarray, shape (n, q) [nat]
        """
        normal, wide = self._alone(np.where(np.isnan(means), self.values, means))
        normal = np.where(np.isnan(means), 0.0, normal)
        return np.asarray(np.log(np.maximum(normal + wide, 1e-300)) - 0.5 * np.log(2.0 * np.pi))

    def _alone(self, means: Array) -> tuple[Array, Array]:
        """A reading's own law in its two parts, normal and far off, but for the constant that both share."""
        variance = np.diag(self.covariance())
        squared = np.nan_to_num(self.values - means, nan=0.0) ** 2
        normal = np.exp(-0.5 * squared / variance) / np.sqrt(variance) * (1.0 - self.outlier)
        wide = np.exp(-0.5 * squared / (variance + self.wide**2)) / np.sqrt(variance + self.wide**2) * self.outlier
        return np.asarray(normal), np.asarray(wide)

    def _partly_absent(self, means: Array, absent: NDArray[np.bool_]) -> Array:
        """A reading that cannot be there was misread from somewhere else: only its wide law is left."""
        there = ~absent
        key = absent.tobytes()
        if key not in self._reduced:
            kept = [f for f, ok in zip(self.findings, there, strict=True) if ok]
            part = Evidence(
                kept,
                np.zeros(len(kept)),
                self.nominal[np.ix_(there, there)],
                broad=self.wide[there],
                warp=None if self._warp is None else self._warp.some(there),
                one_scale=self._one_scale,
            )
            self._reduced[key] = part
        odds = np.log(np.maximum(self.outlier[absent], 1e-4)) - np.log(self.wide[absent] * np.sqrt(2.0 * np.pi))
        odds -= 0.5 * (self.values[absent] / self.wide[absent]) ** 2
        return np.asarray(self._reduced[key].log_density(means[:, there]) + float(np.sum(odds)))

    def _dense(self, means: Array) -> Array:
        i, j = self._pairs
        most = max(_CHUNK // (len(self._variances) * (1 + self.count + len(i))), 1)
        if len(means) > most and self.count >= _BY_SCALE:
            return self._of_many(means)
        if len(means) > most:
            return np.concatenate([self._dense(means[k : k + most]) for k in range(0, len(means), most)])
        law, residual = self.stacked, (self.values - means).T
        u = np.moveaxis(law.inverse @ residual, 1, 0)  # of every noise scale at once: (q, v, n)
        quad = np.einsum("qvn,qn->vn", u, residual)
        # No outlier, each by itself, each pair: the long axis last, so that sums over the others run along memory.
        terms = np.empty((1 + self.count + len(i), *quad.shape))
        terms[0] = 0.0
        squares = u * u
        single = terms[1 : 1 + self.count]
        np.multiply(squares, 0.5 * law.single_gain.T[:, :, None], out=single)
        single += law.single_log.T[:, :, None]
        own = 0.5 * law.pair_inverse[..., None]  # (v, p, 2, 2, 1)
        both = np.empty(quad.shape)
        for k, (a, b) in enumerate(zip(i, j, strict=True)):  # in place: six passes over memory instead of a dozen
            saved = terms[1 + self.count + k]
            np.multiply(squares[a], own[:, k, 0, 0], out=saved)
            np.multiply(u[a], u[b], out=both)
            both *= 2.0 * own[:, k, 0, 1]
            saved += both
            np.multiply(squares[b], own[:, k, 1, 1], out=both)
            saved += both
            saved += law.pair_log[:, k, None]
        level = self._levels[0]
        further = self._further(u[:, level], single[:, level], quad[level]) if self.count > _MANY else None
        found = log_sum(law.log_weight[:, None] - 0.5 * quad + _log_sum_of(terms), axis=0)
        return found if further is None else np.logaddexp(found, further)

    def _of_many(self, means: Array) -> Array:
        """As :meth:`_dense` for so many readings that one noise scale's matrix is all that stays near the processor."""
        most = max(_CHUNK // self.count, 1)
        if len(means) > most:
            return np.concatenate([self._of_many(means[k : k + most]) for k in range(0, len(means), most)])
        law, level = self.stacked, self._levels[0]
        residual = np.ascontiguousarray((self.values - means).T)
        found = np.empty((len(law.log_weight), len(means)))
        quad = np.empty_like(found)
        pulls, singles = (np.empty((self.count, len(level), len(means))) for _ in range(2))
        for v, inverse in enumerate(law.inverse):
            u = inverse @ residual
            np.einsum("qn,qn->n", u, residual, out=quad[v])
            terms = np.empty((1 + self.count, len(means)))
            terms[0] = 0.0
            single = terms[1:]
            np.multiply(u, u, out=single)
            single *= 0.5 * law.single_gain[v][:, None]
            single += law.single_log[v][:, None]
            for k in np.flatnonzero(level == v):
                pulls[:, k], singles[:, k] = u, single
            found[v] = law.log_weight[v] - 0.5 * quad[v] + _log_sum_of(terms)
        return np.logaddexp(log_sum(found, axis=0), self._further(pulls, singles, quad[level]))

    def _further(self, u: Array, single: Array, quad: Array) -> Array:
        """Two and more far-off readings at once, where many were taken: beside the most suspect one every other.

        Of a hundred readings one in three sets has one that is far off, one in fifteen has two. With the most suspect
        one set aside, the others are judged anew; then with the two most suspect ones. Of the noise scales only those
        that are the same for every class of instrument are gone through.

        Parameters
        ----------
        u : ndarray, shape (q, levels, n)
            Residuals times the inverse covariance.
        single : ndarray, shape (q, levels, n)
            Log odds that each reading by itself is far off.
        quad : ndarray, shape (levels, n)
            Squared residuals in spreads.

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        law, (level, log_weight) = self.stacked, self._levels
        inverse = law.inverse[level]
        found = np.full(quad.shape, -np.inf)
        worst = single.max(axis=1)
        rows = np.flatnonzero(worst.max(axis=0) > _SUSPECT)
        few = np.argpartition(-worst[:, rows], _SUSPECTS - 1, axis=0)[:_SUSPECTS]  # of each row; its readings from here
        u, alone = (np.take_along_axis(whole[:, :, rows], few[:, None, :], axis=0) for whole in (u, single))
        precision = np.moveaxis(law.diagonal[level][:, few], 1, 0)
        extra, odds = (self.wide[few] ** 2)[:, None, :], law.odds[few][:, None, :]
        so_far = np.zeros((len(found), len(rows)))
        before: list[tuple[Array, Array]] = []  # of each set aside: its column of the precision, and what it gains
        each = np.arange(len(rows))
        for _ in range(_AT_ONCE - 1):
            pick = np.argmax(alone.max(axis=1), axis=0)
            so_far = so_far + alone[pick, :, each].T
            column = np.moveaxis(inverse[:, few, few[pick, each]], 1, 0)
            for earlier, gained in before:
                column = column - earlier * (gained * earlier[pick, :, each].T)
            wide = extra[pick, 0, each]
            gain = wide / (1.0 + wide * column[pick, :, each].T)
            before.append((column, gain))
            u = u - column * (gain * u[pick, :, each].T)
            precision = np.maximum(precision - gain * column**2, 0.0)
            spread = 1.0 + extra * precision
            aside = np.isneginf(alone)
            aside[pick, :, each] = True
            alone = np.where(aside, -np.inf, odds - 0.5 * np.log(spread) + 0.5 * extra / spread * u**2)
            found[:, rows] = np.logaddexp(found[:, rows], so_far + log_sum(alone, axis=0))
        return log_sum(log_weight[:, None] - 0.5 * quad + found, axis=0)

    @cached_property
    def _levels(self) -> tuple[Picks, Array]:
        """Noise scales that are the same for every class of instrument: which they are of all, and their log weight."""
        log_weight = self.stacked.log_weight
        classes = 0 if self._one_scale else min(len(set(self._classes)), 3)
        if not classes:
            return np.zeros(1, dtype=np.intp), log_weight
        odds = SCALE_ODDS if classes == 1 else _FEW_ODDS
        level = np.arange(len(odds)) * ((len(odds) ** classes - 1) // (len(odds) - 1))
        return level, np.asarray(log_weight[level] - (classes - 1) * np.log(odds))

    @cached_property
    def stacked(self) -> _Stacked:
        """All noise scales side by side."""
        every = self._variances
        return _Stacked(
            np.array([v.log_odds + v.log_norm for v in every]),
            np.log(np.maximum(self.outlier, 1e-300)) - np.log1p(-self.outlier),
            np.stack([np.diag(v.inverse) for v in every]),
            *(
                np.stack([getattr(v, name) for v in every])
                for name in ("inverse", "single_gain", "single_log", "pair_inverse", "pair_log")
            ),
        )


_BY_SCALE = 60  # readings from which on the noise scales of many rows are gone through one by one
_CHUNK = 120_000  # numbers that stand in memory at once: as many as stay near the processor
