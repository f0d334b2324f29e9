"""Every way in which a fault may happen, at several sizes, predicted for all readings of an operating state.

Beside it the same operating points by brackets within brackets, as whatever does not settle together is found, and the
machine's own limit: one flow through a nozzle for each of so many states in plain NumPy.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from witnessmark.catalogue.faultrows import SYSTEMS
from witnessmark.catalogue.faults import fault_instances
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import NO_CHOICE, Component, Rows, assemble
from witnessmark.physics import _settling
from witnessmark.physics.nozzle import signed_flow
from witnessmark.predict import DriveModel, air, expect, supplies, why_not
from witnessmark.predict.solvedrows import SolvedRows
from witnessmark.vocabulary import Query

WHAT = "predictions of every way of every fault, by operating state, beside brackets and nozzle flows"

Array = NDArray[np.float64]
ENGINES = ("made-up four", "made-up four turbo")
STATES = ("idle", "cruise", "raised", "snap", "full_load", "cranking", "key_on", "off")
_AS_BRACKETED = 1e-7  # share of a reading, above a thousandth of the greatest, by which both roads may differ
_TOGETHER = ("settled_at_load", "settled_at_area", "settled_at_both")


def every_way(model: DriveModel, shares: Array) -> tuple[State, int]:
    """All kinds of all faults at some shares of each size, side by side."""
    rows = []
    for one in fault_instances(model.engine, SYSTEMS):
        for kind in one.kinds:
            axes = len(kind.axes)
            share = np.stack([np.roll(shares, k) for k in range(axes)], axis=1) if axes else np.zeros((1, 0))
            component = Component((one.key,), (one,), (kind,), NO_CHOICE, (), 0.0)
            rows.append(Rows(component, share, np.zeros(len(share), dtype=np.intp)))
    state, _, count = assemble(rows)
    return state, count


def readings(model: DriveModel) -> dict[str, tuple[Query, ...]]:
    """All that can be predicted without an intervention, by operating state."""
    found: dict[str, dict[Query, None]] = {state: {} for state in STATES}
    for procedure in all_procedures().all:
        for query in procedure.queries(model.engine):
            state = query.condition.state
            if state in found and query.condition.during is None and why_not(model, query) is None:
                found[state][query] = None
    return {state: tuple(queries) for state, queries in found.items() if queries}


@contextmanager
def bracketed() -> Iterator[None]:
    """Nothing is settled together: every balance by its own bracket."""
    whole = {name: getattr(_settling, name) for name in _TOGETHER}

    def refused(name: str) -> Callable[..., Any]:
        return lambda *given: whole[name](*given)._replace(got=np.zeros(given[0].n, dtype=np.bool_))

    try:
        for name in _TOGETHER:
            setattr(_settling, name, refused(name))
        yield
    finally:
        for name, own in whole.items():
            setattr(_settling, name, own)


def predicted(model: DriveModel, queries: tuple[Query, ...], state: State, rows: int) -> tuple[Array, float]:
    """Predictions, nothing kept from before, and the processor time [s]."""
    air._KEPT, supplies._KEPT = SolvedRows(air.KEPT_ROWS), SolvedRows(6_000)
    start = time.process_time()
    mean = expect(model, queries, state, rows=rows).mean
    return mean, time.process_time() - start


def nozzle_us(rows: int) -> float:
    """One flow through a nozzle, for each of so many states in one call [µs a state]."""
    area, inside = np.full(rows, 1e-5), np.linspace(20e3, 101e3, rows)
    found = []
    for _ in range(20):
        start = time.process_time()
        signed_flow(area, 101325.0, inside, 298.15, 318.15)
        found.append(time.process_time() - start)
    return 1e6 * min(found) / rows


def run(options: Options) -> Outcome:
    """Measure."""
    shares = np.array([0.5]) if options.small else np.linspace(0.0, 1.0, 5)
    lines, missed = [], []
    for name in ENGINES[:1] if options.small else ENGINES:
        model = DriveModel.of(find_engine(name))
        state, rows = every_way(model, shares)
        limit = nozzle_us(rows)
        lines += [
            "", f"## {name}, {rows} states", "",
            f"A nozzle's flow takes {limit:.3f} µs a state.", "",
            "| operating state | readings | processor time | states a second | nozzle flows a state | by brackets |",
            "|---|---|---|---|---|---|",
        ]  # fmt: skip
        for where, queries in readings(model).items():
            expect(model, queries, HEALTHY, rows=1)  # whatever is worked out once for an engine
            mean, own = predicted(model, queries, state, rows)
            with bracketed():
                slow_mean, slow = predicted(model, queries, state, rows)
            scale = np.maximum(np.abs(slow_mean), 1e-3 * np.nanmax(np.abs(np.nan_to_num(slow_mean)), axis=0) + 1e-300)
            off = float(np.nanmax(np.abs(mean - slow_mean) / scale, initial=0.0))
            if off > _AS_BRACKETED or np.any(np.isnan(mean) != np.isnan(slow_mean)):
                missed.append(f"{name}, {where}: settled together and bracketed differ by {off:.1e}")
            lines.append(
                f"| {where} | {len(queries)} | **{own:.2f} s** | {rows / own:,.0f} | {1e6 * own / rows / limit:,.0f} |"
                f" {slow / own:.1f} times as long, {off:.0e} off |"
            )
    summary = "\n".join([
        "# Predictions of every way of every fault", "",
        f"{origin().label}. All readings of an operating state for all states in one call, what is worked out once for"
        " an engine before it, nothing kept between calls.", *lines,
    ])  # fmt: skip
    return Outcome(summary, tuple(missed))
