"""From the complaint to a proven repair: the program's plan followed on simulated vehicles, beside other planners.

Vehicles whose complaint is there and whose fault the catalogue knows. Everybody starts from the same first look, reads
the same values of the same tests and pays the same prices; truth and readings come from ``benchmarks.vehicles``, which
shares nothing with ``infer``. Prices are the catalogue's typical minutes.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.fix_planners import FIRST_LOOK, PLANNERS, Way, follow
from benchmarks.run import Options, Outcome
from benchmarks.shards import RESULTS, Row, head_of, origin, read_piece, run_shards
from benchmarks.vehicle_answers import kind_of, words_of
from benchmarks.vehicles.batch import Batch
from benchmarks.vehicles.patient import Patient

WHAT = "simulated vehicles followed from the complaint to the proven repair: the plan beside other planners"

HERE = Path(__file__).resolve().parent
FILES = [Path(__file__), HERE / "fix_planners.py", *sorted((HERE / "vehicles").glob("*.py"))]
FIRST_SEED = 58_001
"""Seeds below it were looked at while the plan was mended."""
_BATCHES, _EACH = 300, 2
_RESAMPLED = 2_000

Array = NDArray[np.float64]


def run(options: Options) -> Outcome:
    """Follow the vehicles of every batch."""
    folder = RESULTS / "proven_fix" / origin(*FILES).source
    if options.so_far:
        return so_far(folder)
    batches = 1 if options.small else _BATCHES
    run_shards("proven_fix", one_batch, range(FIRST_SEED, FIRST_SEED + batches), files=FILES, size=1,
               processes=options.processes, fresh=options.fresh)  # fmt: skip
    return so_far(folder)


def so_far(folder: Path) -> Outcome:
    """Judge the pieces that lie in a folder.

    Parameters
    ----------
    folder : Path
    """
    pieces = sorted(folder.glob("*.jsonl"))
    rows = [row for path in pieces for row in read_piece(path)]
    made_by = ", ".join(sorted({head_of(path).label for path in pieces}))
    return Outcome(summary(rows, made_by))


def one_batch(seed: int) -> Iterator[Row]:
    """A few vehicles of one engine, each as every planner goes it.

    Parameters
    ----------
    seed : int
    """
    batch = Batch.of(seed)
    there = [k for k, one in enumerate(batch.vehicles) if _is_followed(batch, k)]
    for k in there[:_EACH]:
        vehicle = batch.vehicles[k]

        def make(k: int = k) -> Patient:
            return Patient(batch.vehicles[k], batch.variants[batch.vehicles[k].variant], batch.law, (seed, k))

        ways = {name: _row(way) for name, way in follow(make, batch.known.told, seed)}
        yield {
            "number": k, "engine": batch.known.label, "truth": words_of(vehicle.truth), "kind": kind_of(vehicle.truth),
            "ways": ways,
        }  # fmt: skip


def _is_followed(batch: Batch, number: int) -> bool:
    """A fault of the catalogue that is there today, with its complaint."""
    vehicle = batch.vehicles[number]
    return not isinstance(vehicle.truth, str) and not vehicle.asleep and vehicle.complaint is not False


def _row(way: Way) -> Row:
    return {
        "minutes": round(way.minutes, 1),
        "foreseen": None if np.isnan(way.foreseen) else round(way.foreseen, 1),
        "tests": sum(step.kind == "test" for step in way.steps),
        "repairs": sum(step.kind == "repair" for step in way.steps),
        "gave_up": any(step.kind == "end" for step in way.steps),
        "steps": [f"{step.name} {step.minutes:.0f}" for step in way.steps],
    }


def summary(rows: Sequence[Row], made_by: str) -> str:
    """Mean prices with their intervals, and every vehicle.

    Parameters
    ----------
    rows : sequence of dict
    made_by : str
        Commits that they are of.
    """
    if not rows:
        return "# From the complaint to a proven repair\n\nNo vehicle has been followed yet.\n"
    rng = np.random.default_rng(1)
    names = list(PLANNERS)
    minutes = np.array([[row["ways"][name]["minutes"] for name in names] for row in rows])
    picks = rng.integers(0, len(rows), (_RESAMPLED, len(rows)))
    lines = [
        f"| {name} | {mean_of(minutes[:, j], picks)} | {np.median(minutes[:, j]):.0f} | "
        f"{mean_of(minutes[:, j] - minutes[:, 0], picks, sign='+')} | {_mean(rows, name, 'tests'):.1f} | "
        f"{_mean(rows, name, 'repairs'):.2f} | {_mean(rows, name, 'gave_up'):.0%} |"
        for j, name in enumerate(names)
    ]
    foreseen = np.array([row["ways"]["plan"]["foreseen"] or np.nan for row in rows])
    told = ~np.isnan(foreseen)
    vehicles = "\n".join(
        f"| {row['seed']}, {row['number']} | {row['engine']} | {row['truth']} | "
        + " | ".join(f"{row['ways'][name]['minutes']:.0f}" for name in names)
        + f" | {', '.join(row['ways']['plan']['steps'])} |"
        for row in rows
    )
    table, resampled = "\n".join(lines), rng.integers(0, told.sum(), (_RESAMPLED, int(told.sum())))
    first, kinds, engines = (
        ", ".join(FIRST_LOOK),
        len({row["kind"] for row in rows}),
        len({row["engine"] for row in rows}),
    )
    return f"""# From the complaint to a proven repair

{made_by}; {len(rows)} simulated vehicles of {engines} engines, {kinds} kinds of
fault, each as every planner goes it. All begin with the same first look ({first}, codes), which is
in nobody's price. *Cheapest first* and *random* take tests whatever they show and repair what the program says leads
once it has 80 %; *omniscient* knows what is broken and pays for repairs and proof alone. Who gives up has the vehicle
gone through from end to end (900 min and the repair). Repairs fail as often as the catalogue says, for everybody the
same ones.

| planner | minutes to proof, mean (95 %) | median | over the plan's, same vehicles | tests | repairs | gave up |
|---|---|---|---|---|---|---|
{table}

{_few(len(rows))}At the first look the plan foresaw {mean_of(foreseen[told], resampled)} minutes in the mean; it took
{minutes[told, 0].mean():.0f}.

| vehicle | engine | broken | {" | ".join(names)} | what the plan did |
|---|---|---|{"---|" * len(names)}---|
{vehicles}
"""


def _few(vehicles: int) -> str:
    whole = _BATCHES * _EACH
    return "" if vehicles >= whole // 2 else f"A first part: {vehicles} of {whole} vehicles, too few to judge by. "


def mean_of(values: Array, picks: NDArray[np.intp], sign: str = "") -> str:
    """A mean with its bootstrap interval, as text.

    Parameters
    ----------
    values : ndarray, shape (n,)
    picks : ndarray of int, shape (m, n)
        Resampled rows.
    sign : str
        "+" shows signs.
    """
    means = values[picks].mean(axis=1)
    low, high = np.quantile(means, [0.025, 0.975])
    return f"{values.mean():{sign}.0f} ({low:{sign}.0f} to {high:{sign}.0f})"


def _mean(rows: Sequence[Row], name: str, key: str) -> float:
    return float(np.mean([row["ways"][name][key] for row in rows]))
