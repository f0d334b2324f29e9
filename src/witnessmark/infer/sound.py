"""How sound engines of a kind read, and what they differ in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import Nuisance

__all__ = ["Sound", "below", "one_at_a_time"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sound:
    """Readings of sound engines of the kind.

    Parameters
    ----------
    mean : ndarray, shape (q,)
    absolute, share : ndarray, shape (q,)
        How well the nominal is known beyond what engines differ in: in the quantity's unit, and of the value.
    moved : tuple of Nuisance, length m
    slope : ndarray, shape (m, q)
        What one standard deviation of each does.
    """

    mean: Array
    absolute: Array
    share: Array
    moved: tuple[Nuisance, ...]
    slope: Array

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

    @property
    def spread(self) -> Array:
        """Covariance of what sound engines differ in, to first order, shape (q, q)."""
        return np.asarray(self.slope.T @ self.slope)


def one_at_a_time(moved: Sequence[Nuisance], rows: int) -> tuple[State, dict[str, Array]]:
    """Sound engines: the first as usual, each further one off by one spread in one thing, the rest as usual.

    Parameters
    ----------
    moved : sequence of Nuisance, length m
    rows : int
        At least m + 1.

    Returns
    -------
    state : State
    numbers : dict of str to ndarray, shape (rows,)
    """
    edits: dict[tuple[str, str], Array] = {}
    numbers: dict[str, Array] = {}
    for i, nuisance in enumerate(moved, start=1):
        column = np.full(rows, nuisance.mean)
        column[i] += nuisance.sd
        if nuisance.is_number:
            numbers[nuisance.variable] = column
        else:
            edits[(nuisance.variable, nuisance.place)] = column
    return State(edits), numbers


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
