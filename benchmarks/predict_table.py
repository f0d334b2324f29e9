"""Predictions from a table of directions, beside the same predictions worked out, and beside the machine's own limit.

300 states along 300 ways in which the catalogue's faults may happen, each at a random size, times 300 findings of all
tests on one invented engine. The machine's limit: a row of the table and its error read for each state, one written.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from witnessmark.catalogue.faultrows import SYSTEMS
from witnessmark.catalogue.faults import Kind, fault_instances
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import Direction, DriveModel, expect, tabulate, why_not
from witnessmark.vocabulary import Query

WHAT = "predictions of 300 states times 300 findings from a table, beside working them out and the machine's limit"

Array = NDArray[np.float64]
ENGINE = "made-up four"
_MOST_MS = 10.0
_WITHIN = 0.98  # of all readings within the error that the table owns up to: steps between nodes may hide
_TOP = 1.07  # 1 / 0.944: the table's error is a parabola's at its probe, the golden section, not at its top


def best_ms(work: Callable[[], object], times: int = 15) -> float:
    """Least processor time of some runs [ms]."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return 1e3 * min(found)


def findings(model: DriveModel, count: int) -> tuple[Query, ...]:
    """So many queries, taken in turn from every quantity; of interventions only those that name no node."""
    by_quantity: dict[str, dict[Query, None]] = {}
    for procedure in all_procedures().all:
        for query in procedure.queries(model.engine):
            during = query.condition.during is not None and query.place.get("node") is not None
            if query.quantity != "code_state" and not during and why_not(model, query) is None:
                by_quantity.setdefault(query.quantity, {})[query] = None
    lists = [list(own) for own in by_quantity.values()]
    turns = (own[i] for i in range(max(map(len, lists))) for own in lists if i < len(own))
    return tuple(query for query, _ in zip(turns, range(count), strict=False))


def direction_of(kind: Kind) -> Direction:
    """A kind of fault as a direction of edits: its sizes by their shares."""

    def changes(share: Array) -> list[tuple[str, str, str, Array | float]]:
        theta = np.stack([axis.at(share[:, k]) for k, axis in enumerate(kind.axes)], axis=1) if kind.axes else share
        return kind.changes(theta)

    return Direction(changes, min(len(kind.axes), 2))


def directions(model: DriveModel, count: int) -> list[Direction]:
    """So many ways in which a fault may happen, evenly out of all with at most two sizes."""
    kinds = [kind for one in fault_instances(model.engine, SYSTEMS) for kind in one.kinds if len(kind.axes) <= 2]
    chosen = np.linspace(0, len(kinds) - 1, min(count, len(kinds))).astype(int)
    return [direction_of(kinds[i]) for i in chosen]


def worked_out(model: DriveModel, queries: tuple[Query, ...], ways: list[Direction], share: Array) -> Array:
    """The same without a table, all states in one call."""
    edits: dict[tuple[str, str], Array] = {}
    for i, way in enumerate(ways):
        own = share[i : i + 1] if way.axes == 2 else share[i : i + 1, 1:]
        for key, value in HEALTHY.edited(way.changes(own[:, : way.axes])).edits.items():
            column = edits.setdefault(key, np.full(len(ways), float(np.ravel(HEALTHY.get(*key))[0])))
            column[i] = np.ravel(value)[0]
    return expect(model, queries, State(edits), rows=len(ways)).mean


def run(options: Options) -> Outcome:
    """Measure."""
    many = 40 if options.small else 300
    model = DriveModel.of(find_engine(ENGINE))
    queries, ways = findings(model, many), directions(model, many)
    start = time.process_time()
    table = tabulate(model, queries, ways)
    built = time.process_time() - start
    share = np.random.default_rng(4).uniform(size=(len(ways), 2))
    which = np.arange(len(ways))
    mean, error = table.at(which, share)
    exact = worked_out(model, queries, ways, share)
    from_table = best_ms(lambda: table.at(which, share))
    direct = best_ms(lambda: worked_out(model, queries, ways, share), 3)
    limit = best_ms(lambda: np.add(table.values[table.first], table.error))
    own = np.array([q.kind.default_sd(float(v)) for q, v in zip(queries, np.nan_to_num(exact[0]), strict=True)])
    off = np.nan_to_num(np.abs(mean - exact)) / np.maximum(own, 1e-6)
    owned = np.nan_to_num(np.abs(mean - exact)) <= _TOP * error + 1e-9
    same_holes = float(np.mean(np.isnan(mean) == np.isnan(exact)))
    summary = "\n".join([
        "# Predictions from a table", "",
        f"{origin().label}. {len(ways)} states, one along each of {len(ways)} ways in which a fault may happen, times"
        f" {len(queries)} findings on the {ENGINE}.", "",
        "| | processor time |", "|---|---|",
        f"| from the table, with its error | **{from_table:.2f} ms** |",
        f"| worked out, all states in one call | {direct:.0f} ms, {direct / from_table:.0f} times the table |",
        f"| the machine's limit: two tables of that size read, one written | {limit:.2f} ms, the table takes"
        f" {from_table / limit:.1f} times as long |",
        f"| building the table, {len(table.values)} states | {built:.1f} s |", "",
        f"Error in spreads of a usual reading: median {np.median(off):.1e}, 99 of 100 below"
        f" {np.percentile(off, 99):.2g}, greatest {off.max():.2g}. {100 * owned.mean():.2f} % of all readings lie"
        f" within the error that the table owns up to; on whether there is one it agrees for {100 * same_holes:.2f} %.",
    ])  # fmt: skip
    missed = []
    if from_table > _MOST_MS:
        missed.append(f"{len(ways)} states times {len(queries)} findings take {from_table:.1f} ms")
    if owned.mean() < _WITHIN:
        missed.append(f"{100 * owned.mean():.1f} % within the table's own error")
    return Outcome(summary, tuple(missed))
