"""One vehicle's findings against predictions: readings along straight lines, and what is no number.

Healthy differences, biases, tolerances and the common scale of the noise are integrated in closed form about any
prediction; one misreading is allowed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.bank import Bank
from benchmarks.vehicles.generate import Vehicle, spread_of
from benchmarks.vehicles.law import BIAS, OUTLIER, SCALE_ODDS, SCALES, UNREAD, WIDE, Law, noted
from benchmarks.vehicles.variant import Seen

__all__ = ["Frame", "log_sum"]

Array = NDArray[np.float64]

_STRANGE = 4.0  # spreads at which a reading is first taken for a misreading when a likeliest vehicle is sought
_USUAL_SCALE = 1.2


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
    values, sd : ndarray, shape (q,)
        What was read, and its stated spread.
    answers : ndarray of int
        Numbers among the answers.
    said : ndarray of bool
    lines : ndarray, shape (d + instruments, q)
        What one spread of each healthy difference and each instrument's bias does to the readings.
    own : ndarray, shape (q,)
        Variance of what bends, and of tolerances.
    """

    bank: Bank
    vehicle: Vehicle
    law: Law
    read: NDArray[np.intp]
    values: Array
    sd: Array
    answers: NDArray[np.intp]
    said: NDArray[np.bool_]
    lines: Array
    own: Array

    @classmethod
    def of(cls, bank: Bank, vehicle: Vehicle, law: Law) -> Frame:
        """Lay out what was taken."""
        readings = bank.variant.asked.readings
        numbers = vehicle.taken < len(readings)
        number, value = vehicle.taken[numbers], vehicle.values[numbers]
        there = ~np.isnan(value)
        read, values = number[there], value[there]
        queries = [readings[i] for i in read]
        sd = np.array([float(spread_of(q, np.array(v))) for q, v in zip(queries, values, strict=True)])
        names = sorted({q.kind.instrument for q in queries})
        biases = np.zeros((len(names), len(read)))
        for k, name in enumerate(names):
            mine = np.flatnonzero([q.kind.instrument == name for q in queries])
            biases[k, mine] = BIAS * law.noise * sd[mine]
        return cls(
            bank, vehicle, law, read, values, sd, vehicle.taken[~numbers] - len(readings),
            vehicle.values[~numbers] > 0.5, np.vstack([bank.slope[:, read], biases]),
            bank.bent[read] ** 2 + bank.tolerance[read] ** 2,
        )  # fmt: skip

    def covariance(self, scale: float, lines: Array | None = None, own: Array | None = None) -> Array:
        """Of the readings about a prediction, shape (q, q); with the sound engine's lines and bends unless given."""
        lines, own = self.lines if lines is None else lines, self.own if own is None else own
        return np.asarray(lines.T @ lines + np.diag(own + (scale * self.law.noise * self.sd) ** 2))

    def log_lines(self, mean: Array, lines: Array | None = None, own: Array | None = None) -> Array:
        """Log likelihood of the readings along straight lines, at n predictions, one misreading allowed.

        Parameters
        ----------
        mean : ndarray, shape (n, q)
        lines, own : ndarray, optional
            Other than the sound engine's.

        Returns
        -------
        ndarray, shape (n,) [nat]
        """
        if not self.read.size:
            return np.zeros(len(mean))
        left = np.nan_to_num(self.values - mean)
        extra = (WIDE * self.sd) ** 2
        logs = []
        for scale, odds in zip(SCALES, SCALE_ODDS, strict=True):
            covariance = self.covariance(float(scale), lines, own)
            inverse = np.linalg.inv(covariance)
            log_norm = -0.5 * (float(np.linalg.slogdet(covariance)[1]) + self.read.size * float(np.log(2.0 * np.pi)))
            u = left @ inverse
            diagonal = np.diag(inverse)
            off = np.log(OUTLIER) - 0.5 * np.log1p(extra * diagonal) + 0.5 * extra / (1.0 + extra * diagonal) * u**2
            terms = np.concatenate([np.zeros((len(left), 1)), off], axis=1)
            logs.append(np.log(odds) + log_norm - 0.5 * np.einsum("nq,nq->n", u, left) + log_sum(terms))
        return log_sum(np.stack(logs, axis=1))

    def differences(self, mean: Array, lines: Array, own: Array, rng: np.random.Generator | None = None) -> Array:
        """Healthy differences that the readings ask for at predictions, shape (n, d); strange readings left aside.

        Parameters
        ----------
        mean : ndarray, shape (n, q)
        lines, own : ndarray
        rng : numpy Generator, optional
            Draws them from what the readings leave open; None gives the likeliest.
        """
        d, n = self.bank.variant.count, len(mean)
        drawn = np.zeros((n, len(lines))) if rng is None else rng.standard_normal((n, len(lines)))
        if not self.read.size:
            return drawn[:, :d]
        own = own + (_USUAL_SCALE * self.law.noise * self.sd) ** 2
        left = np.nan_to_num(self.values - mean)
        square = lines.T @ lines
        inverse = np.linalg.inv(square + np.diag(own))
        strange = np.abs(left[0] @ inverse) > _STRANGE * np.sqrt(np.diag(inverse))
        own = np.where(strange, own + (WIDE * self.sd) ** 2, own)
        noise = 0.0 if rng is None else np.sqrt(own) * rng.standard_normal((n, own.size))
        # A draw from before the readings, moved by what the readings say of it, is a draw from after them.
        asked = np.linalg.solve(square + np.diag(own), (left - drawn @ lines - noise).T).T
        return np.asarray((drawn + asked @ lines.T)[:, :d])

    def log_rest(self, seen: Seen) -> Array:
        """Log likelihood of what is no number: readings that were to be had, answers, codes."""
        # That a reading was tried and not to be had is no finding, and the program is not told: it counts for neither.
        stray = np.isnan(seen.mean[:, self.read])
        # A reading where none should be has lost its place in the normal law; it costs what straying costs.
        total = np.where(stray, np.log(UNREAD / WIDE), np.log(1.0 - UNREAD)).sum(axis=1)
        yes = noted(seen.yes[:, self.answers])
        total = total + np.log(np.where(self.said, yes, 1.0 - yes)).sum(axis=1)
        if self.vehicle.codes.size:
            chance = noted(seen.code, code=True)
            logs = np.log(np.where(self.vehicle.codes[None, :, None], chance, 1.0 - chance)).sum(axis=1)
            total = total + log_sum(logs + np.log(self.bank.variant.limit_odds))
        return np.asarray(total)

    def log_net(self) -> tuple[Array, Array]:
        """Log likelihood at every cell of the bank: of the readings, and of the rest."""
        seen = self.bank.seen
        return self.log_lines(seen.mean[:, self.read].astype(np.float64)), self.log_rest(seen)


def log_sum(values: Array) -> Array:
    """Log of the sum of exponentials along the last axis."""
    top = values.max(axis=-1, keepdims=True)
    return np.asarray(np.log(np.exp(values - top).sum(axis=-1)) + top[..., 0])
