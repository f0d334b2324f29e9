"""Tooth counts unknown: does every stated set of counts hold what it says, and is it no larger than it need be?

Random drives of a known layout whose teeth nobody has counted, each off by whole pitches; typed readings and sometimes
more. The program states the smallest set of tooth counts that holds nine tenths of what whole steps explain, and how
much it truly holds. The set of the posterior by brute force is the measure of its size.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np

from benchmarks.common_engines import draw_engine, seen_cams
from benchmarks.common_findings import GROUPS, draw_case, drives_of
from benchmarks.reference_posterior import make_bank, reference
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from witnessmark.infer.history import History
from witnessmark.infer.posterior import posterior
from witnessmark.infer.summary import step_set

WHAT = "tooth counts unknown: hit rate and size of the stated sets against a posterior by brute force"

HERE = Path(__file__).resolve().parent
FILES = [HERE / f"{name}.py" for name in (
    "tooth_counts", "common_codes", "common_drive", "common_engines", "common_findings", "common_readings",
    "reference_posterior",
)]  # fmt: skip
DRAWS = 60_000
WHOLE_STEPS = ("chain_jumped", "marks_misread")
_DRIVES = 20  # random drives on one layout
_FIRST_SEED, _SEEDS = 30_000, 50


def one_layout(seed: int, draws: int = DRAWS) -> Iterator[Row]:
    """Random drives of one layout, each off by whole pitches.

    Parameters
    ----------
    seed : int
    draws : int
        Engines drawn for the reference.
    """
    rng = np.random.default_rng([seed, 7])
    engine = draw_engine("layout", rng)
    drives = drives_of(engine, seen_cams(engine, rng))
    bank = make_bank(drives, False, draws, rng)
    for _ in range(_DRIVES):
        case = draw_case(
            engine, drives, bank.shown, rng, from_prior=False, nobody_worked=False, groups=GROUPS, only=WHOLE_STEPS,
            complaint="present",
        )  # fmt: skip
        if not case.teeth:
            continue
        labels, mass = step_set(posterior(engine, case.findings, History()))
        exact = _smallest(reference(bank, case, rng, pairs=False).teeth)
        yield {
            "truth": case.teeth, "hit": case.teeth in labels, "mass": round(mass, 4), "size": len(labels),
            "exact_hit": case.teeth in exact, "exact_size": len(exact),
        }  # fmt: skip


def _smallest(shares: Mapping[str, float], mass: float = 0.9) -> set[str]:
    """The smallest set of names that holds a share of the whole."""
    total, held = sum(shares.values()), 0.0
    chosen: set[str] = set()
    for name in sorted(shares, key=lambda n: -shares[n]):
        chosen.add(name)
        held += shares[name]
        if held >= mass * total:
            break
    return chosen


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        return summary([{"seed": 1, **row} for row in one_layout(1, 15_000)], small=True)
    seeds = range(_FIRST_SEED, _FIRST_SEED + _SEEDS)
    return summary(run_shards("tooth_counts", one_layout, seeds, files=FILES, size=2, processes=options.processes))


def summary(rows: Sequence[Row], *, small: bool = False) -> Outcome:
    """The table and its limits."""
    hit, mass = np.mean([row["hit"] for row in rows]), np.mean([row["mass"] for row in rows])
    size, exact = np.mean([row["size"] for row in rows]), np.mean([row["exact_size"] for row in rows])
    error = float(np.sqrt(mass * (1.0 - mass) / len(rows)))
    lines = [
        "# Tooth counts unknown", "", f"{len(rows)} random drives, {origin(*FILES).label}.", "",
        "| | stated sets | by brute force |", "|---|---|---|",
        f"| hit rate | {hit:.1%} | {np.mean([row['exact_hit'] for row in rows]):.1%} |",
        f"| mean stated mass | {mass:.1%} | 90 % and what the last count brings |",
        f"| mean size | {size:.2f} | {exact:.2f} |", "",
        f"Hit rate less stated mass: {100 * (hit - mass):+.1f} points; chance alone leaves ±{100 * error:.1f}."
        f" Size over that by brute force: {size / exact:.2f}.",
    ]  # fmt: skip
    missed = []
    if abs(hit - mass) > 0.02 + (3.0 * error if small else 0.0):
        missed.append(f"tooth_counts: the hit rate is {100 * (hit - mass):+.1f} points off the stated mass, allowed 2")
    if not small and not 0.9 <= size / exact <= 1.2:
        missed.append(f"tooth_counts: mean size is {size / exact:.2f} times that by brute force, allowed 0.9 to 1.2")
    return Outcome("\n".join(lines), tuple(missed))
