"""Asking another rule for a quantity of the same batch: what one predictor needs of another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict.batch import Batch
from witnessmark.predict.drive import misplaced
from witnessmark.predict.rules import rule_of
from witnessmark.vocabulary import Query

__all__ = ["answer", "sound_batch", "with_state"]


def answer(batch: Batch, query: Query) -> NDArray[np.float64] | None:
    """What a query should read for every state of a batch, worked out once.

    Parameters
    ----------
    batch : Batch
    query : Query

    Returns
    -------
    ndarray, shape (n,), or None
        None where nothing predicts it on this engine.
    """
    return batch.once(("answer", query), lambda: _read(batch, query))


def _read(batch: Batch, query: Query) -> NDArray[np.float64] | None:
    rule = rule_of(query.quantity)
    if rule is None or misplaced(batch.model, query) is not None or rule.refuses(batch.model, query) is not None:
        return None
    return np.broadcast_to(np.asarray(rule.read(batch, query), dtype=np.float64), (batch.rows,))


def with_state(batch: Batch, key: str, state: State) -> Batch:
    """The same batch with another state, kept with it.

    Parameters
    ----------
    batch : Batch
    key : str
        What the other state is.
    state : State

    Returns
    -------
    Batch
    """
    return batch.once(("with state", key), lambda: Batch(batch.model, state, batch.numbers, batch.rows))


def sound_batch(batch: Batch) -> Batch:
    """The same engines without anything wrong: what a reading is held against.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    Batch
        Of the same numbers.
    """
    return with_state(batch, "sound", HEALTHY)
