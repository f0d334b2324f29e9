"""Two severities integrated out: a scan, then nodes about the mode where the scan alone does not tell enough.

The outer axis has its nodes about its mode, the inner one about its conditional mode for each outer node, so that a
ridge across both is followed. Where the scan's own points already give the integral, and where a sheet holds too
little to matter, they are all that is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.components import Component, Rows
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.mesh import Mesh
from witnessmark.infer.quadrature import inside, sheet_is_told
from witnessmark.infer.world import World

__all__ = ["NEGLIGIBLE", "rows_on", "sheets"]

Array = NDArray[np.float64]
_SCAN = np.linspace(0.0, 1.0, 9)
_FINE = np.linspace(0.0, 1.0, 13)
# Sheets that hold something are made closer until their integral moves by no more than this, in nats, so often at most.
_ROUNDS, _SETTLED, _HEAVY = 5, 0.004, 14.0
# Nodes about a mode, how many spreads they reach to either side, and nodes over the whole range besides: of 25 sheets
# (one vehicle with 342 findings, one drawn list) the evidence was off dense rules by as much as with 15, 6 and 9, which
# are 576 nodes instead of 256.
_WINDOW, _REACH, _WHOLE = 11, 4.5, np.linspace(0.0, 1.0, 5)
_SECOND_PEAK = 8.0  # nats below the first, within which another peak of the scan keeps all of the scan's lines
_HALF = 0.5 * _SCAN[1]
NEGLIGIBLE = 20.0  # nats below the best, from which on the scan's own points are good enough: 2e-9 of the belief


@dataclass(frozen=True, slots=True)
class _Scanned:
    """Scan of one choice: log likelihoods, shape (81,), and predictions, shape (81, q), at its points."""

    y: Array
    means: Array


def sheets(
    world: World, components: Sequence[Component], axes: Sequence[tuple[int, ...]], odds: Sequence[Array], best: float
) -> list[list[Mesh]]:
    """The evidence of components over two severities, point by point.

    Parameters
    ----------
    world : World
    components : sequence of Component
    axes : sequence of (int, int)
        Outer and inner severity of each.
    odds : sequence of ndarray, shape (choices,)
        Log of the prior weight of every choice of each component.
    best : float [nat]
        Log of prior x evidence of the best known already.

    Returns
    -------
    list of list of Mesh
        One for every choice of every component, in their order.
    """
    grid = _grid(_SCAN)
    scans = _scanned(world, components, axes, grid)
    found = [[Mesh.of(grid).known(one.y) for one in scan] for scan in scans]
    totals = [
        np.array([_total(mesh) for mesh in meshes]) + weights for meshes, weights in zip(found, odds, strict=True)
    ]
    best = max(best, *(float(np.max(total)) for total in totals))
    open_ = []
    for k, (scan, weights) in enumerate(zip(scans, odds, strict=True)):
        for pick, (one, weight) in enumerate(zip(scan, weights, strict=True)):
            points = (
                None
                if sheet_is_told(one.y.reshape(len(_SCAN), -1))
                else _points(world, one, best - NEGLIGIBLE - float(weight))
            )
            if points is not None:
                found[k][pick] = Mesh.of(points)
                open_.append((k, pick))
    for turn in range(1 + _ROUNDS):
        parts = [rows_on(components[k], axes[k], pick, found[k][pick].unknown) for k, pick in open_]
        if not parts:
            break
        values = np.split(world.evaluate(parts)[0], np.cumsum([len(rows.choice) for rows in parts])[:-1])
        further = []
        for (k, pick), y in zip(open_, values, strict=True):
            mesh = found[k][pick] = found[k][pick].known(y)
            before, totals[k][pick] = totals[k][pick], _total(mesh) + odds[k][pick]
            moved = abs(totals[k][pick] - before) > _SETTLED or not turn or mesh.is_uneven()
            if turn < _ROUNDS and moved and totals[k][pick] > best - _HEAVY:
                further.append((k, pick))
        for k, pick in further:
            found[k][pick] = found[k][pick].closer()
        open_ = further
    return found


def _total(mesh: Mesh) -> float:
    return float(log_sum(mesh.log_mass()))


def _scanned(
    world: World, components: Sequence[Component], axes: Sequence[tuple[int, ...]], grid: Array
) -> list[list[_Scanned]]:
    picks = [(k, pick) for k, component in enumerate(components) for pick in range(len(component.choices))]
    logs, means = world.evaluate([rows_on(components[k], axes[k], pick, grid) for k, pick in picks])
    found: list[list[_Scanned]] = [[] for _ in components]
    for (k, _), y, mean in zip(
        picks, logs.reshape(-1, len(grid)), means.reshape(len(picks), len(grid), -1), strict=True
    ):
        found[k].append(_Scanned(y, mean))
    return found


def _points(world: World, scan: _Scanned, least: float) -> Array | None:
    """Where a sheet is looked at again; nowhere if its highest point stays below the least that matters."""
    n = len(_SCAN)
    i, j = (int(k) for k in np.unravel_index(int(np.argmax(scan.y)), (n, n)))
    if not world.queries:
        return _grid(_FINE) if float(scan.y.max()) > least else None
    grid = scan.means.reshape(n, n, -1)
    slopes = np.stack([_slope(grid, i, j, 0), _slope(grid, i, j, 1)]) / _SCAN[1]
    precision = world.evidence.precision
    information = slopes @ precision @ slopes.T
    # Between two points of the scan a parabola rises so far above them at most.
    if float(scan.y.max()) + 0.5 * _HALF**2 * float(np.abs(information).sum()) < least:
        return None
    information += np.eye(2) * 1e-3
    residual = np.nan_to_num(world.evidence.values - grid[i, j])
    mode = np.array([_SCAN[i], _SCAN[j]]) + np.linalg.solve(information, slopes @ precision @ residual)
    spread = np.sqrt(np.diag(np.linalg.inv(information)))
    whole = _SCAN if _has_another(scan.y.reshape(n, n), i, j) else _WHOLE
    outer = np.unique(_nodes(whole, np.clip(mode[:1], 0.0, 1.0), 1.3 * float(spread[0])))
    inner_spread = 1.3 / float(information[1, 1]) ** 0.5
    tilt = -float(information[0, 1] / information[1, 1])
    inner = _nodes(whole, np.clip(mode[1] + tilt * (outer - mode[0]), 0.0, 1.0), inner_spread)
    return np.stack([np.repeat(outer, inner.shape[1]), inner.ravel()], axis=1)


def _has_another(y: Array, i: int, j: int) -> bool:
    """Whether the scan has a second peak that may hold anything."""
    padded = np.pad(y, 1, constant_values=-np.inf)
    n = len(y)
    beside = [padded[1 + a : 1 + a + n, 1 + b : 1 + b + n] for a in (-1, 0, 1) for b in (-1, 0, 1) if (a, b) != (0, 0)]
    peak = (y >= np.max(beside, axis=0)) & (y > y[i, j] - _SECOND_PEAK)
    rows, columns = np.nonzero(peak)
    return bool(np.any((np.abs(rows - i) > 1) | (np.abs(columns - j) > 1)))


def _slope(grid: Array, i: int, j: int, axis: int) -> Array:
    n = grid.shape[axis]
    at = (i, j)[axis]
    low, high = max(at - 1, 0), min(at + 1, n - 1)
    line = grid[:, j] if axis == 0 else grid[i]
    return np.asarray(np.nan_to_num((line[high] - line[low]) / (high - low)))


def _nodes(whole: Array, centre: Array, spread: float) -> Array:
    """Nodes of one line for each centre, over the whole range and about it, shape (lines, nodes), rising along each."""
    reach = _REACH * min(spread, 0.5)
    window = inside(centre - reach, centre + reach, _WINDOW)
    return np.sort(np.concatenate([np.broadcast_to(whole, (len(centre), whole.size)), window], axis=1), axis=1)


def _grid(line: Array) -> Array:
    """A line crossed with itself, shape (points, 2): inner line by inner line."""
    return np.stack([p.ravel() for p in np.meshgrid(line, line, indexing="ij")], axis=1)


def rows_on(component: Component, used: tuple[int, ...], pick: int, points: Array) -> Rows:
    """Points of a sheet as rows of their component, its other severities in the middle."""
    share = np.full((len(points), len(component.axes)), 0.5)
    share[:, used[0]], share[:, used[1]] = points[:, 0], points[:, 1]
    return Rows(component, share, np.full(len(points), pick, dtype=np.intp))
