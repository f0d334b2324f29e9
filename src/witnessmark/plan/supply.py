"""Battery and supply first: what later readings rest on, and what holds the supply up while they are taken.

Below some eight volts computers drop out and set codes about everything, and an engine cranks slowly whatever its
cylinders do. Where the battery is in doubt, readings taken at key-on by a computer, or while the starter turns, are
taken with a charger or a second, sound battery at the terminals, which is paid once; and then they say nothing of the
battery. What reads the battery itself needs no such thing. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY
from witnessmark.infer.components import assemble
from witnessmark.infer.points import Particles
from witnessmark.vocabulary import Query

__all__ = ["HELD", "HOLDING_MINUTES", "HOLDING_WORDS", "is_in_doubt", "rests_on", "taken", "weak_points"]

Flags = NDArray[np.bool_]

HELD = "supply held"
"""Name of what is paid once, as a cover is."""
HOLDING_MINUTES = 10.0
"""Putting a charger or a second battery to the terminals, and taking it off; our guess."""
HOLDING_WORDS = "a charger or a second, sound battery at the terminals: the vehicle’s own is in doubt"

_IN_DOUBT = 0.2  # share of the belief in a weak battery, from which on readings that rest on it wait; our guess
_BATTERY = {"battery_resistance", "battery_charge"}
_OF_ITSELF = {
    *("battery_ohm", "cranking_volts", "starter_current", "charging_volts", "ripple", "drain_measured"),
    *("branch_drop", "cranks", "starts"),
}
"""Readings of battery and supply themselves: held up they would be no such reading."""


def weak_points(cloud: Particles) -> Flags:
    """Points at which the battery is not as it should be.

    Parameters
    ----------
    cloud : Particles

    Returns
    -------
    ndarray of bool, shape (points,)
    """
    found = np.zeros(len(cloud.weight), dtype=bool)
    for part in cloud.parts:
        state = assemble(part.rows)[0]
        for (variable, place), value in state.edits.items():
            if variable in _BATTERY:
                found[part.start : part.stop] |= np.asarray(value) != HEALTHY.get(variable, place)
    return found


def is_in_doubt(cloud: Particles) -> bool:
    """Whether enough of the belief is in a weak battery.

    Parameters
    ----------
    cloud : Particles

    Returns
    -------
    bool
    """
    return bool(cloud.weight[weak_points(cloud)].sum() / cloud.weight.sum() >= _IN_DOUBT)


def taken(queries: Iterable[Query]) -> tuple[Query, ...]:
    """What a test reads while the battery is in doubt.

    Parameters
    ----------
    queries : iterable of Query
        All that it could read.

    Returns
    -------
    tuple of Query
        A test that reads the battery itself is taken as the vehicle stands, and then reads nothing that rests on it.
    """
    every = tuple(queries)
    own = [query for query in every if query.quantity in _OF_ITSELF]
    return tuple(query for query in every if not _rests(query)) if own else every


def rests_on(queries: Iterable[Query]) -> Flags:
    """Readings that are only as good as the battery.

    Parameters
    ----------
    queries : iterable of Query, length q

    Returns
    -------
    ndarray of bool, shape (q,)
    """
    return np.array([_rests(query) for query in queries], dtype=bool)


def _rests(query: Query) -> bool:
    if query.quantity in _OF_ITSELF:
        return False
    state = query.condition.state
    return state == "cranking" or (state == "key_on" and query.kind.instrument == "computer")
