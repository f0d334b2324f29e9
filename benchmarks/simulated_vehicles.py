"""Simulated vehicles with what is read of them, and a reference posterior that shares nothing with the reasoner.

The program is not asked yet: this makes the records (vehicle, truth, findings, history) and says where the evidence can
tell and how far the reference itself is to be trusted: its own calibration stands first. Batches of one engine share
their predictions. The second set has noise 1.5 times what is stated and every row's prior off by up to 3.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from benchmarks.against_reference import calibration
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from benchmarks.vehicles.engines import draw_engine
from benchmarks.vehicles.generate import Vehicle, draw_vehicles
from benchmarks.vehicles.law import FIRST, SECOND, Law
from benchmarks.vehicles.reference import Posterior, make_bank, posteriors
from benchmarks.vehicles.variant import Variant

WHAT = "simulated vehicles of the whole engine with a reference posterior: where the evidence can tell"

HERE = Path(__file__).resolve().parent
FILES = [HERE / "simulated_vehicles.py", *sorted((HERE / "vehicles").glob("*.py"))]
SURE = 0.9
BATCH = 25
_FIRST_SEED, _SECOND_SEED = 50_002, 60_000
_BATCHES = 1  # of each set, the trial; 400 make 10,000 vehicles
_SHOWN = 6  # hypotheses kept of each posterior


def one_batch(seed: int, count: int = BATCH) -> Iterator[Row]:
    """Vehicles of one engine, each with its findings, history, truth and reference posterior.

    Parameters
    ----------
    seed : int
        From ``_SECOND_SEED`` on of the second set.
    count : int
    """
    law: Law = SECOND if seed >= _SECOND_SEED else FIRST
    rng = np.random.default_rng(seed)
    known = draw_engine(rng)
    start = time.process_time()
    variants = [Variant(engine, odds) for engine, odds in known.variants]
    vehicles = draw_vehicles(variants, law, count, rng)
    made = time.process_time()
    banks = [make_bank(variant, rng) for variant in variants]
    found = posteriors(banks, vehicles, law)
    done = time.process_time()
    for vehicle, posterior in zip(vehicles, found, strict=True):
        yield _record(known.label, law, variants[vehicle.variant], vehicle, posterior) | {
            "made_s": (made - start) / count, "weighed_s": (done - made) / count,
        }  # fmt: skip


def _record(engine: str, law: Law, variant: Variant, vehicle: Vehicle, posterior: Posterior) -> Row:
    repairs = {one.key: one.repair_key for one in variant.instances}
    best = sorted(posterior.mass, key=lambda key: -posterior.mass[key])
    groups: dict[str, float] = {}
    for key, mass in posterior.mass.items():
        groups[_group(key, repairs)] = groups.get(_group(key, repairs), 0.0) + mass
    leader = max(groups, key=lambda name: groups[name])
    return {
        "set": law.name, "engine": engine, "truth": _words(vehicle.truth), "kind": _kind(vehicle.truth),
        "asleep": vehicle.asleep, "complaint": vehicle.complaint, "history": vehicle.history.as_row(),
        "sizes": [{axis.variable: round(float(size), 4) for axis, size in zip(kind.axes, sizes, strict=True)}
                  for kind, sizes in vehicle.way],
        "findings": [_finding(finding) for finding in vehicle.findings(variant)],
        "reference": round(posterior.mass.get(vehicle.truth, 0.0), 5),
        "first": _words(best[0]), "first_p": round(posterior.mass[best[0]], 5),
        "group_p": round(groups[leader], 5), "group_right": leader == _group(vehicle.truth, repairs),
        "group_true_p": round(groups.get(_group(vehicle.truth, repairs), 0.0), 5),
        "mass": {_words(key): round(posterior.mass[key], 5) for key in best[:_SHOWN]},
        "moved": round(posterior.moved, 4), "again": round(posterior.again, 4),
    }  # fmt: skip


def _finding(finding: object) -> dict[str, object]:
    return {
        "quantity": finding.quantity, "place": finding.place.as_dict(), "condition": finding.condition.as_dict(),  # type: ignore[attr-defined]
        "value": float(f"{finding.value:.6g}"), "sd": float(f"{finding.sd:.4g}"),  # type: ignore[attr-defined]
    }  # fmt: skip


def _words(key: object) -> str:
    return key if isinstance(key, str) else " + ".join(" ".join(part) for part in key)  # type: ignore[attr-defined]


def _kind(key: object) -> str:
    return key if isinstance(key, str) else key[0][0] if len(key) == 1 else "two at once"  # type: ignore[arg-type, index, return-value]


def _group(key: object, repairs: dict[tuple[str, str], tuple[str, str]]) -> str:
    """What one repair cures."""
    return key if isinstance(key, str) else " + ".join(sorted({":".join(repairs[part]) for part in key}))  # type: ignore[attr-defined]


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        return summary([{"seed": _FIRST_SEED, **row} for row in one_batch(_FIRST_SEED, 3)], small=True)
    rows: list[Row] = []
    for first in (_FIRST_SEED, _SECOND_SEED):
        seeds = range(first, first + _BATCHES)
        rows += run_shards("simulated_vehicles", one_batch, seeds, files=FILES, size=1, processes=options.processes,
                           fresh=options.fresh)  # fmt: skip
    return summary(rows)


def summary(rows: Sequence[Row], *, small: bool = False) -> Outcome:
    """Tables; nothing of the program is measured yet, so the one limit is the reference's own calibration."""
    lines = ["# Simulated vehicles and their reference", "", f"{len(rows)} vehicles, {origin(*FILES).label}.", ""]
    missed: list[str] = []
    for name in dict.fromkeys(str(row["set"]) for row in rows):
        missed += _one_set(name, [row for row in rows if row["set"] == name], lines, small)
    made, weighed = (float(np.mean([row[key] for row in rows])) for key in ("made_s", "weighed_s"))
    lines += ["", f"Processor time for a vehicle: {made:.2f} s to make, {weighed:.2f} s to weigh by the reference;"
              f" predictions of a batch of {BATCH} on one engine are shared."]  # fmt: skip
    return Outcome("\n".join(lines), tuple(missed))


def _one_set(name: str, rows: Sequence[Row], lines: list[str], small: bool) -> list[str]:
    chance, right = [float(row["group_p"]) for row in rows], [bool(row["group_right"]) for row in rows]
    error, floor, spread = calibration(chance, right)
    sure = [row for row in rows if row["group_p"] > SURE]
    told = [row for row in rows if row["group_true_p"] > SURE]
    kinds = sorted({str(row["kind"]) for row in told} - {"nothing_wrong", "elsewhere", "none_of_these", "two at once"})
    score = float(np.mean([np.log(max(float(row["group_true_p"]), 1e-6)) for row in rows]))
    lines += [
        f"## The {name} set: {len(rows)} vehicles of {len({row['engine'] for row in rows})} engines", "",
        f"- {np.mean([len(row['findings']) for row in rows]):.0f} findings a vehicle in the mean, codes included.",
        f"- The reference's own calibration, by repair: stated {np.mean(chance):.1%}, right {np.mean(right):.1%},"
        f" error {error:.3f} (a perfect reasoner's floor here {floor:.3f} ± {spread:.3f}); log score {score:.2f}.",
        f"- Sure (above {SURE}): {len(sure)} vehicles, right in {sum(row['group_right'] for row in sure)}.",
        f"- The evidence can tell (the true repair above {SURE}): {len(told)} vehicles ({len(told) / len(rows):.1%}),"
        f" {len(kinds)} fault kinds.",
        f"- The last round moved {np.mean([row['moved'] for row in rows]):.3f} of the mass in the mean;"
        f" {np.mean([row['again'] for row in rows]):.0%} of it was taken up again.", "",
    ]  # fmt: skip
    if small or error <= max(0.05, floor + 3.0 * spread):
        return []
    return [f"{name} set: the reference's own calibration error is {error:.3f}, its floor {floor:.3f}"]
