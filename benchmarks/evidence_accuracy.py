"""How exact the integration over severities is: against dense rules that know nothing of modes.

Random engines and findings; of every case some components that matter, each at its likeliest choice of assumed numbers.
One severity: the trapezium's rule on 200,001 nodes over the whole prior. Two: on 2,001 x 2,001 nodes over the box that
holds all points within 40 nats of the best, found by zooming in.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.against_reference import FILES as COMMON
from benchmarks.against_reference import level_of
from benchmarks.common_drive import Array
from benchmarks.common_engines import draw_engine, seen_cams
from benchmarks.common_findings import BARE_GROUPS, GROUPS, RICH_GROUPS, draw_case, drives_of
from benchmarks.common_readings import channels
from benchmarks.drive_alone import drive_posterior
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from benchmarks.true_lines import logs_at
from witnessmark.infer.components import Component
from witnessmark.infer.history import History
from witnessmark.infer.integrate import effective_axes
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.posterior import Cloud
from witnessmark.infer.world import World

WHAT = "evidence integrated over severities, in decibans off dense rules"

FILES = [*COMMON, Path(__file__).resolve()]
_NODES, _SIDE = 200_001, 2_001
_MATTERS = 15.0  # nats below the best component: what is further off moves nothing
_BOX = 40.0  # nats below the best point: what is further off adds nothing
_CASES, _LINES, _SHEETS = 4, 5, 1
_FIRST_SEED = 50_000
_DECIBAN = 10.0 / np.log(10.0)


def one_engine(seed: int, side: int = _SIDE, nodes: int = _NODES) -> Iterator[Row]:
    """Errors of some components of some cases on one engine.

    Parameters
    ----------
    seed : int
    side, nodes : int
        Of the dense rules.
    """
    rng = np.random.default_rng(seed)
    level = level_of(seed)
    engine = draw_engine(level, rng)
    drives = drives_of(engine, seen_cams(engine, rng))
    shown = [channels(drive) for drive in drives]
    for k in range(_CASES):
        groups = BARE_GROUPS if level == "bare" else RICH_GROUPS if k % 2 else GROUPS
        case = draw_case(engine, drives, shown, rng, from_prior=False, nobody_worked=False, groups=groups)
        post = drive_posterior(engine, case.findings, History())
        best = max(cloud.log_total for cloud in post.clouds)
        heavy = [cloud for cloud in post.clouds if cloud.log_total > best - _MATTERS]
        for n, many in ((1, _LINES), (2, _SHEETS if k == 1 else 0)):
            for j in rng.permutation(len(heavy))[: 8 * many]:
                cloud = heavy[int(j)]
                world = post.worlds[cloud.world]
                used = effective_axes(world, [cloud.integrated.component])[0]
                if len(used) == n and many > 0 and not world.all_asleep(cloud.integrated.component):
                    many -= 1
                    yield {"level": level, "axes": n, **_error(world, cloud, used, side if n == 2 else nodes)}


def _error(world: World, cloud: Cloud, used: tuple[int, ...], size: int) -> Row:
    component = cloud.integrated.component
    pick = int(np.argmax(cloud.by_choice))
    mine = cloud.integrated.choice == pick
    choice = component.choices[pick]
    product = float(log_sum(cloud.integrated.log_weight[mine])) - float(np.log(choice.weight))
    alone = replace(component, choices=(replace(choice, weight=1.0),))
    dense = _line(world, alone, used[0], size) if len(used) == 1 else _sheet(world, alone, used, size)
    return {
        "fault": " + ".join(key[0] for key in component.key), "asleep": bool(component.asleep),
        "decibans": round(_DECIBAN * (product - dense), 5),
    }  # fmt: skip


def _line(world: World, component: Component, axis: int, size: int) -> float:
    u = np.linspace(0.0, 1.0, size)
    logs = logs_at(world, component, (axis,), u[:, None])
    weight = np.full(size, 1.0 / (size - 1))
    weight[[0, -1]] *= 0.5
    return float(log_sum(logs + np.log(weight)))


def _sheet(world: World, component: Component, used: tuple[int, ...], size: int) -> float:
    low, high = np.zeros(2), np.ones(2)
    for _ in range(4):  # zoom in on what is within reach of the best
        axes = [np.linspace(a, b, 161) for a, b in zip(low, high, strict=True)]
        grid = np.stack([p.ravel() for p in np.meshgrid(*axes, indexing="ij")], axis=1)
        logs = logs_at(world, component, used, grid)
        near = grid[logs > logs.max() - _BOX]
        step = (high - low) / 160.0
        low, high = np.maximum(near.min(axis=0) - step, 0.0), np.minimum(near.max(axis=0) + step, 1.0)
    axes = [np.linspace(a, b, size) for a, b in zip(low, high, strict=True)]
    weights = []
    for k, axis in enumerate(axes):
        weight = np.full(size, (high[k] - low[k]) / (size - 1))
        weight[[0, -1]] *= 0.5
        weights.append(np.log(weight))
        del axis
    total = []
    for i, first in enumerate(axes[0]):
        points = np.stack([np.full(size, first), axes[1]], axis=1)
        if i % 25 == 0:
            block: list[Array] = []
        block.append(points)
        if len(block) == 25 or i == size - 1:
            logs = logs_at(world, component, used, np.vstack(block)).reshape(len(block), size)
            rows = weights[0][i - len(block) + 1 : i + 1]
            total.append(float(log_sum((logs + rows[:, None] + weights[1][None, :]).ravel())))
            block = []
    return float(log_sum(np.array(total)))


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        rows = [{"seed": seed, **row} for seed in (1, 2) for row in one_engine(seed, side=201, nodes=8_001)]
        return summary(rows)
    seeds = range(_FIRST_SEED, _FIRST_SEED + 40)
    return summary(run_shards("evidence_accuracy", one_engine, seeds, files=FILES, size=2, processes=options.processes))


def summary(rows: Sequence[Row]) -> Outcome:
    """Tables and limits."""
    lines = ["# Evidence integrated over severities, against dense rules", "",
             f"{len(rows)} components that matter, {origin(*FILES).label}. Error of the evidence in decibans.", "",
             "| severities | components | median | 99th percentile | worst |", "|---|---|---|---|---|"]  # fmt: skip
    missed = []
    for n in (1, 2):
        errors = np.abs([row["decibans"] for row in rows if row["axes"] == n])
        if len(errors):
            half, most, worst = (*np.percentile(errors, (50, 99)), errors.max())
            lines.append(f"| {n} | {len(errors)} | {half:.3f} | {most:.3f} | {worst:.3f} |")
            if most > 0.1 or worst > 0.5:
                missed.append(f"{n} severities: 99th percentile {most:.2f}, worst {worst:.2f} decibans (0.1, 0.5)")
    lines += ["", "The worst:", ""]
    for row in sorted(rows, key=lambda r: -abs(r["decibans"]))[:6]:
        lines.append(f"- {row['decibans']:+.3f} dB: {row['fault']}, {row['level']}, seed {row['seed']}")
    return Outcome("\n".join(lines), tuple(missed))
