"""Sound vehicles of the virtual engine against what is predicted for one: do the stated bands hold what they say?

Every vehicle is drawn anew: state variables from their healthy spread, and of its own what the description leaves open
or predicting leaves out (lift law, flow, wall heat, pulsation, starter, board). The bands know the description only. No
instrument stands between: a band is the spread of sound engines and the tolerance of the nominal.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.infer.sound import covariance_of, differences, one_at_a_time, rows_of
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.predict.differing import sound_states
from witnessmark.simulate.bench import Bench, Setup, build_bench, engine_run
from witnessmark.simulate.course import driven
from witnessmark.simulate.enginerun import EngineRun
from witnessmark.vocabulary import Condition, Place, Query

WHAT = "sound vehicles of the virtual engine against the bands predicted for them"

Array = NDArray[np.float64]
Truths = dict[Query, float]
ENGINES = (
    "made-up four", "made-up V6 with second chains", "made-up three with belt", "made-up V8 with pushrods",
    "made-up flat four", "made-up five",
)  # fmt: skip
_FIRST_SEED = 31_000
_WHOLE, _SMALL = 360, 6
_Z90 = 1.645
_LEAST = 0.80  # of all readings, and of a quantity's where there are hundreds; the wanted share is 0.9
_CRANK = Condition("cranking")
_FIRST_CYLINDER = Place.of(cylinder=1)


def sound_vehicle(model: DriveModel, queries: Iterable[Query], rng: np.random.Generator) -> State:
    """A sound engine: every state variable that bears on the queries drawn from its healthy spread, within bounds."""
    moved = [one for one in nuisances(model, list(queries)) if not one.is_number]
    state, _ = sound_states(moved, np.array([[rng.normal(one.mean, one.sd) for one in moved]]))
    return State({key: float(np.asarray(value)[0]) for key, value in state.edits.items()})


def while_driven(bench: Bench, seed: int) -> Truths:
    """What holds at idle and at a raised speed, in the mean over the settled half of each stretch."""
    course = driven(bench, "trims_at_speeds", seed)
    state = np.array(course.state)
    found: Truths = {}
    for name in ("idle", "raised"):
        at = np.flatnonzero(state == name)
        first = at[: np.flatnonzero(np.diff(np.append(at, at[-1] + 2)) > 1)[0] + 1]
        rows = first[len(first) // 2 :]
        mean = {key: float(np.mean(column[rows])) for key, column in course.values.items()}
        condition = Condition(name, coolant_c=90.0)
        found[Query("map_reported", Place(), condition)] = mean["map"]
        found[Query("airflow_reported", Place(), condition)] = mean["maf"]
        found[Query("absolute_load", Place(), condition)] = mean["absolute_load"]
        found[Query("manifold_vacuum", Place(), condition)] = mean["barometer"] - mean["plenum"]
        found[Query("fuel_trim", Place.of(bank=1), condition)] = mean["trim_1"]
        found[Query("supply_reported", Place.of(module="ecu"), condition)] = mean["volts"]
    return found


def while_cranked(bench: Bench, seed: int) -> Truths:
    """Towers and loss angles at the speed noted beside them, speed and current, once it turns evenly."""
    run = engine_run(bench, Setup(running="cranking", seconds=1.6), seed)
    late = run.motion.times_s > run.engaged_s + 0.8
    rpm = turns_rpm(run, late)
    found = towers(run, replace(_CRANK, speed_rpm=round(rpm)), after_s=run.engaged_s + 0.8)
    found[Query("cranking_speed", Place(), _CRANK)] = rpm
    found[Query("starter_current", Place(), _CRANK)] = float(np.mean(run.starter_amps[late]))
    return found


def while_unfired(bench: Bench, seed: int) -> Truths:
    """The same with cylinder 1 unfired at idle, and what stands at gas-exchange TDC."""
    run = engine_run(bench, Setup(running="idle", seconds=1.2), seed, silent=(1,))
    condition = Condition("idle", speed_rpm=round(turns_rpm(run, run.motion.times_s > 0.4)))
    found = towers(run, condition, after_s=0.4)
    return {query: value for query, value in found.items() if query.place == _FIRST_CYLINDER}


def turns_rpm(run: EngineRun, rows: NDArray[np.bool_]) -> float:
    """Mean speed over some rows."""
    times, angle = run.motion.times_s[rows], run.motion.crank_deg[rows]
    return float((angle[-1] - angle[0]) / (times[-1] - times[0]) / 6.0)


def towers(run: EngineRun, condition: Condition, *, after_s: float) -> Truths:
    """Height and loss angle of every cylinder's towers, and the pressure at gas-exchange TDC, in the mean."""
    angle, late = run.motion.crank_deg, run.motion.times_s > after_s
    found: Truths = {}
    for number, top in run.breather.tops_deg.items():
        pressure = run.of(f"c{number}")
        heights, losses, between = [], [], []
        first = np.ceil((angle[late][0] - top) / 720.0)
        for turn in np.arange(first, (angle[-1] - top) / 720.0):
            centre = top + 720.0 * turn
            inside = np.abs(angle - centre) < 25.0
            if inside.sum() < 10 or centre + 25.0 > angle[-1]:
                continue
            near = np.flatnonzero(inside)[0] + int(np.argmax(pressure[inside]))
            shape = np.polyfit(angle[near - 8 : near + 9] - centre, pressure[near - 8 : near + 9], 2)
            losses.append(0.5 * shape[1] / shape[0])
            heights.append(float(pressure[near]) / 1e3)
            if centre + 360.0 < angle[-1]:
                between.append(float(np.interp(centre + 360.0, angle, pressure)) / 1e3)
        place = Place.of(cylinder=number)
        if not heights:  # it stands, or turns too slowly to show one
            continue
        found[Query("tower_peak", place, condition)] = float(np.mean(heights))
        found[Query("loss_angle", place, condition)] = float(np.mean(losses))
        if between:
            found[Query("overlap_pressure", place, condition)] = float(np.mean(between))
    return found


def judged(seed: int) -> list[Row]:
    """One vehicle: every truth with its band."""
    model = DriveModel.of(find_engine(ENGINES[seed % len(ENGINES)]))
    rng = np.random.default_rng(seed)
    asked = [Query(name, Place.of(cylinder=1), _CRANK) for name in ("tower_peak", "cranking_speed")]
    asked += [Query(name, Place.of(bank=1), Condition("idle")) for name in ("fuel_trim", "map_reported")]
    bench = build_bench(model.engine, sound_vehicle(model, asked, rng), seed)
    truths = while_driven(bench, seed) | while_cranked(bench, seed) | while_unfired(bench, seed)
    queries = [query for query in truths if why_not(model, query) is None]
    moved = nuisances(model, queries)
    sound = expect(model, queries, *one_at_a_time(moved, rows_of(moved)), rows=rows_of(moved))
    mean, tolerance, spread = sound.mean[0], sound.tolerance[0], covariance_of(*differences(sound.mean))
    sd = np.sqrt(np.diag(spread) + tolerance**2)
    return [
        {
            "engine": model.engine.name, "quantity": query.quantity, "state": query.condition.state,
            "truth": truths[query], "mean": float(mean[j]), "sd": float(sd[j]),
        }
        for j, query in enumerate(queries)
    ]  # fmt: skip


def run(options: Options) -> Outcome:
    """Measure."""
    count = _SMALL if options.small else _WHOLE
    rows = run_shards(
        "predict_coverage", judged, range(_FIRST_SEED, _FIRST_SEED + count), files=[Path(__file__)],
        size=6 if options.small else 30, processes=options.processes, fresh=options.fresh,
    )  # fmt: skip
    kinds = sorted({(str(row["state"]), str(row["quantity"])) for row in rows})
    lines = [
        "# Bands of sound engines against the virtual engine", "",
        f"{origin().label}. {count} vehicles of {len(ENGINES)} engines, every one sound, seeds from {_FIRST_SEED}."
        " Wanted: 90 % of all truths inside the 90 % band. Bias and scatter are in spreads of the band: 0 and 1 would"
        " be exact; less scatter than 1 is a band wider than need be.", "",
        "| running | quantity | readings | inside 90 % | bias | scatter | half width of the band |",
        "|---|---|---|---|---|---|---|",
    ]  # fmt: skip
    missed, everything = [], []
    for state, quantity in kinds:
        own = [row for row in rows if (row["state"], row["quantity"]) == (state, quantity)]
        truth, mean, sd = (np.array([row[key] for row in own]) for key in ("truth", "mean", "sd"))
        z = (truth - mean) / np.maximum(sd, 1e-9)
        held = float(np.mean(np.abs(z) <= _Z90))
        everything.append(z)
        width = _Z90 * float(np.median(sd / np.maximum(np.abs(mean), 1e-6)))
        wide = f"± {100 * width:.0f} %" if width < 2.0 else f"± {_Z90 * float(np.median(sd)):.1f} in its unit"
        lines.append(
            f"| {state} | {quantity} | {len(own)} | {100 * held:.0f} % | {np.mean(z):+.2f} | {np.std(z):.2f} | {wide} |"
        )
        if held < _LEAST and not options.small:
            missed.append(f"{quantity} while {state}: {100 * held:.0f} % inside the 90 % band")
    z = np.concatenate(everything)
    share = float(np.mean(np.abs(z) <= _Z90))
    lines += ["", f"All together: {100 * share:.1f} % of {len(z)} inside."]
    if share < _LEAST:
        missed.append(f"all together {100 * share:.0f} % inside the 90 % band")
    return Outcome("\n".join(lines), tuple(missed))
