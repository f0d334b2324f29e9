"""Tooth counts not known: does the set of counts that is named hold the true one as often as it says?

Random drives of which no tooth count is described, a whole pitch wrong, findings as typed. The program names the
smallest set of counts that holds 90 % of what whole steps explain, and says how much it truly holds. The reference
names its own set by brute force, from draws of such faults only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from benchmarks.against_reference import FILES as COMMON
from benchmarks.common_drive import Drive
from benchmarks.common_engines import draw_engine, seen_cams
from benchmarks.common_findings import BARE_GROUPS, GROUPS, build_rows, draw_case, drives_of, strata_of
from benchmarks.common_readings import channels
from benchmarks.drive_alone import drive_posterior
from benchmarks.reference_posterior import Bank, tooth_shares
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from witnessmark.infer.history import History
from witnessmark.infer.summary import step_set

WHAT = "tooth counts not known: the set named, against its own word and the reference's set"

FILES = [*COMMON, Path(__file__).resolve()]
_FAULTS = ("chain_jumped", "marks_misread")
_DRAWS = 200_000
_FIRST_SEED, _DRIVES = 90_000, 1_000


def one_drive(seed: int, draws: int = _DRAWS) -> Iterator[Row]:
    """A case on one drive whose tooth counts nobody described.

    Parameters
    ----------
    seed : int
    draws : int
        Of the reference, all of whole-step faults.
    """
    rng = np.random.default_rng(seed)
    level = "bare" if seed % 3 == 2 else "layout"
    engine = draw_engine(level, rng)
    drives = drives_of(engine, seen_cams(engine, rng))
    bank = _bank(drives, draws, rng)
    groups = {**(BARE_GROUPS if level == "bare" else GROUPS), "deviation": 1.0}
    case = draw_case(
        engine, drives, bank.shown, rng, from_prior=False, nobody_worked=False, groups=groups, only=_FAULTS
    )
    exact = _smallest(tooth_shares(bank, case, rng))
    labels, mass = step_set(drive_posterior(engine, case.findings, History()))
    yield {
        "level": level, "teeth": case.teeth,
        "hit": case.teeth in labels, "mass": round(mass, 5), "size": len(labels),
        "exact_hit": case.teeth in exact[0], "exact_mass": round(exact[1], 5), "exact_size": len(exact[0]),
    }  # fmt: skip


def _bank(drives: Sequence[Drive], draws: int, rng: np.random.Generator) -> Bank:
    """Draws of whole-step faults on every engine that the description allows."""
    shown, rows, weights = [], [], []
    everything = [strata_of(drive, False) for drive in drives]
    parts = [[s for s in strata if s.instances and s.instances[0].row.id in _FAULTS] for strata, _ in everything]
    each = int(np.ceil(draws / sum(len(part) for part in parts)))
    for drive, strata, (listed, pairs) in zip(drives, parts, everything, strict=True):
        mine = channels(drive)
        shown.append(mine)
        rows.append(build_rows(drive, strata, [each] * len(strata), mine, rng))
        whole = sum(s.weight for s in listed) + pairs
        weights.append(np.array([s.weight for s in strata]) * drive.weight / whole)
    return Bank(tuple(drives), tuple(shown), tuple(rows), tuple(weights), tuple(0.0 for _ in drives))


def _smallest(shares: dict[str, float], wanted: float = 0.9) -> tuple[tuple[str, ...], float]:
    """The fewest counts that hold so much, and what they hold."""
    chosen, held = [], 0.0
    for label in sorted(shares, key=lambda name: -shares[name]):
        chosen.append(label)
        held += shares[label]
        if held >= wanted:
            break
    return tuple(chosen), held


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        return summary([{"seed": seed, **row} for seed in range(12) for row in one_drive(seed, 20_000)], small=True)
    seeds = range(_FIRST_SEED, _FIRST_SEED + _DRIVES)
    return summary(run_shards("tooth_counts", one_drive, seeds, files=FILES, size=10, processes=options.processes))


def summary(rows: Sequence[Row], *, small: bool = False) -> Outcome:
    """Tables and limits."""
    lines = ["# Tooth counts not known", "", f"{len(rows)} cases, {origin(*FILES).label}.", "",
             "| described | cases | hit | says | reference hits | says | size | reference's | ratio |",
             "|---|---|---|---|---|---|---|---|---|"]  # fmt: skip
    for level in ("layout", "bare", "all"):
        mine = [row for row in rows if level in (row["level"], "all")]
        if mine:
            m = {k: float(np.mean([row[k] for row in mine])) for k in mine[0] if k not in ("level", "teeth", "seed")}
            ratio = m["size"] / m["exact_size"]
            lines.append(
                f"| {level} | {len(mine)} | {m['hit']:.1%} | {m['mass']:.1%} | {m['exact_hit']:.1%} |"
                f" {m['exact_mass']:.1%} | {m['size']:.2f} | {m['exact_size']:.2f} | {ratio:.2f} |"
            )
    hit, said = (float(np.mean([row[k] for row in rows])) for k in ("hit", "mass"))
    ratio = float(np.mean([row["size"] for row in rows]) / np.mean([row["exact_size"] for row in rows]))
    chance = 1.96 * np.sqrt(said * (1.0 - said) / len(rows))
    lines += ["", f"Chance alone moves the hit rate by ± {chance:.1%} at this count."]
    missed = []
    if abs(hit - said) > (0.2 if small else 0.02):
        missed.append(f"hits {hit:.1%} where it says {said:.1%}")
    if not small and not 0.9 <= ratio <= 1.2:
        missed.append(f"sets {ratio:.2f} times the reference's")
    return Outcome("\n".join(lines), tuple(missed))
