"""How strongly each edit of the state moves each reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State, healthy_of, state_variables
from witnessmark.errors import InputError
from witnessmark.predict.model import DriveModel, Numbers
from witnessmark.predict.run import expect
from witnessmark.vocabulary import Query

__all__ = ["Slopes", "slopes"]

Array = NDArray[np.float64]

_OPEN = 1e9  # the bound that stands for none
_OF_SPREAD, _OF_RANGE, _OF_VALUE = 0.05, 1e-3, 1e-3


@dataclass(frozen=True, slots=True)
class Slopes:
    """Derivatives of readings with respect to edits.

    Parameters
    ----------
    value : ndarray, shape (e, q)
        In the reading's unit over the variable's; NaN where one state beside has no such reading.
    error : ndarray, shape (e, q)
        What halving the step changed: large where the reading has a kink or a step there.
    """

    value: Array
    error: Array


def slopes(
    model: DriveModel,
    queries: Sequence[Query],
    state: State,
    edits: Sequence[tuple[str, str]],
    numbers: Numbers | None = None,
) -> Slopes:
    """Derivatives of readings with respect to state variables.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q
        Each predictable here.
    state : State
        One state.
    edits : sequence of (variable, place), length e
    numbers : mapping, optional
        Assumed, each shape ().

    Returns
    -------
    Slopes

    Raises
    ------
    InputError
        For several states side by side, or a variable outside the state vector.

    Notes
    -----
    Differences to second order with steps h and h/2, from both sides, or from within where the value stands at a
    bound; the better one is Richardson's (4 D(h/2) - D(h)) / 3. h is a twentieth of the healthy spread, or a
    thousandth of the range.
    """
    if state.rows != 1:
        raise InputError(f"{state.rows} states side by side", expected="one state")
    at = [float(np.ravel(state.get(*edit))[0]) for edit in edits]
    steps = [_step(variable, place, value) for (variable, place), value in zip(edits, at, strict=True)]
    offsets = np.array([_offsets(edit[0], value, h) for edit, value, h in zip(edits, at, steps, strict=True)])
    offsets = offsets.reshape(len(edits), 4)
    mean = _moved(model, queries, state, edits, at, offsets, numbers or {})
    base, around = mean[0], mean[1:].reshape(len(edits), 4, len(queries))
    h = np.array(steps)[:, None]
    centred = offsets[:, :1] < 0.0 if len(edits) else np.zeros((0, 1), dtype=bool)
    wide = np.where(centred, around[:, 1] - around[:, 0], -3.0 * base + 4.0 * around[:, 1] - around[:, 3]) / (2.0 * h)
    narrow = np.where(centred, around[:, 3] - around[:, 2], -3.0 * base + 4.0 * around[:, 2] - around[:, 1]) / h
    sign = np.where(np.sum(offsets, axis=1, keepdims=True) < -1e-12, -1.0, 1.0)
    return Slopes(sign * (4.0 * narrow - wide) / 3.0, np.abs(narrow - wide))


def _step(variable: str, place: str, value: float) -> float:
    row = state_variables().get(variable)
    if row is None:
        raise InputError(f"No state variable {variable}", given=variable)
    spread = healthy_of(variable, place)[1]
    if spread > 0.0:
        return _OF_SPREAD * spread
    reach = row.high - row.low
    return _OF_RANGE * reach if reach < _OPEN else _OF_VALUE * max(1.0, abs(value))


def _offsets(variable: str, value: float, h: float) -> tuple[float, float, float, float]:
    """Where to look: -h, h, -h/2, h/2; at a bound -0, h, h/2, 2h to the inner side."""
    row = state_variables()[variable]
    if value - h >= row.low and value + h <= row.high:
        return (-h, h, -0.5 * h, 0.5 * h)
    inner = 1.0 if value - h < row.low else -1.0
    return (0.0, inner * h, 0.5 * inner * h, 2.0 * inner * h)


def _moved(
    model: DriveModel,
    queries: Sequence[Query],
    state: State,
    edits: Sequence[tuple[str, str]],
    at: Sequence[float],
    offsets: Array,
    numbers: Numbers,
) -> Array:
    rows = 1 + offsets.size
    changed = dict(state.edits)
    for k, (edit, value) in enumerate(zip(edits, at, strict=True)):
        column = np.full(rows, value)
        column[1 + 4 * k : 5 + 4 * k] += offsets[k]
        changed[edit] = column
    return expect(model, queries, State(changed), numbers, rows=rows).mean
