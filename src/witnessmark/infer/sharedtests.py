"""Which further reading parts two sites best: along a branch, moved by hand, unplugged in turn, a code read out.

Every candidate is predicted under both, over the sizes that the findings at hand leave, by the forward model.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.intervention import HOSES
from witnessmark.engine.supply import DUCTS, LOADS, SupplyGraph
from witnessmark.engine.supply_usual import supply_of
from witnessmark.finding import Finding
from witnessmark.infer.shared import Ranked, SharedBelief, Worked
from witnessmark.infer.sharedlaw import Law, law_of
from witnessmark.infer.sharedscan import lay_out
from witnessmark.infer.sharedsites import Site, duct_place
from witnessmark.physics.normal import ndtr
from witnessmark.predict.wires import reference_of
from witnessmark.vocabulary import Condition, Place, Query, quantity

__all__ = ["Parting", "parting_tests"]

Array = NDArray[np.float64]

_ROWS = 12  # heaviest nodes that stand for a site
_GRID = 301
_HELPS = 0.01  # by how much a reading must raise the chance of naming the right one
_RIVALS = 4  # how many are tried
_SECOND = 1e-4  # probability under which there is no rival worth a test
_TESTS = {
    "branch_drop": "drop_under_load",
    "reference_volts": "scope_supplies",
    "bus_errors": "scope_supplies",
    "module_answers": "modules_read",
    "winding_ohm": "ohms",
    "insulation_ohm": "ohms",
}
_MINUTES = 10.0  # of a test that the catalogue does not price; our guess


@dataclass(frozen=True, slots=True)
class Parting:
    """One reading that parts two sites.

    Parameters
    ----------
    rival : Site
        The second.
    query : Query
    test : str
        Id of the catalogue's test or intervention.
    minutes : float [min]
        Typical.
    first, second : float
        What it should read if the first is the cause, and if the second is: means, in the quantity's unit; of yes or no
        the chance of yes.
    first_sd, second_sd : float
        Standard deviations of what it would then read; 0 for yes or no.
    right : float [-]
        Chance that it names the right one of the two; before it, this is the likelier one's share of both.
    before : float [-]
        That share.
    """

    rival: Site
    query: Query
    test: str
    minutes: float
    first: float
    second: float
    first_sd: float
    second_sd: float
    right: float
    before: float


def parting_tests(belief: SharedBelief, *, most: int = 3) -> tuple[Parting, ...]:
    """The readings that part the likeliest site best from its nearest rival that any reading parts it from.

    Parameters
    ----------
    belief : SharedBelief
    most : int
        How many, at most.

    Returns
    -------
    tuple of Parting
        The surest first, of those as sure the quickest; none that helps by less than 1 %. Empty where the first has
        no rival, nothing that can be predicted parts them, or the ranking is one that was kept.

    Notes
    -----
    Chance of naming the right one of two: the integral of the larger of w p(x | first) and (1 - w) p(x | second).
    """
    if belief.worked is None:
        return ()
    for rival in belief.ranked[1 : 1 + _RIVALS]:
        if rival.probability >= _SECOND * belief.ranked[0].probability:
            found = _parting(belief.worked, (belief.ranked[0], rival))
            if found:
                return found[:most]
    return ()


def _parting(worked: Worked, two: tuple[Ranked, Ranked]) -> tuple[Parting, ...]:
    graph = supply_of(worked.law.model.engine)
    done = {(q.quantity, q.place, q.condition.during) for q in worked.law.queries}
    candidates = [q for q in _candidates(graph, two) if (q.quantity, q.place, q.condition.during) not in done]
    asked = [Finding(q.quantity, q.place, 0.0, _usual_sd(q), q.condition) for q in candidates]
    law, _ = law_of(worked.law.model, asked)
    weights, mean, tolerance = _predicted(law, worked, two)
    before = two[0].probability / (two[0].probability + two[1].probability)
    found = []
    for j, finding in enumerate(law.findings):
        columns = [column[:, j] for column in mean]
        if any(np.isnan(column).any() for column in columns):
            continue
        first, second = (float(w @ column) for w, column in zip(weights, columns, strict=True))
        if finding.kind.kind == "yes_no":
            sds = [0.0, 0.0]
            right = max(before * first, (1.0 - before) * second)
            right += max(before * (1.0 - first), (1.0 - before) * (1.0 - second))
        else:
            own = [law.spread(j, tolerance[k][:, j]) for k in range(2)]
            spread = [np.hypot(s, _relative(law.queries[j], column)) for s, column in zip(own, columns, strict=True)]
            sds = [
                float(np.sqrt(w @ (s**2 + (column - middle) ** 2)))
                for w, s, column, middle in zip(weights, spread, columns, (first, second), strict=True)
            ]
            right = _right(before, weights, columns, spread)
        test, minutes = _test_of(law.queries[j])
        found.append(
            Parting(
                two[1].site,
                law.queries[j],
                test,
                minutes,
                first,
                second,
                sds[0],
                sds[1],
                right=float(right),
                before=before,
            )
        )
    found = [one for one in found if one.right > max(before, 1.0 - before) + _HELPS]
    best: dict[object, Parting] = {}  # one of each kind of reading at a node, and of each thing done meanwhile
    for one in sorted(found, key=lambda one: (-round(one.right, 3), one.minutes)):
        during = (one.query.condition.during or "").partition(":")[0]
        best.setdefault(during or (one.query.quantity, one.query.place), one)
    return tuple(best.values())


def _usual_sd(query: Query) -> float:
    kind = quantity(query.quantity)
    return kind.sd if not kind.relative else 1e-6


def _relative(query: Query, mean: Array) -> Array:
    kind = quantity(query.quantity)
    return np.asarray(kind.sd * np.abs(mean) if kind.relative else np.zeros_like(mean))


def _predicted(law: Law, worked: Worked, two: Sequence[Ranked]) -> tuple[list[Array], list[Array], list[Array]]:
    ways, shares, weights = [], [], []
    for ranked in two:
        points = [
            (one, k, float(one.log_weight + np.log(one.over_nodes[k] + 1e-300)))
            for one in worked.weighed[ranked.site.id]
            for k in range(len(one.share))
        ]
        points = sorted(points, key=lambda point: -point[2])[:_ROWS]
        ways += [one.way for one, _, _ in points]
        shares += [one.share[k : k + 1] for one, k, _ in points]
        log = np.array([point[2] for point in points])
        weights.append(np.exp(log - np.logaddexp.reduce(log)))
    state, rows = lay_out(ways, shares)
    mean, tolerance = law.expected(state, rows)
    cut = len(weights[0])
    return weights, [mean[:cut], mean[cut:]], [tolerance[:cut], tolerance[cut:]]


def _right(before: float, weights: Sequence[Array], means: Sequence[Array], sds: Sequence[Array]) -> float:
    """By the chances of falling between the points of a grid that is fine where the readings lie."""
    every, wide = np.concatenate(list(means)), np.concatenate(list(sds))
    z = np.linspace(-6.0, 6.0, 41)
    grid = np.unique((every[:, None] + wide[:, None] * z).ravel())
    grid = grid[:: max(1, len(grid) // _GRID)]
    cells = []
    for weight, mean, sd in zip(weights, means, sds, strict=True):
        below = ndtr((grid[:, None] - mean) / sd) @ weight
        cells.append(np.diff(np.concatenate([[0.0], below, [1.0]])))
    return float(np.sum(np.maximum(before * cells[0], (1.0 - before) * cells[1])))


def _candidates(graph: SupplyGraph, two: Sequence[Ranked]) -> Iterator[Query]:
    """Readings on and beside the two sites: what hangs on them, what they hang on."""
    names: dict[str, None] = {}
    for ranked in two:
        for name in ranked.site.nodes:
            below = graph.fed_by(name)
            names |= dict.fromkeys([name, *below[:40], *[n for b in below[:40] for n in _over(graph, b)]])
            names |= dict.fromkeys(_over(graph, name))
    nodes = [graph.node(name) for name in names if graph.has(name)]
    for node in nodes:
        if node.is_electrical and node.kind != "battery":
            for state in ("key_on", "idle"):
                yield Query("branch_drop", Place.of(node=node.id), Condition(state, complaint="present"))
        if node.kind == "reference5":
            yield Query("reference_volts", Place.of(node=node.id), Condition("key_on", complaint="present"))
        if node.kind == "bus":
            yield Query("bus_errors", Place.of(node=node.id), Condition("key_on", complaint="present"))
        if node.kind == "module":
            yield Query("module_answers", Place.of(module=node.id), Condition("key_on", complaint="present"))
        if node.kind == "load":
            yield Query("winding_ohm", Place.of(actuator=node.id), Condition("off"))
            yield Query("insulation_ohm", Place.of(node=node.id), Condition("off"))
    yield from _while_doing(graph, two, [node.id for node in nodes])


def _while_doing(graph: SupplyGraph, two: Sequence[Ranked], names: Sequence[str]) -> Iterator[Query]:
    """The same with one of the two moved by hand, and a source with each of its children unplugged."""
    loads = [name for name in names if graph.node(name).kind in LOADS]
    for ranked in two:
        below = [name for name in loads if name in (*ranked.site.nodes, *_below(graph, ranked))][:3]
        for name in below:
            moved = Condition("key_on", complaint="present", during=f"wiggle:{ranked.site.id}")
            yield Query("signal_dropouts", Place.of(node=name), moved)
        if ranked.site.kind in DUCTS:
            place = duct_place(graph.node(ranked.site.id))
            if place in HOSES:
                pinched = Condition("idle", complaint="present", during=f"pinch_hose:{place}")
                yield Query("idle_air_demand", Place(), pinched)
                yield Query("fuel_trim", Place.of(bank=1), pinched)
    for name in loads:
        source = reference_of(graph, name)
        if source is not None:
            out = Condition("key_on", complaint="present", during=f"unplug_in_turn:{name}")
            yield Query("reference_volts", Place.of(node=source), out)


def _over(graph: SupplyGraph, name: str) -> list[str]:
    """What a node hangs on directly."""
    node = graph.node(name)
    return [one for one in (node.feed, node.ground) if one is not None and graph.has(one)]


def _below(graph: SupplyGraph, ranked: Ranked) -> list[str]:
    return [below for name in ranked.site.nodes for below in graph.fed_by(name)]


def _test_of(query: Query) -> tuple[str, float]:
    name = (query.condition.during or "").partition(":")[0] or _TESTS.get(query.quantity, "")
    known = {one.id: one for one in all_procedures().all}
    return name, known[name].minutes if name in known else _MINUTES
