"""How sound engines of a kind read, and what they differ in.

Each difference is moved to both sides, and what it does is taken as a straight line and a bend. Most readings of an
engine that is turned over by its starter bend: by straight lines alone one sound engine in ten would lie beyond four
spreads of the vacuum that it then makes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import Nuisance
from witnessmark.predict.differing import sound_states

__all__ = ["Sound", "below", "covariance_of", "differences", "one_at_a_time", "rows_of"]

Array = NDArray[np.float64]

STEP = float(np.sqrt(3.0))
"""Spreads by which a difference is moved: with its middle the three points whose weights 1/6, 2/3, 1/6 give the mean
of every polynomial up to the fifth degree under a normal law (Gauss and Hermite; any textbook, from memory)."""


@dataclass(frozen=True, slots=True)
class Sound:
    """Readings of sound engines of the kind.

    Parameters
    ----------
    mean : ndarray, shape (q,)
    absolute, share : ndarray, shape (q,)
        How well the nominal is known beyond what engines differ in: in the quantity's unit, and of the value.
    moved : tuple of Nuisance, length m
    slope, bend : ndarray, shape (m, q)
        What one standard deviation of each does: u spreads of it do ``slope * u + bend * u**2``.
    """

    mean: Array
    absolute: Array
    share: Array
    moved: tuple[Nuisance, ...]
    slope: Array
    bend: Array

    def tolerance(self, values: Array) -> Array:
        """How well the nominal is known where a reading is about so large.

        Parameters
        ----------
        values : ndarray, shape (q,)
            A sound engine reads what it reads: of the two the greater counts.

        Returns
        -------
        ndarray, shape (q,)
        """
        size = np.maximum(np.abs(np.nan_to_num(values)), np.abs(np.nan_to_num(self.mean)))
        return np.asarray(np.hypot(self.absolute, self.share * size))

    def spread(self, scale: Array | float = 1.0) -> Array:
        """Covariance of what sound engines differ in.

        Parameters
        ----------
        scale : ndarray, shape (q,), optional
            What a small step of each reading is on the scale wanted.

        Returns
        -------
        ndarray, shape (q, q)
        """
        return covariance_of(self.slope * scale, self.bend * scale)


def covariance_of(slope: Array, bend: Array) -> Array:
    """Covariance of readings about those of the usual engine, from what each difference does.

    Parameters
    ----------
    slope, bend : ndarray, shape (m, q)

    Returns
    -------
    ndarray, shape (q, q)

    Notes
    -----
    Of ``s u + b u**2`` with u standard normal the mean is b and the variance s**2 + 2 b**2 (its moments to the fourth).
    The differences are independent, so that their variances add, and so do their means: the middle of sound engines is
    not the usual engine. How much of that is left where a fault has moved a reading nobody knows, so predictions stay
    where they are and the shift counts as one more thing that they differ in, the same for all readings.
    """
    rows = np.concatenate([slope, np.sqrt(2.0) * bend, bend.sum(axis=0, keepdims=True)])
    return np.asarray(rows.T @ rows)


def rows_of(moved: Sequence[Nuisance]) -> int:
    """How many engines :func:`one_at_a_time` needs."""
    return 1 + 2 * len(moved)


def differences(values: Array) -> tuple[Array, Array]:
    """What one spread of each difference does to readings, straight and bent.

    Parameters
    ----------
    values : ndarray, shape (1 + 2 m, ...)
        Of the engines of :func:`one_at_a_time`. Not a number where there would be no such reading: where that is so to
        one side, the other one tells; where to both, or at the usual engine, nothing is said.

    Returns
    -------
    slope, bend : ndarray, shape (m, ...)
    """
    up, down = np.split(values[1:] - values[0], 2)
    up, down = np.where(np.isnan(up), -down, up), np.where(np.isnan(down), -up, down)
    slope = np.nan_to_num(0.5 * (up - down) / STEP)
    return slope, np.nan_to_num(0.5 * (up + down) / STEP**2)


def one_at_a_time(moved: Sequence[Nuisance], rows: int) -> tuple[State, dict[str, Array]]:
    """Sound engines: the first as usual, each further one off in one thing, first all upward, then all downward.

    Parameters
    ----------
    moved : sequence of Nuisance, length m
    rows : int
        At least :func:`rows_of`.

    Returns
    -------
    state : State
    numbers : dict of str to ndarray, shape (rows,)

    Notes
    -----
    Each by :data:`STEP` spreads, or as far as the thing can go: there is no leak of less than nothing.
    """
    values = np.tile([nuisance.mean for nuisance in moved], (rows, 1))
    for i, nuisance in enumerate(moved):
        values[1 + i, i] += STEP * nuisance.sd
        values[1 + len(moved) + i, i] -= STEP * nuisance.sd
    return sound_states(moved, values)


def below(state: State, more: State, first: int, rows: int) -> State:
    """States beneath others.

    Parameters
    ----------
    state, more : State
        Those above, of ``rows`` rows already, and those that begin at row ``first``.
    first, rows : int

    Returns
    -------
    State
    """
    edits = dict(state.edits)
    for key, value in more.edits.items():
        column = np.full(rows, float(HEALTHY.get(*key))) if key not in edits else np.array(edits[key], dtype=np.float64)
        column[first:] = value
        edits[key] = column
    return State(edits)
