"""Cylinders by tables against the same by the gas kernel: error on states held out, and time for 300 states.

The kernel is the peer: what the tables were made of, run anew for each state. Errors are of states that the tables
never saw, all of whose numbers are a little off and one or two far off.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from witnessmark.engine.library import find_engine
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect, nuisances
from witnessmark.predict.cylindertables import HELD_OUT, held_out, tables_of
from witnessmark.predict.differing import sound_states
from witnessmark.predict.expansion import expand
from witnessmark.predict.rules import HOMES
from witnessmark.predict.stroke import PAIRS, REGIMES, RESULTS, Stroke
from witnessmark.vocabulary import Condition, Place, Query

WHAT = "cylinders' predictions: tables against the gas kernel, error and time"

_ROWS = 300
_LEAST_RATIO, _MOST_PEAK, _MOST_BUILD_S = 100.0, 0.02, 8.0
_SEED = 77
_STATES = {
    "compression_peak": "cranking", "relative_compression": "cranking", "tower_peak": "cranking",
    "loss_angle": "cranking", "polytropic_exponent": "cranking", "pulse_height": "cranking",
}  # fmt: skip
_WITHOUT_CYLINDER = ("vacuum_flicker", "turning_torque", "coolant_gas_seen", "coolant_drop")


def queries() -> list[Query]:
    """Every quantity of a cylinder once."""
    found = []
    for module in ("compression", "cylinderwork", "handchecks", "valveevents"):
        for name in HOMES[module]:
            place = Place.of(cylinder=2)
            if module == "valveevents":
                place = Place.of(valve="2.intake.shuts" if name == "valve_event" else "2.intake")
            elif name in _WITHOUT_CYLINDER:
                place = Place()
            found.append(Query(name, place, Condition(_STATES.get(name, "idle"))))
    return found


def by_tables(model: DriveModel, rows: int) -> float:
    """Seconds for all quantities of so many states, all that sound engines differ in drawn anew for each."""
    asked, rng = queries(), np.random.default_rng(_SEED)
    moved = nuisances(model, asked)
    state, numbers = sound_states(moved, np.stack([rng.normal(one.mean, one.sd, rows) for one in moved], axis=1))
    expect(model, asked, state, numbers, rows=rows)
    return min(timed(lambda: expect(model, asked, state, numbers, rows=rows)) for _ in range(5))


def timed(work: Callable[[], object]) -> float:
    """Processor time of one run [s]."""
    start = time.thread_time()
    work()
    return time.thread_time() - start


def building(engine: Engine) -> float:
    """Processor time to make the tables of one regime, the kernel compiled [s]."""
    stroke = Stroke(engine, REGIMES["idle"])
    return timed(lambda: expand(stroke, stroke.axes, PAIRS, held_out(stroke.axes, HELD_OUT)))


def errors(engine: Engine, regime: str, count: int) -> tuple[list[str], float, float]:
    """Lines of a table, the peak's error that 68 % of the states stay within, and the kernel's seconds for a state."""
    tables, stroke = tables_of(engine, regime), Stroke(engine, REGIMES[regime])
    states = held_out(tables.axes, count, _SEED)
    stroke({})
    start = time.thread_time()
    true = np.array([stroke(one) for one in states])
    each = (time.thread_time() - start) / count
    columns = {axis.name: np.array([one[axis.name] for one in states]) for axis in tables.axes}
    placed = tables.place(columns, count)
    lines, peak = [], 0.0
    for k, name in enumerate(RESULTS):
        off = np.abs(tables.read(k, placed) - true[:, k])
        shares = [float(np.quantile(off, q)) for q in (0.5, 0.68, 0.9, 1.0)]
        lines.append(f"| {regime} | {name} | " + " | ".join(f"{share:.4f}" for share in shares) + " |")
        peak = shares[1] if name == "peak" else peak
    return lines, peak, each


def run(options: Options) -> Outcome:
    """Measure."""
    engine = find_engine("made-up four")
    lines = ["# Cylinders by tables", "", f"{origin().label}. Engine: {engine.name}.", "",
             "| regime | result | half of the states | 68 % | 90 % | worst |", "|---|---|---|---|---|---|"]  # fmt: skip
    missed, kernel = [], {}
    for regime in ("cranking",) if options.small else REGIMES:
        found, peak, kernel[regime] = errors(engine, regime, 60 if options.small else _ROWS)
        lines += found
        if peak > _MOST_PEAK:
            missed.append(f"peak of {regime} errs by {peak:.1%} where 68 % of the states are")
    lines += ["", "peak, overlap, plateau, fresh, torque, gulp, puff: logarithms, so 0.01 is 1 %; loss in degrees.", ""]
    if options.small:
        return Outcome("\n".join(lines), tuple(missed))
    seconds, built = by_tables(DriveModel.of(engine), _ROWS), building(engine)
    # Three conditions: cranked with open throttle (gauge, current) and with it shut (traces, pulses), idle.
    each = (2.0 * kernel["cranking"] + kernel["idle"]) / 3.0
    peer = each * _ROWS * engine.cylinders * 3
    ratio, count = peer / seconds, len(queries())
    lines += [
        f"{count} quantities of {_ROWS} states, {engine.cylinders} cylinders, 3 conditions: tables"
        f" {1e3 * seconds:.0f} ms ({1e3 * seconds / count:.1f} ms a quantity); kernel {1e3 * each:.1f} ms a cylinder,"
        f" {peer:.0f} s in all: **{ratio:.0f} times** as long.",
        "",
        f"Tables of one regime made anew: {built:.1f} s of one core.",
    ]
    if ratio < _LEAST_RATIO:
        missed.append(f"tables are only {ratio:.0f} times as fast as the kernel")
    if built > _MOST_BUILD_S:
        missed.append(f"tables take {built:.1f} s to make")
    return Outcome("\n".join(lines), tuple(missed))
