"""The likeliest hypotheses, and all others as one; the likeliest repairs, and no others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.tables import Tables

__all__ = ["thin"]

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


def thin(tables: Tables, keep: int, *, repairs: int = 60) -> tuple[Tables, float]:
    """A problem with fewer hypotheses: the tail taken as one that behaves as its members do in the mean.

    Parameters
    ----------
    tables : Tables
    keep : int
        Hypotheses left, the last of them standing for the tail; at least 2.
    repairs : int
        Repairs left where hypotheses were taken together: those that cure most for their price.

    Returns
    -------
    tuple of Tables and float
        The problem, and the chance of those taken together (0 if nothing was).
    """
    if len(tables.chance) <= keep:
        return tables, 0.0
    order = np.argsort(-tables.chance, kind="stable")
    kept, tail = np.sort(order[: keep - 1]), order[keep - 1 :]
    weight = tables.chance[tail]
    mass = float(weight.sum())
    weight = weight / mass if mass > 0.0 else np.full(len(tail), 1.0 / len(tail))

    def merged(values: Array) -> Array:
        return np.concatenate([values[..., kept], (values[..., tail] @ weight)[..., None]], axis=-1)

    smaller = replace(
        tables,
        chance=np.append(tables.chance[kept], mass),
        branch=merged(tables.branch),
        cures=merged(tables.cures),
        escalation=merged(tables.escalation),
    )
    return _likeliest(smaller, repairs), mass


def _likeliest(tables: Tables, repairs: int) -> Tables:
    if len(tables.repairs) <= repairs:
        return tables
    worth = (tables.cures @ tables.chance / tables.price)[tables.repairs]
    dropped = tables.repairs[np.argsort(-worth, kind="stable")[repairs:]]
    actions = np.setdiff1d(np.arange(len(tables.names)), dropped)
    counts = np.bincount(tables.owner)[actions]
    number = np.full(len(tables.names), -1)
    number[actions] = np.arange(len(actions))
    return replace(
        tables,
        names=tuple(tables.names[k] for k in actions),
        branch=tables.branch[number[tables.owner] >= 0],
        owner=np.repeat(np.arange(len(actions)), counts),
        first=(np.cumsum(counts) - counts).astype(np.intp),
        cures=tables.cures[actions],
        repairs=np.sort(number[np.setdiff1d(tables.repairs, dropped)]),
        price=tables.price[actions],
        need=tables.need[actions],
        use=tables.use[actions],
    )
