"""How probable the findings are, given what a state predicts of them.

Each finding is mostly normal about its prediction and now and then far off (misread, mistyped).
The findings of one instrument share a bias and a noise scale that is itself unknown; sound engines
differ, and that moves several findings together. All of it is integrated out, none of it fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Doubt, Finding
from witnessmark.infer.distinct import alike
from witnessmark.infer.faroff import FarOff
from witnessmark.infer.noisescale import scale_of
from witnessmark.infer.warp import Warp

__all__ = ["INSTRUMENT_BIAS", "OUTLIER", "SCALES", "SCALE_ODDS", "WIDE", "Evidence"]

Array = NDArray[np.float64]

# Chance that a reading is no normal one. Typed: mistyped, an odd one having been asked back (infer.doubt); our guess.
OUTLIER = {"typed": 0.004, "recording": 0.01, "simulated": 0.004, "code": 0.0}
# Spread of such a reading, in its quantity's unit; our guess.
WIDE = {"deg": 30.0, "mm": 10.0, "pin": 3.0, "tooth": 2.0, "1/turn": 3.0, "deg/s": 100.0}
# Noise scale of an instrument class: how much worse (or better) than the stated spread it is.
SCALES = np.array([0.8, 1.0, 1.3, 1.8, 2.5])
SCALE_ODDS = np.array([0.2, 0.35, 0.25, 0.14, 0.06])
_FEW_SCALES, _FEW_ODDS = np.array([0.85, 1.2, 2.0]), np.array([0.35, 0.45, 0.2])
_USUAL_SCALE = 1.2
_CLASSES = 3  # so many noisy classes are enough to doubt; the rest keep scale 1
# Bias shared by the findings of one instrument class, as a share of their spread; our guess.
INSTRUMENT_BIAS = 0.5
# A figure that is in doubt may have been anything: its wide law reaches so many times further than the furthest
# explanation, so that it favours none of them for lying nearer.
_EVEN = 3.0


def _misread(finding: Finding) -> float:
    """Chance that a reading is no normal one: usual, or its own where it was asked back and nobody has confirmed it."""
    return OUTLIER.get(finding.source.kind, 0.01) if finding.doubt is None else finding.doubt.chance


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
    usual : ndarray, shape (q,), optional
        A prediction from which most of those asked about differ in few readings; the law is the same with any.
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
        usual: Array | None = None,
    ) -> None:
        self.findings = tuple(findings)
        self._one_scale = one_scale
        values, sd = np.array([f.value for f in findings]), np.array([max(f.sd, 1e-6) for f in findings])
        self._warp = warp
        self._usual = usual
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
            With ``along`` times itself added to the covariance, worked out from what is known without it.
        """
        other = copy(self)
        other.nominal = self.nominal + np.outer(along, along)
        for name in ("precision", "_biased"):
            other.__dict__.pop(name, None)
        other._reduced = {}
        other.__dict__["law"] = self.law.shifted(along)
        return other

    @cached_property
    def precision(self) -> Array:
        """Inverse of :meth:`covariance` at noise scale 1, for finding modes.

        Returns
        -------
        ndarray, shape (q, q)
        """
        return np.asarray(np.linalg.inv(self.covariance()))

    @cached_property
    def law(self) -> FarOff:
        """The law of what a prediction leaves of the findings, over all noise scales."""
        names = sorted(set(self._classes))
        if self._one_scale:
            only = scale_of(self.covariance(dict.fromkeys(names, _USUAL_SCALE)), 0.0, self.outlier, self.wide)
            return FarOff((only,), self.outlier, self.wide, np.zeros(1, dtype=np.intp), np.zeros(1), self._left_usually)
        scales, odds = (SCALES, SCALE_ODDS) if len(names) < 2 else (_FEW_SCALES, _FEW_ODDS)
        names = names[:_CLASSES]
        found = []
        for index in np.ndindex(*(len(scales),) * len(names)):
            chosen = {name: float(scales[i]) for name, i in zip(names, index, strict=True)}
            log_odds = float(np.log(np.prod(odds[list(index)])))
            found.append(scale_of(self.covariance(chosen), log_odds, self.outlier, self.wide))
        # The same for all classes: every so many of them in that order.
        level = np.arange(len(odds)) * ((len(odds) ** len(names) - 1) // (len(odds) - 1))
        log_more = -(len(names) - 1) * np.log(odds)
        return FarOff(found, self.outlier, self.wide, level, log_more, self._left_usually)

    @property
    def _left_usually(self) -> Array:
        return np.zeros(self.count) if self._usual is None else np.nan_to_num(self.values - self._usual)

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
            return self.law.log_density(self.values - means)
        result = np.empty(len(means))
        for rows in alike(absent):
            gone = absent[rows[0]]
            some = (
                self._partly_absent(means[rows], gone)
                if gone.any()
                else self.law.log_density(self.values - means[rows])
            )
            result[rows] = some
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
        variance = np.diag(self.covariance())
        broad = variance + self.wide**2
        odds = self.outlier / (1.0 - self.outlier) * np.sqrt(variance / broad)
        off = (self.values - means) ** 2
        off *= 0.5 / variance - 0.5 / broad
        with np.errstate(over="ignore"):
            off = np.exp(off, out=off)
        off *= odds
        off += 1.0
        found = np.asarray(np.reciprocal(off, out=off))
        gone = np.isnan(found)
        if gone.any():
            found[gone] = np.broadcast_to(1.0 / (1.0 + odds), found.shape)[gone]
        return found

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
                usual=None if self._usual is None else self._usual[there],
            )
            self._reduced[key] = part
        odds = np.log(np.maximum(self.outlier[absent], 1e-4)) - np.log(self.wide[absent] * np.sqrt(2.0 * np.pi))
        odds -= 0.5 * (self.values[absent] / self.wide[absent]) ** 2
        return np.asarray(self._reduced[key].log_density(means[:, there]) + float(np.sum(odds)))
