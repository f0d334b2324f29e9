"""What a case costs if no further test is made: repairs in order of chance per price, then escalation.

A repair's ratio is what it would cure over what it costs as things stand. Repairs behind one cover are also taken
together, as a cluster whose cover is paid once: the ratio of the best of its first few counts for its first. What one
repair would cure is gone for the next, so two that cure the same cause are not counted twice. Wherever it is cheaper
to hand the case on, that is done.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.tables import Situations, Tables, tables_of

__all__ = ["clusters", "order_price", "repair_price"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
# What is left of the chance of coming here, below which a situation is handed on: it moves no price that is shown.
_NOTHING_LEFT = 1e-6


def repair_price(tables: Tables, at: Situations, *, steps: int | None = None) -> Array:
    """Expected price of repairing without another test, times the chance of coming here.

    Parameters
    ----------
    tables : Tables
    at : Situations
    steps : int, optional
        Repairs at most, before the case is handed on; all where left out.

    Returns
    -------
    ndarray, shape (n,) [-]
        A price that can be had: no situation costs more under the best plan.

    Notes
    -----
    Order by p/c: Heckerman, Breese, Rommelse, CACM 38(3), 1995. One cover shared by a cluster of actions: the best
    ratio of a cluster's beginning, which follows from the same exchange argument.
    """
    mass = at.mass.copy()
    done, off = at.done.copy(), at.off.copy()
    handed_on = [mass @ tables.escalation]
    paid: list[Array] = []
    many = len(tables.repairs) if steps is None else min(steps, len(tables.repairs))
    rows = np.arange(len(at))
    grouped = clusters(tables)
    floor = _NOTHING_LEFT * mass.sum(axis=1)
    for _ in range(many):
        gain, cost = _gains(tables, mass, done, off)
        pick = np.argmax(_ratios(gain, cost, tables, grouped), axis=1)
        useful = gain[rows, pick] > floor
        if not useful.any():
            break
        action = tables.repairs[pick]
        paid.append(np.where(useful, mass.sum(axis=1) * cost[rows, pick], np.inf))
        mass *= 1.0 - tables.cures[action]
        done[rows, action] = True
        off |= tables.need[action]
        handed_on.append(mass @ tables.escalation)
    price = handed_on[-1]
    for spent, stop in zip(reversed(paid), reversed(handed_on[:-1]), strict=True):
        price = np.minimum(stop, spent + price)
    return np.asarray(price)


def _gains(tables: Tables, mass: Array, done: Flags, off: Flags) -> tuple[Array, Array]:
    """What each repair would cure, and its price, shapes (n, repairs)."""
    which = tables.repairs
    gain = mass @ tables.cures[which].T
    allowed = tables.may(done, off) if tables.is_limited else ~done
    return np.where(allowed[:, which], gain, 0.0), tables.cost(off)[:, which]


def clusters(tables: Tables) -> tuple[Indices, ...]:
    """Repairs that need the very same covers, as indices into ``tables.repairs``; only where there are two or more.

    Parameters
    ----------
    tables : Tables

    Returns
    -------
    tuple of ndarray of int
    """
    found: dict[bytes, list[int]] = {}
    for k, action in enumerate(tables.repairs):
        if tables.need[action].any():
            found.setdefault(tables.need[action].tobytes(), []).append(k)
    return tuple(np.array(group) for group in found.values() if len(group) > 1)


def _ratios(gain: Array, cost: Array, tables: Tables, grouped: tuple[Indices, ...]) -> Array:
    ratio = gain / cost
    price = tables.price[tables.repairs]
    rows = np.arange(len(gain))
    for group in grouped:
        own = gain[:, group] / price[group]
        order = group[np.argsort(-own, axis=1)]
        cover = cost[:, group[0]] - price[group[0]]
        together = np.cumsum(gain[rows[:, None], order], axis=1) / (cover[:, None] + np.cumsum(price[order], axis=1))
        best = order[:, 0]
        ratio[rows, best] = np.maximum(ratio[rows, best], together.max(axis=1))
    return np.asarray(ratio)


def order_price(problem: DecisionProblem, order: tuple[str, ...]) -> float:
    """Expected price of doing repairs in a given order, each only if the complaint is still there, then escalation.

    Parameters
    ----------
    problem : DecisionProblem
    order : tuple of str
        Names of repairs.

    Returns
    -------
    float, shape () [-]

    Raises
    ------
    InputError
        If an action has no such name.
    """
    tables = tables_of(problem)
    mass, off, price = problem.chance.copy(), tables.off.copy(), 0.0
    for name in order:
        index = tables.names.index(problem.action(name).name)
        price += float(mass.sum() * tables.cost(off[None, :])[0, index])
        mass = mass * (1.0 - tables.cures[index])
        off |= tables.need[index]
    return price + float(mass @ problem.escalation)
