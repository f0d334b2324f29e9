"""None of these: does it take what the list does not know, and leave alone what it knows?

Leave one fault out: its cases are weighed by a list without it. Where the whole list is sure of the truth (so the
evidence can tell), the shortened list should say "none of these", or name the same repair; it must not be sure of
something else. And the whole list's own cases must not go to "none of these".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from benchmarks.against_reference import FILES as COMMON
from benchmarks.common_engines import draw_engine, seen_cams
from benchmarks.common_findings import GROUPS, RICH_GROUPS, Case, draw_case, drives_of
from benchmarks.common_readings import channels
from benchmarks.drive_alone import drive_posterior
from benchmarks.drive_list import SYSTEM
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from witnessmark.catalogue.faults import fault_instances
from witnessmark.infer.history import History
from witnessmark.infer.posterior import Posterior

WHAT = "faults left out of the list: taken for none of these, or for a wrong certain one"

FILES = [*COMMON, Path(__file__).resolve()]
SURE = 0.9
_FIRST_SEED = 70_000  # seeds below have set the spread, its pattern and the codes' rate


def one_engine(seed: int) -> Iterator[Row]:
    """A case of every fault of the list on one engine, weighed with and without that fault.

    Parameters
    ----------
    seed : int
    """
    rng = np.random.default_rng(seed)
    engine = draw_engine("full" if seed % 3 else "layout", rng)
    drives = drives_of(engine, seen_cams(engine, rng))
    shown = [channels(drive) for drive in drives]
    known = {instance.row.id for drive in drives for instance in fault_instances(drive.engine, SYSTEM)}
    for k, name in enumerate(sorted(known)):
        case = draw_case(
            engine, drives, shown, rng, from_prior=False, nobody_worked=bool(k % 2), only=(name,), complaint="present",
            groups=RICH_GROUPS if (seed + k) % 3 else GROUPS,
        )  # fmt: skip
        history = History(known={"worked_on": "no"} if case.nobody_worked else {})
        whole = drive_posterior(engine, case.findings, history)
        row = {"fault": name, **_whole(whole, case)}
        if row["sure"]:
            row |= _without(drive_posterior(engine, case.findings, history, without=(name,)), whole, case)
        yield row


def _groups(post: Posterior, repairs: dict[tuple[str, str], tuple[str, str]]) -> dict[object, float]:
    found: dict[object, float] = {}
    for key in post.log_mass:
        name: object = key
        if isinstance(key, str):
            name = "sound" if key in ("nothing_wrong", "elsewhere") else key
        else:
            name = tuple(sorted({repairs[part] for part in key}))
        found[name] = found.get(name, 0.0) + post.probability(key)
    return found


def _repairs(post: Posterior) -> dict[tuple[str, str], tuple[str, str]]:
    return {key: instance.repair_key for key, instance in post.instances.items()}


def _whole(post: Posterior, case: Case) -> Row:
    mass = _groups(post, _repairs(post))
    true = tuple(sorted({_repairs(post)[part] for part in case.truth}))
    first = max(mass, key=lambda name: mass[name])
    return {
        "none": round(mass["none_of_these"], 5), "none_first": first == "none_of_these",
        "sure": mass.get(true, 0.0) > SURE,
    }  # fmt: skip


def _without(post: Posterior, whole: Posterior, case: Case) -> Row:
    repairs = {**_repairs(whole), **_repairs(post)}
    mass = _groups(post, repairs)
    true = tuple(sorted({repairs[part] for part in case.truth}))
    first = max(mass, key=lambda name: mass[name])
    says = {"none_of_these": "none", "sound": "sound"}.get(first, "same" if first == true else "other")  # type: ignore[call-overload]
    best = max(post.log_mass, key=lambda key: post.log_mass[key])
    return {
        "says": says, "p": round(mass[first], 4), "none_left_out": round(mass["none_of_these"], 4),
        "named": best if isinstance(best, str) else " + ".join(part[0] for part in best),
    }  # fmt: skip


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        return summary([{"seed": seed, **row} for seed in (1,) for row in one_engine(seed)], small=True)
    seeds = range(_FIRST_SEED, _FIRST_SEED + 60)
    return summary(run_shards("none_of_these", one_engine, seeds, files=FILES, size=2, processes=options.processes))


def summary(rows: Sequence[Row], *, small: bool = False) -> Outcome:
    """Tables and limits."""
    tried = [row for row in rows if "says" in row]
    lines = ["# None of these", "",
             f"{len(rows)} cases, {origin(*FILES).label}; in {len(tried)} of them the whole list is sure of the true"
             f" repair, and the list without the true fault is asked.", "",
             "| left out | asked | none of these | same repair | sound | something else | sure of it |",
             "|---|---|---|---|---|---|---|"]  # fmt: skip
    for name in [*sorted({row["fault"] for row in tried}), "all"]:
        mine = [row for row in tried if name in (row["fault"], "all")]
        says = [row["says"] for row in mine]
        wrong = sum(row["says"] == "other" and row["p"] > SURE for row in mine)
        shares = " | ".join(f"{says.count(word)}" for word in ("none", "same", "sound", "other"))
        lines.append(f"| {name} | {len(mine)} | {shares} | {wrong} |")
    sure_wrong = float(np.mean([row["says"] == "other" and row["p"] > SURE for row in tried])) if tried else 0.0
    none_first = float(np.mean([row["none_first"] for row in rows]))
    none_sure = float(np.mean([row["none"] for row in tried])) if tried else 0.0
    lines += ["", f"Sure of something else: {sure_wrong:.1%}. With the whole list, none of these comes first in"
              f" {none_first:.1%} of the cases that it knows, and has {none_sure:.2%} in the mean where the list is"
              f" sure.", ""]  # fmt: skip
    named: dict[str, int] = {}
    for row in tried:
        if row["says"] == "other" and row["p"] > SURE:
            text = f"{row['fault']} taken for {row['named']}"
            named[text] = named.get(text, 0) + 1
    lines += [f"- {text}: {count}" for text, count in sorted(named.items(), key=lambda item: -item[1])[:12]]
    missed = []
    if not small and sure_wrong > 0.25:
        missed.append(f"sure of something else in {sure_wrong:.1%}")
    if not small and none_first > 0.05:
        missed.append(f"none of these swallows {none_first:.1%} of what the list knows")
    return Outcome("\n".join(lines), tuple(missed))
