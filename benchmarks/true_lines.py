"""A component's evidence with ``predict`` itself asked along its sizes, instead of the layout that the program keeps.

The law of the readings is the program's own; what differs is where predictions come from: some thousands of states
predicted along one size (or a net of them across two), none of them left out for being small, and straight lines
between them. How far half as many would be off says whether there are enough.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from types import SimpleNamespace
from typing import cast
from unittest.mock import patch

import numpy as np

from benchmarks.common_drive import Array
from witnessmark.catalogue.faults import FaultInstance, Kind
from witnessmark.infer import foretold as layouts
from witnessmark.infer import refinement
from witnessmark.infer.components import Component, Rows
from witnessmark.infer.foretold import Asked, Column, Foretold
from witnessmark.infer.layout import Layout
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.world import World

__all__ = ["box_of", "even_rule", "furthest", "one_fault", "thinned", "true_world"]

_ROWS = 20_000  # evaluated at a time
_CHANCE = 0.05  # of a chance: counts as a spread
_BOX = 40.0  # nats below the best point: what is further off adds nothing


class _Nothing:
    """In place of what is kept between runs."""

    def get(self, queries: Sequence[Asked]) -> Mapping[Asked, Column]:
        return {}

    def put(self, made: Mapping[Asked, object]) -> None:
        pass


@contextmanager
def _close(nodes: int, side: int) -> Iterator[None]:
    """Predictions laid out at so many even nodes, none left out for being small."""
    with (
        patch.object(layouts, "_ONE", nodes),
        patch.object(layouts, "_TWO", side),
        patch.object(layouts, "_NOTHING", 0.0),
        patch.object(refinement, "_PARTS", (1, 1)),
    ):
        yield


def one_fault(component: Component) -> Component:
    """The same with all its edits as one way of one fault: two faults at once are then predicted together, not added.

    Parameters
    ----------
    component : Component
    """
    axes = tuple(axis for kind in component.kinds for axis in kind.axes)
    terms, before = [], 0
    for kind in component.kinds:
        terms += [term if term.axis is None else replace(term, axis=term.axis + before) for term in kind.terms]
        before += len(kind.axes)
    kind = Kind(1.0, tuple(terms), axes)
    instance = replace(component.instances[0], kinds=(kind,))
    return replace(component, instances=(instance,), kinds=(kind,))


def true_world(world: World, component: Component, nodes: int, side: int) -> World:
    """The same engine, findings and law, with one component predicted closely.

    Parameters
    ----------
    world : World
    component : Component
        Of one way (:func:`one_fault`).
    nodes, side : int
        States predicted along one size, and along each of two.
    """
    only: tuple[FaultInstance, ...] = component.instances
    like = SimpleNamespace(instances=only, _columns={}, _kept=_Nothing())
    with _close(nodes, side):
        own = Foretold(world.model, cast(Foretold, like))
        queries = world._lookup.queries
        lookup = Lookup(own, queries)
    found = copy.copy(world)
    found.foretold, found._lookup = own, lookup
    return found


def thinned(world: World, every: int) -> World:
    """Of a closely predicted world, only every so manyth node along each size.

    Parameters
    ----------
    world : World
    every : int
        Divides one less than the nodes along each size.
    """
    table = world._lookup.table
    kept, sizes = [], []
    for begin, (n, m) in zip(table.first, table.nodes, strict=True):
        grid = np.arange(begin, begin + n * m).reshape(n, m)[::every, ::every]
        kept.append(grid.ravel())
        sizes.append(grid.shape)
    fewer = Layout.even(table.values[np.concatenate(kept)], np.array(sizes, dtype=np.intp))
    found = copy.copy(world)
    found._lookup = copy.copy(world._lookup)
    found._lookup.table = fewer
    return found


def furthest(
    laid_out: World, component: Component, close: World, alike: Component, used: Sequence[int]
) -> tuple[str, float]:
    """The reading that is furthest off at the size that fits best: its quantity, and by how many spreads.

    Parameters
    ----------
    laid_out, close : World
    component, alike : Component
        The same in either.
    used : sequence of int
    """
    lines = [np.linspace(0.0, 1.0, 2_001 if len(used) == 1 else 101)] * len(used)
    grid = np.stack([part.ravel() for part in np.meshgrid(*lines, indexing="ij")], axis=1)
    share = np.full((1, len(component.axes)), 0.5)
    share[0, list(used)] = grid[int(np.argmax(logs_at(close, alike, used, grid)))]
    one = np.zeros(1, dtype=np.intp)
    ours, true = (world.each([Rows(c, share, one)]) for world, c in ((laid_out, component), (close, alike)))
    own = np.sqrt(np.diag(close.evidence.covariance()))
    off = np.abs(
        np.concatenate([(ours[0] - true[0])[0] / own, (ours[1] - true[1])[0] / 0.05, (ours[2] - true[2])[0] / 0.05])
    )
    names = [q.quantity for q in close.queries]
    names += [str(q.place.get("code")) for q in close.code_queries] + [q.quantity for q in close.chance_queries]
    if not names:
        return "", 0.0
    at = int(np.argmax(np.nan_to_num(off, nan=1e3)))
    return names[at], float(np.nan_to_num(off, nan=1e3)[at])


def logs_at(world: World, component: Component, used: Sequence[int], points: Array) -> Array:
    """Log probability of all findings at shares of some sizes, the others in their middle [nat].

    Parameters
    ----------
    world : World
    component : Component
        With one choice.
    used : sequence of int, length k
    points : ndarray, shape (n, k)
    """
    found = []
    for start in range(0, len(points), _ROWS):
        part = points[start : start + _ROWS]
        share = np.full((len(part), len(component.axes)), 0.5)
        share[:, list(used)] = part
        found.append(world.evaluate([Rows(component, share, np.zeros(len(part), dtype=np.intp))])[0])
    return np.concatenate(found)


def box_of(world: World, component: Component, used: Sequence[int], coarse: int) -> tuple[Array, Array]:
    """The box that holds all points within reach of the best, found by zooming in: its ends, each shape (k,)."""
    low, high = np.zeros(len(used)), np.ones(len(used))
    for _ in range(3):
        lines = [np.linspace(a, b, coarse) for a, b in zip(low, high, strict=True)]
        grid = np.stack([part.ravel() for part in np.meshgrid(*lines, indexing="ij")], axis=1)
        logs = logs_at(world, component, used, grid)
        near = grid[logs > logs.max() - _BOX]
        step = (high - low) / (coarse - 1)
        low, high = np.maximum(near.min(axis=0) - step, 0.0), np.minimum(near.max(axis=0) + step, 1.0)
    return low, high


def even_rule(world: World, component: Component, used: Sequence[int], count: int) -> float:
    """Log evidence by the trapezium's rule on so many even nodes along each size, within the box that counts [nat].

    Parameters
    ----------
    world : World
    component : Component
        With one choice.
    used : sequence of int
        Its sizes that are integrated; none: one point.
    count : int
    """
    if not used:
        return float(logs_at(world, component, used, np.zeros((1, 0)))[0])
    low, high = (
        (np.zeros(1), np.ones(1)) if len(used) == 1 else box_of(world, component, used, 121 if len(used) == 2 else 31)
    )
    lines = [np.linspace(a, b, count) for a, b in zip(low, high, strict=True)]
    weights = []
    for a, b in zip(low, high, strict=True):
        weight = np.full(count, (b - a) / (count - 1))
        weight[[0, -1]] *= 0.5
        weights.append(np.log(weight))
    if len(used) == 1:
        return float(log_sum(logs_at(world, component, used, lines[0][:, None]) + weights[0]))
    rest = np.stack([part.ravel() for part in np.meshgrid(*lines[1:], indexing="ij")], axis=1)
    beside = sum(np.meshgrid(*weights[1:], indexing="ij"), np.zeros(1)).ravel()
    block = max(1, _ROWS // len(rest))
    total = []
    for start in range(0, count, block):
        mine = lines[0][start : start + block]
        points = np.concatenate([np.repeat(mine, len(rest))[:, None], np.tile(rest, (len(mine), 1))], axis=1)
        logs = logs_at(world, component, used, points).reshape(len(mine), len(rest))
        total.append(float(log_sum((logs + weights[0][start : start + block, None] + beside).ravel())))
    return float(log_sum(np.array(total)))
