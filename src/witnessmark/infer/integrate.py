"""Severities integrated out: nodes laid about the mode, never on a fixed grid alone.

Everything happens in the prior's own share u of each axis (0..1, even odds), so the prior is 1.
One axis: a coarse scan finds the modes, then nodes over ±6 spreads about each within the range, then more in the gaps
that the integral hangs on most (a limit that codes or signals set makes steps); only the scan where its points already
give the integral, or where it can hold next to nothing. Two axes: :mod:`witnessmark.infer.sheets`. The rule is that of
:mod:`witnessmark.infer.quadrature` on the union of all nodes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.components import NO_CHOICE, Component, Rows
from witnessmark.infer.distinct import alike
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.quadrature import inside, is_told, node_masses, worst_gaps
from witnessmark.infer.sheets import NEGLIGIBLE, rows_on, sheets
from witnessmark.infer.world import World

__all__ = ["Integrated", "as_sound", "effective_axes", "integrate"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]
_SCAN = np.linspace(0.0, 1.0, 17)
_WINDOW = 15  # nodes about a mode
_ROUNDS, _GAPS = 2, 4  # how often, and how many gaps are halved after that
_REACH = 6.0  # spreads on either side
_SECOND_PEAK = 12.0  # nats below the first: not worth refining
# An axis is integrated if from end to end it moves a prediction by this share of a spread, or the likelihood (codes)
# by this many nats, which is 0.04 decibans.
_MATTERS, _MATTERS_NATS = 1e-3, 1e-2
_CERTAIN: Array = np.zeros(1)


@dataclass(frozen=True, slots=True)
class Integrated:
    """The points of one component with their share of its evidence.

    Parameters
    ----------
    component : Component
    share : ndarray, shape (n, axes)
    choice : ndarray of int, shape (n,)
    log_weight : ndarray, shape (n,)
        Log of quadrature weight x choice odds x likelihood; sums (in the exponential) to the evidence.
    """

    component: Component
    share: Array
    choice: Picks
    log_weight: Array


def effective_axes(world: World, components: Sequence[Component]) -> list[tuple[int, ...]]:
    """Which severities of each component move anything that was found.

    Parameters
    ----------
    world : World
    components : sequence of Component

    Returns
    -------
    list of tuple of int
        At most two, the strongest first: further ones stay at the middle of their prior.
    """
    batch = [_corners(component) for component in components]
    if not batch:
        return []
    logs, means = world.evaluate(batch)
    scaled = means / np.sqrt(np.diag(world.evidence.covariance())) if world.queries else np.zeros((len(logs), 1))
    moved = np.max(np.abs(np.diff(scaled.reshape(-1, 2, scaled.shape[1]), axis=1)), axis=(1, 2))
    told = np.abs(np.diff(logs.reshape(-1, 2), axis=1))[:, 0] * (_MATTERS / _MATTERS_NATS)
    moved = np.maximum(np.nan_to_num(moved, nan=1.0), told)
    found, start = [], 0
    for component in components:
        n = len(component.axes)
        strong = [k for k in range(n) if moved[start + k] > _MATTERS]
        found.append(tuple(sorted(strong, key=lambda k: -moved[start + k])[:2]))
        start += max(1, n)
    return found


def _corners(component: Component) -> Rows:
    n = max(1, len(component.axes))
    share = np.full((2 * n, len(component.axes)), 0.5)
    for k in range(len(component.axes)):
        share[2 * k, k], share[2 * k + 1, k] = 0.0, 1.0
    # The middle one of the assumed numbers: at the first a command may hide what a size does.
    return Rows(component, share, np.full(2 * n, len(component.choices) // 2, dtype=np.intp))


def integrate(
    world: World,
    components: Sequence[Component],
    axes: Sequence[tuple[int, ...]] | None = None,
    *,
    best: float = -np.inf,
) -> list[Integrated]:
    """The evidence of every component, point by point.

    Parameters
    ----------
    world : World
    components : sequence of Component
    axes : sequence of tuple of int, optional
        Of :func:`effective_axes` for all components, where another world of the same drive has told them.
    best : float [nat]
        Log of prior x evidence of the best hypothesis known already: what is next to nothing beside it is told by a
        scan alone.

    Returns
    -------
    list of Integrated
        In the order of the components.
    """
    result: list[Integrated | None] = [None] * len(components)
    awake = []
    for k, component in enumerate(components):
        if world.all_asleep(component):
            result[k] = as_sound(world, component)
        else:
            awake.append(k)
    axes = effective_axes(world, components) if axes is None else axes
    components, axes = [components[k] for k in awake], [axes[k] for k in awake]
    for n, rule in ((0, _points), (1, _lines), (2, _sheets)):
        mine = [k for k, used in enumerate(axes) if len(used) == n]
        if mine:
            done = rule(world, [components[k] for k in mine], [axes[k] for k in mine], best)
            for k, integrated in zip(mine, done, strict=True):
                result[awake[k]] = integrated
                best = max(best, float(log_sum(integrated.log_weight)) + integrated.component.log_weight)
    return [integrated for integrated in result if integrated is not None]


def as_sound(world: World, component: Component) -> Integrated:
    """A fault that slept through every finding, or that none would show: whatever its size, all looks healthy.

    Parameters
    ----------
    world : World
    component : Component

    Returns
    -------
    Integrated
        One point for each choice.
    """
    n = len(component.choices)
    share, choice = _middles(n, len(component.axes))
    log_weight = _log_odds(component) + world.log_healthy
    return Integrated(component, share, choice, log_weight)


@cache
def _middles(choices: int, axes: int) -> tuple[Array, Picks]:
    """One point for each choice, at the middle of all axes; the same for all components of a shape."""
    share, choice = np.full((choices, axes), 0.5), np.arange(choices, dtype=np.intp)
    share.flags.writeable = choice.flags.writeable = False
    return share, choice


def _split(values: Array, batch: Sequence[Rows]) -> list[Array]:
    return np.split(values, np.cumsum([len(rows.choice) for rows in batch])[:-1])


def _log_odds(component: Component) -> Array:
    if component.choices is NO_CHOICE:
        return _CERTAIN
    return np.asarray(np.log([choice.weight for choice in component.choices]), dtype=np.float64)


def _points(
    world: World, components: Sequence[Component], axes: Sequence[tuple[int, ...]], best: float
) -> list[Integrated]:
    """Nothing to integrate: one point for each choice."""
    batch = []
    for component in components:
        n = len(component.choices)
        batch.append(Rows(component, np.full((n, len(component.axes)), 0.5), np.arange(n, dtype=np.intp)))
    logs = _split(world.evaluate(batch)[0], batch)
    return [
        Integrated(rows.component, rows.share, rows.choice, y + _log_odds(rows.component))
        for rows, y in zip(batch, logs, strict=True)
    ]


def _lines(
    world: World, components: Sequence[Component], axes: Sequence[tuple[int, ...]], best: float
) -> list[Integrated]:
    """One axis: a scan, then nodes about the modes it shows; all lines of all components at once."""
    counts = [len(component.choices) for component in components]
    odds = np.concatenate([_log_odds(component) + component.log_weight for component in components])
    total = len(odds)
    scan_nodes = np.broadcast_to(_SCAN, (total, _SCAN.size))
    logs, means = world.evaluate(_line_rows(components, axes, counts, scan_nodes))
    y = logs.reshape(total, _SCAN.size)
    means = means.reshape(total, _SCAN.size, -1)
    best = max(best, float(np.max(log_sum(node_masses(scan_nodes, y)) + odds)))
    matters = ~is_told(y)
    matters[matters] = _within(world, y[matters], means[matters], best - NEGLIGIBLE - odds[matters])
    near = [(_window(world, means[kept], at[kept]), kept) for at, kept in _peaks(y, matters)]
    u, y = _with_nodes(world, components, axes, counts, (scan_nodes, y), near)
    if matters.any():
        for _ in range(_ROUNDS):
            nodes = np.empty((int(matters.sum()), _GAPS))
            for rows, columns in _alike(u[matters]):
                spots = np.ix_(rows, columns)
                nodes[rows] = worst_gaps(u[matters][spots], y[matters][spots], _GAPS)
            u, y = _with_nodes(world, components, axes, counts, (u, y), [(nodes, matters)])
    return _gather(components, axes, counts, u, _masses_of(u, y))


def _with_nodes(
    world: World,
    components: Sequence[Component],
    axes: Sequence[tuple[int, ...]],
    counts: Sequence[int],
    lines: tuple[Array, Array],
    added: Sequence[tuple[Array, NDArray[np.bool_]]],
) -> tuple[Array, Array]:
    """Lines (points and log values) with more points on some; NaN where a line has none."""
    total = len(lines[0])
    places, batch, sizes = [], [], []
    for nodes, kept in added:
        place = np.full((total, nodes.shape[1]), np.nan)
        place[kept] = nodes
        places.append(place)
        batch += _line_rows(components, axes, counts, place, kept) if kept.any() else []
        sizes.append(nodes.size)
    values = np.split(world.evaluate(batch)[0], np.cumsum(sizes)[:-1]) if batch else [np.zeros(0)] * len(added)
    heights = []
    for (nodes, kept), found in zip(added, values, strict=True):
        height = np.full((total, nodes.shape[1]), np.nan)
        height[kept] = found.reshape(nodes.shape)
        heights.append(height)
    return np.concatenate([lines[0], *places], axis=1), np.concatenate([lines[1], *heights], axis=1)


def _masses_of(u: Array, y: Array) -> Array:
    """Log mass of every point, -inf where there is no point."""
    result = np.full(u.shape, -np.inf)
    for rows, columns in _alike(u):
        spots = np.ix_(rows, columns)
        result[spots] = node_masses(u[spots], y[spots])
    return result


def _alike(u: Array) -> list[tuple[Picks, Picks]]:
    """Lines that have the same of the points, with those points' columns."""
    gone = np.isnan(u)
    return [(rows, np.flatnonzero(~gone[rows[0]])) for rows in alike(gone)]


def _line_rows(
    components: Sequence[Component],
    axes: Sequence[tuple[int, ...]],
    counts: Sequence[int],
    nodes: Array,
    kept: NDArray[np.bool_] | None = None,
) -> list[Rows]:
    """All lines as rows, or those kept."""
    batch, start, width = [], 0, nodes.shape[1]
    for component, used, n in zip(components, axes, counts, strict=True):
        picks = np.arange(n, dtype=np.intp)
        if kept is not None:
            picks = picks[kept[start : start + n]]
        if len(picks):
            share = np.full((len(picks) * width, len(component.axes)), 0.5)
            share[:, used[0]] = nodes[start + picks].ravel()
            batch.append(Rows(component, share, np.repeat(picks, width)))
        start += n
    return batch


def _gather(
    components: Sequence[Component], axes: Sequence[tuple[int, ...]], counts: Sequence[int], u: Array, y: Array
) -> list[Integrated]:
    found, start = [], 0
    for rows, component, n in zip(_line_rows(components, axes, counts, u), components, counts, strict=True):
        log_weight = (y[start : start + n] + _log_odds(component)[:, None]).ravel()
        kept = np.isfinite(log_weight)
        found.append(Integrated(component, rows.share[kept], rows.choice[kept], log_weight[kept]))
        start += n
    return found


def _peaks(y: Array, matters: NDArray[np.bool_]) -> list[tuple[Picks, NDArray[np.bool_]]]:
    """The best peak of every line that matters, then the second where there is one."""
    lines = np.arange(len(y))
    padded = np.pad(y, ((0, 0), (1, 1)), constant_values=-np.inf)
    peak = np.where((y >= padded[:, :-2]) & (y >= padded[:, 2:]), y, -np.inf)
    first = np.argmax(peak, axis=1)
    peak[lines, first] = -np.inf
    second = np.argmax(peak, axis=1)
    apart = np.abs(second - first) > 1
    worth = peak[lines, second] > y[lines, first] - _SECOND_PEAK
    return [(first, matters), (second, matters & apart & worth)]


def _within(world: World, y: Array, means: Array, least: Array) -> NDArray[np.bool_]:
    """Lines whose highest point may reach so far: between two points of the scan a parabola rises above them."""
    at = np.argmax(y, axis=1)
    top = y[np.arange(len(y)), at]
    found = np.asarray(top > least)
    if world.queries and not found.all():
        slope = _slope(means[~found], at[~found])
        curvature = np.einsum("lq,lq->l", slope @ world.evidence.precision, slope)
        found[~found] = top[~found] + 0.5 * (0.5 * _SCAN[1]) ** 2 * curvature > least[~found]
    return found


def _slope(means: Array, at: Picks) -> Array:
    """What the predictions of every line change by along it, beside one of its points."""
    lines = np.arange(len(at))
    below, above = np.maximum(at - 1, 0), np.minimum(at + 1, _SCAN.size - 1)
    return np.asarray(np.nan_to_num(means[lines, above] - means[lines, below]) / (_SCAN[above] - _SCAN[below])[:, None])


def _window(world: World, means: Array, at: Picks) -> Array:
    """Nodes over ±6 spreads about the mode that the local slope of the predictions points to."""
    lines = np.arange(len(at))
    if not world.queries:
        return inside(_SCAN[np.maximum(at - 1, 0)], _SCAN[np.minimum(at + 1, _SCAN.size - 1)], _WINDOW)
    slope = _slope(means, at)
    weighted = slope @ world.evidence.precision
    curvature = np.maximum(np.einsum("lq,lq->l", weighted, slope), 1e-9)
    residual = np.nan_to_num(world.evidence.values - means[lines, at])
    near = _SCAN[1]
    step = np.clip(np.einsum("lq,lq->l", weighted, residual) / curvature, -near, near)
    spread = np.minimum(1.3 / np.sqrt(curvature), 0.5)
    middle = _SCAN[at] + step
    return inside(middle - _REACH * spread, middle + _REACH * spread, _WINDOW)


def _sheets(
    world: World, components: Sequence[Component], axes: Sequence[tuple[int, ...]], best: float
) -> list[Integrated]:
    """Two axes: all sheets of all components at once."""
    odds = [_log_odds(component) + component.log_weight for component in components]
    found = []
    for component, used, done in zip(components, axes, sheets(world, components, axes, odds, best), strict=True):
        log_weight = np.concatenate([one.log_mass() + w for one, w in zip(done, _log_odds(component), strict=True)])
        kept = np.isfinite(log_weight)
        parts = [rows_on(component, used, pick, one.points) for pick, one in enumerate(done)]
        share, choice = np.vstack([part.share for part in parts]), np.concatenate([part.choice for part in parts])
        found.append(Integrated(component, share[kept], choice[kept], log_weight[kept]))
    return found
