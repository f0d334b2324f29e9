"""Sets of faults against answers out of a list: the exact posterior where no continuous number is shared.

A hypothesis is a set of faults at once: none, each alone, any two, up to k. An answer (a code set or silent, a look, a
noise, "cranks but does not start", a grade of roughness) is independent of the others once the set is known, or the set
and one shared unknown: how the maker set its limits, whether the owner neglected the vehicle. Then the posterior is one
array sum over hypotheses and answers; nothing is approximated and nothing drawn.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import ArrayLike, NDArray

from witnessmark.errors import InferenceError, InputError
from witnessmark.infer.logsum import log_sum

__all__ = [
    "MOST_SETS",
    "FaultSets",
    "Weighed",
    "fault_sets",
    "log_answers",
    "log_prior_of_sets",
    "smallest_sets",
    "strongest_of_set",
    "weigh",
    "while_some_sleep",
]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

MOST_SETS = 2_000_000
"""Hypotheses beyond which sets are refused rather than the memory filled; our choice."""
_SUMS_TO_ONE = 1e-6  # how far a table of chances may be off; our choice


@dataclass(frozen=True, slots=True)
class FaultSets:
    """Every set of at most k out of n faults.

    Parameters
    ----------
    count : int
        How many faults, n.
    members : ndarray of int, shape (h, k)
        Numbers of the faults in each set, rising; n where a set has fewer than k. The empty set comes first, then the
        single faults in their order, then the pairs.
    """

    count: int
    members: Index

    def __len__(self) -> int:
        return len(self.members)

    @property
    def sizes(self) -> Index:
        """How many faults each set holds, shape (h,)."""
        return np.asarray((self.members < self.count).sum(axis=1), dtype=np.intp)

    def total(self, of_fault: Array) -> Array:
        """Sum over each set's members.

        Parameters
        ----------
        of_fault : ndarray, shape (n, ...)

        Returns
        -------
        ndarray, shape (h, ...)
        """
        padded = np.concatenate([of_fault, np.zeros((1, *of_fault.shape[1:]))])
        result = np.zeros((len(self), *of_fault.shape[1:]))
        for column in self.members.T:
            result += padded[column]
        return result

    def find(self, members: Index) -> Index:
        """Where some sets stand.

        Parameters
        ----------
        members : ndarray of int, shape (m, k)
            As in :attr:`members`: rising, filled up with n.

        Returns
        -------
        ndarray of int, shape (m,)
        """
        powers = (self.count + 1) ** np.arange(self.members.shape[1] - 1, -1, -1)
        own, wanted = self.members @ powers, members @ powers
        order = np.argsort(own)
        return np.asarray(order[np.searchsorted(own, wanted, sorter=order)], dtype=np.intp)


def fault_sets(count: int, at_most: int) -> FaultSets:
    """Every set of at most so many faults.

    Parameters
    ----------
    count : int
        How many faults there are.
    at_most : int
        How many may be there at once: 1 for single faults, 2 for pairs too.

    Returns
    -------
    FaultSets

    Raises
    ------
    InputError
        If there would be more than :data:`MOST_SETS`.
    """
    k = min(max(at_most, 1), max(count, 1))
    many = sum(comb(count, size) for size in range(k + 1))
    if many > MOST_SETS:
        raise InputError(
            f"{count} faults, {at_most} at once, make {many} sets",
            expected=f"at most {MOST_SETS}",
            todo="Leave out the least likely faults, or allow fewer at once",
        )
    members = np.full((many, k), count, dtype=np.intp)
    row = 1
    for size in range(1, k + 1):
        own = comb(count, size)
        flat = itertools.chain.from_iterable(itertools.combinations(range(count), size))
        members[row : row + own, :size] = np.fromiter(flat, dtype=np.intp, count=own * size).reshape(own, size)
        row += own
    return FaultSets(count, members)


def log_prior_of_sets(sets: FaultSets, chance: ArrayLike) -> Array:
    """Log prior of every set where faults come about independently of each other, given a common cause.

    Parameters
    ----------
    sets : FaultSets
    chance : array_like, shape (n,) or (z, n) [-]
        Of each fault to be there; one row for each state of a common cause (age, neglect). Summing over that state
        (:func:`weigh`) brings together faults that have it in common, which a product of priors would not.

    Returns
    -------
    ndarray, shape (h,) or (z, h) [nat]
        Not normalised where sets with more faults are left out.

    Raises
    ------
    InputError
        For a chance outside 0..1.

    Notes
    -----
    Follows from independence: the sum of log(1 - p) over all faults, and of log p/(1 - p) over the set's members.
    """
    p = np.asarray(chance, dtype=np.float64)
    if p.shape[-1:] != (sets.count,) or not np.all((p >= 0.0) & (p <= 1.0)):
        raise InputError("A chance is no number from 0 to 1, or there is not one for each fault", given=str(p.shape))
    # A fault that is certain is left out of the sum over the absent ones and counted by the sets that lack it.
    with np.errstate(divide="ignore"):
        absent, present = np.log1p(-p), np.log(p)
    sure = np.isneginf(absent)
    add = np.where(sure, present, present - np.where(sure, 0.0, absent))
    rest = np.where(sure, 0.0, absent).sum(axis=-1, keepdims=True)
    lacking = sure.sum(axis=-1, keepdims=True) - sets.total(np.moveaxis(sure.astype(np.float64), -1, 0)).T
    return np.asarray(np.where(lacking > 0.5, -np.inf, rest + sets.total(np.moveaxis(add, -1, 0)).T))


def log_answers(tables: Sequence[Array], seen: Sequence[int | ArrayLike]) -> Array:
    """Log probability of everything that was answered, under every hypothesis.

    Parameters
    ----------
    tables : sequence of ndarray, shape (h, s) or (z, h, s) [-]
        For each answer the chance of each of its s values under each of h hypotheses, and under each of z states of a
        shared unknown. Rows sum to 1; a table without z is the same in all of them.
    seen : sequence of int or array_like, shape (s,)
        Which value was seen; or how well each value agrees with what was seen ("oily, I think": its likelihood).

    Returns
    -------
    ndarray, shape (h,) or (z, h) [nat]

    Raises
    ------
    InputError
        For a table whose chances are not chances or do not sum to 1, or an answer outside the table.
    """
    total: Array = np.zeros(())
    for k, (table, answer) in enumerate(zip(tables, seen, strict=True)):
        _check_table(table, k)
        states = table.shape[-1]
        if isinstance(answer, int | np.integer):
            if not 0 <= answer < states:
                raise InputError(f"answer {k + 1} is value {answer}", expected=f"0 to {states - 1}")
            own = table[..., answer]
        else:
            graded = np.asarray(answer, dtype=np.float64)
            if graded.shape != (states,) or not np.all(graded >= 0.0):
                raise InputError(f"answer {k + 1} is not graded by {states} numbers of 0 or more", given=str(answer))
            own = table @ graded
        with np.errstate(divide="ignore"):
            total = total + np.log(own)
    return total


def _check_table(table: Array, k: int) -> None:
    sums = np.sum(table, axis=-1)
    if not np.all(np.asarray(table) >= 0.0) or not np.all(np.abs(sums - 1.0) <= _SUMS_TO_ONE):
        worst = float(sums.flat[int(np.nanargmax(np.abs(sums - 1.0)))]) if np.isfinite(sums).any() else float("nan")
        raise InputError(
            f"the chances of answer {k + 1} do not sum to 1",
            given=f"{worst:.6g}",
            expected="chances of 0 or more that sum to 1 under every hypothesis",
        )


def strongest_of_set(sets: FaultSets, none: ArrayLike, alone: ArrayLike) -> Array:
    """Law of one graded answer under every set, where each fault acts by itself and the strongest effect is seen.

    Parameters
    ----------
    sets : FaultSets
    none : array_like, shape (s,) [-]
        Chance of each grade, mildest first, with no fault there. Yes or no: (no, yes).
    alone : array_like, shape (n, s) [-]
        The same with one fault alone.

    Returns
    -------
    ndarray, shape (h, s) [-]

    Raises
    ------
    InputError
        If a fault makes the answer milder than it is without any: then sets need a law of their own.

    Notes
    -----
    The noisy OR of Pearl (1988), for several grades the noisy MAX of Henrion (1989): the chance that the answer stays
    at or below a grade is the product of what each member leaves of it.
    """
    base, one = np.cumsum(np.asarray(none, dtype=np.float64)), np.cumsum(np.asarray(alone, dtype=np.float64), axis=1)
    if one.shape != (sets.count, base.size):
        raise InputError("There is not one law of the answer for each fault", given=str(one.shape))
    with np.errstate(divide="ignore", invalid="ignore"):
        left = np.where(base > 0.0, one / base, 0.0)
    if np.any(left > 1.0 + 1e-9) or np.any(np.diff(left, axis=1) < -1e-9):
        raise InputError(
            "a fault makes the answer milder than without it",
            expected="an effect that can only add",
            todo="Give the chances of each set by themselves",
        )
    with np.errstate(divide="ignore"):
        up_to = base * np.exp(sets.total(np.log(np.minimum(left, 1.0))))
    return np.diff(up_to, axis=1, prepend=0.0)


def while_some_sleep(sets: FaultSets, awake: ArrayLike, log_by_set: Array) -> Array:
    """Log probability of one episode's answers where each fault of a set may be asleep.

    Parameters
    ----------
    sets : FaultSets
    awake : array_like, shape (n,) [-]
        Chance that each fault is active under the episode's conditions, if it is there; 1 of a permanent one.
    log_by_set : ndarray, shape (h,) or (z, h) [nat]
        Log probability of all the episode's answers if exactly the faults of a set are active.

    Returns
    -------
    ndarray, shape as ``log_by_set`` [nat]
        Of all answers of the episode together: they share who was awake. Episodes apart add.

    Notes
    -----
    The sum over subsets of a set, each with the chance that just those are awake. For one fault it is
    1 - a + a (p/p0)^n, as in :mod:`witnessmark.infer.intermittent`.
    """
    a = np.append(np.asarray(awake, dtype=np.float64), 0.0)
    k = sets.members.shape[1]
    with np.errstate(divide="ignore"):
        log_on, log_off = np.log(a), np.log1p(-a)
    terms = []
    for pattern in itertools.product((False, True), repeat=k):
        # A missing member counts once only: as asleep, which it is for certain.
        chance = sum(
            ((log_on if on else log_off)[sets.members[:, i]] for i, on in enumerate(pattern)), np.zeros(len(sets))
        )
        kept = np.where(np.array(pattern), sets.members, sets.count)
        terms.append(chance + log_by_set[..., sets.find(np.sort(kept, axis=1))])
    return log_sum(np.stack(terms, axis=-1))


@dataclass(frozen=True, slots=True)
class Weighed:
    """The posterior.

    Parameters
    ----------
    sets : FaultSets
    mass : ndarray, shape (h,) [-]
        Probability of each set; sums to 1.
    log_evidence : float [nat]
        Log of the probability of all answers.
    """

    sets: FaultSets
    mass: Array
    log_evidence: float

    @property
    def of_fault(self) -> Array:
        """Probability of each fault to be there, alone or with others, shape (n,)."""
        total = np.zeros(self.sets.count + 1)
        for column in self.sets.members.T:
            np.add.at(total, column, self.mass)
        return total[:-1]


def weigh(sets: FaultSets, log_prior: Array, log_likelihood: Array, odds: ArrayLike | None = None) -> Weighed:
    """Prior and answers together.

    Parameters
    ----------
    sets : FaultSets
    log_prior : ndarray, shape (h,) or (z, h) [nat]
        Need not be normalised over the sets; over the states of a shared unknown it is taken as it stands.
    log_likelihood : ndarray, shape (), (h,) or (z, h) [nat]
    odds : array_like, shape (z,) [-], optional
        Chance of each state of the unknown that all answers, or all faults, share.

    Returns
    -------
    Weighed

    Raises
    ------
    InferenceError
        Where nothing explains the answers: certain ones contradict each other.
    """
    logs = np.asarray(log_prior) + log_likelihood
    prior = np.broadcast_to(log_prior, logs.shape)
    if odds is not None:
        with np.errstate(divide="ignore"):
            share = np.log(np.asarray(odds, dtype=np.float64))[:, None]
        logs, prior = log_sum(logs + share, axis=0), log_sum(prior + share, axis=0)
    total = float(log_sum(logs))
    if not np.isfinite(total):
        raise InferenceError(
            "No set of faults allows all of these answers together: some that were given as certain contradict each"
            " other. Give them a chance of being wrong, or take one back."
        )
    return Weighed(sets, np.exp(logs - total), total - float(log_sum(prior)))


def smallest_sets(sets: FaultSets, possible: NDArray[np.bool_]) -> tuple[tuple[int, ...], ...]:
    """Sets that explain everything and of which no part does.

    Parameters
    ----------
    sets : FaultSets
    possible : ndarray of bool, shape (h,)
        Which sets allow everything that was seen.

    Returns
    -------
    tuple of tuple of int
        Numbers of their faults; smallest first.

    Notes
    -----
    The minimal diagnoses of de Kleer and Williams (1987).
    """
    found: list[frozenset[int]] = []
    for row in np.flatnonzero(possible)[np.argsort(sets.sizes[possible], kind="stable")]:
        own = frozenset(int(i) for i in sets.members[row] if i < sets.count)
        if not any(other <= own for other in found):
            found.append(own)
    return tuple(tuple(sorted(own)) for own in found)
