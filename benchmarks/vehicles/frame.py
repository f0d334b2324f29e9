"""One vehicle's findings against predictions: readings along straight lines, and what is no number.

Healthy differences, biases, tolerances and the common scale of the noise are integrated in closed form about any
prediction; two misreadings are allowed. Spreads and tolerances are those of the state that is weighed: the count of a
dead cylinder is uncertain by hundreds, that of a sound one by one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from benchmarks.vehicles.bank import Bank
from benchmarks.vehicles.gauges import Gauges
from benchmarks.vehicles.generate import TAKEN, Vehicle
from benchmarks.vehicles.law import BIAS, SCALE_ODDS, SCALES, WIDE, Law, noted
from benchmarks.vehicles.variant import Seen

__all__ = ["Frame", "log_sum"]

Array = NDArray[np.float64]

_STRANGE = 4.0  # spreads at which a reading is first taken for a misreading when a likeliest vehicle is sought
_USUAL_SCALE = 1.2
_FEW_SCALES = np.array([1.0, 1.8]), np.array([0.75, 0.25])  # for a first look at everything
_ALIKE = 1.7  # states whose variances differ by less share one covariance
_NOWHERE = 1e6  # spreads: a reading that a state does not have is left out by a variance this wide
# Nats that readings may cost which were not to be had though a state shows them: an engine that runs here and stalls a
# step aside is drawn too seldom to be met.
_LEAST_OFF = -6.0


@dataclass
class Frame:
    """One vehicle's findings on one variant.

    Parameters
    ----------
    bank : Bank
    vehicle : Vehicle
    law : Law
    read : ndarray of int, shape (q,)
        Numbers of the readings that gave a value.
    values : ndarray, shape (q,)
        What was read.
    gauges : Gauges
        Of these readings.
    answers : ndarray of int
        Numbers among the answers.
    said : ndarray of bool
    lines : ndarray, shape (d, q)
        What one spread of each healthy difference does to the readings.
    bent : ndarray, shape (q,)
        Spread of what bends.
    """

    bank: Bank
    vehicle: Vehicle
    law: Law
    read: NDArray[np.intp]
    values: Array
    gauges: Gauges
    answers: NDArray[np.intp]
    said: NDArray[np.bool_]
    lines: Array
    bent: Array
    known: dict[tuple[int, ...], object] = field(default_factory=dict)

    @classmethod
    def of(cls, bank: Bank, vehicle: Vehicle, law: Law) -> Frame:
        """Lay out what was taken."""
        readings = bank.variant.asked.readings
        numbers = vehicle.taken < len(readings)
        number, value = vehicle.taken[numbers], vehicle.values[numbers]
        there = ~np.isnan(value)
        read = number[there]
        return cls(
            bank, vehicle, law, read, value[there], bank.variant.gauges.some(read),
            vehicle.taken[~numbers] - len(readings), vehicle.values[~numbers] > 0.5,
            bank.slope[:, read], bank.bent[read],
        )  # fmt: skip

    def noise(self, mean: Array) -> Array:
        """Stated spread of the readings at predictions, over what is stated; shape of ``mean``."""
        return np.asarray(self.law.noise * self.gauges.spread(np.nan_to_num(mean)))

    def covariance(self, scale: float, noise: Array, own: Array, lines: Array) -> Array:
        """Of the readings about predictions, shape (n, q, q): differences, biases, noise, what is each reading's own.

        Parameters
        ----------
        scale : float
        noise, own : ndarray, shape (n, q)
            Stated spread, and variance of what bends and of tolerances.
        lines : ndarray, shape (d, q)
        """
        biased = self.gauges.alike * (BIAS * noise[:, :, None]) * (BIAS * noise[:, None, :])
        diagonal = (own + (scale * noise) ** 2)[:, :, None] * np.eye(own.shape[1])
        return np.asarray(lines.T @ lines + biased + diagonal)

    def log_lines(
        self, mean: Array, tolerance: Array, lines: Array | None = None, bent: Array | None = None,
        like: NDArray[np.intp] | None = None, scales: tuple[Array, Array] = (SCALES, SCALE_ODDS),
    ) -> Array:  # fmt: skip
        """Log likelihood of the readings along straight lines, at n predictions, two misreadings allowed.

        Parameters
        ----------
        mean, tolerance : ndarray, shape (n, q)
            NaN where there would be no reading: such a one counts in :meth:`log_rest`.
        lines, bent : ndarray, optional
            Other than the sound engine's.
        like : ndarray of int, shape (n,), optional
            Numbers from 0: rows of one number share the covariance of its first; else those whose variances are near.
        scales : (ndarray, ndarray)
            Of the noise, and their odds.

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        found = np.zeros(len(mean))
        if not self.read.size or not len(mean):
            return found
        lines, bent = self.lines if lines is None else lines, self.bent if bent is None else bent
        noise = self.noise(mean)
        gone = np.isnan(mean)
        own = np.where(gone, (_NOWHERE * noise) ** 2, tolerance**2 + bent**2)
        first, kind = _alike(own + noise**2, noise) if like is None else _firsts(like)
        left = np.where(gone, 0.0, self.values - mean)
        # Lines lead below nothing; no engine does.
        left = np.where(self.gauges.counts & (self.values <= 0.0), np.minimum(left, 0.0), left)
        order = np.argsort(kind, kind="stable")
        ends = np.searchsorted(kind[order], np.arange(len(first) + 1))
        logs = np.empty((len(mean), scales[0].size))
        for k, scale in enumerate(scales[0]):
            covariance = self.covariance(float(scale), noise[first], own[first], lines)
            inverse = np.linalg.inv(covariance)
            log_norm = -0.5 * np.linalg.slogdet(2.0 * np.pi * covariance)[1]
            for g in range(len(first)):
                rows = order[ends[g] : ends[g + 1]]
                logs[rows, k] = log_norm[g] + self._log_misread(left[rows], inverse[g], noise[rows])
                logs[rows, k] += self._log_ended(left[rows], own[rows] + (scale * noise[rows]) ** 2)
        # A reading left out still has its place in the normal law: that is taken back.
        wide = np.where(gone, np.log(_NOWHERE * noise) + 0.5 * np.log(2.0 * np.pi), 0.0).sum(axis=1)
        return log_sum(logs + np.log(scales[1])) + wide

    def _log_misread(self, left: Array, inverse: Array, noise: Array) -> Array:
        u = left @ inverse
        diagonal = np.diag(inverse)
        extra = (WIDE * noise / self.law.noise) ** 2
        log_odds = float(np.log(max(self.law.misread, 1e-300)))
        off = log_odds - 0.5 * np.log1p(extra * diagonal) + 0.5 * extra / (1.0 + extra * diagonal) * u**2
        # Two at once: of all pairs only those with the likeliest one matter.
        rows, first = np.arange(len(left)), np.argmax(off, axis=1)
        a, own_a, extra_a = (some[rows, first][:, None] for some in (u, np.broadcast_to(diagonal, u.shape), extra))
        both = inverse[first]
        one, other = 1.0 / extra_a + own_a, 1.0 / extra + diagonal
        determinant = np.maximum(one * other - both**2, 1e-300)
        saved = (other * a**2 - 2.0 * both * a * u + one * u**2) / determinant
        pairs = 2.0 * log_odds - 0.5 * np.log(determinant * extra_a * extra) + 0.5 * saved
        pairs[rows, first] = -np.inf
        found = -0.5 * np.einsum("nq,nq->n", u, left)
        found += log_sum(np.concatenate([np.zeros((len(left), 1)), off, pairs], axis=1))
        return np.asarray(found)

    def _log_ended(self, left: Array, variance: Array) -> Array:
        """What counts read as 0 add, shape (n,): theirs is the chance of 0 or less, not a density."""
        ended = self.gauges.counts & (self.values <= 0.0)
        sd = np.sqrt(variance[:, ended])
        z = left[:, ended] / sd
        return np.asarray((log_ndtr(z) + 0.5 * z**2 + 0.5 * np.log(2.0 * np.pi) + np.log(sd)).sum(axis=1))

    def differences(
        self, mean: Array, tolerance: Array, lines: Array, bent: Array, rng: np.random.Generator | None = None
    ) -> Array:
        """Healthy differences that the readings ask for at predictions, shape (n, d); strange readings left aside.

        Parameters
        ----------
        mean : ndarray, shape (n, q)
            Where the lines start.
        tolerance, lines, bent : ndarray
        rng : numpy Generator, optional
            Draws them from what the readings leave open; None gives the likeliest.
        """
        n, d = len(mean), len(lines)
        drawn = np.zeros((n, d)) if rng is None else rng.standard_normal((n, d))
        if not self.read.size:
            return drawn
        noise = self.noise(mean)
        own = np.where(np.isnan(mean), (_NOWHERE * noise) ** 2, tolerance**2 + bent**2)
        covariance = self.covariance(_USUAL_SCALE, noise, own, lines)
        left = np.nan_to_num(self.values - mean)
        inverse = np.linalg.inv(covariance)
        strange = np.abs(np.einsum("nq,nqr->nr", left, inverse)) > _STRANGE * np.sqrt(
            np.diagonal(inverse, axis1=1, axis2=2)
        )
        covariance = covariance + np.where(strange, (WIDE * noise) ** 2, 0.0)[:, :, None] * np.eye(self.read.size)
        astray = drawn @ lines
        if rng is not None:
            rest = covariance - lines.T @ lines
            astray = astray + np.einsum(
                "nqr,nr->nq", np.linalg.cholesky(rest), rng.standard_normal((n, self.read.size))
            )
        # A draw from before the readings, moved by what the readings say of it, is a draw from after them.
        asked = np.linalg.solve(covariance, (left - astray)[:, :, None])[:, :, 0]
        return np.asarray(drawn + asked @ lines.T)

    def log_rest(self, seen: Seen) -> Array:
        """Log likelihood of what is no number: which readings were to be had, answers, codes."""
        total = self._log_there(~np.isnan(seen.mean))
        yes = noted(seen.yes[:, self.answers])
        total = total + np.log(np.where(self.said, yes, 1.0 - yes)).sum(axis=1)
        if self.vehicle.codes.size:
            chance = noted(seen.code, code=True)
            logs = np.log(np.where(self.vehicle.codes[None, :, None], chance, 1.0 - chance)).sum(axis=1)
            total = total + log_sum(logs + np.log(self.bank.variant.limit_odds))
        return np.asarray(total)

    def _log_there(self, there: NDArray[np.bool_]) -> Array:
        """Of which readings were to be had, shape (n,).

        Nobody is told which procedures were gone through: one of which nothing was read was either left out, or tried
        with nothing to be had.
        """
        asked = self.bank.variant.asked
        unread = max(self.law.unread, 1e-30)
        had = np.zeros(len(asked.readings) + len(asked.answers), dtype=bool)
        had[self.read] = True
        had[len(asked.readings) + self.answers] = True
        yes, no = np.log(1.0 - unread), np.log(unread)
        by_look = []
        for odds, chance in TAKEN:
            total, all_missed = np.full(len(there), np.log(odds)), np.zeros(len(there))
            for name, numbers in asked.groups.items():
                mine = np.array([i for i in numbers if i < len(asked.readings)], dtype=np.intp)
                missed = np.where(there[:, mine] == had[mine], yes, no) * ~had[mine]
                missed = missed.sum(axis=1)
                taken = chance(name)
                if had[list(numbers)].any():
                    all_missed = all_missed + missed
                    total = total + np.log(taken) + (np.where(there[:, mine], yes, no) * had[mine]).sum(axis=1)
                else:
                    total = total + np.log(1.0 - taken + taken * np.exp(missed))
            by_look.append(total + np.maximum(all_missed, _LEAST_OFF))
        stray = np.where(there[:, self.read], 0.0, self.gauges.log_stray(self.values))
        return log_sum(np.stack(by_look, axis=1)) + stray.sum(axis=1)

    def log_net(self) -> tuple[Array, Array]:
        """Log likelihood at every cell of the bank: of the readings, and of the rest."""
        seen = self.bank.seen
        mean, tolerance = (part[:, self.read].astype(np.float64) for part in (seen.mean, seen.tolerance))
        return self.log_lines(mean, tolerance, scales=_FEW_SCALES), self.log_rest(seen)


def _alike(variance: Array, noise: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows whose variances are near: the first of each kind, and the kind of each row."""
    steps = np.round(np.log(np.concatenate([variance, noise**2], axis=1)) / np.log(_ALIKE)).astype(np.int64)
    # One number stands for a row of steps: two rows that share it by chance are one in 2**64.
    mixed = (steps * np.random.default_rng(0).integers(1, 2**62, steps.shape[1])).sum(axis=1)
    return _firsts(mixed)


def _firsts(like: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    _, first, kind = np.unique(like, return_index=True, return_inverse=True)
    return first, kind.ravel()


def log_sum(values: Array) -> Array:
    """Log of the sum of exponentials along the last axis."""
    top = values.max(axis=-1, keepdims=True)
    return np.asarray(np.log(np.exp(values - top).sum(axis=-1)) + top[..., 0])
