"""(engine, state, what is asked) → what it should read, for many states at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.intervention import while_done
from witnessmark.engine.state import State
from witnessmark.predict.batch import Batch
from witnessmark.predict.differing import in_common
from witnessmark.predict.drive import misplaced
from witnessmark.predict.model import DriveModel, Numbers
from witnessmark.predict.rule import Nuisance, Tolerance
from witnessmark.predict.rules import rule_of
from witnessmark.predict.unpredicted import UNPREDICTED
from witnessmark.vocabulary import Query

__all__ = ["Expectation", "expect", "nuisances", "read", "tolerance_of", "why_not"]

_UNKNOWN = "nothing in this version predicts it"


@dataclass(frozen=True, slots=True)
class Expectation:
    """What is expected of several quantities, for n states.

    Parameters
    ----------
    mean : ndarray, shape (n, q)
        In the quantities' units; NaN where no such reading would exist. Of a yes/no
        quantity the chance of yes.
    tolerance : ndarray, shape (n, q)
        Standard deviation of the *nominal* beyond what the state vector's healthy spread and the
        description's open numbers carry: how well the described number fits a sound engine of the kind.
    """

    mean: NDArray[np.float64]
    tolerance: NDArray[np.float64]


def why_not(model: DriveModel, query: Query) -> str | None:
    """Why a quantity cannot be predicted here, or None where it can.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    str or None
    """
    rule = rule_of(query.quantity)
    if rule is None:
        return UNPREDICTED.get(query.quantity, _UNKNOWN)
    if (error := misplaced(model, query)) is not None:
        return error.message
    return rule.refuses(model, query)


def expect(
    model: DriveModel, queries: Sequence[Query], state: State, numbers: Numbers | None = None, *, rows: int = 1
) -> Expectation:
    """What every query should read under every state.

    A condition's intervention (``during=``) edits the state for the queries that name it: what is read before,
    during and after, and every difference, comes from one call.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q
        Each must be predictable here (:func:`why_not` gives None).
    state : State
        n states side by side.
    numbers : mapping, optional
        Description numbers assumed for this batch: "step:primary", "sign" …
    rows : int
        n.

    Returns
    -------
    Expectation

    Raises
    ------
    InputError
        For a place this engine does not have.
    """
    mean = read(Batch(model, state, numbers or {}, rows), queries)
    known = [tolerance_of(model, query) for query in queries]
    absolute, share = np.array([one.absolute for one in known]), np.array([one.share for one in known])
    return Expectation(mean, np.hypot(absolute, share * np.abs(np.nan_to_num(mean))))


def read(batch: Batch, queries: Sequence[Query]) -> NDArray[np.float64]:
    """What every query should read under every state of a batch; what several share is worked out once for the batch.

    Parameters
    ----------
    batch : Batch
        n states of the engine as it stands, without any intervention.
    queries : sequence of Query, length q
        As for :func:`expect`.

    Returns
    -------
    ndarray, shape (n, q)
        In the quantities' units.
    """
    mean = np.empty((batch.rows, len(queries)))
    for j, query, own in _batches(batch, queries):
        rule = rule_of(query.quantity)
        assert rule is not None
        mean[:, j] = rule.read(own, query)
    return mean


def _batches(untouched: Batch, queries: Sequence[Query]) -> Iterator[tuple[int, Query, Batch]]:
    """Every query with the batch it belongs to: one for the engine as it is, one for each intervention."""
    model, state = untouched.model, untouched.state
    for j, query in enumerate(queries):
        during = query.condition.during
        changed = while_done(model.engine, state, during, query.place)
        if changed is state:
            yield j, query, untouched
        else:
            # Where it says itself what it is done to, whatever is read shares one changed engine.
            key = (during, None if during and ":" in during else query.place)
            yield j, query, untouched.once(key, partial(Batch, model, changed, untouched.numbers, untouched.rows))


def tolerance_of(model: DriveModel, query: Query) -> Tolerance:
    """How well the nominal of a quantity is known, beyond what sound engines differ in.

    Parameters
    ----------
    model : DriveModel
    query : Query
        Predictable here.

    Returns
    -------
    Tolerance
    """
    rule = rule_of(query.quantity)
    return Tolerance() if rule is None else rule.tolerance_of(model, query)


def nuisances(model: DriveModel, queries: Sequence[Query]) -> tuple[Nuisance, ...]:
    """Everything healthy engines of this kind differ in that may move these quantities.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query

    Returns
    -------
    tuple of Nuisance
        State variables first, then open numbers; each once. What like parts have in common is one by itself
        (:func:`witnessmark.predict.differing.in_common`).
    """
    found: dict[tuple[str, str], Nuisance] = {}
    for query in queries:
        rule = rule_of(query.quantity)
        for nuisance in rule.nuisances(model, query) if rule is not None else ():
            found.setdefault((nuisance.variable, nuisance.place), nuisance)
    return tuple(sorted(in_common(model, list(found.values())), key=lambda nuisance: nuisance.is_number))
