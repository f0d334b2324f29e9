"""Sound engines that differ: what parts have in common, what each has of its own, and the states that this makes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State, healthy_of, state_variables
from witnessmark.engine.stateplaces import state_places
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance

__all__ = ["in_common", "one_upward", "sound_states"]

_Array = NDArray[np.float64]

# Share of the variance that all parts of a kind in one engine have in common, and the kind of place: rings and plugs
# have run the same distance on the same oil and fuel. That sound cylinders hardly differ though engines do is common
# practice (the lowest compression at least three quarters of the highest), no source; the shares are our guess.
_ALIKE: Mapping[str, tuple[float, str]] = {
    "ring_leak": (0.7, "cylinder"),
    "oil_ingress": (0.6, "cylinder"),
    "spark_gap": (0.8, "plug"),
}


def in_common(model: DriveModel, found: Sequence[Nuisance]) -> tuple[Nuisance, ...]:
    """Differences of like parts split into what each has of its own and what all of them share.

    Parameters
    ----------
    model : DriveModel
    found : sequence of Nuisance

    Returns
    -------
    tuple of Nuisance
        As given, with a smaller spread where parts are alike; then one for all parts of each such kind.
    """
    own, shared = [], dict[str, Nuisance]()
    for one in found:
        share, kind = _ALIKE.get(one.variable, (0.0, ""))
        if share == 0.0 or one.is_number:
            own.append(one)
            continue
        own.append(replace(one, sd=one.sd * (1.0 - share) ** 0.5))
        every = state_places(model.engine, kind)
        sd = healthy_of(one.variable, one.place)[1] * share**0.5
        shared.setdefault(one.variable, Nuisance(one.variable, f"every {kind}", 0.0, sd, every))
    return (*own, *shared.values())


def sound_states(moved: Sequence[Nuisance], values: _Array) -> tuple[State, dict[str, _Array]]:
    """Sound engines that differ by so much.

    Parameters
    ----------
    moved : sequence of Nuisance, length m
    values : ndarray, shape (n, m)
        Of each difference, in its unit.

    Returns
    -------
    State
        n side by side, no variable beyond what it can be.
    dict of str to ndarray, shape (n,)
        Numbers of description and condition.
    """
    known = state_variables()
    edits: dict[tuple[str, str], _Array] = {}
    numbers: dict[str, _Array] = {}
    for one, column in zip(moved, np.asarray(values, dtype=np.float64).T, strict=True):
        if one.is_number:
            numbers[one.variable] = column
            continue
        for place in one.places:
            before = edits.get((one.variable, place))
            usual = float(HEALTHY.get(one.variable, place)) if before is None else before
            edits[one.variable, place] = usual + (column - one.mean)
    for key, column in edits.items():
        edits[key] = np.clip(column, known[key[0]].low, known[key[0]].high)
    return State(dict(edits)), numbers


def one_upward(moved: Sequence[Nuisance], rows: int = 0) -> _Array:
    """The usual engine, then one for each difference, off by one spread of it; what is left are usual ones.

    Parameters
    ----------
    moved : sequence of Nuisance, length m
    rows : int
        At least 1 + m, which it is if left out.

    Returns
    -------
    ndarray, shape (rows, m)
        For :func:`sound_states`.
    """
    values = np.tile([one.mean for one in moved], (rows or 1 + len(moved), 1))
    for k, one in enumerate(moved):
        values[1 + k, k] += one.sd
    return values
