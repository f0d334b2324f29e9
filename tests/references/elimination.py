"""Any discrete network by variable elimination: the oracle that the product's own sums are held against.

A network is a list of tables, each a tuple of variables and an array with one axis for each of them. Nothing of the
product is used here. Zhang and Poole (1994); the order is by the smallest next table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Table = tuple[tuple[str, ...], Array]


def product(tables: Sequence[Table]) -> Table:
    """One table over all variables of some."""
    names = tuple(dict.fromkeys(name for variables, _ in tables for name in variables))
    axis = {name: k for k, name in enumerate(names)}
    operands: list[object] = []
    for variables, values in tables:
        operands += [values, [axis[name] for name in variables]]
    return names, np.einsum(*operands, list(range(len(names))))  # type: ignore[call-overload]


def without(table: Table, name: str) -> Table:
    """A variable summed out."""
    variables, values = table
    k = variables.index(name)
    return variables[:k] + variables[k + 1 :], values.sum(axis=k)


def observed(table: Table, evidence: Mapping[str, int]) -> Table:
    """The table where some variables are seen."""
    variables, values = table
    index = tuple(evidence[name] if name in evidence else slice(None) for name in variables)
    return tuple(name for name in variables if name not in evidence), values[index]


def joint(tables: Sequence[Table], wanted: Sequence[str], evidence: Mapping[str, int]) -> Array:
    """P(wanted, evidence), axes in the order wanted; its sum is the probability of the evidence."""
    left = [observed(table, evidence) for table in tables]
    todo = {name for variables, _ in left for name in variables} - set(wanted)
    while todo:
        name = min(sorted(todo), key=lambda one: _size_after(left, one))
        mine = [table for table in left if name in table[0]]
        left = [table for table in left if name not in table[0]] + [without(product(mine), name)]
        todo.remove(name)
    names, values = product(left)
    return np.transpose(values, [names.index(name) for name in wanted])


def _size_after(tables: Sequence[Table], name: str) -> int:
    """Cells of the table that summing a variable out would make."""
    sizes: dict[str, int] = {}
    for variables, values in tables:
        if name in variables:
            sizes |= dict(zip(variables, values.shape, strict=True))
    return int(np.prod([size for one, size in sizes.items() if one != name]))
