"""Two faults at once: age and neglect bring faults together, so a pair has a common cause and not a product of priors.

Nobody here has counted pairs. The model and all its numbers are our guess, to be replaced by the shop's own counts. A
vehicle is well kept, ordinary or neglected, and nobody says which. What a row's factors ask about (age, distance, oil,
recent work) is likelier in a neglected one; where the history says it, that is known. A fault is then as much likelier
as its row's factor says, and more so, or less, by how the vehicle was kept. All of it is summed over.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.history import History

__all__ = ["CommonCause", "common_cause", "pair_weights"]

Array = NDArray[np.float64]

_LETTERS = "akow"
_KEPT = (0.3, 0.5, 0.2)  # well kept, ordinary, neglected, of vehicles that others have already tried to mend
# Chance of what each letter asks about, by how the vehicle was kept: over 12 years, over 200,000 km, oil neglected,
# something near put together without care.
_CHANCE: Mapping[str, tuple[float, float, float]] = {
    "a": (0.30, 0.40, 0.60),
    "k": (0.15, 0.25, 0.40),
    "o": (0.02, 0.15, 0.70),
    "w": (0.10, 0.20, 0.40),
}
# Years and kilometres weigh less on a vehicle that was kept well: the power that its factor is raised to.
_POWER = (0.6, 1.0, 1.4)
_OLD_YEARS, _FAR_KM = 12.0, 200_000.0


@dataclass(frozen=True, slots=True)
class CommonCause:
    """What faults of one vehicle have in common, given its history.

    Parameters
    ----------
    chance : ndarray, shape (s,) [-]
        Of each way the vehicle may have been kept and used; sums to 1.
    power : ndarray, shape (s, 4) [-]
        What each factor (a, k, o, w) is raised to under each.
    """

    chance: Array
    power: Array

    def relative(self, factors: Sequence[Mapping[str, float]]) -> Array:
        """How much likelier each fault is under each way, over its mean.

        Parameters
        ----------
        factors : sequence of mapping of str to float [-], length n
            By a, k, o, w, as a row of the catalogue has them.

        Returns
        -------
        ndarray, shape (s, n) [-]
            Its mean over the ways is 1, so that no single fault's prior is moved.
        """
        logs = np.array([[np.log(own.get(letter, 1.0)) for letter in _LETTERS] for own in factors]).reshape(-1, 4)
        likelier = np.exp(self.power @ logs.T)
        return np.asarray(likelier / (self.chance @ likelier))

    def coupling(self, one: Mapping[str, float], other: Mapping[str, float]) -> float:
        """How much likelier two faults are together than two that have nothing in common.

        Parameters
        ----------
        one, other : mapping of str to float [-]
            Their rows' factors.

        Returns
        -------
        float, shape () [-]
            1 where one of them has no factor, or where nothing that they share is unknown; the same either way round.
        """
        first, second = self.relative([one, other]).T
        return float(self.chance @ (first * second))


def common_cause(history: History) -> CommonCause:
    """What is still open of how a vehicle was kept and used.

    Parameters
    ----------
    history : History
        Its kilometres, years, oil and work; what it does not say is summed over.

    Returns
    -------
    CommonCause

    Notes
    -----
    Bayes' rule over 3 ways to be kept and 16 of age, distance, oil and work: what is known strikes out the ways that
    contradict it, and moves how the vehicle was kept.
    """
    known = _said(history)
    chance, power = [], []
    for kept, own in enumerate(_KEPT):
        for there in itertools.product((0, 1), repeat=len(_LETTERS)):
            weight = own
            for letter, holds in zip(_LETTERS, there, strict=True):
                if (said := known.get(letter)) is not None and said != bool(holds):
                    weight = 0.0
                weight *= _CHANCE[letter][kept] if holds else 1.0 - _CHANCE[letter][kept]
            chance.append(weight)
            power.append([_POWER[kept] * holds for holds in there])
    found = np.array(chance)
    return CommonCause(found / found.sum(), np.array(power))


def pair_weights(
    priors: Array, factors: Sequence[Mapping[str, float]], history: History, *, total: float = 150.0
) -> Array:
    """Prior weights of all pairs of faults.

    Parameters
    ----------
    priors : ndarray, shape (n,) [1/1000]
        Of the single faults, moved by the history.
    factors : sequence of mapping of str to float [-], length n
        Of their rows.
    history : History
    total : float [1/1000]
        What all pairs weigh together.

    Returns
    -------
    ndarray, shape (n, n) [1/1000]
        Symmetric, 0 on the diagonal; above the diagonal it sums to ``total``, or to 0 where no two faults have a prior.
        Of faults that share nothing the products of their priors, in one proportion.
    """
    weights = np.asarray(priors, dtype=np.float64)
    cause = common_cause(history)
    relative = cause.relative(factors) * weights
    pairs = relative.T @ (cause.chance[:, None] * relative)
    np.fill_diagonal(pairs, 0.0)
    whole = 0.5 * pairs.sum()
    return np.asarray(pairs * (total / whole)) if whole > 0.0 else np.zeros_like(pairs)


def _said(history: History) -> dict[str, bool]:
    """What the history says of each letter; one it says nothing of is left out."""
    found: dict[str, bool] = {}
    for letter, key, limit in (("k", "km", _FAR_KM), ("a", "years", _OLD_YEARS)):
        try:
            found[letter] = float(history.known[key]) > limit
        except (KeyError, ValueError):
            continue
    if "oil" in history.known:
        found["o"] = history.known["oil"] == "neglected"
    if history.work_is_known and not history.before:
        found["w"] = False  # who works may have been careful or not: only that nobody did is known
    return found
