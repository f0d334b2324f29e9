"""Readings of tests in spreads of what would be read: how far two engines are apart to whoever takes them.

A reading counts in its own spread: the usual instrument's, the tolerance of the described number, and how sound engines
differ, which moves readings together, so that the whole is whitened by its covariance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.infer.sound import covariance_of, differences, one_at_a_time, rows_of
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.vocabulary import Query

__all__ = ["Ruler", "ruler_of"]

Array = NDArray[np.float64]

_WRONG = 0.02  # least chance of a wrong yes or no
_FLOOR = 0.1  # of a relative reading's spread, that stays where the reading goes to nothing
_MOST = 1e12


@dataclass(frozen=True, slots=True)
class Ruler:
    """Readings of all tests on one engine, and how far they spread.

    Parameters
    ----------
    model : DriveModel
    queries : tuple of Query, length q
    tests : mapping of str to ndarray of int
        Which queries each test yields.
    healthy : ndarray, shape (q,)
        In the quantities' units.
    own : ndarray, shape (q,)
        Spread of each reading by itself, in its unit.
    relative : ndarray, shape (q,) [-]
        Of a reading whose spread grows with it; 0 elsewhere.
    yes : ndarray of bool, shape (q,)
        Chances of yes.
    spread : ndarray, shape (q, q)
        Covariance of sound engines, instruments and tolerances; 0 for chances.
    """

    model: DriveModel
    queries: tuple[Query, ...]
    tests: Mapping[str, NDArray[np.intp]]
    healthy: Array
    own: Array
    relative: Array
    yes: NDArray[np.bool_]
    spread: Array

    def readings(self, state: State, rows: int) -> Array:
        """What all tests read under some states.

        Parameters
        ----------
        state : State
        rows : int

        Returns
        -------
        ndarray, shape (rows, q)
            In the quantities' units; NaN where there would be no such reading.
        """
        return expect(self.model, self.queries, state, rows=rows).mean

    def whitened(self, read: Array, which: NDArray[np.intp] | None = None) -> Array:
        """Readings as coordinates of unit spread, a sound engine at the origin.

        Parameters
        ----------
        read : ndarray, shape (rows, q)
        which : ndarray of int, shape (k,), optional
            Some of the queries; left out, all of them together.

        Returns
        -------
        ndarray, shape (rows, d) [-]
            First the numbers, then the chances, then whether each is there to be read.
        """
        chosen = np.arange(len(self.queries)) if which is None else which
        numbers, chances = chosen[~self.yes[chosen]], chosen[self.yes[chosen]]
        there = np.isfinite(read[:, chosen]).astype(np.float64)
        full = np.where(np.isfinite(read), read, self.healthy)
        factor = np.linalg.cholesky(self.spread[np.ix_(numbers, numbers)])
        moved = self._straight(full[:, numbers], numbers).T
        parts = [np.linalg.solve(factor, moved).T if len(numbers) else np.empty((len(read), 0))]
        parts.append(_chance(full[:, chances]) - _chance(self.healthy[chances]))
        parts.append(_chance(there) - _chance(np.ones(len(chosen))))
        parts.append(np.zeros((len(read), 1)))
        return np.concatenate(parts, axis=1)

    def _straight(self, read: Array, which: NDArray[np.intp]) -> Array:
        """Beyond healthy; a relative reading drawn in as its spread grows, so that the spread at healthy serves all."""
        healthy, own, share = self.healthy[which], self.own[which], self.relative[which]
        held = np.clip(read, -_MOST, _MOST)
        rest = np.sqrt(np.maximum(own**2 - (share * healthy) ** 2, (_FLOOR * own) ** 2))
        safe = np.maximum(share, 1e-9)
        bent = own * (np.arcsinh(safe * held / rest) - np.arcsinh(safe * healthy / rest)) / safe
        return np.where(share > 0.0, bent, held - healthy)


def _chance(share: Array) -> Array:
    """A chance on a scale where its spread is 1 everywhere; an answer is wrong now and then.

    2 asin √p: the variance-stabilising transform of a proportion, any textbook, from memory.
    """
    return np.asarray(2.0 * np.arcsin(np.sqrt(_WRONG + (1.0 - 2.0 * _WRONG) * np.clip(share, 0.0, 1.0))))


def ruler_of(model: DriveModel, tests: Mapping[str, Iterable[Query]]) -> Ruler:
    """The readings of tests on an engine, with their spreads.

    Parameters
    ----------
    model : DriveModel
    tests : mapping of str to iterable of Query
        By the tests' ids; what cannot be predicted here is left out.

    Returns
    -------
    Ruler
    """
    found: dict[Query, None] = {}
    for queries in tests.values():
        found.update((query, None) for query in queries if query not in found and why_not(model, query) is None)
    asked = tuple(found)
    at = {query: j for j, query in enumerate(asked)}
    by_test = {name: np.array([at[q] for q in queries if q in at], dtype=np.intp) for name, queries in tests.items()}
    spread, tolerance, mean = _sound(model, asked)
    mean = np.clip(np.nan_to_num(mean), -_MOST, _MOST)
    yes = np.array([query.kind.kind == "yes_no" for query in asked], dtype=bool)
    usual = np.array([query.kind.default_sd(float(value)) for query, value in zip(asked, mean, strict=True)])
    own = np.sqrt(np.diag(spread) + tolerance**2 + usual**2)
    # Nothing is read more finely than a millionth of itself.
    own = np.maximum(own, 1e-6 * np.maximum(np.abs(mean), 1.0))
    whole = spread + np.diag(own**2 - np.diag(spread))
    relative = np.array([query.kind.sd if query.kind.relative else 0.0 for query in asked])
    return Ruler(model, asked, {k: v for k, v in by_test.items() if len(v)}, mean, own, relative, yes, whole)


def _sound(model: DriveModel, queries: tuple[Query, ...]) -> tuple[Array, Array, Array]:
    """How sound engines spread about their prediction: covariance, tolerance, mean."""
    moved = nuisances(model, queries)
    rows = rows_of(moved)
    state, numbers = one_at_a_time(moved, rows)
    expected = expect(model, queries, state, numbers, rows=rows)
    return covariance_of(*differences(expected.mean)), expected.tolerance[0], expected.mean[0]
